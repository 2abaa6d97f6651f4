/* SPDX-License-Identifier: GPL-3.0-or-later */
/* tenter meter: what the meters do: what moved, bias, gauge studies, and the uncertainty of a
 * session mean. */
#include "command.h"

static int run(const command_call *call, tenter_error *error);

static const command_option options[] = {{NULL, NULL, NULL, NULL}};

const command command_meter = {
    .name = "meter",
    .summary = "repeatability and reproducibility study, bias and drift of meters",
    .about =
        "Says which meter moved, since when and against what, and names what the readings can't\n"
        "tell it from; the bias of each meter; from readings with a trial number a study of\n"
        "repeatability and reproducibility; and the uncertainty of a session mean. Without\n"
        "such readings it says what to record. With --out DIR it writes meter.html and\n"
        "meter.json.",
    .options = options,
    .run = run,
};

static tenter_status write_files(const command_call *call, const tenter_review *review,
                                 const tenter_report_options *report, tenter_error *error) {
  tenter_status status = tenter_report_meter_files(review, report, call->out, error);
  if (status == TENTER_OK)
    command_remark(call, "the report is %s/meter.html", call->out);
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
                 ? tenter_report_meter_json(review, &report, command_stdout(), error)
                 : tenter_report_meter_text(review, &report, command_stdout(), error);
  tenter_review_free(review);
  command_shop_release(&s);
  return (int)status;
}
