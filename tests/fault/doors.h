/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Doors that can be slammed: the linker sends every call of ours to the functions below through
 * this library (-Wl,--wrap), which lets the k-th one fail, once or for good. What libraries do
 * inside themselves does not pass here. Safe with threads. */
#ifndef TEST_FAULT_DOORS_H
#define TEST_FAULT_DOORS_H

#include <stdbool.h>

#include "tenter/base/status.h"

typedef enum fault_door {
  FAULT_MEMORY, /* tenter_alloc, tenter_resize */
  FAULT_READ,   /* read, pread: input or output error */
  FAULT_WRITE,  /* write, fdatasync: disk full */
  FAULT_PLACE,  /* open, openat, mkdir, renameat, fstat, fstatat, stat, opendir: no permission */
  FAULT_THREAD, /* pthread_create: too many */
  FAULT_CHILD,  /* posix_spawnp, socketpair: too many */
  FAULT_DOORS   /* how many */
} fault_door;

/* Lets the k-th call from now (k from 1) through door fail, and where for_good all after it. Counts
 * only where k is 0. */
void fault_arm(fault_door door, unsigned long k, bool for_good);

/* Lets reads and writes be interrupted, or do but a part of what is asked (one byte, or half):
 * nothing that a caller may fail at. */
void fault_arm_short(void);

/* All doors open again. Returns how many calls went through the armed door since it was armed. */
unsigned long fault_disarm(void);

/* Lets the calls of a test itself pass uncounted, in the middle of what it tests. */
void fault_hold(bool hold);

/* Arms by a text "memory 17 once", "write 3 good", "read 0 once", "short"; false when it is none.
 */
bool fault_arm_text(const char *text);

/* Runs body with the first call through door failing, then the second, and so on until it gets
 * through without meeting the fault, each time once and for good. Fails the running cmocka test
 * where body does not return TENTER_FAILED for a fault it met (a fault that strikes once may be
 * made up for where forgiving), or not TENTER_OK without one. Returns how many calls there are. */
unsigned long fault_sweep(fault_door door, bool forgiving, tenter_status (*body)(void *context),
                          void *context);

#endif
