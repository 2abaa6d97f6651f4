/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One screen's story, made after the review from what it keeps: the law of the lot, the mounting's
 * own place on it (a level and a share of the lot's loss), the test whether it has left it. */
#include "story.h"

#include <stdlib.h>
#include <string.h>

#include "laws.h"
#include "leaving.h"
#include "population.h"
#include "tenter/base/alloc.h"

static const double least_share_sd = 0.1, most_share_sd = 1;
static const double unknown_share_sd = 0.4; /* published losses: 3 to 7 %, about 5 % */
static const double first_hour = 1;

/* The lot's usual loss on the clock of the shop's law, and the mounting's own curve on it before
 * and after it left. */
struct tenter_screen_curve {
  tenter_clock clock;
  double loss;
  own_curve before, after; /* equal where it has not left */
  double left_hours;       /* age at the session where it left; infinite where it has not */
  bool known;
};

typedef struct telling {
  const tenter_review *review;
  const judge *j;
  const tenter_mounting *m;
  tenter_arena *arena;
  tenter_screen_story *story;
  struct tenter_screen_curve *curve;
} telling;

/* ---- the lot's curve and how mountings differ from it --------------------------------------- */

static const tenter_review_population *population_of(const telling *t) {
  for (size_t i = 0; i < t->review->population_count; i++)
    if (t->review->populations[i].mesh == t->m->is.mesh)
      return &t->review->populations[i];
  return NULL;
}

static const tenter_review_lot *lot_of(const telling *t) {
  for (size_t i = 0; i < t->review->lot_count; i++)
    if (t->review->lots[i].lot == t->m->is.lot && t->review->lots[i].mesh == t->m->is.mesh)
      return &t->review->lots[i];
  return NULL;
}

/* The loss that is usual for the lot, else the mesh, else polyester; and the sd of a mounting's
 * share of it. */
static double usual_loss(const telling *t, double *share_sd) {
  const tenter_review_population *mesh = population_of(t);
  const tenter_review_lot *lot = lot_of(t);
  double loss = NAN, sd = NAN;
  if (mesh) {
    loss = mesh->loss_per_decade;
    sd = hypot(mesh->sd_mounting_loss, hypot(mesh->sd_lot_loss, mesh->loss_per_decade_se));
    if (lot && isfinite(lot->loss_per_decade)) {
      loss = lot->loss_per_decade;
      sd = hypot(mesh->sd_mounting_loss, lot->loss_per_decade_se);
    }
  }
  double level = mesh && isfinite(mesh->at_24h) ? mesh->at_24h : t->m->is.target;
  if (!(loss > 0.1 * t->j->settings->prior_loss_share * level)) { /* none known, or none at all */
    loss = t->j->settings->prior_loss_share * level;
    sd = NAN;
  }
  *share_sd =
      isfinite(sd) ? fmin(fmax(sd / loss, least_share_sd), most_share_sd) : unknown_share_sd;
  return loss;
}

/* What the forecasts go by is the law of the shop; what the lot alone says stands beside it. */
static void set_laws(const telling *t, const tenter_screen_laws *lot) {
  const population *p = t->j->population;
  tenter_screen_story *story = t->story;
  const char *name = judge__law_name(p);
  story->lot = *lot;
  story->lot_known = t->m->is.lot != TENTER_NO_NAME;
  story->levels_off = tenter_clock_is_log(p->clocks.clock[0]) ? 1 - p->clocks.weight[0] : 1;
  for (size_t i = 0; i < TENTER_SCREEN_LAWS; i++)
    if (strcmp(lot->law[i].law, name) == 0)
      story->law = i;
}

/* What the lot usually has lost by then, below nothing. */
static double curve_at(const struct tenter_screen_curve *c, double age_hours) {
  return -c->loss * tenter_clock_u(c->clock, age_u(age_hours));
}

/* ---- sessions ------------------------------------------------------------------------------- */

static tenter_status list_sessions(const telling *t, tenter_error *error) {
  tenter_screen_story *story = t->story;
  story->sessions = tenter_arena_alloc(t->arena, t->m->session_count, sizeof *story->sessions);
  if (!story->sessions)
    return tenter_fail_memory(error);
  story->session_count = t->m->session_count;
  for (size_t k = 0; k < story->session_count; k++) {
    size_t i = t->m->first_session + k;
    tenter_latest s;
    judge__session_latest(t->j, i, &s);
    story->sessions[k] = (tenter_screen_session){
        .session = i,
        .age_hours = tenter_mounting_age_hours(t->m, t->j->shop->sessions[i].taken),
        .mean = s.mean,
        .adjusted = t->j->sessions[i].adjusted,
        .uncertainty = judge__session_uncertainty(t->j, i, true, NULL),
        .sd = s.sd,
        .min = s.min,
        .max = s.max,
        .expected = NAN,
        .residual = NAN,
        .misread = (t->j->sessions[i].state & SESSION_MISREAD) != 0};
  }
  return TENTER_OK;
}

/* The sessions that may be fitted, as a series on the lot's curve. */
typedef struct fitted {
  double *curve, *y, *variance;
  size_t *index; /* into story->sessions */
  size_t count;
} fitted;

static void release(fitted *f) {
  tenter_free(f->curve);
  tenter_free(f->y);
  tenter_free(f->variance);
  tenter_free(f->index);
}

static double noise_of(const judge *j) {
  double noise = 0;
  for (size_t k = 0; k < j->review->node_count; k++)
    noise += j->review->node_weight[k] * j->population->residual[k];
  return noise > 0 ? noise : 1;
}

static bool gather(const telling *t, fitted *f) {
  size_t n = t->m->session_count + 1;
  *f = (fitted){.curve = tenter_alloc(n, sizeof *f->curve),
                .y = tenter_alloc(n, sizeof *f->y),
                .variance = tenter_alloc(n, sizeof *f->variance),
                .index = tenter_alloc(n, sizeof *f->index)};
  if (!f->curve || !f->y || !f->variance || !f->index)
    return false;
  double noise = noise_of(t->j);
  for (size_t k = 0; k < t->story->session_count; k++) {
    size_t i = t->m->first_session + k;
    const session_value *value = &t->j->sessions[i];
    if (isnan(value->u))
      continue;
    f->curve[f->count] = curve_at(t->curve, 24 * pow(10, value->u));
    f->y[f->count] = value->adjusted - judge__shift(t->j, i);
    f->variance[f->count] = noise / value->weight;
    f->index[f->count++] = k;
  }
  return true;
}

/* ---- has it left? --------------------------------------------------------------------------- */

enum { AROUND = 3 }; /* sessions each side whose places are compared */

typedef struct place_sums {
  double before, after;
  size_t before_count, after_count;
} place_sums;

/* Readings at each place off what its law before the step lets expect. */
static void add_places(const telling *t, size_t session, double age_hours, bool after,
                       place_sums *places) {
  const judge *j = t->j;
  const tenter_session *s = &j->shop->sessions[session];
  uint32_t slot = mesh_slot(j, t->m->is.mesh);
  double expected = t->curve->before.a + t->curve->before.k * curve_at(t->curve, age_hours);
  for (size_t i = s->first; i < s->first + s->count; i++) {
    uint16_t position = j->readings->position[i];
    if (position == TENTER_NO_NAME16)
      continue;
    place_sums *place = &places[position];
    double off = j->readings->tension[i] - judge__effect(j, slot, point_of(j, i)) - expected;
    *(after ? &place->after : &place->before) += off;
    (*(after ? &place->after_count : &place->before_count))++;
  }
}

/* The place whose readings changed most in the direction of the step. */
static bool find_place(const telling *t, const fitted *f, size_t at) {
  tenter_screen_leaving *leaving = &t->story->leaving;
  size_t count = t->j->tables->position_count;
  place_sums *places = tenter_alloc(count + 1, sizeof *places);
  if (!places)
    return false;
  for (size_t k = at > AROUND ? at - AROUND : 0; k < f->count && k < at + AROUND; k++)
    add_places(t, t->m->first_session + f->index[k], t->story->sessions[f->index[k]].age_hours,
               k >= at, places);
  for (size_t p = 0; p < count; p++) {
    if (places[p].before_count == 0 || places[p].after_count == 0)
      continue;
    double change = places[p].after / (double)places[p].after_count -
                    places[p].before / (double)places[p].before_count;
    bool first = leaving->place == TENTER_NO_NAME16;
    double sign = leaving->change < 0 ? -1 : 1;
    if (!first && !(sign * change > sign * leaving->place_change))
      continue;
    leaving->place = (uint16_t)p;
    leaving->place_change = change;
  }
  tenter_free(places);
  return true;
}

static bool test_leaving(const telling *t, const fitted *f, const leaving_series *series) {
  tenter_screen_leaving *leaving = &t->story->leaving;
  leaving_result result;
  *leaving = (tenter_screen_leaving){.tested = f->count,
                                     .session = SIZE_MAX,
                                     .rate = t->j->settings->leaving_rate,
                                     .place = TENTER_NO_NAME16,
                                     .place_change = NAN};
  if (!judge__leaving(series, leaving->rate, &result))
    return false;
  leaving->left = result.left;
  leaving->change = result.change;
  leaving->change_se = result.change_se;
  leaving->p = result.p;
  if (f->count < 2)
    return true;
  leaving->session = t->m->first_session + f->index[result.at];
  leaving->newest = result.at + 1 == f->count;
  size_t from = result.left ? result.at : 0;
  t->curve->after = judge__own_curve(series, from);
  t->curve->before = t->curve->after;
  if (!result.left)
    return true;
  leaving_series head = *series;
  head.count = from;
  t->curve->before = judge__own_curve(&head, 0);
  t->curve->left_hours = t->story->sessions[f->index[from]].age_hours;
  return find_place(t, f, from);
}

static void expect(const telling *t, const fitted *f) {
  for (size_t k = 0; k < f->count; k++) {
    tenter_screen_session *s = &t->story->sessions[f->index[k]];
    tenter_screen_tension_at(t->story, s->age_hours, &s->expected, NULL);
    s->residual = (f->y[k] - s->expected) / sqrt(f->variance[k]);
  }
}

/* ---- the floor under the law of the lot ----------------------------------------------------- */

/* 10 years, as in the forecast; 5 % of a normal distribution lie beyond z. */
static const double most_hours = 24 * 3652.5, z_early = 1.644853626951473;

/* What is usual by the law that the lot alone chooses: what its own fit tells, but of the log law
 * the review knows the loss better. */
static double lot_curve_at(const telling *t, double age_hours) {
  const tenter_screen_law *law = &t->story->lot.law[t->story->lot.chosen];
  double value[TENTER_LAW_PARAMETERS] = {0};
  if (t->story->lot.chosen == TENTER_LAW_LOG)
    return -t->curve->loss * age_u(age_hours);
  for (size_t k = 0; k < TENTER_LAW_PARAMETERS && k < law->parameter_count; k++)
    value[k] = law->parameter[k].value;
  return tenter_law_value((tenter_law)t->story->lot.chosen, value, age_hours);
}

/* Whether z standard errors below the curve are under the floor at an age. */
static bool is_under(const telling *t, const own_curve *own, double age_hours, double z) {
  double x = lot_curve_at(t, age_hours);
  double se = sqrt(fmax(0, own->var_a + 2 * x * own->cov + x * x * own->var_k));
  return own->a + own->k * x - z * se <= t->m->is.floor;
}

static tenter_time reaches(const telling *t, const own_curve *own, double z) {
  double now = tenter_mounting_age_hours(t->m, t->j->shop->as_of), low = 0, high = 1;
  if (is_under(t, own, now, z))
    return t->j->shop->as_of;
  while (high < most_hours && !is_under(t, own, now + high, z)) {
    low = high;
    high *= 1.5;
  }
  if (high >= most_hours)
    return TENTER_NO_TIME;
  while (high - low > 1.0 / 60) {
    double middle = (low + high) / 2;
    *(is_under(t, own, now + middle, z) ? &high : &low) = middle;
  }
  return t->j->shop->as_of + (tenter_time)llround(high * TENTER_HOUR);
}

/* From its sessions, as in its own course, but on the curve of its lot. */
static void find_floor(const telling *t, fitted *f, double share_sd) {
  tenter_screen_floor *floor = &t->story->lot_floor;
  *floor = (tenter_screen_floor){false, TENTER_NO_TIME, TENTER_NO_TIME, TENTER_NO_TIME};
  bool usable = t->story->lot.law[t->story->lot.chosen].fitted && f->count > 0;
  if (!usable || isnan(t->m->is.floor) || !t->story->judged ||
      !(tenter_mounting_age_hours(t->m, t->j->shop->as_of) > 0))
    return;
  size_t from = 0;
  for (size_t k = 0; k < f->count; k++) {
    f->curve[k] = lot_curve_at(t, t->story->sessions[f->index[k]].age_hours);
    if (t->story->leaving.left && t->m->first_session + f->index[k] == t->story->leaving.session)
      from = k;
  }
  leaving_series series = {f->count, f->curve, f->y, f->variance, 1, share_sd};
  own_curve own = judge__own_curve(&series, from);
  *floor = (tenter_screen_floor){true, reaches(t, &own, z_early), reaches(t, &own, 0),
                                 reaches(t, &own, -z_early)};
}

static tenter_status follow(const telling *t, double share_sd, tenter_error *error) {
  fitted f;
  bool done = gather(t, &f);
  leaving_series series = {f.count, f.curve, f.y, f.variance, 1, share_sd};
  if (done && f.count == 1)
    t->curve->before = t->curve->after = judge__own_curve(&series, 0);
  t->curve->known = done && f.count > 0;
  done = done && test_leaving(t, &f, &series);
  if (done) {
    expect(t, &f);
    find_floor(t, &f, share_sd);
  }
  release(&f);
  return done ? TENTER_OK : tenter_fail_memory(error);
}

/* ---- what it has lost, and when it is spent ------------------------------------------------- */

void tenter_screen_tension_at(const tenter_screen_story *story, double age_hours, double *mean,
                              double *se) {
  const struct tenter_screen_curve *c = story->curve;
  *mean = NAN;
  if (se)
    *se = NAN;
  if (!c->known || !(age_hours > 0))
    return;
  const own_curve *own = age_hours < c->left_hours ? &c->before : &c->after;
  double x = curve_at(c, age_hours);
  *mean = own->a + own->k * x;
  if (se)
    *se = sqrt(fmax(0, own->var_a + 2 * x * own->cov + x * x * own->var_k));
}

/* By the forecast of the review; of a screen that is not in use by its own course, and so of the
 * tension before it left its law: the forecast goes back from the level that it has now. */
static void fill_ages(const telling *t) {
  static const double days[TENTER_SCREEN_AGES] = {1, 7, 30, 90};
  tenter_screen_story *story = t->story;
  story->share = t->curve->known ? t->curve->after.k : NAN;
  story->share_se = t->curve->known ? sqrt(t->curve->after.var_k) : NAN;
  for (size_t i = 0; i < TENTER_SCREEN_AGES; i++) {
    tenter_screen_age *age = &story->ages[i];
    double fall = curve_at(t->curve, first_hour) - curve_at(t->curve, 24 * days[i]);
    age->days = days[i];
    if (story->judged) {
      if (24 * days[i] < t->curve->left_hours && story->leaving.left)
        tenter_screen_tension_at(story, 24 * days[i], &age->tension, &age->tension_se);
      else
        tenter_review_tension_at(t->review, story->judged, 24 * days[i], &age->tension,
                                 &age->tension_se);
      tenter_review_loss_between(t->review, story->judged, first_hour, 24 * days[i], &age->loss,
                                 &age->loss_se);
      continue;
    }
    tenter_screen_tension_at(story, 24 * days[i], &age->tension, &age->tension_se);
    age->loss = story->share * fall;
    age->loss_se = story->share_se * fabs(fall);
  }
}

/* ---- next session --------------------------------------------------------------------------- */

static tenter_time next_due(const telling *t) {
  const tenter_review_screen *screen = t->story->judged;
  const tenter_settings *settings = t->j->settings;
  tenter_time now = t->j->shop->as_of;
  if (!screen)
    return TENTER_NO_TIME;
  if (screen->ageing == TENTER_AGEING_SETTLING && t->m->zero.at != TENTER_NO_TIME)
    return t->m->zero.at + (tenter_time)(settings->settling_hours * TENTER_HOUR);
  if (!screen->read || screen->action != TENTER_ACTION_USE)
    return now;
  tenter_time stale = (tenter_time)t->j->shop->sessions[screen->latest.session].taken +
                      (tenter_time)(settings->stale_days * TENTER_DAY);
  if (screen->forecast.early != TENTER_NO_TIME && screen->forecast.early < stale)
    stale = screen->forecast.early;
  return stale > now ? stale : now;
}

/* ---- all of it ------------------------------------------------------------------------------ */

size_t judge__story_mounting(const tenter_shop *shop, uint32_t screen) {
  const tenter_screen *s = &shop->screens[screen];
  return s->current != UINT32_MAX ? s->current : s->first_mounting + s->mounting_count - 1;
}

static int by_screen(const void *key, const void *element) {
  uint32_t screen = *(const uint32_t *)key;
  const tenter_review_screen *judged = element;
  return (screen > judged->screen) - (screen < judged->screen);
}

static const tenter_review_screen *find_judged(const tenter_review *review, uint32_t screen) {
  if (review->screen_count == 0)
    return NULL;
  return bsearch(&screen, review->screens, review->screen_count, sizeof *review->screens,
                 by_screen);
}

tenter_status judge__story(const tenter_review *review, uint32_t screen,
                           const tenter_screen_laws *lot, tenter_arena *arena,
                           tenter_screen_story **story, tenter_error *error) {
  telling t = {.review = review,
               .j = review->judged,
               .arena = arena,
               .story = tenter_arena_alloc(arena, 1, sizeof *t.story),
               .curve = tenter_arena_alloc(arena, 1, sizeof *t.curve)};
  if (!t.story || !t.curve)
    return tenter_fail_memory(error);
  t.story->screen = screen;
  t.story->curve = t.curve;
  t.curve->left_hours = INFINITY;
  t.story->judged = find_judged(review, screen);
  t.story->mounting = judge__story_mounting(review->shop, screen);
  t.m = &review->shop->mountings[t.story->mounting];
  double share_sd;
  t.curve->clock = t.j->population->clock;
  t.curve->loss = usual_loss(&t, &share_sd);
  set_laws(&t, lot);
  tenter_status status = list_sessions(&t, error);
  if (!status)
    status = judge__own_laws(t.j, judge__level_begin(t.j, t.m),
                             t.m->first_session + t.m->session_count, arena, &t.story->own, error);
  if (!status)
    status = follow(&t, share_sd, error);
  if (status)
    return status;
  fill_ages(&t);
  t.story->due = next_due(&t);
  *story = t.story;
  return TENTER_OK;
}
