/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The set of files of a review: all of them or none, review.json last. */
#include "exports.h"
#include "review_parts.h"

/* Puts what buffer holds and empties it. */
static tenter_status put(tenter_output *output, const char *name, tenter_buffer *buffer,
                         tenter_error *error) {
  tenter_status status = tenter_output_put(output, name, buffer, error);
  tenter_buffer_clear(buffer);
  return status;
}

static tenter_status put_tables(const tenter_review *review, tenter_output *output,
                                tenter_arena *arena, tenter_buffer *buffer, tenter_error *error) {
  work_list list;
  work_sheet sheet;
  if (!work_list_new(review, arena, &list) || !work_sheet_new(review, arena, &sheet))
    return tenter_fail_memory(error);
  export_screens(review, buffer);
  tenter_status status = put(output, "screens.csv", buffer, error);
  if (status != TENTER_OK)
    return status;
  export_lots(review, buffer);
  if ((status = put(output, "lots.csv", buffer, error)) != TENTER_OK)
    return status;
  export_worklist(review, list, arena, buffer);
  if ((status = put(output, "worklist.csv", buffer, error)) != TENTER_OK)
    return status;
  export_calendar(review, buffer);
  if ((status = put(output, "worklist.ics", buffer, error)) != TENTER_OK)
    return status;
  export_reading_sheet(review, &sheet, arena, buffer);
  if (tenter_arena_failed(arena))
    return tenter_fail_memory(error);
  if ((status = put(output, "reading-sheet.csv", buffer, error)) != TENTER_OK)
    return status;
  export_rejected(review->shop->tables, buffer);
  return put(output, "rejected.csv", buffer, error);
}

static tenter_status put_all(const tenter_review *review, const tenter_report_options *options,
                             tenter_output *output, char *note, tenter_error *error) {
  tenter_status status = tenter_report_put_pages(review_document_whole(review, options, note),
                                                 options, output, "review", error);
  tenter_arena *arena = tenter_arena_new();
  tenter_buffer buffer = {0};
  if (status == TENTER_OK)
    status = arena != NULL ? put_tables(review, output, arena, &buffer, error)
                           : tenter_fail_memory(error);
  if (status == TENTER_OK)
    status = tenter_output_begin(output, "review.json", error);
  if (status == TENTER_OK)
    status = tenter_report_review_json(review, options, tenter_sink_to_output(output), error);
  tenter_buffer_release(&buffer);
  tenter_arena_free(arena);
  return status == TENTER_OK ? tenter_output_commit(output, error) : status;
}

tenter_status tenter_report_review_files(const tenter_review *review,
                                         const tenter_report_options *options, const char *folder,
                                         char note[TENTER_MESSAGE_SIZE], tenter_error *error) {
  tenter_output *output = NULL;
  tenter_status status = tenter_output_open(folder, &output, error);
  if (status == TENTER_OK)
    status = put_all(review, options, output, note, error);
  tenter_output_free(output);
  return status;
}
