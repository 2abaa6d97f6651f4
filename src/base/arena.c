/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A chain of zeroed blocks; the first of the chain is the one being filled. Blocks double from 4
 * KiB to 1 MiB, so that a small arena is small and a large one seldom asks the heap. A piece that
 * would waste most of a block gets a block of its own, put behind the first. */
#include "tenter/base/arena.h"

#include <stdalign.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "tenter/base/alloc.h"

enum { SMALLEST = 4096, LARGEST = 1 << 20, ALIGNMENT = alignof(max_align_t) };

typedef struct block {
  struct block *next;
  alignas(max_align_t) char bytes[];
} block;

struct tenter_arena {
  block *first, *last; /* last: so that adopting takes no walk */
  char *free;          /* what is left of first */
  size_t left;
  size_t step; /* bytes of the next ordinary block */
  size_t size; /* bytes taken from the heap, this struct included */
  bool failed;
};

tenter_arena *tenter_arena_new(void) {
  tenter_arena *arena = tenter_alloc(1, sizeof *arena);
  if (arena == NULL)
    return NULL;
  arena->step = SMALLEST;
  arena->size = sizeof *arena;
  return arena;
}

static block *block_new(tenter_arena *arena, size_t bytes) {
  block *made = bytes > SIZE_MAX - sizeof(block) ? NULL : tenter_alloc(1, sizeof(block) + bytes);
  if (made != NULL)
    arena->size += sizeof(block) + bytes;
  else
    arena->failed = true;
  return made;
}

/* A block for one large piece, behind the first, so that the first goes on being filled. */
static void *alloc_apart(tenter_arena *arena, size_t bytes) {
  block *made = block_new(arena, bytes);
  if (made == NULL)
    return NULL;
  if (arena->first == NULL) {
    arena->first = arena->last = made;
    return made->bytes; /* left is 0: the next small piece opens a block */
  }
  made->next = arena->first->next;
  arena->first->next = made;
  if (arena->last == arena->first)
    arena->last = made;
  return made->bytes;
}

static bool open_block(tenter_arena *arena) {
  size_t bytes = arena->step - sizeof(block);
  block *made = block_new(arena, bytes);
  if (made == NULL)
    return false;
  made->next = arena->first;
  arena->first = made;
  if (arena->last == NULL)
    arena->last = made;
  arena->free = made->bytes;
  arena->left = bytes;
  if (arena->step < LARGEST)
    arena->step *= 2;
  return true;
}

void *tenter_arena_alloc(tenter_arena *arena, size_t count, size_t size) {
  if (size != 0 && count > (SIZE_MAX - ALIGNMENT) / size) {
    arena->failed = true;
    return NULL;
  }
  size_t bytes = count * size;
  bytes = bytes == 0 ? ALIGNMENT : (bytes + ALIGNMENT - 1) / ALIGNMENT * ALIGNMENT;
  if (bytes > arena->left) {
    if (bytes > arena->step / 4)
      return alloc_apart(arena, bytes);
    if (!open_block(arena))
      return NULL;
  }
  void *piece = arena->free;
  arena->free += bytes;
  arena->left -= bytes;
  return piece;
}

char *tenter_arena_copy(tenter_arena *arena, tenter_text text) {
  if (text.length == SIZE_MAX)
    return NULL;
  char *copy = tenter_arena_alloc(arena, text.length + 1, 1);
  if (copy != NULL && text.length > 0)
    memcpy(copy, text.start, text.length);
  return copy;
}

char *tenter_arena_print(tenter_arena *arena, const char *format, ...) {
  va_list arguments, again;
  va_start(arguments, format);
  va_copy(again, arguments);
  int length = vsnprintf(NULL, 0, format, arguments);
  va_end(arguments);
  char *string = length < 0 ? NULL : tenter_arena_alloc(arena, (size_t)length + 1, 1);
  if (string != NULL)
    vsnprintf(string, (size_t)length + 1, format, again);
  va_end(again);
  return string;
}

void tenter_arena_adopt(tenter_arena *parent, tenter_arena *child) {
  if (child->first != NULL && parent->first != NULL) {
    parent->last->next = child->first;
    parent->last = child->last;
  } else if (child->first != NULL) {
    parent->first = child->first;
    parent->last = child->last;
    parent->free = child->free;
    parent->left = child->left;
  }
  parent->size += child->size - sizeof *child;
  parent->failed |= child->failed;
  tenter_free(child);
}

bool tenter_arena_failed(const tenter_arena *arena) {
  return arena->failed;
}

size_t tenter_arena_size(const tenter_arena *arena) {
  return arena->size;
}

void tenter_arena_free(tenter_arena *arena) {
  if (arena == NULL)
    return;
  block *next;
  for (block *each = arena->first; each != NULL; each = next) {
    next = each->next;
    tenter_free(each);
  }
  tenter_free(arena);
}
