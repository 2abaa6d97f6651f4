/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The words of reports: headings, columns, verdicts, sentences, cautions. A part of the catalogue
 * of words.h. */
#ifndef TENTER_WORDS_REPORT_H
#define TENTER_WORDS_REPORT_H

// clang-format off
#define TENTER_WORDS_REPORT(X) \
  X(TITLE_REVIEW, "Screen review") \
  X(TITLE_CHECK, "What was read") \
  X(TITLE_LOTS, "Lots that relax fast") \
  X(TITLE_CHARTS, "Control charts") \
  X(NO_CHARTS, \
    "No stream has points enough for limits yet (see least_points in the settings). Charts need a few " \
    "weeks of readings with stretch times.") \
  X(CHARTS_SEEN, "{1} charts; {2} new signals in the week of this day; {3} screens to read again for them.") \
  X(CHARTS_LUCK, \
    "If nothing were wrong anywhere, luck alone would give about {1} new signals in such a week " \
    "(between {2} and {3} in 95 of 100 weeks) and have {4} screens read again (between {5} and {6}). A " \
    "screen counts once, in however many charts it shows.") \
  X(CHARTS_KEPT, "{1} of {2} charts are judged by kept limits.") \
  X(NEW_SIGNALS, "New signals") \
  X(AND_MORE, "{1} and {2} more") \
  X(ALL_CHARTS, "All charts") \
  X(ALL_CHARTS_LEAD, \
    "Limits are those for a point to come. In service and for meters a point is the mean difference " \
    "of a day’s sessions from what was expected of them, in standard deviations of such a mean.") \
  X(TOO_FEW_POINTS, "{1} more streams have too few points for limits.") \
  X(CHART_FLAT, "no limits: the points do not differ") \
  X(BASIS_KEPT, "kept limits") \
  X(BASIS_OTHERS, "limits from all stations") \
  X(PROVISIONAL, "provisional") \
  X(COLUMN_CHART, "Chart") \
  X(COLUMN_SIGNAL, "What it shows") \
  X(COLUMN_POINTS, "Points") \
  X(COLUMN_CENTRE, "Centre") \
  X(COLUMN_LOWER, "Lower") \
  X(COLUMN_UPPER, "Upper") \
  X(COLUMN_BEHIND, "Points behind limits") \
  X(COLUMN_SIGNALS, "Signals") \
  X(COLUMN_NEW, "New") \
  X(COLUMN_DATA_FROM, "Data from") \
  X(COLUMN_DATA_TO, "to") \
  X(COLUMN_NOTE, "Note") \
  X(CHART_PICTURES, "The charts, those with new signals first") \
  X(CHART_PICTURES_LEAD, \
    "A dot a point, in order of time; points that signal stand out. Thin line: the centre. Dashed, lying: " \
    "the limits. Dashed, upright: where this week begins.") \
  X(ALT_CHART, \
    "{1}: {2} points, centre {3}, limits {4} to {5} {6}; {7} signals, {8} of them new.") \
  X(CHART_TERMS, "How to read the charts") \
  X(RULE, "{1}: {2} ({3}).") \
  X(RULES_RUN_LENGTH, \
    "While nothing is wrong these rules together signal once in {1} points, with exact limits.") \
  X(AVERAGE, \
    "average: of stretching and of plates, also the average of the points in which the latest has the " \
    "weight {1} and each one before it less by that share (Roberts 1959); its limits, {2} of its standard " \
    "deviations, are crossed by chance once in {3} points.") \
  X(CHART_LIMITS, \
    "Limits rest on the points before this week, by moving ranges, or by their medians where the past " \
    "holds signals; for points to come they are wider for what so few points can tell. Limits from few " \
    "points are called provisional. After a signal a chart begins anew.") \
  X(CHART_CAUSES, \
    "Sessions that the chart or the plates of their meter speak for are left out of the charts of meshes, " \
    "lots, stations and operators. A signal asks for the screens behind it to be read again unless a later " \
    "session has settled the matter; it is no verdict on them.") \
  X(DEPENDENCE, \
    "{1}: neighbouring points are alike (correlation {2}). With limits of three standard deviations a false signal " \
    "would then come once in {3} points; limits {4} times as wide would mend it.") \
  X(AS_OF, "As of {1}") \
  X(FILTER, "Filter") \
  X(PAGES, "page {1} of {2}") \
  X(NO_SCREENS, "No screen is in use.") \
  X(ALL_FIT, "All {1} screens can be used as they are.") \
  X(HEADLINE, \
    "{1} of {2} screens need something done: {3} to take out of use, {4} to re-stretch, " \
    "{5} to read again. {6} can be used as they are.") \
  X(TODO, "What to do first") \
  X(TODO_CUT, "The other screens stand in worklist.csv.") \
  X(MORE_REASONS, "(And {1} more of the same weight.)") \
  X(NOT_IN_USE, "not in use") \
  X(DUE_NOW, "now") \
  X(DUE_BY, "by {1}") \
  X(DUE_AFTER, "after {1}") \
  X(CAUTION_RAISE, \
    "Before you raise tension: not above the mesh maker’s maximum (find it first where it is not " \
    "given), in steps, corners watched, eyes protected; measure again after each step. The " \
    "makers’ limits, your own rules and trained people come first.") \
  X(CAUTION_MAXIMUM, \
    "Not above the mesh maker’s maximum. Where it is not given, find it first.") \
  X(CAUTION_STEPS, \
    "Raise in steps, let the mesh rest between them, and measure after each.") \
  X(CAUTION_CORNERS, \
    "Watch the corners: they can be tighter than the middle and tear first. Look for " \
    "sharp edges on the frame.") \
  X(CAUTION_EYES, \
    "Protect your eyes, and do not lean over mesh under tension: it breaks without " \
    "warning.") \
  X(CAUTION_HANDS, \
    "Keep hands out of clamps and pinch points; release air or locks before you reach " \
    "in.") \
  X(CAUTION_GLUE, \
    "Re-gluing: instant adhesive bonds skin and eyelids in seconds, its vapour " \
    "irritates, and cotton or paper soaked in it can get hot. Fresh air, goggles, gloves " \
    "that are not cotton. If skin is bonded, do not pull: get medical help.") \
  X(CAUTION_SOLVENTS, \
    "Activators and cleaners can be highly flammable: no flame or spark, fresh air, as " \
    "their data sheets say. This report recommends no chemical.") \
  X(CAUTION_DEFER, \
    "The makers’ limits and instructions, the rules of your place, and trained people " \
    "come before anything that stands here.") \
  X(CAUTIONS, "Cautions") \
  X(CAUTIONS_LEAD, \
    "Around a common frame at 30 N/cm the mesh pulls with the weight of nearly a tonne. When a " \
    "screen is let down, raised or re-glued:") \
  X(WEEK, "This week against the week before") \
  X(NOTHING_CHANGED, "No screen is judged otherwise than at the end of last week.") \
  X(WEEK_CHANGES, "Against the end of last week, {1} screens are judged worse and {2} better.") \
  X(CHANGES, "What changed, the worst first") \
  X(IN_USE, "all in use") \
  X(SESSIONS, "sessions in the week") \
  X(PAST_WEEKS, "Week by week") \
  X(PAST_WEEKS_LEAD, \
    "Each week as it would have been judged with the data up to its end. The shift is " \
    "the mean difference of the week’s sessions from what was forecast for them: a shift " \
    "of all screens together points to a meter or to the room, not to the screens.") \
  X(PAST_WEEKS_UNCHARTED, \
    "The states of the {1} oldest weeks leave out what control charts asked for.") \
  X(WEEK_SHARE, "{1} ({2} to {3})") \
  X(WEEK_SHIFT, "Mean shift of the week’s sessions, N/cm") \
  X(WEEK_BELOW, "Screens below their floor, %, with 95 % intervals") \
  X(ALT_WEEKS, "Week by week; the same numbers stand in the table below.") \
  X(CHART_WEEKS, "weeks before this one") \
  X(WHOLE_SHOP, "whole shop") \
  X(TRENDS_LEAD, \
    "Does the mean shift drift? Slope of Theil and Sen in N/cm a week with its 95 % interval; p of the test " \
    "of Mann and Kendall: a small one is rare where nothing drifts.") \
  X(COLUMN_NOT_READ, "Not read") \
  X(COLUMN_TREND_OF, "Of") \
  X(COLUMN_WEEKS, "Weeks") \
  X(COLUMN_SLOPE, "N/cm a week") \
  X(COLUMN_LOW, "From") \
  X(COLUMN_HIGH, "To") \
  X(COLUMN_P, "p") \
  X(SETS, "Sets that do not agree") \
  X(SETS_LEAD, \
    "The screens of one job should lie within {1} N/cm of each other. The spread is that " \
    "of the tensions expected now.") \
  X(SET_NO, "DOES NOT AGREE") \
  X(SET_UNDECIDED, "UNDECIDED") \
  X(RELAXATION, "The screens that matter") \
  X(RELAXATION_LEAD, \
    "Tension in N/cm against days since the screen was stretched. Dots: sessions, with " \
    "one standard uncertainty each way. Curve: what the readings of the screen, its lot " \
    "and its mesh say together; from the latest session on with the band that holds its " \
    "tension in 9 of 10 cases. Dashed: the floor. Thin line: the target. Upright line: " \
    "today.") \
  X(NO_PICTURES, "The pictures are missing: {1} What they would show stands here in words.") \
  X(ALT_RELAXATION, \
    "Screen {1}: {2} sessions, the latest at {3} N/cm; expected now {4} N/cm, in {6} " \
    "days {5} N/cm; floor {7} N/cm, target {8} N/cm.") \
  X(CHART_DAYS, "days") \
  X(EVENNESS, "Uneven screens") \
  X(EVENNESS_LEAD, \
    "The latest readings where they were taken, seen from the print side, in N/cm; warp " \
    "above weft where both were read. An arrow marks a reading off the centre of its own " \
    "direction by more than the limit.") \
  X(ALT_MAP, "{1}, readings in N/cm: {2}.") \
  X(LOTS, "Lots") \
  X(LOTS_LEAD, \
    "{1} of {2} lots are shown to relax faster than the norm of their mesh. Not shown is " \
    "not the same as equal: a lot with few screens can’t be told apart.") \
  X(LOT_FAST, "FAST") \
  X(LOT_NOT_SHOWN, "not shown") \
  X(NO_LOTS, "No screen has a lot, so there is nothing to compare. A column “lot” in the register or in " \
    "the readings says from which roll the mesh was cut.") \
  X(LOT_STORY, \
    "Lot {1} (mesh {2}) loses {3} N/cm each time its age grows tenfold; the norm of its mesh is " \
    "{4}. The chance that it is fast is {5} %.") \
  X(LOT_COST, "By 30 days it has lost {1} N/cm more than the norm of its mesh.") \
  X(LOT_DAYS, \
    "From the usual level at 24 h down to the floor of {1} N/cm it takes {2} days; at the norm " \
    "of its mesh {3} days.") \
  X(LOT_ADJUSTED, \
    "With printing, coating, reclaiming, re-tensions and meters taken off, its excess is {1} N/cm " \
    "per decade.") \
  X(LOT_DAYS_LONG, "more than 3650") \
  X(LOT_TOGETHER, \
    "Lot {1} (mesh {2}) loses more than the norm of its mesh (chance {3} %), but it always went " \
    "together with its own {4}. What always went together can’t be told apart, so nothing is " \
    "named as the cause. Read some of its screens otherwise and it will show.") \
  X(MORE_STORIES, "The same can be read from the tables for the others.")                            \
  X(MORE_LOTS, "The other lots stand in lots.csv.") \
  X(LOT_PICTURES, "Each lot against its mesh") \
  X(LOT_PICTURES_LEAD, \
    "Loss in N/cm per decade of age. Dot and strong line: what the lot and its mesh say " \
    "together, with the span that holds the true loss in 9 of 10 cases. Thin grey line below " \
    "it: the plain mean of the lot’s own screens, with the same span. Upright line: the norm " \
    "of the mesh. Dashed: beyond this a lot is fast. Lines that leave the picture go on.") \
  X(ALT_LOTS, "Mesh {1}: norm {2} N/cm per decade, fast beyond {3}. {4}.") \
  X(ALT_LOT, "Lot {1}: {2}, by its own screens alone {3}") \
  X(LOT_COSTS, "What it costs") \
  X(LOT_COSTS_LEAD, \
    "Against the norm of the mesh, both from the mesh’s usual level at 24 h. Days: from there to " \
    "the floor; the span holds the true figure in 9 of 10 cases. A minus is a gain.") \
  X(LOT_CHECK, "The same without leaning on the mesh") \
  X(LOT_CHECK_LEAD, \
    "As a check: the plain mean of the losses of a lot’s own screens, each fitted alone. It leans " \
    "on nothing else and scatters more where few screens stand behind it; where the two figures " \
    "lie far apart, look at the screens.") \
  X(LOT_UNPOOLED, "Comparison with unpooled means") \
  X(LOT_UNPOOLED_LEAD, \
    "As a check beside the verdict: those plain means, held against each other. By luck: the chance " \
    "that a lot comes out so far above the mean of the other lots of its mesh by luck alone, and " \
    "the same adjusted for all lots that were looked at (Benjamini and Hochberg). In pairs: the " \
    "least such chance against one lot that loses less, adjusted for all pairs, and how many lots " \
    "it is shown to lose more than, at 5 % (Tukey). They ask whether a lot differs, not whether it " \
    "matters, and know nothing of what can’t be told apart: the verdict does not rest on them.") \
  X(POPULATION, "What each mesh does") \
  X(POPULATION_LEAD, \
    "All losses are total: relaxation, and what printing, coating and reclaiming take, as the " \
    "screens were used. A forecast assumes that a screen goes on being used so, at this rate. Fresh " \
    "mesh at rest: what relaxation alone takes, before any re-tension.") \
  X(COVARIATES, "What else moves the tension") \
  X(COVARIATES_LEAD, \
    "Estimated beside the losses, for all meshes together, and left out where the readings can’t " \
    "tell it from the rest; in N/cm at the level of mesh {1}. A minus is lost tension, but for a loss, " \
    "where it is a loss that grows less. Screens that were bad are printed less, so these figures " \
    "describe what was done and do not promise what would have been.") \
  X(POPULATION_LOG, \
    "The logarithm of the tension fits these readings better than the tension: losses go with " \
    "the level. The figures are given at each mesh’s usual level.") \
  X(POPULATION_TENSION, "The tension itself fits these readings as well as its logarithm, and is used.") \
  X(POPULATION_SPREAD, "How much lots and mountings differ (standard deviations, N/cm)") \
  X(LOTS_HOW, "How to read this") \
  X(TERM_DECADE, "Decade") \
  X(TERM_DECADE_TEXT, \
    "A tenfold of age: from 1 day to 10 days, from 10 days to 100. Mesh loses about the same " \
    "tension in each.") \
  X(TERM_SE, "±") \
  X(TERM_SE_TEXT, \
    "One standard error. The true figure lies within twice that in about 19 of 20 cases.") \
  X(TERM_NORM, "Norm") \
  X(TERM_NORM_TEXT, "The mean loss of the lots of a mesh, at the mesh’s usual level.") \
  X(TERM_EXCESS, "Excess") \
  X(TERM_EXCESS_TEXT, \
    "Loss of the lot less the norm of its mesh. A lot of few screens is taken part of the way " \
    "to the norm, and what goes with its being stretched tighter is taken off.") \
  X(TERM_FAST, "Fast") \
  X(TERM_FAST_TEXT, \
    "The excess is over {1} % of the norm and over {2} N/cm per decade. So many lots are named, by " \
    "falling chance, that no more than {3} % of the names are expected to be wrong.") \
  X(TERM_NOT_SHOWN, "Not shown") \
  X(TERM_NOT_SHOWN_TEXT, \
    "The readings do not prove the lot fast. That does not make it slow, or equal to others.") \
  X(TERM_TOGETHER, "Can’t be told from") \
  X(TERM_TOGETHER_TEXT, \
    "What always went together with the lot, so that fewer than half of the other lots of the " \
    "mesh can be compared with it: a meter, an operator, a station, a fortnight; or the mesh " \
    "itself, where it is cut from this lot alone. Such a lot is not named fast.") \
  X(TERM_STRUCTURE, "What was fitted") \
  X(TERM_STRUCTURE_TEXT, \
    "Which differences the readings could tell: between lots, between mountings, in the level " \
    "at 24 h, in the loss. “Prior loss”: too few readings; the loss is then taken from " \
    "published figures.") \
  X(MESHES, "Meshes") \
  X(METERS, "Meters") \
  X(METERS_LEAD, "No meter is shown to have shifted.") \
  X(METERS_SHIFTED_LEAD, \
    "A meter that has shifted makes its screens look better or worse than they are. " \
    "Check it on its glass plate, clean its feet, and read with another one until it is " \
    "right.") \
  X(METER_SHIFTED, "SHIFTED") \
  X(METER_NO_SHIFT, "no shift shown") \
  X(SHIFTS_LEFT_OUT, \
    "Readings taken with it since then are shown as they stand and left out of forecasts; their " \
    "screens are to be read again, with something else.") \
  X(SHIFTS_CORRECTED, \
    "As the settings ask, forecasts correct readings taken with it since then for this, with " \
    "the uncertainty that the correction has; single points, too.") \
  X(TITLE_METER, "Meters: studies, bias, drift") \
  X(NO_METERS, "No reading names a meter, so there is nothing to tell apart.") \
  X(STUDY, "Study of meter {1}") \
  X(STUDY_LEAD, \
    "{1} parts (a point of a screen each), {2} people, {3} readings each. The meter and those who " \
    "read with it make {4} % of the spread; it can tell {5} classes of tension apart (5 or more " \
    "is wanted: AIAG). The interaction of part and person has p = {6}: {7}.") \
  X(STUDY_LEAD_UNEVEN, \
    "{1} parts (a point of a screen each), {2} people, {3} readings, not evenly (by restricted " \
    "maximum likelihood). The meter and those who read with it make {4} % of the spread; it can " \
    "tell {5} classes of tension apart (5 or more is wanted: AIAG). The interaction of part and " \
    "person has p = {6}: {7}.") \
  X(STUDY_TOLERANCE, \
    "Six standard deviations of the meter and those who read with it are {1} % of the tolerance of " \
    "{2} N/cm (up to 10 is good, above 30 is not fit for it: AIAG).") \
  X(STUDY_POOLED, "above {1}, pooled with the repeats") \
  X(STUDY_NOT_POOLED, "{1} or less, kept apart") \
  X(STUDY_REFUSED, "{1} readings with a trial, first in row {2}: {3}.") \
  X(STUDY_NONE, \
    "No reading has a trial number, so repeatability and reproducibility can’t be told from a study. " \
    "To have one: take 10 points that differ (10 screens, the centre, one direction), let 3 people " \
    "read each 3 times in mixed order without seeing the earlier values, within a day, and write " \
    "down screen, taken, position, direction, meter, operator, trial (1, 2, 3) and tension.") \
  X(STUDY_REPEATABILITY, "Repeatability (the meter)") \
  X(STUDY_PEOPLE, "Between people") \
  X(STUDY_INTERACTION, "Person with part") \
  X(STUDY_GAUGE, "Meter and people together") \
  X(STUDY_PARTS, "Between parts") \
  X(STUDY_TOTAL, "Total") \
  X(PLATES, "Check plates") \
  X(PLATES_LEAD, \
    "Errors on check plates (read minus nominal), and the line through them with the band that holds " \
    "it in 95 of 100 cases; of a meter that has shifted, since then.") \
  X(PLATES_ONE, "Meter {1}: {2} checks; its linearity takes plates of two values at least.") \
  X(PLATES_STORY, \
    "Meter {1}, {2} checks: at {3} N/cm its error is {4} N/cm (95 of 100: {5} to {6}); for " \
    "each further 10 N/cm that changes by {7} ± {8} N/cm (p = {9} if there were no change).") \
  X(PLATES_STEADY, \
    "Meter {1} does not drift: the weighted average of the days’ errors lies {2} N/cm from the mean " \
    "of their first half, within {3}.") \
  X(PLATES_DRIFT, \
    "Meter {1} drifts: the weighted average of the days’ errors lies {2} N/cm from the mean of their " \
    "first half, beyond {3}, since {4}.") \
  X(PLATES_X, "plate, N/cm") \
  X(PLATES_Y, "error, N/cm") \
  X(COLUMN_PLATE, "Plate N/cm") \
  X(COLUMN_MEAN_ERROR, "Mean error") \
  X(COLUMN_LINE_LOW, "Line from") \
  X(COLUMN_LINE_HIGH, "to") \
  X(PAIRS, "Two meters on the same screens") \
  X(PAIRS_LEAD, \
    "Sessions of one screen within a day of each other, read with two meters when neither had " \
    "shifted: the difference in N/cm with its standard error, the limits within which 95 of 100 " \
    "differences lie (Bland and Altman), and the slope of the line through both (Deming).") \
  X(COLUMN_METERS, "Meters") \
  X(COLUMN_PAIRS, "Pairs") \
  X(COLUMN_DIFFERENCE, "Difference") \
  X(COLUMN_DEMING, "Slope") \
  X(BUDGETS, "Uncertainty of a session mean") \
  X(BUDGETS_LEAD, \
    "Standard uncertainties in N/cm, in the sense of the GUM (JCGM 100:2008); combined as the root " \
    "of the sum of squares, expanded with coverage factor 2. Without a study repeatability is " \
    "pooled from all readings and reproducibility is not known. What differs from session to session " \
    "holds what differs between people: the larger of the two counts, here and where tolerances are " \
    "decided. * the default, none being given.") \
  X(COLUMN_SD, "sd N/cm") \
  X(COLUMN_FROM, "from") \
  X(COLUMN_TO, "to") \
  X(COLUMN_SHARE, "% of variance") \
  X(COLUMN_OF_SPREAD, "% of spread") \
  X(COLUMN_CALIBRATION, "Calibration") \
  X(COLUMN_RESOLUTION, "Resolution") \
  X(COLUMN_REPEATABILITY, "Repeatability") \
  X(COLUMN_REPRODUCIBILITY, "People") \
  X(COLUMN_POSITIONS, "Readings") \
  X(COLUMN_COMBINED, "Combined") \
  X(COLUMN_EXPANDED, "Expanded") \
  X(STATIONS, "Stations") \
  X(STATIONS_LEAD, \
    "How fresh mesh comes from each station, by the first full reading of each mounting. {1} of " \
    "{2} stations are shown to pull otherwise than the others ({3} in 100 names may be wrong). " \
    "Not shown is not the same as equal.") \
  X(STATION_STORY, "{1}: {2}") \
  X(STATION_UNEVEN, "ADJUST") \
  X(STATION_NOT_SHOWN, "not shown") \
  X(STATION_MAPS, \
    "Average fresh readings of each station where they were taken, in N/cm, warp above weft. An " \
    "arrow marks a mean off the centre of its own direction by more than matters.") \
  X(COLUMN_TILT_X, "Tilt to the right, N/cm per half width") \
  X(COLUMN_TILT_Y, "Tilt upward") \
  X(COLUMN_CORNER, "Corner − centre") \
  X(COLUMN_WARP_WEFT, "Warp − weft") \
  X(SCREENS, "All screens in use") \
  X(SCREENS_LEAD, \
    "Tension expected now, in N/cm, with its standard uncertainty; the chance that the " \
    "screen is below its floor at the end of the horizon.") \
  X(SCREENS_CUT, "The other screens stand in screens.csv.") \
  X(MISSING, "What is missing") \
  X(UNCERTAINTY_ASSUMED, \
    "The uncertainty of the meter is not given; an expanded uncertainty of {1} N/cm " \
    "(coverage factor {2}) was taken for acceptance.") \
  X(FILES, "Files") \
  X(TABLE_READINGS, "readings") \
  X(TABLE_REGISTER, "register") \
  X(TABLE_EVENTS, "events") \
  X(TABLE_METER_CHECKS, "meter checks") \
  X(TABLE_WIDE, "readings, wide") \
  X(LATER, "{1} rows are later than the time of this report and were set aside.") \
  X(QUALITY, "What looks wrong in the data") \
  X(REJECTED_ROWS, "Rows that can’t be used") \
  X(NOTED_ROWS, "Notes on rows and files") \
  X(FINDINGS, "What the rows say together") \
  X(SLIPS, "What looks written down wrong") \
  X(MORE_REJECTED, "{1} more rows were rejected; all of them stand in rejected.csv.") \
  X(MORE_NOTED, "And {1} more notes.") \
  X(MORE_FINDINGS, "And {1} more.") \
  X(ROWS_READ, \
    "Rows read: {1}, from {2} files; rejected: {3}; repeated: {4}. Notes on the shop’s records: " \
    "{5} (tenter check lists them).") \
  X(SHOP_COUNTS, \
    "Understood: {1} screens, {2} mountings, {3} sessions, {4} readings, {5} lots, {6} " \
    "meters.") \
  X(COLUMNS, "How each column was read") \
  X(NOT_UNDERSTOOD, "(not used)") \
  X(SUMMARY, "Summary") \
  X(SHEET, "Reading sheet") \
  X(SHEET_LEAD, \
    "What to read this week: first what a reading may well change, then the rest, each in the " \
    "order of places. The same sheet is " \
    "reading-sheet.csv: filled in, it can be read back.") \
  X(SHEET_FIELDS, \
    "Date and time: ____________________   Meter: ____________   Read by: ____________") \
  X(SHEET_CUT, "The other screens stand in reading-sheet.csv.") \
  X(TITLE_INTERVAL, "Re-stretch intervals") \
  X(INTERVAL_NONE, \
    "Nothing can be said on intervals: no mesh has a floor (a target or a floor in the register or " \
    "in tenter.ini) and mountings with a stretch time that were read.") \
  X(INTERVAL_LEAD, \
    "How old a new mounting may grow before the chance that it is below its floor is over {1} %. " \
    "How lots and mountings differ is in it, and what the readings leave open.") \
  X(INTERVALS, "How long a mesh may go") \
  X(INTERVALS_LEAD, \
    "Days from the stretch. “Any lot”: for mesh of a lot that may not have been seen yet. From, to: " \
    "the span that holds the age at which the risk is truly reached in 9 of 10 cases; it is wide " \
    "where few lots are known. A lot’s own row holds for new mountings of that lot.") \
  X(INTERVAL_ANY_LOT, "any lot") \
  X(INTERVAL_LONG, ">3650") \
  X(INTERVAL_AT_ONCE, "none") \
  X(INTERVAL_PICTURES, "Share above the floor, and cost, by age") \
  X(INTERVAL_PICTURES_LEAD, \
    "Across: age in decades of days (0 is 1 day, 1 is 10 days, 2 is 100 days). Share of new mountings " \
    "that are above their floor: curve by the model, band that holds it in 9 of 10 cases, grey steps by " \
    "what past mountings did, dashed the share that the risk asks for, upright the interval. Cost of " \
    "a screen a year where it is re-stretched at that age: upright the age of least cost.") \
  X(INTERVAL_CHART_AGE, "log10 days") \
  X(INTERVAL_ALT, "Mesh {1}: {2} % of new mountings are above the floor at {3} days, {4} % at 100 days.") \
  X(INTERVAL_ALT_COST, "Mesh {1}: least cost {2} a screen and year, at {3} days.") \
  X(INTERVAL_PAST, "What past mountings did") \
  X(INTERVAL_PAST_LEAD, \
    "Beside the model, and without it: when past mountings came below their floors, which is known " \
    "only to lie between two sessions. Free: no law of any kind (Turnbull’s estimate, the end of its " \
    "interval). Weibull: a law of lives. Days at the same risk, each with its 90 % interval.") \
  X(INTERVAL_STORY, \
    "Mesh {1}: {2} mountings; {3} were seen below the floor ({4} of them at their first session), {5} " \
    "re-stretched above it as far as was seen ({6} of them not clearly above it, counted as below), {7} " \
    "burst, {8} retired, {9} still above it.") \
  X(INTERVAL_BOUNDS, \
    "If all that were re-stretched had been about to fail: {1} days; if all of them would have outlived " \
    "the others: {2} days.") \
  X(INTERVAL_AGREE, "Model and past agree within what is not known.") \
  X(INTERVAL_FEW, "Too few were seen below the floor to say anything without the model.") \
  X(INTERVAL_SHORTER, \
    "They disagree: past mountings reached the risk sooner than the model says. Go by the shorter, and " \
    "look for what the model does not know: steps, first runs on press, rough handling.") \
  X(INTERVAL_LONGER, \
    "They disagree: past mountings went longer than the model says. Older mountings may have been of " \
    "slower lots, or good screens may have been kept longer.") \
  X(INTERVAL_LOTS_SHORTER, \
    "Lots whose past mountings reached the risk sooner than the model says; go by the shorter: {1}. With " \
    "few mountings the model takes a lot to be more like the others of its mesh than it may be.") \
  X(INTERVAL_LOTS_LONGER, \
    "Lots whose past mountings went longer than the model says: {1}. Good screens may have been kept " \
    "longer, or the model takes a lot to be more like the others of its mesh than it is.") \
  X(INTERVAL_LOTS_AGREE, \
    "Lots whose past agrees with the model within what is not known: {1}.") \
  X(INTERVAL_LOTS_FEW, \
    "Lots of which fewer than three mountings came below the floor, too few to say anything without the " \
    "model: {1}.") \
  X(INTERVAL_COSTS, "What it costs") \
  X(INTERVAL_COSTS_LEAD, \
    "A planned re-stretch costs {1}, a screen that comes below its floor in use {2} {3}. A year; " \
    "savings of all screens in use. So far: as the ends of past mountings tell. One age " \
    "for all: every mesh re-stretched at {4} days, the best there is. Never: by age alone it does not " \
    "pay to re-stretch a screen that still holds; let its readings decide. Beyond the ages that were " \
    "read, costs rest on the model alone.") \
  X(INTERVAL_NO_COSTS, \
    "What it costs is not known: put “restretch” and “failure” under [cost] in tenter.ini (what a " \
    "planned re-stretch costs, and a screen that comes below its floor in use), and the age of least " \
    "cost and the saving stand here.") \
  X(INTERVAL_LOTS_NO_HABIT, \
    "Lots of which no mounting was re-stretched yet or came below its floor, so that what they cost so " \
    "far is not known: {1}.") \
  X(INTERVAL_NEVER, "never") \
  X(INTERVAL_RISK, "With another risk") \
  X(INTERVAL_RISK_LEAD, "Days for a new mounting, of any lot or of one, by the risk that is taken.") \
  X(INTERVAL_READING, "With more readings") \
  X(INTERVAL_READING_LEAD, \
    "A screen that is read is re-stretched by its own line, when its chance to be below the floor by " \
    "the next session is over the risk. The typical age at which that is, in days; usual: the spacing " \
    "of the mesh’s sessions. By age alone: all at the interval, so that the worst are in time.") \
  X(INTERVAL_PLAN, "The next eight weeks") \
  X(INTERVAL_PLAN_LEAD, \
    "Each screen in the last week that ends before its chance to be below the floor is over the risk, " \
    "earlier where the shop can’t do more in a week ({1}); late only where nothing else is possible. " \
    "The most at risk first, screens of one mesh together. Read: what must be read, and what a reading " \
    "may well change; of each screen its next reading.") \
  X(INTERVAL_LIMITS, "re-stretches a week: {1}; sessions a week: {2}") \
  X(INTERVAL_NO_LIMIT, "no limit given") \
  X(INTERVAL_RESTRETCH, "RE-STRETCH") \
  X(INTERVAL_READ, "READ") \
  X(INTERVAL_NO_PLAN, "Nothing falls due in the next eight weeks.") \
  X(INTERVAL_SCREENS_MORE, "{1} and {2} more") \
  X(COLUMN_MAY_GO, "Days") \
  X(COLUMN_AT_START, "Below at 24 h %") \
  X(COLUMN_MODEL, "Model") \
  X(COLUMN_FREE, "Free") \
  X(COLUMN_WEIBULL, "Weibull") \
  X(COLUMN_BEST, "Best age days") \
  X(COLUMN_BEST_COST, "Cost of a screen") \
  X(COLUMN_HABIT_COST, "So far") \
  X(COLUMN_SAVED, "Saved on so far") \
  X(COLUMN_SAVED_CALENDAR, "Saved on one age for all") \
  X(COLUMN_USUAL_DAYS, "Usual days between") \
  X(COLUMN_READ_NEVER, "By age alone") \
  X(COLUMN_READ_HALF, "Half as often") \
  X(COLUMN_READ_USUAL, "As usual") \
  X(COLUMN_READ_TWICE, "Twice as often") \
  X(COLUMN_READ_FOUR, "Four times") \
  X(COLUMN_WHICH, "Which") \
  X(CALENDAR_RESTRETCH, "Re-stretch {1} screens") \
  X(CALENDAR_RESTRETCH_ONE, "Re-stretch 1 screen") \
  X(CALENDAR_READ, "Read {1} screens") \
  X(CALENDAR_READ_ONE, "Read 1 screen") \
  X(CALENDAR_PLACE, "{1} ({2})") \
  X(CALENDAR_MORE, "And {1} more.") \
  X(CALENDAR_NO_NAME, "not known") \
  X(PROVENANCE, "Where this comes from") \
  X(PROGRAM, "Program") \
  X(RUN, "Run") \
  X(CONFIG, "Config") \
  X(NO_CONFIG, "none: all settings at their defaults") \
  X(SETTINGS, "All settings") \
  X(SETTINGS_CHANGED, "Settings that differ from their defaults") \
  X(SETTINGS_DEFAULT, "All settings are at their defaults.") \
  X(TITLE_SCREEN, "The story of a screen") \
  X(SCREEN_DO, "What to do") \
  X(SCREEN_ENDED, "Not in use: what follows is its last mesh.") \
  X(SCREEN_NO_REASONS, "Nothing speaks against using it.") \
  X(SCREEN_NEXT, "Next session: {1}.") \
  X(SCREEN_NEXT_NOW, "now") \
  X(SCREEN_NEXT_STRETCHED, "{1} h after it has been stretched anew") \
  X(SCREEN_WHAT, "What it is") \
  X(SCREEN_MOUNTED, "Stretched") \
  X(SCREEN_AGE, "Age") \
  X(SCREEN_AGE_DAYS, "{1} days, as of this report") \
  X(SCREEN_UNKNOWN, "not known") \
  X(SCREEN_LIMITS, "Target, floor, maximum") \
  X(SCREEN_LIMITS_WORDS, "{1}; {2}; {3} N/cm") \
  X(SCREEN_LEAVING, "Does it follow its law?") \
  X(SCREEN_TOO_FEW, "Fewer than two sessions can be fitted: whether it follows its law can’t be told.") \
  X(SCREEN_NO_STEP, \
    "As far as can be seen: none of its {1} fitted sessions begins a step away from its law. Of " \
    "calm mountings the test names {2} in 100 by chance.") \
  X(SCREEN_LEFT, \
    "IT LEFT ITS LAW with the session of {1}: from there on it lies {2} N/cm {3} than its law " \
    "lets expect. The chance of as clear a step in a calm mounting is {4} %; the test names {5} " \
    "in 100 calm mountings by chance.") \
  X(SCREEN_LOWER, "lower") \
  X(SCREEN_HIGHER, "higher") \
  X(SCREEN_PLACE, \
    "It changed most at {1}: by {2} N/cm (up to three sessions each side compared).") \
  X(SCREEN_LEFT_NEWEST, \
    "This rests on the newest session alone: read it again, with another meter, before anything " \
    "else is done.") \
  X(SCREEN_LEFT_DOWN, \
    "What to do: look at bond, frame and mesh, at the place named first. A bond that slips shows " \
    "as mesh drawn in at the frame, a frame that gives as bowed sides, damage as a line or a star " \
    "in the mesh; a first run on press takes a step out of sound mesh, too. Until that is settled, " \
    "do not raise its tension and do not use it for work in register. On a glued frame a bond that " \
    "slips is glued anew with fresh mesh, not pulled up. Protect your eyes and do not lean over it: " \
    "a bond or mesh that gives can let go without warning. The makers’ instructions, your own rules " \
    "and trained people come first.") \
  X(SCREEN_LEFT_UP, \
    "What to do: mesh does not tighten by itself. Was it re-tensioned and not written down, was " \
    "it another screen, or the meter? If re-tensioned, add the event and run this again.") \
  X(SCREEN_RELAXATION, "Relaxation") \
  X(SCREEN_RELAXATION_LEAD, \
    "N/cm against days since it was stretched. Dots: sessions, with one standard uncertainty each " \
    "way (coloured: looks misread). Broad curve: what the screen, its lot and its mesh say together, " \
    "with the band that holds its tension in 9 of 10 cases from the latest session on. Fine curve: " \
    "its own course by its own sessions. Dashed: the floor. Fine level line: the target. " \
    "Coloured upright line: where it left its law.") \
  X(SCREEN_FORECAST, \
    "Expected now: {1} N/cm. Chance that it is below its floor: {2} % now, {3} % in {4} days.") \
  X(SCREEN_FLOOR_POOLED, \
    "It reaches its floor, by the model of the review (screen, lot and mesh together): {1}.") \
  X(SCREEN_FLOOR_LOT, \
    "By its own sessions, if the law holds that its lot alone would choose, “{1}”: {2}.") \
  X(SCREEN_FLOOR_TIMES, "between {1} and {2}, most likely about {3}") \
  X(SCREEN_FLOOR_OPEN, "not before {1}; whether within 10 years is open") \
  X(SCREEN_FLOOR_NEVER, "not within 10 years") \
  X(SCREEN_FLOOR_DONE, "may have done so already; most likely about {1}") \
  X(SCREEN_NO_FORECAST, "Nothing can be forecast: no age, or no reading that can be fitted.") \
  X(SCREEN_NO_FLOOR, "No floor is known, so nothing is said on when it is reached.") \
  X(SCREEN_SHARE, "It loses {1} times what is usual for its {2}.") \
  X(SCREEN_LOT_WORD, "lot") \
  X(SCREEN_MESH_WORD, "mesh") \
  X(SCREEN_AGES_LEAD, \
    "Tension at these ages by the same forecast, and the loss by relaxation since it was an " \
    "hour old, each ± {1} standard errors (9 of 10 cases). A step is no part of the loss.") \
  X(SCREEN_AGES_LEFT, \
    "The tension before it left its law is that of its own sessions up to then.") \
  X(SCREEN_LAWS, "Laws compared") \
  X(SCREEN_LAWS_NOTE, \
    "AICc: the lower the better; above a difference of about 10 the worse law has hardly any " \
    "support. From, to: the values of a parameter that go with the sessions, so made that they hold " \
    "the true one in 9 of 10 cases (by profile likelihood); “open”: the sessions set no limit on " \
    "that side. Where all mountings of a lot are fitted together, each has its own level and loss: " \
    "their medians stand here, without limits; nor are there any where a fit can’t be relied on. " \
    "Half-life: the age at which half of what will ever be lost is lost.") \
  X(SCREEN_LAW_SHOP, \
    "Forecasts go by the law of the whole shop, “{1}”; laws that level off have a chance of {2} % " \
    "there and are averaged in.") \
  X(SCREEN_LAW_LOT, "This lot alone: {1}") \
  X(SCREEN_LAWS_LOT, "All mountings of lot {1}, mesh {2}: {3} mountings, {4} sessions.") \
  X(SCREEN_LAWS_MESH, "Its lot is not known; all mountings of mesh {1}: {2} mountings, {3} sessions.") \
  X(SCREEN_LAWS_OWN, \
    "This mounting alone, since its level last changed, misread sessions left out: {1} sessions.") \
  X(SCREEN_LAW_TOO_FEW, "too few") \
  X(SCREEN_LAW_SAYS, "{1}: {2}") \
  X(SCREEN_OPEN, "open") \
  X(SCREEN_OPEN_ABOVE, "Within what the law allows, these sessions set no upper limit to {1}.") \
  X(SCREEN_OPEN_BELOW, "Within what the law allows, these sessions set no lower limit to {1}.") \
  X(SCREEN_OPEN_BOTH, \
    "Within what the law allows, these sessions set no upper limit to {1} and no lower limit to {2}.") \
  X(SCREEN_SESSIONS, "Every session") \
  X(SCREEN_SESSIONS_LEAD, \
    "Mean as read; adjusted: without the pattern that is usual for the mesh. By its law: what the " \
    "law of its lot lets expect; off: the distance in standard deviations of a session, the bias of " \
    "a meter that has shifted taken off.") \
  X(SCREEN_RESIDUALS, "Distance of each session from its law, in standard deviations of a session.") \
  X(SCREEN_MISREAD, "looks misread") \
  X(SCREEN_LEAVES, "LEFT ITS LAW") \
  X(SCREEN_NEVER, "It was never read.") \
  X(SCREEN_MAP, "Where it was read") \
  X(SCREEN_MAP_LEAD, "The latest session, {1}, in N/cm.") \
  X(SCREEN_EVENNESS, "Evenness: {1}. Range {2}, warp − weft {3}, corners − centre {4} N/cm.") \
  X(SCREEN_EVEN, "even") \
  X(SCREEN_UNDECIDED, "undecided") \
  X(SCREEN_UNEVEN, "UNEVEN") \
  X(SCREEN_NOT_JUDGED, "not judged") \
  X(SCREEN_EVENTS, "Events") \
  X(SCREEN_NO_EVENTS, "No event is on record for this mounting.") \
  X(ALT_SCREEN_RELAXATION, "Screen {1}: {2} sessions; the latest at {3} N/cm, its law lets expect {4} N/cm.") \
  X(ALT_SCREEN_RESIDUALS, "Screen {1}: distances of {2} sessions from its law; they stand in the table.") \
  X(COLUMN_AGE_DAYS, "Age days") \
  X(COLUMN_MEAN, "Mean") \
  X(COLUMN_SCREEN_ADJUSTED, "Adjusted") \
  X(COLUMN_SPREAD_SD, "Spread") \
  X(COLUMN_LAW, "Law") \
  X(COLUMN_BY_LAW, "By its law") \
  X(COLUMN_OFF, "Off") \
  X(COLUMN_FORMULA, "Formula") \
  X(COLUMN_PARAMETER, "Parameter") \
  X(COLUMN_AICC, "AICc") \
  X(COLUMN_ABOVE, "Above least") \
  X(COLUMN_POSITION, "Position") \
  X(COLUMN_WARP, "Warp") \
  X(COLUMN_WEFT, "Weft") \
  X(COLUMN_PLAIN, "Reading") \
  X(COLUMN_EVENT, "Event") \
  X(COLUMN_COUNT, "Count") \
  X(COLUMN_STATION, "Station") \
  X(COLUMN_OPERATOR, "Operator") \
  X(COLUMN_LOST, "Lost N/cm") \
  X(COLUMN_SCREEN, "Screen") \
  X(COLUMN_PLACE, "Place") \
  X(COLUMN_DO, "Do") \
  X(COLUMN_WHEN, "When") \
  X(COLUMN_WHY, "Why") \
  X(COLUMN_MESH, "Mesh") \
  X(COLUMN_LOT, "Lot") \
  X(COLUMN_SCREENS, "Screens") \
  X(COLUMN_WEEK_BEFORE, "Week before") \
  X(COLUMN_NOW, "Now") \
  X(COLUMN_CHANGE, "Change") \
  X(COLUMN_WEEK_AGO, "Last week") \
  X(COLUMN_WEEK, "Week") \
  X(COLUMN_SCREENS_READ, "Screens read") \
  X(COLUMN_SESSIONS, "Sessions") \
  X(COLUMN_SHIFT, "Shift N/cm") \
  X(COLUMN_BELOW, "Below floor % (95 %)") \
  X(COLUMN_SET, "Set") \
  X(COLUMN_SPREAD, "Spread N/cm") \
  X(COLUMN_UNCERTAINTY, "± N/cm") \
  X(COLUMN_AGREES, "Verdict") \
  X(COLUMN_ODD, "Odd one out") \
  X(COLUMN_LOSS, "Loss N/cm per decade") \
  X(COLUMN_SE, "±") \
  X(COLUMN_NORM, "Norm of mesh") \
  X(COLUMN_FAST, "Chance it is fast %") \
  X(COLUMN_EXCESS, "Excess") \
  X(COLUMN_AT_REST, "Fresh mesh at rest") \
  X(COLUMN_CAUSE, "What") \
  X(COLUMN_ESTIMATE, "It changes") \
  X(COLUMN_ADJUSTED, "Excess, use and meters taken off") \
  X(COLUMN_EXTRA, "More lost by 30 days N/cm") \
  X(COLUMN_DAYS, "Days to floor") \
  X(COLUMN_DAYS_EARLY, "from") \
  X(COLUMN_DAYS_LATE, "to") \
  X(COLUMN_DAYS_NORM, "Days at norm") \
  X(COLUMN_DAYS_LOST, "Days of life lost") \
  X(COLUMN_RAW, "Plain mean of its screens") \
  X(COLUMN_RAW_SCREENS, "Screens fitted alone") \
  X(COLUMN_RAW_P, "By luck") \
  X(COLUMN_RAW_Q, "For all lots") \
  X(COLUMN_RAW_PAIR, "In pairs") \
  X(COLUMN_RAW_ABOVE, "Loses more than") \
  X(COLUMN_RAW_COMPARED, "of lots") \
  X(COLUMN_SD_LOT_LEVEL, "Lots: level") \
  X(COLUMN_SD_LOT_LOSS, "Lots: loss") \
  X(COLUMN_SD_MOUNTING_LEVEL, "Mountings: level") \
  X(COLUMN_SD_MOUNTING_LOSS, "Mountings: loss") \
  X(COLUMN_SD_SESSION, "One session") \
  X(COLUMN_VERDICT, "Verdict") \
  X(COLUMN_MIXED, "Can’t be told from") \
  X(COLUMN_MOUNTINGS, "Mountings") \
  X(COLUMN_LOTS, "Lots") \
  X(COLUMN_AT_24H, "Level at 24 h") \
  X(COLUMN_FITTED, "What was fitted") \
  X(COLUMN_METER, "Meter") \
  X(COLUMN_BIAS, "Bias N/cm") \
  X(COLUMN_AGAINST, "Against") \
  X(COLUMN_SINCE, "Since") \
  X(COLUMN_READ, "Read") \
  X(COLUMN_TENSION, "Tension") \
  X(COLUMN_FLOOR, "Floor") \
  X(COLUMN_CHANCE, "Below floor %") \
  X(COLUMN_FILE, "File") \
  X(COLUMN_TABLE, "Table") \
  X(COLUMN_ROWS, "Rows") \
  X(COLUMN_ACCEPTED, "Accepted") \
  X(COLUMN_REJECTED, "Rejected") \
  X(COLUMN_BLANK, "Blank") \
  X(COLUMN_REPEATED, "Repeated") \
  X(COLUMN_ROW, "Row") \
  X(COLUMN_REASON, "Reason") \
  X(COLUMN_NOTED, "Note") \
  X(COLUMN_TEXT, "Text") \
  X(COLUMN_FOUND, "Found") \
  X(COLUMN_HEADER, "Header") \
  X(COLUMN_READ_AS, "Read as") \
  X(COLUMN_SETTING, "Setting") \
  X(COLUMN_VALUE, "Value") \
  X(COLUMN_DEFAULT, "Default") \
  X(COLUMN_UNIT, "Unit") \
  X(COLUMN_MEANS, "What it means")
// clang-format on

#endif
