/* SPDX-License-Identifier: GPL-3.0-or-later */
/* tenter review: which screens to use, read again, re-stretch or take out of use this week, and
 * why. */
#include <string.h>

#include "command.h"

static int run(const command_call *call, tenter_error *error);

static tenter_status take_fail_on(command_call *call, const char *argument, tenter_error *error) {
  for (int action = TENTER_ACTION_USE; action < TENTER_ACTION_COUNT; action++)
    if (strcmp(argument, tenter_action_code((tenter_action)action)) == 0) {
      call->fail_on = action;
      return TENTER_OK;
    }
  return tenter_fail(error, TENTER_USAGE,
                     "--fail-on %s: expected use, reread, restretch or withdraw", argument);
}

static const command_option options[] = {
    {"fail-on", "ACTION", "exit with 4 if a screen needs ACTION or a worse one", take_fail_on},
    {NULL, NULL, NULL, NULL}};

const command command_review = {
    .name = "review",
    .summary = "which screens to use, read again, re-stretch or take out of use",
    .about = "Reads the files, judges every screen in use and prints what needs action first.\n"
             "With --out DIR it also writes review.html, review.json, screens.csv, lots.csv,\n"
             "worklist.csv, worklist.ics, reading-sheet.csv and rejected.csv.",
    .options = options,
    .run = run,
};

static tenter_status print_review(const command_call *call, const tenter_review *review,
                                  const tenter_report_options *options_of, tenter_error *error) {
  tenter_sink out = command_stdout();
  if (call->format == FORMAT_JSON)
    return tenter_report_review_json(review, options_of, out, error);
  return tenter_report_review_text(review, options_of, out, error);
}

static tenter_status write_files(const command_call *call, const tenter_review *review,
                                 const tenter_report_options *options_of, tenter_error *error) {
  char note[TENTER_MESSAGE_SIZE] = "";
  tenter_status status = tenter_report_review_files(review, options_of, call->out, note, error);
  if (status == TENTER_OK && *note)
    command_remark(call, "the pictures are missing: %s", note);
  if (status == TENTER_OK)
    command_remark(call, "the report is %s/review.html", call->out);
  return status;
}

static bool fails(const command_call *call, const tenter_review *review) {
  for (int action = call->fail_on; action >= 0 && action < TENTER_ACTION_COUNT; action++)
    if (review->actions[action] > 0)
      return true;
  return false;
}

static int run(const command_call *call, tenter_error *error) {
  command_shop s;
  tenter_review *review = NULL;
  tenter_status status = command_shop_open(call, &s, error);
  if (status != TENTER_OK)
    return (int)status;
  status = tenter_review_new(s.shop, true, s.pool, &review, error);
  tenter_report_options report = command_report_options(call, &s);
  if (status == TENTER_OK && call->out) /* the files first: a closed pipe must not cost them */
    status = write_files(call, review, &report, error);
  if (status == TENTER_OK)
    status = print_review(call, review, &report, error);
  int exit_status = status == TENTER_OK && fails(call, review) ? EXIT_ACTION : (int)status;
  tenter_review_free(review);
  command_shop_release(&s);
  return exit_status;
}
