/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Evenness of the true tensions: the greatest of many
 * differences is large by luck alone, so limits are asked of what the readings leave of each
 * point, all points together.
 *
 * Model, point p of one screen: reading = session + pattern_p + own_p + noise, own_p ~ N(0, s^2).
 * The usual pattern of the mesh is the prior's mean where enough screens taught it. How far this
 * screen's points differ from it, s, is not known: it is averaged over a grid, each s weighted by
 * what the shop's screens are like and by how well it explains this screen. So the points of an
 * even screen borrow evenness from each other; a tenth of the points may be off by four times as
 * much, so that one slack corner is not talked away. The posterior is a mixture of normals; it is
 * replaced by the normal of its mean and variance.
 *
 * The latest session counts in full; up to eight before it, read since the last break, sharpen it,
 * unless the latest differs from them by more than noise. */
#include <string.h>

#include "evenness.h"

#include "tenter/base/alloc.h"
#include "tenter/stats/shape.h"

enum { SESSIONS_BEFORE = 8, SCALES = 7, NUMBERS_A_POINT = 2 };

static const double scales[SCALES] = {0.05, 0.15, 0.3, 0.6, 1.2, 2.4, 4.8}; /* N/cm, of s */
static const double usual_scale = 0.4; /* where the shop's screens have not taught it */
static const double scale_doubt = 1.0; /* of log s, about the learned one; else twice that */
static const double far_share = 0.1,
                    far_times = 4;       /* points that are off by more: how many, how much */
static const double least_weight = 1e-4; /* of a scale that is worth the work */
static const double surely = 5;          /* errors of a difference: one in three millions */
static const double beyond_chance = 4;   /* sd's by which a point has changed */
static const double decided = 0.95; /* chance of conformity from which it is even; 1 - it, uneven */

bool judge__evenness_new(const judge *j, evenness_room *room) {
  size_t count = (j->tables->position_count + 1) * TENTER_DIRECTIONS;
  *room = (evenness_room){.place = tenter_alloc(count, sizeof *room->place),
                          .states = tenter_alloc(count, sizeof *room->states),
                          .numbers = tenter_alloc(NUMBERS_A_POINT * count, sizeof *room->numbers)};
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

/* What a session's points are held against: their mean without the usual pattern. */
static double level_of(const judge *j, uint32_t slot, const point_set *p) {
  double sum = 0, count = 0;
  for (size_t i = 0; i < p->count; i++) {
    const point_mean *at = &p->items[i];
    sum += at->count * (at->mean - judge__effect(j, slot, at->point));
    count += at->count;
  }
  return sum / count;
}

/* Adds a session's points about their level, the readings of its one meter. */
static void add_session(const judge *j, evenness_room *room, size_t session, bool latest,
                        const session_doubt *d) {
  judge__points_gather_of(j, session, judge__points_meter(j, session), &room->points);
  uint32_t slot = mesh_slot(j, mounting_of(j, &j->shop->sessions[session])->is.mesh);
  double level = d->kind == DOUBT_DIGIT && latest ? j->sessions[session].adjusted
                                                  : level_of(j, slot, &room->points);
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

/* Whether a session was read at the same points in the same order, each once: then reading k of
 * both is state k. */
static bool same_order(const judge *j, size_t session, size_t latest, const evenness_room *room) {
  const tenter_session *a = &j->shop->sessions[session], *b = &j->shop->sessions[latest];
  const tenter_readings *r = j->readings;
  size_t n = a->count;
  if (n != b->count || n != room->count)
    return false;
  bool one_meter = a->meter != TENTER_NO_NAME16 ||
                   memcmp(r->meter + a->first, r->meter + b->first, n * sizeof *r->meter) == 0;
  return one_meter &&
         memcmp(r->position + a->first, r->position + b->first, n * sizeof *r->position) == 0 &&
         memcmp(r->direction + a->first, r->direction + b->first, n * sizeof *r->direction) == 0;
}

static void add_past(const judge *j, evenness_room *room, size_t session) {
  const double *tension = j->readings->tension + j->shop->sessions[session].first;
  double level = j->sessions[session].adjusted;
  for (size_t i = 0; i < room->count; i++) {
    room->states[i].past += tension[i] - level;
    room->states[i].past_count++;
  }
}

/* Every session is held against its own level, so another meter than the latest one's will do. */
static bool comparable(const judge *j, size_t session) {
  return j->shop->sessions[session].full && !(j->sessions[session].state & SESSION_MISREAD);
}

static void gather(const judge *j, const tenter_mounting *m, size_t latest, evenness_room *room,
                   const session_doubt *d) {
  clear(room);
  add_session(j, room, latest, true, d);
  size_t begin = judge__level_begin(j, m), used = 0;
  bool aligned =
      room->count == j->shop->sessions[latest].count; /* each point once, none left out */
  for (size_t i = latest; i-- > begin && used < SESSIONS_BEFORE;)
    if (comparable(j, i)) {
      if (aligned && same_order(j, i, latest, room))
        add_past(j, room, i);
      else
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

/* A point's own deviation under one scale: most points keep close to the pattern, a few are off by
 * several times as much (a slipped corner): two normals. */
typedef struct parts {
  double noise, close, far;  /* variances: of the point's mean, of the own deviation */
  double log_close, log_far; /* what does not depend on the reading */
} parts;

static parts parts_of(double scale, double noise) {
  parts p = {.noise = noise, .close = squared(scale), .far = squared(far_times * scale)};
  p.log_close = log(1 - far_share) - log(p.close + noise) / 2;
  p.log_far = log(far_share) - log(p.far + noise) / 2;
  return p;
}

/* How likely a deviation is (logarithm), and the chance that it is of the far kind. */
static double likely(const parts *p, double off, double *far) {
  double a = p->log_close - off * off / (p->close + p->noise) / 2;
  double b = p->log_far - off * off / (p->far + p->noise) / 2;
  double ratio = exp(-fabs(a - b));
  *far = b > a ? 1 / (1 + ratio) : ratio / (1 + ratio);
  return fmax(a, b) + log1p(ratio);
}

static void use_readings(const judge *j, uint32_t slot, const prior *p, bool past,
                         evenness_room *room) {
  for (size_t i = 0; i < room->count; i++) {
    point_state *s = &room->states[i];
    s->n = s->count + (past ? s->past_count : 0);
    s->usual = p->learned ? judge__effect(j, slot, s->point) : 0;
    s->off = s->n > 0 ? (s->sum + (past ? s->past : 0)) / s->n - s->usual : 0;
    s->mean = s->variance = 0; /* of its own deviation, summed up by add_scale */
  }
}

/* How well a scale explains the screen's points. */
static double scale_likely(const evenness_room *room, double scale, double noise) {
  double sum = 0, last_n = 0;
  parts p = {0};
  for (size_t i = 0; i < room->count; i++) {
    const point_state *s = &room->states[i];
    double far;
    if (s->n == 0)
      continue;
    if (s->n != last_n) /* mostly all the same */
      p = parts_of(scale, noise / s->n);
    last_n = s->n;
    sum += likely(&p, s->off, &far);
  }
  return sum;
}

/* Adds a scale's share to every point's mean, and to its mean square in variance. */
static void add_scale(evenness_room *room, double scale, double noise, double weight) {
  double last_n = -1;
  parts p = {0};
  for (size_t i = 0; i < room->count; i++) {
    point_state *s = &room->states[i];
    double far = far_share;
    if (s->n != last_n)
      p = parts_of(scale, s->n > 0 ? noise / s->n : INFINITY);
    last_n = s->n;
    if (s->n > 0)
      likely(&p, s->off, &far);
    double near_keep = s->n > 0 ? p.close / (p.close + p.noise) : 0;
    double far_keep = s->n > 0 ? p.far / (p.far + p.noise) : 0;
    double a = near_keep * s->off, b = far_keep * s->off;
    s->mean += weight * ((1 - far) * a + far * b);
    s->variance += weight * ((1 - far) * (p.close * (1 - near_keep) + a * a) +
                             far * (p.far * (1 - far_keep) + b * b));
  }
}

/* Posterior mean and variance of every point's deviation. */
static void infer(const judge *j, uint32_t slot, double reading_sd, bool past,
                  evenness_room *room) {
  prior p = prior_of(j, slot);
  double weight[SCALES], most = -INFINITY, total = 0, noise = squared(reading_sd);
  use_readings(j, slot, &p, past, room);
  for (int k = 0; k < SCALES; k++) {
    weight[k] = p.log_weight[k] + scale_likely(room, scales[k], noise);
    most = fmax(most, weight[k]);
  }
  for (int k = 0; k < SCALES; k++)
    total += weight[k] = exp(weight[k] - most);
  for (int k = 0; k < SCALES; k++)
    if (weight[k] > least_weight * total)
      add_scale(room, scales[k], noise, weight[k] / total);
  for (size_t i = 0; i < room->count; i++) {
    point_state *s = &room->states[i];
    s->variance = fmax(s->variance - s->mean * s->mean, 0);
    s->mean += s->usual;
  }
}

/* ---- the limits ----------------------------------------------------------------------------- */

static bool is_centre(const judge *j, uint32_t point) {
  size_t position = point / TENTER_DIRECTIONS;
  return position < j->tables->position_count &&
         j->tables->positions[position].kind == TENTER_PLACE_CENTRE;
}

/* One direction's points and what they are held against: the centre where it was read, else their
 * mean. */
typedef struct side {
  double *mean, *sd; /* of the points, without the centre */
  size_t count;
  double centre, centre_sd;
  double sum, variance; /* mean of all its points, and its variance */
  size_t points;
} side;

static void gather_side(const judge *j, const evenness_room *room, uint32_t direction,
                        double *numbers, side *s) {
  double centres = 0, centre = 0, centre_variance = 0;
  *s = (side){.mean = numbers, .sd = numbers + room->count};
  for (size_t i = 0; i < room->count; i++) {
    const point_state *p = &room->states[i];
    if (p->point % TENTER_DIRECTIONS != direction)
      continue;
    s->points++;
    s->sum += p->mean;
    s->variance += p->variance;
    if (is_centre(j, p->point)) {
      centres++;
      centre += p->mean;
      centre_variance += p->variance;
    } else {
      s->mean[s->count] = p->mean;
      s->sd[s->count++] = sqrt(p->variance);
    }
  }
  double n = fmax(1, (double)s->points);
  s->sum /= n;
  s->variance /= n * n;
  s->centre = centres > 0 ? centre / centres : s->sum;
  s->centre_sd = centres > 0 ? sqrt(centre_variance) / centres : sqrt(s->variance);
}

/* The point that stands off most, for the sentence. */
static void find_worst(const judge *j, const evenness_room *room,
                       const side sides[TENTER_DIRECTIONS], screen_inner *inner) {
  double worst = -1, low = INFINITY, high = -INFINITY;
  for (size_t i = 0; i < room->count; i++) {
    const point_state *p = &room->states[i];
    uint32_t direction = p->point % TENTER_DIRECTIONS;
    double off = p->mean - sides[direction].centre;
    low = fmin(low, p->mean);
    high = fmax(high, p->mean);
    if (fabs(off) <= worst || sides[direction].count == 0)
      continue;
    uint32_t position = p->point / TENTER_DIRECTIONS;
    worst = fabs(off);
    inner->worst_deviation = off;
    inner->worst_position =
        position < j->tables->position_count ? (uint16_t)position : TENTER_NO_NAME16;
    inner->worst_direction = (tenter_direction)direction;
  }
  inner->spread = high - low;
}

static double range_chance(const evenness_room *room, double *numbers, double limit) {
  for (size_t i = 0; i < room->count; i++) {
    numbers[i] = room->states[i].mean;
    numbers[room->count + i] = sqrt(room->states[i].variance);
  }
  return tenter_shape_range_within(room->count, numbers, numbers + room->count, limit);
}

/* The chance that all limits hold. They go together, so it lies between the product of the chances
 * and the least of them: near the product where all are likely, near the least where one is not. */
static double together(const double *chance, size_t count) {
  double product = 1, least = 1;
  for (size_t i = 0; i < count; i++) {
    product *= chance[i];
    least = fmin(least, chance[i]);
  }
  return least > 0 ? least * pow(product / least, least) : 0;
}

static double limit_or_none(double limit) {
  return isnan(limit) ? INFINITY : limit;
}

static double conforms(const judge *j, const tenter_mounting *m, evenness_room *room,
                       screen_inner *inner) {
  side sides[TENTER_DIRECTIONS];
  double chance[3] = {1, 1, 1};
  for (uint32_t d = 0; d < TENTER_DIRECTIONS; d++) {
    side *s = &sides[d];
    gather_side(j, room, d, room->numbers, s);
    if (s->count > 0 && s->points > 1)
      chance[0] *= tenter_shape_within(s->count, s->mean, s->sd, s->centre, s->centre_sd,
                                       limit_or_none(m->evenness_point));
  }
  chance[1] = range_chance(room, room->numbers, limit_or_none(m->evenness_spread));
  const side *warp = &sides[TENTER_WARP], *weft = &sides[TENTER_WEFT];
  inner->warp_minus_weft = NAN;
  if (warp->points > 0 && weft->points > 0) {
    inner->warp_minus_weft = warp->sum - weft->sum;
    double limit = limit_or_none(m->warp_weft);
    chance[2] = tenter_normal_between(inner->warp_minus_weft, sqrt(warp->variance + weft->variance),
                                      -limit, limit);
  }
  find_worst(j, room, sides, inner);
  return together(chance, 3);
}

/* Far within all limits, whatever the prior: no point is more than a few errors from where it was
 * read, or from the usual pattern, and both are well inside. Saves the work for most screens. */
static bool clearly_even(const judge *j, const tenter_mounting *m, uint32_t slot, double reading_sd,
                         const evenness_room *room) {
  double low = INFINITY, high = -INFINITY, least = INFINITY;
  for (size_t i = 0; i < room->count; i++) {
    const point_state *s = &room->states[i];
    double n = s->count + s->past_count;
    double usual = judge__pattern_learned(j, slot) ? judge__effect(j, slot, s->point) : 0;
    double read = n > 0 ? (s->sum + s->past) / n : usual;
    low = fmin(low, fmin(read, usual));
    high = fmax(high, fmax(read, usual));
    least = fmin(least, n);
  }
  double most = high - low + surely * reading_sd * sqrt(2 / least);
  return most < limit_or_none(m->evenness_point) && most < limit_or_none(m->evenness_spread) &&
         most < limit_or_none(m->warp_weft);
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
  bool past = !has_changed(room, reading_sd);
  if (past && clearly_even(j, m, slot, reading_sd, room)) {
    screen->evenness_probability = 1;
    screen->evenness = TENTER_VERDICT_GOOD;
    return;
  }
  infer(j, slot, reading_sd, past, room);
  screen->evenness_probability = conforms(j, m, room, inner);
  screen->evenness = screen->evenness_probability >= decided       ? TENTER_VERDICT_GOOD
                     : screen->evenness_probability <= 1 - decided ? TENTER_VERDICT_BAD
                                                                   : TENTER_VERDICT_UNDECIDED;
}
