/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The weeks of an invented shop: screens are stretched, printed, reclaimed, read once a week, and
 * stretched again some days after they were found too low. Draws stand in statements of their own:
 * the order of evaluation within one expression is the compiler's choice. */
#include "invent.h"

#include <gsl/gsl_randist.h>
#include <math.h>

/* Meshes and tensions as they are common in the trade (common practice, no source). */
const invented_mesh invented_meshes[4] = {{"49-70", 25, 20, 32, 0.045},
                                          {"77-55", 24, 19.2, 30, 0.050},
                                          {"120-34", 22, 17.6, 27, 0.055},
                                          {"150-31", 20, 16, 25, 0.060}};

static const char *const point_names[INVENT_POINTS] = {"centre", "NW", "NE", "SW", "SE"};
static const double point_x[INVENT_POINTS] = {0, -1, 1, -1, 1};

enum { RACKS = 5 };

static const double fast_factor = 1.7, corner_excess = 0.8, noise_at_20 = 0.25;

static double normal(invented_shop *s, double sd) {
  return gsl_ran_gaussian(s->rng, sd);
}

static size_t draw(invented_shop *s, double below) {
  return (size_t)gsl_rng_uniform_int(s->rng, (unsigned long)below);
}

static bool chance(invented_shop *s, double probability) {
  return gsl_rng_uniform(s->rng) < probability;
}

/* ---- truth ---------------------------------------------------------------------------------- */

double invented_tension(const invented_shop *s, const invented_screen *screen, tenter_time at) {
  double minutes = fmax(1, (double)(at - screen->zero) / 60), stop = s->plan->levels_off * 1440;
  if (stop > 0) /* a clock that runs down */
    minutes = minutes * stop / (minutes + stop);
  return screen->one_minute - screen->loss * log10(fmax(1, minutes)) - screen->lost;
}

double invented_bias(const invented_shop *s, size_t meter, tenter_time at) {
  bool last = meter + 1 == (size_t)s->plan->meters;
  return s->meter_bias[meter] + (last && at >= s->shift_at ? s->plan->shift : 0);
}

/* ---- rows ----------------------------------------------------------------------------------- */

static void add_time(tenter_buffer *out, tenter_time at) {
  char text[TENTER_TIME_SIZE];
  tenter_buffer_text(out, tenter_time_print(at, text));
}

static void add_event(invented_shop *s, size_t screen, tenter_time at, const char *what,
                      size_t count) {
  const invented_screen *c = &s->screens[screen];
  bool started = *what == 's';
  if (at < s->start)
    return;
  tenter_buffer_print(&s->events, "S-%05zu,", screen + 1);
  add_time(&s->events, at);
  tenter_buffer_print(&s->events, ",%s,", what);
  if (count > 0)
    tenter_buffer_print(&s->events, "%zu", count);
  if (started)
    tenter_buffer_print(&s->events, ",L%zu,%s,station %zu\n", c->lot + 1,
                        invented_meshes[c->mesh].name, c->station + 1);
  else
    tenter_buffer_text(&s->events, ",,,\n");
}

static void add_register(invented_shop *s, size_t screen, tenter_time stretched) {
  const invented_screen *c = &s->screens[screen];
  const invented_mesh *m = &invented_meshes[c->mesh];
  tenter_buffer_print(&s->reg, "S-%05zu,%s,L%zu,", screen + 1, m->name, c->lot + 1);
  add_time(&s->reg, stretched);
  tenter_buffer_print(&s->reg, ",%g,2,2,%g,%g,station %zu,rack %zu/%zu\n", m->target, m->floor,
                      m->maximum, c->station + 1, screen % RACKS + 1, screen / RACKS + 1);
}

/* ---- stretching ----------------------------------------------------------------------------- */

static size_t pick_lot(invented_shop *s, size_t mesh) {
  size_t lot;
  do
    lot = draw(s, s->plan->lots);
  while (s->lots[lot].mesh != mesh);
  return lot;
}

static void draw_pattern(invented_shop *s, invented_screen *c) {
  double sum = 0;
  for (size_t i = 0; i < INVENT_POINTS; i++) {
    c->pattern[i] = (i > 0 ? corner_excess : 0) + s->station_tilt[c->station] / 2 * point_x[i];
    c->pattern[i] += normal(s, 0.15);
    sum += c->pattern[i];
  }
  for (size_t i = 0; i < INVENT_POINTS; i++)
    c->pattern[i] -= sum / INVENT_POINTS;
  c->warp_minus_weft = 0.3;
  c->warp_minus_weft += normal(s, 0.25);
}

static void stretch(invented_shop *s, size_t screen, tenter_time at) {
  invented_screen *c = &s->screens[screen];
  const invented_mesh *m = &invented_meshes[c->mesh];
  c->lot = pick_lot(s, c->mesh);
  c->station = draw(s, s->plan->stations);
  c->zero = at + 40 * 60;
  double share = m->loss * s->lots[c->lot].factor * exp(normal(s, 0.15));
  double at_24h = m->target + 0.3 + normal(s, 0.5);
  c->one_minute = at_24h / (1 - share * log10(1440));
  c->loss = share * c->one_minute;
  c->lost = 0;
  c->printed = false;
  c->due = TENTER_NO_TIME;
  draw_pattern(s, c);
  add_event(s, screen, at, "stretched", 0);
  add_event(s, screen, c->zero, "glued", 0);
}

/* ---- reading -------------------------------------------------------------------------------- */

/* Returns the least that was read, and the mean. */
static double read_screen(invented_shop *s, size_t screen, tenter_time at, double *mean) {
  const invented_screen *c = &s->screens[screen];
  size_t meter = draw(s, s->plan->meters), who = draw(s, s->plan->operators);
  double common = invented_tension(s, c, at) + invented_bias(s, meter, at);
  double sum = 0, least = INFINITY;
  common += normal(s, 0.12);
  for (size_t i = 0; i < 2 * INVENT_POINTS; i++) {
    double value = common + c->pattern[i / 2] + (i % 2 ? -0.5 : 0.5) * c->warp_minus_weft;
    value += normal(s, noise_at_20 * value * value / 400);
    value = round(fmax(value, 1) * 10) / 10;
    sum += value;
    least = fmin(least, value);
    tenter_buffer_print(&s->readings, "S-%05zu,", screen + 1);
    add_time(&s->readings, at + (tenter_time)i * 10);
    tenter_buffer_print(&s->readings, ",%s,%s,meter %zu,operator %zu,%.1f\n", point_names[i / 2],
                        i % 2 ? "weft" : "warp", meter + 1, who + 1, value);
  }
  *mean = sum / (2 * INVENT_POINTS);
  return least;
}

/* What was found low, or low at one point, is stretched again within the week. */
static void read_on(invented_shop *s, size_t screen, tenter_time at) {
  invented_screen *c = &s->screens[screen];
  double mean, least = read_screen(s, screen, at, &mean), floor = invented_meshes[c->mesh].floor;
  if ((mean < floor + 0.3 || least < floor - 0.3) && c->due == TENTER_NO_TIME)
    c->due = at + (tenter_time)(2 + draw(s, 4)) * TENTER_DAY;
}

static void check_meters(invented_shop *s, tenter_time at) {
  static const double plates[] = {12, 20, 30};
  for (size_t meter = 0; meter < (size_t)s->plan->meters; meter++)
    for (size_t i = 0; i < sizeof plates / sizeof *plates; i++) {
      double shown = plates[i] + invented_bias(s, meter, at);
      shown += normal(s, 0.08);
      tenter_buffer_print(&s->checks, "meter %zu,", meter + 1);
      add_time(&s->checks, at);
      tenter_buffer_print(&s->checks, ",%g,%.1f\n", plates[i], shown);
    }
}

/* ---- work ----------------------------------------------------------------------------------- */

/* A job about every third week: coated, printed, reclaimed within three days. */
static void print_job(invented_shop *s, size_t screen, tenter_time day) {
  invented_screen *c = &s->screens[screen];
  if (day - c->zero < 2 * TENTER_DAY || !chance(s, 1 / 15.0))
    return;
  size_t count = 100 + 50 * draw(s, 40);
  add_event(s, screen, day + 13 * TENTER_HOUR, "coated", 0);
  add_event(s, screen, day + 15 * TENTER_HOUR, "printed", count);
  add_event(s, screen, day + 18 * TENTER_HOUR, "reclaimed", 0);
  c->lost += c->printed ? 0 : 0.015 * c->one_minute;
  c->printed = true;
  double worn = gsl_rng_uniform(s->rng);
  c->lost += 0.05 + 0.2 * worn * worn;
}

static void work_day(invented_shop *s, tenter_time day, size_t weekday) {
  for (size_t i = 0; i < (size_t)s->plan->screens; i++) {
    invented_screen *c = &s->screens[i];
    tenter_time reading = day + 7 * TENTER_HOUR + (tenter_time)(i / RACKS % 240) * 120;
    bool first = reading - c->zero >= TENTER_DAY && reading - c->zero < 2 * TENTER_DAY;
    if (c->due != TENTER_NO_TIME && c->due <= day)
      stretch(s, i, day + 9 * TENTER_HOUR);
    else if (first || (i % RACKS == weekday && chance(s, 0.92) && reading > c->zero))
      read_on(s, i, reading);
    print_job(s, i, day);
  }
}

/* Monday to Friday; racks in turn. */
static void work(invented_shop *s) {
  for (tenter_time day = s->start; day < s->end; day += TENTER_DAY) {
    size_t weekday = (size_t)((day - s->start) / TENTER_DAY % 7);
    if (weekday == 0)
      check_meters(s, day + 6 * TENTER_HOUR);
    if (weekday < RACKS)
      work_day(s, day, weekday);
  }
}

/* ---- the shop ------------------------------------------------------------------------------- */

/* Fast lots are spread over the meshes from the last on. */
static void furnish(invented_shop *s) {
  const invention *plan = s->plan;
  size_t lots = (size_t)plan->lots, meshes = (size_t)fmax(1, plan->meshes);
  for (size_t i = 0; i < lots; i++) {
    s->lots[i].mesh = i % meshes;
    s->lots[i].fast = lots - i <= (size_t)plan->fast;
    s->lots[i].factor = s->lots[i].fast ? fast_factor : exp(normal(s, 0.05));
  }
  for (size_t i = 0; i < (size_t)plan->meters; i++)
    s->meter_bias[i] = normal(s, 0.05);
  s->station_tilt[(size_t)plan->stations - 1] = plan->tilt;
  for (size_t i = 0; i < (size_t)plan->screens; i++) {
    s->screens[i].mesh = i % meshes;
    tenter_time ago = (tenter_time)(1 + draw(s, 60)) * TENTER_DAY;
    stretch(s, i, s->start - ago + 9 * TENTER_HOUR);
    add_register(s, i, s->start - ago + 9 * TENTER_HOUR);
  }
}

static bool make_room(invented_shop *s) {
  s->rng = gsl_rng_alloc(gsl_rng_mt19937);
  s->arena = tenter_arena_new();
  if (!s->rng || !s->arena)
    return false;
  gsl_rng_set(s->rng, (unsigned long)s->plan->seed);
  s->lots = tenter_arena_alloc(s->arena, (size_t)s->plan->lots, sizeof *s->lots);
  s->screens = tenter_arena_alloc(s->arena, (size_t)s->plan->screens, sizeof *s->screens);
  s->meter_bias = tenter_arena_alloc(s->arena, (size_t)s->plan->meters, sizeof *s->meter_bias);
  s->station_tilt = tenter_arena_alloc(s->arena, (size_t)s->plan->stations, sizeof(double));
  return s->lots && s->screens && s->meter_bias && s->station_tilt;
}

tenter_status invent(const invention *plan, invented_shop *s, tenter_error *error) {
  static const tenter_date last = {2026, 6, 29, 0, 0, 0}; /* a Monday: the shop ends before it */
  *s = (invented_shop){.plan = plan, .end = tenter_time_of(&last)};
  s->start = s->end - (tenter_time)plan->weeks * TENTER_WEEK;
  s->shift_at = s->end - (tenter_time)plan->shift_weeks * TENTER_WEEK;
  if (!make_room(s))
    return tenter_fail_memory(error);
  tenter_buffer_text(&s->readings, "screen,taken,position,direction,meter,operator,tension\n");
  tenter_buffer_text(&s->reg, "screen,mesh,lot,stretched,target,minus,plus,floor,maximum,station,"
                              "place\n");
  tenter_buffer_text(&s->events, "screen,at,event,count,lot,mesh,station\n");
  tenter_buffer_text(&s->checks, "meter,at,nominal,indicated\n");
  furnish(s);
  work(s);
  bool failed = s->readings.failed || s->reg.failed || s->events.failed || s->checks.failed;
  return failed ? tenter_fail_memory(error) : TENTER_OK;
}

void invented_release(invented_shop *s) {
  tenter_buffer_release(&s->readings);
  tenter_buffer_release(&s->reg);
  tenter_buffer_release(&s->events);
  tenter_buffer_release(&s->checks);
  tenter_arena_free(s->arena);
  if (s->rng)
    gsl_rng_free(s->rng);
}
