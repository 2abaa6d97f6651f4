/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is certified and what is refused, one cause at a time; the rule chosen; how values reach
 * 24 h; rejects; plans. Expected verdicts follow from how each shop is made. */
#include "make_shop.h"
#include "tenter/judge/certificate.h"

enum { SCREENS = 12 };

/* One shop: S-1 is made as asked, the others are sound. */
typedef struct plan_of_shop {
  double tension;   /* of S-1; 0: as the others */
  double read_at;   /* hours after stretching; 0: 30; NAN: never */
  size_t positions; /* 0: five */
  bool no_target, no_age, burst, no_checks;
  double youngest;    /* hours; 0: the setting's own */
  double checked_at;  /* hours; 0: -1 */
  double check_error; /* on the plate, N/cm */
  double floor, needed_on;
  bool uneven; /* a corner of S-1 near the limit of evenness */
  bool simple; /* the decision rule */
  const char *sampling_plan;
} plan_of_shop;

static void read_screen(maker *k, const char *id, double hours, const plan_of_shop *p, bool first) {
  double tension = first && p->tension > 0 ? p->tension : 20;
  size_t positions = first && p->positions > 0 ? p->positions : 5;
  for (int d = TENTER_WARP; d <= TENTER_WEFT; d++)
    for (size_t i = 0; i < positions; i++) {
      double off = 0.1 * maker_normal(k) + (first && p->uneven && i == 4 ? 1.45 : 0);
      maker_reading(k, id, hours, maker_five[i], (tenter_direction)d, "M1",
                    round((tension + off) * 10) / 10);
    }
}

static void add_screen(maker *k, size_t i, const plan_of_shop *p) {
  bool first = i == 0;
  char id[16];
  snprintf(id, sizeof id, "S-%zu", i + 1);
  screen_made made = {.mesh = "120-34",
                      .lot = "L1",
                      .customer = "Buyer",
                      .order = "O-1",
                      .target = first && p->no_target ? 0 : 20,
                      .minus = 2,
                      .plus = 2,
                      .floor = p->floor > 0 ? p->floor : 14,
                      .stretched = first && p->no_age ? 0 : 1 + (double)i,
                      .needed_on = p->needed_on};
  maker_screen(k, id, &made);
  double after = first && p->read_at != 0 ? p->read_at : 30;
  if (!isnan(after))
    read_screen(k, id, 1 + (double)i + after, p, first);
  if (first && p->burst)
    maker_event(k, id, 60, TENTER_EVENT_BURST);
}

static void set_up(maker *k, const plan_of_shop *p) {
  k->meters[0] = (tenter_meter_spec){"M1", 0.1, 0.4, 2, 7};
  k->config.meter_count = 1;
  k->config.settings.decision_rule = p->simple ? TENTER_RULE_SIMPLE : TENTER_RULE_GUARDED;
  if (p->youngest > 0)
    k->config.settings.youngest_age_hours = p->youngest;
  if (p->sampling_plan)
    k->config.settings.sampling_plan = p->sampling_plan;
  for (int i = 0; i < 5 && !p->no_checks; i++)
    maker_check(k, "M1", (p->checked_at != 0 ? p->checked_at : -1) - i, 20, 20 + p->check_error);
}

static maker *shop_of(const plan_of_shop *p) {
  maker *k = maker_new();
  set_up(k, p);
  for (size_t i = 0; i < SCREENS; i++)
    add_screen(k, i, p);
  return k;
}

static tenter_certificate *certify(maker *k, double as_of) {
  maker_judge(k, as_of);
  uint32_t order = tenter_names_find(k->tables->names[TENTER_NAME_ORDER], tenter_text_of("O-1"));
  tenter_certificate_request request = {.scope = TENTER_CERTIFICATE_ORDER, .name = order};
  tenter_certificate *c = NULL;
  tenter_error error = {0};
  if (tenter_certificate_new(k->review, &request, &c, &error))
    fail_msg("%s", error.message);
  return c;
}

static const tenter_certificate_screen *find(const tenter_certificate *c, const char *id) {
  for (size_t i = 0; i < c->screen_count; i++)
    if (strcmp(tenter_names_get(c->review->shop->tables->names[TENTER_NAME_SCREEN],
                                c->screens[i].screen),
               id) == 0)
      return &c->screens[i];
  fail_msg("no screen %s", id);
  return NULL;
}

static const tenter_refusal *refusal_of(const tenter_certificate_screen *s,
                                        tenter_refusal_code code) {
  for (size_t i = 0; i < s->refusal_count; i++)
    if (s->refusals[i].code == code)
      return &s->refusals[i];
  return NULL;
}

/* S-1 of the shop is refused for this cause (its figures into *out), and the others stand as
 * `others` says. */
static void expect_refusal(const plan_of_shop *p, tenter_refusal_code code, size_t others,
                           tenter_refusal *out) {
  maker *k = shop_of(p);
  tenter_certificate *c = certify(k, 70);
  const tenter_certificate_screen *s = find(c, "S-1");
  const tenter_refusal *r = refusal_of(s, code);
  assert_false(s->certified);
  if (!r)
    fail_msg("not refused for %s but for %s", tenter_refusal_word(code),
             s->refusal_count > 0 ? tenter_refusal_word(s->refusals[0].code) : "nothing");
  assert_int_equal(c->certified, others);
  *out = *r;
  tenter_certificate_free(c);
  maker_free(k);
}

static void sound_is_certified(void **unused) {
  (void)unused;
  maker *k = shop_of(&(plan_of_shop){0});
  tenter_certificate *c = certify(k, 70);
  assert_int_equal(c->screen_count, SCREENS);
  assert_int_equal(c->certified, SCREENS);
  assert_int_equal(c->meter_count, 1);
  assert_close(c->meters[0].expanded, 0.4, 0, 0);
  assert_int_equal(c->meters[0].screens, SCREENS);
  assert_close((double)c->first, (double)maker_time(31), 0, 0);
  const tenter_certificate_screen *s = find(c, "S-5");
  assert_int_equal(s->positions, 5);
  assert_true(s->verdict == TENTER_VERDICT_GOOD && !s->by_simple_rule);
  assert_true(s->expanded > 0.4 && s->expanded < 1);
  assert_int_equal(c->group_count, 1);
  assert_int_equal(c->groups[0].mountings, SCREENS);
  assert_false(c->groups[0].sorted_delivery);
  tenter_certificate_free(c);
  maker_free(k);
}

static void reading_is_refused(void **unused) {
  (void)unused;
  tenter_refusal r;
  expect_refusal(&(plan_of_shop){.positions = 4}, TENTER_REFUSAL_TOO_FEW_POSITIONS, 11, &r);
  assert_close(r.found, 4, 0, 0);
  assert_close(r.wanted, 5, 0, 0);
  expect_refusal(&(plan_of_shop){.read_at = 20}, TENTER_REFUSAL_TOO_YOUNG, 11, &r);
  assert_close(r.found, 20, 1e-9, 0);
  expect_refusal(&(plan_of_shop){.youngest = 30.5}, TENTER_REFUSAL_TOO_YOUNG, 0, &r);
  assert_close(r.found, 30, 1e-9, 0);
  assert_close(r.wanted, 30.5, 0, 0);
  expect_refusal(&(plan_of_shop){.no_age = true}, TENTER_REFUSAL_AGE_UNKNOWN, 11, &r);
  expect_refusal(&(plan_of_shop){.read_at = NAN}, TENTER_REFUSAL_NEVER_READ, 11, &r);
  expect_refusal(&(plan_of_shop){.no_target = true}, TENTER_REFUSAL_NO_TOLERANCE, 11, &r);
  expect_refusal(&(plan_of_shop){.burst = true}, TENTER_REFUSAL_NOT_IN_USE, 11, &r);
}

/* A mean at a limit: the guarded rule decides nothing, beyond it it is outside. */
static void tolerance_is_refused(void **unused) {
  (void)unused;
  tenter_refusal r;
  expect_refusal(&(plan_of_shop){.tension = 22.1}, TENTER_REFUSAL_UNDECIDED, 11, &r);
  assert_close(r.wanted, 22, 0, 0);
  assert_close(r.found, 22.1, 0, 0.1);
  expect_refusal(&(plan_of_shop){.tension = 23.2}, TENTER_REFUSAL_OUTSIDE, 11, &r);
  expect_refusal(&(plan_of_shop){.tension = 17}, TENTER_REFUSAL_OUTSIDE, 11, &r);
  assert_close(r.wanted, 18, 0, 0);
  expect_refusal(&(plan_of_shop){.uneven = true}, TENTER_REFUSAL_EVENNESS_UNDECIDED, 11, &r);
  assert_true(r.found > 0.02 && r.found < 0.98);
}

static void meter_is_refused(void **unused) {
  (void)unused;
  tenter_refusal r;
  expect_refusal(&(plan_of_shop){.no_checks = true}, TENTER_REFUSAL_NEVER_CHECKED, 0, &r);
  /* the last check on Monday 2025-12-29, S-1 read on Tuesday 2026-01-06: 8 days */
  expect_refusal(&(plan_of_shop){.checked_at = -160}, TENTER_REFUSAL_OUT_OF_CHECK, 0, &r);
  assert_close(r.found, 8, 0, 0);
  assert_close(r.wanted, 7, 0, 0);
  expect_refusal(&(plan_of_shop){.check_error = 1.5}, TENTER_REFUSAL_METER_SHIFTED, 0, &r);
  assert_close(r.found, 1.5, 0, 1e-9);
}

/* Seven days to the day are in check. */
static void last_day_of_check(void **unused) {
  (void)unused;
  maker *k = shop_of(&(plan_of_shop){.checked_at = -136}); /* Tuesday 2025-12-30, 16:00 */
  tenter_certificate *c = certify(k, 70);
  assert_true(find(c, "S-1")->certified);
  assert_int_equal(c->meters[0].checks, 5);
  tenter_certificate_free(c);
  maker_free(k);
}

static void day_of_use(void **unused) {
  (void)unused;
  tenter_refusal r;
  /* about 1 N/cm lost a decade: 20 at 30 h is under 18.6 after 4000 h more likely than not */
  expect_refusal(&(plan_of_shop){.floor = 18.6, .needed_on = 8000}, TENTER_REFUSAL_FALLS_BEFORE_USE,
                 0, &r);
  assert_true(r.found > 0.5);
  maker *k = shop_of(&(plan_of_shop){.needed_on = 200});
  tenter_certificate *c = certify(k, 70);
  const tenter_certificate_screen *s = find(c, "S-2");
  assert_true(s->certified && s->expected < 20 && s->expected > 18.5 && s->below_floor_then < 0.01);
  tenter_certificate_free(c);
  maker_free(k);
}

/* Simple acceptance lets the undecided through within the limit, says so, and not beyond it. */
static void simple_rule(void **unused) {
  (void)unused;
  tenter_refusal r;
  maker *k = shop_of(&(plan_of_shop){.tension = 21.85, .simple = true});
  tenter_certificate *c = certify(k, 70);
  assert_true(c->simple && find(c, "S-1")->certified && find(c, "S-1")->by_simple_rule);
  assert_false(find(c, "S-2")->by_simple_rule);
  assert_int_equal(c->by_simple_rule, 1);
  tenter_certificate_free(c);
  maker_free(k);
  expect_refusal(&(plan_of_shop){.tension = 22.2, .simple = true}, TENTER_REFUSAL_OUTSIDE, 11, &r);
  k = shop_of(&(plan_of_shop){.uneven = true, .simple = true});
  c = certify(k, 70);
  assert_true(find(c, "S-1")->certified && find(c, "S-1")->by_simple_rule);
  tenter_certificate_free(c);
  maker_free(k);
}

/* ---- the process ---------------------------------------------------------------------------- */

/* Read at 24 h to the minute, a value is the mean of the session; later, the usual loss is put
 * back.
 */
static void values_at_24h(void **unused) {
  (void)unused;
  maker *k = shop_of(&(plan_of_shop){.read_at = 24});
  tenter_certificate *c = certify(k, 70);
  const tenter_certificate_group *g = &c->groups[0];
  double uncertainty;
  assert_int_equal(g->count, SCREENS);
  assert_close(g->values[0].value,
               tenter_review_session_mean(k->review, g->values[0].session, &uncertainty), 1e-12, 0);
  assert_true(g->mean_loss > 0.2 && g->mean_loss < 2.5);
  assert_close(g->values[1].value - g->mean_loss * log10(30 / 24.0),
               tenter_review_session_mean(k->review, g->values[1].session, &uncertainty), 1e-12, 0);
  double sum = 0;
  for (size_t i = 0; i < g->count; i++)
    sum += g->values[i].value;
  assert_close(g->capability.mean, sum / SCREENS, 1e-12, 0);
  assert_int_equal(g->within, SCREENS);
  assert_true(g->low < g->sorted[0] && g->high > g->sorted[SCREENS - 1]);
  tenter_certificate_free(c);
  maker_free(k);
}

/* S-1 is stretched at 1 h, read low, and stretched again at 40 h. */
static maker *with_reject(bool printed, double days) {
  maker *k = shop_of(&(plan_of_shop){.tension = 16.5, .sampling_plan = "n=10, k=1.5"});
  k->config.settings.reject_days = days;
  maker_event(k, "S-1", 1, TENTER_EVENT_STRETCHED);
  maker_event(k, "S-1", 40, TENTER_EVENT_STRETCHED);
  k->tables->registers[0].attributes.stretched = (tenter_when){TENTER_NO_TIME, false};
  if (printed)
    maker_event(k, "S-1", 35, TENTER_EVENT_PRINTED);
  maker_session(k, "S-1", 70, "M1", 20, 0.1);
  return k;
}

static void rejects_count(void **unused) {
  (void)unused;
  const struct {
    bool printed;
    double days;
    size_t rejects;
  } cases[] = {{false, 14, 1}, {true, 14, 0}, {false, 1, 0}};
  for (size_t i = 0; i < 3; i++) {
    maker *k = with_reject(cases[i].printed, cases[i].days);
    tenter_certificate *c = certify(k, 100);
    const tenter_certificate_group *g = &c->groups[0];
    assert_int_equal(g->rejects, cases[i].rejects);
    assert_int_equal(g->mountings, SCREENS + cases[i].rejects);
    assert_int_equal(g->outside, cases[i].rejects);
    assert_true(g->sorted_delivery == (cases[i].rejects > 0));
    assert_true(g->planned == (cases[i].rejects == 0));
    assert_true(find(c, "S-1")->certified);
    tenter_certificate_free(c);
    maker_free(k);
  }
}

/* What is refused for its tension is taken out: sorted. Refused for its places: not. */
static void sorted_by_tension(void **unused) {
  (void)unused;
  const plan_of_shop few = {.positions = 4, .sampling_plan = "n=10,k=1.5"},
                     out = {.tension = 16.5, .sampling_plan = "n=10,k=1.5"};
  maker *k = shop_of(&few);
  tenter_certificate *c = certify(k, 70);
  assert_true(c->groups[0].planned && !c->groups[0].sorted_delivery);
  tenter_certificate_free(c);
  maker_free(k);
  k = shop_of(&out);
  c = certify(k, 70);
  assert_true(!c->groups[0].planned && c->groups[0].sorted_delivery);
  tenter_certificate_free(c);
  maker_free(k);
}

static void plans(void **unused) {
  (void)unused;
  maker *k = shop_of(&(plan_of_shop){.sampling_plan = " n = 10 ; k=1.5, sigma = 0.5"});
  tenter_certificate *c = certify(k, 70);
  const tenter_certificate_group *g = &c->groups[0];
  assert_true(g->planned && g->result.accepted);
  assert_int_equal(c->plan_asked, 10);
  assert_int_equal(g->plan.count, SCREENS);
  assert_close(g->result.upper_quality, (22 - g->capability.mean) / 0.5, 1e-12, 0);
  tenter_certificate_free(c);
  maker_free(k);
  k = shop_of(&(plan_of_shop){.sampling_plan = "n=13, k=1.5"});
  c = certify(k, 70);
  assert_false(c->groups[0].planned);
  tenter_certificate_free(c);
  maker_free(k);
}

static void bad_plans(void **unused) {
  (void)unused;
  const char *const texts[] = {
      "n=10",        "k=1.5",       "n=1, k=1", "n=10 k=1.5",     "n=ten, k=1",
      "n=10, k=nan", "n=10.5, k=1", "m=3, k=1", "n=10, k=1, n=2", "n=5, k=1, sigma=-1",
      "n=5, k=1, x", "10, 1.5"};
  for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
    maker *k = shop_of(&(plan_of_shop){.sampling_plan = texts[i]});
    maker_judge(k, 70);
    tenter_certificate_request request = {.scope = TENTER_CERTIFICATE_ORDER, .name = 0};
    tenter_certificate *c = NULL;
    tenter_error error = {0};
    if (tenter_certificate_new(k->review, &request, &c, &error) != TENTER_USAGE)
      fail_msg("%s was taken for a plan", texts[i]);
    assert_non_null(strstr(error.message, "sampling_plan"));
    maker_free(k);
  }
}

/* By hand: no word on the process. By customer: the same screens as by order. */
static void scopes(void **unused) {
  (void)unused;
  maker *k = shop_of(&(plan_of_shop){0});
  maker_judge(k, 70);
  const uint32_t picked[] = {3, 1, 3};
  tenter_certificate_request request = {
      .scope = TENTER_CERTIFICATE_SCREENS, .screens = picked, .screen_count = 3};
  tenter_certificate *c = NULL;
  assert_int_equal(tenter_certificate_new(k->review, &request, &c, NULL), TENTER_OK);
  assert_int_equal(c->screen_count, 2);
  assert_int_equal(c->group_count, 0);
  tenter_certificate_free(c);
  request = (tenter_certificate_request){.scope = TENTER_CERTIFICATE_CUSTOMER, .name = 0};
  assert_int_equal(tenter_certificate_new(k->review, &request, &c, NULL), TENTER_OK);
  assert_int_equal(c->screen_count, SCREENS);
  tenter_certificate_free(c);
  request.name = 7; /* nobody's */
  assert_int_equal(tenter_certificate_new(k->review, &request, &c, NULL), TENTER_INPUT);
  maker_free(k);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(sound_is_certified),
                                     cmocka_unit_test(reading_is_refused),
                                     cmocka_unit_test(tolerance_is_refused),
                                     cmocka_unit_test(meter_is_refused),
                                     cmocka_unit_test(last_day_of_check),
                                     cmocka_unit_test(day_of_use),
                                     cmocka_unit_test(simple_rule),
                                     cmocka_unit_test(values_at_24h),
                                     cmocka_unit_test(rejects_count),
                                     cmocka_unit_test(sorted_by_tension),
                                     cmocka_unit_test(plans),
                                     cmocka_unit_test(bad_plans),
                                     cmocka_unit_test(scopes)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
