/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Header rows of any text (cells divided by line feeds), alone and with a pattern of the config.
 * Properties: nothing crashes; a usable header has what its table needs, and no role twice. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../../src/intake/columns.h"
#include "tenter/base/alloc.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length);

static void check_layout(const layout *l) {
  int counts[ROLE_COUNT_ALL] = {0};
  for (size_t i = 0; i < l->count; i++)
    counts[l->columns[i].role]++;
  for (int role = 0; role < (int)ROLE_CELL; role++)
    if (counts[role] > 1)
      abort();
  bool screens = l->table != TENTER_TABLE_METER_CHECKS;
  if (screens ? !counts[ROLE_SCREEN] : !counts[ROLE_METER])
    abort();
  if (l->table == TENTER_TABLE_READINGS && !counts[ROLE_TENSION] && !counts[ROLE_CELL])
    abort();
}

static void try_header(const tenter_text *cells, size_t count, const tenter_config *config) {
  columns *patterns = NULL;
  tenter_error error;
  if (tenter__columns_new(config, &patterns, &error) != TENTER_OK)
    return;
  tenter_arena *arena = tenter_arena_new();
  number_layout numbers = {.count = 0};
  layout l;
  if (tenter__layout_of(patterns, cells, count, config, &numbers, arena, &l, &error) == TENTER_OK)
    check_layout(&l);
  tenter_arena_free(arena);
  tenter__columns_free(patterns);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length) {
  tenter_text cells[64];
  size_t count = 0;
  char *text = length > 0 ? tenter_alloc(length + 1, 1) : NULL;
  if (!text)
    return 0;
  memcpy(text, bytes, length);
  if (!tenter_text_is_utf8((tenter_text){text, length}) || memchr(text, '\0', length)) {
    tenter_free(text);
    return 0;
  }
  for (char *at = text, *end; count < 64; at = end + 1) {
    end = strchr(at, '\n');
    cells[count++] = (tenter_text){at, end ? (size_t)(end - at) : strlen(at)};
    if (!end)
      break;
  }
  tenter_config config = {.file = "", .settings = tenter_settings_default()};
  try_header(cells, count, &config);
  char *first = tenter_alloc(cells[0].length + 1, 1); /* the first cell as a pattern, too */
  if (first)
    memcpy(first, cells[0].start, cells[0].length);
  tenter_column_pattern pattern = {"tension", first};
  config.columns = &pattern;
  config.column_count = first ? 1 : 0;
  try_header(cells, count, &config);
  tenter_free(first);
  tenter_free(text);
  return 0;
}
