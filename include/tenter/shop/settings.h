/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every number and word that a user may question, in one table: the struct, the config reader,
 * --help, the report's "settings used" and the JSON all expand this list.
 *
 * Row: X(type, field, section, key, default, least, most, unit, sentence, source)
 *   NUMBER  double   FLAG  bool (yes|no)   WHOLE  int (numbers)
 *   CHOICE  int, index of a word of unit ("auto|point|comma"); default is the index
 *   WORDS   const char *, "" by default
 * source: who says so; "common practice" means common practice, no source. */
#ifndef TENTER_SHOP_SETTINGS_H
#define TENTER_SHOP_SETTINGS_H

#include <stdbool.h>
#include <stddef.h>

#include "tenter/base/arena.h"
#include "tenter/base/status.h"

// clang-format off
#define TENTER_SETTINGS(X)                                                                         \
  X(CHOICE, delimiter, "intake", "delimiter", 0, 0, 4, "auto|comma|semicolon|tab|pipe",            \
    "what separates the cells", "")                                                                \
  X(CHOICE, decimal, "intake", "decimal", 0, 0, 2, "auto|point|comma",                             \
    "the decimal mark of numbers", "")                                                             \
  X(CHOICE, encoding, "intake", "encoding", 0, 0, 3, "auto|utf-8|utf-16|windows-1252",             \
    "how the files encode letters", "")                                                            \
  X(CHOICE, time_order, "intake", "time_order", 0, 0, 3, "auto|ymd|dmy|mdy",                       \
    "the order of day, month and year in dates that are not ISO 8601", "")                         \
  X(CHOICE, unit, "intake", "unit", 0, 0, 4, "auto|N/cm|N/m|kN/m|lbf/in",                          \
    "the unit of tension; auto reads it from the header and takes N/cm where none stands", "")     \
  X(CHOICE, count_unit, "intake", "count_unit", 0, 0, 2, "none|cm|inch",                           \
    "what a plain thread count as mesh means: threads per cm or per inch", "")                     \
  X(WORDS, layout, "intake", "layout", 0, 0, 0, "positions",                                       \
    "which places the position numbers 1, 2, 3 ... stand for, in that order", "")                  \
  X(CHOICE, repeats, "intake", "repeats", 0, 0, 1, "drop|keep",                                    \
    "whether an exact repetition of a row counts once or as a second reading", "")                 \
  X(NUMBER, session_gap_hours, "intake", "session_gap_hours", 2, 0.05, 24, "h",                    \
    "readings of a screen further apart than this are two sessions", "common practice")            \
  X(NUMBER, least_tension, "intake", "least_tension", 1, 0, 200, "N/cm",                           \
    "a lower reading can't be true and is rejected", "common practice")                            \
  X(NUMBER, most_tension, "intake", "most_tension", 100, 1, 1000, "N/cm",                          \
    "a higher reading can't be true and is rejected", "common practice")                           \
  X(WHOLE, least_year, "intake", "least_year", 1970, 1970, 2105, "",                               \
    "an earlier year can't be true and is rejected", "")                                           \
  X(WHOLE, most_year, "intake", "most_year", 2100, 1970, 2105, "",                                 \
    "a later year can't be true and is rejected", "")                                              \
  X(NUMBER, horizon_days, "review", "horizon_days", 7, 0.25, 365, "days",                          \
    "how far ahead a screen must hold to be used", "common practice")                              \
  X(NUMBER, risk, "review", "risk", 0.05, 0.0001, 0.5, "",                                         \
    "the chance of being below the floor that is accepted", "common practice")                     \
  X(NUMBER, settling_hours, "review", "settling_hours", 24, 0, 1000, "h",                          \
    "how long fresh mesh rests before its acceptance session",                                     \
    "trade articles: rest new mesh at least 24 h")                                                 \
  X(NUMBER, stale_days, "review", "stale_days", 14, 0.5, 1000, "days",                             \
    "a latest session older than this is too old to act on", "common practice")                    \
  X(NUMBER, false_discovery_rate, "review", "false_discovery_rate", 0.10, 0.001, 0.5, "",          \
    "the share of false names that is accepted among the lots and stations named", "")             \
  X(NUMBER, margin_share, "review", "margin_share", 0.10, 0, 1, "",                                \
    "a lot relaxes fast when it loses more than its mesh's norm by this share", "")                \
  X(NUMBER, margin_loss, "review", "margin_loss", 0.1, 0, 5, "N/cm per decade",                    \
    "and by at least this much", "")                                                               \
  X(NUMBER, coverage_factor, "review", "coverage_factor", 1.645, 0, 5, "",                         \
    "guard band of the decision rule in standard uncertainties (0: simple acceptance)",            \
    "JCGM 106:2012; 1.645 is one-sided 5 %")                                                       \
  X(NUMBER, floor_share, "review", "floor_share", 0.80, 0.1, 1, "",                                \
    "the floor as a share of target where no floor is given", "common practice")                   \
  X(NUMBER, set_spread, "review", "set_spread", 2, 0.1, 20, "N/cm",                                \
    "the means of the screens of one set may differ by this much",                                 \
    "trade articles: 2 N/cm between the screens of one job")                                       \
  X(NUMBER, repeatability, "review", "repeatability", 0.3, 0.01, 5, "N/cm",                        \
    "standard deviation of repeated readings of one point, where the data can't tell",             \
    "common practice")                                                                             \
  X(NUMBER, prior_loss_share, "review", "prior_loss_share", 0.05, 0.001, 0.3, "per decade",        \
    "loss per decade as a share of the tension, where the data can't tell",                        \
    "published relaxation of polyester: 3 to 7 % of the one-minute tension per decade")            \
  X(NUMBER, least_age_minutes, "review", "least_age_minutes", 2, 0, 600, "min",                    \
    "readings younger than this are kept but not fitted",                                          \
    "yarn tests: the slope breaks after about 100 s")                                              \
  X(NUMBER, law_margin, "review", "law_margin", 10, 0, 1000, "AICc",                               \
    "another law than the log law is taken only where its AICc is lower by this much",             \
    "Burnham and Anderson 2002, from memory: beyond 10 a model has hardly any support")            \
  X(NUMBER, law_decades, "review", "law_decades", 2, 0, 6, "decades of age",                       \
    "and only over at least this wide a span of ages", "common practice")                          \
  X(NUMBER, levelling_decades, "review", "levelling_decades", 1, 0, 6, "decades of age",           \
    "laws that level off are weighed beside the log law over at least this wide a span of ages",   \
    "common practice")                                                                             \
  X(NUMBER, law_doubt, "review", "law_doubt", 0.025, 0, 1, "",                                     \
    "how far the loss of a law that levels off may be off beyond the ages read, as a share of it", \
    "90 % intervals then cover curves of two phases as often as others (tools/bench simulate)")    \
  X(NUMBER, leaving_rate, "review", "leaving_rate", 0.05, 0.0001, 0.2, "",                         \
    "the share of calm mountings that may be named by chance as having left their law", "")        \
  X(NUMBER, least_shift, "review", "least_shift", 0.3, 0.05, 20, "N/cm",                           \
    "a meter, a person or a day that reads otherwise by less is not named", "common practice")     \
  X(NUMBER, least_unevenness, "review", "least_unevenness", 0.3, 0.01, 20, "N/cm",                 \
    "a station that pulls otherwise than the others by less is not named", "common practice")      \
  X(CHOICE, shifted_readings, "review", "shifted_readings", 0, 0, 1, "left_out|corrected",         \
    "whether readings of what has shifted are left out of forecasts, or corrected for it", "")     \
  X(WHOLE, weeks, "review", "weeks", 26, 2, 520, "weeks",                                          \
    "how many past weeks the review lists", "")                                                    \
  X(NUMBER, week_screens, "review", "week_screens", 30000, 1, 1e9, "",                            \
    "at most so many screens times weeks are judged again for the past weeks (two weeks always)", "") \
  X(CHOICE, scale, "population", "scale", 0, 0, 2, "auto|tension|log",                             \
    "whether the population model works on tension or on its logarithm", "")                       \
  X(CHOICE, covariates, "population", "covariates", 0, 0, 1, "auto|none",                          \
    "whether meter, printing and reclaiming enter the population model", "")                       \
  X(WORDS, chart_rules, "charts", "rules", 0, 0, 0, "rules of runs",                               \
    "which rules of runs signal, by their codes; without any, beyond alone; none for none",        \
    "Western Electric 1956, Nelson 1984")                                                          \
  X(NUMBER, chart_weight, "charts", "average_weight", 0.2, 0, 1, "",                               \
    "weight of the latest point in the weighted average of each chart (0: no such average)",       \
    "Lucas and Saccucci 1990")                                                                     \
  X(NUMBER, chart_run_length, "charts", "average_run_length", 500, 20, 1e6, "points",              \
    "after so many calm points that average may signal by chance", "Lucas and Saccucci 1990")      \
  X(WHOLE, chart_least, "charts", "least_points", 8, 3, 1000, "points",                            \
    "a chart with fewer points before this week has no limits", "common practice")                 \
  X(WHOLE, chart_provisional, "charts", "provisional_points", 20, 3, 1000, "points",               \
    "limits from fewer points are called provisional", "common practice")                          \
  X(NUMBER, chart_past_sessions, "charts", "past_sessions", 1e6, 1, 1e12, "",                      \
    "so many sessions times past weeks are judged with their charts (the week before always); the "   \
    "states of others leave signals out",                                                            \
    "")                                                                                              \
  X(NUMBER, stretches_per_week, "shop", "stretches_per_week", 0, 0, 1e6, "",                       \
    "how many screens the shop can stretch a week (0: no limit)", "")                              \
  X(NUMBER, sessions_per_week, "shop", "sessions_per_week", 0, 0, 1e6, "",                         \
    "how many screens the shop can read a week (0: no limit)", "")                                 \
  X(WORDS, orientation, "shop", "orientation", 0, 0, 0, "",                                        \
    "how the screen lies when it is read, for example: N is the squeegee end", "")                 \
  X(NUMBER, cost_restretch, "cost", "restretch", 0, 0, 1e9, "money",                               \
    "cost of a planned re-stretch", "")                                                            \
  X(NUMBER, cost_failure, "cost", "failure", 0, 0, 1e9, "money",                                   \
    "cost of a screen that fails on press", "")                                                    \
  X(WORDS, currency, "cost", "currency", 0, 0, 0, "", "the name of the money", "")                 \
  X(CHOICE, paper, "report", "paper", 0, 0, 1, "a4|letter", "the paper of PDF reports", "")       \
  X(WORDS, logo, "report", "logo", 0, 0, 0, "file",                                                \
    "the PNG or SVG at the head of reports; its path from the folder of the config", "")           \
  X(WORDS, accent, "report", "accent", 0, 0, 0, "#rrggbb",                                         \
    "the colour of the head of reports; its contrast with white must be 4.5 to 1",                 \
    "WCAG 2.2, success criterion 1.4.3")                                                           \
  X(CHOICE, report_mark, "report", "decimal", 0, 0, 1, "point|comma",                              \
    "the decimal mark of reports (files for programs keep the point)", "")                         \
  X(CHOICE, report_dates, "report", "dates", 0, 0, 3, "words|iso|dmy|mdy",                         \
    "dates in reports: 3 Nov 2026, 2026-11-03, 03.11.2026 or 11/03/2026", "")                      \
  X(WORDS, shop_name, "certificate", "name", 0, 0, 0, "", "who certifies", "")                     \
  X(WORDS, shop_address, "certificate", "address", 0, 0, 0, "", "where", "")                       \
  X(WHOLE, least_positions, "certificate", "least_positions", 5, 1, 99, "positions",               \
    "fewer positions are not certified", "trade articles: five points")                            \
  X(NUMBER, youngest_age_hours, "certificate", "youngest_age_hours", 24, 0, 1000, "h",             \
    "a younger reading is not certified", "trade articles: rest at least 24 h")                    \
  X(CHOICE, decision_rule, "certificate", "decision_rule", 0, 0, 1, "guarded|simple",              \
    "whether the guard band of the review decides, or the limit itself", "JCGM 106:2012")          \
  X(WORDS, sampling_plan, "certificate", "sampling_plan", 0, 0, 0, "n=..., k=...",                 \
    "acceptance by variables: sample size, acceptability constant; where known, sigma=... of all", \
    "ISO 3951-1 form")                                                                             \
  X(NUMBER, content, "certificate", "content", 0.95, 0.5, 0.999, "",                               \
    "the share of all screens that a tolerance interval is to hold", "ISO 16269-6")                \
  X(NUMBER, confidence, "certificate", "confidence", 0.95, 0.5, 0.999, "",                         \
    "how surely intervals hold what they are about", "common practice")                            \
  X(NUMBER, normality_level, "certificate", "normality_level", 0.05, 0.0001, 0.5, "",              \
    "values are not taken as normal where the test of it gives less", "common practice")           \
  X(NUMBER, reject_days, "certificate", "reject_days", 14, 0, 365, "days",                         \
    "a screen stretched again, unprinted, within this time is a reject of its order",              \
    "common practice")
// clang-format on

typedef enum tenter_setting_type {
  TENTER_SETTING_NUMBER,
  TENTER_SETTING_WHOLE,
  TENTER_SETTING_FLAG,
  TENTER_SETTING_CHOICE,
  TENTER_SETTING_WORDS
} tenter_setting_type;

#define TENTER_FIELD_NUMBER double
#define TENTER_FIELD_WHOLE int
#define TENTER_FIELD_FLAG bool
#define TENTER_FIELD_CHOICE int
#define TENTER_FIELD_WORDS const char *
#define TENTER_SETTINGS_FIELD(type, field, ...) TENTER_FIELD_##type field;

typedef struct tenter_settings {
  TENTER_SETTINGS(TENTER_SETTINGS_FIELD)
} tenter_settings;

enum { TENTER_DECIMAL_AUTO, TENTER_DECIMAL_POINT, TENTER_DECIMAL_COMMA };
enum { TENTER_ORDER_AUTO, TENTER_ORDER_YMD, TENTER_ORDER_DMY, TENTER_ORDER_MDY };
enum { TENTER_UNIT_AUTO, TENTER_UNIT_N_CM, TENTER_UNIT_N_M, TENTER_UNIT_KN_M, TENTER_UNIT_LBF_IN };
enum { TENTER_COUNT_NONE, TENTER_COUNT_CM, TENTER_COUNT_INCH };
enum { TENTER_REPEATS_DROP, TENTER_REPEATS_KEEP };
enum { TENTER_SCALE_AUTO, TENTER_SCALE_TENSION, TENTER_SCALE_LOG };
enum { TENTER_COVARIATES_AUTO, TENTER_COVARIATES_NONE };
enum { TENTER_RULE_GUARDED, TENTER_RULE_SIMPLE }; /* decision_rule */
enum { TENTER_SHIFTED_LEFT_OUT, TENTER_SHIFTED_CORRECTED };

/* One row of the table, for those who print or parse settings. */
typedef struct tenter_setting {
  tenter_setting_type type;
  size_t offset; /* of the field in tenter_settings */
  const char *section, *key;
  double initial, least, most;
  const char *unit, *sentence, *source;
} tenter_setting;

extern const tenter_setting tenter_setting_table[];
extern const size_t tenter_setting_count;

/* All defaults. */
tenter_settings tenter_settings_default(void);

/* Sets one setting from text (decimal point; words of choices in any case). TENTER_USAGE with a
 * sentence that names key, what was found and what is allowed. WORDS are copied into arena. */
tenter_status tenter_setting_set(tenter_settings *settings, const tenter_setting *setting,
                                 const char *text, tenter_arena *arena, tenter_error *error);

/* The value as text ("7", "auto", "yes"), in the arena; NULL when memory runs out. */
char *tenter_setting_print(const tenter_settings *settings, const tenter_setting *setting,
                           tenter_arena *arena);

#endif
