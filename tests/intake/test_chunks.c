/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Properties: the size of chunks and the number of threads change nothing; and random tables are
 * read as a plain reader (below, one byte after the other) reads them. */
#include "intake_fixture.h"

static uint64_t seed = 20260301;

static uint64_t any(void) { /* xorshift64* (Vigna 2016) */
  seed ^= seed >> 12;
  seed ^= seed << 25;
  seed ^= seed >> 27;
  return seed * 2685821657736338717U;
}

static size_t below(size_t limit) {
  return (size_t)(any() % limit);
}

static void assert_same(const char *path, size_t threads, size_t chunk_size,
                        const tenter_buffer *expected) {
  loaded l = load_with(&path, 1, NULL, threads, chunk_size);
  tenter_buffer found = print_loaded(&l);
  if (found.length != expected->length || memcmp(found.bytes, expected->bytes, found.length) != 0)
    fail_msg("%s differs with %zu threads and chunks of %zu:\n%.*s\n--- not ---\n%.*s", path,
             threads, chunk_size, (int)found.length, found.bytes, (int)expected->length,
             expected->bytes);
  tenter_buffer_release(&found);
  unload(&l);
}

/* Chunks down to a few bytes, so that borders fall everywhere. */
static void check_invariance(const char *path) {
  static const size_t sizes[] = {2, 16, 30, 64, 130, 1000};
  loaded l = load_with(&path, 1, NULL, 1, CHUNK_SIZE);
  tenter_buffer expected = print_loaded(&l);
  unload(&l);
  for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++)
    assert_same(path, 1 + i % 2, sizes[i], &expected);
  tenter_buffer_release(&expected);
}

static void check_folder(const char *folder) {
  tenter_arena *arena = tenter_arena_new();
  char **paths;
  size_t count;
  assert_int_equal(tenter_folder_list(folder, arena, &paths, &count, NULL), TENTER_OK);
  assert_true(count > 0);
  for (size_t i = 0; i < count; i++) {
    tenter_path_kind kind;
    assert_int_equal(tenter_path_look(paths[i], &kind, NULL), TENTER_OK);
    if (strstr(paths[i], ".csv") || kind == TENTER_PATH_FOLDER)
      check_invariance(paths[i]);
  }
  tenter_arena_free(arena);
}

static void test_data(void **state) {
  (void)state;
  check_folder(TEST_DATA);
  check_folder(TEST_DATA "/../fresh/sets");
}

/* ---- random tables --------------------------------------------------------------------------- */

static void add_quoted(tenter_buffer *b, const char *text) {
  tenter_buffer_byte(b, '"');
  for (; *text; text++) {
    if (*text == '"')
      tenter_buffer_byte(b, '"');
    tenter_buffer_byte(b, *text);
  }
  tenter_buffer_byte(b, '"');
}

/* A text that needs quotation marks, or not. */
static void random_text(char text[16]) {
  static const char letters[] = "abcS-19 \"\n\r,;\xC3\xA4";
  size_t length = below(12), out = 0;
  for (size_t i = 0; i < length; i++) {
    char letter = letters[below(sizeof letters - 1)];
    if ((unsigned char)letter >= 0x80) { /* only whole characters */
      text[out++] = '\xC3';
      letter = '\xA4';
    }
    text[out++] = letter;
    if (out > 12)
      break;
  }
  text[out] = '\0';
}

static void add_cell(tenter_buffer *b, const char *text, char delimiter) {
  char needs[] = {delimiter, '"', '\n', '\r', '\0'};
  if (strpbrk(text, needs) || below(4) == 0)
    add_quoted(b, text);
  else
    tenter_buffer_text(b, text);
}

static void add_row(tenter_buffer *b, char delimiter, const char *line_end) {
  static const char *const places[] = {"C", "NW", "top left", "by the door", ""};
  static const char *const directions[] = {"warp", "weft", "", "diagonal"};
  static const char *const tensions[] = {"22.5", "7", "101", "broken", "", "33.125"};
  char text[16];
  if (below(12) == 0) {
    tenter_buffer_text(b, below(2) ? line_end : "   ");
    if (b->bytes[b->length - 1] == ' ')
      tenter_buffer_text(b, line_end);
    return;
  }
  random_text(text);
  add_cell(b, text, delimiter);
  tenter_buffer_print(b, "%c2026-03-%02zu %02zu:%02zu%c", delimiter, 1 + below(31), below(24),
                      below(60), delimiter);
  add_cell(b, places[below(5)], delimiter);
  tenter_buffer_byte(b, delimiter);
  add_cell(b, directions[below(8) ? below(3) : 3], delimiter);
  tenter_buffer_byte(b, delimiter);
  add_cell(b, tensions[below(8) ? 0 : below(6)], delimiter);
  if (below(3)) {
    tenter_buffer_byte(b, delimiter);
    random_text(text);
    add_cell(b, text, delimiter);
  }
  if (below(10) == 0) {
    tenter_buffer_byte(b, delimiter);
    add_cell(b, below(2) ? "" : "more", delimiter);
  }
  tenter_buffer_text(b, line_end);
}

/* ---- the plain reader ------------------------------------------------------------------------ */

typedef struct plain_row {
  char cells[8][64];
  size_t count;
  uint32_t line;
} plain_row;

/* RFC 4180, one byte at a time. Returns the next row's begin. */
static const char *plain_read(const char *at, const char *end, char delimiter, uint32_t *line,
                              plain_row *row) {
  bool quoted = false;
  size_t length = 0;
  *row = (plain_row){.count = 1, .line = *line};
  while (at < end) {
    char byte = *at++;
    if (byte == '\n')
      ++*line;
    if (quoted) {
      if (byte == '"' && at < end && *at == '"')
        row->cells[row->count - 1][length++] = *at++;
      else if (byte == '"')
        quoted = false;
      else
        row->cells[row->count - 1][length++] = byte;
    } else if (byte == '"' && length == 0) {
      quoted = true;
    } else if (byte == delimiter) {
      row->count++;
      length = 0;
    } else if (byte == '\n') {
      break;
    } else if (byte != '\r') {
      row->cells[row->count - 1][length++] = byte;
    }
  }
  return at;
}

static tenter_text plain_cell(const plain_row *row, size_t index) {
  return tenter_text_trim(tenter_text_of(index < row->count ? row->cells[index] : ""));
}

/* What becomes of a row: 'b'lank, 'r'ejected or 'a'ccepted. */
static char plain_verdict(const plain_row *row) {
  bool blank = true, more = false;
  for (size_t i = 0; i < row->count; i++) {
    blank = blank && plain_cell(row, i).length == 0;
    more = more || (i >= 6 && plain_cell(row, i).length > 0);
  }
  if (blank)
    return 'b';
  tenter_text tension = plain_cell(row, 4), direction = plain_cell(row, 3);
  bool number = tenter_text_equal(tension, tenter_text_of("22.5")) ||
                tenter_text_equal(tension, tenter_text_of("7")) ||
                tenter_text_equal(tension, tenter_text_of("33.125"));
  return more || plain_cell(row, 0).length == 0 || !number ||
                 tenter_text_equal(direction, tenter_text_of("diagonal"))
             ? 'r'
             : 'a';
}

static size_t find_line(const tenter_readings *r, uint32_t line) {
  for (size_t i = 0; i < r->count; i++)
    if (r->line[i] == line)
      return i;
  return SIZE_MAX;
}

static void check_row(const tenter_tables *t, const plain_row *row) {
  size_t i = find_line(&t->readings, row->line);
  assert_true(i != SIZE_MAX);
  tenter_text screen = tenter_names_text(t->names[TENTER_NAME_SCREEN], t->readings.screen[i]);
  assert_true(tenter_text_equal(screen, plain_cell(row, 0)));
  assert_close(t->readings.tension[i], strtod(row->cells[4], NULL), 0, 0);
  tenter_text note = plain_cell(row, 5);
  if (note.length == 0)
    assert_int_equal(t->readings.note[i], TENTER_NO_NAME);
  else
    assert_true(tenter_text_equal(
        tenter_names_text(t->names[TENTER_NAME_NOTE], t->readings.note[i]), note));
}

static void check_random(const tenter_buffer *text, size_t header, char delimiter) {
  write_bytes("random.csv", text->bytes, text->length);
  write_bytes("tenter.ini", "[intake]\nrepeats = keep\n", 24);
  const char *path = "random.csv";
  loaded l = load_with(&path, 1, NULL, 2, 64 + below(200));
  assert_loaded(&l);
  uint64_t counts[128] = {0};
  uint32_t line = 2;
  const char *end = text->bytes + text->length;
  for (const char *at = text->bytes + header; at < end;) {
    plain_row row;
    at = plain_read(at, end, delimiter, &line, &row);
    char verdict = plain_verdict(&row);
    counts[(int)verdict]++;
    if (verdict == 'a')
      check_row(l.tables, &row);
  }
  const tenter_source *s = &l.tables->sources[0];
  assert_int_equal(s->accepted, counts['a']);
  assert_int_equal(s->rejected, counts['r']);
  assert_int_equal(s->blank, counts['b']);
  assert_int_equal(s->rows, s->accepted + s->rejected + s->blank);
  unload(&l);
}

static void test_random_tables(void **state) {
  (void)state;
  static const char delimiters[] = ",;\t|";
  for (int round = 0; round < 150; round++) {
    char delimiter = delimiters[below(4)];
    const char *line_end = below(2) ? "\n" : "\r\n";
    tenter_buffer text = {0};
    tenter_buffer_print(&text, "screen%ctaken%cposition%cdirection%ctension%cnote%s", delimiter,
                        delimiter, delimiter, delimiter, delimiter, line_end);
    size_t header = text.length;
    tenter_buffer_print(&text, "S%c2026-03-01%cC%cwarp%c22.5%s", delimiter, delimiter, delimiter,
                        delimiter, line_end);
    for (size_t row = 0; row < 40; row++)
      add_row(&text, delimiter, line_end);
    check_random(&text, header, delimiter);
    check_invariance("random.csv");
    tenter_buffer_release(&text);
  }
  remove("tenter.ini");
}

/* A row with quotation marks over a mebibyte was never closed; the rest of the file is read. */
static void test_long_quote(void **state) {
  (void)state;
  tenter_buffer text = {0};
  tenter_buffer_text(&text, "screen,taken,tension,note\nS1,2026-03-02,22.5,\"open\n");
  for (int i = 0; i < 60000; i++)
    tenter_buffer_print(&text, "S%d,2026-03-02,22.5,x\n", i);
  write_bytes("long.csv", text.bytes, text.length);
  tenter_buffer_release(&text);
  loaded l = load_path("long.csv");
  assert_loaded(&l);
  assert_int_equal(l.tables->sources[0].accepted, 60000);
  assert_int_equal(l.tables->sources[0].rejected, 1);
  tenter_buffer expected = print_loaded(&l);
  assert_same("long.csv", 2, 5000, &expected);
  tenter_buffer_release(&expected);
  unload(&l);
}

/* Of many problems the texts of the first 100,000 are kept, whatever the chunks. */
static void test_many_problems(void **state) {
  (void)state;
  tenter_buffer text = {0};
  tenter_buffer_text(&text, "screen,taken,tension\nS1,2026-03-02,22.5\n");
  for (int i = 0; i < 150000; i++)
    tenter_buffer_print(&text, "S,,%d\n", i);
  write_bytes("many.csv", text.bytes, text.length);
  tenter_buffer_release(&text);
  const char *path = "many.csv";
  for (size_t size = 3000; size <= CHUNK_SIZE; size *= 100) {
    loaded l = load_with(&path, 1, NULL, 2, size);
    assert_loaded(&l);
    assert_int_equal(l.tables->problem_count, 150001);
    assert_string_equal(l.tables->problems[99999].text, "S,,99999");
    assert_string_equal(l.tables->problems[100000].text, "");
    assert_int_equal(l.tables->problems[100000].row.line, 100003);
    assert_string_equal(l.tables->problems[100001].reason,
                        "from here on 50000 more problems are listed without the text of their "
                        "rows");
    unload(&l);
  }
}

/* ---- evidence behind the sample -------------------------------------------------------------- */

/* A file whose last row says what the 300 KiB before it leave open. */
static loaded load_late(const char *header, const char *row, const char *last) {
  tenter_buffer text = {0};
  tenter_buffer_text(&text, header);
  while (text.length < SAMPLE_SIZE + 50000)
    tenter_buffer_text(&text, row);
  tenter_buffer_text(&text, last);
  write_bytes("late.csv", text.bytes, text.length);
  write_bytes("tenter.ini", "[intake]\nrepeats = keep\n", 24);
  tenter_buffer_release(&text);
  const char *path = "late.csv";
  loaded l = load_with(&path, 1, NULL, 2, 1 << 16);
  remove("tenter.ini");
  assert_loaded(&l);
  assert_int_equal(l.tables->sources[0].accepted, l.tables->sources[0].rows);
  return l;
}

static void test_late_comma(void **state) {
  (void)state;
  loaded l =
      load_late("screen;taken;tension\n", "S1;2026-03-02 08:00;22\n", "S1;2026-03-03 08:00;22,5\n");
  assert_close(l.tables->readings.tension[l.tables->readings.count - 1], 22.5, 0, 0);
  unload(&l);
}

static void test_late_umlaut(void **state) {
  (void)state;
  loaded l = load_late("screen,taken,tension,note\n", "S1,2026-03-02 08:00,22,\n",
                       "S1,2026-03-03 08:00,22,m\xFC"
                       "de\n");
  assert_string_equal(tenter_names_get(l.tables->names[TENTER_NAME_NOTE], 0), "m\xC3\xBC"
                                                                              "de");
  unload(&l);
}

static void test_late_order(void **state) {
  (void)state;
  loaded l =
      load_late("screen,taken,tension\n", "S1,03/02/2026 08:00,22\n", "S1,02/25/2026 08:00,22\n");
  tenter_when first = {l.tables->readings.taken[0], false};
  tenter_when second = {l.tables->readings.taken[1], false};
  char text[TENTER_TIME_SIZE];
  assert_string_equal(tenter_when_print(first, text), "2026-02-25T08:00");
  assert_string_equal(tenter_when_print(second, text), "2026-03-02T08:00");
  unload(&l);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_data),       cmocka_unit_test(test_random_tables),
      cmocka_unit_test(test_long_quote), cmocka_unit_test(test_many_problems),
      cmocka_unit_test(test_late_comma), cmocka_unit_test(test_late_umlaut),
      cmocka_unit_test(test_late_order)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
