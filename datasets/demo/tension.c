/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the mesh of the demo shop does, and what a meter shows of it.
 *
 * On purpose this is not the model the review fits: the loss is a share of
 * each mounting's own one-minute tension, later tensions of one piece of mesh
 * lose less, first prints and reclaims take steps, reading noise grows with
 * the square of the tension and has heavy tails, and each mounting has a fixed
 * pattern of its own. */
#include "demo.h"

#include <gsl/gsl_randist.h>
#include <math.h>

double draw_normal(shop *s, double sd) {
  return gsl_ran_gaussian(s->rng, sd);
}

double draw_uniform(shop *s, double low, double high) {
  return low + (high - low) * gsl_rng_uniform(s->rng);
}

int draw_int(shop *s, int below) {
  return (int)gsl_rng_uniform_int(s->rng, (unsigned long)below);
}

bool chance(shop *s, double probability) {
  return gsl_rng_uniform(s->rng) < probability;
}

/* Student's t with 8 degrees of freedom, brought to standard deviation SD;
 * 0.8660254038 is the square root of (8 - 2) / 8. */
static double draw_heavy(shop *s, double sd) {
  return sd * 0.8660254038 * gsl_ran_tdist(s->rng, 8.0);
}

static double decades(long minutes) {
  return log((double)(minutes < 1 ? 1 : minutes)) / log(10.0);
}

double true_mean(const mounting *m, long at) {
  return m->one_minute - m->loss * decades(at - m->zero) - m->dropped;
}

double meter_bias(int which, long at) {
  const long from = DRIFT_DAY * (long)DAY, to = (LAST_DAY + 1) * (long)DAY;
  double share = at <= from ? 0.0 : (double)(at - from) / (double)(to - from);
  return meters[which].bias + meters[which].drift * share;
}

/* --- mountings --- */

/* Screens with a story, and colour sets, are cut from an ordinary lot. */
static bool wants_ordinary_lot(const screen *c) {
  return c->role != ROLE_NONE || c->set;
}

static int pick_lot(shop *s, const screen *c, int day) {
  int open[3 * LOTS], n = 0;
  for (int i = 0; i < LOTS; i++) {
    if (lots[i].mesh != c->mesh || day < lots[i].first_day || day > lots[i].last_day)
      continue;
    int rolls = !lots[i].fast ? 1 : wants_ordinary_lot(c) ? 0 : 3; /* the big roll is at hand */
    while (rolls-- > 0)
      open[n++] = i;
  }
  return open[draw_int(s, n)];
}

static int pick_station(shop *s) {
  double u = draw_uniform(s, 0.0, 1.0);
  return u < 0.42 ? 0 : u < 0.62 ? 1 : 2;
}

/* Loss as a share of the one-minute tension, with what the lot, the mounting
 * and the earlier tensions of the same mesh do to it. */
static double draw_loss_share(shop *s, const screen *c, const mounting *m) {
  static const double hardened[] = {1.0, 0.88, 0.80, 0.76};
  int tensions = m->number > 4 ? 4 : m->number;
  double share = meshes[c->mesh].loss * lots[m->lot].factor * hardened[tensions - 1];
  double own = exp(draw_normal(s, 0.15));
  /* The odd set is to differ by its age, and its oldest to stay over the floor. */
  return c->role == ROLE_ODD_IN_SET || c->role == ROLE_IN_ODD_SET ? meshes[c->mesh].loss
                                                                  : share * own;
}

/* Tension at 24 h. Nobody compensates fully for a lot that lets go more. */
static double draw_at_24h(shop *s, const screen *c, const mounting *m, double share) {
  const mesh *h = &meshes[c->mesh];
  double short_of = 1.2 * (share / h->loss - 1.0);
  double level = h->target + 0.35 - (short_of > 0 ? short_of : 0.0);
  level += draw_normal(s, c->set ? 0.3 : 0.5);
  long day = m->stretched / DAY;
  if (c->role == ROLE_OVER_MAXIMUM && day > 300)
    level = h->maximum + 3.0;
  if (c->role == ROLE_ODD_IN_SET && day > 200)
    level = h->target - 0.8;
  if (c->role == ROLE_IN_ODD_SET && day > 300)
    level += 0.9;
  if (c->role == ROLE_SLIP && day > 250)
    level = h->target + 1.3;
  return level;
}

static void centre_pattern(mounting *m, int positions) {
  double sum = 0.0;
  for (int i = 0; i < positions; i++)
    sum += m->pattern[i];
  for (int i = 0; i < positions; i++)
    m->pattern[i] -= sum / positions;
}

static void draw_pattern(shop *s, const screen *c, mounting *m) {
  double tilt = station_east_minus_west[m->station] / 2;
  for (int i = 0; i < POSITIONS; i++) {
    double corner = i == 0 ? 0.0 : i <= 4 ? corner_minus_centre : corner_minus_centre / 2;
    m->pattern[i] = corner + tilt * position_x[i] + draw_normal(s, 0.15);
  }
  centre_pattern(m, c->positions);
  m->warp_minus_weft = 0.3 + draw_normal(s, 0.25);
  if (c->role == ROLE_SWAPPED)
    m->warp_minus_weft = 1.6;
}

int start_mounting(shop *s, int which, long stretched, long zero, bool new_mesh) {
  screen *c = &s->screens[which];
  s->mountings = grow(s->mountings, s->n_mountings, sizeof *s->mountings);
  mounting *m = &s->mountings[s->n_mountings];
  const mounting *before = c->mounting < 0 ? NULL : &s->mountings[c->mounting];
  *m = (mounting){.screen = which, .stretched = stretched, .zero = zero, .ended = -1};
  m->number = new_mesh || !before ? 1 : before->number + 1;
  m->lot = new_mesh || !before ? pick_lot(s, c, (int)(stretched / DAY)) : before->lot;
  m->station = pick_station(s);
  m->who = draw_int(s, OPERATORS);
  double share = draw_loss_share(s, c, m);
  m->at_24h = draw_at_24h(s, c, m, share);
  m->one_minute = m->at_24h / (1.0 - share * decades(DAY));
  m->loss = share * m->one_minute;
  draw_pattern(s, c, m);
  if (c->mounting >= 0)
    s->mountings[c->mounting].ended = stretched;
  c->mounting = (int)s->n_mountings;
  return (int)s->n_mountings++;
}

/* The bond lets go at the south-west corner of a five-point screen. */
void slip(mounting *m) {
  static const double step[5] = {-1.2, -1.8, -1.0, -4.2, -1.8};
  m->dropped += 2.0;
  for (int i = 0; i < 5; i++)
    m->pattern[i] += step[i] + 2.0;
}

/* --- readings --- */

static int to_hundredths(double value, double resolution) {
  return (int)(floor(value / resolution + 0.5) * resolution * 100.0 + 0.5);
}

/* 22.5 written as 2.25, or as 25.2. Now and then, and not known to the shop. */
static int misread(shop *s, int meant) {
  if (chance(s, 0.35))
    return meant / 10;
  int ones = meant / 100 % 10, tenths = meant / 10 % 10;
  return meant / 1000 * 1000 + tenths * 100 + ones * 10;
}

static double draw_reading(shop *s, const mounting *m, int position, int direction, double common) {
  double side = direction == 0 ? 0.5 : -0.5;
  double value = common + m->pattern[position] + side * m->warp_minus_weft;
  return value + draw_heavy(s, noise_at_20 * value * value / 400.0);
}

/* The screens of the fresh order are read with care. */
static void read_points(shop *s, session *t, const mounting *m, double common, int points) {
  bool for_certificate = s->screens[t->screen].role == ROLE_ORDER && t->at / DAY > 300;
  for (int i = 0; i < points; i++) {
    int position = i / 2, direction = i % 2;
    double value = draw_reading(s, m, position, direction, common);
    t->position[i] = position;
    t->direction[i] = direction;
    t->meant[i] = t->shown[i] = to_hundredths(value, meters[t->meter].resolution);
    if (chance(s, 0.0012) && !for_certificate)
      t->shown[i] = misread(s, t->meant[i]);
  }
  t->n = points;
}

session *measure(shop *s, int which, long at, int meter_used, int who, place_read where) {
  const screen *c = &s->screens[which];
  const mounting *m = &s->mountings[c->mounting];
  s->sessions = grow(s->sessions, s->n_sessions, sizeof *s->sessions);
  session *t = &s->sessions[s->n_sessions++];
  *t = (session){.screen = which, .mounting = c->mounting, .meter = meter_used, .at = at};
  t->who = who;
  t->where = where;
  t->typed = at;
  double common = true_mean(m, at) + meter_bias(meter_used, at) + operator_bias[who];
  if (where == FILE_GAUGE) {
    read_points(s, t, m, common, 1);
    t->shown[0] = t->meant[0];
  } else {
    read_points(s, t, m, common + draw_heavy(s, 0.15), 2 * c->positions);
  }
  return t;
}

double shown_mean(const session *t) {
  int sum = 0;
  for (int i = 0; i < t->n; i++)
    sum += t->meant[i];
  return sum / (100.0 * t->n);
}

int shown_least(const session *t) {
  int least = t->meant[0];
  for (int i = 1; i < t->n; i++)
    least = t->meant[i] < least ? t->meant[i] : least;
  return least;
}
