/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Writing a set of files into a folder: all of them appear whole or none does.
 * Each is written beside its place under a temporary name; commit renames them in
 * the order in which they were begun, so begin the one that vouches for the set last.
 * A failure sticks: what is called afterwards fails, and nothing is committed. A run that is killed
 * can leave temporary files, named .tenter-*.tmp. */
#ifndef TENTER_BASE_OUTPUT_H
#define TENTER_BASE_OUTPUT_H

#include <stddef.h>

#include "tenter/base/buffer.h"
#include "tenter/base/status.h"

typedef struct tenter_output tenter_output;

/* Opens folder for writing, making it (and its parents) where missing. The folder itself may be
 * reached through a link, since the caller named it. */
tenter_status tenter_output_open(const char *folder, tenter_output **output, tenter_error *error);

/* Starts the file name (no slash in it) of the set. A name that is a link, a folder or a device in
 * the folder now is refused. Only one file is open at a time; beginning the next closes it. */
tenter_status tenter_output_begin(tenter_output *output, const char *name, tenter_error *error);
tenter_status tenter_output_write(tenter_output *output, const void *bytes, size_t length,
                                  tenter_error *error);

/* begin, write all of content, in one. Fails also when content->failed. */
tenter_status tenter_output_put(tenter_output *output, const char *name,
                                const tenter_buffer *content, tenter_error *error);

/* Flushes and renames all; on failure what was not renamed is removed. Once only. */
tenter_status tenter_output_commit(tenter_output *output, tenter_error *error);

/* Removes what was not committed and frees; NULL is nothing. */
void tenter_output_free(tenter_output *output);

#endif
