/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Running another program: no shell, a time limit, its input and output in memory. */
#ifndef TENTER_BASE_CHILD_H
#define TENTER_BASE_CHILD_H

#include <stddef.h>

#include "tenter/base/arena.h"
#include "tenter/base/buffer.h"
#include "tenter/base/status.h"
#include "tenter/base/text.h"

/* Runs argv[0] (looked up in PATH; argv ends with NULL) with input on its standard input, adds what
 * it prints to *output, and waits. Its standard error is kept for the message (first 500 bytes).
 * LC_ALL is set to C for it. TENTER_FAILED when it can't be started (message says so and names it),
 * exits with another code than 0, dies, prints more than limit bytes or takes longer than seconds
 * (it is killed, and what it started too). What it printed until then may stand in *output. Input
 * that it does not read is no failure. Its three streams are sockets: it can't open them by
 * name (/dev/stdout). */
tenter_status tenter_child_run(const char *const argv[], tenter_text input, double seconds,
                               size_t limit, tenter_buffer *output, tenter_error *error);

/* Where the helper program name lies: in the folder of the running program, else in
 * ../libexec/tenter from there. A path in the arena; "" where it is in neither or may not be run,
 * NULL when memory runs out. */
const char *tenter_child_find(const char *name, tenter_arena *arena);

#endif
