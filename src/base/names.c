/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Interned texts: an open-addressing table (linear probing, at most half full) beside a list of the
 * texts in an arena. A slot holds two words that say all of a text of up to 16 bytes, so that
 * looking up a short one touches nothing but its slot. */
#include "tenter/base/names.h"

#include <stdlib.h>
#include <string.h>

#include "tenter/base/alloc.h"
#include "tenter/base/arena.h"

enum { FIRST_SLOTS = 64 };

/* Of a text of 8 bytes and more head is the first eight and tail the last eight; of a shorter one
 * tail has all of it and head is 0. With the length they tell texts of up to WHOLE bytes apart. */
typedef struct key {
  uint64_t head, tail;
  uint32_t length; /* its low 32 bits */
} key;

enum { WHOLE = 16 };

typedef struct slot {
  uint64_t head, tail;
  uint32_t length;
  uint32_t id; /* TENTER_NO_NAME where the slot is free */
} slot;

struct tenter_names {
  tenter_arena *arena;
  slot *slots;
  tenter_text *texts; /* by id; room for slot_count / 2 */
  uint32_t count;
  uint32_t slot_count; /* a power of 2 */
};

static uint64_t load8(const char *from) {
  uint64_t word;
  memcpy(&word, from, sizeof word);
  return word;
}

static uint64_t load4(const char *from) {
  uint32_t word;
  memcpy(&word, from, sizeof word);
  return word;
}

/* Multiply, and fold the high half (which depends on all bits) onto the low one. */
static uint64_t mix(uint64_t state, uint64_t word) {
  uint64_t product = (state ^ word) * UINT64_C(0x9E3779B97F4A7C15);
  return product ^ product >> 32;
}

static key key_of(tenter_text text) {
  const char *start = text.start;
  size_t length = text.length;
  key made = {0, 0, (uint32_t)length};
  if (length >= 8) {
    made.head = load8(start);
    made.tail = load8(start + length - 8);
  } else if (length >= 4) {
    made.tail = load4(start) | load4(start + length - 4) << 32;
  } else if (length > 0) {
    made.tail = (uint64_t)(unsigned char)start[0] |
                (uint64_t)(unsigned char)start[length / 2] << 8 |
                (uint64_t)(unsigned char)start[length - 1] << 16;
  }
  return made;
}

/* All of a long text counts, so that ids with equal ends do not meet in one place. */
static uint32_t hash_of(const key *of, tenter_text text) {
  uint64_t state = mix(of->length, of->head);
  for (size_t at = 8; at + 8 < text.length; at += 8)
    state = mix(state, load8(text.start + at));
  return (uint32_t)mix(mix(state, of->tail), 0);
}

static slot *slots_new(uint32_t count) {
  slot *slots = tenter_alloc(count, sizeof *slots);
  if (slots != NULL)
    memset(slots, 0xFF, count * sizeof *slots); /* every id TENTER_NO_NAME */
  return slots;
}

tenter_names *tenter_names_new(void) {
  tenter_names *names = tenter_alloc(1, sizeof *names);
  if (names == NULL)
    return NULL;
  names->arena = tenter_arena_new();
  names->slots = slots_new(FIRST_SLOTS);
  names->texts = tenter_alloc(FIRST_SLOTS / 2, sizeof *names->texts);
  names->slot_count = FIRST_SLOTS;
  if (names->arena == NULL || names->slots == NULL || names->texts == NULL) {
    tenter_names_free(names);
    return NULL;
  }
  return names;
}

void tenter_names_free(tenter_names *names) {
  if (names == NULL)
    return;
  tenter_arena_free(names->arena);
  tenter_free(names->slots);
  tenter_free(names->texts);
  tenter_free(names);
}

static bool holds(const tenter_names *names, const slot *each, const key *of, tenter_text text) {
  return each->tail == of->tail && each->head == of->head && each->length == of->length &&
         (text.length <= WHOLE || tenter_text_equal(names->texts[each->id], text));
}

/* The slot that holds text, or the free one where it belongs. */
static slot *seek(const tenter_names *names, tenter_text text, const key *of) {
  uint32_t mask = names->slot_count - 1;
  for (uint32_t at = hash_of(of, text) & mask;; at = (at + 1) & mask) {
    slot *each = &names->slots[at];
    if (each->id == TENTER_NO_NAME || holds(names, each, of, text))
      return each;
  }
}

/* Doubles the table. On failure it is as it was (texts may have more room than it says). */
static bool grow(tenter_names *names) {
  if (names->slot_count > UINT32_MAX / 2)
    return false;
  uint32_t wider = names->slot_count * 2;
  tenter_text *texts = tenter_resize(names->texts, wider / 2, sizeof *texts);
  if (texts == NULL)
    return false;
  names->texts = texts;
  slot *slots = slots_new(wider);
  if (slots == NULL)
    return false;
  tenter_free(names->slots);
  names->slots = slots;
  names->slot_count = wider;
  for (uint32_t id = 0; id < names->count; id++) {
    key of = key_of(texts[id]);
    *seek(names, texts[id], &of) = (slot){of.head, of.tail, of.length, id};
  }
  return true;
}

uint32_t tenter_names_add(tenter_names *names, tenter_text text) {
  key of = key_of(text);
  slot *place = seek(names, text, &of);
  if (place->id != TENTER_NO_NAME)
    return place->id;
  if (names->count == names->slot_count / 2) {
    if (!grow(names))
      return TENTER_NO_NAME;
    place = seek(names, text, &of);
  }
  const char *copy = tenter_arena_copy(names->arena, text);
  if (copy == NULL)
    return TENTER_NO_NAME;
  names->texts[names->count] = (tenter_text){copy, text.length};
  *place = (slot){of.head, of.tail, of.length, names->count};
  return names->count++;
}

uint32_t tenter_names_find(const tenter_names *names, tenter_text text) {
  key of = key_of(text);
  return seek(names, text, &of)->id;
}

uint32_t tenter_names_count(const tenter_names *names) {
  return names->count;
}

const char *tenter_names_get(const tenter_names *names, uint32_t id) {
  return tenter_names_text(names, id).start;
}

tenter_text tenter_names_text(const tenter_names *names, uint32_t id) {
  return id < names->count ? names->texts[id] : (tenter_text){"", 0};
}

typedef struct entry {
  tenter_text text;
  uint32_t id; /* the old one */
} entry;

static int by_nature(const entry *a, const entry *b) {
  return tenter_text_natural(a->text, b->text);
}

static bool in_order(const tenter_names *names) {
  for (uint32_t id = 1; id < names->count; id++)
    if (tenter_text_natural(names->texts[id - 1], names->texts[id]) > 0)
      return false;
  return true;
}

/* The end of the ascending run that begins at from. */
static size_t run_end(const entry *list, size_t from, size_t count) {
  size_t end = from + 1;
  while (end < count && by_nature(&list[end - 1], &list[end]) <= 0)
    end++;
  return end;
}

static void merge_runs(const entry *from, size_t middle, size_t end, entry *to) {
  size_t left = 0, right = middle;
  while (left < middle && right < end)
    *to++ = by_nature(&from[left], &from[right]) <= 0 ? from[left++] : from[right++];
  memcpy(to, from + left, (middle - left) * sizeof *to);
  memcpy(to + (middle - left), from + right, (end - right) * sizeof *to);
}

/* Merges the ascending runs in pairs until one is left: names mostly come in a few, one from each
 * reader of a file. Returns which of the two lists holds it. */
static entry *sort_entries(entry *list, entry *other, size_t count) {
  for (size_t runs = 2; runs > 1;) {
    runs = 0;
    for (size_t from = 0, middle, end; from < count; from = end, runs++) {
      middle = run_end(list, from, count);
      end = middle < count ? run_end(list, middle, count) : count;
      merge_runs(list + from, middle - from, end - from, other + from);
    }
    entry *swapped = list;
    list = other;
    other = swapped;
  }
  return list;
}

bool tenter_names_sort(tenter_names *names, uint32_t *to) {
  if (in_order(names)) {
    for (uint32_t id = 0; id < names->count; id++)
      to[id] = id;
    return true;
  }
  entry *room = tenter_alloc((size_t)names->count * 2, sizeof *room);
  if (room == NULL)
    return false;
  for (uint32_t id = 0; id < names->count; id++)
    room[id] = (entry){names->texts[id], id};
  const entry *entries = sort_entries(room, room + names->count, names->count);
  for (uint32_t id = 0; id < names->count; id++) {
    names->texts[id] = entries[id].text;
    to[entries[id].id] = id;
  }
  for (uint32_t at = 0; at < names->slot_count; at++)
    if (names->slots[at].id != TENTER_NO_NAME)
      names->slots[at].id = to[names->slots[at].id];
  tenter_free(room);
  return true;
}

uint32_t tenter_names_nearest(const tenter_names *names, tenter_text text) {
  size_t limit = text.length / 3 > 2 ? text.length / 3 : 2;
  uint32_t nearest = TENTER_NO_NAME;
  for (uint32_t id = 0; id < names->count; id++) {
    size_t distance = tenter_text_distance(names->texts[id], text, limit);
    if (distance > limit)
      continue;
    nearest = id;
    if (distance == 0)
      break;
    limit = distance - 1; /* a later one must be nearer */
  }
  return nearest;
}
