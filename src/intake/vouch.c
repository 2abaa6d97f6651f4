/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reads certificate.json: the seal over its bytes first, then what it says. Relies on the lines
 * that report/certificate_files.c writes: a raw line end stands in no JSON string. */
#include "tenter/intake/vouch.h"

#include <jansson.h>
#include <string.h>

#include "tenter/base/buffer.h"
#include "tenter/base/file.h"

enum { MOST_BYTES = 256 << 20, PIECE = 1 << 16 };

static const char seal_start[] = "\"seal\":\"", seal_end[] = "\"}\n";
static const char data_start[] = ",\n\"data\":", data_end[] = ",\n\"fingerprint\":\"";

/* ---- bytes ---------------------------------------------------------------------------------- */

tenter_status tenter_vouch_hash(const char *path, char digits[TENTER_SHA256_SIZE],
                                tenter_error *error) {
  tenter_file *file = NULL;
  tenter_status status = tenter_file_open(path, &file, error);
  if (status != TENTER_OK)
    return status;
  tenter_sha256 *hash = tenter_sha256_new();
  char bytes[PIECE];
  uint64_t at = 0;
  bool done = hash != NULL;
  for (size_t got = PIECE; done && status == TENTER_OK && got == PIECE; at += got) {
    status = tenter_file_read(file, at, bytes, PIECE, &got, error);
    done = status != TENTER_OK || tenter_sha256_add(hash, bytes, got);
  }
  done = done && (status != TENTER_OK || tenter_sha256_end(hash, digits));
  tenter_sha256_free(hash);
  tenter_file_close(file);
  return done ? status : tenter_fail_memory(error);
}

/* The first place of what in bytes, or NULL. */
static const char *find(const char *bytes, size_t length, const char *what) {
  size_t size = strlen(what);
  for (const char *at = bytes; length >= size; at++, length--)
    if (memcmp(at, what, size) == 0)
      return at;
  return NULL;
}

/* The seal's digits at the end of the file, and the bytes that it is over; NULL without one. */
static const char *find_seal(const tenter_buffer *file, size_t *sealed) {
  size_t tail = strlen(seal_start) + TENTER_SHA256_SIZE - 1 + strlen(seal_end);
  if (file->length < tail)
    return NULL;
  const char *line = file->bytes + file->length - tail;
  *sealed = file->length - tail;
  bool framed =
      memcmp(line, seal_start, strlen(seal_start)) == 0 &&
      memcmp(file->bytes + file->length - strlen(seal_end), seal_end, strlen(seal_end)) == 0;
  return framed ? line + strlen(seal_start) : NULL;
}

static bool is_hash_of(const char *digits, const char *bytes, size_t length) {
  char own[TENTER_SHA256_SIZE];
  return tenter_sha256_of(bytes, length, own) && memcmp(own, digits, TENTER_SHA256_SIZE - 1) == 0;
}

static bool fingerprint_holds(const tenter_buffer *file, const char *fingerprint) {
  const char *end = file->bytes + file->length;
  const char *start = find(file->bytes, file->length, data_start);
  if (!start || strlen(fingerprint) != TENTER_SHA256_SIZE - 1)
    return false;
  start += strlen(data_start);
  const char *stop = find(start, (size_t)(end - start), data_end);
  return stop && is_hash_of(fingerprint, start, (size_t)(stop - start));
}

/* ---- what it says --------------------------------------------------------------------------- */

static const char *text_of(const json_t *object, const char *key, tenter_arena *arena) {
  const char *text = json_string_value(json_object_get(object, key));
  const char *copy = tenter_arena_copy(arena, tenter_text_of(text));
  return copy ? copy : ""; /* the arena knows that it failed */
}

static void add_file(tenter_vouch *vouch, const json_t *row, bool issued, tenter_arena *arena) {
  if (json_is_object(row))
    vouch->files[vouch->file_count++] =
        (tenter_vouched){text_of(row, "file", arena), text_of(row, "sha256", arena), issued};
}

static void read_files(tenter_vouch *vouch, const json_t *root, const json_t *data,
                       tenter_arena *arena) {
  const json_t *issued = json_object_get(root, "files"), *inputs = json_object_get(data, "inputs");
  size_t count = json_array_size(issued) + json_array_size(inputs) + 1;
  vouch->files = tenter_arena_alloc(arena, count, sizeof *vouch->files);
  if (!vouch->files)
    return;
  for (size_t i = 0; i < json_array_size(issued); i++)
    add_file(vouch, json_array_get(issued, i), true, arena);
  for (size_t i = 0; i < json_array_size(inputs); i++)
    add_file(vouch, json_array_get(inputs, i), false, arena);
  add_file(vouch, json_object_get(data, "config"), false, arena);
}

static void read_texts(tenter_vouch *vouch, const json_t *root, tenter_arena *arena) {
  const json_t *data = json_object_get(root, "data");
  vouch->fingerprint = text_of(root, "fingerprint", arena);
  vouch->program = text_of(root, "tenter", arena);
  vouch->as_of = text_of(root, "as_of", arena);
  vouch->issuer = text_of(data, "issuer", arena);
  vouch->customer = text_of(data, "customer", arena);
  vouch->order = text_of(data, "order", arena);
  json_int_t certified = json_integer_value(json_object_get(data, "certified"));
  vouch->certified = certified > 0 ? (size_t)certified : 0;
  read_files(vouch, root, data, arena);
}

static tenter_status read_sealed(const char *path, const tenter_buffer *file, tenter_arena *arena,
                                 tenter_vouch *vouch, tenter_error *error) {
  json_error_t why;
  json_t *root = json_loadb(file->bytes, file->length, JSON_REJECT_DUPLICATES, &why);
  if (!root)
    return tenter_fail(error, TENTER_INPUT, "%s: line %d: no JSON: %s", path, why.line, why.text);
  read_texts(vouch, root, arena);
  json_decref(root);
  vouch->fingerprint_holds = fingerprint_holds(file, vouch->fingerprint);
  return tenter_arena_failed(arena) ? tenter_fail_memory(error) : TENTER_OK;
}

tenter_status tenter_vouch_read(const char *path, tenter_arena *arena, tenter_vouch *vouch,
                                tenter_error *error) {
  tenter_buffer file = {0};
  size_t sealed = 0;
  *vouch = (tenter_vouch){.fingerprint = "", .program = "", .as_of = "", .issuer = ""};
  vouch->customer = vouch->order = "";
  tenter_status status = tenter_file_slurp(path, MOST_BYTES, &file, error);
  const char *seal = status == TENTER_OK ? find_seal(&file, &sealed) : NULL;
  if (status == TENTER_OK && !seal)
    status = tenter_fail(error, TENTER_INPUT,
                         "%s does not end in the seal of a certificate: it is no certificate.json, "
                         "or its end was changed or cut off",
                         path);
  if (status == TENTER_OK) {
    vouch->seal_holds = is_hash_of(seal, file.bytes, sealed);
    if (vouch->seal_holds)
      status = read_sealed(path, &file, arena, vouch, error);
  }
  tenter_buffer_release(&file);
  return status;
}

/* ---- other files ---------------------------------------------------------------------------- */

static const char *base_name(const char *path) {
  const char *slash = strrchr(path, '/');
  return slash ? slash + 1 : path;
}

tenter_vouch_answer tenter_vouch_ask(const tenter_vouch *vouch, const char *path,
                                     const char *digits, const tenter_vouched **named) {
  const tenter_vouched *by_name = NULL, *by_hash = NULL, *both = NULL;
  for (size_t i = 0; i < vouch->file_count; i++) {
    const tenter_vouched *file = &vouch->files[i];
    bool name = strcmp(base_name(file->file), base_name(path)) == 0;
    bool hash = strcmp(file->sha256, digits) == 0;
    both = name && hash ? file : both;
    by_name = name ? file : by_name;
    by_hash = hash ? file : by_hash;
  }
  if (named)
    *named = both ? both : by_name ? by_name : by_hash;
  if (both)
    return TENTER_VOUCH_UNCHANGED;
  if (by_name)
    return TENTER_VOUCH_CHANGED;
  return by_hash ? TENTER_VOUCH_RENAMED : TENTER_VOUCH_FOREIGN;
}
