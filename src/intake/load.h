/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The stations of a load: which files, reading them, putting them together. */
#ifndef TENTER_INTAKE_LOAD_INTERNAL_H
#define TENTER_INTAKE_LOAD_INTERNAL_H

#include "chunk.h"

enum { MOST_TEXTS = 100000, CHUNK_SIZE = 1 << 20 };

/* tenter_intake_load with the size of chunks given (bytes, even): for tests, which cut small. */
tenter_status tenter__intake_load(const char *const *paths, size_t count,
                                  const tenter_config *config, tenter_tables *tables,
                                  tenter_pool *pool, size_t chunk_size, tenter_error *error);

/* files.c: opens all files that paths name, each once, in the order of their names. */
tenter_status tenter__files_open(intake *all, const char *const *paths, size_t count,
                                 tenter_error *error);

/* rounds.c: reads every input until nothing in it contradicts how it was read. */
tenter_status tenter__inputs_read(intake *all, tenter_error *error);

/* merge.c: moves what the inputs hold into the tables. */
tenter_status tenter__inputs_merge(intake *all, tenter_error *error);
size_t tenter__count_chunks(const intake *all);

/* merge_readings.c: the readings. bases: the first line of every chunk. */
tenter_status tenter__move_readings(intake *all, const uint32_t *bases, tenter_error *error);

/* notes.c: what the tables show that a person should know. */
tenter_status tenter__notes_add(intake *all, tenter_error *error);

/* The number of the file's line at which a chunk's rows are counted from. */
void tenter__line_bases(const input *in, uint32_t *bases);

#endif
