/* SPDX-License-Identifier: GPL-3.0-or-later */
/* tenter check: what was understood of the files, what was not, and what looks wrong in them. */
#include "command.h"

static int run(const command_call *call, tenter_error *error);

static const command_option options[] = {{NULL, NULL, NULL, NULL}};

const command command_check = {
    .name = "check",
    .summary = "what was understood of these files, and what looks wrong in them",
    .about = "Reads the files and says for each how it was understood: which table it is, how\n"
             "each column was read, how many rows were accepted, rejected, blank or repeated,\n"
             "and every row that can't be used with the reason. With --out DIR it writes\n"
             "check.html, rejected.csv and check.json.",
    .options = options,
    .run = run,
};

static int run(const command_call *call, tenter_error *error) {
  command_shop s;
  tenter_status status = command_shop_open(call, &s, error);
  if (status != TENTER_OK)
    return (int)status;
  tenter_review *review = NULL;
  status = tenter_review_new(s.shop, false, s.pool, &review, error);
  if (status != TENTER_OK) {
    command_shop_release(&s);
    return (int)status;
  }
  tenter_report_options report = command_report_options(call, &s);
  report.slips = review->slips;
  report.slip_count = review->slip_count;
  status = call->format == FORMAT_JSON
               ? tenter_report_check_json(s.shop, &report, command_stdout(), error)
               : tenter_report_check_text(s.shop, &report, command_stdout(), error);
  if (status == TENTER_OK && call->out)
    status = tenter_report_check_files(s.shop, &report, call->out, error);
  if (status == TENTER_OK && call->out)
    command_remark(call, "the report is %s/check.html", call->out);
  tenter_review_free(review);
  command_shop_release(&s);
  return (int)status;
}
