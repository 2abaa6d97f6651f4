/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Control charts of a shop.
 *
 * Sources: run lengths by the stats layer, which is checked against R's spc and Champ and Woodall
 * 1987 in tests/stats; for the rest shops are drawn in which the truth is known, and what is
 * expected stands beside the check. */
#include "../../src/judge/charts.h"

#include <ctype.h>

#include "make_calm_shop.h"
#include "tenter/stats/arl.h"
#include "tenter/stats/trend.h"

static size_t new_signals(const tenter_review *r, tenter_stream stream, const char *key) {
  size_t count = 0;
  for (size_t c = 0; c < r->charts.count; c++) {
    const tenter_review_chart *chart = &r->charts.charts[c];
    if (chart->stream != stream || (key && !strstr(chart->name, key)))
      continue;
    for (size_t i = 0; i < chart->signal_count; i++)
      count += chart->signals[i].is_new;
  }
  return count;
}

/* Counts over calm shops lie where the program says that luck puts them: with R shops the sum of
 * the signals has the announced mean; each shop's count lies in its own band in 95 of 100 (band of
 * the check: four standard errors of a sum whose terms vary at least like Poisson's). */
static void test_calm_shops_signal_as_announced(void **state) {
  (void)state;
  enum { SHOPS = 12 };
  double signals = 0, screens = 0, expected = 0, expected_screens = 0;
  size_t within = 0;
  for (size_t i = 0; i < SHOPS; i++) {
    maker *k = maker_new();
    k->random = 7001 + 13 * i;
    const tenter_review *r = make_calm(k, &(calm_shop){0});
    const tenter_chart_alarms *a = &r->charts.alarms;
    assert_true(r->charts.count > 10);
    assert_close(r->expected_false_alarms, a->screens, 0, 0);
    signals += (double)a->seen_signals;
    screens += (double)a->seen_screens;
    expected += a->signals;
    expected_screens += a->screens;
    within += (double)a->seen_signals >= a->signals_low &&
              (double)a->seen_signals <= a->signals_high &&
              (double)a->seen_screens <= a->screens_high;
    maker_free(k);
  }
  print_message("signals %g expected %.1f; screens %g expected %.1f; %zu of %d within\n", signals,
                expected, screens, expected_screens, within, SHOPS);
  assert_in_range(within, SHOPS - 3, SHOPS);
  assert_true(fabs(signals - expected) < 4 * sqrt(2 * expected));
  assert_true(fabs(screens - expected_screens) < 4 * sqrt(3 * expected_screens));
}

/* The width that stands in the code for the usual settings is the one that a design finds. */
static void test_the_usual_width_is_the_designed_one(void **state) {
  (void)state;
  maker *k = maker_new();
  const tenter_review *r = make_calm(k, &(calm_shop){0});
  tenter_scheme average = {.kind = TENTER_SCHEME_EWMA, .lambda = 0.2, .width = 3, .exact = true};
  assert_close(r->charts.average_weight, 0.2, 0, 0);
  assert_close(r->charts.average_run_length, 500, 0, 0);
  assert_int_equal(tenter_scheme_design(&average, NULL, 500, NULL), TENTER_OK);
  assert_close(r->charts.average_width, average.width, 1e-9, 0);
  maker_free(k);
}

/* ---- errors, their variances, their trend ---------------------------------------------------- */

/* Errors over the standard deviation that was forecast with them have variance 1 where all is as
 * modelled (a fifth either way: some hundred sessions, whose mountings and days go together). */
static void test_errors_are_as_wide_as_forecast(void **state) {
  (void)state;
  double squares = 0, count = 0;
  for (uint64_t seed = 0; seed < 3; seed++) {
    maker *k = maker_new();
    k->random = 911 + seed;
    const judge *j = make_calm(k, &(calm_shop){0})->judged;
    for (size_t i = 0; i < k->shop->session_count; i++)
      if (!isnan(j->foreseen[i].z)) {
        squares += (double)j->foreseen[i].z * (double)j->foreseen[i].z;
        count++;
      }
    maker_free(k);
  }
  print_message("%g errors, variance %.3f\n", count, squares / count);
  assert_true(count > 600);
  assert_close(squares / count, 1, 0.2, 0);
}

enum { MOST_DAYS = CALM_WEEKS * 7 + 7 };

/* Within and between days by the one-way analysis of variance with unequal numbers (Searle, Casella
 * and McCulloch 1992, 3.6), in two passes; within leans on 1 with the weight of `prior` degrees of
 * freedom. */
static void test_variances_of_a_chart(void **state) {
  (void)state;
  enum { PRIOR = 10 }; /* as service.c says */
  maker *k = maker_new();
  const tenter_review *r = make_calm(k, &(calm_shop){.meter_shift = 0.4});
  const judge *j = r->judged;
  size_t checked = 0;
  for (size_t c = 0; c < r->charts.count; c++) {
    const tenter_review_chart *chart = &r->charts.charts[c];
    double n[MOST_DAYS] = {0}, mean[MOST_DAYS] = {0}, days = 0, all = 0, grand = 0, counts = 0;
    double within = 0, between = 0;
    if (chart->stream != TENTER_STREAM_SHIFT)
      continue;
    for (int pass = 0; pass < 2; pass++)
      for (size_t i = 0; i < k->shop->session_count; i++) {
        const tenter_session *s = &k->shop->sessions[i];
        size_t day = (size_t)((s->taken - tenter_day_start(MAKER_START)) / TENTER_DAY);
        double z = (double)j->foreseen[i].z;
        if (isnan(z) || s->meter != chart->key || s->taken >= j->charting->week)
          continue;
        if (pass == 0) {
          mean[day] = (mean[day] * n[day] + z) / (n[day] + 1);
          n[day]++;
        } else {
          within += pow(z - mean[day], 2);
        }
      }
    for (size_t d = 0; d < MOST_DAYS; d++) {
      days += n[d] > 0;
      all += n[d];
      counts += n[d] * n[d];
      grand += n[d] * mean[d];
    }
    for (size_t d = 0; d < MOST_DAYS; d++)
      between += n[d] * pow(mean[d] - grand / all, 2);
    double mean_within = (within + PRIOR) / (all - days + PRIOR);
    double usual = (all - counts / all) / (days - 1);
    double variance = (between / (days - 1) - mean_within) / usual;
    assert_close(chart->within, sqrt(mean_within), 1e-6, 0);
    assert_close(chart->between, sqrt(fmax(variance, 0)), 1e-6, 1e-9);
    checked++;
  }
  assert_int_equal(checked, 2);
  maker_free(k);
}

/* The trend of the shop is that of its weeks' mean errors, by the stats layer (checked against R).
 */
static void test_trend_of_the_weeks(void **state) {
  (void)state;
  maker *k = maker_new();
  const tenter_review *r = make_calm(k, &(calm_shop){0});
  const judge *j = r->judged;
  double x[64], y[64], scratch[64 * 64];
  size_t count = 0;
  assert_string_equal(r->trends[0].of, "shop");
  for (size_t w = 0; w < r->week_count; w++) {
    double sum = 0, n = 0;
    for (size_t i = 0; i < k->shop->session_count; i++) {
      tenter_time taken = k->shop->sessions[i].taken;
      if (isnan(j->foreseen[i].error) || taken < r->weeks[w].start ||
          taken >= r->weeks[w].start + TENTER_WEEK)
        continue;
      sum += (double)j->foreseen[i].error;
      n++;
    }
    if (n == 0)
      continue;
    assert_close(r->trends[0].shift[w], sum / n, 1e-9, 1e-12);
    x[count] = (double)w;
    y[count++] = sum / n;
  }
  assert_true(count >= 6 && tenter_theil_sen_scratch(count) <= 64 * 64);
  tenter_theil_sen line = tenter_theil_sen_of(x, y, count, 0.95, scratch);
  assert_close(r->trends[0].slope, line.slope, 1e-9, 1e-12);
  assert_close(r->trends[0].low, line.low, 1e-9, 1e-12);
  assert_close(r->trends[0].high, line.high, 1e-9, 1e-12);
  assert_close(r->trends[0].p, tenter_mann_kendall_of(y, count).p, 1e-9, 0);
  maker_free(k);
}

/* ---- what is wrong is named, once ----------------------------------------------------------- */

static void test_a_tilted_station_is_named(void **state) {
  (void)state;
  maker *k = maker_new();
  const tenter_review *r = make_calm(k, &(calm_shop){.tilt = 0.6});
  size_t signals = 0, others = 0;
  for (size_t c = 0; c < r->charts.count; c++) {
    const tenter_review_chart *chart = &r->charts.charts[c];
    if (chart->stream != TENTER_STREAM_TILT_X)
      continue;
    assert_int_equal(chart->basis, TENTER_BASIS_OTHERS);
    assert_close(chart->limits.centre, 0, 0, 0.06);
    *(strstr(chart->name, "ST-2") ? &signals : &others) += chart->signal_count;
    if (strstr(chart->name, "ST-2"))
      assert_true(chart->signal_count > chart->point_count / 2);
  }
  assert_true(signals > 20);
  assert_true(others < 4);
  maker_free(k);
}

static void test_a_shifted_meter_is_told_by_its_chart_alone(void **state) {
  (void)state;
  maker *k = maker_new();
  const tenter_review *r = make_calm(k, &(calm_shop){.meter_shift = -0.9});
  assert_true(new_signals(r, TENTER_STREAM_SHIFT, "M-2") >= 2);
  assert_int_equal(new_signals(r, TENTER_STREAM_SHIFT, "M-1"), 0);
  assert_true(new_signals(r, TENTER_STREAM_MESH, NULL) + new_signals(r, TENTER_STREAM_LOT, NULL) <=
              1);
  maker_free(k);
}

static void test_a_lot_that_falls_is_named_with_its_screens_and_rows(void **state) {
  (void)state;
  maker *k = maker_new();
  const tenter_review *r = make_calm(k, &(calm_shop){.lot_shift = -1.2});
  assert_true(new_signals(r, TENTER_STREAM_LOT, "L-1") >= 1);
  assert_int_equal(new_signals(r, TENTER_STREAM_LOT, "L-3"), 0);
  size_t named = 0;
  for (size_t i = 0; i < r->screen_count; i++) {
    const tenter_reason *reason = maker_reason(&r->screens[i], TENTER_REASON_CHART_SIGNAL);
    if (!reason)
      continue;
    named++;
    assert_int_equal(reason->action, TENTER_ACTION_REREAD);
    assert_true(r->screens[i].action >= TENTER_ACTION_REREAD);
    assert_non_null(strstr(reason->text, "control chart"));
    assert_true(reason->source_count > 0);
  }
  assert_int_equal(named, r->charts.alarms.seen_screens);
  assert_true(named >= 3);
  maker_free(k);
}

/* Programs get points; pages, and the reasons on them, the shop's own decimal mark. */
static void test_signals_speak_in_the_readers_form(void **state) {
  (void)state;
  maker *k = maker_new();
  k->config.settings.report_mark = TENTER_MARK_COMMA;
  const tenter_review *r = make_calm(k, &(calm_shop){.lot_shift = -1.2});
  size_t seen = 0;
  for (size_t c = 0; c < r->charts.count; c++)
    for (size_t i = 0; i < r->charts.charts[c].signal_count; i++, seen++) {
      const tenter_chart_signal *signal = &r->charts.charts[c].signals[i];
      char marked[512];
      snprintf(marked, sizeof marked, "%s", signal->text);
      for (char *at = marked; *at; at++) /* a digit, a point, a digit */
        if (*at == '.' && at > marked && isdigit((unsigned char)at[-1]) &&
            isdigit((unsigned char)at[1]))
          *at = ',';
      assert_string_not_equal(marked, signal->text);
      assert_string_equal(marked, signal->shown);
    }
  assert_true(seen > 0);
  for (size_t i = 0; i < r->screen_count; i++) {
    const tenter_reason *reason = maker_reason(&r->screens[i], TENTER_REASON_CHART_SIGNAL);
    if (reason)
      assert_string_not_equal(reason->words, reason->text);
  }
  maker_free(k);
}

/* The counts of the week and of the summary know of it. */
static void test_actions_are_counted_with_the_signals(void **state) {
  (void)state;
  maker *k = maker_new();
  const tenter_review *r = make_calm(k, &(calm_shop){.lot_shift = -1.2});
  size_t counts[TENTER_ACTION_COUNT] = {0};
  for (size_t i = 0; i < r->screen_count; i++)
    counts[r->screens[i].action]++;
  for (size_t a = 0; a < TENTER_ACTION_COUNT; a++) {
    assert_int_equal(counts[a], r->actions[a]);
    assert_int_equal(counts[a], r->weeks[r->week_count - 1].actions[a]);
  }
  maker_free(k);
}

/* ---- run length ----------------------------------------------------------------------------- */

/* Mean run length of a chart with known limits whose points lie one sd off, by the program's own
 * walk along the points, against the run length that theory gives for its rule or its average. */
static double mean_run_length(const chart_scheme *scheme, tenter_stream stream) {
  enum { RUNS = 2000, POINTS = 300 };
  maker *k = maker_new();
  tenter_chart_point *points = calloc(POINTS, sizeof *points);
  tenter_control_options how =
      TENTER_CONTROL_DEFAULTS(TENTER_CONTROL_INDIVIDUALS, TENTER_SPREAD_RANGE);
  tenter_review_chart chart = {.stream = stream,
                               .limits = tenter_control_known(&how, 20, 0.5, NAN),
                               .points = points,
                               .point_count = POINTS};
  double sum = 0;
  for (size_t run = 0; run < RUNS; run++) {
    for (size_t i = 0; i < POINTS; i++)
      points[i].value = 20.5 + 0.5 * maker_normal(k);
    judge__chart_points(&chart, scheme);
    size_t i = 0;
    while (i < POINTS && !judge__signals(&points[i]))
      i++;
    sum += (double)(i + 1);
  }
  free(points);
  maker_free(k);
  return sum / RUNS;
}

static void test_a_shift_is_signalled_at_the_run_length_of_theory(void **state) {
  (void)state;
  tenter_error error;
  tenter_process shifted = {1, 1};
  double arl;
  tenter_scheme rules = {.kind = TENTER_SCHEME_RULES, .rules = TENTER_RULES_WESTERN_ELECTRIC};
  assert_int_equal(tenter_arl(&rules, shifted, &arl, &error), TENTER_OK);
  /* the sd of a run length is at most about its mean: 4 standard errors of 2000 runs are 9 % */
  chart_scheme by_rules = {.rules = TENTER_RULES_WESTERN_ELECTRIC};
  assert_close(mean_run_length(&by_rules, TENTER_STREAM_LEVEL), arl, 0.09, 0);
  tenter_scheme average = {
      .kind = TENTER_SCHEME_EWMA, .lambda = 0.2, .width = 2.962, .exact = true};
  assert_int_equal(tenter_arl(&average, shifted, &arl, &error), TENTER_OK);
  chart_scheme by_average = {.weight = 0.2, .width = 2.962};
  assert_close(mean_run_length(&by_average, TENTER_STREAM_LEVEL), arl, 0.09, 0);
}

/* ---- kept limits ---------------------------------------------------------------------------- */

static void test_kept_limits_judge_or_are_refused(void **state) {
  (void)state;
  maker *k = maker_new();
  make_calm(k, &(calm_shop){0});
  tenter_error error;
  tenter_control_options how =
      TENTER_CONTROL_DEFAULTS(TENTER_CONTROL_INDIVIDUALS, TENTER_SPREAD_RANGE);
  tenter_chart_limits kept = {.stream = TENTER_STREAM_LEVEL,
                              .mesh = "77-48",
                              .key = "ST-1",
                              .limits = tenter_control_known(&how, 40, 0.1, NAN),
                              .within = NAN,
                              .between = NAN,
                              .from = maker_time(0),
                              .to = maker_time(1)};
  size_t before = k->review->actions[TENTER_ACTION_REREAD];
  assert_int_equal(tenter_review_chart_by(k->review, &kept, 1, &error), TENTER_OK);
  assert_int_equal(k->review->charts.kept_used, 1);
  assert_int_equal(k->review->actions[TENTER_ACTION_REREAD], before);
  for (size_t c = 0; c < k->review->charts.count; c++)
    if (k->review->charts.charts[c].basis == TENTER_BASIS_KEPT) /* all lie 160 sd below */
      assert_int_equal(k->review->charts.charts[c].signal_count,
                       k->review->charts.charts[c].point_count);
  kept.key = "ST-9";
  assert_int_equal(tenter_review_chart_by(k->review, &kept, 1, &error), TENTER_INPUT);
  assert_non_null(strstr(error.message, "another shop"));
  kept.key = "ST-1";
  kept.to = maker_time(CALM_LAST_HOURS + 1);
  assert_int_equal(tenter_review_chart_by(k->review, &kept, 1, &error), TENTER_INPUT);
  assert_non_null(strstr(error.message, "later than"));
  maker_free(k);
}

/* ---- odd settings and small shops ----------------------------------------------------------- */

static void test_an_unknown_rule_is_an_error(void **state) {
  (void)state;
  maker *k = maker_new();
  k->config.settings.chart_rules = "beyond nine_one_sided";
  maker_screen(k, "S-1", &(screen_made){.mesh = "77-48", .target = 24, .stretched = 1});
  maker_session(k, "S-1", 40, "M-1", 24, 0.3);
  tenter_error error;
  assert_int_equal(tenter_tables_settle(k->tables, &k->config.settings, NULL, &error), TENTER_OK);
  assert_int_equal(tenter_shop_new(k->tables, &k->config, maker_time(60), NULL, &k->shop, &error),
                   TENTER_OK);
  assert_int_equal(tenter_review_new(k->shop, true, NULL, &k->review, &error), TENTER_USAGE);
  assert_non_null(strstr(error.message, "nine_one_sided"));
  maker_free(k);
}

static void test_a_young_shop_has_no_charts_and_expects_no_alarms(void **state) {
  (void)state;
  maker *k = maker_new();
  maker_screen(k, "S-1", &(screen_made){.mesh = "77-48", .target = 24, .stretched = 1});
  maker_session(k, "S-1", 40, "M-1", 24, 0.3);
  maker_session(k, "S-1", 200, "M-1", 23, 0.3);
  const tenter_review *r = maker_judge_at(k, 210, true);
  assert_int_equal(r->charts.count, 0);
  assert_close(r->expected_false_alarms, 0, 0, 0);
  assert_true(r->charts.too_few > 0);
  maker_free(k);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_calm_shops_signal_as_announced),
      cmocka_unit_test(test_the_usual_width_is_the_designed_one),
      cmocka_unit_test(test_errors_are_as_wide_as_forecast),
      cmocka_unit_test(test_variances_of_a_chart),
      cmocka_unit_test(test_trend_of_the_weeks),
      cmocka_unit_test(test_a_tilted_station_is_named),
      cmocka_unit_test(test_a_shifted_meter_is_told_by_its_chart_alone),
      cmocka_unit_test(test_a_lot_that_falls_is_named_with_its_screens_and_rows),
      cmocka_unit_test(test_signals_speak_in_the_readers_form),
      cmocka_unit_test(test_actions_are_counted_with_the_signals),
      cmocka_unit_test(test_a_shift_is_signalled_at_the_run_length_of_theory),
      cmocka_unit_test(test_kept_limits_judge_or_are_refused),
      cmocka_unit_test(test_an_unknown_rule_is_an_error),
      cmocka_unit_test(test_a_young_shop_has_no_charts_and_expects_no_alarms),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
