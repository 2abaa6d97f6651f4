/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The words of relaxation laws, of their fits, and of fits of lives: a part of the catalogue of
 * words.h. */
#ifndef TENTER_WORDS_LAWS_H
#define TENTER_WORDS_LAWS_H

// clang-format off
#define TENTER_WORDS_LAWS(X) \
  X(LAW_TITLE_LOG, "logarithm of age") \
  X(LAW_TITLE_POWER, "power of age") \
  X(LAW_TITLE_STRETCHED, "stretched exponential") \
  X(LAW_TITLE_TWO_PHASE, "two exponential phases") \
  X(LAW_TITLE_SOLID, "standard linear solid") \
  /* which law is taken: {1} a law, {2} by how much its AICc is lower, {3} decades of age, {4} and {5} what
   * another law needs */ \
  X(LAWS_TOO_FEW, "Too few sessions to compare laws: the log law is taken.") \
  X(LAWS_TAKEN, \
    "The law \"{1}\" is taken: its AICc is {2} below that of the log law, over {3} decades of age.") \
  X(LAWS_LOG, "The log law is taken: no other fits better.") \
  X(LAWS_UNSOUND, \
    "The log law is taken: \"{1}\" has an AICc lower by {2}, but it can't be relied on, as it says " \
    "itself.") \
  X(LAWS_LOG_BETTER, \
    "The log law is taken: \"{1}\" has an AICc lower by {2}, over {3} decades of age; another law has " \
    "to be better by {4}, over {5} decades.") \
  /* notes on a fit: by TENTER_LAW_NOTES */ \
  X(LAW_NOT_CONVERGED, "The search did not reach a minimum, so its numbers can't be used") \
  X(LAW_ON_BOUND, "A parameter sits on its limit: it says where the limit is, not what the mesh does") \
  X(LAW_PLATEAU_HELD, \
    "The plateau is held at its least value: the readings do not show where the fall ends") \
  X(LAW_EXPLAINS_NOTHING, "A constant explains the readings as well") \
  X(LAW_UNDETERMINED, "The readings can't tell the parameters apart") \
  X(LAW_RISES, "The curve rises with age") \
  X(LAW_NO_LEVELLING, \
    "The time constant is beyond the oldest reading: no levelling off has been seen") \
  X(LAW_NOT_RANDOM, \
    "The residuals run in one direction for too long: another law, or a change on the way") \
  X(LAW_EXACT, "As many parameters as readings: nothing is left to judge the fit by") \
  X(LAW_TOO_FEW, "Too few readings to compare this law with others") \
  X(LAW_NEWEST_DOWNWEIGHTED, "The newest reading does not go with the rest: read it again") \
  /* such a note, alone or with figures; {1} what came before */ \
  X(LAW_NOTE, "{1}.") \
  X(LAW_NOTE_FIGURES, "{1} ({2}).") \
  X(LAW_FIGURE_BOUND, "{1} = {2}") \
  X(LAW_FIGURE_BOUND_HOURS, "{1} = {2} h") \
  X(LAW_FIGURE_P, "p = {1}") \
  X(LAW_FIGURE_RUNS, "{1} runs where {2} are usual") \
  /* why a search ended: by TENTER_FIT_STOPS */ \
  X(FIT_LINEAR, "nothing had to be searched: the model is linear") \
  X(FIT_GAIN, "the next step would not have made the sum of squares smaller") \
  X(FIT_STEP, "the next step was too short to matter") \
  X(FIT_GRADIENT, "the residuals are orthogonal to every direction of search") \
  X(FIT_EXACT, "the curve goes through every point") \
  X(FIT_BOUNDS, "every parameter that is searched sits on a bound") \
  X(FIT_STUCK, "no step made the sum of squares smaller, though one should have") \
  X(FIT_ITERATIONS, "the allowed number of steps was used up") \
  X(FIT_UNDEFINED, "the model has no finite value at the start") \
  /* why there is a fit of lives or none: by TENTER_LIFE_STATES */ \
  X(LIFE_FITTED, "the fit is the maximum of the likelihood") \
  X(LIFE_NO_FAILURES, "nothing was seen to fail: all that is known is that lives are longer than these") \
  X(LIFE_NO_SURVIVORS, \
    "everything had failed when first looked at: all that is known is that lives are shorter than these") \
  X(LIFE_ONE_TIME, "all can have failed at one time, so that their spread can't be told") \
  X(LIFE_REVERSED, \
    "those looked at late had failed no more than those looked at early: no spread fits that") \
  X(LIFE_DEPENDENT, "a column is a sum of others: their parts can't be told apart") \
  X(LIFE_SEPARATED, \
    "a column (a group without failures, say) tells failures from survivors with certainty, so that " \
    "its part has no bounds") \
  X(LIFE_UNSETTLED, "the search found no maximum")
// clang-format on

#endif
