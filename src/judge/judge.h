/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the files of the judge share while one review is made: the shop's records turned into
 * numbers, in the order in which they are made. Everything lives in the review's arena.
 *
 *   sessions.c    sums of each session, its layout
 *   pattern.c     the usual pattern of a mesh, the noise
 *   meters.c      resolution, bias against a plate
 *   slips.c       slips of the pen
 *   shift.c       meters, operators and days that moved
 *   doubt.c       misreads, steps, rises
 *   population.c  every mounting's line (the seam of the mixed model)
 *   stations.c    how each station pulls
 *   relaxation.c, forecast.c, conformity.c, evenness.c, sets.c, lots.c
 *   actions.c, reasons.c, weeks.c, foresee.c, review.c
 *   charts.c      with stretching.c, service.c, charting.c, calm.c, signals.c,
 *                 signal_text.c: control charts */
#ifndef TENTER_JUDGE_JUDGE_H
#define TENTER_JUDGE_JUDGE_H

#include <math.h>

#include "tenter/judge/review.h"
#include "tenter/stats/normal.h"
#include "tenter/words/words.h"

/* The set of points that sessions of one mesh were read at, repeats counted. */
typedef struct layout {
  uint64_t hash;    /* of mesh and points */
  uint64_t points;  /* of the points alone, in any order */
  uint32_t session; /* one that was read so */
  uint32_t mesh;    /* slot: see mesh_slot */
  uint32_t count;   /* readings */
  double effect;    /* the usual pattern's mean over its points */
  double missing; /* variance of what its missing points leave out, per unit of sd_screen_point^2 */
} layout;

enum {                        /* what is known of a session; bits */
       SESSION_MISREAD = 1,   /* looks misread: not fitted */
       SESSION_BREAK = 2,     /* the level changed between the session before and this one */
       SESSION_ROSE = 4,      /* ... upward */
       SESSION_FITTED = 8,    /* enters the population */
       SESSION_SHIFTED = 16,  /* read with what has shifted by then */
       SESSION_LEFT_OUT = 32, /* ... and not fitted, for that */
       SESSION_SLIP = 128,    /* one of its readings is a slip of the pen, and not in `adjusted` */
       SESSION_CORRECTED = 64 /* ... and corrected for it, as the settings ask */
};

/* One session as a number. */
typedef struct session_value {
  double mean;     /* of the raw readings; NaN never */
  double adjusted; /* without the usual pattern */
  double u;        /* log10(age / 24 h); from judge__fittable on NaN where it is not to be fitted */
  float variance; /* of `adjusted` about the screen's mean as a meter in order would see it: reading
                     noise and missing points; the session's own deviation (noise.session) apart */
  float weight;   /* 1 / variance of the fit, on the scale of tension */
  float shift; /* of what it was read with: in its readings, and in `adjusted` unless corrected */
  float shift_variance; /* of it, where it was corrected: part of `variance` then */
  uint32_t layout;
  uint32_t state;
} session_value;

/* How a session compares with what was expected of it. */
typedef struct foreseen {
  float error; /* N/cm; NaN where nothing was expected */
  float z; /* in units of its standard deviation, noise included; NaN where only the prior told */
} foreseen;

/* The noise of the shop. */
typedef struct shop_noise {
  double reading;    /* pooled sd of a repeated reading, at `level` */
  double reading_df; /* from the data */
  double level;      /* mean of the meshes' levels */
  double session; /* sd of a session beyond its readings' noise (how the meter was set that day) */
  double power;   /* reading noise grows with tension to this power; 0 where it can't be told */
  double screen_point; /* pooled sd of a screen's own pattern; NaN where the data can't tell */
} shop_noise;

/* What a pattern rests on, beside what the report sees. */
typedef struct pattern_inner {
  double level; /* mean tension of the sessions it was learned from */
  bool learned; /* from enough mountings to be expected of another */
} pattern_inner;

typedef enum doubt_kind {
  DOUBT_NONE,
  DOUBT_DIGIT, /* one reading with a misplaced point or swapped digits */
  DOUBT_UNIT,  /* the whole session in another unit */
  DOUBT_SWAP,  /* warp and weft exchanged */
  DOUBT_JUMP,  /* the session stands off in a few points */
} doubt_kind;

/* What is odd about the latest session of a screen. */
typedef struct session_doubt {
  doubt_kind kind;
  uint32_t reading;   /* of DOUBT_DIGIT and DOUBT_JUMP */
  double expected;    /* of that reading, or of the mean */
  double factor;      /* of DOUBT_UNIT */
  bool stepped, rose; /* the latest session lies below, above what came before, in most points */
  bool rose_before;   /* an earlier session did */
  double change;      /* of the mean beyond what was expected: of stepped and rose */
  tenter_time change_at;
} session_doubt;

/* A reading that a misplaced point or two digits exchanged explain. */
typedef struct session_slip {
  uint32_t session, reading;
  double expected;
} session_slip;

/* What is known of a meter beside what the report sees. */
typedef struct meter_inner {
  double resolution;      /* N/cm; 0 where it can't be told */
  double expanded;        /* expanded uncertainty; NaN where the config gives none */
  double calibration;     /* standard uncertainty; NaN where the config gives none */
  double reproducibility; /* sd between people, from a study; 0 without one */
} meter_inner;

/* Judged, beside tenter_review_screen and in its order. */
typedef struct screen_inner {
  double worst_deviation; /* evenness: the posterior mean of the greatest deviation */
  uint16_t worst_position;
  tenter_direction worst_direction;
  double spread, warp_minus_weft; /* evenness: posterior means */
  bool assumed;                   /* the default expanded uncertainty was used */
  bool over_point,
      near_maximum;      /* a point is over the maximum beyond doubt; not clearly under it */
  uint32_t over_reading; /* the greatest of the latest session */
  bool over_anyway;      /* over the maximum also without the shift of what it was read with */
  bool point_below;      /* a point is under the floor (the coarse one where given) beyond doubt */
  bool point_between;    /* under the floor, not under the coarse one */
  uint32_t low_reading;  /* the least of the latest session */
  double acceptance_mean, acceptance_uncertainty;
  bool acceptance_above;                   /* the nearer limit is the upper one */
  bool acceptance_closed;                  /* nothing more is to be read for it */
  size_t acceptance_sessions;              /* judged together */
  double shift;                            /* of what the latest session was read with; 0 */
  bool shifted;                            /* it was read with what has shifted */
  double corrected_now, corrected_horizon; /* P with that bias taken off */
  double corrected_coarse;
  size_t fitted; /* sessions behind the forecast */
} screen_inner;

struct tenter_judged {
  const tenter_shop *shop;
  const tenter_tables *tables;
  const tenter_readings *readings;
  const tenter_settings *settings;
  tenter_pool *pool;
  tenter_arena *arena;
  tenter_review *review;
  const struct tenter_judged *newer; /* a later moment of the same tables, whose sums are reused */
  bool texts;                        /* false: actions only, for past weeks */

  size_t mesh_slots; /* meshes and one for "unknown" */
  uint64_t *point_hash;
  session_value *sessions;
  layout *layouts;
  size_t layout_count;
  tenter_pattern **pattern; /* by mesh slot; NULL without sessions */
  pattern_inner *pattern_inner;
  double *effects;      /* by mesh slot and point, where that is not too large; else NULL */
  double *own_variance; /* by mesh slot: of a screen's own pattern at a point; assumed where not
                           learned */
  shop_noise noise;
  meter_inner *meters;                  /* by meter id */
  struct tenter_meter_studies *studies; /* without plates and budgets */
  uint32_t *level;     /* by mounting: the first session of its last level, after its last break */
  session_slip *slips; /* in order of sessions */
  size_t slip_count;
  session_doubt *doubts;  /* by screen id */
  bool *failed;           /* by task of the step at hand: memory ran out */
  screen_inner *screens;  /* by index into review->screens */
  uint32_t *review_index; /* by screen id: index into review->screens; UINT32_MAX not in use */
  struct population *population;
  struct interval_inner *intervals; /* in the order of review->intervals */
  foreseen *foreseen;               /* by session; NULL without the weeks */
  struct charting *charting;        /* see charts.c; NULL without the weeks */
};
typedef struct tenter_judged judge;

/* ---- small helpers ---- */

static inline uint32_t mesh_slot(const judge *j, uint32_t mesh) {
  return mesh == TENTER_NO_NAME ? (uint32_t)(j->mesh_slots - 1) : mesh;
}

static inline const tenter_mounting *mounting_of(const judge *j, const tenter_session *session) {
  return &j->shop->mountings[session->mounting];
}

/* The first session of a mounting's last level. */
static inline size_t judge__level_begin(const judge *j, const tenter_mounting *m) {
  return j->level[m - j->shop->mountings];
}

/* Enters the population: from judge__fittable on. */
static inline bool judge__is_fitted(const session_value *value) {
  return !isnan(value->u) && !(value->state & SESSION_LEFT_OUT);
}

static inline double age_u(double age_hours) { /* decades since 24 h */
  return log10(age_hours / 24);
}

static inline double squared(double x) {
  return x * x;
}

/* A point as a number: 3 * position + direction; readings without a position come last. */
static inline uint32_t point_of(const judge *j, size_t reading) {
  uint32_t position = j->readings->position[reading];
  if (position == TENTER_NO_NAME16)
    position = (uint32_t)j->tables->position_count;
  return position * TENTER_DIRECTIONS + j->readings->direction[reading];
}

static inline uint32_t point_number(const judge *j, uint16_t position, tenter_direction direction) {
  size_t at = position == TENTER_NO_NAME16 ? j->tables->position_count : position;
  return (uint32_t)(at * TENTER_DIRECTIONS + (size_t)direction);
}

static inline const tenter_position *position_of(const judge *j, uint16_t position) {
  return position == TENTER_NO_NAME16 ? NULL : &j->tables->positions[position];
}

/* How reports show numbers and dates. */
static inline tenter_form judge__form(const judge *j) {
  return (tenter_form){(tenter_mark)j->settings->report_mark,
                       (tenter_dates)j->settings->report_dates};
}

/* ---- sessions.c ---- */

/* Fills sessions (mean, layout) and layouts. */
tenter_status judge__sessions(judge *j, tenter_error *error);

/* ---- latest.c ---- */

/* Statistics of one session for the report. */
void judge__session_latest(const judge *j, size_t session, tenter_latest *latest);

/* ---- pattern.c ---- */

/* The usual pattern of each mesh, the noise; then adjusted and variance of every session. */
tenter_status judge__patterns(judge *j, tenter_error *error);

/* Effect of a point in the pattern of a mesh slot; 0 for a point the mesh was hardly read at. */
double judge__effect(const judge *j, uint32_t slot, uint32_t point);

/* Sd of a repeated reading, and of a screen's own pattern (NaN: not learned), on a mesh at a
 * tension. */
double judge__reading_sd(const judge *j, uint32_t slot, double tension);
double judge__screen_point_sd(const judge *j, uint32_t slot);

/* Whether enough screens taught the mesh's pattern to expect it of another. */
bool judge__pattern_learned(const judge *j, uint32_t slot);

/* ---- meters.c ---- */

/* Resolution of every meter, its bias against a plate: j->meters, review->meters. */
tenter_status judge__meters(judge *j, tenter_error *error);

/* Sd of one check of a meter, from the count errors of its checks in order of time. */
double judge__check_sd(const judge *j, const double *errors, size_t count);

/* ---- study.c ---- */

/* The gauge studies in the readings, and what they say of meters: reproducibility. */
tenter_status judge__studies(judge *j, tenter_error *error);

/* ---- meter_checks.c ---- */

/* Plates and pairs of the studies: see judge/study.h. */
struct tenter_meter_studies;
tenter_status judge__meter_checks(const judge *j, struct tenter_meter_studies *out,
                                  tenter_error *error);

/* ---- slips.c ---- */

/* Finds slips of the pen in all sessions against the pattern of the mesh: j->slips; takes them out
 * of the sessions' adjusted means. After the patterns. */
tenter_status judge__slips(judge *j, tenter_error *error);

/* Tells them, sessions in another unit and directions exchanged: review->slips. After the doubts.
 */
tenter_status judge__tell_slips(judge *j, tenter_error *error);

/* The slip of a session with SESSION_SLIP. */
const session_slip *judge__slip_of(const judge *j, size_t session);

/* Whether a slip of the pen makes `read` of about `expected`, give or take a few sd. */
bool judge__digits_fit(double read, double expected, double sd);

/* The factor between units that a meter can be set to, when the ratio is just that; NaN. */
double judge__unit_factor(double ratio);

/* Takes a reading out of its session's adjusted mean. */
void judge__leave_out(judge *j, size_t session, uint32_t slot, uint32_t reading);

/* ---- shift.c ---- */

/* Finds what moved, beside the lines of the mountings: review->shifts, the bias and shift of
 * meters, shift and state of sessions. After the patterns and the session noise. */
tenter_status judge__shifts(judge *j, tenter_error *error);

/* What a session was read with that has shifted. */
typedef struct shift_told {
  const char *meter, *cause; /* one of them; both NULL: it was read about when a shift began */
  double off;
  tenter_time since;
  const char *const *others; /* what it can't be told from */
  size_t other_count;
  bool corrected;
} shift_told;
shift_told judge__shift_told(const judge *j, size_t session);

/* How far a session's adjusted mean is off by what it was read with; 0 where that is corrected. */
static inline double judge__shift(const judge *j, size_t session) {
  const session_value *value = &j->sessions[session];
  return value->state & SESSION_CORRECTED ? 0 : value->shift;
}

/* What is taken off each of its raw readings where the settings ask to correct; else 0. */
static inline double judge__correction(const judge *j, size_t session) {
  const session_value *value = &j->sessions[session];
  return value->state & SESSION_CORRECTED ? value->shift : 0;
}

/* ---- doubt.c ---- */

/* The sd of a session beyond its readings' noise. */
tenter_status judge__session_noise(judge *j, tenter_error *error);

/* Marks misreads and breaks in sessions, fills j->doubts. */
tenter_status judge__doubts(judge *j, tenter_error *error);

/* ---- uncertainty.c ---- */

/* Standard uncertainty of a meter's calibration and resolution; assume: the default expanded
 * uncertainty where the config gives none (and review->uncertainty_assumed is for the caller to
 * set: *assumed, may be NULL). */
double judge__calibration(const judge *j, uint16_t meter, bool assume, bool *assumed);

/* Of a session's adjusted mean as a value of the screen's true mean. */
double judge__session_uncertainty(const judge *j, size_t session, bool assume, bool *assumed);

/* Of the mean of count sessions read with this meter, apart from what each adds. */
double judge__meter_variance(const judge *j, uint16_t meter, bool assume, bool *assumed);

/* Of one reading as a value of the true tension at its point. */
double judge__reading_uncertainty(const judge *j, size_t session, size_t reading);

/* ---- conformity.c ---- */

/* The first session at or after the settling time (of an unknown age: the first); SIZE_MAX none. */
size_t judge__acceptance_session(const judge *j, const tenter_mounting *m);

/* Tolerance, maximum and points below the floor of screen i of the review; after forecasts. */
void judge__conformity(judge *j, size_t i);

/* The first session of a mounting at or after the settling time, of an unknown age the first;
 * SIZE_MAX: none yet. */
size_t judge__acceptance_session(const judge *j, const tenter_mounting *m);

/* A value with standard uncertainty u against limits (infinite: none) with the guard band of the
 * settings. *probability: that the true value is within. */
tenter_verdict judge__guarded(const judge *j, double value, double u, double low, double high,
                              double *probability);

#endif
