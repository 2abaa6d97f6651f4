/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Run lengths of run rules, by carrying the distribution over the states of the chain forward.
 *
 * Model     A step falls into zone z' with probability len(z'). Trend and zigzag need to know on
 *           which side of the last point it falls. In the probability scale within a zone,
 *           v in [0, 1], a new point is uniform; so a state holds a density p(v) of the last point,
 *           a polynomial given at Gauss-Legendre nodes, and a step within the zone is
 *               rise: q(v) = len * integral_0^v p,   fall: q(v) = len * integral_v^1 p;
 *           a step to another zone spreads the mass of p evenly there. Integration of the
 *           interpolating polynomial is exact, so the error falls faster than any power of 1/nodes.
 *           Mass that came from other zones is kept apart as one number, the even part of p.
 * Direction what trend and zigzag remember: the sign of the last difference and how many in a row
 *           were alike or took turns.
 * ARL       sum of P(T > k); once the hazard P(T = k+1 | T > k) stands still the rest is
 *           P(T > k) / hazard.
 * Relies on arl_chain and base/alloc. */
#include <math.h>
#include <string.h>

#include "arl_internal.h"
#include "chart_numeric.h"
#include "tenter/base/alloc.h"

enum {
  NODES = 6,
  TREND_LAST = 4,   /* differences alike; the fifth makes six points */
  ZIGZAG_LAST = 12, /* differences in turn; the thirteenth makes fourteen points */
  DIRECTIONS = 1 + 2 * (ZIGZAG_LAST + TREND_LAST - 1),
  SETTLED_FOR = 24, /* steps with an unchanged hazard; longer than any rule remembers */
  MOST_STEPS = 200000
};

struct arl_rules {
  arl_chain chain;
  uint8_t *zone;            /* of the last point of a state; ARL_ZONES for the start */
  size_t nodes, directions; /* 0 and 1 without trend and zigzag */
  int32_t rise[DIRECTIONS], fall[DIRECTIONS]; /* -1 = a rule is met */
  double weight[NODES], integral[NODES][NODES];
  double *now, *next; /* [state][direction][even part, nodes] */
};

/* ---- preparation ---- */

/* Direction 0: a first point, without a difference. Then for either sign: 1 ... turns differences
 * in turn, then 2 ... alike differences alike. */
static void prepare_directions(arl_rules *r, tenter_rules rules) {
  bool trend = rules & TENTER_RULE_SIX_TREND, zigzag = rules & TENTER_RULE_FOURTEEN_ZIGZAG;
  int32_t turns = zigzag ? ZIGZAG_LAST : 1, alike = trend ? TREND_LAST : 1;
  int32_t side = turns + alike - 1;
  r->directions = 1;
  r->nodes = 0;
  if (!trend && !zigzag)
    return;
  r->nodes = NODES;
  r->directions = 1 + 2 * (size_t)side;
  int32_t first[2] = {1, 1 + side}; /* the first rise, the first fall */
  r->rise[0] = first[0];
  r->fall[0] = first[1];
  for (int32_t sign = 0; sign < 2; sign++)
    for (int32_t j = 0; j < side; j++) {
      int32_t in_turn = j < turns ? j + 1 : 1, same = j < turns ? 1 : j - turns + 2;
      int32_t on = !trend ? first[sign] : same == alike ? -1 : first[sign] + turns + same - 1;
      int32_t back = !zigzag ? first[1 - sign] : in_turn == turns ? -1 : first[1 - sign] + in_turn;
      r->rise[first[sign] + j] = sign == 0 ? on : back;
      r->fall[first[sign] + j] = sign == 0 ? back : on;
    }
}

/* integral[i][j] = integral_0^(v_i) of the j-th Lagrange polynomial, by its expansion in Legendre
 * polynomials: on [-1, 1], integral of P_k = (P_(k+1) - P_(k-1)) / (2k + 1). */
static void prepare_integral(arl_rules *r) {
  double x[NODES], w[NODES], p[NODES][NODES + 1];
  chart_nodes(NODES, -1, 1, x, w);
  for (size_t i = 0; i < NODES; i++) {
    p[i][0] = 1;
    p[i][1] = x[i];
    for (size_t k = 1; k < NODES; k++)
      p[i][k + 1] =
          ((2.0 * (double)k + 1) * x[i] * p[i][k] - (double)k * p[i][k - 1]) / ((double)k + 1);
  }
  for (size_t i = 0; i < NODES; i++)
    for (size_t j = 0; j < NODES; j++) {
      double sum = 0.5 * (x[i] + 1);
      for (size_t k = 1; k < NODES; k++)
        sum += 0.5 * p[j][k] * (p[i][k + 1] - p[i][k - 1]);
      r->integral[i][j] = 0.5 * w[j] * sum;
    }
  for (size_t i = 0; i < NODES; i++)
    r->weight[i] = 0.5 * w[i];
}

static size_t room_of(const arl_rules *r) {
  return r->chain.count * r->directions * (r->nodes + 1);
}

tenter_status arl_rules_new(tenter_rules rules, arl_rules **ready, tenter_error *error) {
  arl_rules *r = tenter_alloc(1, sizeof *r);
  if (!r)
    return tenter_fail_memory(error);
  prepare_directions(r, rules);
  prepare_integral(r);
  tenter_status status = arl_chain_new(rules, r->directions > 1, &r->chain, error);
  if (status != TENTER_OK) {
    arl_rules_free(r);
    return status;
  }
  size_t room = room_of(r);
  r->now = tenter_alloc(room, sizeof *r->now);
  r->next = tenter_alloc(room, sizeof *r->next);
  r->zone = tenter_alloc(r->chain.count, 1);
  if (!r->now || !r->next || !r->zone) {
    arl_rules_free(r);
    return tenter_fail_memory(error);
  }
  memset(r->zone, ARL_ZONES, r->chain.count);
  for (size_t i = 0; i < r->chain.count * ARL_ZONES; i++)
    if (r->chain.next[i] >= 0)
      r->zone[r->chain.next[i]] = (uint8_t)(i % ARL_ZONES);
  *ready = r;
  return TENTER_OK;
}

void arl_rules_free(arl_rules *r) {
  if (!r)
    return;
  arl_chain_free(&r->chain);
  tenter_free(r->zone);
  tenter_free(r->now);
  tenter_free(r->next);
  tenter_free(r);
}

/* ---- one step ---- */

static double *block(const arl_rules *r, double *all, size_t state, size_t direction) {
  return all + (state * r->directions + direction) * (r->nodes + 1);
}

static double mass_of(const arl_rules *r, const double *p) {
  double mass = p[0];
  for (size_t i = 0; i < r->nodes; i++)
    mass += r->weight[i] * p[i + 1];
  return mass;
}

/* Spreads mass evenly over the zone of state to; returns what is absorbed. */
static double spread(arl_rules *r, double mass, int32_t to, int32_t direction) {
  if (to < 0 || direction < 0)
    return mass;
  *block(r, r->next, (size_t)to, (size_t)direction) += mass;
  return 0;
}

/* Adds a density to a state; returns what is absorbed. */
static double pour(arl_rules *r, const double q[NODES], int32_t to, int32_t direction) {
  double absorbed = 0;
  if (to >= 0 && direction >= 0) {
    double *p = block(r, r->next, (size_t)to, (size_t)direction) + 1;
    for (size_t i = 0; i < NODES; i++)
      p[i] += q[i];
  } else {
    for (size_t i = 0; i < NODES; i++)
      absorbed += r->weight[i] * q[i];
  }
  return absorbed;
}

/* The step within the zone of the last point. */
static double stay(arl_rules *r, const double *p, double mass, double len, int32_t to,
                   size_t direction) {
  double density[NODES], up[NODES], down[NODES];
  for (size_t i = 0; i < NODES; i++)
    density[i] = len * (p[0] + p[i + 1]);
  for (size_t i = 0; i < NODES; i++) {
    up[i] = 0;
    for (size_t j = 0; j < NODES; j++)
      up[i] += r->integral[i][j] * density[j];
    down[i] = len * mass - up[i];
  }
  return pour(r, up, to, r->rise[direction]) + pour(r, down, to, r->fall[direction]);
}

/* From one block to all that can follow. */
static double leave(arl_rules *r, const double *p, double mass, const double len[ARL_ZONES],
                    size_t state, size_t direction) {
  const int32_t *to = r->chain.next + state * ARL_ZONES;
  unsigned zone = r->zone[state];
  double absorbed = 0;
  for (unsigned z = 0; z < ARL_ZONES; z++)
    if (r->directions == 1 || zone == ARL_ZONES)
      absorbed += spread(r, mass * len[z], to[z], 0);
    else if (z == zone)
      absorbed += stay(r, p, mass, len[z], to[z], direction);
    else
      absorbed +=
          spread(r, mass * len[z], to[z], z > zone ? r->rise[direction] : r->fall[direction]);
  return absorbed;
}

/* Carries now one point on; the probability of a signal there. */
static double advance(arl_rules *r, const double len[ARL_ZONES]) {
  double absorbed = 0;
  memset(r->next, 0, room_of(r) * sizeof *r->next);
  for (size_t s = 0; s < r->chain.count; s++)
    for (size_t d = 0; d < r->directions; d++) {
      const double *p = block(r, r->now, s, d);
      double mass = mass_of(r, p);
      if (mass != 0)
        absorbed += leave(r, p, mass, len, s, d);
    }
  double *t = r->now;
  r->now = r->next;
  r->next = t;
  return absorbed;
}

/* ---- run lengths ---- */

static void zone_lengths(const arl_law *law, double len[ARL_ZONES]) {
  len[0] = arl_law_below(law, -3);
  len[ARL_ZONES - 1] = arl_law_above(law, 3);
  for (int z = 1; z < ARL_ZONES - 1; z++)
    len[z] = arl_law_below(law, z - 3) - arl_law_below(law, z - 4);
}

static void begin(arl_rules *r) {
  memset(r->now, 0, room_of(r) * sizeof *r->now);
  r->now[0] = 1; /* the start */
}

static void scale(arl_rules *r, double factor) {
  for (size_t i = 0; i < room_of(r); i++)
    r->now[i] *= factor;
}

/* Whether the hazard has stood still long enough. */
typedef struct settling {
  double hazard;
  size_t steps; /* for how long */
} settling;

static bool settled(settling *s, double hazard, double tolerance) {
  bool still = fabs(hazard - s->hazard) <= tolerance * hazard;
  s->steps = still ? s->steps + 1 : 0;
  if (!still)
    s->hazard = hazard;
  return s->steps >= SETTLED_FOR;
}

/* N(0, 1) until the distribution over the states, given no signal, is what it stays. */
static bool settle(arl_rules *r, double tolerance) {
  double len[ARL_ZONES];
  arl_law calm = arl_law_of((tenter_process){0, 1});
  zone_lengths(&calm, len);
  settling s = {0};
  for (size_t step = 0; step < MOST_STEPS; step++) {
    double hazard = advance(r, len);
    scale(r, 1 / (1 - hazard));
    if (settled(&s, hazard, tolerance))
      return true;
  }
  return false;
}

tenter_status arl_rules_length(arl_rules *r, const arl_law *law, bool steady, arl_accuracy accuracy,
                               double *arl, tenter_error *error) {
  double len[ARL_ZONES], alive = 1, sum = 0;
  settling s = {0};
  begin(r);
  bool found = !steady || settle(r, accuracy.relative);
  zone_lengths(law, len);
  for (size_t step = 0; found && step < MOST_STEPS; step++) {
    double absorbed = advance(r, len), hazard = absorbed / alive;
    sum += alive;
    alive -= absorbed;
    if (alive < 1e-14 * sum) {
      *arl = sum;
      return TENTER_OK;
    }
    if (settled(&s, hazard, accuracy.relative)) {
      *arl = hazard * accuracy.longest < 1 ? INFINITY : sum + alive / hazard;
      return TENTER_OK;
    }
  }
  return tenter_fail(error, TENTER_FAILED, "The run length of these run rules does not settle.");
}

void arl_rules_alive(arl_rules *r, const arl_law *law, size_t count, double *alive) {
  double len[ARL_ZONES], left = 1;
  zone_lengths(law, len);
  begin(r);
  for (size_t i = 0; i < count; i++) {
    alive[i] = left;
    left = fmax(left - advance(r, len), 0);
  }
}
