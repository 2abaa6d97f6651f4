/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The screens of review.json: nearly all of its bytes. Blocks of a fixed number of screens are
 * formatted side by side, a wave at a time, and go out in order, so that the bytes are the same
 * for any number of threads and only a wave stands in memory. */
#include <math.h>
#include <string.h>

#include "account_json.h"
#include "review_json.h"
#include "tenter/base/alloc.h"

enum { BLOCK = 256, WAVE_PER_THREAD = 4 };

static const char *name(const tenter_review *review, tenter_name_kind kind, uint32_t id) {
  return tenter_names_get(review->shop->tables->names[kind], id);
}

const char *review_json_verdict(tenter_verdict verdict, const char *good, const char *bad) {
  switch (verdict) {
  case TENTER_VERDICT_GOOD:
    return good;
  case TENTER_VERDICT_UNDECIDED:
    return "undecided";
  case TENTER_VERDICT_BAD:
    return bad;
  default:
    return NULL;
  }
}

static void tension(tenter_json *json, const char *key, double value) {
  tenter_json_number(json, key, value, TENTER_JSON_TENSION);
}

static void write_spec(tenter_json *json, const tenter_review *review,
                       const tenter_mounting *mounting, const tenter_review_screen *screen) {
  const tenter_attributes *is = &mounting->is;
  tenter_json_name(json, "place", name(review, TENTER_NAME_PLACE, is->place));
  tenter_json_name(json, "mesh", name(review, TENTER_NAME_MESH, is->mesh));
  tenter_json_name(json, "lot", name(review, TENTER_NAME_LOT, is->lot));
  tenter_json_when(json, "mounted", mounting->zero);
  tenter_json_number(json, "age_hours", screen->age_hours, TENTER_JSON_DURATION);
  tension(json, "target", is->target);
  tension(json, "minus", is->minus);
  tension(json, "plus", is->plus);
  tension(json, "floor", is->floor);
  tension(json, "coarse_floor", is->coarse_floor);
  tension(json, "maximum", is->maximum);
  tenter_json_integer(json, "sessions", (long long)mounting->session_count);
}

static void write_position(tenter_json *json, const tenter_review *review, const char *key,
                           uint16_t position) {
  const tenter_tables *tables = review->shop->tables;
  bool known = position < tables->position_count;
  tenter_json_text(json, key, known ? tables->positions[position].label : NULL);
}

static const char *direction_word(tenter_direction direction) {
  return direction == TENTER_WARP ? "warp" : direction == TENTER_WEFT ? "weft" : NULL;
}

static void write_latest(tenter_json *json, const tenter_review *review,
                         const tenter_review_screen *screen) {
  if (!screen->read) {
    tenter_json_null(json, "latest");
    return;
  }
  const tenter_latest *latest = &screen->latest;
  const tenter_session *session = &review->shop->sessions[latest->session];
  tenter_json_open(json, "latest", '{');
  tenter_json_when(json, "taken", (tenter_when){session->taken, session->date_only});
  tenter_json_number(json, "age_hours", latest->age_hours, TENTER_JSON_DURATION);
  tenter_json_integer(json, "readings", session->count);
  tenter_json_flag(json, "full", session->full);
  tension(json, "mean", latest->mean);
  tension(json, "adjusted_mean", latest->adjusted_mean);
  tension(json, "sd", latest->sd);
  tension(json, "min", latest->min);
  tension(json, "max", latest->max);
  write_position(json, review, "weakest_position", latest->weakest_position);
  tenter_json_text(json, "weakest_direction", direction_word(latest->weakest_direction));
  tension(json, "warp_mean", latest->warp_mean);
  tension(json, "weft_mean", latest->weft_mean);
  tension(json, "corner_minus_centre", latest->corner_minus_centre);
  tension(json, "uncertainty", latest->uncertainty);
  tenter_json_close(json, '}');
}

static void write_relaxation(tenter_json *json, const tenter_relaxation *relaxation) {
  if (!isfinite(relaxation->at_24h)) {
    tenter_json_null(json, "relaxation");
    return;
  }
  tenter_json_open(json, "relaxation", '{');
  tension(json, "at_24h", relaxation->at_24h);
  tension(json, "loss_per_decade", relaxation->loss_per_decade);
  tension(json, "loss_per_decade_se", relaxation->loss_per_decade_se);
  tenter_json_text(json, "law", relaxation->law);
  if (isfinite(relaxation->alone.loss_per_decade)) {
    tenter_json_open(json, "alone", '{');
    tension(json, "at_24h", relaxation->alone.at_24h);
    tension(json, "loss_per_decade", relaxation->alone.loss_per_decade);
    tension(json, "loss_per_decade_se", relaxation->alone.loss_per_decade_se);
    tenter_json_close(json, '}');
  } else {
    tenter_json_null(json, "alone");
  }
  tenter_json_close(json, '}');
}

static void write_forecast(tenter_json *json, const tenter_forecast *forecast) {
  if (!isfinite(forecast->now)) {
    tenter_json_null(json, "forecast");
    return;
  }
  tenter_json_open(json, "forecast", '{');
  tension(json, "now", forecast->now);
  tension(json, "now_se", forecast->now_se);
  tenter_json_number(json, "below_floor_now", forecast->below_floor_now, TENTER_JSON_PROBABILITY);
  tenter_json_number(json, "below_floor_at_horizon", forecast->below_floor_at_horizon,
                     TENTER_JSON_PROBABILITY);
  tenter_json_open(json, "crosses", '{');
  tenter_json_time(json, "early", forecast->early);
  tenter_json_time(json, "median", forecast->median);
  tenter_json_time(json, "late", forecast->late);
  tenter_json_close(json, '}');
  tenter_json_close(json, '}');
}

static const char *ageing_word(tenter_ageing ageing) {
  static const char *const words[] = {NULL, "settling", "holding", "fading", "spent"};
  return words[ageing];
}

static void write_source(tenter_json *json, const review_json_names *files, tenter_row row) {
  const tenter_buffer *file = &files->names[row.file];
  if (json->filled & 1u << json->depth)
    tenter_buffer_byte(json->out, ',');
  json->filled |= 1u << json->depth;
  tenter_buffer_add(json->out, file->bytes, file->length);
  tenter_buffer_integer(json->out, row.line);
  tenter_buffer_byte(json->out, '"');
}

static void write_reason(tenter_json *json, const review_json_names *files,
                         const tenter_reason *reason) {
  tenter_json_open(json, NULL, '{');
  tenter_json_text(json, "code", tenter_reason_word(reason->code));
  tenter_json_text(json, "action", tenter_action_code(reason->action));
  tenter_json_text(json, "text", reason->text);
  tenter_json_open(json, "sources", '[');
  for (uint32_t i = 0; i < reason->source_count; i++)
    if (reason->sources[i].file < files->count)
      write_source(json, files, reason->sources[i]);
  tenter_json_close(json, ']');
  tenter_json_integer(json, "more_sources", reason->more_sources);
  tenter_json_close(json, '}');
}

void review_json_screen(tenter_json *json, const tenter_review *review,
                        const review_json_names *files, const tenter_review_screen *screen) {
  const tenter_mounting *mounting = &review->shop->mountings[screen->mounting];
  tenter_json_text(json, "screen", name(review, TENTER_NAME_SCREEN, screen->screen));
  write_spec(json, review, mounting, screen);
  write_latest(json, review, screen);
  tenter_json_text(json, "tolerance", review_json_verdict(screen->tolerance, "inside", "outside"));
  tenter_json_text(json, "evenness", review_json_verdict(screen->evenness, "even", "uneven"));
  tenter_json_text(json, "maximum_verdict", review_json_verdict(screen->maximum, "under", "over"));
  write_relaxation(json, &screen->relaxation);
  write_forecast(json, &screen->forecast);
  tenter_json_text(json, "ageing", ageing_word(screen->ageing));
  tenter_json_text(json, "action", tenter_action_code(screen->action));
  tenter_json_flag(json, "after_this_job", screen->after_this_job);
  tenter_json_open(json, "reasons", '[');
  for (size_t i = 0; i < screen->reason_count; i++)
    write_reason(json, files, &screen->reasons[i]);
  tenter_json_close(json, ']');
}

typedef struct wave {
  const tenter_review *review;
  const review_json_names *files;
  tenter_buffer *blocks;
  size_t first; /* the number of the wave's first block */
  unsigned depth;
} wave;

static void write_block(void *context, size_t task, size_t worker) {
  const wave *w = context;
  (void)worker;
  size_t start = (w->first + task) * BLOCK, end = start + BLOCK;
  if (end > w->review->screen_count)
    end = w->review->screen_count;
  tenter_json json = tenter_json_resume(&w->blocks[task], w->depth, start == 0);
  for (size_t i = start; i < end; i++) {
    tenter_json_line(&json);
    tenter_json_open(&json, NULL, '{');
    review_json_screen(&json, w->review, w->files, &w->review->screens[i]);
    tenter_json_name(&json, "action_before",
                     tenter_action_code(w->review->screens[i].action_before));
    tenter_json_close(&json, '}');
  }
}

bool review_json_names_new(const tenter_tables *tables, review_json_names *files) {
  files->count = tables->source_count;
  files->names = files->count > 0 ? tenter_alloc(files->count, sizeof *files->names) : NULL;
  bool made = files->count == 0 || files->names != NULL;
  for (size_t i = 0; made && i < files->count; i++) {
    tenter_json json = tenter_json_start(&files->names[i]);
    tenter_json_text(&json, NULL, tables->sources[i].file);
    made = !files->names[i].failed;
    if (made)
      files->names[i].bytes[files->names[i].length - 1] = ':';
  }
  return made;
}

static void release_all(tenter_buffer *buffers, size_t count) {
  for (size_t i = 0; buffers != NULL && i < count; i++)
    tenter_buffer_release(&buffers[i]);
  tenter_free(buffers);
}

void review_json_names_release(review_json_names *files) {
  release_all(files->names, files->count);
}

tenter_status review_json_screens(const tenter_review *review, tenter_pool *pool, unsigned depth,
                                  tenter_sink sink, tenter_error *error) {
  review_json_names files = {0};
  size_t width = tenter_pool_threads(pool) * WAVE_PER_THREAD;
  size_t blocks = (review->screen_count + BLOCK - 1) / BLOCK;
  wave w = {review, &files, tenter_alloc(width, sizeof *w.blocks), 0, depth};
  tenter_status status = TENTER_OK;
  if (!review_json_names_new(review->shop->tables, &files) || w.blocks == NULL)
    status = tenter_fail_memory(error);
  for (; status == TENTER_OK && w.first < blocks; w.first += width) {
    size_t count = blocks - w.first < width ? blocks - w.first : width;
    tenter_pool_run(pool, count, write_block, &w);
    for (size_t i = 0; status == TENTER_OK && i < count; i++)
      status = sink_flush(sink, &w.blocks[i], error);
  }
  release_all(w.blocks, width);
  review_json_names_release(&files);
  return status;
}
