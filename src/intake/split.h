/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rows into cells (RFC 4180, with the usual liberties). */
#ifndef TENTER_INTAKE_SPLIT_H
#define TENTER_INTAKE_SPLIT_H

#include <stdbool.h>
#include <stdint.h>
#include <string.h>

#include "tenter/base/text.h"

#ifdef __SSE2__
#include <emmintrin.h>
#endif

/* A row with quotation marks is at most this long (bytes); one that runs on was never closed. */
enum { MOST_ROW = 1 << 20, SCRATCH_SIZE = MOST_ROW + 64 };

/* Every buffer that is split has this many readable bytes behind its end. */
enum { SPLIT_PAD = 64 };

typedef enum split_end {
  SPLIT_ROW,
  SPLIT_UNFINISHED, /* the row runs on behind the end of the buffer */
  SPLIT_UNCLOSED    /* a quotation mark is never closed: the row is its first line alone */
} split_end;

typedef struct split {
  char delimiter, newline;
  tenter_text *cells; /* blanks are not taken off */
  size_t room;        /* cells beyond are counted, not kept */
  size_t count;
  bool more;        /* a cell beyond room is not blank */
  uint32_t lines;   /* line ends in the row */
  const char *next; /* the next row */
  char *scratch;    /* SCRATCH_SIZE bytes: cells with doubled quotation marks are written here */
} split;

/* Splits the row at `at`. A cell is quoted where it begins with '"' (blanks may stand before it);
 * in a quoted cell '""' is '"', delimiters and line ends are text; what stands between the closing
 * mark and the delimiter is added to the cell. '"' elsewhere is text. A carriage return before the
 * line end is none of the row. whole: nothing follows behind end. */
split_end tenter__split_row(split *s, const char *at, const char *end, bool whole);

/* Which of the 64 bytes at p are the delimiter, the line end or '"' (bit 0 is p[0]); *high gets
 * a bit set where one of them is not ASCII. The one place where vectors pay. */
static inline uint64_t tenter__marks(const char *p, char delimiter, char newline, unsigned *high) {
#ifdef __SSE2__
  const __m128i d = _mm_set1_epi8(delimiter), n = _mm_set1_epi8(newline), q = _mm_set1_epi8('"');
  uint64_t marks = 0;
  __m128i any = _mm_setzero_si128();
  for (int i = 0; i < 4; i++) {
    __m128i v = _mm_loadu_si128((const __m128i *)(const void *)(p + 16 * i));
    any = _mm_or_si128(any, v);
    __m128i hit = _mm_or_si128(_mm_or_si128(_mm_cmpeq_epi8(v, d), _mm_cmpeq_epi8(v, n)),
                               _mm_cmpeq_epi8(v, q));
    marks |= (uint64_t)(unsigned)_mm_movemask_epi8(hit) << (16 * i);
  }
  *high |= (unsigned)_mm_movemask_epi8(any);
  return marks;
#else
  uint64_t marks = 0;
  for (int i = 0; i < 64; i++) {
    char byte = p[i];
    marks |= (uint64_t)(byte == delimiter || byte == newline || byte == '"') << i;
    *high |= (unsigned char)byte >> 7;
  }
  return marks;
#endif
}

#endif
