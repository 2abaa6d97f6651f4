/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reading files: the only door to them. Regular files and standard input only. */
#ifndef TENTER_BASE_FILE_H
#define TENTER_BASE_FILE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "tenter/base/arena.h"
#include "tenter/base/buffer.h"
#include "tenter/base/status.h"

typedef struct tenter_file tenter_file;

/* Opens a regular file for reading ("-" is standard input, spooled to an unnamed temporary
 * file in TMPDIR first unless it is a regular file at its start). A folder, pipe, device or socket
 * is refused (TENTER_INPUT) with a word on what it is; a missing one likewise. */
tenter_status tenter_file_open(const char *path, tenter_file **file, tenter_error *error);
void tenter_file_close(tenter_file *file);
const char *tenter_file_name(const tenter_file *file); /* as given; "standard input" for "-" */
uint64_t tenter_file_size(const tenter_file *file);    /* when it was opened */

/* True where both are the same file on disk (device and inode). */
bool tenter_file_same(const tenter_file *a, const tenter_file *b);

/* Reads up to length bytes at offset into bytes (pread; safe from several threads); *got is fewer
 * only at the end of the file as it was when opened. A file that shrank since it was opened is
 * TENTER_INPUT. */
tenter_status tenter_file_read(const tenter_file *file, uint64_t offset, void *bytes, size_t length,
                               size_t *got, tenter_error *error);

/* The whole of a file that holds at most limit bytes, added to buffer. */
tenter_status tenter_file_slurp(const char *path, size_t limit, tenter_buffer *buffer,
                                tenter_error *error);

typedef enum tenter_path_kind {
  TENTER_PATH_NOTHING, /* nothing of that name (or a link to nothing) */
  TENTER_PATH_FOLDER,
  TENTER_PATH_OTHER /* a file, or what can't be read as one */
} tenter_path_kind;

/* What path leads to, links followed. TENTER_INPUT where the system won't tell (no permission, a
 * ring of links): that is not the same as nothing. */
tenter_status tenter_path_look(const char *path, tenter_path_kind *kind, tenter_error *error);

/* True where both paths lead to the same file or folder on disk; false where one leads nowhere. */
bool tenter_path_same(const char *a, const char *b);

/* The names of the entries of a folder, sorted by bytes, without "." and "..", as full paths
 * folder/name in the arena. Not recursive. */
tenter_status tenter_folder_list(const char *path, tenter_arena *arena, char ***paths,
                                 size_t *count, tenter_error *error);

#endif
