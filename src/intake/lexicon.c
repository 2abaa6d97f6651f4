/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sets of names, positions and attributes, and their merging. */
#include "lexicon.h"

#include <math.h>
#include <string.h>

#include "places.h"
#include "tenter/base/alloc.h"

/* ---- attributes ------------------------------------------------------------------------------ */

static uint64_t mix(uint64_t state, uint64_t word) {
  uint64_t product = (state ^ word) * UINT64_C(0x9E3779B97F4A7C15);
  return product ^ product >> 32;
}

static uint64_t number_bits(double value) {
  uint64_t bits = 0;
  if (isnan(value))
    return UINT64_MAX;
  memcpy(&bits, &value, sizeof bits);
  return bits;
}

static uint32_t hash_of(const tenter_attributes *is) {
  const uint32_t names[] = {is->mesh, is->lot,      is->station, is->place,
                            is->set,  is->customer, is->order,   (uint32_t)is->frame};
  const double numbers[] = {is->target,       is->minus,   is->plus,     is->floor,
                            is->coarse_floor, is->maximum, is->width_cm, is->height_cm};
  uint64_t state = 0;
  for (size_t i = 0; i < sizeof names / sizeof *names; i++)
    state = mix(state, names[i]);
  for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++)
    state = mix(state, number_bits(numbers[i]));
  state = mix(state, (uint64_t)is->stretched.at);
  state = mix(state, (uint64_t)is->needed_on.at);
  return (uint32_t)mix(state, (uint64_t)is->stretched.date_only << 1 | is->needed_on.date_only);
}

static bool same_number(double a, double b) {
  return a == b || (isnan(a) && isnan(b));
}

static bool same_when(tenter_when a, tenter_when b) {
  return a.at == b.at && a.date_only == b.date_only;
}

static bool same(const tenter_attributes *a, const tenter_attributes *b) {
  return a->mesh == b->mesh && a->lot == b->lot && a->station == b->station &&
         a->place == b->place && a->set == b->set && a->customer == b->customer &&
         a->order == b->order && a->frame == b->frame && same_when(a->stretched, b->stretched) &&
         same_when(a->needed_on, b->needed_on) && same_number(a->target, b->target) &&
         same_number(a->minus, b->minus) && same_number(a->plus, b->plus) &&
         same_number(a->floor, b->floor) && same_number(a->coarse_floor, b->coarse_floor) &&
         same_number(a->maximum, b->maximum) && same_number(a->width_cm, b->width_cm) &&
         same_number(a->height_cm, b->height_cm);
}

static uint32_t *seek(const attribute_set *set, const tenter_attributes *attributes) {
  uint32_t mask = set->slot_count - 1;
  for (uint32_t at = hash_of(attributes) & mask;; at = (at + 1) & mask) {
    uint32_t *slot = &set->slots[at];
    if (*slot == 0 || same(&set->items[*slot - 1], attributes))
      return slot;
  }
}

static bool grow_attributes(attribute_set *set) {
  uint32_t room = set->room ? set->room * 2 : 16;
  tenter_attributes *items = tenter_resize(set->items, room, sizeof *items);
  if (!items)
    return false;
  set->items = items;
  uint32_t *slots = tenter_alloc((size_t)room * 2, sizeof *slots);
  if (!slots)
    return false;
  tenter_free(set->slots);
  set->slots = slots;
  set->slot_count = room * 2;
  set->room = room;
  for (uint32_t i = 0; i < set->count; i++)
    *seek(set, &set->items[i]) = i + 1;
  return true;
}

uint32_t tenter__attributes_add(attribute_set *set, const tenter_attributes *attributes) {
  if (set->count == 0) { /* entry 0 */
    if (!grow_attributes(set))
      return UINT32_MAX;
    set->items[0] = tenter_attributes_none();
    *seek(set, &set->items[0]) = 1;
    set->count = 1;
  }
  uint32_t *slot = seek(set, attributes);
  if (*slot)
    return *slot - 1;
  if (set->count == set->room) {
    if (set->room > UINT32_MAX / 4 || !grow_attributes(set))
      return UINT32_MAX;
    slot = seek(set, attributes);
  }
  set->items[set->count] = *attributes;
  *slot = set->count + 1;
  return set->count++;
}

void tenter__attributes_release(attribute_set *set) {
  tenter_free(set->items);
  tenter_free(set->slots);
  *set = (attribute_set){0};
}

/* ---- positions ------------------------------------------------------------------------------- */

static uint32_t add_position(position_set *set, const tenter_position *place, tenter_text label) {
  uint32_t count = tenter_names_count(set->keys);
  if (count >= set->room) {
    uint32_t room = set->room ? set->room * 2 : 16;
    tenter_position *items = tenter_resize(set->items, room, sizeof *items);
    if (!items)
      return TENTER_NO_NAME;
    set->items = items;
    set->room = room;
  }
  set->items[count] = *place;
  set->items[count].label = tenter_arena_copy(set->arena, label);
  return set->items[count].label ? count : TENTER_NO_NAME;
}

uint32_t tenter__position_add(position_set *set, const tenter_position *place, tenter_text label) {
  char key[PLACE_KEY_SIZE];
  tenter__place_key(place, key);
  tenter_text text = *key ? tenter_text_of(key) : label;
  if (!set->keys && !(set->keys = tenter_names_new()))
    return TENTER_NO_NAME;
  uint32_t id = tenter_names_find(set->keys, text);
  if (id == TENTER_NO_NAME) {
    id = add_position(set, place, label);
    return id == TENTER_NO_NAME ? id : tenter_names_add(set->keys, text);
  }
  tenter_position *known = &set->items[id];
  if (isnan(known->x_cm)) { /* "0,0" and "C" are one place */
    known->x_cm = place->x_cm;
    known->y_cm = place->y_cm;
  }
  if (tenter_text_natural(label, tenter_text_of(known->label)) < 0)
    known->label = tenter_arena_copy(set->arena, label);
  return known->label ? id : TENTER_NO_NAME;
}

void tenter__positions_release(position_set *set) {
  tenter_names_free(set->keys);
  tenter_free(set->items);
  *set = (position_set){0};
}

/* ---- setups ---------------------------------------------------------------------------------- */

static uint32_t *seek_setup(const setup_set *set, const setup *of) {
  uint64_t head;
  memcpy(&head, of, sizeof head);
  uint32_t mask = set->slot_count - 1, at = (uint32_t)mix(mix(0, head), of->direction) & mask;
  for (;; at = (at + 1) & mask) {
    uint32_t *slot = &set->slots[at];
    if (*slot == 0 || memcmp(&set->items[*slot - 1], of, sizeof *of) == 0)
      return slot;
  }
}

static bool grow_setups(setup_set *set) {
  uint32_t room = set->room ? set->room * 2 : 32;
  setup *items = tenter_resize(set->items, room, sizeof *items);
  if (!items)
    return false;
  set->items = items;
  uint32_t *slots = tenter_alloc((size_t)room * 2, sizeof *slots);
  if (!slots)
    return false;
  tenter_free(set->slots);
  set->slots = slots;
  set->slot_count = room * 2;
  set->room = room;
  for (uint32_t i = 0; i < set->count; i++)
    *seek_setup(set, &set->items[i]) = i + 1;
  return true;
}

uint32_t tenter__setup_add(setup_set *set, const setup *of) {
  uint32_t *slot = set->count ? seek_setup(set, of) : NULL;
  if (slot && *slot)
    return *slot - 1;
  if (set->count == set->room && (set->room >= MOST_SETUPS || !grow_setups(set)))
    return UINT32_MAX;
  set->items[set->count] = *of;
  *seek_setup(set, of) = set->count + 1;
  return set->count++;
}

static void setups_release(setup_set *set) {
  tenter_free(set->items);
  tenter_free(set->slots);
  *set = (setup_set){0};
}

/* ---- lexicon --------------------------------------------------------------------------------- */

lexicon *tenter__lexicon_new(void) {
  lexicon *made = tenter_alloc(1, sizeof *made);
  if (made && (made->arena = tenter_arena_new())) {
    made->positions.arena = made->arena;
    return made;
  }
  tenter_free(made);
  return NULL;
}

void tenter__lexicon_free(lexicon *of) {
  if (!of)
    return;
  for (int kind = 0; kind < TENTER_NAME_KINDS; kind++) {
    tenter_names_free(of->names[kind]);
    tenter_free(of->to_names[kind]);
  }
  tenter__positions_release(&of->positions);
  tenter__attributes_release(&of->attributes);
  setups_release(&of->setups);
  tenter_free(of->to_setups);
  tenter_free(of->to_positions);
  tenter_free(of->to_attributes);
  tenter_arena_free(of->arena);
  tenter_free(of);
}

uint32_t tenter__lexicon_name(lexicon *of, tenter_name_kind kind, tenter_text text) {
  if (!of->names[kind] && !(of->names[kind] = tenter_names_new()))
    return TENTER_NO_NAME;
  return tenter_names_add(of->names[kind], text);
}

/* ---- merging --------------------------------------------------------------------------------- */

static bool counts(const uint8_t *used, uint32_t id) {
  return !used || used[id];
}

static bool merge_names(lexicon *from, const used_ids *used, merged *into, int kind) {
  if (!from->names[kind])
    return true;
  uint32_t count = tenter_names_count(from->names[kind]);
  uint32_t *to = from->to_names[kind] = tenter_alloc(count + 1, sizeof *to);
  for (uint32_t id = 0; to && id < count; id++) {
    to[id] = TENTER_NO_NAME;
    if (!counts(used ? used->names[kind] : NULL, id))
      continue;
    to[id] = tenter_names_add(into->tables->names[kind], tenter_names_text(from->names[kind], id));
    if (to[id] == TENTER_NO_NAME)
      return false;
  }
  return to != NULL;
}

static bool merge_positions(lexicon *from, const used_ids *used, merged *into) {
  if (!from->positions.keys)
    return true;
  uint32_t count = tenter_names_count(from->positions.keys);
  uint32_t *to = from->to_positions = tenter_alloc(count + 1, sizeof *to);
  for (uint32_t id = 0; to && id < count; id++) {
    const tenter_position *place = &from->positions.items[id];
    to[id] = TENTER_NO_NAME;
    if (!counts(used ? used->positions : NULL, id))
      continue;
    to[id] = tenter__position_add(&into->positions, place, tenter_text_of(place->label));
    if (to[id] == TENTER_NO_NAME)
      return false;
  }
  return to != NULL;
}

static void rename_id(const lexicon *from, tenter_name_kind kind, uint32_t *id) {
  if (*id != TENTER_NO_NAME)
    *id = from->to_names[kind][*id];
}

static bool merge_attributes(lexicon *from, const used_ids *used, merged *into) {
  uint32_t count = from->attributes.count;
  uint32_t *to = from->to_attributes = tenter_alloc((size_t)count + 1, sizeof *to);
  for (uint32_t id = 1; to && id < count; id++) {
    if (!counts(used ? used->attributes : NULL, id))
      continue;
    tenter_attributes is = from->attributes.items[id];
    rename_id(from, TENTER_NAME_MESH, &is.mesh);
    rename_id(from, TENTER_NAME_LOT, &is.lot);
    rename_id(from, TENTER_NAME_STATION, &is.station);
    rename_id(from, TENTER_NAME_PLACE, &is.place);
    rename_id(from, TENTER_NAME_SET, &is.set);
    rename_id(from, TENTER_NAME_CUSTOMER, &is.customer);
    rename_id(from, TENTER_NAME_ORDER, &is.order);
    to[id] = tenter__attributes_add(&into->attributes, &is);
    if (to[id] == UINT32_MAX)
      return false;
  }
  return to != NULL;
}

static uint16_t moved16(const uint32_t *to, uint16_t id) {
  return id == TENTER_NO_NAME16 ? id : (uint16_t)to[id];
}

static bool merge_setups(lexicon *from, const used_ids *used) {
  setup *to = from->to_setups = tenter_alloc((size_t)from->setups.count + 1, sizeof *to);
  for (uint32_t id = 0; to && id < from->setups.count; id++) {
    setup is = from->setups.items[id];
    if (!counts(used ? used->setups : NULL, id))
      continue;
    is.position = moved16(from->to_positions, is.position);
    is.meter = moved16(from->to_names[TENTER_NAME_METER], is.meter);
    is.operator= moved16(from->to_names[TENTER_NAME_OPERATOR], is.operator);
    to[id] = is;
  }
  return to != NULL;
}

bool tenter__lexicon_merge(lexicon *from, const used_ids *used, merged *into) {
  for (int kind = 0; kind < TENTER_NAME_KINDS; kind++)
    if (!merge_names(from, used, into, kind))
      return false;
  return merge_positions(from, used, into) && merge_attributes(from, used, into) &&
         merge_setups(from, used);
}
