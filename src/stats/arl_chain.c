/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The chain behind a set of run rules. The stream of rules.h is the definition: it is walked from
 * the start over all zones, its registers cut to what the rules can still use, and the states found
 * are merged while the rules cannot tell them apart (Moore 1956, Automata Studies, pp. 129-153).
 * Relies on rules and base/alloc. */
#include <string.h>

#include "arl_internal.h"
#include "tenter/base/alloc.h"

enum { REGISTERS = 8 };

typedef struct memory {
  uint16_t
      bit[REGISTERS]; /* above, below, above_1, below_1, above_2, below_2, within_1, outside_1 */
  uint16_t zone;
} memory;

/* The walk: states in the order found, a table of their places (0 = free), and where each leads. */
typedef struct walk {
  tenter_rules rules;
  bool keep_zone;
  memory *state;
  int32_t *next;
  size_t count, room;
  uint32_t *slot;
  size_t slots; /* a power of 2 */
} walk;

/* Ones at the low end, at most most. */
static uint16_t run(uint16_t bits, unsigned most) {
  unsigned ones = bits & ((1u << most) - 1);
  return (uint16_t)((ones ^ (ones + 1)) >> 1);
}

static unsigned longest_run(tenter_rules rules, tenter_rules short_one, tenter_rules long_one,
                            unsigned short_length, unsigned long_length) {
  if (rules & short_one)
    return short_length; /* it signals before the longer one can */
  return rules & long_one ? long_length : 0;
}

static memory cut(const tenter_rules_stream *s, tenter_rules rules) {
  unsigned side = longest_run(rules, TENTER_RULE_EIGHT_ONE_SIDE, TENTER_RULE_NINE_ONE_SIDE, 7, 8);
  unsigned four = rules & TENTER_RULE_FOUR_OF_FIVE ? 0xf : 0;
  unsigned two = rules & TENTER_RULE_TWO_OF_THREE ? 0x3 : 0;
  unsigned calm = rules & TENTER_RULE_FIFTEEN_CALM ? 14 : 0;
  unsigned avoid = rules & TENTER_RULE_EIGHT_AVOID_CENTRE ? 7 : 0;
  return (memory){{run(s->above, side), run(s->below, side), (uint16_t)(s->above_1 & four),
                   (uint16_t)(s->below_1 & four), (uint16_t)(s->above_2 & two),
                   (uint16_t)(s->below_2 & two), run(s->within_1, calm), run(s->outside_1, avoid)},
                  0};
}

static tenter_rules_stream revive(const memory *m, tenter_rules rules) {
  return (tenter_rules_stream){.rules = rules,
                               .above = m->bit[0],
                               .below = m->bit[1],
                               .above_1 = m->bit[2],
                               .below_1 = m->bit[3],
                               .above_2 = m->bit[4],
                               .below_2 = m->bit[5],
                               .within_1 = m->bit[6],
                               .outside_1 = m->bit[7]};
}

static uint64_t hash(const void *bytes, size_t length) { /* FNV-1a, mixed */
  uint64_t h = 14695981039346656037u;
  for (const unsigned char *p = bytes; length > 0; length--, p++)
    h = (h ^ *p) * 1099511628211u;
  return h ^ (h >> 29);
}

static tenter_status grow(walk *w, tenter_error *error) {
  size_t room = w->room ? 2 * w->room : 256, slots = 4 * room;
  memory *state = tenter_resize(w->state, room, sizeof *state);
  if (state)
    w->state = state;
  int32_t *next = tenter_resize(w->next, room, ARL_ZONES * sizeof *next);
  if (next)
    w->next = next;
  uint32_t *slot = tenter_alloc(slots, sizeof *slot);
  if (!state || !next || !slot) {
    tenter_free(slot);
    tenter_fail_memory(error);
    return TENTER_FAILED;
  }
  tenter_free(w->slot);
  w->slot = slot;
  w->slots = slots;
  w->room = room;
  for (size_t i = 0; i < w->count; i++) {
    size_t at = hash(&w->state[i], sizeof(memory)) & (slots - 1);
    while (slot[at])
      at = (at + 1) & (slots - 1);
    slot[at] = (uint32_t)i + 1;
  }
  return TENTER_OK;
}

/* The index of a state, which is added when it is new. */
static tenter_status find(walk *w, const memory *m, int32_t *index, tenter_error *error) {
  if (w->count == w->room) {
    tenter_status status = grow(w, error);
    if (status != TENTER_OK)
      return status;
  }
  size_t at = hash(m, sizeof *m) & (w->slots - 1);
  for (; w->slot[at]; at = (at + 1) & (w->slots - 1))
    if (memcmp(&w->state[w->slot[at] - 1], m, sizeof *m) == 0) {
      *index = (int32_t)w->slot[at] - 1;
      return TENTER_OK;
    }
  w->state[w->count] = *m;
  *index = (int32_t)w->count++;
  w->slot[at] = (uint32_t)w->count;
  return TENTER_OK;
}

static tenter_status explore(walk *w, tenter_error *error) {
  memory start = {{0}, ARL_ZONES};
  int32_t index;
  tenter_status status = find(w, &start, &index, error);
  for (size_t i = 0; status == TENTER_OK && i < w->count; i++)
    for (unsigned zone = 0; status == TENTER_OK && zone < ARL_ZONES; zone++) {
      tenter_rules_stream stream = revive(&w->state[i], w->rules);
      index = -1;
      if (!tenter_rules_step(&stream, (double)zone - 3.5)) { /* the middle of the zone */
        memory m = cut(&stream, w->rules);
        m.zone = (uint16_t)(w->keep_zone ? zone : ARL_ZONES);
        status = find(w, &m, &index, error);
      }
      w->next[i * ARL_ZONES + zone] = index;
    }
  return status;
}

/* ---- merging ---- */

/* Splits classes by where their states lead; the number of classes. key: room for count. */
static size_t refine(const walk *w, const int32_t *class, int32_t *refined, uint32_t *slot) {
  memset(slot, 0, w->slots * sizeof *slot);
  size_t classes = 0;
  for (size_t i = 0; i < w->count; i++) {
    int32_t key[ARL_ZONES + 1] = {class[i]};
    for (size_t z = 0; z < ARL_ZONES; z++) {
      int32_t to = w->next[i * ARL_ZONES + z];
      key[z + 1] = to < 0 ? -1 : class[to];
    }
    size_t at = hash(key, sizeof key) & (w->slots - 1);
    for (; slot[at]; at = (at + 1) & (w->slots - 1)) {
      size_t other = slot[at] - 1;
      bool same = class[other] == class[i];
      for (size_t z = 0; same && z < ARL_ZONES; z++) {
        int32_t to = w->next[other * ARL_ZONES + z];
        same = (to < 0 ? -1 : class[to]) == key[z + 1];
      }
      if (same)
        break;
    }
    if (!slot[at]) {
      slot[at] = (uint32_t)i + 1;
      refined[i] = (int32_t)classes++;
    } else {
      refined[i] = refined[slot[at] - 1];
    }
  }
  return classes;
}

/* The chain of classes; that of state 0 is class 0, being found first. */
static tenter_status quotient(const walk *w, const int32_t *class, size_t classes, arl_chain *chain,
                              tenter_error *error) {
  chain->count = classes;
  chain->next = tenter_alloc(classes * ARL_ZONES, sizeof *chain->next);
  if (!chain->next)
    return tenter_fail_memory(error);
  for (size_t i = 0; i < w->count; i++)
    for (size_t z = 0; z < ARL_ZONES; z++) {
      int32_t to = w->next[i * ARL_ZONES + z];
      chain->next[(size_t) class[i] * ARL_ZONES + z] = to < 0 ? -1 : class[to];
    }
  return TENTER_OK;
}

static tenter_status merge(walk *w, arl_chain *chain, tenter_error *error) {
  int32_t *class = tenter_alloc(2 * w->count, sizeof *class);
  if (!class)
    return tenter_fail_memory(error);
  int32_t *refined = class + w->count;
  size_t before = 0, classes = 0;
  for (size_t i = 0; i < w->count; i++)
    class[i] = w->state[i].zone;
  do {
    before = classes;
    classes = refine(w, class, refined, w->slot);
    memcpy(class, refined, w->count * sizeof *class);
  } while (classes != before);
  tenter_status status = quotient(w, class, classes, chain, error);
  tenter_free(class);
  return status;
}

tenter_status arl_chain_new(tenter_rules rules, bool keep_zone, arl_chain *chain,
                            tenter_error *error) {
  walk w = {.rules = rules & ~(tenter_rules)(TENTER_RULE_SIX_TREND | TENTER_RULE_FOURTEEN_ZIGZAG),
            .keep_zone = keep_zone};
  tenter_status status = explore(&w, error);
  if (status == TENTER_OK)
    status = merge(&w, chain, error);
  tenter_free(w.state);
  tenter_free(w.next);
  tenter_free(w.slot);
  return status;
}

void arl_chain_free(arl_chain *chain) {
  tenter_free(chain->next);
  chain->next = NULL;
  chain->count = 0;
}
