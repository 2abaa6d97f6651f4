/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The plan of weeks and the value of a reading, against every plan there is and against sums over
 * every reading there may be, in shops of eight screens. */
#include "make_shop.h"
#include "tenter/stats/crossing.h"
#include "tenter/stats/nested.h"

enum { SCREENS = 8, WEEKS = 9 };

/* Eight screens of one mesh whose floors are reached at various times; chosen by seed. */
static maker *shop(uint64_t seed, double stretches, double sessions) {
  maker *k = maker_new();
  k->config.settings.levelling_decades = 6; /* lines by hand are those of the log law */
  k->random = seed;
  k->config.settings.scale = TENTER_SCALE_TENSION;
  k->config.settings.stretches_per_week = stretches;
  k->config.settings.sessions_per_week = sessions;
  for (int i = 0; i < SCREENS; i++) {
    char name[16], lot[16];
    snprintf(name, sizeof name, "S-%d", i + 1);
    snprintf(lot, sizeof lot, "L%d", i % 3);
    double own = 25 + 0.5 * maker_normal(k), start = 1 + 24 * 10 * maker_uniform(k);
    double ahead = 30 + pow(10, 0.3 + 1.5 * maker_uniform(k)); /* days of life, about */
    maker_screen(
        k, name,
        &(screen_made){
            .mesh = "120-34", .lot = lot, .floor = own - 1.25 * log10(ahead), .stretched = start});
    for (int s = 0; s < 4; s++)
      maker_session(k, name, start + 24 * pow(10, 0.1 + 0.35 * s + 0.05 * maker_uniform(k)), "M1",
                    own - 1.25 * (0.1 + 0.35 * s) + 0.1 * maker_normal(k), 0.2);
  }
  maker_judge(k, 24 * 30);
  return k;
}

/* ---- levelling ------------------------------------------------------------------------------ */

typedef struct plan_cost {
  int late, early; /* sums of squares of weeks */
} plan_cost;

static plan_cost cost_of(const int *due, const int *week, int count) {
  plan_cost c = {0, 0};
  for (int i = 0; i < count; i++) {
    int off = week[i] - due[i];
    *(off > 0 ? &c.late : &c.early) += off * off;
  }
  return c;
}

static bool better(plan_cost a, plan_cost b) {
  return a.late != b.late ? a.late < b.late : a.early < b.early;
}

/* The least cost of all plans with at most so many a week: screen by screen, every week. */
static void try_all(const int *due, int *week, int *used, int count, int at, int a_week,
                    plan_cost *best) {
  if (at == count) {
    plan_cost c = cost_of(due, week, count);
    if (better(c, *best))
      *best = c;
    return;
  }
  for (int w = 0; w < WEEKS; w++) {
    if (used[w] == a_week)
      continue;
    used[w]++;
    week[at] = w;
    if (!better(*best, cost_of(due, week, at + 1))) /* what is placed costs too much already */
      try_all(due, week, used, count, at + 1, a_week, best);
    used[w]--;
  }
}

typedef struct turns {
  int due[SCREENS], week[SCREENS], count;
  const tenter_review_screen *screen[SCREENS];
} turns;

static turns gather(const maker *k, bool readings) {
  turns t = {.count = 0};
  for (size_t i = 0; i < k->review->screen_count; i++) {
    const tenter_turn *turn = &k->review->screens[i].turn;
    int due = readings ? turn->read_due : turn->restretch_due;
    assert_int_equal(due < 0, (readings ? turn->read_week : turn->restretch_week) < 0);
    if (due < 0 || due >= WEEKS)
      continue;
    t.screen[t.count] = &k->review->screens[i];
    t.due[t.count] = due;
    t.week[t.count++] = readings ? turn->read_week : turn->restretch_week;
  }
  return t;
}

static void compare(const turns *t, int a_week) {
  int week[SCREENS], used[WEEKS] = {0}, ours[WEEKS] = {0};
  plan_cost best = {1 << 20, 1 << 20}, mine = cost_of(t->due, t->week, t->count);
  try_all(t->due, week, used, t->count, 0, a_week, &best);
  assert_int_equal(mine.late, best.late);
  assert_int_equal(mine.early, best.early);
  for (int i = 0; i < t->count; i++)
    assert_true(++ours[t->week[i]] <= a_week);
}

/* Of two that are due in the same week the one more at risk never comes later. */
static void compare_risks(const turns *t) {
  for (int i = 0; i < t->count; i++)
    for (int k = 0; k < t->count; k++) {
      const tenter_review_screen *a = t->screen[i], *b = t->screen[k];
      bool now = a->action >= TENTER_ACTION_RESTRETCH || b->action >= TENTER_ACTION_RESTRETCH;
      if (t->due[i] == t->due[k] && !now &&
          a->forecast.below_floor_at_horizon > b->forecast.below_floor_at_horizon)
        assert_true(t->week[i] <= t->week[k]);
    }
}

static void test_levelling(void **state) {
  (void)state;
  int levelled = 0;
  for (uint64_t seed = 1; seed <= 24; seed++)
    for (int a_week = 1; a_week <= 2; a_week++) {
      maker *k = shop(1000 * seed, a_week, a_week);
      turns t = gather(k, false);
      compare(&t, a_week);
      compare_risks(&t);
      for (int i = 0; i < t.count; i++)
        levelled += t.week[i] != t.due[i];
      t = gather(k, true);
      compare(&t, a_week);
      maker_free(k);
    }
  assert_true(levelled > 50); /* there was something to do */
}

/* Without a limit everything is done in its week; half a screen a week is one every other week. */
static void test_limits(void **state) {
  (void)state;
  maker *k = shop(42, 0, 0);
  turns t = gather(k, false);
  for (int i = 0; i < t.count; i++)
    assert_int_equal(t.week[i], t.due[i]);
  maker_free(k);
  k = shop(42, 0.5, 0);
  int used[64] = {0};
  for (size_t i = 0; i < k->review->screen_count; i++)
    if (k->review->screens[i].turn.restretch_week >= 0) {
      int week = k->review->screens[i].turn.restretch_week;
      assert_in_range(week, 0, 63);
      assert_int_equal(used[week]++, 0);
    }
  for (int w = 0; w < 63; w++)
    assert_true(used[w] + used[w + 1] <= 1 || w % 2 == 0);
  maker_free(k);
}

/* A screen is due in the last week that ends before its risk is reached, and re-stretched now where
 * its action says so. */
static void test_due(void **state) {
  (void)state;
  maker *k = shop(7, 0, 0);
  /* as_of is 30 days after Monday 2026-01-05T08:00, Wednesday 4 February 08:00 */
  assert_int_equal(k->review->plan_start, maker_time(-8 + 24 * 28));
  for (size_t i = 0; i < k->review->screen_count; i++) {
    const tenter_review_screen *s = &k->review->screens[i];
    tenter_time end =
        k->review->plan_start + (s->turn.restretch_due + 1) * (tenter_time)TENTER_WEEK;
    if (s->action >= TENTER_ACTION_RESTRETCH)
      assert_int_equal(s->turn.restretch_due, 0);
    else if (s->turn.due == TENTER_NO_TIME)
      assert_int_equal(s->turn.restretch_due, -1);
    else
      assert_true((s->turn.restretch_due == 0 || end <= s->turn.due) &&
                  end + TENTER_WEEK > s->turn.due);
  }
  maker_free(k);
}

/* ---- what a reading is worth ---------------------------------------------------------------- */

static int action_of(double now, double then, double risk) {
  return now >= 1 - risk ? 2 : then > risk ? 1 : 0;
}

/* The lines of a screen: those of the nodes, or one with their mean and covariance. */
typedef struct lines_of {
  tenter_line line[64];
  double weight[64];
  size_t count;
} lines_of;

static lines_of nodes_of(const maker *k, const tenter_review_screen *s) {
  lines_of l = {.count = k->review->node_count};
  for (size_t n = 0; n < l.count; n++) {
    l.line[n] = s->posterior.nodes[n];
    l.weight[n] = k->review->node_weight[n];
  }
  return l;
}

static lines_of as_one(const lines_of *l) {
  lines_of one = {.count = 1, .weight = {1}};
  tenter_line *m = &one.line[0];
  for (size_t n = 0; n < l->count; n++) {
    m->at_24h += l->weight[n] * l->line[n].at_24h;
    m->loss += l->weight[n] * l->line[n].loss;
  }
  for (size_t n = 0; n < l->count; n++) {
    double level = l->line[n].at_24h - m->at_24h, loss = l->line[n].loss - m->loss;
    m->var_at_24h += l->weight[n] * (l->line[n].var_at_24h + level * level);
    m->var_loss += l->weight[n] * (l->line[n].var_loss + loss * loss);
    m->cov += l->weight[n] * (l->line[n].cov + level * loss);
  }
  return one;
}

/* The mixture after a session of y at u, by Bayes' rule for each line and for the weights. Returns
 * the density of y. */
static double update(const lines_of *l, double u, double noise, double y,
                     tenter_crossing_line *out) {
  double total = 0, one = 1;
  for (size_t n = 0; n < l->count; n++) {
    const tenter_line *b = &l->line[n];
    tenter_nested_line line = {
        b->at_24h, -b->loss, {.level = b->var_at_24h, .slope = b->var_loss, .cross = -b->cov}};
    double off = y - (b->at_24h - b->loss * u);
    double v = b->var_at_24h - 2 * u * b->cov + u * u * b->var_loss + noise;
    tenter_nested_line_update(&line, noise, 1, &u, &y, &one);
    out[n] = (tenter_crossing_line){.weight =
                                        l->weight[n] * exp(-off * off / v / 2) / sqrt(2 * M_PI * v),
                                    .age_hours = 24 * pow(10, u),
                                    .level = line.level,
                                    .loss = -line.slope,
                                    .var_level = line.cov.level,
                                    .var_loss = line.cov.slope,
                                    .cov = -line.cov.cross};
    total += out[n].weight;
  }
  for (size_t n = 0; n < l->count; n++)
    out[n].weight /= total;
  return total;
}

/* By a sum over 1601 sessions there may be, 6 standard deviations each way. */
static double value_by_force(const maker *k, const tenter_review_screen *s, const lines_of *l) {
  tenter_crossing_line after[64];
  double u = log10(s->age_hours / 24), risk = k->config.settings.risk;
  double floor = k->shop->mountings[s->mounting].is.floor, noise = s->turn.session_variance;
  double sd = sqrt(s->forecast.now_se * s->forecast.now_se + noise), changed = 0, all = 0;
  int before = action_of(s->forecast.below_floor_now, s->forecast.below_floor_at_horizon, risk);
  for (int i = -800; i <= 800; i++) {
    double density = update(l, u, noise, s->forecast.now + sd * i * 6 / 800, after);
    double now = tenter_crossing_probability(after, l->count, floor, 0);
    double then =
        tenter_crossing_probability(after, l->count, floor, 24 * k->config.settings.horizon_days);
    changed += density * (action_of(now, then, risk) != before);
    all += density;
  }
  return changed / all;
}

/* What is said rests on one normal line with the mean and covariance of all nodes, which every
 * session there may be updates: equal but for the steps of the sum. With every node a line of its
 * own, weighed anew by each session, it is the same within 3 in 100. */
static void test_value(void **state) {
  (void)state;
  int between = 0;
  for (uint64_t seed = 1; seed <= 12; seed++) {
    maker *k = shop(777 * seed, 0, 0);
    for (size_t i = 0; i < k->review->screen_count; i++) {
      const tenter_review_screen *s = &k->review->screens[i];
      lines_of nodes = nodes_of(k, s), one = as_one(&nodes);
      double force = value_by_force(k, s, &one);
      assert_close(s->turn.value, force, 0, 0.004);
      assert_close(s->turn.value, value_by_force(k, s, &nodes), 0, 0.03);
      between += force > 0.05 && force < 0.95;
    }
    maker_free(k);
  }
  assert_true(between > 10); /* there were screens about which a reading decides */
}

/* The noise of a session: ten readings of sd 0.2 (the shop's own) and what a session adds. */
static void test_session_variance(void **state) {
  (void)state;
  maker *k = shop(5, 0, 0);
  for (size_t i = 0; i < k->review->screen_count; i++)
    assert_close(sqrt(k->review->screens[i].turn.session_variance),
                 sqrt(0.1 * 0.1 + 0.2 * 0.2 / 10), 0.4, 0);
  maker_free(k);
}

/* What a reading may change is read this week, and first; a screen that is re-stretched before it
 * must be read is not read. */
static void test_what_to_read(void **state) {
  (void)state;
  int worth = 0;
  for (uint64_t seed = 1; seed <= 8; seed++) {
    maker *k = shop(31 * seed, 0, 1);
    const tenter_review_screen *first = NULL;
    double most = 0;
    for (size_t i = 0; i < k->review->screen_count; i++) {
      const tenter_review_screen *s = &k->review->screens[i];
      if (s->action >= TENTER_ACTION_RESTRETCH) {
        assert_int_equal(s->turn.read_due, -1);
        continue;
      }
      if (s->turn.value > 0.05)
        assert_int_equal(s->turn.read_due, 0);
      if (s->turn.read_week == 0)
        first = s;
      if (s->turn.read_due == 0)
        most = fmax(most, s->turn.value);
    }
    worth += most > 0.05;
    if (first && most > 0)
      assert_close(first->turn.value, most, 1e-12, 0);
    maker_free(k);
  }
  assert_true(worth > 3);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_levelling),
                                     cmocka_unit_test(test_limits),
                                     cmocka_unit_test(test_due),
                                     cmocka_unit_test(test_value),
                                     cmocka_unit_test(test_session_variance),
                                     cmocka_unit_test(test_what_to_read)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
