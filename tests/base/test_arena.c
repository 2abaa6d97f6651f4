/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Arenas: pieces that are zeroed, aligned and apart; adopting; freeing (watched by ASan). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include <stdalign.h>

#include "tenter/base/arena.h"

/* Pieces of all sizes, from within blocks and in blocks of their own. */
static void pieces_are_zeroed_aligned_and_apart(void **state) {
  (void)state;
  tenter_arena *arena = tenter_arena_new();
  unsigned char *pieces[400];
  for (size_t i = 0; i < 400; i++) {
    pieces[i] = tenter_arena_alloc(arena, i * i / 7 + 1, 1);
    assert_non_null(pieces[i]);
    assert_int_equal((uintptr_t)pieces[i] % alignof(max_align_t), 0);
    for (size_t k = 0; k < i * i / 7 + 1; k++)
      assert_int_equal(pieces[i][k], 0);
    memset(pieces[i], (int)(i % 251) + 1, i * i / 7 + 1);
  }
  for (size_t i = 0; i < 400; i++)
    for (size_t k = 0; k < i * i / 7 + 1; k++)
      assert_int_equal(pieces[i][k], i % 251 + 1);
  tenter_arena_free(arena);
}

static void sizes_at_the_edges(void **state) {
  (void)state;
  tenter_arena *arena = tenter_arena_new();
  size_t empty = tenter_arena_size(arena);
  assert_true(empty > 0);
  assert_non_null(tenter_arena_alloc(arena, 0, 8));
  assert_null(tenter_arena_alloc(arena, SIZE_MAX / 4 + 2, 4));
  assert_null(tenter_arena_alloc(arena, SIZE_MAX, 1));
  assert_null(tenter_arena_alloc(arena, SIZE_MAX - 20, 1));
  assert_true(tenter_arena_size(arena) > empty);
  assert_true(tenter_arena_size(arena) < 16384); /* what was refused is not counted */
  tenter_arena_free(arena);
  tenter_arena_free(NULL);
}

/* Many small pieces must not cost a heap block each, nor much more than their bytes. */
static void small_pieces_are_packed(void **state) {
  (void)state;
  tenter_arena *arena = tenter_arena_new();
  for (size_t i = 0; i < 100000; i++)
    assert_non_null(tenter_arena_alloc(arena, 1, 16));
  assert_true(tenter_arena_size(arena) < 1600000 + 1048576 + 16384); /* one block half empty */
  tenter_arena_free(arena);
}

/* A refusal is remembered, and handed on by adopting. */
static void refusals_stick(void **state) {
  (void)state;
  const size_t counts[] = {SIZE_MAX / 4 + 2, SIZE_MAX};
  for (size_t i = 0; i < 2; i++) {
    tenter_arena *parent = tenter_arena_new(), *child = tenter_arena_new();
    assert_non_null(tenter_arena_alloc(child, 100, 1));
    assert_false(tenter_arena_failed(child));
    assert_null(tenter_arena_alloc(child, counts[i], 4));
    assert_non_null(tenter_arena_alloc(child, 100, 1));
    assert_true(tenter_arena_failed(child));
    assert_false(tenter_arena_failed(parent));
    tenter_arena_adopt(parent, child);
    assert_true(tenter_arena_failed(parent));
    tenter_arena_free(parent);
  }
}

static void strings(void **state) {
  (void)state;
  tenter_arena *arena = tenter_arena_new();
  char bytes[] = {'a', 'b', '\0', 'c', 'd'};
  char *copy = tenter_arena_copy(arena, (tenter_text){bytes, 5});
  assert_memory_equal(copy, "ab\0cd", 6);
  assert_string_equal(tenter_arena_copy(arena, (tenter_text){NULL, 0}), "");
  assert_string_equal(tenter_arena_print(arena, "%s-%03d", "S", 7), "S-007");
  char *longer = tenter_arena_print(arena, "%5000d", 1);
  assert_int_equal(strlen(longer), 5000);
  tenter_arena_free(arena);
}

/* Every pairing of empty, small, and large arenas; the texts must outlive the child. */
static void adopting_keeps_both(void **state) {
  (void)state;
  const size_t sizes[] = {0, 10, 5000, 300000};
  for (size_t i = 0; i < 16; i++) {
    tenter_arena *parent = tenter_arena_new(), *child = tenter_arena_new();
    size_t own = sizes[i / 4], others = sizes[i % 4];
    char *a = own == 0 ? NULL : tenter_arena_alloc(parent, own, 1);
    char *b = others == 0 ? NULL : tenter_arena_alloc(child, others, 1);
    if (a != NULL)
      a[own - 1] = 'a';
    if (b != NULL)
      b[others - 1] = 'b';
    size_t sum = tenter_arena_size(parent) + tenter_arena_size(child);
    tenter_arena_adopt(parent, child);
    assert_true(tenter_arena_size(parent) < sum);
    assert_true(tenter_arena_size(parent) >= own + others);
    char *c = tenter_arena_alloc(parent, 40, 1);
    memset(c, 'c', 40);
    assert_true(a == NULL || a[own - 1] == 'a');
    assert_true(b == NULL || b[others - 1] == 'b');
    tenter_arena_free(parent);
  }
}

/* A chain that loses a block is a leak. */
static void adopting_again_and_again(void **state) {
  (void)state;
  tenter_arena *parent = tenter_arena_new();
  tenter_arena_alloc(parent, 10, 1);
  tenter_arena_alloc(parent, 9000, 1); /* apart, and the last of the chain */
  for (size_t i = 0; i < 4; i++) {
    tenter_arena *child = tenter_arena_new();
    for (size_t k = 0; k < 50; k++)
      tenter_arena_alloc(child, k, 50);
    tenter_arena_adopt(parent, child);
    tenter_arena_alloc(parent, 5000, 1);
  }
  tenter_arena_free(parent);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(pieces_are_zeroed_aligned_and_apart),
      cmocka_unit_test(sizes_at_the_edges),
      cmocka_unit_test(small_pieces_are_packed),
      cmocka_unit_test(refusals_stick),
      cmocka_unit_test(strings),
      cmocka_unit_test(adopting_keeps_both),
      cmocka_unit_test(adopting_again_and_again),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
