/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The review: one plain struct that holds every finding with its evidence. Reports print it,
 * review.json mirrors it; nothing is decided after it. All in one arena.
 *
 * Doubles are NaN where not known, times TENTER_NO_TIME, ids TENTER_NO_NAME. Tensions in N/cm. */
#ifndef TENTER_JUDGE_REVIEW_H
#define TENTER_JUDGE_REVIEW_H

#include "tenter/judge/charts.h"
#include "tenter/shop/shop.h"

/* Worst last, so that the worst is the greatest. X(constant, code); what people read is in
 * tenter/words/actions.h. */
#define TENTER_ACTIONS(X)                                                                          \
  X(USE, "use")                                                                                    \
  X(REREAD, "reread")                                                                              \
  X(RESTRETCH, "restretch")                                                                        \
  X(WITHDRAW, "withdraw")
#define TENTER_ACTION_CONSTANT(constant, ...) TENTER_ACTION_##constant,
typedef enum tenter_action {
  TENTER_ACTIONS(TENTER_ACTION_CONSTANT) TENTER_ACTION_COUNT
} tenter_action;
const char *tenter_action_code(tenter_action action);
const char *tenter_action_words(tenter_action action);

/* The uncertainty of a meter where the config gives none: for acceptance and certificates. */
#define TENTER_ASSUMED_EXPANDED 1.0 /* N/cm */
#define TENTER_ASSUMED_COVERAGE 2.0

typedef enum tenter_verdict {                      /* a limit judged with its guard band */
                              TENTER_VERDICT_NONE, /* nothing to judge: null */
                              TENTER_VERDICT_GOOD, /* inside, even, under, agrees */
                              TENTER_VERDICT_UNDECIDED,
                              TENTER_VERDICT_BAD /* outside, uneven, over, does not agree */
} tenter_verdict;

typedef enum tenter_ageing {
  TENTER_AGEING_NONE, /* without a floor or a forecast */
  TENTER_AGEING_SETTLING,
  TENTER_AGEING_HOLDING,
  TENTER_AGEING_FADING,
  TENTER_AGEING_SPENT
} tenter_ageing;

/* Why a screen gets an action. X(constant, code); what it says is in tenter/words/actions.h. */
#define TENTER_REASONS(X)                                                                          \
  X(BELOW_FLOOR, "below_floor")                                                                    \
  X(POINT_BELOW_FLOOR, "point_below_floor")                                                        \
  X(OVER_MAXIMUM, "over_maximum")                                                                  \
  X(FALLS_BELOW_FLOOR, "falls_below_floor")                                                        \
  X(ONE_COLOUR_ONLY, "one_colour_only")                                                            \
  X(UNEVEN, "uneven")                                                                              \
  X(ACCEPTANCE_LOW, "acceptance_low")                                                              \
  X(NOT_FIT_TO_ACT, "not_fit_to_act")                                                              \
  X(SETTLING, "settling")                                                                          \
  X(NEVER_READ, "never_read")                                                                      \
  X(STALE, "stale")                                                                                \
  X(EVENNESS_UNDECIDED, "evenness_undecided")                                                      \
  X(ACCEPTANCE_UNDECIDED, "acceptance_undecided")                                                  \
  X(ACCEPTANCE_HIGH, "acceptance_high")                                                            \
  X(MAXIMUM_UNDECIDED, "maximum_undecided")                                                        \
  X(CHART_SIGNAL, "chart_signal")                                                                  \
  X(DOUBTED_READING, "doubted_reading")                                                            \
  X(STEPPED_DOWN, "stepped_down")                                                                  \
  X(METER_SHIFTED, "meter_shifted")                                                                \
  X(NO_FLOOR, "no_floor")                                                                          \
  X(TENSION_ROSE, "tension_rose")                                                                  \
  X(CONTRADICTION, "contradiction")                                                                \
  X(NOTE, "note")
#define TENTER_REASON_CONSTANT(constant, ...) TENTER_REASON_##constant,
typedef enum tenter_reason_code {
  TENTER_REASONS(TENTER_REASON_CONSTANT) TENTER_REASON_COUNT
} tenter_reason_code;
const char *tenter_reason_word(tenter_reason_code code);

enum { TENTER_SOURCES_NAMED = 20 };

typedef struct tenter_reason {
  tenter_reason_code code;
  tenter_action action;      /* what this reason alone would ask for; USE for a note */
  const char *text;          /* a sentence for the shop, with its figures: for files of programs */
  const char *words;         /* the same with numbers and dates in the form of reports */
  const tenter_row *sources; /* the rows behind it */
  uint32_t source_count, more_sources; /* named; not named */
} tenter_reason;

/* Level at 24 h and loss from there to 240 h, jointly normal: y = at_24h - loss u(age) on the clock
 * of its law (stats/clock.h); with the log law u = log10(age / 24 h), so that the loss is that of
 * every decade of age. */
typedef struct tenter_line {
  double at_24h, loss;
  double var_at_24h, var_loss, cov; /* cov of at_24h and loss */
} tenter_line;

/* A mounting's own line as the population sees it: one line per node of the distribution of laws
 * and variance components; weights are in tenter_review.node_weight and sum to 1. On the scale of
 * the population. */
typedef struct tenter_posterior {
  const tenter_line *nodes; /* review->node_count entries, or NULL without a forecast */
} tenter_posterior;

typedef struct tenter_latest { /* the latest session of the mounting */
  size_t session;              /* index into shop->sessions */
  double age_hours;
  double mean, adjusted_mean, median, sd, range, min,
      max;                                      /* raw readings; sd NaN for one reading */
  uint16_t weakest_position, tightest_position; /* of the raw readings; TENTER_NO_NAME16 unknown */
  tenter_direction weakest_direction, tightest_direction;
  double warp_mean, weft_mean, corner_minus_centre, tilt_x, tilt_y; /* NaN where it can't be had */
  double uncertainty; /* standard uncertainty of the mean as a value of the screen's true mean */
} tenter_latest;

typedef struct tenter_relaxation {
  double at_24h, loss_per_decade, loss_per_decade_se; /* pooled */
  const char *law; /* that of the population: "log", "power", "stretched", "solid" */
  struct {
    double at_24h, loss_per_decade,
        loss_per_decade_se; /* the screen's own fit; NaN with too few sessions */
    size_t sessions;
  } alone;
} tenter_relaxation;

typedef struct tenter_forecast {
  double now, now_se;
  double below_floor_now, below_floor_at_horizon; /* against the floor */
  double below_coarse_now;                        /* against the coarse floor; NaN without one */
  tenter_time early, median,
      late; /* 5 %, 50 %, 95 % points of the crossing; TENTER_NO_TIME: not within 10 years */
} tenter_forecast;

enum { TENTER_PLAN_WEEKS = 8 }; /* that a work list shows */

/* When a screen's turn comes, in weeks from review->plan_start (0: the first); -1: none. */
typedef struct tenter_turn {
  /* When the chance to have been below the floor reaches the risk; as_of where the screen's action
   * asks to re-stretch it; TENTER_NO_TIME: not within 10 years, or not known. */
  tenter_time due;
  int restretch_due;  /* the last week that ends before it */
  int restretch_week; /* levelled to the re-stretches that the shop can do a week */
  int read_due;  /* 0 where it is to be read again or its reading is worth it; else the last week
                    that ends before its latest session is stale */
  int read_week; /* levelled to the sessions that the shop can do a week */
  double value;  /* of a session now: the chance that it changes what the forecast asks for; NaN */
  double session_variance; /* of that session, on the scale of the population; NaN */
} tenter_turn;

typedef struct tenter_review_screen {
  uint32_t screen;  /* name id */
  size_t mounting;  /* index into shop->mountings */
  double age_hours; /* at as_of */
  bool read;        /* latest holds something */
  tenter_latest latest;
  tenter_verdict tolerance, evenness, maximum;
  double tolerance_probability, evenness_probability, maximum_probability; /* of conformity */
  size_t acceptance_session; /* index, SIZE_MAX none */
  tenter_relaxation relaxation;
  tenter_posterior posterior;
  tenter_forecast forecast;
  tenter_ageing ageing;
  bool fit_to_act; /* the latest session is full, not stale, not doubted, its meter not shifted */
  bool doubted;    /* the latest session looks misread */
  tenter_action action, action_before; /* now; at the end of the week before
 (TENTER_ACTION_COUNT: not in use then) */
  bool after_this_job;
  tenter_turn turn;
  const tenter_reason *reasons; /* worst first; every one that applies */
  size_t reason_count;
} tenter_review_screen;

typedef struct tenter_review_lot {
  uint32_t lot, mesh;
  size_t screens, sessions; /* mountings' screens; sessions used */
  double loss_per_decade, loss_per_decade_se, mesh_loss_per_decade, excess, excess_se;
  double probability_fast, q_value;
  double raw_loss_per_decade; /* the unpooled mean of its mountings' own slopes; NaN */
  bool fast;
  const char *const
      *confounded_with; /* what always went together with it; it is then not flagged */
  size_t confounded_count;
  double raw_loss_per_decade_se; /* from the spread of those slopes; NaN with one */
  size_t raw_screens;            /* mountings that have one */
  /* The comparison of those means (stats/compare.h), a check beside probability_fast; NaN where
   * they can't be compared. p: so far above the mean of the mesh's other lots by luck, one-sided;
   * q: adjusted for all lots (Benjamini, Hochberg 1995); pair p: the least of Tukey's comparison
   * with a lot below; above: lots it is shown to lie above by that, at 5 %, of raw_compared. */
  double raw_p_value, raw_q_value, raw_pair_p_value;
  size_t raw_above, raw_compared;
  /* N/cm lost by 30 days beyond its mesh's norm, from the mesh's level at 24 h */
  double extra_loss_at_30_days, extra_loss_at_30_days_se;
  /* days from there to the floor; NaN without a floor, or beyond 10 years; early and late: with the
   * ends of the 90 % interval of its loss */
  double floor, days_to_floor, days_to_floor_early, days_to_floor_late, mesh_days_to_floor;
  double days_lost; /* of those of the mesh */
  /* excess with the covariates of its population taken off: a check, NaN without them */
  double adjusted_excess, adjusted_excess_se;
} tenter_review_lot;

/* How long a new mounting may go. Days are its age. */
typedef struct tenter_review_interval {
  uint32_t mesh;
  uint32_t lot; /* TENTER_NO_NAME: from whatever lot, one not seen yet included */
  double risk;
  double floor; /* the usual one of the mesh's mountings in use */
  /* The age up to which it is below its floor with no more than the risk; 0: it may be sooner than
   * the settling time; NaN: not within 10 years. And the 90 % interval of the age at which the
   * risk is truly reached (early <= days); NaN: beyond 10 years. */
  double days, days_early, days_late;
  double below_at_start; /* chance to be below when it has settled */
} tenter_review_interval;

/* What else moves the tension, estimated beside the losses; shared by all meshes. */
typedef struct tenter_review_covariate {
  const char *name;    /* "meter M2", "printed at all", ...: for programs */
  const char *words;   /* the same for people */
  const char *unit;    /* "N/cm", "N/cm per decade" */
  double estimate, se; /* on a level: raises it; on a loss: raises it; at the mesh's level */
} tenter_review_covariate;

typedef struct tenter_review_population {
  uint32_t mesh;
  size_t mountings, lots, sessions;
  double reml_log_likelihood, at_24h, at_24h_se, loss_per_decade, loss_per_decade_se;
  double sd_lot_at_24h, sd_lot_loss, lot_correlation;
  double sd_mounting_at_24h, sd_mounting_loss, mounting_correlation, sd_session;
  const char *structure; /* what could be fitted, in words: "lot and mounting, level and loss" ...
                            "prior loss" */
  const char *scale;     /* "tension" or "log" */
  const char *law;       /* as in tenter_relaxation: the one that the fit rests on */
  double law_beta, law_tau_hours; /* of a law that levels off (stats/clock.h); else NaN */
  double levels_off; /* the chance that it is a law that levels off: what forecasts average over */
  tenter_review_covariate *covariates;
  size_t covariate_count;
  /* of fresh mesh that is not printed, coated or reclaimed, as the mean meter reads it; NaN without
   * covariates. loss_per_decade is the total. */
  double loss_at_rest, loss_at_rest_se;
} tenter_review_population;

/* Codes of what a bias is measured against, and of a shift of everything. */
#define TENTER_AGAINST_PLATE "plate"
#define TENTER_AGAINST_METERS "other meters"
#define TENTER_AGAINST_PAST "own past"
#define TENTER_CAUSE_ALL "all readings"

typedef struct tenter_review_meter {
  uint32_t meter;
  size_t sessions, checks;
  double bias, bias_se;
  const char *bias_against; /* TENTER_AGAINST_..., NULL */
  bool shifted;
  tenter_time since;
  const char *const *confounded_with;
  size_t confounded_count;
  double resolution;
} tenter_review_meter;

/* A change that sessions share by how they were read: of a meter, of who reads, or of all readings
 * of some days; found beside the mountings' own lines. */
typedef struct tenter_review_shift {
  const char *cause;    /* "meter", "operator", TENTER_CAUSE_ALL */
  uint32_t name;        /* of the meter or operator; TENTER_NO_NAME for all readings */
  tenter_time since;    /* the first reading with it */
  tenter_time until;    /* TENTER_NO_TIME: it is there still */
  bool drift;           /* grows evenly since then; else a step */
  double size, size_se; /* N/cm, at its end; of a drift as of now */
  const char *against;  /* TENTER_AGAINST_... */
  bool corrected;       /* its sessions are corrected for it; else left out of forecasts */
  size_t sessions;      /* with it */
  const char *const *confounded_with; /* what it can't be told from, in words */
  size_t confounded_count;
  const char *text, *shown; /* a sentence for the shop: for programs; in the reader's form */
} tenter_review_shift;

/* The pattern of fresh mesh in four numbers. X(constant, word) */
#define TENTER_STATION_NUMBERS(X)                                                                  \
  X(TILT_X, "tilt_x")                                                                              \
  X(TILT_Y, "tilt_y")                                                                              \
  X(CORNER, "corner")                                                                              \
  X(WARP_WEFT, "warp_minus_weft")
#define TENTER_STATION_CONSTANT(constant, word) TENTER_STATION_##constant,
typedef enum tenter_station_number {
  TENTER_STATION_NUMBERS(TENTER_STATION_CONSTANT) TENTER_STATION_COUNT
} tenter_station_number;
const char *tenter_station_word(tenter_station_number number);

/* One point of the average map of a station. */
typedef struct tenter_station_point {
  uint16_t position;
  tenter_direction direction;
  double mean; /* N/cm */
  size_t readings;
} tenter_station_point;

/* Mesh stretched at one station, by the first full session of each mounting. */
typedef struct tenter_review_station {
  uint32_t station;
  size_t mountings; /* with such a session */
  /* plain means (tilt: N/cm per half width) and their standard errors */
  double mean[TENTER_STATION_COUNT], mean_se[TENTER_STATION_COUNT];
  /* against the mean of the other stations, meshes evened out (one station alone: its tilts against
   * none); NaN where it can't be had. q: adjusted for all that was looked at */
  double off[TENTER_STATION_COUNT], off_se[TENTER_STATION_COUNT], q_value[TENTER_STATION_COUNT];
  bool uneven[TENTER_STATION_COUNT]; /* shown to be off by more than matters */
  bool flagged;                      /* any, and nothing else explains it as well */
  const char *advice, *shown; /* what to do about it, for programs and in the reader's form; NULL */
  const char *const
      *confounded_with; /* what always went together with it; it is then not flagged */
  size_t confounded_count;
  const tenter_station_point *points; /* the average map, in order of positions */
  size_t point_count;
} tenter_review_station;

typedef struct tenter_review_set {
  uint32_t set;
  const uint32_t *screens;
  size_t screen_count;
  double spread, spread_uncertainty;
  tenter_verdict agrees;
  uint32_t odd_one_out; /* name id */
} tenter_review_set;

/* A week, judged with the data up to its end. The week before the present one, and as many others
 * as chart_past_sessions allows, are charted: their actions are those of a review as of their last
 * second. Only in a shop too large to look back three weeks (screens over week_screens / 3) the
 * charts of the week before rest on what that week itself let expect of its sessions: in one of
 * 50 000 screens one action differed. */
typedef struct tenter_review_week {
  int year, week;
  tenter_time start;
  size_t in_use, screens, sessions; /* screens in use at its end; read in it; sessions in it */
  size_t foreseen;                  /* sessions of which something was expected */
  double mean_shift;    /* of those, N/cm, against what was known before the week; NaN without */
  size_t judged, below; /* screens in use with a floor and a forecast; of those P(now) >= 1/2 */
  double below_floor, below_floor_low, below_floor_high; /* their share; Wilson, 95 %; NaN */
  size_t actions[TENTER_ACTION_COUNT];
  bool charted; /* actions know what control charts asked for */
} tenter_review_week;

/* The mean forecast errors of the weeks put to the test of a trend: Mann-Kendall, and the Theil-Sen
 * slope with its 95 % interval (stats/trend.h). */
typedef struct tenter_review_trend {
  const char *of;          /* "shop", "mesh", "station" */
  uint32_t name;           /* id; TENTER_NO_NAME for the shop */
  size_t weeks;            /* with an error */
  const double *shift;     /* by week of the review; NaN */
  double slope, low, high; /* N/cm a week; NaN below 4 weeks */
  double p;                /* two-sided */
} tenter_review_trend;

/* The usual pattern of a mesh: effect of each point, and the noise. */
typedef struct tenter_pattern_point {
  uint16_t position;
  tenter_direction direction;
  double effect, effect_se; /* N/cm from the session's mean; sum to zero over the usual points */
  bool usual;               /* the mesh is usually read here */
} tenter_pattern_point;

typedef struct tenter_pattern {
  uint32_t mesh;
  tenter_pattern_point *points;
  size_t point_count;
  double sd_reading,
      sd_screen_point; /* of a repeated reading; of a screen's own pattern at a point */
  bool assumed;        /* the data could not tell: settings' repeatability was taken */
} tenter_pattern;

typedef struct tenter_review {
  const tenter_shop *shop;
  tenter_arena *arena;
  tenter_review_screen *screens; /* by screen id; mountings in use at as_of */
  size_t screen_count;
  tenter_review_lot *lots; /* fast first, then by falling probability_fast, then name */
  size_t lot_count;
  tenter_review_population *populations;
  size_t population_count;
  tenter_review_meter *meters;
  size_t meter_count;
  tenter_review_shift *shifts; /* the surest first */
  size_t shift_count;
  tenter_finding
      *slips; /* readings that look misread, in another unit or exchanged, with their rows */
  size_t slip_count;
  tenter_review_station *stations; /* by name */
  size_t station_count;
  tenter_review_set *sets;
  size_t set_count;
  tenter_time plan_start;            /* Monday of the week of the day after as_of */
  tenter_review_interval *intervals; /* by mesh: any lot, then its lots by name */
  size_t interval_count;
  tenter_review_week *weeks; /* oldest first; the last is the week of as_of */
  size_t week_count;
  tenter_pattern *patterns; /* a mesh each */
  size_t pattern_count;
  double node_weight[64];
  size_t node_count;
  size_t actions[TENTER_ACTION_COUNT]; /* screens by action */
  tenter_review_charts charts;         /* empty without the weeks */
  double expected_false_alarms;        /* charts.alarms.screens; NaN without the weeks */
  tenter_review_trend *trends; /* of mean shift: the shop, then each mesh, each station, by name */
  size_t trend_count;
  bool uncertainty_assumed;   /* the default expanded uncertainty was used somewhere */
  const char *const *missing; /* sentences: what the data lack (no targets, no stretch times ...) */
  size_t missing_count;
  struct tenter_judged *judged; /* the judge's own; not for reports */
} tenter_review;

/* Judges the shop as of shop->as_of. `before`: also judge the past weeks as of their ends (weeks,
 * action_before), which builds the shop anew for each. TENTER_FAILED when memory runs out. The
 * review borrows the shop and is freed with tenter_review_free. */
tenter_status tenter_review_new(const tenter_shop *shop, bool before, tenter_pool *pool,
                                tenter_review **review, tenter_error *error);
void tenter_review_free(tenter_review *review);

/* Judges the charts of a review made with `before` anew, by kept limits where there are some for a
 * chart. What screens should do is left as it is. TENTER_INPUT when none of the limits belongs to a
 * chart of this review, or they come from data after as_of. The limits are borrowed. */
tenter_status tenter_review_chart_by(tenter_review *review, const tenter_chart_limits *kept,
                                     size_t count, tenter_error *error);

/* The forecast tension of a screen at an age, for curves: mean and standard deviation of its true
 * mean, averaged over the nodes. NaN without a forecast. */
void tenter_review_tension_at(const tenter_review *review, const tenter_review_screen *screen,
                              double age_hours, double *mean, double *sd);

/* The chance that the screen's true mean is below its floor by a time at or after as_of, or has
 * been before; NaN without a forecast, without a floor, or for an earlier time. */
double tenter_review_below_floor_by(const tenter_review *review, const tenter_review_screen *screen,
                                    tenter_time time);

/* What it loses by relaxation from one age to another by the same forecast: mean and standard
 * deviation. NaN without a forecast. */
void tenter_review_loss_between(const tenter_review *review, const tenter_review_screen *screen,
                                double from_hours, double to_hours, double *mean, double *sd);

/* The adjusted mean of any session (index into shop->sessions) and its standard uncertainty. */
double tenter_review_session_mean(const tenter_review *review, size_t session, double *uncertainty);

#endif
