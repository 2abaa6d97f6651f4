/* SPDX-License-Identifier: GPL-3.0-or-later */
/* tenter lots: which lots relax faster than the norm of their mesh, with how much certainty, and
 * what it costs. */
#include "command.h"

static int run(const command_call *call, tenter_error *error);

static const command_option options[] = {{NULL, NULL, NULL, NULL}};

const command command_lots = {
    .name = "lots",
    .summary = "which lots relax faster than their mesh's norm, and how surely",
    .about = "Compares the loss of each lot of mesh with the norm of its mesh: how much faster\n"
             "it is, how sure that is, what it costs by 30 days and in days of life, and what\n"
             "it can't be told from. With --out DIR it writes lots.html, lots.csv and\n"
             "lots.json.",
    .options = options,
    .run = run,
};

static tenter_status write_files(const command_call *call, const tenter_review *review,
                                 const tenter_report_options *report, tenter_error *error) {
  char note[TENTER_MESSAGE_SIZE] = "";
  tenter_status status = tenter_report_lots_files(review, report, call->out, note, error);
  if (status == TENTER_OK && *note)
    command_remark(call, "the pictures are missing: %s", note);
  if (status == TENTER_OK)
    command_remark(call, "the report is %s/lots.html", call->out);
  return status;
}

static int run(const command_call *call, tenter_error *error) {
  command_shop s;
  tenter_review *review = NULL;
  tenter_status status = command_shop_open(call, &s, error);
  if (status != TENTER_OK)
    return (int)status;
  status = tenter_review_new(s.shop, false, s.pool, &review, error);
  tenter_report_options report = command_report_options(call, &s);
  if (status == TENTER_OK && call->out)
    status = write_files(call, review, &report, error);
  if (status == TENTER_OK)
    status = call->format == FORMAT_JSON
                 ? tenter_report_lots_json(review, &report, command_stdout(), error)
                 : tenter_report_lots_text(review, &report, command_stdout(), error);
  tenter_review_free(review);
  command_shop_release(&s);
  return (int)status;
}
