/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Logos: nothing is read behind their end, nothing crashes. */
#include "tenter/intake/house.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length) {
  tenter_error error;
  tenter_logo_check((tenter_text){(const char *)bytes, length}, &error);
  return 0;
}
