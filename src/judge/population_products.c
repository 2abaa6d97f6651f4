/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The cross-products that the nested model is fitted to: stretches of mountings are summed up side
 * by side and strung together in order, so that the number of threads changes nothing. */
#include "population_inner.h"
#include "tenter/base/alloc.h"

enum { STRETCH = 2048 }; /* mountings */

typedef struct stretch {
  tenter_nested_products *products;
  double jacobian;
  tenter_status status;
  tenter_error error;
} stretch;

typedef struct summing {
  const judge *j;
  const population *p;
  tenter_clock clock;
  const product_columns *columns;
  size_t stride, units, most_sessions;
  stretch *stretches;
} summing;

static tenter_status add_unit(const summing *s, stretch *out, uint32_t mounting, line_data *d,
                              double *x) {
  const tenter_mounting *m = &s->j->shop->mountings[mounting];
  size_t end = m->first_session + m->session_count;
  judge__data_gather(s->j, s->p, s->clock, m, end, d);
  if (s->columns->fill)
    s->columns->fill(s->j, s->columns->context, m, end, x);
  for (size_t k = 0; s->p->log && k < d->count; k++)
    out->jacobian -= d->y[k];
  return tenter_nested_unit_add(out->products, mounting, d->count, d->u, d->y, d->weight, x,
                                &out->error);
}

static tenter_status add_units(const summing *s, size_t task, line_data *d, double *x) {
  const struct population_inner *in = s->p->inner;
  stretch *out = &s->stretches[task];
  tenter_status status =
      tenter_nested_products_new(2, s->columns->count, &out->products, &out->error);
  uint64_t open = UINT64_MAX; /* no key */
  for (size_t i = task * STRETCH; i < (task + 1) * STRETCH && i < s->units && !status; i++) {
    const placed *unit = &in->placed[i * s->stride];
    if (unit->group != open)
      status = tenter_nested_group_add(out->products, (size_t)(unit->group >> 33), unit->group,
                                       &out->error);
    open = unit->group;
    if (!status)
      status = add_unit(s, out, unit->mounting, d, x);
  }
  return status;
}

static void sum_stretch(void *context, size_t task, size_t worker) {
  (void)worker;
  const summing *s = context;
  line_data d = {0};
  double *x = tenter_alloc(s->most_sessions * (s->columns->count + 1), sizeof *x);
  stretch *out = &s->stretches[task];
  if (x && judge__data_room(&d, s->most_sessions))
    out->status = add_units(s, task, &d, x);
  else
    out->status = tenter_fail_memory(&out->error);
  judge__data_release(&d);
  tenter_free(x);
}

/* The first stretch takes in the others. */
static tenter_status string_together(stretch *stretches, size_t count, double *jacobian,
                                     tenter_error *error) {
  tenter_status status = TENTER_OK;
  for (size_t i = 0; i < count && !status; i++) {
    status = stretches[i].status;
    if (status && error)
      *error = stretches[i].error;
    if (!status && i > 0)
      status = tenter_nested_products_append(stretches[0].products, stretches[i].products, error);
    *jacobian += stretches[i].jacobian;
    if (i > 0) {
      tenter_nested_products_free(stretches[i].products);
      stretches[i].products = NULL;
    }
  }
  return status;
}

tenter_status judge__products(const judge *j, const population *p, tenter_clock clock,
                              const product_columns *columns, size_t stride,
                              tenter_nested_products **products, double *jacobian,
                              tenter_error *error) {
  summing s = {.j = j, .p = p, .clock = clock, .columns = columns, .stride = stride};
  s.units = (p->inner->placed_count + stride - 1) / stride;
  s.most_sessions = judge__most_sessions(j);
  size_t count = s.units == 0 ? 1 : (s.units + STRETCH - 1) / STRETCH;
  s.stretches = tenter_alloc(count, sizeof *s.stretches);
  if (!s.stretches)
    return tenter_fail_memory(error);
  tenter_pool_run(j->pool, count, sum_stretch, &s);
  *jacobian = 0;
  tenter_status status = string_together(s.stretches, count, jacobian, error);
  if (!status) {
    *products = s.stretches[0].products;
    s.stretches[0].products = NULL;
  }
  for (size_t i = 0; i < count; i++)
    tenter_nested_products_free(s.stretches[i].products);
  tenter_free(s.stretches);
  return status;
}
