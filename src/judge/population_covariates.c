/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What else moves the tension beside age, lot and mounting: the meter, re-tensions before, coating,
 * printing, reclaiming.
 *
 * The model is fitted once more with these covariates, to say how much of the loss is relaxation of
 * fresh mesh at rest, and whether a lot is fast for another reason than its mesh. Where they are
 * clearly more than chance, the lines that forecasts and lots rest on use them too (judge__use):
 * bad screens are printed less and what printing will be done is not known, so these lines are
 * still of the total loss, at the use that is usual (population_use.c).
 *
 * Rank and connectedness first. A meter enters where it can be compared with the one used most: by
 * meshes read with both, or a chain of them. What the blocks alias is left out by the model. Of
 * what is left, the covariate that the others inflate most goes until none is above the limit. */
#include <string.h>

#include "population_inner.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/contrast.h"

enum { LEAST_SESSIONS = 10, MOST_CYCLES = 3, UNITS = 20000 };

static const double most_inflation = 10; /* see tenter_nested_covariate_inflation */

#define CAUSE_NAME(constant, name, unit) name,
static const char *const cause_names[] = {CAUSES(CAUSE_NAME)};
#define CAUSE_WORDS(constant, ...) TENTER_SAY_CAUSE_##constant,
static const tenter_say cause_words[] = {CAUSES(CAUSE_WORDS)};
#define CAUSE_UNIT(constant, name, unit) unit,
static const char *const cause_units[] = {CAUSES(CAUSE_UNIT)};

/* ---- meters --------------------------------------------------------------------------------- */

static uint32_t root_of(uint32_t *parent, uint32_t i) {
  while (parent[i] != i)
    i = parent[i] = parent[parent[i]];
  return i;
}

/* Sessions by meter, and meters and meshes that hang together: parent holds meters, then meshes. */
static void link_meters(const judge *j, size_t meters, uint32_t *parent, uint32_t *sessions) {
  for (uint32_t i = 0; i < meters + j->mesh_slots; i++)
    parent[i] = i;
  for (size_t i = 0; i < j->shop->session_count; i++) {
    const tenter_session *s = &j->shop->sessions[i];
    if (!(j->sessions[i].state & SESSION_FITTED) || s->meter == TENTER_NO_NAME16)
      continue;
    uint32_t mesh = (uint32_t)meters + mesh_slot(j, mounting_of(j, s)->is.mesh);
    sessions[s->meter]++;
    parent[root_of(parent, s->meter)] = root_of(parent, mesh);
  }
}

/* The meters used most that hang together with the first; with more than there is room for, the
 * others count as the mean. */
static bool pick_meters(const judge *j, design *d) {
  size_t meters = tenter_names_count(j->tables->names[TENTER_NAME_METER]);
  uint32_t *parent = tenter_alloc(meters + j->mesh_slots, sizeof *parent);
  uint32_t *sessions = tenter_alloc(meters + 1, sizeof *sessions);
  bool done = parent && sessions;
  if (done)
    link_meters(j, meters, parent, sessions);
  size_t picked = 0;
  while (done && picked <= MOST_METERS) {
    size_t best = meters;
    for (size_t i = 0; i < meters; i++)
      if (sessions[i] >= LEAST_SESSIONS && (best == meters || sessions[i] > sessions[best]) &&
          (picked == 0 || root_of(parent, (uint32_t)i) == root_of(parent, d->meter[0])))
        best = i;
    if (best == meters)
      break;
    d->meter[picked++] = (uint16_t)best;
    sessions[best] = 0;
  }
  d->meters = picked > 0 ? picked - 1 : 0;
  tenter_free(parent);
  tenter_free(sessions);
  return done;
}

/* ---- rows ----------------------------------------------------------------------------------- */

/* What has happened to a mounting by the time of a session. */
typedef struct history {
  const tenter_mounting *mounting;
  size_t next; /* event */
  double value[CAUSE_COUNT];
} history;

static history history_of(const tenter_mounting *m) {
  history h = {.mounting = m};
  h.value[CAUSE_CYCLE] = m->cycle < MOST_CYCLES ? m->cycle : MOST_CYCLES;
  return h;
}

static void advance(const judge *j, history *h, tenter_time to) {
  for (; h->next < h->mounting->event_count; h->next++) {
    const tenter_event *e = &j->tables->events[h->mounting->first_event + h->next];
    if (e->at.at > to)
      return;
    if (e->kind == TENTER_EVENT_COATED)
      h->value[CAUSE_COATED] = 1;
    else if (e->kind == TENTER_EVENT_PRINTED)
      h->value[CAUSE_PRINTED] = 1;
    else if (e->kind == TENTER_EVENT_RECLAIMED)
      h->value[CAUSE_COATED] = 0;
    h->value[CAUSE_RECLAIMS] += e->kind == TENTER_EVENT_RECLAIMED;
    if (e->kind == TENTER_EVENT_PRINTED && !isnan(e->count))
      h->value[CAUSE_IMPRESSIONS] += e->count / 1000;
  }
}

/* The columns of one session. */
static void fill_row(const judge *j, const design *d, history *h, size_t session, double *x) {
  const tenter_session *s = &j->shop->sessions[session];
  advance(j, h, s->taken);
  h->value[CAUSE_CYCLE_LOSS] =
      h->value[CAUSE_CYCLE] * tenter_clock_u(d->clock, j->sessions[session].u);
  for (size_t i = 0; i < d->columns; i++) {
    size_t column = d->column[i];
    x[i] = column < CAUSE_COUNT ? h->value[column] : s->meter == d->meter[column - CAUSE_COUNT];
  }
}

void judge__cause_rows(const judge *j, const void *context, const tenter_mounting *m, size_t end,
                       double *x) {
  const design *d = context;
  history h = history_of(m);
  for (size_t k = judge__level_begin(j, m); k < end; k++)
    if (judge__is_fitted(&j->sessions[k])) {
      fill_row(j, d, &h, k, x);
      x += d->columns;
    }
}

void judge__step_causes(const judge *j, const tenter_mounting *m, size_t end, double *x) {
  static const design steps = {
      .column = {CAUSE_COATED, CAUSE_PRINTED, CAUSE_IMPRESSIONS, CAUSE_RECLAIMS},
      .columns = STEP_CAUSES};
  judge__cause_rows(j, &steps, m, end, x);
}

void judge__causes_at(const judge *j, const design *d, const tenter_mounting *m, tenter_time time,
                      double *level, double *slope) {
  history h = history_of(m);
  double meters = 1;
  advance(j, &h, time);
  for (size_t i = 0; i < d->columns; i++)
    meters += d->column[i] >= CAUSE_COUNT;
  for (size_t i = 0; i < d->columns; i++) {
    bool product = d->column[i] == CAUSE_CYCLE_LOSS;
    slope[i] = product ? h.value[CAUSE_CYCLE] : 0;
    level[i] = d->column[i] >= CAUSE_COUNT ? 1 / meters : product ? 0 : h.value[d->column[i]];
  }
}

static void values_of(const design *d, const history *h, double *x) {
  for (size_t c = 0; c < d->columns; c++) {
    size_t cause = d->column[c];
    bool counts = cause == CAUSE_COATED || cause == CAUSE_PRINTED || cause == CAUSE_IMPRESSIONS ||
                  cause == CAUSE_RECLAIMS;
    x[c] = counts ? h->value[cause] : 0;
  }
}

void judge__causes_gained(const judge *j, const design *d, const tenter_mounting *m, double hours,
                          double *count, double *sum, double *product) {
  double from[MOST_COLUMNS], to[MOST_COLUMNS];
  tenter_time step = (tenter_time)(hours * TENTER_HOUR), end = j->shop->as_of;
  history h = history_of(m);
  if (m->zero.at == TENTER_NO_TIME || step <= 0)
    return;
  if (m->session_count > 0 && !(j->shop->screens[m->screen].current == m - j->shop->mountings))
    end = j->shop->sessions[m->first_session + m->session_count - 1].taken;
  tenter_time at = m->zero.at + TENTER_DAY;
  advance(j, &h, at);
  values_of(d, &h, from);
  for (at += step; at <= end; at += step) {
    advance(j, &h, at);
    values_of(d, &h, to);
    ++*count;
    for (size_t c = 0; c < d->columns; c++) {
      sum[c] += to[c] - from[c];
      for (size_t k = 0; k < d->columns; k++)
        product[c * d->columns + k] += (to[c] - from[c]) * (to[k] - from[k]);
    }
    memcpy(from, to, sizeof from);
  }
}

/* ---- which columns stay --------------------------------------------------------------------- */

typedef struct adjusted_fit {
  tenter_nested_products *products;
  tenter_nested_fit fit;
} adjusted_fit;

static void release(adjusted_fit *a) {
  if (a->fit.solution)
    tenter_nested_fit_release(&a->fit);
  tenter_nested_products_free(a->products);
  *a = (adjusted_fit){0};
}

static tenter_status make_products(const judge *j, const population *p, const design *d,
                                   size_t stride, adjusted_fit *a, tenter_error *error) {
  double jacobian;
  release(a);
  return judge__products(j, p, p->clock, &(product_columns){d->columns, judge__cause_rows, d},
                         stride, &a->products, &jacobian, error);
}

/* Takes out what is aliased, or else what is inflated most; false where all may stay. */
static bool thin_out(const tenter_nested_solution *solution, design *d) {
  size_t kept = 0, worst = d->columns;
  double most = most_inflation;
  for (size_t i = 0; i < d->columns; i++) {
    double inflation = tenter_nested_covariate_inflation(solution, i);
    if (isnan(inflation))
      continue;
    if (inflation > most) {
      most = inflation;
      worst = kept;
    }
    d->column[kept++] = d->column[i];
  }
  bool thinned = kept < d->columns;
  d->columns = kept;
  if (thinned || worst >= kept)
    return thinned;
  for (size_t i = worst; i + 1 < kept; i++)
    d->column[i] = d->column[i + 1];
  d->columns--;
  return true;
}

/* Columns judged at the components of the fit without them; then fitted. */
static tenter_status fit_adjusted(const judge *j, const population *p, design *d, size_t stride,
                                  adjusted_fit *a, tenter_error *error) {
  for (bool more = true; more;) {
    tenter_nested_solution *solution = NULL;
    if (d->columns == 0)
      return TENTER_OK;
    tenter_status status = make_products(j, p, d, stride, a, error);
    if (!status)
      status =
          tenter_nested_solve(a->products, &p->inner->fit.components, j->pool, &solution, error);
    if (status)
      return status;
    more = thin_out(solution, d);
    tenter_nested_solution_free(solution);
  }
  tenter_nested_options options = {
      .group_max = TENTER_NESTED_LINE, .unit_max = TENTER_NESTED_LINE, .pool = j->pool};
  tenter_error reason;
  tenter_status fitted = tenter_nested_fit_run(a->products, &options, &a->fit, &reason);
  if (fitted == TENTER_OK)
    return TENTER_OK;
  a->fit.solution = NULL; /* too few data are left unsaid */
  return fitted == TENTER_INPUT ? TENTER_OK : tenter_fail(error, fitted, "%s", reason.message);
}

/* ---- what is said --------------------------------------------------------------------------- */

/* A meter against the mean of all that have a column and the one used most: sum to zero. which: 0
 * is the latter, then columns of meters in order. */
static void meter_effect(const tenter_nested_solution *s, const size_t *column, size_t count,
                         size_t which, double *value, double *se) {
  double variance = 0;
  *value = 0;
  for (size_t i = 0; i < count; i++) {
    double gamma, ignored, a = (i + 1 == which) - 1 / ((double)count + 1);
    tenter_nested_covariate(s, column[i], &gamma, &ignored);
    *value += a * gamma;
    for (size_t k = 0; k < count; k++)
      variance += a * ((k + 1 == which) - 1 / ((double)count + 1)) *
                  tenter_nested_covariate_cov(s, column[i], column[k]);
  }
  *se = sqrt(fmax(variance, 0));
}

static size_t meter_columns(const design *d, size_t column[MOST_METERS]) {
  size_t count = 0;
  for (size_t i = 0; i < d->columns; i++)
    if (d->column[i] >= CAUSE_COUNT)
      column[count++] = i;
  return count;
}

/* Few of them: by insertion. */
static void order_by_name(tenter_review_covariate *list, size_t count) {
  for (size_t i = 1; i < count; i++) {
    tenter_review_covariate taken = list[i];
    size_t at = i;
    for (; at > 0 && strcmp(list[at - 1].name, taken.name) > 0; at--)
      list[at] = list[at - 1];
    list[at] = taken;
  }
}

/* The meters that have columns, and the one used most; false when memory runs out. */
static bool list_meters(const judge *j, const design *d, const tenter_nested_solution *s,
                        tenter_review_population *out) {
  size_t meter[MOST_METERS], meters = meter_columns(d, meter);
  for (size_t i = 0; meters > 0 && i <= meters; i++) {
    tenter_review_covariate *c = &out->covariates[out->covariate_count++];
    size_t which = i == 0 ? 0 : d->column[meter[i - 1]] - CAUSE_COUNT;
    const char *name = tenter_names_get(j->tables->names[TENTER_NAME_METER], d->meter[which]);
    c->unit = "N/cm";
    c->name = tenter_arena_print(j->arena, "meter %s", name);
    c->words = tenter_say_fill(j->arena, TENTER_SAY_CAUSE_METER, name, (const char *)NULL);
    if (tenter_arena_failed(j->arena))
      return false;
    meter_effect(s, meter, meters, i, &c->estimate, &c->se);
  }
  return true;
}

static void list_causes(const design *d, const tenter_nested_solution *s,
                        tenter_review_population *out) {
  for (size_t i = 0; i < d->columns; i++) {
    if (d->column[i] >= CAUSE_COUNT)
      continue;
    tenter_review_covariate *c = &out->covariates[out->covariate_count++];
    c->name = cause_names[d->column[i]];
    c->words = tenter_say_text(cause_words[d->column[i]]);
    c->unit = cause_units[d->column[i]];
    tenter_nested_covariate(s, i, &c->estimate, &c->se);
    if (d->column[i] == CAUSE_CYCLE_LOSS)
      c->estimate = -c->estimate; /* a slope that falls is a loss that grows */
  }
}

/* Every covariate, times scale; false when memory runs out. */
static bool list_covariates(const judge *j, const design *d, const tenter_nested_solution *s,
                            double scale, tenter_review_population *out) {
  out->covariates = tenter_arena_alloc(j->arena, d->columns + 1, sizeof *out->covariates);
  if (!out->covariates || !list_meters(j, d, s, out))
    return false;
  list_causes(d, s, out);
  order_by_name(out->covariates, out->covariate_count);
  for (size_t i = 0; i < out->covariate_count; i++) {
    out->covariates[i].estimate *= scale;
    out->covariates[i].se *= scale;
  }
  return true;
}

/* The line of fresh mesh at rest, as the mean meter reads it. */
static bool rest_line(const design *d, const tenter_nested_solution *s, size_t block,
                      tenter_line *line) {
  double level[MOST_COLUMNS] = {0};
  size_t meter[MOST_METERS], meters = meter_columns(d, meter);
  for (size_t i = 0; i < meters; i++)
    level[meter[i]] = 1 / ((double)meters + 1);
  tenter_nested_line l;
  bool told = tenter_nested_block_line(s, block, &(tenter_nested_at){.level = level}, &l);
  *line = line_of(&l);
  return told;
}

static bool fill_populations(const judge *j, const population *p, const design *d,
                             const tenter_nested_solution *s) {
  for (size_t i = 0; i < j->review->population_count; i++) {
    tenter_review_population *out = &j->review->populations[i];
    uint32_t slot = mesh_slot(j, out->mesh);
    tenter_line line;
    if (p->inner->blocks[slot].prior || !rest_line(d, s, slot, &line))
      continue;
    line = judge__in_tension(p, line, out->at_24h);
    out->loss_at_rest = line.loss;
    out->loss_at_rest_se = sqrt(line.var_loss);
    if (!list_covariates(j, d, s, p->log ? out->at_24h : 1, out))
      return false;
  }
  return true;
}

/* Effects of the lots with the covariates taken off. */
static bool fill_lots(const judge *j, population *p, const design *d,
                      const tenter_nested_solution *s) {
  struct lot_adjusted *list = tenter_arena_alloc(j->arena, p->lot_count, sizeof *list);
  for (size_t i = 0; list && i < p->lot_count; i++) {
    tenter_nested_line effect;
    tenter_nested_group_effect(s, p->inner->group[p->lots[i].first], &effect, NULL);
    list[i].effect = line_of(&effect);
    if (!rest_line(d, s, mesh_slot(j, p->lots[i].mesh), &list[i].mesh))
      list[i].mesh = (tenter_line){NAN, NAN, NAN, NAN, NAN};
  }
  p->adjusted = list;
  return list != NULL;
}

/* Every cause and meter, thinned out, fitted. */
static tenter_status fit_all(const judge *j, const population *p, design *d, size_t stride,
                             adjusted_fit *a, tenter_error *error) {
  *d = (design){.clock = p->clock, .columns = CAUSE_COUNT};
  if (!pick_meters(j, d))
    return tenter_fail_memory(error);
  for (size_t i = 0; i < CAUSE_COUNT; i++)
    d->column[i] = i;
  for (size_t i = 1; i <= d->meters; i++)
    d->column[d->columns++] = CAUSE_COUNT + i;
  return fit_adjusted(j, p, d, stride, a, error);
}

tenter_status judge__covariates(judge *j, population *p, tenter_error *error) {
  const struct population_inner *in = p->inner;
  design d;
  if (!in->fit.solution || j->settings->covariates == TENTER_COVARIATES_NONE)
    return TENTER_OK;
  adjusted_fit a = {0};
  size_t stride = 1 + in->placed_count / UNITS;
  tenter_status status = fit_all(j, p, &d, stride, &a, error);
  bool told = !status && a.fit.solution && d.columns > 0;
  if (told && !fill_populations(j, p, &d, a.fit.solution))
    status = tenter_fail_memory(error);
  if (told && !status && stride == 1 && !fill_lots(j, p, &d, a.fit.solution))
    status = tenter_fail_memory(error);
  release(&a);
  return status;
}

/* ---- whether forecasts use them ---------------------------------------------------------------
 */

/* gamma' V^-1 gamma of all coefficients (Wald 1943, Trans. Amer. Math. Soc. 54:426), chi-square
 * where none has an effect; 0 where it can't be worked out. */
static double wald(const tenter_nested_solution *s, size_t columns) {
  double v[MOST_COLUMNS * MOST_COLUMNS], gamma[MOST_COLUMNS], se, sum = 0;
  for (size_t i = 0; i < columns; i++) {
    if (!tenter_nested_covariate(s, i, &gamma[i], &se))
      return 0;
    for (size_t k = 0; k < columns; k++)
      v[i * columns + k] = tenter_nested_covariate_cov(s, i, k);
  }
  if (!tenter_symmetric_invert(v, columns))
    return 0;
  for (size_t i = 0; i < columns; i++)
    for (size_t k = 0; k < columns; k++)
      sum += gamma[i] * v[i * columns + k] * gamma[k];
  return sum;
}

tenter_status judge__use(judge *j, population *p, tenter_error *error) {
  struct population_inner *in = p->inner;
  design d;
  if (j->newer && j->newer->population)
    in->use = j->newer->population->inner->use;
  if (!in->fit.solution || j->settings->covariates == TENTER_COVARIATES_NONE || j->newer ||
      in->placed_count > UNITS)
    return TENTER_OK;
  adjusted_fit a = {0};
  tenter_status status = fit_all(j, p, &d, 1, &a, error);
  bool told = !status && a.fit.solution && d.columns > 0;
  if (told && wald(a.fit.solution, d.columns) - 2 * (double)d.columns >= j->settings->law_margin)
    in->use = d;
  release(&a);
  return status;
}
