/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Encodings by iconv of the C library; file kinds by their first bytes (each format's own
 * published signature). */
#include "encoding.h"

#include <errno.h>
#include <iconv.h>
#include <string.h>

size_t tenter__encoding_width(encoding of) {
  return of == ENCODING_UTF16LE || of == ENCODING_UTF16BE ? 2 : 1;
}

static const char *iconv_name(encoding of) {
  switch (of) {
  case ENCODING_UTF16LE:
    return "UTF-16LE";
  case ENCODING_UTF16BE:
    return "UTF-16BE";
  case ENCODING_1252:
    return "WINDOWS-1252";
  case ENCODING_UTF8:
    break;
  }
  return "UTF-8";
}

/* One conversion step; false when nothing is left to convert. */
static bool convert_some(iconv_t converter, size_t width, char **from, size_t *left,
                         tenter_buffer *text) {
  char *room = tenter_buffer_room(text, *left * 2 + 64);
  if (!room || *left == 0)
    return false;
  size_t space = *left * 2 + 64;
  char *to = room;
  size_t done = iconv(converter, from, left, &to, &space);
  int reason = errno;
  text->length += (size_t)(to - room);
  if (done != (size_t)-1)
    return false;
  if (reason != E2BIG) { /* no character: one piece of the file is shown as U+FFFD */
    size_t step = *left < width ? *left : width;
    *from += step;
    *left -= step;
    tenter_buffer_add(text, "\xEF\xBF\xBD", 3);
  }
  return !text->failed;
}

tenter_status tenter__decode(encoding from, const void *bytes, size_t length, tenter_buffer *text,
                             tenter_error *error) {
  if (from == ENCODING_UTF8) {
    tenter_buffer_add(text, bytes, length);
    return text->failed ? tenter_fail_memory(error) : TENTER_OK;
  }
  iconv_t converter = iconv_open("UTF-8", iconv_name(from));
  if (converter == (iconv_t)-1) /* NOLINT(performance-no-int-to-ptr): what iconv.h says */
    return tenter_fail(
        error, TENTER_FAILED,
        "the C library of this machine can't convert from %s; save the file as UTF-8",
        iconv_name(from));
  char *at = (char *)bytes; /* iconv's old signature; it only reads */
  size_t left = length;
  while (convert_some(converter, tenter__encoding_width(from), &at, &left, text)) {
  }
  iconv_close(converter);
  return text->failed ? tenter_fail_memory(error) : TENTER_OK;
}

uint64_t tenter__encoded_length(encoding of, const char *text, size_t length) {
  if (of == ENCODING_UTF8)
    return length;
  uint64_t pieces = 0;
  for (size_t i = 0; i < length; i++) {
    unsigned char byte = (unsigned char)text[i];
    pieces += (byte & 0xC0) != 0x80;               /* a character */
    pieces += byte >= 0xF0 && of != ENCODING_1252; /* a surrogate pair */
  }
  return pieces * tenter__encoding_width(of);
}

size_t tenter__byte_order_mark(const unsigned char *bytes, size_t length, encoding *found) {
  if (length >= 3 && memcmp(bytes, "\xEF\xBB\xBF", 3) == 0) {
    *found = ENCODING_UTF8;
    return 3;
  }
  if (length >= 2 && (bytes[0] ^ bytes[1]) == 1 && bytes[0] >= 0xFE) {
    *found = bytes[0] == 0xFF ? ENCODING_UTF16LE : ENCODING_UTF16BE;
    return 2;
  }
  return 0;
}

typedef struct signature {
  const char *bytes;
  size_t length, offset;
  const char *sentence;
} signature;

#define WORKBOOK                                                                                   \
  "open it and save each sheet as CSV (in the list of file types: CSV, comma separated, UTF-8)"
#define IMAGE "this is a picture; type the readings into a table and save it as CSV"
#define ARCHIVE "this is an archive; unpack it and name the tables in it"

static const signature signatures[] = {
    {"\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1", 8, 0,
     "this is a workbook or document of an office program; " WORKBOOK},
    {"%PDF", 4, 0, "this is a PDF; export the table as CSV from the program that made it"},
    {"\x89PNG", 4, 0, IMAGE},
    {"\xFF\xD8\xFF", 3, 0, IMAGE},
    {"GIF8", 4, 0, IMAGE},
    {"II*\0", 4, 0, IMAGE},
    {"MM\0*", 4, 0, IMAGE},
    {"WEBP", 4, 8, IMAGE},
    {"ftyp", 4, 4,
     "this is a picture or a film; type the readings into a table and save it as CSV"},
    {"\x1F\x8B", 2, 0, "this is a compressed file; unpack it and name the table in it"},
    {"BZh", 3, 0, "this is a compressed file; unpack it and name the table in it"},
    {"\xFD"
     "7zXZ",
     5, 0, "this is a compressed file; unpack it and name the table in it"},
    {"\x28\xB5\x2F\xFD", 4, 0, "this is a compressed file; unpack it and name the table in it"},
    {"7z\xBC\xAF\x27\x1C", 6, 0, ARCHIVE},
    {"Rar!", 4, 0, ARCHIVE},
    {"ustar", 5, 257, ARCHIVE},
    {"SQLite format 3", 15, 0, "this is a database; export its tables as CSV"},
    {"{\\rtf", 5, 0, "this is a text document; save the table as CSV from a spreadsheet program"},
    {"\x7F"
     "ELF",
     4, 0, "this is a program"},
};

static bool holds(const unsigned char *bytes, size_t length, const char *text) {
  size_t wanted = strlen(text);
  for (size_t i = 0; i + wanted <= length; i++)
    if (memcmp(bytes + i, text, wanted) == 0)
      return true;
  return false;
}

/* Workbooks of today are zip archives. */
static const char *zip_kind(const unsigned char *bytes, size_t length) {
  size_t look = length < 65536 ? length : 65536;
  if (holds(bytes, look, "xl/") || holds(bytes, look, "opendocument.spreadsheet") ||
      holds(bytes, look, "Index/Tables"))
    return "this is a workbook of a spreadsheet program; " WORKBOOK;
  if (holds(bytes, look, "word/") || holds(bytes, look, "opendocument.text"))
    return "this is a text document; copy its table into a spreadsheet program and save it as CSV";
  return "this is an archive or a workbook; unpack it, or open it and save each sheet as CSV";
}

static bool begins_markup(const unsigned char *bytes, size_t length) {
  size_t at = 0;
  while (at < length &&
         (bytes[at] <= ' ' || bytes[at] == 0xEF || bytes[at] == 0xBB || bytes[at] == 0xBF))
    at++;
  static const char *const heads[] = {"<?xml", "<!doctype html", "<html", "<table"};
  for (size_t i = 0; i < sizeof heads / sizeof *heads; i++) {
    size_t wanted = strlen(heads[i]), k = 0;
    while (k < wanted && at + k < length &&
           (bytes[at + k] >= 'A' && bytes[at + k] <= 'Z' ? bytes[at + k] | 0x20 : bytes[at + k]) ==
               heads[i][k])
      k++;
    if (k == wanted)
      return true;
  }
  return false;
}

const char *tenter__no_table(const unsigned char *bytes, size_t length) {
  if (length >= 4 && (memcmp(bytes, "PK\3\4", 4) == 0 || memcmp(bytes, "PK\5\6", 4) == 0))
    return zip_kind(bytes, length);
  for (size_t i = 0; i < sizeof signatures / sizeof *signatures; i++) {
    const signature *s = &signatures[i];
    if (length >= s->offset + s->length && memcmp(bytes + s->offset, s->bytes, s->length) == 0)
      return s->sentence;
  }
  if (begins_markup(bytes, length))
    return "this is a web page or an XML file; export the table as CSV";
  return NULL;
}
