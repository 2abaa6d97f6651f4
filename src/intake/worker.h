/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a thread keeps from row to row and from chunk to chunk: buffers, and memories of texts that
 * came before. Nothing in it changes what is read, only how fast. */
#ifndef TENTER_INTAKE_WORKER_H
#define TENTER_INTAKE_WORKER_H

#include "input.h"
#include "split.h"
#include "tenter/base/buffer.h"

enum { MEMO_SIZE = 256 };

/* Texts of up to 16 bytes with what was made of them, each in the one slot of its hash. */
typedef struct memo_slot {
  uint64_t head, tail;
  uint32_t length; /* 0: free */
  uint32_t value;
} memo_slot;

typedef struct memo {
  memo_slot slots[MEMO_SIZE];
} memo;

/* The same for runs of cells, of up to 32 bytes. */
typedef struct run_slot {
  uint64_t words[4];
  uint32_t length;
  uint32_t value;
} run_slot;

typedef struct run_memo {
  run_slot slots[MEMO_SIZE];
} run_memo;

enum { MEMO_MISSING = UINT32_MAX };

/* The date that was read last, by its text. */
typedef struct last_date {
  char text[16]; /* "2026-03-01" */
  size_t length;
  uint64_t mask[2]; /* of its bytes in text */
  uint32_t midnight;
} last_date;

typedef struct worker {
  const input *in; /* whose the memories are, and of which reading of it */
  unsigned generation;
  lexicon *words;
  memo screens, positions, directions, meters, operators;
  run_memo runs; /* to ids of setups */
  last_date date;
  uint32_t last_screen, known_screens; /* ids in the lexicon */
  slab_pen pen;                        /* for the items of chunks */
  tenter_text *cells;
  size_t cell_room;
  bool more_cells; /* the row at hand has filled cells beyond the header's */
  char *scratch;
  tenter_buffer decoded;
  tenter_buffer row_cells, last_cells; /* the attribute cells of this row and of the one before */
  uint32_t last_attributes;
  bool last_known;
  bool overflow; /* more distinct names than 16 bits can number */
  char pair[96]; /* "x,y" of the row at hand */
} worker;

worker *tenter__worker_new(void);
void tenter__worker_free(worker *of);

/* Makes the worker ready for a file; forgets what it knew of another. False when memory runs out.
 */
bool tenter__worker_attach(worker *of, input *in, size_t number);

static inline uint64_t load8(const char *from) {
  uint64_t word;
  memcpy(&word, from, sizeof word);
  return word;
}

/* The first length bytes (0 .. 8) of a word as it lies in memory. */
static inline uint64_t keep_bytes(uint64_t word, size_t length) {
#if __BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__
  return length >= 8 ? word : word & ((UINT64_C(1) << 8 * length) - 1);
#else
  return length >= 8 ? word : length == 0 ? 0 : word & ~(UINT64_MAX >> 8 * length);
#endif
}

/* The slot of a text of 1 .. 16 bytes (with 16 readable bytes from its start), and its key. */
static inline memo_slot *memo_seek(memo *m, tenter_text text, memo_slot *key) {
  key->head = keep_bytes(load8(text.start), text.length);
  key->tail = text.length > 8 ? keep_bytes(load8(text.start + 8), text.length - 8) : 0;
  key->length = (uint32_t)text.length;
  uint64_t hash = (key->head ^ key->tail * UINT64_C(0xD6E8FEB86659FD93) ^ text.length) *
                  UINT64_C(0x9E3779B97F4A7C15);
  return &m->slots[hash >> 56];
}

/* The slot of a run of 1 .. 32 bytes (with 32 readable bytes from its start), and its key. */
static inline run_slot *run_seek(run_memo *m, tenter_text text, run_slot *key) {
  uint64_t mixed = text.length;
  for (size_t i = 0; i < 4; i++) {
    size_t left = text.length > 8 * i ? text.length - 8 * i : 0;
    key->words[i] = left ? keep_bytes(load8(text.start + 8 * i), left) : 0;
    mixed = (mixed ^ key->words[i]) * UINT64_C(0x9E3779B97F4A7C15);
  }
  key->length = (uint32_t)text.length;
  return &m->slots[mixed >> 56];
}

static inline bool run_holds(const run_slot *slot, const run_slot *key) {
  return slot->length == key->length && slot->words[0] == key->words[0] &&
         slot->words[1] == key->words[1] && slot->words[2] == key->words[2] &&
         slot->words[3] == key->words[3];
}

static inline bool memo_holds(const memo_slot *slot, const memo_slot *key) {
  return slot->head == key->head && slot->tail == key->tail && slot->length == key->length;
}

#endif
