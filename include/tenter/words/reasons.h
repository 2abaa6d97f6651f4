/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The words of reasons, which judge/reason_text.c fills with their figures: a part of the catalogue
 * of words.h, with ids that begin with WHY_. */
#ifndef TENTER_WORDS_REASONS_H
#define TENTER_WORDS_REASONS_H

// clang-format off
#define TENTER_WORDS_REASONS(X) \
  X(CAUTION, \
    "Caution: raise tension in steps, never above the mesh maker's maximum (find it first where it " \
    "is not given), watch the corners, protect your eyes, and measure again after it has rested.") \
  /* Round numbers: nobody can use "12 chances in 13". */ \
  X(CHANCE_LEAST, "less than 1 chance in 100") \
  X(CHANCE_ONE_IN, "about 1 chance in {1}") \
  X(CHANCE_IN_TEN, "about {1} chances in 10") \
  X(CHANCE_IN_20, "about 19 chances in 20") \
  X(CHANCE_IN_50, "about 49 chances in 50") \
  X(CHANCE_MOST, "more than 99 chances in 100") \
  /* What is done to a screen that is too low: the words follow the frame. */ \
  X(REMEDY_UNKNOWN, "re-stretch it") \
  X(REMEDY_GLUED, "replace the mesh (glued mesh can't be re-tensioned)") \
  X(REMEDY_RETENSIONABLE, "re-tension it") \
  X(AFTER_THIS_JOB, "after this job, {1}") \
  X(READ_BEFORE, "read it again before anything is done") \
  X(A_POINT, "a point") \
  X(WARP, "{1}, warp") \
  X(WEFT, "{1}, weft") \
  X(NOW_ABOUT, "Now about {1} N/cm (9 times in 10 between {2} and {3})") \
  X(POINT_READ, "The point {1} read {2} N/cm,") \
  X(BELOW_FLOOR, "{1}, under the floor of {2}: {3}. Take it out of use and {4}.") \
  X(BELOW_COARSE, "{1}, under the coarse floor of {2}: {3}. Take it out of use and {4}.") \
  X(POINT_BELOW, \
    "The point {1} read {2} N/cm, under the floor of {3} by more than its uncertainty ({4}): {5}.") \
  X(POINT_BELOW_COARSE, \
    "The point {1} read {2} N/cm, under the coarse floor of {3} by more than its uncertainty " \
    "({4}): {5}.") \
  X(POINT_TAKE_OUT, "take the screen out of use, look at bond, strip and bar there, and {1}") \
  X(POINT_IN_DOUBT, "read it again, the meter or the reading is in doubt") \
  X(OVER_MAXIMUM, \
    "Over the mesh maker's maximum of {1} N/cm: the mean is {2}, {3} read {4}. The mesh can tear: " \
    "keep clear of it, protect your eyes, and let the tension down or take the mesh off.") \
  X(OVER_IN_DOUBT, \
    "Over the mesh maker's maximum of {1} N/cm: the mean is {2}, {3} read {4}. That reading looks " \
    "misread: read it again with eyes protected.") \
  X(FALLS_BELOW, "{1}, floor {2}: {3} that it is under its floor by {4}; {5}.") \
  X(ONE_COLOUR, \
    "{1} under the floor of {2} but not under the coarse floor of {3}: usable for one colour; {4}.") \
  X(UNEVEN_BELOW, \
    "the point {1} stands {2} N/cm below the centre (limit {3}), the spread is {4} (limit {5})") \
  X(UNEVEN_ABOVE, \
    "the point {1} stands {2} N/cm above the centre (limit {3}), the spread is {4} (limit {5})") \
  X(UNEVEN_WARP_WEFT, "{1}, warp and weft differ by {2} (limit {3})") \
  X(UNEVEN, "Uneven: {1}. Look at bond, strip and bar where it is off, and {2}.") \
  X(UNEVEN_IN_DOUBT, "Uneven: {1}. Read it again before anything is done.") \
  X(EVENNESS_UNDECIDED, \
    "Too near a limit to say whether it is even: {1}; {2} that it is even. Read all its points " \
    "again.") \
  X(ACCEPTANCE, "{1}: {2} N/cm, give or take {3}; wanted {4}") \
  X(ACCEPTANCE_MINUS, "{1}, not under {2}") \
  X(ACCEPTANCE_PLUS, "{1}, not over {2}") \
  X(STRETCHED_LOW, "Stretched too low, read on {1}; {2}.") \
  X(STRETCHED_HIGH, \
    "Stretched above its tolerance, read on {1}. Read it again; let it down if it stays above.") \
  X(STRETCHED_HIGH_ONCE, "Stretched above its tolerance, read on {1}. It has come down since.") \
  X(STRETCHED_UNDECIDED, \
    "Too near a limit to say whether it was stretched to tolerance, read on {1}. One more full " \
    "reading helps.") \
  X(STRETCHED_NOTED, \
    "Too near a limit to say whether it was stretched to tolerance, read on {1} ({2} session judged " \
    "together). A note; nothing to do.") \
  X(STRETCHED_NOTED_MORE, \
    "Too near a limit to say whether it was stretched to tolerance, read on {1} ({2} sessions " \
    "judged together). A note; nothing to do.") \
  X(NOT_FIT, \
    "The latest reading is not enough to act on: {1}. Read all points of the screen again.") \
  X(NOT_FIT_AND, "{1}, {2}") \
  X(NOT_FIT_POINTS, "it covers only {1} points") \
  X(NOT_FIT_OLD, "it is {1} days old") \
  X(NOT_FIT_MISREAD, "it looks misread") \
  X(NOT_FIT_SHIFTED, "its meter has shifted") \
  X(SETTLING, "Fresh mesh still settles: let it rest, read it after {1}.") \
  X(NEVER_READ, "Never read since it was stretched: read all its points.") \
  X(NEVER_READ_SINCE, "Never read since it was stretched on {1}: read all its points.") \
  X(STALE, "Last read on {1}, {2} days ago (at most {3}): read it again.") \
  X(MAXIMUM_UNDECIDED, \
    "Too near the mesh maker's maximum of {1} N/cm: the mean is {2}, {3} read {4}. Read it again, " \
    "with eyes protected.") \
  X(MISREAD_DIGIT, \
    "Looks misread: {1} says {2} N/cm where about {3} was expected (a misplaced point or two digits " \
    "exchanged?). Read it again.") \
  X(MISREAD_JUMP, \
    "Looks misread: {1} says {2} N/cm where about {3} was expected. Read it again.") \
  X(MISREAD_UNIT, \
    "The whole reading of {1} N/cm is about {2} times the {3} expected: is the meter set to another " \
    "unit? Read it again.") \
  X(MISREAD_EXCHANGED, \
    "Warp and weft look exchanged against the reading before. Read it again.") \
  X(STEPPED_DOWN, \
    "Fell by {1} N/cm more than relaxation explains, in most points, between the reading of {2} and " \
    "the one before: a first run on press, a slip, or the meter. Read it again.") \
  X(ROSE, \
    "Tension rose without a stretch on record, seen on {1}: is a re-stretch missing in the events, " \
    "was it another screen, or the meter?") \
  X(ROSE_BY, \
    "Tension rose without a stretch on record (by {2} N/cm), seen on {1}: is a re-stretch missing " \
    "in the events, was it another screen, or the meter?") \
  X(LISTED, "{1}, {2}") \
  X(SHIFT_LOW, "Last read when what it was read with ({1}) read {2} N/cm too low, since {3}.") \
  X(SHIFT_HIGH, "Last read when what it was read with ({1}) read {2} N/cm too high, since {3}.") \
  X(SHIFT_BEGAN, "Last read about when what it was read with began to read otherwise.") \
  X(SHIFT_OTHERS, " The readings can't tell it from: {1}.") \
  X(SHIFT_READ_AGAIN, "{1}{2} Read it again with something else.") \
  X(SHIFT_CORRECTED, "{1}{2} The forecast corrects for it.") \
  X(METER_LOW, "Last read with meter {1}, which reads {2} N/cm too low since {3}.") \
  X(METER_HIGH, "Last read with meter {1}, which reads {2} N/cm too high since {3}.") \
  X(NO_FLOOR, "No target and no floor is given: its ageing can't be judged.") \
  X(CHART_SIGNAL, "The control chart \"{1}\" signals: {2} Read it again.") \
  X(CONTRADICTION, "{1}.") \
  X(WITH_CAUTION, "{1} {2}")
// clang-format on

#endif
