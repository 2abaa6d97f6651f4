/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Half a year of work in the demo shop, day by day: screens are stretched,
 * printed, reclaimed, read on a weekly round when they are on the rack, read
 * again when they looked low, and stretched again some days after they were
 * found too low. Days before the first reading run the same way, unread. */
#include "demo.h"

#include <math.h>

enum { HISTORY_DAY = 50, STRETCHES_A_DAY = 4, SHORT_HANDED_DAY = 297, RACKS = 8 };

typedef struct {
  int meter[RACKS], who[RACKS];
} duty; /* who reads which rack today, and with what */

static int weekday(int day) { /* 0 Monday; 2026-01-01 was a Thursday */
  return (day + 3) % 7;
}

static long clock_at(int day, int hour, int minute) {
  return day * (long)DAY + hour * 60 + minute;
}

void log_event(shop *s, event e) {
  int day = (int)(e.at / DAY);
  if (day < LOG_DAY || day > LAST_DAY)
    return;
  s->events = grow(s->events, s->n_events, sizeof *s->events);
  e.order = (int)s->n_events;
  s->events[s->n_events++] = e;
}

/* Draws stand in statements of their own throughout: the order of evaluation
 * within one expression is the compiler's choice. */
static void log_counted(shop *s, int which, long at, const char *what, int count) {
  int who = draw_int(s, OPERATORS);
  log_event(s, (event){.screen = which,
                       .at = at,
                       .what = what,
                       .count = count,
                       .lot = -1,
                       .mesh = -1,
                       .station = -1,
                       .who = who});
}

static void log_plain(shop *s, int which, long at, const char *what) {
  log_counted(s, which, at, what, -1);
}

/* --- stretching --- */

/* In the first weeks of the log some starts were written down by date only. */
static bool by_date_only(int which, long at) {
  return at < 105 * (long)DAY && which % 3 == 0;
}

static void log_start(shop *s, const mounting *m, long at, const char *what, bool with_lot) {
  const screen *c = &s->screens[m->screen];
  log_event(s, (event){.screen = m->screen,
                       .at = at,
                       .what = what,
                       .count = -1,
                       .lot = with_lot && c->role != ROLE_TWO_LOTS ? m->lot : -1,
                       .mesh = with_lot ? c->mesh : -1,
                       .station = m->station,
                       .who = m->who,
                       .date_only = by_date_only(m->screen, at)});
}

/* The first readings after a stretch: within the hours, and a day later. */
static void plan_first_readings(shop *s, screen *c, const mounting *m) {
  c->planned[0] = c->planned[1] = c->planned[2] = 0;
  if (c->role == ROLE_NEVER_READ && m->stretched / DAY > 300)
    return;
  if (chance(s, 0.6) || c->role == ROLE_SETTLING)
    c->planned[0] = m->zero + 40 + draw_int(s, 80);
  if (chance(s, 0.94))
    c->planned[1] = m->zero + DAY + 15 + draw_int(s, 150);
  if (c->planned[1] && weekday((int)(c->planned[1] / DAY)) == 6)
    c->planned[1] += DAY;
  if (c->role == ROLE_ORDER && m->stretched / DAY > 300)
    c->planned[1] = clock_at(LAST_DAY, 9, c->slot * 7);
}

static void stretch(shop *s, int which, int day, bool logged) {
  screen *c = &s->screens[which];
  const mounting *before = c->mounting < 0 ? NULL : &s->mountings[c->mounting];
  bool again = c->retensionable && before && before->number < 4;
  const char *what = again ? "retensioned" : c->retensionable && before ? "remeshed" : "stretched";
  long at = clock_at(day, 8, 30) + draw_int(s, 240);
  long zero = c->retensionable ? at : at + 25 + draw_int(s, 45);
  int begun = start_mounting(s, which, at, zero, !again);
  mounting *m = &s->mountings[begun];
  bool with_lot = !again && !(at < 105 * (long)DAY && chance(s, 0.3));
  m->logged = logged && day >= LOG_DAY;
  c->due_day = -1;
  if (logged) {
    bool staged = !again && chance(s, 0.15);
    long first_stage = staged ? at - 40 - draw_int(s, 60) : at;
    if (staged && !by_date_only(which, at)) /* two equal rows would say nothing */
      log_start(s, m, first_stage, what, with_lot);
    log_start(s, m, at, what, with_lot);
    if (!c->retensionable)
      log_start(s, m, zero, "glued", false);
  }
  plan_first_readings(s, c, m);
}

static void stretch_due(shop *s, int day) {
  int done = 0;
  for (int i = 0; i < SCREENS && done < STRETCHES_A_DAY; i++) {
    screen *c = &s->screens[i];
    if (c->due_day < 0 || c->due_day > day || c->mounting < 0 || c->press_until >= day)
      continue;
    stretch(s, i, day, true);
    done++;
  }
}

static bool held(const screen *c, int day) {
  switch (c->role) {
  case ROLE_UNKNOWN_STRETCH:
    return true;
  case ROLE_ODD_IN_SET:
    return day > 200;
  case ROLE_UNLOGGED:
    return day < 270;
  case ROLE_SLIP:
  case ROLE_STALE:
    return day > 220;
  case ROLE_IN_ODD_SET:
  case ROLE_OVER_MAXIMUM:
  case ROLE_NEVER_READ:
  case ROLE_SETTLING:
  case ROLE_ORDER:
    return day > 295;
  default:
    return false;
  }
}

/* A set is stretched together, so that its screens agree. From 26 October on
 * the bench is short of hands, and what is low waits a week longer. */
static void make_due(shop *s, screen *c, int day) {
  int due = day + 2 + draw_int(s, 5) + (day > SHORT_HANDED_DAY ? 7 : 0);
  if (c->due_day >= 0 || held(c, day))
    return;
  c->due_day = due;
  for (int i = 0; c->set && i < SCREENS; i++)
    if (s->screens[i].set == c->set && s->screens[i].due_day < 0 && !held(&s->screens[i], day))
      s->screens[i].due_day = due;
}

/* --- what was arranged --- */

static void end_life(shop *s, int which, int day, const char *what) {
  screen *c = &s->screens[which];
  log_plain(s, which, clock_at(day, 11, 20), what);
  s->mountings[c->mounting].ended = clock_at(day, 11, 20);
  c->mounting = c->press_until = c->due_day = -1;
}

/* The mesh burst two days ago: a new piece on the same frame. */
static void remesh(shop *s, int which, int day) {
  long at = clock_at(day, 9, 15);
  int begun = start_mounting(s, which, at, at, true);
  mounting *m = &s->mountings[begun];
  m->logged = true;
  log_start(s, m, at, "remeshed", true);
  plan_first_readings(s, &s->screens[which], m);
}

typedef enum { DO_STRETCH, DO_UNLOGGED, DO_BURST, DO_REMESH, DO_RETIRE } arranged;

static const struct {
  int number, day;
  arranged what;
} plan[] = {
    {7, 235, DO_UNLOGGED},  {12, 272, DO_RETIRE},   {23, 270, DO_STRETCH},  {36, 305, DO_STRETCH},
    {37, 305, DO_STRETCH},  {38, 221, DO_STRETCH},  {39, 305, DO_STRETCH},  {41, 312, DO_STRETCH},
    {45, 257, DO_BURST},    {52, 314, DO_STRETCH},  {70, 249, DO_STRETCH},  {85, 200, DO_BURST},
    {85, 202, DO_REMESH},   {93, 318, DO_STRETCH},  {118, 215, DO_STRETCH}, {100, 315, DO_STRETCH},
    {101, 315, DO_STRETCH}, {102, 315, DO_STRETCH}, {103, 315, DO_STRETCH}, {104, 315, DO_STRETCH},
    {105, 315, DO_STRETCH}, {106, 316, DO_STRETCH}, {107, 316, DO_STRETCH}, {108, 316, DO_STRETCH},
    {109, 316, DO_STRETCH}, {110, 316, DO_STRETCH}, {111, 316, DO_STRETCH},
};

static void do_arranged(shop *s, int day) {
  for (size_t i = 0; i < sizeof plan / sizeof *plan; i++) {
    int which = plan[i].number - 1;
    if (plan[i].day != day)
      continue;
    if (plan[i].what == DO_STRETCH || plan[i].what == DO_UNLOGGED)
      stretch(s, which, day, plan[i].what == DO_STRETCH);
    if (plan[i].what == DO_BURST)
      end_life(s, which, day, "burst");
    if (plan[i].what == DO_RETIRE)
      end_life(s, which, day, "retired");
    if (plan[i].what == DO_REMESH)
      remesh(s, which, day);
  }
}

/* No job runs into something arranged. */
static bool arranged_soon(int which, int day) {
  for (size_t i = 0; i < sizeof plan / sizeof *plan; i++)
    if (plan[i].number == which + 1 && plan[i].day >= day && plan[i].day <= day + 8)
      return true;
  return false;
}

/* --- jobs on press --- */

static void log_job(shop *s, int which, int day, int reclaimed) {
  if (chance(s, 0.3))
    log_plain(s, which, clock_at(day, 12, 30), "degreased");
  log_plain(s, which, clock_at(day, 13, draw_int(s, 60)), "coated");
  if (chance(s, 0.2))
    log_plain(s, which, clock_at(day, 15, 30), "exposed");
  long printed = clock_at(day + 1, 9, draw_int(s, 120));
  int count = 150 + 50 * draw_int(s, 60);
  log_counted(s, which, printed, "printed", count);
  log_plain(s, which, clock_at(reclaimed, 14, draw_int(s, 90)), "reclaimed");
  if (chance(s, 0.15))
    log_plain(s, which, clock_at(reclaimed, 16, 10), "haze_removed");
}

static bool may_work(const shop *s, int which, int day) {
  const screen *c = &s->screens[which];
  if (c->mounting < 0 || c->press_until >= day || c->due_day >= 0 || arranged_soon(which, day))
    return false;
  bool fresh_order = c->role == ROLE_ORDER && day > 295;
  return !fresh_order && c->role != ROLE_UNKNOWN_STRETCH &&
         clock_at(day, 13, 0) - s->mountings[c->mounting].zero > DAY + DAY / 2;
}

static void start_job(shop *s, int which, int day) {
  screen *c = &s->screens[which];
  int reclaimed = day + 2 + draw_int(s, 3);
  if (weekday(day + 1) == 6)
    return;
  reclaimed += weekday(reclaimed) == 6;
  log_job(s, which, day, reclaimed);
  c->printed_day = day + 1;
  c->press_until = reclaimed;
}

/* The first print on a piece of mesh costs 1 to 2 % of its tension, a reclaim
 * 0.2 to 0.6 N/cm, more often little than much. */
static void wear(shop *s, screen *c, int day) {
  mounting *m = &s->mountings[c->mounting];
  if (c->printed_day == day && !m->printed) {
    m->dropped += m->at_24h * draw_uniform(s, 0.01, 0.02) * (m->number > 1 ? 0.4 : 1.0);
    m->printed = true;
  }
  if (c->press_until == day) {
    double u = draw_uniform(s, 0.0, 1.0);
    m->dropped += 0.2 + 0.4 * u * u;
  }
}

static void do_jobs(shop *s, int day) {
  for (int i = 0; i < SCREENS; i++) {
    screen *c = &s->screens[i];
    if (c->mounting >= 0)
      wear(s, c, day);
    if (weekday(day) != 6 && chance(s, 7.0 / 6.0 / c->gap_days) && may_work(s, i, day))
      start_job(s, i, day);
  }
}

/* --- reading --- */

/* A screen that looks low is looked at again sooner, at the press. */
static void think_about(shop *s, screen *c, const session *t, int day) {
  double floor_here = meshes[c->mesh].floor, mean = shown_mean(t);
  if (mean < floor_here || shown_least(t) < (int)(100.0 * floor_here) - 60)
    make_due(s, c, day);
  else if (mean < floor_here + 0.9 && chance(s, 0.5))
    c->planned[2] = t->at + (1 + draw_int(s, 3)) * (long)DAY + 90;
}

/* Some sessions have a story of their own. */
static void tell_story(shop *s, screen *c, session *t, int day) {
  if (c->role == ROLE_SWAPPED && day >= 285 && !c->told && t->where == FILE_RACK)
    t->swapped = c->told = true;
  if (c->role == ROLE_TYPED_EARLY && day == 216)
    t->typed = t->at - 2 * (long)DAY;
  if (chance(s, 0.02))
    t->note = chance(s, 0.5) ? "washed, still damp at one side" : "label says \"do not lean\"";
}

static void read_now(shop *s, int which, long at, const duty *d, place_read where) {
  screen *c = &s->screens[which];
  int day = (int)(at / DAY), rack = c->rack;
  bool extra = where == FILE_PRESS;
  if (day < FIRST_DAY || (c->role == ROLE_STALE && day > 288))
    return;
  if (c->positions == 9 && chance(s, 0.3))
    where = FILE_PRESS;
  if (c->role == ROLE_SLIP && day >= SLIP_DAY && s->mountings[c->mounting].dropped < 2.0)
    slip(&s->mountings[c->mounting]);
  int meter_used = extra ? draw_int(s, METERS) : d->meter[rack];
  int who = extra ? draw_int(s, OPERATORS) : d->who[rack];
  session *t = measure(s, which, at, meter_used, who, where);
  tell_story(s, c, t, day);
  think_about(s, c, t, day);
}

static bool read_planned(shop *s, int which, int day, const duty *d) {
  screen *c = &s->screens[which];
  bool any = false;
  for (int k = 0; k < 3; k++) {
    long at = c->planned[k];
    if (at == 0 || at / DAY > day)
      continue;
    c->planned[k] = 0;
    if (at / DAY == day && c->press_until < day && c->mounting >= 0) {
      read_now(s, which, at, d, k == 2 ? FILE_PRESS : FILE_RACK);
      any = true;
    }
  }
  return any;
}

static void do_readings(shop *s, int day, const duty *d) {
  for (int i = 0; i < SCREENS; i++) {
    screen *c = &s->screens[i];
    bool round = weekday(day) == c->rack % 4 && chance(s, 0.78);
    round = round || (weekday(day) == 4 && chance(s, 0.12));
    if (read_planned(s, i, day, d) || !round || c->mounting < 0 || c->press_until >= day)
      continue;
    if (clock_at(day, 7, 30) - s->mountings[c->mounting].zero > DAY &&
        !(c->role == ROLE_ORDER && day > 312))
      read_now(s, i, clock_at(day, 7, 40) + c->slot * 8, d, FILE_RACK);
  }
}

/* Ten screens, three operators, three trials, one afternoon, one meter. */
static void study_gauge(shop *s, int day) {
  static const int chosen[10] = {3, 9, 33, 38, 47, 56, 69, 72, 95, 113};
  static const int order[9] = {0, 1, 2, 2, 0, 1, 1, 2, 0};
  for (int pass = 0; pass < 9; pass++)
    for (int k = 0; k < 10; k++) {
      if (s->screens[chosen[k] - 1].mounting < 0)
        continue;
      long at = clock_at(day, 13, 0) + pass * 20 + k * 2;
      measure(s, chosen[k] - 1, at, 0, order[pass], FILE_GAUGE)->trial = pass / 3 + 1;
    }
}

static int to_step(double value, double step) {
  return (int)(floor(value / step + 0.5) * step * 100.0 + 0.5);
}

static void check_meters(shop *s, int day) {
  static const int plates[3] = {12, 20, 30};
  for (int i = 0; i < METERS; i++) {
    if (chance(s, 0.08) && day < DRIFT_DAY)
      continue;
    int who = draw_int(s, OPERATORS);
    for (int k = 0; k < 3; k++) {
      double shown = plates[k] + meter_bias(i, clock_at(day, 8, 0)) + draw_normal(s, 0.08);
      s->checks = grow(s->checks, s->n_checks, sizeof *s->checks);
      s->checks[s->n_checks++] =
          (plate_check){i, who, 100 * plates[k], to_step(shown, meters[i].resolution), day};
    }
  }
}

/* --- the calendar --- */

static bool starts_late(role r) {
  return r == ROLE_TYPED_EARLY;
}

/* Each screen's first stretch of the year; a set's on one day. */
static void first_stretches(shop *s, int first[SCREENS]) {
  for (int i = 0; i < SCREENS; i++) {
    const screen *c = &s->screens[i];
    first[i] = HISTORY_DAY + draw_int(s, FIRST_DAY - 3 - HISTORY_DAY);
    if (c->role == ROLE_UNKNOWN_STRETCH)
      first[i] = 96;
    if (i > 0 && c->set && s->screens[i - 1].set == c->set)
      first[i] = first[i - 1];
    first[i] -= weekday(first[i]) == 6;
  }
}

static void begin_lives(shop *s, const int first[SCREENS], int day) {
  for (int i = 0; i < SCREENS; i++)
    if (first[i] == day && !starts_late(s->screens[i].role))
      stretch(s, i, day, s->screens[i].role != ROLE_UNKNOWN_STRETCH);
}

void run_weeks(shop *s) {
  int first[SCREENS];
  first_stretches(s, first);
  for (int day = HISTORY_DAY - 1; day <= LAST_DAY; day++) {
    duty today;
    for (int r = 0; r < RACKS; r++) {
      today.meter[r] = draw_int(s, METERS);
      if (day == LAST_DAY) /* the order's screens: the meter with the least to explain */
        today.meter[r] = 0;
      today.who[r] = draw_int(s, OPERATORS);
    }
    begin_lives(s, first, day);
    do_arranged(s, day);
    if (weekday(day) != 6)
      stretch_due(s, day);
    do_jobs(s, day);
    if (day >= FIRST_DAY && weekday(day) == 0)
      check_meters(s, day);
    if (weekday(day) != 6 || day == LAST_DAY)
      do_readings(s, day, &today);
    if (day == 250)
      study_gauge(s, day);
  }
}
