/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How screens are used as they age: what lines assume of printing, coating and reclaiming. The line
 * of a mesh or lot is taken where its mountings are on average, each column a line in u over all
 * fitted sessions, and how single mountings scatter about that is told as a scatter of slopes. The
 * line of a screen goes on from what has been done to it by what screens gain within the horizon on
 * average over all their lives. */
#include "population_inner.h"
#include "tenter/base/alloc.h"

/* Sums of u and of one column over sessions. */
typedef struct sums {
  double n, u, x, uu, ux;
} sums;

static void add(sums *s, double u, double x) {
  s->n++;
  s->u += u;
  s->x += x;
  s->uu += u * u;
  s->ux += u * x;
}

static double spread_u(const sums *s) {
  return s->n > 0 ? s->uu - s->u * s->u / s->n : 0;
}

static double slope_of(const sums *s) {
  double spread = spread_u(s);
  return spread > 1e-9 ? (s->ux - s->u * s->x / s->n) / spread : 0;
}

typedef struct usage {
  sums all[MOST_COLUMNS];
  double uu, cross[MOST_COLUMNS * MOST_COLUMNS]; /* sums of u^2; of products of columns */
  double stretches, gained[MOST_COLUMNS], product[MOST_COLUMNS * MOST_COLUMNS];
} usage;

static void add_mounting(usage *use, const design *d, size_t count, const double *u,
                         const double *x) {
  for (size_t c = 0; c < d->columns; c++)
    for (size_t i = 0; i < count; i++)
      add(&use->all[c], u[i], x[i * d->columns + c]);
  for (size_t i = 0; i < count; i++) {
    const double *row = x + i * d->columns;
    use->uu += u[i] * u[i];
    for (size_t c = 0; c < d->columns; c++)
      for (size_t k = 0; k < d->columns; k++)
        use->cross[c * d->columns + k] += row[c] * row[k];
  }
}

/* Meters are read as their mean; the product with u is exact. */
static void conclude(const usage *use, const design *d, use_rates *r) {
  double meters = 1, cycle = 0;
  for (size_t c = 0; c < d->columns; c++)
    meters += d->column[c] >= CAUSE_COUNT;
  for (size_t c = 0; c < d->columns; c++) {
    const sums *s = &use->all[c];
    if (d->column[c] == CAUSE_CYCLE)
      cycle = s->n > 0 ? s->x / s->n : 0;
    r->gain[c] = use->stretches > 0 ? use->gained[c] / use->stretches : 0;
    r->slope[c] = slope_of(s);
    r->level[c] = s->n > 0 ? (s->x - r->slope[c] * s->u) / s->n : 0;
    if (d->column[c] >= CAUSE_COUNT) {
      r->level[c] = 1 / meters;
      r->slope[c] = 0;
    } else if (d->column[c] == CAUSE_CYCLE || d->column[c] == CAUSE_CYCLE_LOSS) {
      r->slope[c] = d->column[c] == CAUSE_CYCLE ? 0 : cycle;
      r->level[c] = d->column[c] == CAUSE_CYCLE ? cycle : 0;
    }
  }
}

/* What is left of columns c and k about their lines, as slopes from u = 0; meters are no use. */
static double scatter_of(const usage *use, const design *d, const use_rates *r, size_t c,
                         size_t k) {
  const sums *a = &use->all[c], *b = &use->all[k];
  if (d->column[c] >= CAUSE_COUNT || d->column[k] >= CAUSE_COUNT || !(use->uu > 0))
    return 0;
  double left = use->cross[c * d->columns + k] - r->level[k] * a->x - r->slope[k] * a->ux -
                r->level[c] * b->x - r->slope[c] * b->ux + r->level[c] * r->level[k] * a->n +
                (r->level[c] * r->slope[k] + r->slope[c] * r->level[k]) * a->u +
                r->slope[c] * r->slope[k] * a->uu;
  return left / use->uu;
}

static void spread_of(const usage *use, const design *d, use_rates *r) {
  for (size_t c = 0; c < d->columns; c++)
    for (size_t k = 0; k < d->columns; k++) {
      r->scatter[c * d->columns + k] = scatter_of(use, d, r, c, k);
      r->spread[c * d->columns + k] =
          use->stretches > 0
              ? use->product[c * d->columns + k] / use->stretches - r->gain[c] * r->gain[k]
              : 0;
    }
}

tenter_status judge__use_rates(const judge *j, const population *p, const design *d,
                               use_rates *rates, tenter_error *error) {
  const struct population_inner *in = p->inner;
  size_t most = judge__most_sessions(j);
  usage use = {.stretches = 0};
  line_data data = {0};
  double *x = tenter_alloc(most * (d->columns + 1), sizeof *x);
  bool done = x && judge__data_room(&data, most);
  for (size_t i = 0; done && i < in->placed_count; i++) {
    const tenter_mounting *m = &j->shop->mountings[in->placed[i].mounting];
    size_t end = m->first_session + m->session_count;
    judge__data_gather(j, p, d->clock, m, end, &data);
    judge__cause_rows(j, d, m, end, x);
    add_mounting(&use, d, data.count, data.u, x);
    judge__causes_gained(j, d, m, 24 * j->settings->horizon_days, &use.stretches, use.gained,
                         use.product);
  }
  *rates = (use_rates){.level = {0}};
  if (done) {
    conclude(&use, d, rates);
    spread_of(&use, d, rates);
  }
  judge__data_release(&data);
  tenter_free(x);
  return done ? TENTER_OK : tenter_fail_memory(error);
}
