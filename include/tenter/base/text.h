/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Views of text that somebody else owns, not NUL-terminated, UTF-8. */
#ifndef TENTER_BASE_TEXT_H
#define TENTER_BASE_TEXT_H

#include <stdbool.h>
#include <stddef.h>

typedef struct tenter_text {
  const char *start;
  size_t length; /* bytes */
} tenter_text;

/* A view of a NUL-terminated string (NULL gives the empty view). */
tenter_text tenter_text_of(const char *string);

/* The view without blanks (space, tab, no-break space U+00A0, line ends) at both ends. */
tenter_text tenter_text_trim(tenter_text text);

bool tenter_text_equal(tenter_text a, tenter_text b);

/* Order of bytes, shorter first where one is the head of the other; as memcmp. */
int tenter_text_compare(tenter_text a, tenter_text b);

/* The order in which people expect ids: runs of digits compare as numbers (S-9
 * before S-10), all else as bytes; numbers that differ in leading zeros only are told apart last,
 * as bytes (S-09 before S-9). A total order: equal only where the bytes are equal. */
int tenter_text_natural(tenter_text a, tenter_text b);

/* Edit distance (Damerau-Levenshtein, optimal string alignment) of two texts
 * folded to ASCII lower case, or limit + 1 as soon as it is over limit. For "did
 * you mean"; texts over 255 bytes count as over the limit. */
size_t tenter_text_distance(tenter_text a, tenter_text b, size_t limit);

/* Bytes of the character at the head of text (1 .. 4); 0 where it is no well-formed UTF-8 or
 * text is empty. */
size_t tenter_text_character(tenter_text text);

/* True where text is well-formed UTF-8 (RFC 3629: no surrogates, no overlong forms). */
bool tenter_text_is_utf8(tenter_text text);

/* Puts '?' for each control character of a NUL-terminated string (C0 but line ends, DEL, C1), for
 * each character that turns the direction of writing or separates lines unseen (Unicode TR 9), and
 * for each byte that is part of no well-formed character, so that it can't drive a terminal. */
void tenter_text_tame(char *string);

#endif
