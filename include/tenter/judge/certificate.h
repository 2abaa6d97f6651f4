/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What can be certified of the screens of an order, of a customer, or picked by hand: each with its
 * reading and verdict, or with why not; how the shop stretched for the order; its meters.
 *
 * Doubles are NaN where not known, times TENTER_NO_TIME, ids TENTER_NO_NAME. Tensions in N/cm. */
#ifndef TENTER_JUDGE_CERTIFICATE_H
#define TENTER_JUDGE_CERTIFICATE_H

#include "tenter/judge/review.h"
#include "tenter/stats/acceptance.h"
#include "tenter/stats/capability.h"
#include "tenter/stats/normality.h"

typedef enum tenter_certificate_scope {
  TENTER_CERTIFICATE_ORDER,
  TENTER_CERTIFICATE_CUSTOMER,
  TENTER_CERTIFICATE_SCREENS /* picked by hand: nothing is said of the process */
} tenter_certificate_scope;

typedef struct tenter_certificate_request {
  tenter_certificate_scope scope;
  uint32_t name;           /* ORDER, CUSTOMER: its name id */
  const uint32_t *screens; /* SCREENS: screen ids, each with a mounting */
  size_t screen_count;
} tenter_certificate_request;

/* Why a screen is not certified; the figures are those of tenter_refusal. X(constant, code) */
#define TENTER_REFUSALS(X)                                                                         \
  X(NOT_IN_USE, "not_in_use")                                                                      \
  X(NEVER_READ, "never_read")                                                                      \
  X(NO_TOLERANCE, "no_tolerance") /* without target, or without minus and plus */                  \
  X(AGE_UNKNOWN, "age_unknown")                                                                    \
  X(TOO_YOUNG, "too_young")                   /* found, wanted: hours */                           \
  X(TOO_FEW_POSITIONS, "too_few_positions")   /* found, wanted: positions */                       \
  X(NEVER_CHECKED, "meter_never_checked")     /* meter; wanted: days between checks */             \
  X(OUT_OF_CHECK, "meter_out_of_check")       /* meter, when; found, wanted: days */               \
  X(METER_SHIFTED, "meter_shifted")           /* meter, when; found: its bias */                   \
  X(OUTSIDE, "outside")                       /* found: the mean judged; wanted: nearer limit */   \
  X(UNDECIDED, "undecided")                   /* the same */                                       \
  X(EVENNESS_UNDECIDED, "evenness_undecided") /* found: chance that it is even */                  \
  X(FALLS_BEFORE_USE, "falls_before_use")     /* found: chance; wanted: risk; when: day of use */  \
  X(REVIEW, "review")                         /* reason: what the review asks for */
#define TENTER_REFUSAL_CONSTANT(constant, ...) TENTER_REFUSAL_##constant,
typedef enum tenter_refusal_code {
  TENTER_REFUSALS(TENTER_REFUSAL_CONSTANT) TENTER_REFUSAL_COUNT
} tenter_refusal_code;
const char *tenter_refusal_word(tenter_refusal_code code);

typedef struct tenter_refusal {
  tenter_refusal_code code;
  double found, wanted;
  tenter_when when;
  uint16_t meter;
  const tenter_reason *reason; /* REVIEW */
} tenter_refusal;

typedef struct tenter_certificate_screen {
  uint32_t screen;
  size_t mounting;                    /* the current or the last one */
  const tenter_review_screen *judged; /* NULL where it is not in use */
  bool certified;
  const tenter_refusal *refusals;
  size_t refusal_count;
  size_t positions;       /* places read in the latest session */
  double expanded;        /* uncertainty of the latest session's mean, coverage factor 2 */
  tenter_verdict verdict; /* of the tolerance, by the certificate's rule */
  bool by_simple_rule;    /* undecided with a guard band, let through by the rule chosen */
  double accepted_mean;   /* what was judged: the acceptance session, or several */
  double accepted_expanded;
  size_t accepted_session; /* the first of them; SIZE_MAX none */
  size_t accepted_sessions;
  double expected, expected_sd, below_floor_then; /* on the day of use; NaN: none given, or past */
} tenter_certificate_screen;

/* A meter of the readings certified. */
typedef struct tenter_certificate_meter {
  uint16_t meter;
  double expanded, coverage, resolution; /* expanded: the one assumed where none is given */
  bool assumed;
  size_t screens;
  tenter_when checked; /* last day of a check before its last reading here */
  size_t checks;       /* on that day */
  double worst;        /* error of that day's plate that was farthest off; indicated - nominal */
  double every_days;   /* NaN: none set */
  double bias, bias_se;
} tenter_certificate_meter;

/* One mounting stretched for the order, brought to 24 h. */
typedef struct tenter_certificate_value {
  size_t mounting, session;
  double value;
  bool delivered; /* the mounting that is listed; else stretched again, burst or retired */
} tenter_certificate_value;

/* All that was stretched to one specification. */
typedef struct tenter_certificate_group {
  uint32_t mesh;
  double target, lower, upper;            /* limits -INFINITY, INFINITY: none */
  size_t mountings;                       /* stretched for it, rejects included */
  size_t rejects;                         /* of them not delivered */
  size_t refused;                         /* listed, but not certified */
  size_t within, outside;                 /* of those with a value, by the limit itself */
  const tenter_certificate_value *values; /* in order of stretching */
  size_t count;
  tenter_interval outside_share; /* exact, at the level of the settings */
  tenter_capability capability;
  tenter_normality normality;
  bool tested, normal;             /* tested: enough values; normal: not refuted */
  const double *sorted, *expected; /* count each: the probability plot */
  double factor, low, high;        /* tolerance interval under a normal law; NaN too few */
  double range_content;            /* share between least and greatest, whatever the law */
  bool sorted_delivery;            /* rejects taken out: no plan */
  bool planned;                    /* a plan is set and could be applied */
  tenter_plan plan;                /* of as many as were read */
  tenter_plan_result result;
  double mean_loss; /* per decade: how values were brought to 24 h */
} tenter_certificate_group;

typedef struct tenter_certificate {
  const tenter_review *review;
  tenter_certificate_request request;
  tenter_arena *arena;
  uint32_t customer, order; /* the one of all listed screens; TENTER_NO_NAME where they differ */
  tenter_certificate_screen *screens; /* by id */
  size_t screen_count, certified;
  tenter_certificate_meter *meters;
  size_t meter_count;
  tenter_certificate_group *groups; /* none for SCREENS */
  size_t group_count;
  bool simple;             /* the decision rule: the limit itself, without a guard band */
  size_t plan_asked;       /* n of [certificate] sampling_plan; 0 without one */
  tenter_time first, last; /* of the readings certified */
  size_t by_simple_rule;   /* screens let through by it */
} tenter_certificate;

/* The certificate of a request, in an arena of its own; the review must outlive it. TENTER_USAGE
 * when the sampling plan of the settings can't be read; TENTER_INPUT when no screen belongs to the
 * order or customer; TENTER_FAILED without memory. O(mountings + sessions of those listed). */
tenter_status tenter_certificate_new(const tenter_review *review,
                                     const tenter_certificate_request *request,
                                     tenter_certificate **certificate, tenter_error *error);
void tenter_certificate_free(tenter_certificate *certificate);

#endif
