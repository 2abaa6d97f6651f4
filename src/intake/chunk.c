/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From bytes to rows, a chunk at a time.
 *
 * A chunk reads its own stretch of the file and as much behind it as its last row needs, and one
 * piece before it: a line end there means that a row begins with the stretch. Text that is not
 * UTF-8 is converted first. */
#include "chunk.h"

#include "tenter/base/alloc.h"

enum { OVERLAP = 1 << 12 };

void tenter__chunk_drop_items(chunk *of) {
  if (of->items_in)
    tenter__slab_let_go(of->items_in);
  else
    tenter_free(of->items);
  tenter_free(of->more);
  of->items = NULL;
  of->items_in = NULL;
  of->more = NULL;
}

void tenter__chunk_clear(chunk *of) {
  chunk empty = {.begin = of->begin, .end = of->end};
  tenter__chunk_drop_items(of);
  tenter_free(of->problems);
  tenter_arena_free(of->arena);
  *of = empty;
}

void tenter__chunks_free(input *in) {
  for (size_t i = 0; in->chunks && i < in->chunk_count; i++)
    tenter__chunk_clear(&in->chunks[i]);
  tenter_free(in->chunks);
  in->chunks = NULL;
  in->chunk_count = 0;
}

tenter_status tenter__chunks_cut(input *in, size_t size, tenter_error *error) {
  tenter__chunks_free(in);
  uint64_t bytes = tenter_file_size(in->file);
  size_t count = (size_t)((bytes + size - 1) / size);
  in->chunks = tenter_alloc(count, sizeof *in->chunks);
  if (!in->chunks)
    return tenter_fail_memory(error);
  in->chunk_count = count;
  for (size_t i = 0; i < count; i++) {
    in->chunks[i].begin = (uint64_t)i * size;
    in->chunks[i].end = i + 1 < count ? (uint64_t)(i + 1) * size : bytes;
  }
  return TENTER_OK;
}

/* ---- bytes and text -------------------------------------------------------------------------- */

/* The bytes around a chunk, and their text. */
typedef struct window {
  encoding encoding;
  const tenter_file *file;
  char newline;
  uint64_t raw_from;     /* where raw begins in the file */
  tenter_buffer raw;     /* bytes of the file */
  size_t text_from, own; /* in raw: where the text begins; where the chunk's stretch ends */
  tenter_buffer decoded; /* the text, where it is not raw itself */
  char *text;            /* from text_from on; the newline and SPLIT_PAD bytes stand behind it */
  size_t length, limit;  /* of the text; how much of it lies in the stretch */
  bool whole;            /* the file ends with the text */
  tenter_error *error;
} window;

/* Whether raw has the second half of a surrogate pair at offset at. */
static bool cuts_pair(const window *w, size_t at) {
  if (tenter__encoding_width(w->encoding) != 2 || at + 2 > w->raw.length)
    return false;
  unsigned char high = (unsigned char)w->raw.bytes[at + (w->encoding == ENCODING_UTF16LE)];
  return (high & 0xFC) == 0xDC;
}

/* Reads on until raw holds `wanted` bytes, or to the end of the file. */
static tenter_status read_on(window *w, size_t wanted) {
  uint64_t there = tenter_file_size(w->file) - w->raw_from;
  if (wanted > there)
    wanted = (size_t)there;
  size_t more = wanted - w->raw.length, got = 0;
  char *room = tenter_buffer_room(&w->raw, more + SPLIT_PAD);
  if (!room)
    return tenter_fail_memory(w->error);
  tenter_status status =
      tenter_file_read(w->file, w->raw_from + w->raw.length, room, more, &got, w->error);
  w->raw.length += got;
  w->whole = wanted == there;
  return status;
}

/* Text that must be converted: the stretch first, so that its end is known in the text. */
static tenter_status decode(window *w) {
  size_t own = w->own + (cuts_pair(w, w->own) ? 2 : 0);
  size_t stretch = own > w->text_from ? own - w->text_from : 0;
  const char *from = w->raw.bytes + w->text_from;
  size_t rest = w->raw.length - w->text_from - stretch;
  tenter_buffer_clear(&w->decoded);
  tenter_status status = tenter__decode(w->encoding, from, stretch, &w->decoded, w->error);
  w->limit = w->decoded.length;
  return status == TENTER_OK
             ? tenter__decode(w->encoding, from + stretch, rest, &w->decoded, w->error)
             : status;
}

/* Makes the text of what raw holds. */
static tenter_status make_text(window *w) {
  tenter_buffer *holder = &w->raw;
  if (w->encoding != ENCODING_UTF8) {
    tenter_status status = decode(w);
    if (status != TENTER_OK)
      return status;
    holder = &w->decoded;
  }
  char *end = tenter_buffer_room(holder, SPLIT_PAD);
  if (!end)
    return tenter_fail_memory(w->error);
  memset(end, 0, SPLIT_PAD);
  *end = w->newline;
  bool same = holder == &w->raw;
  w->text = holder->bytes + (same ? w->text_from : 0);
  w->length = holder->length - (same ? w->text_from : 0);
  if (same)
    w->limit = w->own > w->text_from ? w->own - w->text_from : 0;
  return TENTER_OK;
}

static tenter_status widen(window *w) {
  tenter_status status = read_on(w, w->raw.length * 2 + OVERLAP);
  return status == TENTER_OK ? make_text(w) : status;
}

static uint64_t file_offset(const window *w, size_t at) {
  return w->raw_from + w->text_from + tenter__encoded_length(w->encoding, w->text, at);
}

/* Where the first row begins: behind the first line end. Line ends behind the stretch are another
 * chunk's: *first is then the limit. */
static size_t guess_first(const window *w) {
  const char *end = memchr(w->text, w->newline, w->limit);
  return end ? (size_t)(end - w->text) + 1 : w->limit;
}

/* ---- rows ------------------------------------------------------------------------------------ */

static void look_closer(reader *r, const window *w, size_t from) {
  tenter_text text = {w->text + from, w->length - from};
  r->out->has_nul = memchr(text.start, '\0', text.length) != NULL;
  if (r->in->forced_encoding && w->encoding == ENCODING_UTF8)
    r->out->check_utf8 = !tenter_text_is_utf8(text);
}

/* Types the rows from offset first of the text on; reads on where the last one needs it. */
static tenter_status take_all(reader *r, window *w, size_t first) {
  size_t at = first;
  for (bool unfinished = true; unfinished;) {
    unfinished = false;
    look_closer(r, w, at);
    const char *next = tenter__take_rows(r, w->text + at, w->text + w->limit, w->text + w->length,
                                         w->whole, &unfinished);
    if (r->failed)
      return tenter_fail_memory(w->error);
    at = (size_t)(next - w->text);
    if (unfinished) {
      tenter_status status = widen(w);
      if (status != TENTER_OK)
        return status;
    }
  }
  r->out->lines = r->line;
  r->out->next = file_offset(w, at);
  if (r->out->not_utf8) /* so far: not ASCII */
    r->out->not_utf8 = w->encoding == ENCODING_UTF8 && !r->in->forced_encoding &&
                       !tenter_text_is_utf8((tenter_text){w->text + first, at - first});
  return TENTER_OK;
}

/* Room for about as many rows as the stretch should hold, so that little is copied on the way. */
static bool reserve(const input *in, chunk *out, slab_pen *pen) {
  bool more = in->has_attributes || in->has_note || in->has_row;
  size_t room = (size_t)(out->end - out->begin) / in->row_bytes * in->row_items;
  room += room / 16 + 8;
  size_t all = (size_t)tenter_file_size(in->file) / in->row_bytes * in->row_items;
  out->items = tenter__slab_room(pen, room * in->item_size, all * in->item_size, &out->items_in);
  if (more && in->layout.table == TENTER_TABLE_READINGS)
    out->more = tenter_alloc(room, sizeof *out->more);
  out->room = out->items ? room : 0;
  return out->items && (out->more || !more || in->layout.table != TENTER_TABLE_READINGS);
}

static tenter_status take_chunk(intake *all, input *in, chunk *out, window *w, size_t first,
                                bool lean) {
  worker *memory = all->workers[out->worker];
  if (!tenter__worker_attach(memory, in, out->worker) || !reserve(in, out, &memory->pen))
    return tenter_fail_memory(w->error);
  reader r = {
      .all = all, .in = in, .out = out, .memory = memory, .words = memory->words, .lean = lean};
  memcpy(r.at, in->layout.at, sizeof r.at);
  out->first = file_offset(w, first);
  tenter_status status = take_all(&r, w, first);
  if (out->items_in)
    tenter__slab_used(&memory->pen, out->count * in->item_size);
  if (status == TENTER_OK && memory->overflow)
    status = tenter_fail(w->error, TENTER_INPUT,
                         "%s: more than 65534 different meters, operators or positions; is a "
                         "column taken for one of these that is not?",
                         in->name);
  return status;
}

/* The window of a chunk whose first row begins at `first` (CHUNK_GUESS: not known). */
static tenter_status open_window(window *w, const input *in, const chunk *of, uint64_t first) {
  size_t before = of->begin == 0 ? 0 : tenter__encoding_width(w->encoding);
  w->raw_from = of->begin - before;
  w->own = (size_t)(of->end - w->raw_from);
  w->text_from = first == CHUNK_GUESS ? 0 : (size_t)(first - w->raw_from);
  bool last = of == &in->chunks[in->chunk_count - 1];
  return read_on(w, w->own + (last ? 0 : OVERLAP));
}

static tenter_status read_chunk(intake *all, input *in, chunk *out, uint64_t first, bool lean,
                                window *w) {
  if (first == CHUNK_GUESS && out->begin <= in->dialect.data_start)
    first = in->dialect.data_start;
  bool rows = first == CHUNK_GUESS || first < out->end;
  tenter_status status = open_window(w, in, out, rows ? first : out->begin);
  if (status != TENTER_OK || !rows)
    return status;
  status = make_text(w);
  size_t at = status == TENTER_OK && first == CHUNK_GUESS ? guess_first(w) : 0;
  if (status != TENTER_OK || at >= w->limit)
    return status;
  return take_chunk(all, in, out, w, at, lean);
}

void tenter__chunk_read(intake *all, input *in, size_t number, uint64_t first, bool lean,
                        size_t worker_number) {
  chunk *out = &in->chunks[number];
  tenter__chunk_clear(out);
  out->worker = worker_number;
  out->first = out->next = CHUNK_GUESS;
  tenter_buffer *decoded = &all->workers[worker_number]->decoded;
  window w = {.encoding = in->dialect.encoding,
              .file = in->file,
              .newline = in->dialect.newline,
              .decoded = *decoded,
              .error = &out->error};
  if (in->hasher)
    w.raw = tenter__hasher_buffer(in->hasher);
  out->status = read_chunk(all, in, out, first, lean, &w);
  *decoded = w.decoded;
  bool good = out->status == TENTER_OK;
  if (in->hasher) /* a failed chunk must not stop the queue */
    tenter__hasher_give(in->hasher, number, w.raw, good ? (size_t)(out->begin - w.raw_from) : 0,
                        good ? (size_t)(out->end - out->begin) : 0);
  else
    tenter_buffer_release(&w.raw);
}
