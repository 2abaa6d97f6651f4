/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Run rules: patterns of successive points of a control chart that are rare while nothing has
 * changed. Points come standardised (0 is the centre line, +-3 the limits of three sigma), one
 * after another; a stream holds 40 bytes however long it gets.
 *
 * Sources. Western Electric Company (1956), Statistical Quality Control Handbook, pp. 25-28: four
 * tests of one half of the chart. Nelson, L. S. (1984), J. Quality Technology 16(4):237-239: eight
 * tests. The two share three; each distinct rule stands once in the table below.
 *
 * Conventions, where the sources leave room: a rule is met at a point when the window that ends
 * there shows the pattern, and that point is part of the pattern (2 of 3 is not met by a third
 * point that lies well inside). "Beyond" is strict: a point on a line is not beyond it, a point on
 * the centre is on neither side, equal neighbours neither rise nor fall. The last rule of the table
 * asks for points outside one sigma on either side or on both. A missing point (NaN or infinite)
 * meets nothing and ends every window: no run is claimed across a gap. */
#ifndef TENTER_STATS_RULES_H
#define TENTER_STATS_RULES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* X(CONSTANT, code for files and options, points needed, points in the window, source) */
#define TENTER_RULE_LIST(X)                                                                        \
  /* outside the limits */                                                                         \
  X(BEYOND, "beyond", 1, 1, "Western Electric 1956 test 1, Nelson 1984 test 1")                    \
  /* more than two thirds, more than a third of the way to the same limit */                       \
  X(TWO_OF_THREE, "two_of_three", 2, 3, "Western Electric 1956 test 2, Nelson 1984 test 5")        \
  X(FOUR_OF_FIVE, "four_of_five", 4, 5, "Western Electric 1956 test 3, Nelson 1984 test 6")        \
  /* on one side of the centre */                                                                  \
  X(EIGHT_ONE_SIDE, "eight_one_side", 8, 8, "Western Electric 1956 test 4")                        \
  X(NINE_ONE_SIDE, "nine_one_side", 9, 9, "Nelson 1984 test 2")                                    \
  /* that only rise or only fall; that go up and down in turn */                                   \
  X(SIX_TREND, "six_trend", 6, 6, "Nelson 1984 test 3")                                            \
  X(FOURTEEN_ZIGZAG, "fourteen_zigzag", 14, 14, "Nelson 1984 test 4")                              \
  /* all within a third of the way to a limit; none of them so */                                  \
  X(FIFTEEN_CALM, "fifteen_calm", 15, 15, "Nelson 1984 test 7")                                    \
  X(EIGHT_AVOID_CENTRE, "eight_avoid_centre", 8, 8, "Nelson 1984 test 8")

enum tenter_rule_index {
#define TENTER_RULE_INDEX(constant, code, need, window, source) TENTER_RULE_INDEX_##constant,
  TENTER_RULE_LIST(TENTER_RULE_INDEX)
#undef TENTER_RULE_INDEX
      TENTER_RULE_COUNT
};

enum tenter_rule_bit {
#define TENTER_RULE_BIT(constant, code, need, window, source)                                      \
  TENTER_RULE_##constant = 1 << TENTER_RULE_INDEX_##constant,
  TENTER_RULE_LIST(TENTER_RULE_BIT)
#undef TENTER_RULE_BIT
};

/* A set of rules, or the rules that a point meets: the sum of their bits. */
typedef uint32_t tenter_rules;

enum { /* the sets as published */
       TENTER_RULES_NONE = 0,
       TENTER_RULES_WESTERN_ELECTRIC = TENTER_RULE_BEYOND | TENTER_RULE_TWO_OF_THREE |
                                       TENTER_RULE_FOUR_OF_FIVE | TENTER_RULE_EIGHT_ONE_SIDE,
       TENTER_RULES_NELSON = TENTER_RULE_BEYOND | TENTER_RULE_TWO_OF_THREE |
                             TENTER_RULE_FOUR_OF_FIVE | TENTER_RULE_NINE_ONE_SIDE |
                             TENTER_RULE_SIX_TREND | TENTER_RULE_FOURTEEN_ZIGZAG |
                             TENTER_RULE_FIFTEEN_CALM | TENTER_RULE_EIGHT_AVOID_CENTRE,
       TENTER_RULES_ALL = (1 << TENTER_RULE_COUNT) - 1
};

/* What is known of a rule. need = window but for the rules "m of n". */
typedef struct tenter_rule {
  tenter_rules bit;
  const char *code;
  unsigned need, window;
  const char *source;
} tenter_rule;

/* The index-th rule, 0 ... TENTER_RULE_COUNT - 1; NULL beyond. Static storage. */
const tenter_rule *tenter_rule_at(size_t index);

/* The rule with this code (length bytes); NULL where there is none. */
const tenter_rule *tenter_rule_find(const char *code, size_t length);

/* The memory of a chart: treat as opaque, copy freely. Each register holds a bit a point, the
 * latest lowest. */
typedef struct tenter_rules_stream {
  tenter_rules rules;
  bool restart;
  bool has_last;
  double last;
  uint16_t above, below, above_1, below_1, above_2, below_2, within_1, outside_1, rise, fall;
} tenter_rules_stream;

/* A stream without points for the rules of the set (bits without a rule are ignored). With restart,
 * a point that meets a rule ends every window: the next signal needs new points, so that one cause
 * is told once and signals are renewals at the rate 1 / average run length. Without, each point is
 * judged by its window alone. */
void tenter_rules_start(tenter_rules_stream *stream, tenter_rules rules, bool restart);

/* Takes the next point; the rules of the set it meets. Some tens of nanoseconds for all rules. */
tenter_rules tenter_rules_step(tenter_rules_stream *stream, double z);

/* The same for count points at once: met[i] for z[i]. */
void tenter_rules_run(tenter_rules rules, bool restart, const double *z, size_t count,
                      tenter_rules *met);

#endif
