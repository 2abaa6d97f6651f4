/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every fault of a door in turn, for tests in one process. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "doors.h"

/* Returns false once body gets through without meeting the fault. */
static bool strike(fault_door door, unsigned long k, bool for_good, bool forgiving,
                   tenter_status (*body)(void *context), void *context) {
  fault_arm(door, k, for_good);
  tenter_status status = body(context);
  bool met = fault_disarm() >= k;
  bool forgiven = met && forgiving && status == TENTER_OK;
  if (status != (met ? TENTER_FAILED : TENTER_OK) && !forgiven)
    fail_msg("door %d, call %lu, %s: status %d", (int)door, k, for_good ? "for good" : "once",
             (int)status);
  return met;
}

unsigned long fault_sweep(fault_door door, bool forgiving, tenter_status (*body)(void *context),
                          void *context) {
  unsigned long k = 1;
  for (;; k++) {
    bool once = strike(door, k, false, forgiving, body, context);
    bool good = strike(door, k, true, forgiving, body, context);
    if (!once && !good)
      return k - 1;
  }
}
