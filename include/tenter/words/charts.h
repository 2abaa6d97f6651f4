/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The words of control charts, which judge/signal_text.c fills with their figures: a part of the
 * catalogue of words.h. */
#ifndef TENTER_WORDS_CHARTS_H
#define TENTER_WORDS_CHARTS_H

// clang-format off
#define TENTER_WORDS_CHARTS(X) \
  /* What a point is, by stream. */ \
  X(POINT_LEVEL, \
    "a mounting's acceptance session brought to 24 h, less its target where all have one") \
  X(POINT_TILT_X, \
    "how much tighter the right side of a mounting's acceptance session is than its middle") \
  X(POINT_TILT_Y, \
    "how much tighter the far side of a mounting's acceptance session is than its middle") \
  X(POINT_MESH, "a day's sessions of a mesh against what was expected of them") \
  X(POINT_LOT, "a day's sessions of a lot against what was expected of them") \
  X(POINT_STATION, \
    "a day's sessions of what a station stretched against what was expected of them") \
  X(POINT_OPERATOR, \
    "a day's sessions read by an operator against what was expected of them") \
  X(POINT_SHIFT, "a day's sessions read with a meter against what was expected of them") \
  X(POINT_PLATE, "a day's checks of a meter against its plates") \
  /* Rules of runs. */ \
  X(RULE_BEYOND, "one point outside the chart's limits") \
  X(RULE_TWO_OF_THREE, \
    "two of three points in a row more than two thirds of the way to the same limit") \
  X(RULE_FOUR_OF_FIVE, \
    "four of five points in a row more than a third of the way to the same limit") \
  X(RULE_EIGHT_ONE_SIDE, "eight points in a row on one side of the centre") \
  X(RULE_NINE_ONE_SIDE, "nine points in a row on one side of the centre") \
  X(RULE_SIX_TREND, "six points in a row that only rise or only fall") \
  X(RULE_FOURTEEN_ZIGZAG, "fourteen points in a row that go up and down in turn") \
  X(RULE_FIFTEEN_CALM, \
    "fifteen points in a row within a third of the way to the limits: calmer than chance") \
  X(RULE_EIGHT_AVOID_CENTRE, \
    "eight points in a row none of which lies within a third of the way to a limit") \
  X(RULE_AVERAGE, "the weighted average of the latest points lies outside its limits") \
  /* What a point that signals shows: {1} of SIGNAL is one of the others, {3} a rule. */ \
  X(SIGNAL, "{1} ({2} times the usual spread): {3}.") \
  X(SIGNAL_LEVEL_BELOW, \
    "{1} came to lie {2} N/cm below what this station usually makes of the mesh") \
  X(SIGNAL_LEVEL_ABOVE, \
    "{1} came to lie {2} N/cm above what this station usually makes of the mesh") \
  X(SIGNAL_TILT, \
    "{1} is {2} N/cm tighter at the side you call {3} than in its middle, where {4} is usual") \
  X(SIDE_LEFT, "left") \
  X(SIDE_RIGHT, "right") \
  X(SIDE_NEAR, "near") \
  X(SIDE_FAR, "far") \
  X(SIGNAL_CHECK_BELOW, "1 check reads {2} N/cm below the plate") \
  X(SIGNAL_CHECK_ABOVE, "1 check reads {2} N/cm above the plate") \
  X(SIGNAL_CHECKS_BELOW, "{1} checks read {2} N/cm below the plates, on average") \
  X(SIGNAL_CHECKS_ABOVE, "{1} checks read {2} N/cm above the plates, on average") \
  X(SIGNAL_SESSION_BELOW, "1 session lies {2} N/cm below what was expected of it") \
  X(SIGNAL_SESSION_ABOVE, "1 session lies {2} N/cm above what was expected of it") \
  X(SIGNAL_SESSIONS_BELOW, \
    "{1} sessions lie {2} N/cm below what was expected of them, on average") \
  X(SIGNAL_SESSIONS_ABOVE, \
    "{1} sessions lie {2} N/cm above what was expected of them, on average")
// clang-format on

#endif
