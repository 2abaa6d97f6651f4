/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How a file is written, told from its head. Every delimiter is tried on the header; the one under
 * which the header makes a table with the most columns is it. */
#include <stdio.h>

#include "chunk.h"
#include "tenter/base/alloc.h"
#include "tenter/words/words.h"

enum { DELIMITERS = 4, MOST_TITLES = 10 };

/* The head of a file as text. */
typedef struct head {
  tenter_buffer raw, text; /* text: without byte-order mark */
  size_t mark_length;
  bool whole; /* the file ends with it */
} head;

static tenter_status fail_encoding(const input *in, tenter_error *error) {
  return tenter_fail(error, TENTER_INPUT,
                     "%s: the text looks like UTF-16 without a byte-order mark; save it as UTF-8, "
                     "or put into tenter.ini: [intake] encoding = utf-16",
                     in->name);
}

static size_t count_nuls(const tenter_buffer *raw, size_t from) {
  size_t count = 0, look = raw->length < 1024 ? raw->length : 1024;
  for (size_t i = from; i < look; i += 2)
    count += raw->bytes[i] == '\0';
  return count;
}

/* Whether raw is UTF-8, but for a character that its end may cut. */
static bool is_utf8(const head *h) {
  size_t length = h->raw.length;
  for (size_t cut = 0; cut <= 3 && cut <= length; cut++)
    if (tenter_text_is_utf8((tenter_text){h->raw.bytes, length - cut}))
      return cut == 0 || !h->whole;
  return false;
}

static tenter_status find_encoding(const intake *all, input *in, head *h, encoding assumed,
                                   tenter_error *error) {
  int chosen = all->settings->encoding; /* auto, utf-8, utf-16, windows-1252 */
  size_t even = count_nuls(&h->raw, 0), odd = count_nuls(&h->raw, 1);
  h->mark_length = tenter__byte_order_mark((const unsigned char *)h->raw.bytes, h->raw.length,
                                           &in->dialect.encoding);
  in->forced_encoding = h->mark_length > 0 || chosen != 0;
  if (h->mark_length > 0)
    return TENTER_OK;
  if (chosen == 2) {
    in->dialect.encoding = even > odd ? ENCODING_UTF16BE : ENCODING_UTF16LE;
    return TENTER_OK;
  }
  if (chosen == 0 && even + odd > 0 && (even + odd) * 8 >= h->raw.length && (even == 0 || odd == 0))
    return fail_encoding(in, error);
  in->dialect.encoding = chosen == 3 ? ENCODING_1252 : chosen == 1 ? ENCODING_UTF8 : assumed;
  if (chosen == 0 && assumed == ENCODING_UTF8 && !is_utf8(h))
    in->dialect.encoding = ENCODING_1252;
  return TENTER_OK;
}

static tenter_status read_head(const intake *all, input *in, encoding assumed, head *h,
                               tenter_error *error) {
  uint64_t size = tenter_file_size(in->file);
  size_t wanted = size < SAMPLE_SIZE ? (size_t)size : SAMPLE_SIZE, got = 0;
  h->whole = wanted == size;
  if (size == 0)
    return tenter_fail(error, TENTER_INPUT,
                       "%s: the file is empty; looked for a header row and rows under it",
                       in->name);
  char *room = tenter_buffer_room(&h->raw, wanted + SPLIT_PAD);
  if (!room)
    return tenter_fail_memory(error);
  tenter_status status = tenter_file_read(in->file, 0, room, wanted, &got, error);
  if (status != TENTER_OK)
    return status;
  h->raw.length = got;
  const char *refused = tenter__no_table((const unsigned char *)room, got);
  if (refused)
    return tenter_fail(error, TENTER_INPUT, "%s: %s", in->name, refused);
  status = find_encoding(all, in, h, assumed, error);
  if (status == TENTER_OK)
    status = tenter__decode(in->dialect.encoding, h->raw.bytes + h->mark_length,
                            got - h->mark_length, &h->text, error);
  char *pad = status == TENTER_OK ? tenter_buffer_room(&h->text, SPLIT_PAD) : NULL;
  if (status == TENTER_OK && !pad)
    return tenter_fail_memory(error);
  if (pad)
    memset(pad, 0, SPLIT_PAD);
  return status;
}

/* Rows end with the first of line feed and carriage return to be met. */
static char find_newline(const head *h) {
  if (h->text.length == 0)
    return '\n';
  const char *feed = memchr(h->text.bytes, '\n', h->text.length);
  const char *carriage = memchr(h->text.bytes, '\r', h->text.length);
  bool old = carriage && (!feed || (carriage < feed && feed != carriage + 1));
  return old ? '\r' : '\n';
}

/* ---- the header ------------------------------------------------------------------------------ */

/* One row of the head, as a delimiter cuts it. */
typedef struct header_row {
  size_t at, next;
  uint32_t line;
} header_row;

/* What a delimiter makes of the header. */
typedef struct trial {
  layout layout;
  tenter_status status;
  tenter_error error;
} trial;

typedef struct search {
  intake *all;
  input *in;
  const head *head;
  tenter_text *cells;
  char *scratch;
  header_row rows[MOST_TITLES];
  size_t row_count;
} search;

static bool split_at(search *s, size_t at, char delimiter, split *cut) {
  *cut = (split){.delimiter = delimiter,
                 .newline = s->in->dialect.newline,
                 .cells = s->cells,
                 .room = MOST_COLUMNS + 1,
                 .scratch = s->scratch};
  const char *text = s->head->text.bytes;
  return tenter__split_row(cut, text + at, text + s->head->text.length, s->head->whole) !=
         SPLIT_UNFINISHED;
}

static bool is_blank(const char *from, const char *to, char delimiter) {
  for (; from < to; from++)
    if (*from != ' ' && *from != '\r' && *from != '\n' && *from != '\t' && *from != delimiter)
      return false;
  return true;
}

/* The first rows of the head that are not blank. Where a row ends does not depend on the delimiter
 * but where it is quoted; that of the config or a comma is taken. */
static void find_rows(search *s, size_t at, char delimiter) {
  uint32_t line = 1;
  const char *text = s->head->text.bytes;
  for (size_t i = 0; i < at; i++)
    line += text[i] == s->in->dialect.newline;
  split cut;
  while (at < s->head->text.length && s->row_count < MOST_TITLES &&
         split_at(s, at, delimiter, &cut)) {
    size_t next = (size_t)(cut.next - text);
    if (!is_blank(text + at, cut.next, delimiter))
      s->rows[s->row_count++] = (header_row){at, next, line};
    line += cut.lines;
    at = next;
  }
}

static void try_delimiter(search *s, const header_row *row, char delimiter, trial *t) {
  split cut;
  *t = (trial){.status = TENTER_INPUT};
  if (!split_at(s, row->at, delimiter, &cut) || cut.count > MOST_COLUMNS) {
    tenter_fail(&t->error, TENTER_INPUT, "the header has more than %d columns", MOST_COLUMNS);
    return;
  }
  t->status = tenter__layout_of(s->all->patterns, s->cells, cut.count, s->all->config,
                                &s->all->numbers, s->all->arena, &t->layout, &t->error);
}

/* Tries a row as the header. TENTER_OK where some delimiter makes a table of it; *best is then it,
 * else the one that came nearest. */
static tenter_status try_row(search *s, const header_row *row, const char *delimiters,
                             trial *best) {
  bool any = false;
  for (size_t i = 0; delimiters[i]; i++) {
    trial t;
    try_delimiter(s, row, delimiters[i], &t);
    if (t.status == TENTER_FAILED) {
      *best = t;
      return TENTER_FAILED;
    }
    bool good = t.status == TENTER_OK;
    bool more = t.layout.matched > best->layout.matched ||
                (t.layout.matched == best->layout.matched && t.layout.count > best->layout.count &&
                 t.layout.matched == 0);
    if (i == 0 || (good && !any) || (good == any && more)) {
      *best = t;
      s->in->dialect.delimiter = delimiters[i];
    }
    any = any || good;
  }
  return any ? TENTER_OK : TENTER_INPUT;
}

/* A spreadsheet's first line "sep=;" names the delimiter. Returns its length. */
static size_t separator_line(const head *h, char *delimiter) {
  const char *text = h->text.bytes;
  if (h->text.length < 6 || memcmp(text, "sep=", 4) != 0 || (text[5] != '\r' && text[5] != '\n'))
    return 0;
  *delimiter = text[4];
  return text[5] == '\r' && text[6] == '\n' ? 7 : 6;
}

static void note_titles(search *s, size_t header, layout *found) {
  if (header == 0 || found->note_count == sizeof found->notes / sizeof *found->notes)
    return;
  const header_row *first = &s->rows[0];
  tenter_text text =
      tenter_text_trim((tenter_text){s->head->text.bytes + first->at, first->next - first->at});
  char shown[SHOWN_SIZE];
  found->notes[found->note_count++] =
      tenter_say_fill(s->all->arena, header > 1 ? TENTER_SAY_NOTE_TITLES : TENTER_SAY_NOTE_TITLE,
                      tenter__shown(text, shown), (const char *)NULL);
}

static tenter_status accept(search *s, size_t header, const trial *best, tenter_error *error) {
  input *in = s->in;
  const header_row *row = &s->rows[header];
  split cut;
  if (!split_at(s, row->at, in->dialect.delimiter, &cut))
    return tenter_fail(error, TENTER_INPUT, "%s: the header is longer than %d bytes", in->name,
                       (int)SAMPLE_SIZE);
  in->layout = best->layout;
  note_titles(s, header, &in->layout);
  size_t next = (size_t)(cut.next - s->head->text.bytes);
  in->text_start = next;
  in->dialect.header_line = row->line;
  in->dialect.first_line = row->line + cut.lines;
  in->dialect.data_start = s->head->mark_length +
                           tenter__encoded_length(in->dialect.encoding, s->head->text.bytes, next);
  return TENTER_OK;
}

static tenter_status find_header(search *s, tenter_error *error) {
  static const char *const chosen[] = {",;\t|", ",", ";", "\t", "|"};
  char named[2] = "";
  size_t start = separator_line(s->head, named);
  const char *delimiters = chosen[s->all->settings->delimiter];
  if (start > 0 && s->all->settings->delimiter == 0)
    delimiters = named;
  find_rows(s, start, *delimiters);
  if (s->row_count == 0)
    return tenter_fail(error, TENTER_INPUT,
                       s->head->whole ? "%s: there is nothing in the file but blanks; "
                                        "looked for a header row and rows under it"
                                      : "%s: no header row was found at the head of the "
                                        "file",
                       s->in->name);
  trial first = {.status = TENTER_INPUT}, best = first;
  for (size_t i = 0; i < s->row_count; i++) {
    tenter_status status = try_row(s, &s->rows[i], delimiters, &best);
    if (status == TENTER_OK)
      return accept(s, i, &best, error);
    if (status == TENTER_FAILED)
      return tenter_fail(error, status, "%s", best.error.message);
    if (i == 0)
      first = best;
  }
  if (memchr(s->head->text.bytes, '\0', s->head->text.length))
    return tenter_fail(error, TENTER_INPUT, "%s: this is no text file", s->in->name);
  return tenter_fail(error, TENTER_INPUT, "%s:%u: %s", s->in->name, (unsigned)s->rows[0].line,
                     first.error.message);
}

/* ---- the first rows -------------------------------------------------------------------------- */

static void plan_items(input *in) {
  static const size_t sizes[] = {sizeof(staged), sizeof(tenter_register_row), sizeof(tenter_event),
                                 sizeof(tenter_meter_check)};
  const layout *l = &in->layout;
  in->item_size = sizes[l->table];
  in->has_attributes = in->has_note = in->has_row = false;
  if (l->table != TENTER_TABLE_READINGS)
    return;
  for (int role = ROLE_MESH; role <= ROLE_NEEDED_ON; role++)
    in->has_attributes = in->has_attributes || l->at[role] >= 0;
  in->has_note = l->at[ROLE_NOTE] >= 0;
  in->has_row = l->wide || l->at[ROLE_NONE] >= 0 || l->at[ROLE_TRIAL] >= 0 || in->has_attributes;
  in->row_items = l->wide ? l->cells : 1;
}

/* The columns of the setup, where they stand side by side. */
static void plan_run(input *in) {
  static const column_role roles[] = {ROLE_POSITION, ROLE_DIRECTION, ROLE_METER, ROLE_OPERATOR,
                                      ROLE_TRIAL};
  int first = MOST_COLUMNS, last = -1, count = 0;
  for (size_t i = 0; i < sizeof roles / sizeof *roles; i++) {
    int at = in->layout.at[roles[i]];
    if (at < 0)
      continue;
    first = at < first ? at : first;
    last = at > last ? at : last;
    count++;
  }
  bool together = count > 0 && last - first + 1 == count && in->layout.at[ROLE_X_CM] < 0;
  in->run_first = together ? first : -1;
  in->run_last = last;
}

/* Types the rows of the head for what they tell, and forgets them. */
static tenter_status sample_rows(intake *all, input *in, head *h, order_evidence *orders,
                                 tenter_error *error) {
  chunk probe = {.status = TENTER_OK};
  worker *memory = all->workers[0];
  lexicon *words[1] = {NULL}, **kept = in->lexicons;
  in->lexicons = words;
  in->generation++;
  bool good = tenter__worker_attach(memory, in, 0);
  in->lexicons = kept;
  if (good && h->text.bytes) {
    reader r = {
        .all = all, .in = in, .out = &probe, .memory = memory, .words = words[0], .lean = true};
    memcpy(r.at, in->layout.at, sizeof r.at);
    char *text = h->text.bytes;
    size_t skip = in->text_start;
    text[h->text.length] = in->dialect.newline;
    bool unfinished = false;
    const char *end = text + h->text.length;
    const char *stop = tenter__take_rows(&r, text + skip, end, end, h->whole, &unfinished);
    in->row_bytes = probe.rows ? (size_t)(stop - text - (ptrdiff_t)skip) / probe.rows + 1 : 1;
    good = !r.failed;
  }
  in->generation++;
  if (good && !in->forced_mark)
    in->dialect.mark = probe.marks[1] > probe.marks[0] ? ',' : '.';
  tenter__evidence_add(orders, &probe.orders, in->dialect.first_line);
  tenter__lexicon_free(words[0]);
  tenter__chunk_clear(&probe);
  return good ? TENTER_OK : tenter_fail_memory(error);
}

void tenter__evidence_add(order_evidence *to, const order_evidence *from, uint32_t line_base) {
  for (unsigned orders = 0; orders < ORDERS; orders++) {
    if (from->count[orders] == 0)
      continue;
    if (to->count[orders] == 0) {
      to->first[orders] = from->first[orders];
      to->first[orders].line += line_base;
    }
    to->count[orders] += from->count[orders];
  }
}

static tenter_status find_all(search *s, head *h, encoding assumed, order_evidence *orders,
                              tenter_error *error) {
  input *in = s->in;
  tenter_status status = read_head(s->all, in, assumed, h, error);
  if (status != TENTER_OK)
    return status;
  in->dialect.newline = find_newline(h);
  int decimal = s->all->settings->decimal;
  in->forced_mark = decimal != TENTER_DECIMAL_AUTO;
  in->dialect.mark = decimal == TENTER_DECIMAL_COMMA ? ',' : '.';
  status = find_header(s, error);
  if (status != TENTER_OK)
    return status;
  plan_items(in);
  plan_run(in);
  return sample_rows(s->all, in, h, orders, error);
}

tenter_status tenter__dialect_find(intake *all, input *in, encoding assumed, order_evidence *orders,
                                   tenter_error *error) {
  head h = {.whole = false};
  search s = {.all = all, .in = in, .head = &h, .scratch = all->workers[0]->scratch};
  s.cells = tenter_alloc(MOST_COLUMNS + 1, sizeof *s.cells);
  tenter_status status =
      s.cells ? find_all(&s, &h, assumed, orders, error) : tenter_fail_memory(error);
  tenter_free(s.cells);
  tenter_buffer_release(&h.raw);
  tenter_buffer_release(&h.text);
  return status;
}
