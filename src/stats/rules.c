/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Run rules on bit registers: a point shifts one bit into each, a rule is a mask over one of them.
 * Relies on nothing. */
#include "tenter/stats/rules.h"

#include <math.h>
#include <string.h>

static const tenter_rule table[] = {
#define ROW(constant, code, need, window, source)                                                  \
  {TENTER_RULE_##constant, code, need, window, source},
    TENTER_RULE_LIST(ROW)
#undef ROW
};

enum { /* registers of so many points or differences, all set */
       LAST_5 = 0x1f,
       LAST_8 = 0xff,
       LAST_9 = 0x1ff,
       LAST_13 = 0x1fff,
       LAST_15 = 0x7fff,
       TURNS_UP = 0x1555, /* 13 differences in turn, the latest a rise */
       TURNS_DOWN = 0x0aaa
};

const tenter_rule *tenter_rule_at(size_t index) {
  return index < TENTER_RULE_COUNT ? &table[index] : NULL;
}

const tenter_rule *tenter_rule_find(const char *code, size_t length) {
  for (size_t i = 0; i < TENTER_RULE_COUNT; i++)
    if (strlen(table[i].code) == length && memcmp(table[i].code, code, length) == 0)
      return &table[i];
  return NULL;
}

void tenter_rules_start(tenter_rules_stream *stream, tenter_rules rules, bool restart) {
  *stream = (tenter_rules_stream){.rules = rules & TENTER_RULES_ALL, .restart = restart};
}

static void push(uint16_t *bits, bool bit) {
  *bits = (uint16_t)((*bits << 1) | bit);
}

static bool all(uint16_t bits, unsigned mask) {
  return (bits & mask) == mask;
}

/* The latest and one of the two before it. */
static bool two_of_three(uint16_t bits) {
  return (bits & 1) && (bits & 6);
}

/* The latest and all but at most one of the four before it. */
static bool four_of_five(uint16_t bits) {
  unsigned without = ~(unsigned)bits & 0x1e;
  return (bits & 1) && (without & (without - 1)) == 0;
}

static bool zigzag(uint16_t rise, uint16_t fall) {
  unsigned r = rise & LAST_13, f = fall & LAST_13;
  return (r == TURNS_UP && f == TURNS_DOWN) || (r == TURNS_DOWN && f == TURNS_UP);
}

static tenter_rules flag(bool met, tenter_rules rule) {
  return met ? rule : 0;
}

static void take(tenter_rules_stream *s, double z) {
  push(&s->above, z > 0);
  push(&s->below, z < 0);
  push(&s->above_1, z > 1);
  push(&s->below_1, z < -1);
  push(&s->above_2, z > 2);
  push(&s->below_2, z < -2);
  push(&s->within_1, z > -1 && z < 1);
  push(&s->outside_1, z > 1 || z < -1);
  push(&s->rise, s->has_last && z > s->last);
  push(&s->fall, s->has_last && z < s->last);
  s->last = z;
  s->has_last = true;
}

tenter_rules tenter_rules_step(tenter_rules_stream *s, double z) {
  if (!isfinite(z)) {
    tenter_rules_start(s, s->rules, s->restart);
    return 0;
  }
  take(s, z);
  tenter_rules met =
      flag(z > 3 || z < -3, TENTER_RULE_BEYOND) |
      flag(two_of_three(s->above_2) || two_of_three(s->below_2), TENTER_RULE_TWO_OF_THREE) |
      flag(four_of_five(s->above_1) || four_of_five(s->below_1), TENTER_RULE_FOUR_OF_FIVE) |
      flag(all(s->above, LAST_8) || all(s->below, LAST_8), TENTER_RULE_EIGHT_ONE_SIDE) |
      flag(all(s->above, LAST_9) || all(s->below, LAST_9), TENTER_RULE_NINE_ONE_SIDE) |
      flag(all(s->rise, LAST_5) || all(s->fall, LAST_5), TENTER_RULE_SIX_TREND) |
      flag(zigzag(s->rise, s->fall), TENTER_RULE_FOURTEEN_ZIGZAG) |
      flag(all(s->within_1, LAST_15), TENTER_RULE_FIFTEEN_CALM) |
      flag(all(s->outside_1, LAST_8), TENTER_RULE_EIGHT_AVOID_CENTRE);
  met &= s->rules;
  if (met && s->restart)
    tenter_rules_start(s, s->rules, true);
  return met;
}

void tenter_rules_run(tenter_rules rules, bool restart, const double *z, size_t count,
                      tenter_rules *met) {
  tenter_rules_stream stream;
  tenter_rules_start(&stream, rules, restart);
  for (size_t i = 0; i < count; i++)
    met[i] = tenter_rules_step(&stream, z[i]);
}
