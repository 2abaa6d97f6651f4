/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The lowest layer with the k-th allocation, read, write, open, thread or child failing: a clean
 * status and a message, no leak (watched by ASan), no partial file, and what was there stays. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include <stdatomic.h>
#include <unistd.h>

#include "doors.h"
#include "folder.h"
#include "tenter/base/arena.h"
#include "tenter/base/buffer.h"
#include "tenter/base/child.h"
#include "tenter/base/file.h"
#include "tenter/base/names.h"
#include "tenter/base/output.h"
#include "tenter/base/pool.h"

enum { NAMES = 300 };

static const char digits[] =
    "0123456789012345678901234567890123456789012345678901234567890123456789";

/* Looks at a folder without meeting the fault. */
static size_t count_entries(const char *path) {
  fault_hold(true);
  size_t count = test_count_entries(path);
  fault_hold(false);
  return count;
}

/* Small and large pieces into two arenas, of which one adopts the other. */
static tenter_status fill_arena(tenter_arena *arena) {
  for (size_t i = 0; i < 40; i++)
    if (tenter_arena_alloc(arena, i, 100) == NULL ||
        tenter_arena_copy(arena, tenter_text_of("copy")) == NULL ||
        tenter_arena_print(arena, "%zu", i) == NULL)
      return TENTER_FAILED;
  return TENTER_OK;
}

static tenter_status use_arena(void *context) {
  (void)context;
  tenter_arena *parent = tenter_arena_new(), *child = tenter_arena_new();
  tenter_status status = TENTER_FAILED;
  if (parent != NULL && child != NULL) {
    status = fill_arena(child);
    tenter_arena_adopt(parent, child);
    child = NULL;
    if (status == TENTER_OK)
      status = fill_arena(parent);
  }
  tenter_arena_free(parent);
  tenter_arena_free(child);
  return status;
}

static void arenas(void **state) {
  (void)state;
  assert_true(fault_sweep(FAULT_MEMORY, false, use_arena, NULL) > 6);
}

/* A name that could not be added leaves the table as it was, and can be added later. */
static void check_names(const tenter_names *names, uint32_t count) {
  assert_int_equal(tenter_names_count(names), count);
  for (uint32_t id = 0; id < count; id++)
    assert_int_equal(tenter_names_find(names, tenter_names_text(names, id)), id);
}

static tenter_status use_names(void *context) {
  (void)context;
  tenter_names *names = tenter_names_new();
  if (names == NULL)
    return TENTER_FAILED;
  tenter_status status = TENTER_OK;
  for (uint32_t i = 0; i < NAMES && status == TENTER_OK; i++) {
    char text[32];
    snprintf(text, sizeof text, "screen-%u", (unsigned)i);
    if (tenter_names_add(names, tenter_text_of(text)) == TENTER_NO_NAME) {
      status = TENTER_FAILED;
      check_names(names, i);
      assert_int_equal(tenter_names_find(names, tenter_text_of(text)), TENTER_NO_NAME);
    }
  }
  uint32_t to[NAMES];
  if (status == TENTER_OK && !tenter_names_sort(names, to)) {
    status = TENTER_FAILED;
    assert_string_equal(tenter_names_get(names, 10), "screen-10");
    check_names(names, NAMES);
  }
  tenter_names_free(names);
  return status;
}

static void name_tables(void **state) {
  (void)state;
  assert_true(fault_sweep(FAULT_MEMORY, false, use_names, NULL) > 10);
}

static tenter_status use_buffer(void *context) {
  (void)context;
  tenter_buffer buffer = {0};
  for (int i = 0; i < 500; i++) {
    tenter_buffer_text(&buffer, "tension ");
    tenter_buffer_number(&buffer, i / 8.0, 3);
    tenter_buffer_print(&buffer, " %d\n", i);
  }
  bool whole = tenter_buffer_string(&buffer) != NULL;
  assert_true(whole == !buffer.failed);
  tenter_buffer_release(&buffer);
  return whole ? TENTER_OK : TENTER_FAILED;
}

static void buffers(void **state) {
  (void)state;
  assert_true(fault_sweep(FAULT_MEMORY, false, use_buffer, NULL) > 4);
}

/* Three files over old ones, the last of which vouches for the set. Where it is new, all are. */
static const char *const outputs[] = {"out/a", "out/b", "out/c"};

static tenter_status write_set(tenter_error *error) {
  tenter_output *output = NULL;
  tenter_status status = tenter_output_open("out", &output, error);
  for (size_t i = 0; i < 3 && status == TENTER_OK; i++) {
    status = tenter_output_begin(output, outputs[i] + 4, error);
    for (int piece = 0; piece < 3 && status == TENTER_OK; piece++)
      status = tenter_output_write(output, "new ", 4, error);
  }
  if (status == TENTER_OK)
    status = tenter_output_commit(output, error);
  tenter_output_free(output);
  return status;
}

static bool holds(const char *path, const char *string) {
  char text[64] = "";
  FILE *file = fopen(path, "r");
  assert_non_null(file);
  size_t got = fread(text, 1, sizeof text - 1, file);
  fclose(file);
  return got == strlen(string) && memcmp(text, string, got) == 0;
}

static tenter_status use_output(void *context) {
  bool *renamed = context; /* whether some run left new files beside old ones */
  for (size_t i = 0; i < 3; i++)
    test_write_file(outputs[i], "old");
  size_t open_before = count_entries("/dev/fd");
  tenter_error error = {TENTER_OK, ""};
  tenter_status status = write_set(&error);
  assert_int_equal(count_entries("/dev/fd"), open_before);
  assert_int_equal(count_entries("out"), 3);
  bool fresh[3];
  for (size_t i = 0; i < 3; i++) {
    fresh[i] = holds(outputs[i], "new new new ");
    assert_true(fresh[i] || holds(outputs[i], "old"));
  }
  assert_true(fresh[2] == (status == TENTER_OK));
  assert_true(!fresh[2] || (fresh[0] && fresh[1]));
  assert_true((error.message[0] != '\0') == (status != TENTER_OK));
  *renamed = *renamed || (fresh[0] && !fresh[2]);
  return status;
}

/* Its own test data must not meet the fault, hence fopen and friends in the helpers: they write
 * inside the C library. */
static void outputs_whole_or_not(void **state) {
  (void)state;
  test_fresh_folder("out");
  bool renamed = false;
  assert_true(fault_sweep(FAULT_MEMORY, false, use_output, &renamed) > 4);
  assert_true(fault_sweep(FAULT_WRITE, false, use_output, &renamed) == 12); /* 3 x (3 + flush) */
  assert_false(renamed);
  assert_true(fault_sweep(FAULT_PLACE, true, use_output, &renamed) > 10);
  assert_true(renamed); /* a rename that fails in the middle */
  fault_arm_short();
  for (int round = 0; round < 10; round++)
    assert_int_equal(use_output(&renamed), TENTER_OK);
  fault_disarm();
}

static tenter_status use_file(void *context) {
  const char *path = context;
  size_t open_before = count_entries("/dev/fd");
  tenter_buffer buffer = {0};
  tenter_error error = {TENTER_OK, ""};
  tenter_status status = tenter_file_slurp(path, 100, &buffer, &error);
  assert_true((error.message[0] != '\0') == (status != TENTER_OK));
  assert_int_equal(buffer.length, status == TENTER_OK ? strlen(digits) : 0);
  if (status == TENTER_OK)
    assert_memory_equal(buffer.bytes, digits, strlen(digits));
  tenter_buffer_release(&buffer);
  assert_int_equal(count_entries("/dev/fd"), open_before);
  /* What can't be opened is the input's fault; here both count as the failure that is wanted. */
  return status == TENTER_INPUT ? TENTER_FAILED : status;
}

/* Standard input through a pipe: spooled anew each time. */
static tenter_status use_spool(void *context) {
  (void)context;
  int ends[2], kept = dup(STDIN_FILENO);
  assert_int_equal(pipe(ends), 0);
  FILE *writer = fdopen(ends[1], "w");
  fputs(digits, writer);
  fclose(writer);
  dup2(ends[0], STDIN_FILENO);
  close(ends[0]);
  char standard[] = "-";
  tenter_status status = use_file(standard);
  dup2(kept, STDIN_FILENO);
  close(kept);
  return status;
}

static void files(void **state) {
  (void)state;
  test_write_file("digits", digits);
  char path[] = "digits";
  assert_int_equal(fault_sweep(FAULT_MEMORY, false, use_file, path), 3);
  assert_int_equal(fault_sweep(FAULT_READ, false, use_file, path), 1);
  assert_int_equal(fault_sweep(FAULT_PLACE, false, use_file, path), 3);
  fault_arm_short();
  for (int round = 0; round < 10; round++)
    assert_int_equal(use_file(path), TENTER_OK);
  fault_disarm();
}

static void standard_input(void **state) {
  (void)state;
  assert_true(fault_sweep(FAULT_MEMORY, false, use_spool, NULL) >= 4);
  assert_int_equal(fault_sweep(FAULT_READ, false, use_spool, NULL), 3);
  assert_int_equal(fault_sweep(FAULT_WRITE, false, use_spool, NULL), 1);
  fault_arm_short();
  for (int round = 0; round < 10; round++)
    assert_int_equal(use_spool(NULL), TENTER_OK);
  fault_disarm();
}

static tenter_status use_folder(void *context) {
  (void)context;
  tenter_arena *arena = tenter_arena_new();
  if (arena == NULL)
    return TENTER_FAILED;
  char **paths = NULL;
  size_t count = 0;
  tenter_status status = tenter_folder_list("many", arena, &paths, &count, NULL);
  assert_true(status != TENTER_OK || count == 130);
  tenter_arena_free(arena);
  return status == TENTER_INPUT ? TENTER_FAILED : status;
}

static void folders(void **state) {
  (void)state;
  test_fresh_folder("many");
  for (int i = 0; i < 130; i++) {
    char path[32];
    snprintf(path, sizeof path, "many/%d", i);
    test_write_file(path, "");
  }
  assert_true(fault_sweep(FAULT_MEMORY, false, use_folder, NULL) >= 5);
  assert_int_equal(fault_sweep(FAULT_PLACE, false, use_folder, NULL), 1);
}

static void count_task(void *context, size_t task, size_t worker) {
  (void)task;
  (void)worker;
  atomic_fetch_add((atomic_size_t *)context, 1);
}

static tenter_status use_pool(void *context) {
  size_t *fewest = context;
  tenter_pool *pool = tenter_pool_new(4);
  if (pool == NULL)
    return TENTER_FAILED;
  if (tenter_pool_threads(pool) < *fewest)
    *fewest = tenter_pool_threads(pool);
  atomic_size_t done = 0;
  tenter_pool_run(pool, 100, count_task, &done);
  assert_int_equal(atomic_load(&done), 100);
  tenter_pool_free(pool);
  return TENTER_OK;
}

static void pools(void **state) {
  (void)state;
  size_t fewest = 4;
  assert_int_equal(fault_sweep(FAULT_MEMORY, false, use_pool, &fewest), 2);
  assert_int_equal(fewest, 4);
  /* One that can't be started is done without. */
  assert_int_equal(fault_sweep(FAULT_THREAD, true, use_pool, &fewest), 3);
  assert_int_equal(fewest, 1);
}

static tenter_status use_child(void *context) {
  (void)context;
  const char *const argv[] = {"cat", NULL};
  size_t open_before = count_entries("/dev/fd");
  tenter_buffer output = {0};
  tenter_error error = {TENTER_OK, ""};
  tenter_status status =
      tenter_child_run(argv, tenter_text_of("0123456789"), 60, 100, &output, &error);
  assert_true((error.message[0] != '\0') == (status != TENTER_OK));
  assert_true(status != TENTER_OK || output.length == 10);
  tenter_buffer_release(&output);
  assert_int_equal(count_entries("/dev/fd"), open_before);
  return status;
}

static void children(void **state) {
  (void)state;
  assert_true(fault_sweep(FAULT_MEMORY, false, use_child, NULL) >= 2);
  assert_int_equal(fault_sweep(FAULT_CHILD, false, use_child, NULL), 4);
}

static void faults_by_text(void **state) {
  (void)state;
  const char *const wrong[] = {"",
                               "memory",
                               "memory 1",
                               "memory x once",
                               "memory 1 twice",
                               "door 1 once",
                               "memory 1 once more"};
  for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++)
    assert_false(fault_arm_text(wrong[i]));
  assert_true(fault_arm_text("memory 2 good"));
  tenter_buffer buffer = {0};
  tenter_buffer_byte(&buffer, 'a');
  assert_null(tenter_buffer_room(&buffer, 1000));
  assert_int_equal(fault_disarm(), 2);
  tenter_buffer_release(&buffer);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(arenas),   cmocka_unit_test(name_tables),
      cmocka_unit_test(buffers),  cmocka_unit_test(outputs_whole_or_not),
      cmocka_unit_test(files),    cmocka_unit_test(standard_input),
      cmocka_unit_test(folders),  cmocka_unit_test(pools),
      cmocka_unit_test(children), cmocka_unit_test(faults_by_text),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
