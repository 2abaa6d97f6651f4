/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Actions as people read them, and reasons in a few words, each by its constant: a part of the
 * catalogue of words.h. */
#ifndef TENTER_WORDS_ACTIONS_H
#define TENTER_WORDS_ACTIONS_H

// clang-format off
#define TENTER_WORDS_ACTIONS(X) \
  X(ACTION_USE, "USE") \
  X(ACTION_REREAD, "READ AGAIN") \
  X(ACTION_RESTRETCH, "RE-STRETCH") \
  X(ACTION_WITHDRAW, "TAKE OUT OF USE") \
  X(REASON_BELOW_FLOOR, "the mean is below the floor beyond doubt") \
  X(REASON_POINT_BELOW_FLOOR, "a point is below the floor beyond its uncertainty") \
  X(REASON_OVER_MAXIMUM, "over the mesh maker's maximum beyond doubt") \
  X(REASON_FALLS_BELOW_FLOOR, "will be below the floor within the horizon") \
  X(REASON_ONE_COLOUR_ONLY, "between the coarse floor and the floor") \
  X(REASON_UNEVEN, "uneven beyond doubt") \
  X(REASON_ACCEPTANCE_LOW, "stretched too low beyond doubt") \
  X(REASON_NOT_FIT_TO_ACT, "the latest session is not fit to act on") \
  X(REASON_SETTLING, "fresh mesh: let it rest") \
  X(REASON_NEVER_READ, "never read since it was stretched") \
  X(REASON_STALE, "the latest session is too old") \
  X(REASON_EVENNESS_UNDECIDED, "evenness can't be decided") \
  X(REASON_ACCEPTANCE_UNDECIDED, "acceptance can't be decided") \
  X(REASON_ACCEPTANCE_HIGH, "stretched above the tolerance") \
  X(REASON_MAXIMUM_UNDECIDED, "the maximum can't be decided") \
  X(REASON_CHART_SIGNAL, "a control chart signals") \
  X(REASON_DOUBTED_READING, "a reading looks misread") \
  X(REASON_STEPPED_DOWN, "tension fell in a step") \
  X(REASON_METER_SHIFTED, "read with a meter that has shifted") \
  X(REASON_NO_FLOOR, "no target and no floor: ageing can't be judged") \
  X(REASON_TENSION_ROSE, "tension rose without a stretch event") \
  X(REASON_CONTRADICTION, "rows contradict each other") \
  X(REASON_NOTE, "a note")
// clang-format on

#endif
