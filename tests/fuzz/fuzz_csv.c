/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A whole file of any bytes. Properties: nothing crashes; rows = accepted + rejected + blank +
 * repeated; the size of chunks changes nothing (the first byte chooses it). */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "../../src/intake/load.h"
#include "tenter/intake/load.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length);

static void fail(const char *what) {
  fputs(what, stderr);
  abort();
}

static void check_account(const tenter_tables *t) {
  for (size_t i = 0; i < t->source_count; i++) {
    const tenter_source *s = &t->sources[i];
    if (s->rows != s->accepted + s->rejected + s->blank + s->repeated)
      fail("the account of rows does not add up\n");
  }
}

static tenter_tables *load(const char *path, size_t chunk_size, tenter_status *status,
                           tenter_error *error) {
  tenter_config config = {.file = "", .settings = tenter_settings_default()};
  tenter_tables *t = tenter_tables_new();
  *status = tenter__intake_load(&path, 1, &config, t, NULL, chunk_size, error);
  if (*status == TENTER_OK)
    *status = tenter_tables_settle(t, &config.settings, NULL, error);
  if (*status == TENTER_OK)
    check_account(t);
  return t;
}

static void check_same(const tenter_tables *a, const tenter_tables *b) {
  if (a->readings.count != b->readings.count || a->problem_count != b->problem_count ||
      a->register_count != b->register_count || a->event_count != b->event_count ||
      a->check_count != b->check_count || strcmp(a->sources[0].sha256, b->sources[0].sha256) != 0)
    fail("chunks change the counts\n");
  for (int kind = 0; kind < TENTER_NAME_KINDS; kind++)
    if (tenter_names_count(a->names[kind]) != tenter_names_count(b->names[kind]))
      fail("chunks change the names\n");
  for (size_t i = 0; i < a->readings.count; i++)
    if (a->readings.line[i] != b->readings.line[i] ||
        a->readings.screen[i] != b->readings.screen[i] ||
        a->readings.taken[i] != b->readings.taken[i] ||
        memcmp(&a->readings.tension[i], &b->readings.tension[i], sizeof(double)) != 0)
      fail("chunks change the readings\n");
  for (size_t i = 0; i < a->problem_count; i++)
    if (a->problems[i].row.line != b->problems[i].row.line ||
        strcmp(a->problems[i].reason, b->problems[i].reason) != 0 ||
        strcmp(a->problems[i].text, b->problems[i].text) != 0)
      fail("chunks change the problems\n");
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length) {
  static char path[64];
  snprintf(path, sizeof path, "/dev/shm/tenter-fuzz-%d.csv", (int)getpid());
  FILE *file = fopen(path, "wb");
  if (!file || length < 1)
    return file ? fclose(file) : 0;
  size_t chunk_size = 2 * (1 + (size_t)bytes[0]);
  fwrite(bytes + 1, 1, length - 1, file);
  fclose(file);
  tenter_status first, second;
  tenter_error one = {TENTER_OK, ""}, two = {TENTER_OK, ""};
  tenter_tables *a = load(path, CHUNK_SIZE, &first, &one);
  tenter_tables *b = load(path, chunk_size, &second, &two);
  if (first != second || strcmp(one.message, two.message) != 0)
    fail("chunks change the outcome\n");
  if (first == TENTER_OK)
    check_same(a, b);
  tenter_tables_free(a);
  tenter_tables_free(b);
  unlink(path);
  return 0;
}
