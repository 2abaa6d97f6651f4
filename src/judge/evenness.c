/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Evenness of the true tensions (methods: tolerance, evenness, maximum): the greatest of many
 * differences is large by luck alone, so limits are asked of what the readings leave of each
 * point, all points together.
 *
 * Model, point p of one screen: reading = session + pattern_p + own_p + noise, own_p ~ N(0, s^2).
 * The usual pattern of the mesh is the prior's mean where enough screens taught it. How far this
 * screen's points differ from it, s, is not known: it is averaged over a grid, each s weighted by
 * what the shop's screens are like and by how well it explains this screen. So the points of an
 * even screen borrow evenness from each other, and one slack corner is not talked away. Given s the
 * posterior is normal; the mixture is replaced by the normal of its mean and variance.
 *
 * The latest session counts in full; up to four before it with the same points, read since the
 * last break, sharpen it, unless the latest differs from them by more than noise. */
#include "evenness.h"

#include "tenter/base/alloc.h"

enum { SESSIONS_BEFORE = 4, SCALES = 7, POINTS_LIMITS = 2 };

static const double scales[SCALES] = {0.05, 0.15, 0.3, 0.6, 1.2, 2.4, 4.8}; /* N/cm, of s */
static const double usual_scale = 0.4; /* where the shop's screens have not taught it */
static const double scale_doubt = 1.0; /* of log s, about the learned one; else twice that */
static const double beyond_chance = 4; /* sd's by which a point has changed */
static const double decided = 0.95; /* chance of conformity from which it is even; 1 - it, uneven */

bool judge__evenness_new(const judge *j, evenness_room *room) {
  size_t count = (j->tables->position_count + 1) * TENTER_DIRECTIONS;
  *room = (evenness_room){.place = tenter_alloc(count, sizeof *room->place),
                          .states = tenter_alloc(count, sizeof *room->states),
                          .numbers = tenter_alloc(POINTS_LIMITS * count, sizeof *room->numbers)};
  return judge__points_new(j, &room->points) && room->place && room->states && room->numbers;
}

void judge__evenness_release(evenness_room *room) {
  judge__points_release(&room->points);
  tenter_free(room->place);
  tenter_free(room->states);
  tenter_free(room->numbers);
  *room = (evenness_room){0};
}

/* ---- the data of the points ----------------------------------------------------------------- */

static point_state *state_of(evenness_room *room, uint32_t point) {
  if (!room->place[point]) {
    room->states[room->count] = (point_state){.point = point};
    room->place[point] = (uint32_t)++room->count;
  }
  return &room->states[room->place[point] - 1];
}

static void clear(evenness_room *room) {
  for (size_t i = 0; i < room->count; i++)
    room->place[room->states[i].point] = 0;
  room->count = 0;
}

/* Adds a session's points about its adjusted mean. */
static void add_session(const judge *j, evenness_room *room, size_t session, bool latest,
                        const session_doubt *d) {
  judge__points_gather(j, session, &room->points);
  double level = j->sessions[session].adjusted;
  for (size_t i = 0; i < room->points.count; i++) {
    const point_mean *p = &room->points.items[i];
    if (latest && d->kind == DOUBT_DIGIT && d->reading == p->reading)
      continue; /* what looks misread tells nothing of the mesh */
    point_state *s = state_of(room, p->point);
    if (latest) {
      s->sum += p->count * (p->mean - level);
      s->count += p->count;
    } else {
      s->past += p->count * (p->mean - level);
      s->past_count += p->count;
    }
  }
}

/* Readings of the same meter only. */
static bool comparable(const judge *j, size_t session, size_t latest) {
  const tenter_session *a = &j->shop->sessions[session], *b = &j->shop->sessions[latest];
  return a->meter == b->meter && a->full && !(j->sessions[session].state & SESSION_MISREAD);
}

static void gather(const judge *j, const tenter_mounting *m, size_t latest, evenness_room *room,
                   const session_doubt *d) {
  clear(room);
  add_session(j, room, latest, true, d);
  size_t begin = judge__level_begin(j, m), used = 0;
  for (size_t i = latest; i-- > begin && used < SESSIONS_BEFORE;)
    if (comparable(j, i, latest)) {
      add_session(j, room, i, false, d);
      used++;
    }
}

/* The latest session against those before it: any point, or all together. */
static bool has_changed(const evenness_room *room, double reading_sd) {
  double squares = 0, compared = 0, most = 0;
  for (size_t i = 0; i < room->count; i++) {
    const point_state *s = &room->states[i];
    if (s->count == 0 || s->past_count == 0)
      continue;
    double off = s->sum / s->count - s->past / s->past_count;
    double z = fabs(off) / (reading_sd * sqrt(1 / s->count + 1 / s->past_count));
    squares += z * z;
    most = fmax(most, z);
    compared++;
  }
  return most > beyond_chance || squares > compared + beyond_chance * sqrt(2 * compared);
}

/* ---- the posterior of the points ------------------------------------------------------------ */

typedef struct prior {
  double log_weight[SCALES];
  bool learned; /* the mesh's pattern is the mean */
} prior;

static prior prior_of(const judge *j, uint32_t slot) {
  prior p;
  double own = judge__screen_point_sd(j, slot);
  p.learned = judge__pattern_learned(j, slot);
  double centre = isnan(own) ? usual_scale : fmax(own, scales[0]);
  double doubt = isnan(own) ? 2 * scale_doubt : scale_doubt;
  for (int k = 0; k < SCALES; k++)
    p.log_weight[k] = -squared(log(scales[k] / centre) / doubt) / 2;
  return p;
}

/* Posterior mean and variance of every point's deviation. */
static void infer(const judge *j, uint32_t slot, const prior *p, double reading_sd, bool past,
                  evenness_room *room) {
  double log_weight[SCALES], most = -INFINITY, total = 0;
  double noise = squared(reading_sd);
  for (int k = 0; k < SCALES; k++) {
    log_weight[k] = p->log_weight[k];
    for (size_t i = 0; i < room->count; i++) {
      const point_state *s = &room->states[i];
      double n = s->count + (past ? s->past_count : 0);
      if (n == 0)
        continue;
      double usual = p->learned ? judge__effect(j, slot, s->point) : 0;
      double off = (s->sum + (past ? s->past : 0)) / n - usual;
      double variance = squared(scales[k]) + noise / n;
      log_weight[k] -= (off * off / variance + log(variance)) / 2;
    }
    most = fmax(most, log_weight[k]);
  }
  for (int k = 0; k < SCALES; k++)
    total += log_weight[k] = exp(log_weight[k] - most);
  for (size_t i = 0; i < room->count; i++) {
    point_state *s = &room->states[i];
    double n = s->count + (past ? s->past_count : 0), mean = 0, square = 0;
    double usual = p->learned ? judge__effect(j, slot, s->point) : 0;
    double off = n > 0 ? (s->sum + (past ? s->past : 0)) / n - usual : 0;
    for (int k = 0; k < SCALES; k++) {
      double own = squared(scales[k]), keep = n > 0 ? own / (own + noise / n) : 0;
      double m = keep * off, v = n > 0 ? keep * noise / n : own;
      mean += log_weight[k] / total * m;
      square += log_weight[k] / total * (v + m * m);
    }
    s->mean = usual + mean;
    s->variance = fmax(square - mean * mean, 0);
  }
}

/* ---- the limits ----------------------------------------------------------------------------- */

/* The point that the others of a direction are held against. */
typedef struct reference {
  bool centre; /* else the mean of the direction's points */
  double mean, variance;
  size_t points;
} reference;

static reference reference_of(const judge *j, const evenness_room *room,
                              tenter_direction direction) {
  reference r = {0};
  double sum = 0, variance = 0, centres = 0, centre = 0, centre_variance = 0;
  for (size_t i = 0; i < room->count; i++) {
    const point_state *s = &room->states[i];
    if (s->point % TENTER_DIRECTIONS != (uint32_t)direction)
      continue;
    const tenter_position *at = j->tables->position_count * TENTER_DIRECTIONS > s->point
                                    ? &j->tables->positions[s->point / TENTER_DIRECTIONS]
                                    : NULL;
    r.points++;
    sum += s->mean;
    variance += s->variance;
    if (at && at->kind == TENTER_PLACE_CENTRE) {
      centres++;
      centre += s->mean;
      centre_variance += s->variance;
    }
  }
  double n = (double)r.points;
  r.centre = centres > 0;
  r.mean = r.centre ? centre / centres : sum / n;
  r.variance = r.centre ? centre_variance / squared(centres) : variance / squared(n);
  return r;
}

static bool is_centre(const judge *j, uint32_t point) {
  size_t position = point / TENTER_DIRECTIONS;
  return position < j->tables->position_count &&
         j->tables->positions[position].kind == TENTER_PLACE_CENTRE;
}

static double within(double mean, double sd, double limit) {
  return tenter_normal_below((limit - mean) / sd) - tenter_normal_below((-limit - mean) / sd);
}

static double conforms(const judge *j, const tenter_mounting *m, evenness_room *room,
                       screen_inner *inner) {
  reference refs[TENTER_DIRECTIONS];
  double p = 1, low = INFINITY, high = -INFINITY, worst = -1, spread_variance = 0;
  for (int d = 0; d < TENTER_DIRECTIONS; d++)
    refs[d] = reference_of(j, room, (tenter_direction)d);
  for (size_t i = 0; i < room->count; i++) {
    const point_state *s = &room->states[i];
    const reference *r = &refs[s->point % TENTER_DIRECTIONS];
    low = fmin(low, s->mean);
    high = fmax(high, s->mean);
    spread_variance = fmax(spread_variance, 2 * s->variance);
    if (r->points < 2 || (r->centre && is_centre(j, s->point)))
      continue;
    double off = s->mean - r->mean;
    p *= within(off, sqrt(s->variance + r->variance), m->evenness_point);
    if (fabs(off) > worst) {
      worst = fabs(off);
      inner->worst_deviation = off;
      inner->worst_position = (uint16_t)(s->point / TENTER_DIRECTIONS);
      inner->worst_direction = (tenter_direction)(s->point % TENTER_DIRECTIONS);
    }
  }
  inner->spread = high - low;
  p *= tenter_normal_below((m->evenness_spread - inner->spread) / sqrt(spread_variance));
  inner->warp_minus_weft = NAN;
  if (refs[TENTER_WARP].points > 0 && refs[TENTER_WEFT].points > 0) {
    inner->warp_minus_weft = 0;
    double sum[TENTER_DIRECTIONS] = {0}, variance[TENTER_DIRECTIONS] = {0};
    for (size_t i = 0; i < room->count; i++) {
      uint32_t d = room->states[i].point % TENTER_DIRECTIONS;
      sum[d] += room->states[i].mean / (double)refs[d].points;
      variance[d] += room->states[i].variance / squared((double)refs[d].points);
    }
    inner->warp_minus_weft = sum[TENTER_WARP] - sum[TENTER_WEFT];
    p *= within(inner->warp_minus_weft, sqrt(variance[TENTER_WARP] + variance[TENTER_WEFT]),
                m->warp_weft);
  }
  return p;
}

void judge__evenness(judge *j, size_t i, evenness_room *room) {
  tenter_review_screen *screen = &j->review->screens[i];
  screen_inner *inner = &j->screens[i];
  const tenter_mounting *m = &j->shop->mountings[screen->mounting];
  screen->evenness_probability = NAN;
  if (!screen->read)
    return;
  uint32_t slot = mesh_slot(j, m->is.mesh);
  double reading_sd = judge__reading_sd(j, slot, screen->latest.adjusted_mean);
  gather(j, m, screen->latest.session, room, &j->doubts[screen->screen]);
  if (room->count < 2)
    return; /* one point has nothing to be compared with */
  prior p = prior_of(j, slot);
  infer(j, slot, &p, reading_sd, !has_changed(room, reading_sd), room);
  screen->evenness_probability = conforms(j, m, room, inner);
  screen->evenness = screen->evenness_probability >= decided       ? TENTER_VERDICT_GOOD
                     : screen->evenness_probability <= 1 - decided ? TENTER_VERDICT_BAD
                                                                   : TENTER_VERDICT_UNDECIDED;
}
