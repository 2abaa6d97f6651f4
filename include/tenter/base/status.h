/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How a function says that it failed. Every function that can fail returns a
 * tenter_status; its last parameter is the caller's tenter_error, filled on
 * failure and untouched on success (it may be NULL). The values are the exit
 * codes of the program. */
#ifndef TENTER_BASE_STATUS_H
#define TENTER_BASE_STATUS_H

typedef enum tenter_status {
  TENTER_OK = 0,     /* done */
  TENTER_FAILED = 1, /* failed on the way: disk full, out of memory, a child died, no convergence */
  TENTER_USAGE = 2,  /* the command line or the config is wrong */
  TENTER_INPUT = 3   /* the input can't be used */
} tenter_status;

enum { TENTER_MESSAGE_SIZE = 1024 };

typedef struct tenter_error {
  tenter_status status;
  char message[TENTER_MESSAGE_SIZE]; /* one or more sentences: where, what was found, what to do */
} tenter_error;

/* Fills *error (when not NULL) and returns status, so that a caller can write
 * `return tenter_fail(error, TENTER_INPUT, "...")`. A message that is too long
 * is cut at a UTF-8 boundary. Control characters of the arguments are shown as
 * '?', so that text from data can't drive a terminal; newlines of the message stay. */
tenter_status tenter_fail(tenter_error *error, tenter_status status, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* The one message for memory that ran out; returns TENTER_FAILED (here, so that analysers see it).
 */
static inline tenter_status tenter_fail_memory(tenter_error *error) {
  tenter_fail(error, TENTER_FAILED, "out of memory");
  return TENTER_FAILED;
}

#endif
