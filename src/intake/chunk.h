/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reading one chunk of a file: its bytes, its borders, its rows. */
#ifndef TENTER_INTAKE_CHUNK_H
#define TENTER_INTAKE_CHUNK_H

#include "rows.h"

enum { SAMPLE_SIZE = 1 << 18 };

/* Cuts the file into chunks of size bytes; frees what was there. */
tenter_status tenter__chunks_cut(input *in, size_t size, tenter_error *error);

void tenter__chunk_clear(chunk *of);
void tenter__chunk_drop_items(chunk *of);
void tenter__chunks_free(input *in);

/* Marks that the chunk does not know where its first row begins. */
#define CHUNK_GUESS UINT64_MAX

/* Reads and types the rows of chunk number `number`. first: where its first row begins, or
 * CHUNK_GUESS. lean: keep no texts of problems. Fills everything of the chunk, its status too. */
void tenter__chunk_read(intake *all, input *in, size_t number, uint64_t first, bool lean,
                        size_t worker_number);

/* ---- hashing in order ---- */

/* Hashes a file's chunks in order while they are read in any: a chunk's bytes are handed over when
 * they have been typed, and whoever finds the next one there and nobody at it hashes on. */
hasher *tenter__hasher_new(size_t chunk_count);
void tenter__hasher_free(hasher *of);

/* A buffer to read into, an old one where there is one. */
tenter_buffer tenter__hasher_buffer(hasher *of);

/* Takes length bytes of buffer, from `from` on, as chunk number's. */
void tenter__hasher_give(hasher *of, size_t number, tenter_buffer buffer, size_t from,
                         size_t length);

/* The digits, after all chunks were given; false when memory ran out on the way. */
bool tenter__hasher_end(hasher *of, char digits[65]);

#endif
