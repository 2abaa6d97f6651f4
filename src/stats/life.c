/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rows of lives: checked, counted, recoded. Relies on nothing. */
#include "tenter/stats/life.h"

#include <math.h>

static double weight_of(const tenter_life *life, size_t i) {
  return life->weight ? life->weight[i] : 1;
}

/* Why a row can't be used; NULL where it can. */
static const char *fault_of(const tenter_life *life, size_t i) {
  double lower = life->lower[i], upper = life->upper[i], weight = weight_of(life, i);
  if (isnan(lower) || isnan(upper))
    return "a time is missing; give 0 for a start that isn't known, infinity for an end";
  if (!(lower >= 0) || isinf(lower))
    return "the lower time must be finite and not below 0";
  if (upper < lower)
    return "the upper time is below the lower one";
  if (!(weight >= 0) || isinf(weight))
    return "the weight must be finite and not below 0";
  return NULL;
}

static void add_row(tenter_life_tally *tally, double lower, double upper, double weight) {
  if (lower == upper)
    tally->exact += weight;
  else if (isinf(upper))
    *(lower > 0 ? &tally->right : &tally->silent) += weight;
  else
    *(lower > 0 ? &tally->interval : &tally->left) += weight;
}

tenter_status tenter_life_count(const tenter_life *life, tenter_life_tally *tally,
                                tenter_error *error) {
  tenter_life_tally sums = {0};
  for (size_t i = 0; i < life->count; i++) {
    const char *fault = fault_of(life, i);
    if (fault)
      return tenter_fail(error, TENTER_INPUT, "Row %zu, (%g, %g] with weight %g: %s.", i + 1,
                         life->lower[i], life->upper[i], weight_of(life, i), fault);
    add_row(&sums, life->lower[i], life->upper[i], weight_of(life, i));
  }
  if (!(sums.exact + sums.left + sums.interval + sums.right > 0))
    return tenter_fail(error, TENTER_INPUT, "None of the %zu rows says anything about a life.",
                       life->count);
  *tally = sums;
  return TENTER_OK;
}

tenter_status tenter_life_endings(const tenter_life *life, const double *ended,
                                  tenter_ending ending, double *lower, double *upper,
                                  tenter_error *error) {
  double longest = 0;
  for (size_t i = 0; i < life->count; i++) {
    const char *fault = fault_of(life, i);
    if (!fault && !isnan(ended[i]) &&
        (!isinf(life->upper[i]) || ended[i] < life->lower[i] || isinf(ended[i])))
      fault = "a life that was ended must be open above, and end at a finite time not below its "
              "lower one";
    if (fault)
      return tenter_fail(error, TENTER_INPUT, "Row %zu, (%g, %g], ended at %g: %s.", i + 1,
                         life->lower[i], life->upper[i], ended[i], fault);
    longest = fmax(longest, fmax(life->lower[i], isnan(ended[i]) ? 0 : ended[i]));
    longest = fmax(longest, isinf(life->upper[i]) ? 0 : life->upper[i]);
  }
  for (size_t i = 0; i < life->count; i++) {
    bool changed = !isnan(ended[i]) && ending != TENTER_ENDING_CENSORED;
    double low = life->lower[i], high = life->upper[i];
    lower[i] = changed && ending == TENTER_ENDING_SURVIVED ? longest : low;
    upper[i] = changed && ending == TENTER_ENDING_FAILED ? ended[i] : high;
  }
  return TENTER_OK;
}
