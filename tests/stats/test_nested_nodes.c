/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Integration over the variance components: against a brute-force grid with a closed-form
 * likelihood that shares no code with ours, and by simulation with known truth. */
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>

#include "nested_data.h"
#include "tenter/stats/nested_nodes.h"

#include "../../src/stats/nested_posterior.h"

/* ---- the reduction ---- */

static void test_reduction_keeps_sums(void **state) {
  enum { COUNT = 300, M = 20 };
  static double f[COUNT * M], weight[COUNT], work[M * (M + 1)];
  size_t index[M], left = 0;
  double before[M] = {0}, after[M] = {0};
  uint64_t seed = 5;
  (void)state;
  for (size_t i = 0; i < COUNT; i++) {
    weight[i] = i % 10 == 3 ? 0 : random_uniform(&seed);
    for (size_t k = 0; k < M; k++) {
      f[i * M + k] = k == 0 ? 1 : k == 7 ? f[i * M + 6] : random_normal(&seed); /* 7 repeats 6 */
      before[k] += weight[i] * f[i * M + k];
    }
  }
  nested_reduce(COUNT, M, f, weight, work, index);
  for (size_t i = 0; i < COUNT; i++) {
    assert_true(weight[i] >= 0);
    left += weight[i] > 0;
    for (size_t k = 0; k < M; k++)
      after[k] += weight[i] * f[i * M + k];
  }
  assert_true(left <= M - 1); /* the repeated function needs no point of its own */
  for (size_t k = 0; k < M; k++)
    assert_close(after[k], before[k], 1e-9, 1e-9);
}

/* ---- simulated shops ---- */

typedef struct truth {
  double level[3], slope[3]; /* a unit of two readings, a unit not seen, a group not seen */
} truth;

/* A pair with given standard deviations and correlation. */
static void random_pair(uint64_t *seed, double level, double slope, double rho, double out[2]) {
  double a = random_normal(seed), b = random_normal(seed);
  out[0] = level * a;
  out[1] = slope * (rho * a + sqrt(1 - rho * rho) * b);
}

/* groups x 4 units with 1 to 7 readings; group 0's first unit has two, its fifth none, and the last
 * group only a true line. */
static void simulate(nested_data *d, size_t groups, uint64_t *seed, truth *t) {
  *d = (nested_data){.terms = 2};
  for (size_t g = 0; g <= groups; g++) {
    double group[2], unit[2];
    random_pair(seed, 0.6, 0.25, -0.3, group);
    for (size_t k = 0; k < 5; k++) {
      random_pair(seed, 0.5, 0.2, 0.3, unit);
      double level = 20 + group[0] + unit[0], slope = -1.5 + group[1] + unit[1];
      size_t which = g == groups ? 2 : k == 4 ? 1 : 0;
      if ((g == 0 && (k == 0 || k == 4)) || (g == groups && k == 0)) {
        t->level[which] = level;
        t->slope[which] = slope;
      }
      size_t rows = g == 0 && k == 0 ? 2 : 1 + (size_t)(7 * random_uniform(seed));
      for (size_t j = 0; j < rows && g < groups && k < 4; j++) {
        size_t i = d->count++;
        assert_true(i < DATA_ROWS);
        d->group[i] = g;
        d->unit[i] = 4 * g + k;
        d->u[i] = -1 + 3 * random_uniform(seed);
        d->w[i] = 1;
        d->y[i] = level + slope * d->u[i] + 0.3 * random_normal(seed);
      }
    }
  }
}

/* Mixtures of the three lines at u. */
typedef struct forecast {
  size_t count;
  double weight[64], mean[3][64], variance[3][64];
} forecast;

static void ask(const tenter_nested_products *p, const tenter_nested_nodes *nodes, double u,
                forecast *f) {
  f->count = nodes->count;
  for (size_t k = 0; k < nodes->count; k++) {
    tenter_nested_solution *s;
    tenter_nested_line line[3];
    assert_int_equal(tenter_nested_solve(p, &nodes->node[k].components, NULL, &s, NULL), TENTER_OK);
    assert_true(tenter_nested_unit_line(s, 0, NULL, &line[0]));
    assert_true(tenter_nested_new_unit_line(s, 0, NULL, &line[1]));
    assert_true(tenter_nested_new_group_line(s, 0, NULL, &line[2]));
    f->weight[k] = nodes->node[k].weight;
    for (size_t w = 0; w < 3; w++) {
      const tenter_nested_cov *c = &line[w].cov;
      f->mean[w][k] = line[w].level + u * line[w].slope;
      f->variance[w][k] = c->level + 2 * u * c->cross + u * u * c->slope;
    }
    tenter_nested_solution_free(s);
  }
}

static bool covered(const forecast *f, size_t which, double value) {
  double low =
      tenter_nested_mixture_quantile(f->count, f->weight, f->mean[which], f->variance[which], 0.05);
  double high =
      tenter_nested_mixture_quantile(f->count, f->weight, f->mean[which], f->variance[which], 0.95);
  return low <= value && value <= high;
}

/* 90 % intervals of the true line at u = 2.5, outside the readings' span of u, in so many simulated
 * shops. The band is 3 standard errors of a binomial proportion of 0.9: 0.9 +- 0.052 with 300
 * shops, 0.073 with 150; for all three kinds together 0.030, 0.042. From 3 and 6 groups the prior
 * makes intervals for a group not seen too wide, not too short: there the upper end is let go.
 * (4000 shops each, run once: 0.896, 0.890, 0.942 with 3 groups, 0.890, 0.898, 0.937 with 6; with
 * the components plugged in as known 0.752, 0.797, 0.831 and 0.819, 0.849, 0.870.) */
static void check_coverage(size_t groups, size_t shops) {
  static nested_data d;
  uint64_t seed = 1000 + groups;
  size_t hits[3] = {0};
  tenter_nested_options options = {.group_max = TENTER_NESTED_LINE, .unit_max = TENTER_NESTED_LINE};
  for (size_t shop = 0; shop < shops; shop++) {
    truth t;
    tenter_nested_nodes nodes;
    forecast f;
    simulate(&d, groups, &seed, &t);
    tenter_nested_products *p = data_products(&d, 0, d.count);
    assert_int_equal(tenter_nested_nodes_run(p, &options, NULL, &nodes, NULL), TENTER_OK);
    assert_true(nodes.effective > 60);
    ask(p, &nodes, 2.5, &f);
    for (size_t w = 0; w < 3; w++)
      hits[w] += covered(&f, w, t.level[w] + 2.5 * t.slope[w]);
    tenter_nested_nodes_release(&nodes);
    tenter_nested_products_free(p);
  }
  double band = 3 * sqrt(0.9 * 0.1 / (double)shops);
  double share[3], all = (double)(hits[0] + hits[1] + hits[2]) / (3.0 * (double)shops);
  for (size_t w = 0; w < 3; w++)
    share[w] = (double)hits[w] / (double)shops;
  printf("%2zu groups: unit with 2 readings %.3f, new unit %.3f, new group %.3f; all %.3f\n",
         groups, share[0], share[1], share[2], all);
  for (size_t w = 0; w < 3; w++)
    assert_true(share[w] > 0.9 - band && (share[w] < 0.9 + band || (w == 2 && groups <= 6)));
  band /= sqrt(3);
  assert_true(all > 0.9 - band && (all < 0.9 + band || groups <= 6));
}

static void test_coverage(void **state) {
  const size_t groups[4] = {3, 6, 12, 40};
  (void)state;
  for (size_t k = 0; k < 4; k++)
    check_coverage(groups[k], groups[k] > 6 ? 150 : 300);
}

/* ---- gradient ---- */

static void test_gradient(void **state) {
  static nested_data d;
  const double x[7] = {-0.4, -1.2, 0.3, -0.9, -1.4, -0.5, -1.1}, h = 1e-5;
  uint64_t seed = 77;
  truth t;
  nested_plan *plan;
  (void)state;
  simulate(&d, 6, &seed, &t);
  tenter_nested_products *p = data_products(&d, 0, d.count);
  nested_posterior post = {.prior = {1, 0.5, 0.7, 0.3, 4, 2, 3, 0.2, 0.8, 1.3},
                           .terms = {TENTER_NESTED_LINE, TENTER_NESTED_LINE},
                           .first = {0, 3},
                           .n = 7};
  assert_int_equal(nested_plan_new(p, true, &plan, NULL), TENTER_OK);
  assert_int_equal(nested_state_new(plan, NULL, &post.state, NULL), TENTER_OK);
  assert_true(nested_score_room(post.state));
  double gradient[7];
  nested_log_posterior_gradient(&post, x, gradient);
  for (size_t k = 0; k < 7; k++) {
    double up[7], down[7];
    memcpy(up, x, sizeof x), memcpy(down, x, sizeof x);
    up[k] += h, down[k] -= h;
    double slope = (nested_log_posterior(&post, up) - nested_log_posterior(&post, down)) / (2 * h);
    assert_close(gradient[k], slope, 1e-6, 1e-6);
  }
  nested_state_free(post.state);
  nested_plan_free(plan);
  tenter_nested_products_free(p);
}

/* ---- the grid ---- */

/* Balanced one-way data, k units of n: with SSW within and SSB = n sum (mean_i - mean)^2 between,
 * the restricted likelihood is (closed form, e.g. Searle, Casella, McCulloch 1992, Variance
 * Components, section 3.8)
 *   sigma^-(k(n-1)) exp(-SSW / 2 sigma^2) (sigma^2 + n tau^2)^(-(k-1)/2) exp(-SSB / 2(sigma^2 + n
 * tau^2)). */
typedef struct oneway {
  double k, n, within, between, mean;
  double power; /* of tau, beside the half-t of its prior */
} oneway;

static double grid_log_density(const oneway *w, double log_tau, double log_sigma, double scale) {
  double s2 = exp(2 * log_sigma), lambda = s2 + w->n * exp(2 * log_tau);
  double r = exp(log_tau) / scale;
  return -w->k * (w->n - 1) * log_sigma - w->within / (2 * s2) - (w->k - 1) / 2 * log(lambda) -
         w->between / (2 * lambda) - 2.5 * log1p(r * r / 4) +
         (1 + w->power) * log_tau; /* half-t, df 4 */
}

enum { GRID = 200 };

/* Mixture over the grid of what is predicted for a new unit: N(mean, tau^2 + lambda / (k n)). */
static double grid_quantile(const oneway *w, double scale, double q) {
  static double weight[GRID * GRID], mean[GRID * GRID], variance[GRID * GRID];
  double sum = 0, best = -INFINITY, sd = sqrt(w->within / (w->k * (w->n - 1)));
  for (size_t i = 0; i < GRID; i++)
    for (size_t j = 0; j < GRID; j++) {
      double log_tau = log(sd) - 8 + 12 * (double)i / GRID;
      double log_sigma = log(sd) - 1 + 2 * (double)j / GRID;
      double lambda = exp(2 * log_sigma) + w->n * exp(2 * log_tau);
      size_t at = i * GRID + j;
      weight[at] = grid_log_density(w, log_tau, log_sigma, scale);
      mean[at] = w->mean;
      variance[at] = exp(2 * log_tau) + lambda / (w->k * w->n);
      best = fmax(best, weight[at]);
    }
  for (size_t at = 0; at < GRID * GRID; at++)
    sum += weight[at] = exp(weight[at] - best);
  for (size_t at = 0; at < GRID * GRID; at++)
    weight[at] /= sum;
  return tenter_nested_mixture_quantile(GRID * GRID, weight, mean, variance, q);
}

static tenter_nested_products *oneway_data(double effect, oneway *w) {
  static nested_data d;
  uint64_t seed = 31;
  d = (nested_data){.terms = 1};
  *w = (oneway){.k = 6, .n = 5};
  double means[6] = {0};
  for (size_t i = 0; i < 30; i++) {
    size_t unit = d.count++ / 5;
    d.unit[i] = unit;
    d.w[i] = 1;
    d.y[i] = 50 + effect * (double)unit + random_normal(&seed);
    means[unit] += d.y[i] / 5;
    w->mean += d.y[i] / 30;
  }
  for (size_t i = 0; i < 30; i++) {
    w->within += pow(d.y[i] - means[d.unit[i]], 2);
    w->between += pow(means[d.unit[i]] - w->mean, 2);
  }
  return data_products(&d, 0, d.count);
}

static void check_grid(double effect, double power) {
  oneway w;
  tenter_nested_products *p = oneway_data(effect, &w);
  tenter_nested_options options = {.unit_max = TENTER_NESTED_LEVEL};
  tenter_nested_prior prior = {.unit_level_scale = 1.5, .unit_level_power = power};
  w.power = power;
  tenter_nested_nodes nodes;
  forecast f;
  assert_int_equal(tenter_nested_nodes_run(p, &options, &prior, &nodes, NULL), TENTER_OK);
  ask(p, &nodes, 0, &f);
  double width = grid_quantile(&w, 1.5, 0.95) - grid_quantile(&w, 1.5, 0.05), sum = 0;
  for (size_t k = 0; k < nodes.count; k++)
    sum += nodes.node[k].weight;
  assert_close(sum, 1, 1e-12, 0);
  for (size_t k = 0; k < 5; k++) {
    const double q[5] = {0.025, 0.05, 0.25, 0.9, 0.95};
    double ours = tenter_nested_mixture_quantile(f.count, f.weight, f.mean[2], f.variance[2], q[k]);
    printf("effect %g, %zu nodes of %.0f: quantile %.3f: %.4f, grid %.4f\n", effect, nodes.count,
           nodes.effective, q[k], ours, grid_quantile(&w, 1.5, q[k]));
    assert_close(ours, grid_quantile(&w, 1.5, q[k]), 0, 0.02 * width);
  }
  tenter_nested_nodes_release(&nodes);
  tenter_nested_products_free(p);
}

/* Units that differ, and units that don't (the fit's variance is zero). */
static void test_grid(void **state) {
  (void)state;
  check_grid(0.8, 0);
  check_grid(0, 0);
  check_grid(0, 1);
}

/* ---- levels that the data can't tell ---- */

static void test_one_group_keeps_prior(void **state) {
  static nested_data d;
  uint64_t seed = 9;
  truth t;
  forecast f;
  tenter_nested_nodes nodes;
  tenter_nested_options options = {.group_max = TENTER_NESTED_LINE, .unit_max = TENTER_NESTED_LINE};
  (void)state;
  simulate(&d, 1, &seed, &t);
  tenter_nested_products *p = data_products(&d, 0, d.count);
  assert_int_equal(tenter_nested_nodes_run(p, &options, NULL, &nodes, NULL), TENTER_OK);
  ask(p, &nodes, 0, &f);
  double unit = tenter_nested_mixture_quantile(f.count, f.weight, f.mean[1], f.variance[1], 0.95);
  double group = tenter_nested_mixture_quantile(f.count, f.weight, f.mean[2], f.variance[2], 0.95);
  assert_true(group > unit + 0.1);
  double low =
      0; /* the group's spread is the prior's: median of a half-t with 4 df, 0.741 scales */
  for (size_t k = 0; k < nodes.count; k++)
    if (sqrt(nodes.node[k].components.group.level) < 0.741 * nodes.prior.group_level_scale)
      low += nodes.node[k].weight;
  assert_close(low, 0.5, 0, 0.15);
  tenter_nested_nodes_release(&nodes);
  tenter_nested_products_free(p);
}

static void test_nothing_to_estimate_from(void **state) {
  const double u[2] = {0, 1}, y[2] = {20, 19};
  tenter_nested_products *p;
  tenter_nested_nodes nodes;
  tenter_error error;
  tenter_nested_options options = {.group_max = TENTER_NESTED_LINE, .unit_max = TENTER_NESTED_LINE};
  tenter_nested_prior prior = {.group_level_scale = 0.5,
                               .group_slope_scale = 0.3,
                               .unit_level_scale = 0.5,
                               .unit_slope_scale = 0.3,
                               .residual_df = 5,
                               .residual_variance = 0.04};
  (void)state;
  assert_int_equal(tenter_nested_products_new(2, 0, &p, NULL), TENTER_OK);
  assert_int_equal(tenter_nested_group_add(p, 0, 0, NULL), TENTER_OK);
  assert_int_equal(tenter_nested_unit_add(p, 0, 2, u, y, NULL, NULL, NULL), TENTER_OK);
  assert_int_equal(tenter_nested_nodes_run(p, &options, NULL, &nodes, &error), TENTER_INPUT);
  assert_int_equal(tenter_nested_nodes_run(p, &options, &prior, &nodes, &error), TENTER_OK);
  double s2 = 0;
  for (size_t k = 0; k < nodes.count; k++)
    s2 += nodes.node[k].weight * nodes.node[k].components.residual;
  assert_close(s2, 0.04 * 5 / 3, 0.15, 0); /* mean of a scaled inverse chi-square */
  tenter_nested_nodes_release(&nodes);
  tenter_nested_products_free(p);
}

static void test_quantile(void **state) {
  const double one[1] = {1}, mean[1] = {3}, variance[1] = {4};
  const double weight[2] = {0.5, 0.5}, means[2] = {0, 10}, nil[2] = {0, 0};
  (void)state;
  assert_close(tenter_nested_mixture_quantile(1, one, mean, variance, 0.975),
               3 + 2 * 1.959963984540054, 1e-9, 0); /* NIST normal table */
  assert_close(tenter_nested_mixture_quantile(2, weight, means, nil, 0.9), 10, 1e-8, 0);
  const double middle[2] = {0, 1}, wide[2] = {1, 9};
  double x = tenter_nested_mixture_quantile(2, weight, middle, wide, 0.95);
  assert_close(gsl_cdf_ugaussian_P(x) / 2 + gsl_cdf_ugaussian_P((x - 1) / 3) / 2, 0.95, 1e-9, 0);
  assert_true(isnan(tenter_nested_mixture_quantile(0, NULL, NULL, NULL, 0.5)));
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_reduction_keeps_sums),
      cmocka_unit_test(test_gradient),
      cmocka_unit_test(test_grid),
      cmocka_unit_test(test_one_group_keeps_prior),
      cmocka_unit_test(test_nothing_to_estimate_from),
      cmocka_unit_test(test_quantile),
      cmocka_unit_test(test_coverage),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
