/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Documents as bytes. Properties: nothing crashes, no length is believed, and what is taken for a
 * document is written again as the same bytes. Start from a document: tests/fuzz/fuzz_wire finds
 * the magic by itself within seconds with -use_value_profile=1. */
#include <stdlib.h>
#include <string.h>

#include "tenter/report/wire.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length) {
  tenter_document *document = NULL;
  tenter_buffer again = {0};
  tenter_error error;
  if (tenter_wire_read((tenter_text){(const char *)bytes, length}, &document, &error) != TENTER_OK)
    return 0;
  if (tenter_wire_write(document, &again, &error) != TENTER_OK || again.length != length ||
      memcmp(again.bytes, bytes, length) != 0)
    abort();
  tenter_buffer_release(&again);
  tenter_document_free(document);
  return 0;
}
