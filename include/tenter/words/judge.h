/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the judge says of the data, of meters, stations and lots: a part of the catalogue of
 * words.h. (Reasons of single screens stand in reasons.h.) */
#ifndef TENTER_WORDS_JUDGE_H
#define TENTER_WORDS_JUDGE_H

// clang-format off
#define TENTER_WORDS_JUDGE(X) \
  /* what the data lack; {1} of {2} screens */ \
  X(MISSING_TARGET, "{1} of {2} screens have no target: their stretching can't be judged.") \
  X(MISSING_FLOOR, "{1} of {2} screens have no floor: their ageing can't be judged.") \
  X(MISSING_STRETCH, \
    "{1} of {2} screens have no stretch time: their age is unknown and their forecast wide.") \
  X(MISSING_MESH, "{1} of {2} screens have no mesh: they are taken as one kind of mesh.") \
  X(MISSING_CHECKS, "No meter checks: a slow drift of a meter can't be told from faster loss.") \
  /* slips of the pen */ \
  X(SLIP_DIGIT, \
    "{1} N/cm where the rest of the session lets expect about {2}: a misplaced point or two digits " \
    "exchanged? Left out of its mean") \
  X(SLIP_UNIT, \
    "A session of {1} N/cm, about {2} times the one before ({3}): another unit? Left out of " \
    "forecasts") \
  X(SLIP_EXCHANGED, \
    "Warp minus weft is {1} N/cm and was {2} before: directions exchanged in this session? Its mean " \
    "is not touched by it") \
  /* shifts of what readings were taken with */ \
  X(SHIFT_OF_METER, "meter {1}") \
  X(SHIFT_OF_OPERATOR, "operator {1}") \
  X(SHIFT_OF_ALL, "the room or the days (all readings)") \
  X(SHIFT_CAUSE_METER, "meter") \
  X(SHIFT_CAUSE_OPERATOR, "operator") \
  X(SHIFT_CAUSE_ALL, "all readings") \
  /* who, size, its standard error, a day, how it was measured, [what it can't be told from] */ \
  X(SHIFT_LOWER_SINCE, "Readings of {1} are {2} ± {3} N/cm lower, since {4}, {5}.") \
  X(SHIFT_LOWER_DRIFTING, "Readings of {1} are {2} ± {3} N/cm lower, drifting since {4}, {5}.") \
  X(SHIFT_LOWER_ON, "Readings of {1} are {2} ± {3} N/cm lower, on {4}, {5}.") \
  X(SHIFT_HIGHER_SINCE, "Readings of {1} are {2} ± {3} N/cm higher, since {4}, {5}.") \
  X(SHIFT_HIGHER_DRIFTING, "Readings of {1} are {2} ± {3} N/cm higher, drifting since {4}, {5}.") \
  X(SHIFT_HIGHER_ON, "Readings of {1} are {2} ± {3} N/cm higher, on {4}, {5}.") \
  X(SHIFT_NOT_TOLD, "{1} The readings can't tell it from {2}.") \
  X(SHIFT_BY_PLATE, "measured against its check plate and the screens' own lines") \
  X(SHIFT_BY_METERS, "measured against the other meters on the same screens") \
  X(SHIFT_BY_PAST, "measured against the same screens before") \
  X(LIST_AND_MORE, "{1}, {2}") \
  X(LIST_OR, "{1} or {2}") \
  X(LIST_AND, "{1} and {2}") \
  /* stations: sides, at the begin of a sentence and within one; then advice, with a size, its standard
   * error and sides */ \
  X(STATION_BEGINS_SIDE, "The side you call {1}") \
  X(STATION_BEGINS_CORNERS, "The side with {1}") \
  X(STATION_BEGINS_RIGHT, "The right side") \
  X(STATION_BEGINS_LEFT, "The left side") \
  X(STATION_BEGINS_UPPER, "The upper side") \
  X(STATION_BEGINS_LOWER, "The lower side") \
  X(STATION_SIDE, "the side you call {1}") \
  X(STATION_SIDE_CORNERS, "the side with {1}") \
  X(STATION_SIDE_RIGHT, "the right side") \
  X(STATION_SIDE_LEFT, "the left side") \
  X(STATION_SIDE_UPPER, "the upper side") \
  X(STATION_SIDE_LOWER, "the lower side") \
  X(STATION_TILT, \
    "{1} draws harder: {2} ± {3} N/cm more across the screen than at the other stations. Ease {4} by " \
    "half of it, or bring {5} up by as much.") \
  X(STATION_CORNERS_TIGHT, \
    "The corners come out {1} ± {2} N/cm tighter against the centre than at the other stations: ease " \
    "the corners.") \
  X(STATION_CORNERS_LOOSE, \
    "The corners come out {1} ± {2} N/cm looser against the centre than at the other stations: look " \
    "at the clamps next to the corners.") \
  X(STATION_WEFT_LAGS, \
    "The weft lags behind the warp by {1} ± {2} N/cm more than at the other stations: draw it " \
    "further, or the other less.") \
  X(STATION_WARP_LAGS, \
    "The warp lags behind the weft by {1} ± {2} N/cm more than at the other stations: draw it " \
    "further, or the other less.") \
  X(STATION_OTHER, "station {1}") \
  X(STATION_ADVICE_MORE, "{1} {2}") \
  X(STATION_NOT_TOLD, \
    "It can't be told from {1}: which of the two, the readings can't say.") \
  X(STATION_ORIENTATION, "({1}.)") \
  X(STATION_CAUTION, \
    "Tight corners tear mesh: ease them before anything is raised, stay under the mesh maker's " \
    "maximum, protect your eyes, follow the stretcher maker's instructions, and measure the next " \
    "screens again.") \
  /* what a lot can't be told from */ \
  X(LOT_OWN_METER, "meter") \
  X(LOT_OWN_OPERATOR, "operator") \
  X(LOT_OWN_STATION, "station") \
  X(LOT_OWN_FORTNIGHT, "fortnight of the stretch") \
  X(LOT_OWN_MESH, "mesh") \
  /* what else moves the tension */ \
  X(CAUSE_METER, "meter {1}") \
  X(CAUSE_CYCLE, "re-tensions before: level") \
  X(CAUSE_CYCLE_LOSS, "re-tensions before: loss") \
  X(CAUSE_COATED, "coated") \
  X(CAUSE_PRINTED, "printed at all") \
  X(CAUSE_IMPRESSIONS, "1000 impressions") \
  X(CAUSE_RECLAIMS, "a reclaim") \
  /* what a meter is measured against */ \
  X(AGAINST_PLATE, "plate") \
  X(AGAINST_METERS, "other meters") \
  X(AGAINST_PAST, "own past") \
  /* which differences were fitted: lots, mountings; in level, in loss */ \
  X(FITTED_NONE, "one line for all") \
  X(FITTED_MOUNTING_LEVEL, "mounting, level") \
  X(FITTED_MOUNTING, "mounting, level and loss") \
  X(FITTED_LOT_LEVEL, "lot, level") \
  X(FITTED_LEVEL, "lot and mounting, level") \
  X(FITTED_LOT_LEVEL_MOUNTING, "lot, level; mounting, level and loss") \
  X(FITTED_LOT, "lot, level and loss") \
  X(FITTED_LOT_MOUNTING_LEVEL, "lot, level and loss; mounting, level") \
  X(FITTED_ALL, "lot and mounting, level and loss") \
  X(FITTED_PRIOR, "prior loss") \
  X(FITTED_WEAK_PRIORS, "lot and mounting, level and loss, by weak priors")
// clang-format on

#endif
