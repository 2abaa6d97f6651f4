/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Loading with the k-th allocation or read failing: TENTER_FAILED and nothing leaked, or the load
 * as it should be. The files hold every table and every kind of column. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "../../src/intake/load.h"
#include "doors.h"
#include "folder.h"
#include "tenter/intake/config.h"
#include "tenter/intake/load.h"

static void write_shop(void) {
  test_fresh_folder("shop");
  test_write_file("shop/tenter.ini", "[intake]\nlayout = NW, C\n[mesh 120-34]\ntarget = 22\n"
                                     "[meter M1]\nresolution = 0.1\n[columns]\nnote = ^memo$\n");
  test_write_file("shop/long.csv",
                  "screen,taken,position,direction,tension (Nm),meter,operator,trial,memo,lot,"
                  "target,Humidity\n"
                  "S1,03/02/2026 08:00,1,warp,22.5,M1,jo,1,\"a \"\"b\"\"\",L1,22,50\n"
                  "S1,25/02/2026 08:00,by the door,weft,22.5,M1,jo,first,,L1,high,50\n"
                  "S2,25/02/2026 08:00,C,weft,broken,M1,jo,1,,L1,22,50\n");
  test_write_file("shop/wide.csv", "Screen,Screen No.,Taken,C warp,NW weft\n"
                                   "S1,1,2026-03-02,22.5,n/a\nS\xF6,2,2026-03-03,22.5,22.4\n");
  test_write_file("shop/register.csv",
                  "screen;mesh;stretched;width_cm\nS1;120-34;2026-01-01;60,5\n");
  test_write_file("shop/events.csv", "screen,at,event,count\nS1,2026-02-01,washed,\n");
  test_write_file("shop/checks.csv", "meter,at,nominal,indicated\nM1,2026-02-01,20,20.1\n");
}

static tenter_status load_shop(void *context) {
  const char *words[] = {"shop"};
  tenter_config config;
  tenter_error error;
  const size_t *chunk_size = context;
  tenter_arena *arena = tenter_arena_new();
  tenter_tables *tables = tenter_tables_new();
  tenter_status status = arena && tables ? TENTER_OK : TENTER_FAILED;
  if (status == TENTER_OK)
    status = tenter_config_read(NULL, words, 1, arena, &config, &error);
  if (status == TENTER_OK)
    status = tenter__intake_load(words, 1, &config, tables, NULL, *chunk_size, &error);
  if (status == TENTER_OK) { /* as it should be */
    assert_int_equal(tables->readings.count, 5);
    assert_int_equal(tables->source_count, 5);
    assert_int_equal(tables->problem_count, 8);
  }
  tenter_tables_free(tables);
  tenter_arena_free(arena);
  return status;
}

static void test_memory(void **state) {
  (void)state;
  write_shop();
  size_t whole = CHUNK_SIZE, small = 64;
  assert_true(fault_sweep(FAULT_MEMORY, false, load_shop, &whole) > 100);
  assert_true(fault_sweep(FAULT_MEMORY, false, load_shop, &small) > 100);
}

static void test_reads(void **state) {
  (void)state;
  write_shop();
  size_t whole = CHUNK_SIZE, small = 64;
  assert_true(fault_sweep(FAULT_READ, false, load_shop, &whole) > 5);
  assert_true(fault_sweep(FAULT_READ, false, load_shop, &small) > 5);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_memory), cmocka_unit_test(test_reads)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
