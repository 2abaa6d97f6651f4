/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Encodings of files, and what files are that are no text. */
#ifndef TENTER_INTAKE_ENCODING_H
#define TENTER_INTAKE_ENCODING_H

#include <stdint.h>

#include "tenter/base/buffer.h"
#include "tenter/base/status.h"

typedef enum encoding { ENCODING_UTF8, ENCODING_UTF16LE, ENCODING_UTF16BE, ENCODING_1252 } encoding;

/* Bytes of the smallest piece: 2 for UTF-16. */
size_t tenter__encoding_width(encoding encoding);

/* Adds bytes, converted to UTF-8, to text; what is no character becomes U+FFFD. A piece that is cut
 * off at the end counts as no character. TENTER_FAILED when memory runs out or the C library lacks
 * the encoding. */
tenter_status tenter__decode(encoding from, const void *bytes, size_t length, tenter_buffer *text,
                             tenter_error *error);

/* How many bytes of the file the UTF-8 text stands for. */
uint64_t tenter__encoded_length(encoding encoding, const char *text, size_t length);

/* The encoding by the byte-order mark, and the mark's length; 0 where there is none. */
size_t tenter__byte_order_mark(const unsigned char *bytes, size_t length, encoding *found);

/* What a file is that begins with these bytes and is no table, with a word on how to get one from
 * it; NULL where it may be text. */
const char *tenter__no_table(const unsigned char *bytes, size_t length);

#endif
