/* SPDX-License-Identifier: GPL-3.0-or-later */
/* tenter interval: how long a mesh or a lot may go before it is re-stretched, and the work of the
 * next weeks. */
#include "tenter/judge/interval.h"
#include "command.h"

static int run(const command_call *call, tenter_error *error);

static const command_option options[] = {{NULL, NULL, NULL, NULL}};

const command command_interval = {
    .name = "interval",
    .summary = "how long a mesh or lot may go before a re-stretch; what falls due",
    .about = "Says for each mesh and lot how many days a new mounting may go before the\n"
             "chance that it is below its floor is over the risk ([review] risk); beside that\n"
             "what past mountings did; with [cost] the age of least cost; and what falls due\n"
             "in the next eight weeks, levelled to what the shop can do ([shop]\n"
             "stretches_per_week and sessions_per_week). With --out DIR it writes\n"
             "interval.html, intervals.csv, plan.csv, worklist.ics and interval.json.",
    .options = options,
    .run = run,
};

static tenter_status write_files(const command_call *call, const tenter_interval_study *study,
                                 const tenter_report_options *report, tenter_error *error) {
  char note[TENTER_MESSAGE_SIZE] = "";
  tenter_status status = tenter_report_interval_files(study, report, call->out, note, error);
  if (status == TENTER_OK && *note)
    command_remark(call, "the pictures are missing: %s", note);
  if (status == TENTER_OK)
    command_remark(call, "the report is %s/interval.html", call->out);
  return status;
}

static int run(const command_call *call, tenter_error *error) {
  command_shop s;
  tenter_review *review = NULL;
  tenter_interval_study *study = NULL;
  tenter_status status = command_shop_open(call, &s, error);
  if (status != TENTER_OK)
    return (int)status;
  tenter_report_options report = command_report_options(call, &s);
  status = tenter_review_new(s.shop, false, s.pool, &review, error);
  if (status == TENTER_OK)
    status = tenter_interval_study_new(review, s.pool, &study, error);
  if (status == TENTER_OK && call->out)
    status = write_files(call, study, &report, error);
  if (status == TENTER_OK)
    status = call->format == FORMAT_JSON
                 ? tenter_report_interval_json(study, &report, command_stdout(), error)
                 : tenter_report_interval_text(study, &report, command_stdout(), error);
  tenter_interval_study_free(study);
  tenter_review_free(review);
  command_shop_release(&s);
  return (int)status;
}
