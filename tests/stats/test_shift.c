/* SPDX-License-Identifier: GPL-3.0-or-later */
/* tenter_shift_find on rows whose answer can be worked out by hand, and on what must not fool it.
 */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>
#include <gsl/gsl_errno.h>

#include "close.h"
#include "tenter/stats/shift.h"

enum { UNITS = 40, ROWS = 4, ALL = UNITS * ROWS, BINS = 8 };

typedef struct made {
  tenter_shift_data d;
  uint32_t first[UNITS + 1];
  uint16_t group[UNITS];
  double u[ALL], y[ALL], variance[ALL], edge[BINS + 1];
  uint8_t source[2][ALL], bin[ALL];
  double error[BINS], gauge_variance[BINS];
  uint8_t gauge_source[BINS], gauge_bin[BINS];
  uint16_t gauge_group[BINS];
} made;

/* Every unit is read in four bins one after the other, from bin unit % 5 on, with two meters and
 * two people by turns that are not each other's; noise is a pattern of +-1 that adds up to zero. */
static void make(made *m) {
  memset(m, 0, sizeof *m);
  for (int b = 0; b <= BINS; b++)
    m->edge[b] = 7 * b - 7 * BINS;
  for (uint32_t unit = 0; unit < UNITS; unit++) {
    m->first[unit + 1] = (unit + 1) * ROWS;
    for (uint32_t r = 0; r < ROWS; r++) {
      uint32_t i = unit * ROWS + r;
      m->bin[i] = (uint8_t)(unit % 5 + r);
      m->u[i] = 0.1 * r;
      m->variance[i] = 0.04;
      m->source[0][i] = (uint8_t)((unit / 5 + r) % 2);
      m->source[1][i] = (uint8_t)((unit / 10 + r / 2) % 2);
      m->y[i] = 20 + 0.1 * unit - m->u[i] + 0.15 * ((r * 7 + unit * 3) % 4 < 2 ? 1 : -1);
    }
  }
  m->d = (tenter_shift_data){.units = UNITS,
                             .first = m->first,
                             .group = m->group,
                             .groups = 1,
                             .slope_sd = 0.3,
                             .u = m->u,
                             .y = m->y,
                             .variance = m->variance,
                             .source = {m->source[0], m->source[1]},
                             .bin = m->bin,
                             .sources = {3, 3},
                             .scanned = {2, 2},
                             .bins = BINS,
                             .edge = m->edge,
                             .gauge_source = m->gauge_source,
                             .gauge_bin = m->gauge_bin,
                             .gauge_group = m->gauge_group,
                             .gauge_error = m->error,
                             .gauge_variance = m->gauge_variance,
                             .limit = 16,
                             .least = 0.3};
}

static void add_step(made *m, int kind, uint8_t source, uint8_t from, double size) {
  for (size_t i = 0; i < ALL; i++)
    if (m->bin[i] >= from && (kind == 2 || m->source[kind][i] == source))
      m->y[i] += size;
}

static void find(made *m, tenter_shift_fit *fit) {
  tenter_error error = {0};
  assert_int_equal(tenter_shift_find(&m->d, fit, &error), TENTER_OK);
}

static void test_calm(void **state) {
  (void)state;
  made m;
  tenter_shift_fit fit;
  make(&m);
  find(&m, &fit);
  assert_int_equal(fit.shifts, 0);
  assert_close(fit.level[0] + fit.level[1], 0, 0, 1e-9); /* about their mean */
}

static void test_each_source(void **state) {
  (void)state;
  for (int kind = 0; kind < 3; kind++) {
    made m;
    tenter_shift_fit fit;
    make(&m);
    add_step(&m, kind, 1, 5, -0.6);
    find(&m, &fit);
    assert_int_equal(fit.shifts, 1);
    assert_int_equal(fit.shift[0].who.kind, kind);
    assert_int_equal(fit.shift[0].who.source, kind < 2);
    assert_int_equal(fit.shift[0].bin, 5);
    assert_int_equal(fit.shift[0].shape, TENTER_SHIFT_STEP);
    assert_close(fit.shift[0].size, -0.6, 0, 0.15);
    assert_int_equal(fit.shift[0].others, 0);
    assert_false(fit.shift[0].gauged);
  }
}

/* Units of two rows at u = 0, one before and one after, all with one meter: each tells the step as
 * the difference of its rows, with variance 2 * 0.04. The best estimate is the mean of 40
 * differences, se sqrt(2 * 0.04 / 40) times sigma; the beliefs about constants don't enter a
 * difference. */
static void test_size_by_hand(void **state) {
  (void)state;
  made m;
  tenter_shift_fit fit;
  double mean = 0;
  make(&m);
  for (uint32_t i = 0; i < 2 * UNITS; i++) {
    m.first[i / 2 + 1] = 2 * (i / 2 + 1);
    m.u[i] = 0;
    m.bin[i] = i % 2 ? 6 : 2;
    m.source[0][i] = m.source[1][i] = 0;
    m.y[i] = 20 + i / 2 - (i % 2 ? 0.7 : 0) + 0.02 * ((i * 5) % 7) - 0.06;
    mean += (i % 2 ? m.y[i] : -m.y[i]) / UNITS;
  }
  find(&m, &fit);
  assert_int_equal(fit.shifts, 1);
  assert_close(fit.shift[0].size, mean, 1e-7, 0);
  assert_close(fit.shift[0].se, sqrt(2 * 0.04 / UNITS * fit.dispersion) * fit.scale, 1e-4, 0);
  assert_int_equal(fit.shift[0].others, 2); /* who reads, and all readings: the same rows */
  assert_int_equal(fit.shift[0].other[0].kind, TENTER_SHIFT_SECOND);
  assert_int_equal(fit.shift[0].other[1].kind, TENTER_SHIFT_ALL);
}

/* Readings that scatter more than their weights say make the error greater as sigma grows: the same
 * design, seen twice. */
static void test_noise_counts(void **state) {
  (void)state;
  double se[2], sigma[2];
  for (int wild = 0; wild < 2; wild++) {
    made m;
    tenter_shift_fit fit;
    make(&m);
    add_step(&m, 0, 1, 5, -3);
    for (uint32_t i = 0; wild && i < m.first[UNITS]; i++)
      m.y[i] += 0.3 * ((i * 7) % 5) - 0.6;
    find(&m, &fit);
    assert_int_equal(fit.shifts, 1);
    se[wild] = fit.shift[0].se;
    sigma[wild] = fit.scale * sqrt(fit.dispersion);
  }
  assert_true(sigma[1] > 1.5 * sigma[0]);
  assert_close(se[1] / se[0], sigma[1] / sigma[0], 1e-6, 0);
}

static void test_tied(void **state) {
  (void)state;
  made m;
  tenter_shift_fit fit;
  make(&m);
  memcpy(m.source[1], m.source[0], sizeof m.source[0]);
  add_step(&m, 0, 1, 5, -0.6);
  find(&m, &fit);
  assert_int_equal(fit.shifts, 1);
  assert_int_equal(fit.shift[0].who.kind, TENTER_SHIFT_FIRST);
  assert_int_equal(fit.shift[0].others, 1);
  assert_int_equal(fit.shift[0].other[0].kind, TENTER_SHIFT_SECOND);
  assert_int_equal(fit.shift[0].other[0].source, 1);
}

/* One plate a bin for meter 1; error[b] is what it shows. */
static void add_gauges(made *m, double from_5) {
  m->d.gauges = BINS;
  for (int b = 0; b < BINS; b++) {
    m->gauge_source[b] = 1;
    m->gauge_bin[b] = (uint8_t)b;
    m->gauge_variance[b] = 0.01;
    m->error[b] = (b >= 5 ? from_5 : 0) + (b % 2 ? 0.05 : -0.05);
  }
}

/* What always went together is told by a plate: that shows the change, or doesn't. */
static void test_plate_tells(void **state) {
  (void)state;
  for (int shown = 0; shown < 2; shown++) {
    made m;
    tenter_shift_fit fit;
    make(&m);
    memcpy(m.source[1], m.source[0], sizeof m.source[0]);
    add_step(&m, 0, 1, 5, -0.6);
    add_gauges(&m, shown ? -0.6 : 0);
    find(&m, &fit);
    assert_int_equal(fit.shifts, 1);
    assert_int_equal(fit.shift[0].who.kind, shown ? TENTER_SHIFT_FIRST : TENTER_SHIFT_SECOND);
    assert_int_equal(fit.shift[0].others, 0);
    assert_int_equal(fit.shift[0].gauged, shown);
  }
}

/* Wild rows, and a unit that fell alone, are nobody's shift. */
static void test_not_fooled(void **state) {
  (void)state;
  made m;
  tenter_shift_fit fit;
  make(&m);
  for (size_t i = 150; i < 158; i += 4)
    m.y[i] /= 10;
  m.y[38] -= 3; /* rows of one unit from its third reading on */
  m.y[39] -= 3;
  find(&m, &fit);
  assert_int_equal(fit.shifts, 0);
}

static void test_share(void **state) {
  (void)state;
  const double edge[] = {-30, -20, -10, 0};
  tenter_shift s = {.shape = TENTER_SHIFT_RAMP, .bin = 1};
  assert_close(tenter_shift_share(&s, edge, 3, -21), 0, 0, 0);
  assert_close(tenter_shift_share(&s, edge, 3, -15), 0.25, 1e-12, 0);
  assert_close(tenter_shift_share(&s, edge, 3, 5), 1, 1e-12, 0);
  s.shape = TENTER_SHIFT_SPELL;
  assert_close(tenter_shift_share(&s, edge, 3, -15), 1, 0, 0);
  assert_close(tenter_shift_share(&s, edge, 3, -9), 0, 0, 0);
}

static void test_too_little(void **state) {
  (void)state;
  made m;
  tenter_shift_fit fit;
  tenter_error error = {0};
  make(&m);
  m.d.units = 2;
  find(&m, &fit);
  assert_int_equal(fit.shifts, 0);
  m.d.bins = 1;
  assert_int_equal(tenter_shift_find(&m.d, &fit, &error), TENTER_USAGE);
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_calm),         cmocka_unit_test(test_each_source),
      cmocka_unit_test(test_size_by_hand), cmocka_unit_test(test_noise_counts),
      cmocka_unit_test(test_tied),         cmocka_unit_test(test_plate_tells),
      cmocka_unit_test(test_not_fooled),   cmocka_unit_test(test_share),
      cmocka_unit_test(test_too_little)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
