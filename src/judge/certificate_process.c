/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How the shop stretched for an order: all mountings made for it, rejects included, each brought to
 * 24 h; capability, normality, tolerance interval, acceptance by variables, one group a
 * specification.
 *
 * A reject is known by its order where a reading's row says it; else it is a mounting of a listed
 * screen that was stretched again, or burst, unprinted, shortly before. */
#include "certificate.h"

#include <stdlib.h>
#include <string.h>

#include "population.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/tolerance.h"

typedef tenter_certificate_group group;

/* ---- what belongs to it --------------------------------------------------------------------- */

static bool was_printed(const judge *j, const tenter_mounting *m) {
  for (size_t i = 0; i < m->event_count; i++)
    if (j->tables->events[m->first_event + i].kind == TENTER_EVENT_PRINTED)
      return true;
  return m->impressions > 0;
}

/* Whether a mounting was made for the same as the next of its screen, and given up. */
static bool is_reject(const judge *j, const tenter_mounting *m, const tenter_mounting *next) {
  bool known = m->stretched.at != TENTER_NO_TIME && next->stretched.at != TENTER_NO_TIME;
  bool given_up = m->end == TENTER_END_RENEWED || m->end == TENTER_END_BURST;
  if (!known || !given_up || m->screen != next->screen || was_printed(j, m) ||
      (m->is.order != TENTER_NO_NAME && m->is.order != next->is.order))
    return false;
  double days = (double)(next->stretched.at - m->stretched.at) / TENTER_DAY;
  return days <= j->settings->reject_days;
}

/* For each mounting that was stretched for it, the one whose specification it was to meet: itself,
 * or, for a reject, that of the mounting which took its place (the register tells of that one
 * alone); UINT32_MAX for all others. How many. */
static size_t mark_members(const tenter_certificate *c, uint32_t *made_for) {
  const tenter_shop *shop = c->review->shop;
  size_t count = 0;
  for (size_t i = shop->mounting_count; i-- > 0;) {
    const tenter_mounting *m = &shop->mountings[i];
    bool last = i + 1 == shop->mounting_count;
    made_for[i] = UINT32_MAX;
    if (!last && made_for[i + 1] != UINT32_MAX &&
        is_reject(c->review->judged, m, &shop->mountings[i + 1]))
      made_for[i] = made_for[i + 1];
    else if (certificate_is_for(c, &m->is))
      made_for[i] = (uint32_t)i;
    count += made_for[i] != UINT32_MAX;
  }
  return count;
}

/* ---- one mounting --------------------------------------------------------------------------- */

/* The loss per decade that is usual for a mesh; 0 where nothing is known. */
static double usual_loss(const tenter_review *review, uint32_t mesh) {
  for (size_t i = 0; i < review->population_count; i++)
    if (review->populations[i].mesh == mesh && isfinite(review->populations[i].loss_per_decade))
      return review->populations[i].loss_per_decade;
  return 0;
}

/* The session from which a mounting's tension at 24 h is taken; SIZE_MAX: none. */
static size_t value_session(const judge *j, const tenter_mounting *m) {
  size_t session = judge__acceptance_session(j, m);
  size_t end = m->first_session + m->session_count;
  if (session == SIZE_MAX || m->zero.at == TENTER_NO_TIME)
    return SIZE_MAX;
  while (session < end && j->sessions[session].state & SESSION_MISREAD)
    session++;
  return session < end ? session : SIZE_MAX;
}

/* What is made to one specification, in order of stretching. */
typedef struct entry {
  const tenter_mounting *m, *made_for;
  double lower, upper;
} entry;

static int compare(double a, double b) { /* NaN last */
  if (isnan(a) || isnan(b))
    return (isnan(a) != 0) - (isnan(b) != 0);
  return (a > b) - (a < b);
}

static int same_group(const entry *a, const entry *b) {
  const tenter_attributes *p = &a->made_for->is, *q = &b->made_for->is;
  if (p->mesh != q->mesh)
    return p->mesh < q->mesh ? -1 : 1;
  int order = compare(p->target, q->target);
  order = order != 0 ? order : compare(a->lower, b->lower);
  return order != 0 ? order : compare(a->upper, b->upper);
}

static int entry_order(const void *a, const void *b) {
  const entry *p = a, *q = b;
  int order = same_group(p, q);
  if (order != 0)
    return order;
  if (p->m->stretched.at != q->m->stretched.at)
    return p->m->stretched.at < q->m->stretched.at ? -1 : 1;
  return (p->m > q->m) - (p->m < q->m);
}

/* ---- acceptance by variables ---------------------------------------------------------------- */

static tenter_status refuse_plan(const char *text, tenter_error *error) {
  return tenter_fail(error, TENTER_USAGE,
                     "[certificate] sampling_plan = %s: expected n=10, k=1.72 and, where the "
                     "standard deviation is known, sigma=0.5",
                     text);
}

/* "n=10, k=1.72, sigma=0.5"; a plan of 0 where there is none. */
static tenter_status read_plan(const char *text, tenter_plan *plan, tenter_error *error) {
  double n = NAN, k = NAN, sigma = NAN;
  *plan = (tenter_plan){0, NAN, NAN};
  const char *at = text + strspn(text, " \t");
  while (*at) {
    double *value = strncmp(at, "sigma", 5) == 0 ? &sigma
                    : *at == 'n'                 ? &n
                    : *at == 'k'                 ? &k
                                                 : NULL;
    const char *sign = at + (value == &sigma ? 5 : 1);
    sign += strspn(sign, " \t");
    char *end;
    if (!value || !isnan(*value) || *sign != '=')
      return refuse_plan(text, error);
    *value = strtod(sign + 1, &end);
    if (end == sign + 1 || !isfinite(*value))
      return refuse_plan(text, error);
    at = end + strspn(end, " \t");
    if (*at && *at != ',' && *at != ';')
      return refuse_plan(text, error);
    at += *at ? 1 + strspn(at + 1, " \t") : 0;
  }
  if (isnan(n) && isnan(k) && isnan(sigma))
    return TENTER_OK;
  if (!(n >= 2 && n <= 1e6 && n == floor(n)) || !(fabs(k) < 100) || sigma <= 0)
    return refuse_plan(text, error);
  *plan = (tenter_plan){(size_t)n, k, sigma};
  return TENTER_OK;
}

/* Refused for its tension: it is taken out of the delivery because of what was measured. */
static bool taken_out(const tenter_certificate_screen *screen) {
  for (size_t i = 0; i < screen->refusal_count; i++)
    switch (screen->refusals[i].code) {
    case TENTER_REFUSAL_OUTSIDE:
    case TENTER_REFUSAL_UNDECIDED:
    case TENTER_REFUSAL_FALLS_BEFORE_USE:
    case TENTER_REFUSAL_REVIEW:
    case TENTER_REFUSAL_NOT_IN_USE:
      return true;
    default:
      break;
    }
  return false;
}

static void apply_plan(group *g, const tenter_plan *plan) {
  if (plan->count == 0 || g->sorted_delivery || g->count < plan->count || g->count < g->mountings ||
      (g->tested && !g->normal))
    return;
  g->planned = true;
  g->plan = (tenter_plan){g->count, plan->k, plan->sigma}; /* all that were read */
  g->result =
      tenter_plan_decide(&g->plan, g->capability.mean, g->capability.sd, g->lower, g->upper);
}

/* ---- one group ------------------------------------------------------------------------------ */

static int by_size(const void *a, const void *b) {
  return compare(*(const double *)a, *(const double *)b);
}

static void take_value(const tenter_certificate *c, group *g, tenter_certificate_value *values,
                       const entry *e) {
  const judge *j = c->review->judged;
  size_t index = (size_t)(e->m - j->shop->mountings);
  const tenter_certificate_screen *listed = certificate_listed(c, index);
  g->mountings++;
  g->rejects += !listed;
  g->refused += listed && !listed->certified;
  g->sorted_delivery |= !listed || taken_out(listed);
  size_t session = value_session(j, e->m);
  if (session == SIZE_MAX)
    return;
  double age = tenter_mounting_age_hours(e->m, j->shop->sessions[session].taken);
  double value = j->sessions[session].adjusted +
                 g->mean_loss * tenter_clock_u(j->population->clock, age_u(age));
  bool outside = value < e->lower || value > e->upper;
  g->outside += outside;
  g->within += !outside;
  values[g->count++] = (tenter_certificate_value){index, session, value, listed != NULL};
}

/* The tolerance interval: one-sided where there is one limit. */
static void find_tolerance_interval(const judge *j, group *g) {
  double content = j->settings->content, confidence = j->settings->confidence;
  double mean = g->capability.mean, sd = g->capability.sd;
  g->low = g->high = g->factor = NAN;
  g->range_content = tenter_tolerance_range_content(g->count, confidence);
  if (g->count < 3 || !(sd > 0))
    return;
  bool both = isfinite(g->lower) == isfinite(g->upper);
  g->factor = both ? tenter_tolerance_two_sided(g->count, content, confidence)
                   : tenter_tolerance_one_sided(g->count, content, confidence);
  g->low = both || isfinite(g->lower) ? mean - g->factor * sd : -INFINITY;
  g->high = both || isfinite(g->upper) ? mean + g->factor * sd : INFINITY;
}

static tenter_status work_out(tenter_certificate *c, group *g, const tenter_plan *plan,
                              tenter_error *error) {
  const judge *j = c->review->judged;
  double *values = tenter_arena_alloc(c->arena, g->count, sizeof *values);
  double *sorted = tenter_arena_alloc(c->arena, g->count, sizeof *sorted);
  double *expected = tenter_arena_alloc(c->arena, g->count, sizeof *expected);
  if (!values || !sorted || !expected)
    return tenter_fail_memory(error);
  for (size_t i = 0; i < g->count; i++)
    values[i] = sorted[i] = g->values[i].value;
  qsort(sorted, g->count, sizeof *sorted, by_size);
  tenter_normal_plot(g->count, expected);
  g->sorted = sorted;
  g->expected = expected;
  g->normality = tenter_normality_of(sorted, g->count);
  g->tested = isfinite(g->normality.p);
  g->normal = g->tested && g->normality.p >= j->settings->normality_level;
  double confidence = j->settings->confidence;
  g->outside_share = tenter_exact_interval(g->outside, g->count, confidence);
  tenter_status status =
      tenter_capability_of(values, g->count, g->lower, g->upper, confidence, &g->capability, error);
  if (status != TENTER_OK)
    return status;
  find_tolerance_interval(j, g);
  apply_plan(g, plan);
  return TENTER_OK;
}

static tenter_status make_group(tenter_certificate *c, const entry *entries, size_t count,
                                const tenter_plan *plan, tenter_error *error) {
  tenter_certificate_value *values = tenter_arena_alloc(c->arena, count, sizeof *values);
  if (!values)
    return tenter_fail_memory(error);
  group *g = &c->groups[c->group_count++];
  *g = (group){.mesh = entries[0].made_for->is.mesh,
               .target = entries[0].made_for->is.target,
               .lower = entries[0].lower,
               .upper = entries[0].upper,
               .values = values,
               .mean_loss = usual_loss(c->review, entries[0].made_for->is.mesh)};
  for (size_t i = 0; i < count; i++)
    take_value(c, g, values, &entries[i]);
  return work_out(c, g, plan, error);
}

/* ---- all of them ---------------------------------------------------------------------------- */

static tenter_status make_groups(tenter_certificate *c, entry *entries, size_t count,
                                 tenter_error *error) {
  tenter_plan plan;
  tenter_status status = read_plan(c->review->judged->settings->sampling_plan, &plan, error);
  if (status != TENTER_OK)
    return status;
  c->plan_asked = plan.count;
  qsort(entries, count, sizeof *entries, entry_order);
  size_t groups = 0;
  for (size_t i = 0; i < count; i++)
    groups += i == 0 || same_group(&entries[i - 1], &entries[i]) != 0;
  c->groups = tenter_arena_alloc(c->arena, groups, sizeof *c->groups);
  if (!c->groups)
    return tenter_fail_memory(error);
  for (size_t i = 0, end; i < count && status == TENTER_OK; i = end) {
    for (end = i + 1; end < count && same_group(&entries[i], &entries[end]) == 0;)
      end++;
    status = make_group(c, &entries[i], end - i, &plan, error);
  }
  return status;
}

/* The mountings marked, each with its limits. */
static void list_entries(const tenter_shop *shop, const uint32_t *made_for, entry *entries) {
  for (size_t i = 0, k = 0; i < shop->mounting_count; i++) {
    if (made_for[i] == UINT32_MAX)
      continue;
    entry *e = &entries[k++];
    *e = (entry){.m = &shop->mountings[i], .made_for = &shop->mountings[made_for[i]]};
    certificate_limits(&e->made_for->is, &e->lower, &e->upper);
  }
}

tenter_status certificate_process(tenter_certificate *c, tenter_error *error) {
  const tenter_shop *shop = c->review->shop;
  uint32_t *made_for = tenter_alloc(shop->mounting_count, sizeof *made_for);
  if (!made_for)
    return tenter_fail_memory(error);
  size_t count = mark_members(c, made_for);
  entry *entries = tenter_alloc(count + 1, sizeof *entries);
  tenter_status status = TENTER_OK;
  if (entries) {
    list_entries(shop, made_for, entries);
    status = make_groups(c, entries, count, error);
  } else {
    status = tenter_fail_memory(error);
  }
  tenter_free(entries);
  tenter_free(made_for);
  return status;
}
