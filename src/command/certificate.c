/* SPDX-License-Identifier: GPL-3.0-or-later */
/* tenter certificate: the QC report for a customer's screens; and checking one later. */
#include "tenter/judge/certificate.h"
#include "command.h"
#include "tenter/base/alloc.h"
#include "tenter/intake/sha256.h"
#include "tenter/report/certificate.h"
#include "verify.h"

static int run(const command_call *call, tenter_error *error);

static tenter_status take_name(const char **field, const char *option, const char *argument,
                               tenter_error *error) {
  if (!*argument)
    return tenter_fail(error, TENTER_USAGE, "--%s: expected a name", option);
  if (*field)
    return tenter_fail(error, TENTER_USAGE, "--%s is given twice: one a certificate", option);
  *field = argument;
  return TENTER_OK;
}

static tenter_status take_order(command_call *call, const char *argument, tenter_error *error) {
  return take_name(&call->order, "order", argument, error);
}

static tenter_status take_customer(command_call *call, const char *argument, tenter_error *error) {
  return take_name(&call->customer, "customer", argument, error);
}

static tenter_status take_verify(command_call *call, const char *argument, tenter_error *error) {
  (void)argument;
  (void)error;
  call->verify = true;
  return TENTER_OK;
}

static const command_option options[] = {
    {"order", "NAME", "the screens of this order", take_order},
    {"customer", "NAME", "all screens of this customer", take_customer},
    {"screen", "ID", "a screen (again and again)", command_take_screen},
    {"verify", NULL, "check certificate.json and the files given with it", take_verify},
    {NULL, NULL, NULL, NULL}};

const command command_certificate = {
    .name = "certificate",
    .summary = "the QC report for a customer's screens; --verify checks one",
    .words = "[ID...] ",
    .about =
        "Certifies the screens of an order, of a customer, or those named: each with target,\n"
        "mean, weakest and tightest place, evenness, age at reading, verdict, mesh and lot, by\n"
        "the decision rule of the config; how the shop stretched for the order (capability,\n"
        "tolerance interval, normality, acceptance by variables); tension to expect on the day\n"
        "of use; the meters used. Refuses, with the reason, what can't be certified: too few\n"
        "places, a meter out of check or shifted, a reading too young or doubted, a verdict\n"
        "that is undecided unless [certificate] decision_rule = simple lets it through.\n"
        "With --out DIR it writes certificate.html, certificate.pdf, certificate.csv and\n"
        "certificate.json. Where nothing can be certified it writes no file and exits with 4.\n"
        "\n"
        "tenter certificate --verify certificate.json [FILE or FOLDER...] checks that the\n"
        "certificate, and what is given of its pages and inputs, is what was issued; exits\n"
        "with 4 when any digit of any of them differs.",
    .options = options,
    .run = run,
};

/* ---- what is asked for ---------------------------------------------------------------------- */

static tenter_status check_scope(const command_call *call, tenter_error *error) {
  int scopes = (call->order != NULL) + (call->customer != NULL) + (call->screen_count > 0);
  if (scopes == 1)
    return TENTER_OK;
  if (scopes == 0)
    return tenter_fail(error, TENTER_USAGE,
                       "say what to certify: --order NAME, --customer NAME, or ids of screens");
  if (call->screen_count > 0)
    return tenter_fail(error, TENTER_USAGE,
                       "an order, a customer or ids of screens: one of them (%s is no file or "
                       "folder, so it was taken for an id)",
                       call->screens[call->screen_count - 1]);
  return tenter_fail(error, TENTER_USAGE, "--order and --customer: one of them");
}

/* The order or customer of that name. */
static tenter_status find_name(const tenter_shop *shop, tenter_name_kind kind, const char *what,
                               const char *text, uint32_t *name, tenter_error *error) {
  const tenter_names *names = shop->tables->names[kind];
  *name = tenter_names_find(names, tenter_text_of(text));
  if (*name != TENTER_NO_NAME)
    return TENTER_OK;
  uint32_t nearest = tenter_names_nearest(names, tenter_text_of(text));
  if (nearest != TENTER_NO_NAME)
    return tenter_fail(error, TENTER_USAGE, "no %s %s in these files; the nearest is %s", what,
                       text, tenter_names_get(names, nearest));
  if (tenter_names_count(names) == 0)
    return tenter_fail(error, TENTER_USAGE,
                       "no %s %s: these files name none (the register has a column for it)", what,
                       text);
  return tenter_fail(error, TENTER_USAGE, "no %s %s in these files", what, text);
}

/* screens: room for the ids of the call. */
static tenter_status find_request(const command_call *call, const tenter_shop *shop,
                                  uint32_t *screens, tenter_certificate_request *request,
                                  tenter_error *error) {
  *request = (tenter_certificate_request){.screens = screens};
  if (call->order) {
    request->scope = TENTER_CERTIFICATE_ORDER;
    return find_name(shop, TENTER_NAME_ORDER, "order", call->order, &request->name, error);
  }
  if (call->customer) {
    request->scope = TENTER_CERTIFICATE_CUSTOMER;
    return find_name(shop, TENTER_NAME_CUSTOMER, "customer", call->customer, &request->name, error);
  }
  request->scope = TENTER_CERTIFICATE_SCREENS;
  tenter_status status = TENTER_OK;
  for (size_t i = 0; i < call->screen_count && status == TENTER_OK; i++)
    status = command_find_screen(shop, call->screens[i], &screens[request->screen_count++], error);
  return status;
}

/* ---- the certificate ------------------------------------------------------------------------ */

static tenter_status write_files(const command_call *call, const tenter_certificate_report *report,
                                 tenter_buffer *json, tenter_error *error) {
  char note[TENTER_MESSAGE_SIZE] = "";
  tenter_status status = tenter_report_certificate_files(report, call->out, json, note, error);
  if (status == TENTER_OK && *note)
    command_remark(call, "%s", note);
  if (status == TENTER_OK)
    command_remark(call, "the certificate is %s/certificate.html", call->out);
  return status;
}

static tenter_status report_it(const command_call *call, const tenter_certificate *certificate,
                               const command_shop *s, tenter_error *error) {
  tenter_report_options of = command_report_options(call, s);
  tenter_certificate_report report = {certificate, &of, tenter_sha256_of};
  tenter_buffer json = {0};
  tenter_status status = TENTER_OK;
  bool files = call->out && certificate->certified > 0;
  if (call->out && !files)
    command_remark(call, "nothing can be certified, so no file is written");
  if (files) /* first: a closed pipe must not cost them */
    status = write_files(call, &report, &json, error);
  else if (call->format == FORMAT_JSON)
    status = tenter_report_certificate_json(&report, &json, error);
  tenter_sink out = command_stdout();
  if (status == TENTER_OK)
    status = call->format == FORMAT_JSON ? out.write(out.context, json.bytes, json.length, error)
                                         : tenter_report_certificate_text(&report, out, error);
  size_t refused = certificate->screen_count - certificate->certified;
  if (status == TENTER_OK && refused > 0)
    command_remark(call, "%zu of %zu screens can't be certified; the reasons are given", refused,
                   certificate->screen_count);
  tenter_buffer_release(&json);
  return status;
}

static int certify(const command_call *call, command_shop *s, uint32_t *screens,
                   tenter_error *error) {
  tenter_review *review = NULL;
  tenter_certificate *certificate = NULL;
  tenter_certificate_request request;
  tenter_status status = find_request(call, s->shop, screens, &request, error);
  if (status == TENTER_OK) /* before the work of judging; past weeks are not asked for */
    status = tenter_review_new(s->shop, false, s->pool, &review, error);
  if (status == TENTER_OK)
    status = tenter_certificate_new(review, &request, &certificate, error);
  if (status == TENTER_OK)
    status = report_it(call, certificate, s, error);
  int answer = status == TENTER_OK && certificate->certified == 0 ? EXIT_ACTION : (int)status;
  tenter_certificate_free(certificate);
  tenter_review_free(review);
  return answer;
}

static int run_sorted(const command_call *call, tenter_error *error) {
  tenter_status status = check_scope(call, error);
  if (status == TENTER_OK)
    status = command_need_files(call, error);
  command_shop s;
  if (status == TENTER_OK)
    status = command_shop_open(call, &s, error);
  if (status != TENTER_OK)
    return (int)status;
  uint32_t *screens = tenter_alloc(call->screen_count + 1, sizeof *screens);
  int answer = screens ? certify(call, &s, screens, error) : (int)tenter_fail_memory(error);
  tenter_free(screens);
  command_shop_release(&s);
  return answer;
}

static int run(const command_call *call, tenter_error *error) {
  if (call->verify)
    return command_verify(call, error);
  command_call sorted;
  tenter_status status = command_sort_words(call, &sorted, error);
  int answer = status == TENTER_OK ? run_sorted(&sorted, error) : (int)status;
  tenter_free(sorted.screens);
  tenter_free(sorted.words);
  return answer;
}
