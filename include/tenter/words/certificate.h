/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The words of the certificate: a part of the catalogue of words.h. */
#ifndef TENTER_WORDS_CERTIFICATE_H
#define TENTER_WORDS_CERTIFICATE_H

// clang-format off
#define TENTER_WORDS_CERTIFICATE(X) \
  X(TITLE_CERTIFICATE, "Certificate of screen tension") \
  X(CERT_TITLE_OF_ORDER, "Order {1}") \
  X(CERT_TITLE_OF_CUSTOMER, "For {1}") \
  X(CERT_ALL, \
    "All {1} screens are certified: as read with the meters below, each meets the specification by " \
    "the decision rule that stands here.") \
  X(CERT_SOME, \
    "{1} of {2} screens are certified: as read with the meters below, each of these meets the " \
    "specification by the decision rule that stands here. {3} can’t be certified; the reasons are " \
    "given.") \
  X(CERT_NONE, "None of the {1} screens can be certified. No certificate is issued; the reasons are given.") \
  X(CERT_FOR, "For") \
  X(CERT_BY, "Certified by") \
  X(CERT_ORDER, "Order") \
  X(CERT_SCREENS_TERM, "Screens") \
  X(CERT_SCREENS_COUNT, "{1} certified, {2} not") \
  X(CERT_READ, "Read") \
  X(CERT_READ_SPAN, "{1} to {2}") \
  X(CERT_ISSUED, "As of") \
  X(CERT_UNSTATED, "not given") \
  X(CERT_NAMELESS, "not given: [certificate] name and address of the config stand here") \
  X(CERT_SPECIFICATION, "Specification and decision rule") \
  X(CERT_SPEC_MESH, "Mesh {1}") \
  X(CERT_SPEC_NO_MESH, "Mesh not given") \
  X(CERT_SPEC_BOTH, "target {1} N/cm; mean tension from {2} to {3} N/cm") \
  X(CERT_SPEC_LOWER, "target {1} N/cm; mean tension not below {2} N/cm") \
  X(CERT_SPEC_UPPER, "target {1} N/cm; mean tension not above {2} N/cm") \
  X(CERT_SPEC_NONE, "no target, or no tolerance: it can’t be certified") \
  X(CERT_SPEC_EVENNESS, \
    "; each place within ±{1} N/cm of the centre in its own direction, spread over all places at " \
    "most {2} N/cm, warp − weft within ±{3} N/cm") \
  X(CERT_RULE_GUARDED, \
    "Decision rule: guard band (JCGM 106:2012). The mean of a screen must lie within its limits by " \
    "at least {1} standard uncertainties of that mean. A screen whose true mean lies at or beyond a " \
    "limit then passes in at most {2} of 100 cases. Evenness is judged with the uncertainty of its " \
    "readings. A verdict that can’t be decided is no certificate.") \
  X(CERT_RULE_SIMPLE, \
    "Decision rule: simple acceptance (JCGM 106:2012), chosen by the shop. The mean of a screen as " \
    "read must lie within its limits; there is no guard band. A screen whose true mean lies a little " \
    "beyond a limit may pass, in up to 50 of 100 cases at the limit itself. An undecided verdict " \
    "passes by this rule: so did {1} of the screens certified; they are marked.") \
  X(CERT_RULE_LEAST, \
    "The tolerance holds for the first session {1} h or more after stretching. Read at {2} places " \
    "at least, on mesh at least {3} h old, with a meter that was in check. Tension falls with age by " \
    "nature: the age at reading stands with each screen.") \
  X(CERT_SCREENS, "Screens certified") \
  X(CERT_SCREENS_LEAD, \
    "Tension in N/cm. Mean ±: expanded uncertainty (coverage factor 2) of the mean as a value of " \
    "the screen’s true mean. Weakest and tightest: single readings.") \
  X(CERT_CHANCE_NOTE, "Chance: that the true mean met the tolerance.") \
  X(CERT_ACCEPTED_NOTE, \
    "Accepted: the mean that the tolerance was judged on, of an earlier session or of several. " \
    "Since then the tension has fallen with age.") \
  X(CERT_CONFORMS, "CONFORMS") \
  X(CERT_CONFORMS_SIMPLE, "CONFORMS by simple rule") \
  X(CERT_COLUMN_AGE, "Age h") \
  X(CERT_COLUMN_MEAN, "Mean ±") \
  X(CERT_COLUMN_WEAKEST, "Weakest") \
  X(CERT_COLUMN_TIGHTEST, "Tightest") \
  X(CERT_COLUMN_EVENNESS, "Even?") \
  X(CERT_COLUMN_CHANCE, "Chance %") \
  X(CERT_COLUMN_ACCEPTED, "Accepted") \
  X(CERT_COLUMN_TARGET, "Target") \
  X(CERT_ACCEPTED, "{1} at {2} h") \
  X(CERT_REFUSED, "Not certified") \
  X(CERT_REFUSED_LEAD, "These screens are no part of what is certified.") \
  X(CERT_NOT_IN_USE, "Not in use: burst or retired.") \
  X(CERT_NEVER_READ, "Never read since it was stretched.") \
  X(CERT_NO_TOLERANCE, "No target, or no tolerance, is known for it.") \
  X(CERT_AGE_UNKNOWN, "It is not known when it was stretched, so its age at reading is not known.") \
  X(CERT_TOO_YOUNG, "Read too young: {1} h after stretching at the least, {2} h are wanted.") \
  X(CERT_TOO_FEW_POSITIONS, "Read at too few places: {1}, {2} are wanted.") \
  X(CERT_NEVER_CHECKED, "Meter {1} has no check on record before the reading; one every {2} days is asked for.") \
  X(CERT_OUT_OF_CHECK, "Meter {1} was out of check: last checked {2}, {3} days before the reading; {4} days are allowed.") \
  X(CERT_METER_SHIFTED, "Meter {1} had shifted: off by {2} N/cm since {3}.") \
  X(CERT_OUTSIDE, "Outside the tolerance: {1} N/cm, the limit is {2} N/cm.") \
  X(CERT_UNDECIDED, "Undecided: {1} N/cm is too near the limit of {2} N/cm for the uncertainty of the reading.") \
  X(CERT_EVENNESS_UNDECIDED, "Evenness undecided: the chance that it is even is {1} %.") \
  X(CERT_FALLS, "On the day of use, {1}, it may be below its floor: chance {2} %, {3} % are allowed.") \
  X(CERT_REVIEW, "{1}") \
  X(CERT_AHEAD, "On the day of use") \
  X(CERT_AHEAD_LEAD, \
    "Tension to expect, from each screen’s own readings, its lot and its mesh; it lies between the " \
    "two figures in 9 of 10 cases. Printing, washing and rough handling before that day take off more.") \
  X(CERT_COLUMN_DAY, "Day of use") \
  X(CERT_COLUMN_EXPECTED, "Expected") \
  X(CERT_COLUMN_FROM, "From") \
  X(CERT_COLUMN_TO, "To") \
  X(CERT_SETS, "Sets") \
  X(CERT_SETS_LEAD, \
    "The screens of one job should lie within {1} N/cm of each other. The spread is that of the " \
    "tensions expected now, of all screens of the set, those not certified included.") \
  X(CERT_SET_YES, "AGREES") \
  X(CERT_MAPS, "Readings of each screen") \
  X(CERT_MAPS_LEAD, \
    "N/cm, warp above weft at each place, seen as the screen was read; ▼ ▲ marks a reading farther " \
    "from the centre of its direction than the evenness limit.") \
  X(CERT_CURVES, "Relaxation of each screen") \
  X(CERT_CURVES_LEAD, \
    "N/cm against days since it was stretched. Dots: sessions, with one standard uncertainty each " \
    "way. Band: where its tension lies in 9 of 10 cases. Dashed: the floor. Fine line: the target. " \
    "Upright line: the day of this certificate.") \
  X(CERT_NOTE_PICTURES, "the pictures are missing: {1}") \
  X(CERT_PICTURES_CUT, "Pictures of the first {1} screens certified are shown.") \
  X(CERT_PROCESS, "How the shop stretched") \
  X(CERT_PROCESS_LEAD, \
    "All mountings stretched for this, those not delivered included, each brought to 24 h: {1} in " \
    "number. They are counted as far as the records tell: a screen that was stretched again, or " \
    "burst, unprinted within {2} days before counts as one that was not delivered.") \
  X(CERT_PROCESS_PICKED, \
    "These screens were picked by hand, so nothing is said of how the shop stretches as a whole.") \
  X(CERT_GROUP_HEADING, "Mesh {1}, target {2} N/cm") \
  X(CERT_MADE, "Stretched") \
  X(CERT_MADE_WORDS, "{1}; not delivered {2}; delivered but not certified {3}; without a value at 24 h {4}") \
  X(CERT_COUNTED, "Within the limits") \
  X(CERT_COUNTED_WORDS, \
    "{1} of {2} at 24 h; outside {3}. Of all stretched in this way between {4} % and {5} % are to be " \
    "expected outside, whatever their law, with {6} % confidence.") \
  X(CERT_COUNTED_NONE, "none has a value at 24 h") \
  X(CERT_NORMALITY, "Normal law") \
  X(CERT_NORMAL, "not refuted: Anderson-Darling A² = {1}, p = {2}") \
  X(CERT_NOT_NORMAL, \
    "REFUTED: Anderson-Darling A² = {1}, p = {2}. The indices below and the shares by a normal law do " \
    "not hold for such values; go by the counts and by the least and greatest value.") \
  X(CERT_NORMAL_UNTESTED, "can’t be tested with fewer than {1} different values; the indices below suppose it") \
  X(CERT_RANGE, "Least, middle, greatest") \
  X(CERT_RANGE_WORDS, \
    "{1} · {2} · {3} N/cm. Whatever the law, at least {4} % of all stretched in this way lie between the " \
    "least and the greatest, with {5} % confidence.") \
  X(CERT_TOLERANCE_INTERVAL, "Tolerance interval") \
  X(CERT_TOLERANCE_BOTH, \
    "{1} to {2} N/cm: at least {3} % of all stretched in this way lie there, with {4} % confidence " \
    "(ISO 16269-6, factor {5}, normal law)") \
  X(CERT_TOLERANCE_LOW, \
    "above {1} N/cm: at least {2} % of all stretched in this way lie there, with {3} % confidence " \
    "(ISO 16269-6, factor {4}, normal law)") \
  X(CERT_TOLERANCE_HIGH, \
    "below {1} N/cm: at least {2} % of all stretched in this way lie there, with {3} % confidence " \
    "(ISO 16269-6, factor {4}, normal law)") \
  X(CERT_TOO_FEW, "too few values") \
  X(CERT_MOMENTS, "Mean and spread") \
  X(CERT_MOMENTS_WORDS, \
    "{1} and {2} N/cm; neighbours in order of stretching {3} N/cm. What the meter adds is part of it, " \
    "so the screens themselves spread less.") \
  X(CERT_INDICES, "Capability, with {1} % confidence intervals") \
  X(CERT_INDICES_NOTE, \
    "Cp, Cpk: by the spread of neighbours (moving range); Pp, Ppk: by the spread of all. With two " \
    "limits the intervals of Cpk and Ppk are an approximation that is fair from about 25 values on; " \
    "with fewer, read them as wide.") \
  X(CERT_COLUMN_INDEX, "Figure") \
  X(CERT_COLUMN_LOW, "Low") \
  X(CERT_COLUMN_HIGH, "High") \
  X(CERT_CP, "Cp") \
  X(CERT_CPK, "Cpk") \
  X(CERT_PP, "Pp") \
  X(CERT_PPK, "Ppk") \
  X(CERT_SHARE_BELOW, "below the limits, %") \
  X(CERT_SHARE_ABOVE, "above the limits, %") \
  X(CERT_SHARE_OUTSIDE, "outside the limits, %") \
  X(CERT_PLOT, "Probability plot") \
  X(CERT_PLOT_CAPTION, "values against what a normal law lets expect; a straight line speaks for it") \
  X(CERT_PLOT_X, "standard deviations expected") \
  X(CERT_ALT_PLOT, "Probability plot of {1} values from {2} to {3} N/cm.") \
  X(CERT_PLAN, "Acceptance by variables") \
  X(CERT_PLAN_ACCEPTED, "ACCEPTED") \
  X(CERT_PLAN_REJECTED, "NOT ACCEPTED") \
  X(CERT_PLAN_WORDS, \
    "{1} by the plan n = {2}, k = {3} (n, k form of ISO 3951-1, {4}), on all {5} that were read: " \
    "the mean lies {6} standard deviations above the lower and {7} below the upper limit; each must be " \
    "at least k.") \
  X(CERT_PLAN_UNKNOWN, "standard deviation from the sample") \
  X(CERT_PLAN_KNOWN, "standard deviation known: {1} N/cm") \
  X(CERT_PLAN_NO_LIMIT, "any number of") \
  X(CERT_PLAN_OC, \
    "With so many read, a delivery with {1} % beyond a limit is accepted in 95 of 100 cases, one with " \
    "{2} % in 50, one with {3} % in 10.") \
  X(CERT_PLAN_SORTED, \
    "No plan is applied: screens were taken out for their tension before delivery, and a plan by " \
    "variables judges unsorted deliveries only. The counts above hold.") \
  X(CERT_PLAN_FEW, "No plan is applied: the plan asks for n = {1}, and {2} of {3} were read at 24 h or more.") \
  X(CERT_PLAN_NOT_NORMAL, "No plan is applied: the values don’t follow a normal law, which a plan by variables supposes.") \
  X(CERT_METERS, "Meters") \
  X(CERT_METERS_LEAD, \
    "Error at check: what the meter showed on its plate less what the plate is, the greatest of that " \
    "day. Bias: its running mean.") \
  X(CERT_METERS_NONE, "The readings name no meter. An expanded uncertainty of {1} N/cm (coverage factor {2}) is assumed.") \
  X(CERT_COLUMN_EXPANDED, "Expanded uncertainty") \
  X(CERT_COLUMN_COVERAGE, "Coverage factor") \
  X(CERT_COLUMN_RESOLUTION, "Resolution") \
  X(CERT_COLUMN_CHECKED, "Last check") \
  X(CERT_COLUMN_ERROR, "Error at check") \
  X(CERT_COLUMN_EVERY, "Check every days") \
  X(CERT_ASSUMED, "assumed: the config gives none") \
  X(CERT_METER_READ, "read") \
  X(CERT_METER_NO_CHECK, "none on record") \
  X(CERT_CAUTION, "Handling: mesh under tension stores a great force") \
  X(CERT_CAUTION_EYES, \
    "Protect your eyes, do not lean over the mesh, carry the frame by its bars: stretched mesh can " \
    "break without warning.") \
  X(CERT_CAUTION_STORE, \
    "Keep screens dry, away from heat and from sharp things, standing or flat, nothing leaning on the " \
    "mesh; corners and edges are where it tears first.") \
  X(CERT_CAUTION_RECEIPT, \
    "Measure on receipt and before the first print, at the places shown, with a meter that is in check.") \
  X(CERT_CAUTION_RAISE, \
    "Do not raise the tension above the mesh maker’s maximum; only trained people, in steps, with the " \
    "frame maker’s instructions. Glued frames are not raised at all.") \
  X(CERT_CAUTION_CHEMICALS, \
    "Solvents, removers and adhesives: as their data sheets say, with fresh air, goggles and gloves. " \
    "This certificate recommends none.") \
  X(CERT_CAUTION_DEFER, \
    "The makers’ limits, the rules of your place and trained people come before anything that stands here.") \
  X(CERT_PROVENANCE, "What this rests on") \
  X(CERT_FINGERPRINT, "Fingerprint") \
  X(CERT_FINGERPRINT_WORDS, "SHA-256 {1}") \
  X(CERT_VERIFY, \
    "The fingerprint is taken over the data in certificate.json. To check this certificate: tenter " \
    "certificate --verify certificate.json, with this page, its PDF and the files below where you have " \
    "them. That shows whether anything was changed since it was issued. It does not show who issued " \
    "it: for that, compare the fingerprint with the one on the signed copy, or ask the shop.") \
  X(CERT_SIGNATURE, "Certified for {1}") \
  X(CERT_SIGNATURE_SHOP, "the shop") \
  X(CERT_SIGN_DATE, "Place and date") \
  X(CERT_SIGN_NAME, "Name and function") \
  X(CERT_SIGN_HAND, "Signature") \
  X(CERT_FOOTER, "Fingerprint {1}")
// clang-format on

#endif
