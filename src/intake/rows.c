/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rows of one reading each, and the loop over all rows: the hot path. A row without quotation marks
 * is split by a bit mask of 64 bytes at a time; its date, its repeating texts and its number are
 * recognised from the row before or from a small memo, and nothing is allocated. All else goes the
 * careful way. */
#include <math.h>
#include <stdio.h>

#include "rows.h"

/* ---- time ----------------------------------------------------------------------------------- */

static inline unsigned digit_at(const char *p) {
  return (unsigned)(unsigned char)*p - '0';
}

/* Whether the text (with 16 readable bytes) begins with the last date, of at most 16 bytes. */
static inline bool begins_with(const last_date *last, tenter_text text) {
  return ((load8(text.start) ^ load8(last->text)) & last->mask[0]) == 0 &&
         ((load8(text.start + 8) ^ load8(last->text + 8)) & last->mask[1]) == 0;
}

/* "HH:MM" or "HH:MM:SS": seconds; -1 where it is not of that form. */
static inline int clock_fast(const char *p, size_t length) {
  unsigned a = digit_at(p), b = digit_at(p + 1), c = digit_at(p + 3), d = digit_at(p + 4);
  unsigned e = 0, f = 0;
  if ((length != 5 && length != 8) || p[2] != ':')
    return -1;
  if (length == 8) {
    if (p[5] != ':')
      return -1;
    e = digit_at(p + 6);
    f = digit_at(p + 7);
  }
  if (a > 9 || b > 9 || c > 5 || d > 9 || e > 5 || f > 9)
    return -1;
  int hour = (int)(a * 10 + b);
  return hour > 23 ? -1 : hour * 3600 + (int)(c * 10 + d) * 60 + (int)(e * 10 + f);
}

/* Where the row's date is that of an earlier row and its clock is plain. What the date says about
 * orders was noted with that row. */
static inline bool taken_fast(const reader *r, tenter_text text, uint32_t *taken) {
  const last_date *last = &r->memory->date;
  size_t date = last->length;
  if (date == 0 || text.length <= date + 5 || !begins_with(last, text) ||
      (text.start[date] != 'T' && text.start[date] != ' '))
    return false;
  int seconds = clock_fast(text.start + date + 1, text.length - date - 1);
  if (seconds < 0)
    return false;
  *taken = last->midnight + (uint32_t)seconds;
  return *taken <= r->all->now_limit;
}

/* Remembers the date of a time that was read the careful way. */
static void remember_date(reader *r, tenter_text text, tenter_when when) {
  last_date *last = &r->memory->date;
  const char *stop = memchr(text.start, 'T', text.length);
  if (!stop)
    stop = memchr(text.start, ' ', text.length);
  size_t length = stop ? (size_t)(stop - text.start) : 0;
  tenter_when alone;
  unsigned orders;
  if (length == 0 || length > sizeof last->text ||
      (length == last->length && memcmp(text.start, last->text, length) == 0))
    return;
  last->length = 0;
  if (!tenter__time_read((tenter_text){text.start, length}, r->in->order, &alone, &orders) ||
      tenter_day_start(alone.at) != tenter_day_start(when.at))
    return;
  memcpy(last->text, text.start, length);
  last->mask[0] = keep_bytes(UINT64_MAX, length);
  last->mask[1] = length > 8 ? keep_bytes(UINT64_MAX, length - 8) : 0;
  last->midnight = (uint32_t)tenter_day_start(when.at);
  last->length = length;
}

static bool take_time(reader *r, staged *one) {
  tenter_text text = cell_of(r, ROLE_TAKEN);
  if (taken_fast(r, text, &one->taken))
    return true;
  tenter_when when;
  if (!tenter__take_taken(r, "time", &when))
    return false;
  one->taken = (uint32_t)when.at;
  if (when.date_only)
    one->setup |= TENTER_READING_DATE_ONLY;
  else if (r->at[ROLE_CLOCK] < 0)
    remember_date(r, text, when);
  return true;
}

/* ---- tension -------------------------------------------------------------------------------- */

/* Digits with at most one mark, 15 at most: the nearest double by one division (see values.c). */
static inline bool number_fast(tenter_text text, char mark, double *value, bool *marked) {
  static const double tens[] = {1e0, 1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};
  int64_t whole = 0;
  size_t point = text.length;
  if (text.length - 1 > 14)
    return false;
  for (size_t i = 0; i < text.length; i++) {
    unsigned digit = digit_at(text.start + i);
    if (digit <= 9)
      whole = whole * 10 + digit;
    else if (text.start[i] == mark && point == text.length)
      point = i;
    else
      return false;
  }
  *marked = point < text.length;
  size_t after = *marked ? text.length - 1 - point : 0;
  *value = after ? (double)whole / tens[after] : (double)whole;
  return text.length > (size_t)*marked;
}

static bool take_tension(reader *r, double *tension) {
  const tenter_settings *s = r->all->settings;
  const column *of = column_of(r, ROLE_TENSION);
  tenter_text text = cell_of(r, ROLE_TENSION);
  bool marked;
  double value;
  if (number_fast(text, r->in->dialect.mark, &value, &marked)) {
    if (of->multiply != 1 || of->divide != 1)
      value = value * of->multiply / of->divide;
    if (value >= s->least_tension && value <= s->most_tension) {
      r->out->marks[0] += marked;
      *tension = value;
      return true;
    }
  }
  bounds within = {s->least_tension, s->most_tension};
  return tenter__take_number(r, ROLE_TENSION, "tension", within, tension);
}

/* ---- words ---------------------------------------------------------------------------------- */

/* A direction by its word; TENTER_DIRECTIONS where it is none. */
static tenter_direction direction_of(reader *r, tenter_text text) {
  memo_slot key = {.length = 0}, *slot = NULL;
  if (text.length == 0)
    return TENTER_DIRECTION_NONE;
  if (text.length <= 16) {
    slot = memo_seek(&r->memory->directions, text, &key);
    if (memo_holds(slot, &key))
      return (tenter_direction)slot->value;
  }
  tenter_direction direction = tenter__direction_read(text);
  if (slot) {
    key.value = (uint32_t)direction;
    *slot = key;
  }
  return direction;
}

/* The id of a name of at most 16 bytes from the memo, or from the lexicon. */
static inline uint32_t name_of(reader *r, memo *known, tenter_name_kind kind, tenter_text text) {
  memo_slot key = {.length = 0}, *slot = NULL;
  if (text.length == 0)
    return TENTER_NO_NAME;
  if (text.length <= 16) {
    slot = memo_seek(known, text, &key);
    if (memo_holds(slot, &key))
      return slot->value;
  }
  uint32_t id = tenter__lexicon_name(r->words, kind, text);
  if (id == TENTER_NO_NAME)
    r->failed = true;
  if (slot) {
    key.value = id;
    *slot = key;
  }
  return id;
}

/* Screens are mostly read in the same turn each time: what the memo does not hold is likely the one
 * that came after the last one when it was new. */
static inline uint32_t screen_of(reader *r, tenter_text text) {
  worker *m = r->memory;
  memo_slot key = {.length = 0}, *slot = NULL;
  if (text.length <= 16) {
    slot = memo_seek(&m->screens, text, &key);
    if (memo_holds(slot, &key))
      return m->last_screen = slot->value;
  }
  uint32_t id = m->last_screen + 1;
  if (id >= m->known_screens ||
      !tenter_text_equal(tenter_names_text(r->words->names[TENTER_NAME_SCREEN], id), text)) {
    id = tenter__lexicon_name(r->words, TENTER_NAME_SCREEN, text);
    r->failed = r->failed || id == TENTER_NO_NAME;
    m->known_screens = id + 1 > m->known_screens ? id + 1 : m->known_screens;
  }
  if (slot) {
    key.value = id;
    *slot = key;
  }
  return m->last_screen = id;
}

static inline uint16_t name16_of(reader *r, memo *known, tenter_name_kind kind, tenter_text text) {
  if (text.length == 0)
    return TENTER_NO_NAME16;
  uint32_t id = name_of(r, known, kind, text);
  if (id < TENTER_NO_NAME16)
    return (uint16_t)id;
  r->memory->overflow = true;
  return TENTER_NO_NAME16;
}

static inline uint32_t intern_position(reader *r, tenter_text text) {
  memo_slot key = {.length = 0}, *slot = NULL;
  if (text.length <= 16) {
    slot = memo_seek(&r->memory->positions, text, &key);
    if (memo_holds(slot, &key))
      return slot->value;
  }
  tenter_position place;
  tenter__place_read(text, &r->all->numbers, &place);
  uint32_t id = tenter__position_add(&r->words->positions, &place, text);
  if (id == TENTER_NO_NAME)
    r->failed = true;
  if (id != TENTER_NO_NAME && id >= TENTER_NO_NAME16)
    r->memory->overflow = true;
  if (slot) {
    key.value = id;
    *slot = key;
  }
  return id;
}

/* ---- the parts of a row --------------------------------------------------------------------- */

static bool take_direction(reader *r, reading_head *head) {
  tenter_text text = cell_of(r, ROLE_DIRECTION);
  head->direction = direction_of(r, text);
  if (head->direction != TENTER_DIRECTIONS)
    return true;
  char shown[SHOWN_SIZE];
  tenter__reject(r, TENTER_SAY_KIND_DIRECTION, TENTER_SAY_ROW_DIRECTION, tenter__shown(text, shown),
                 END);
  return false;
}

/* A whole number from 1, or one letter; 0 where it is neither. */
static uint16_t trial_of(tenter_text text) {
  char letter = (char)(text.start[0] | 0x20);
  if (text.length == 1 && letter >= 'a' && letter <= 'z')
    return (uint16_t)(letter - 'a' + 1);
  uint32_t trial = 0;
  for (size_t i = 0; i < text.length; i++) {
    unsigned digit = digit_at(text.start + i);
    trial = trial * 10 + digit;
    if (digit > 9 || trial > UINT16_MAX)
      return 0;
  }
  return (uint16_t)trial;
}

static void take_trial(reader *r, setup *how) {
  tenter_text text = cell_of(r, ROLE_TRIAL);
  if (text.length == 0 || (how->trial = trial_of(text)) > 0)
    return;
  char shown[SHOWN_SIZE];
  tenter__hash_cell(r, column_of(r, ROLE_TRIAL), text);
  tenter__remark(r, TENTER_SAY_KIND_TRIAL, TENTER_SAY_ROW_TRIAL, tenter__shown(text, shown), END);
}

/* x and y in columns of their own become the text "x,y". */
static bool take_xy(reader *r, reading_head *head) {
  tenter_text x = cell_of(r, ROLE_X_CM), y = cell_of(r, ROLE_Y_CM);
  if (x.length == 0 && y.length == 0)
    return true;
  bounds within = {-1000, 1000};
  double at[2];
  if (!tenter__take_number(r, ROLE_X_CM, "x", within, &at[0]) ||
      !tenter__take_number(r, ROLE_Y_CM, "y", within, &at[1]))
    return false;
  char *text = r->memory->pair;
  int length = snprintf(text, sizeof r->memory->pair, "%g,%g", at[0] + 0.0, at[1] + 0.0);
  head->position = (tenter_text){text, (size_t)length};
  return true;
}

static bool names_are_whole(reader *r, const reading_head *head) {
  if (tenter__is_name(head->screen) && tenter__is_name(head->position) &&
      tenter__is_name(head->meter) && tenter__is_name(head->operator))
    return true;
  tenter__reject(r, TENTER_SAY_KIND_NUL, TENTER_SAY_ROW_NUL, END);
  return false;
}

/* Screen and time. */
static inline bool take_start(reader *r, reading_head *head) {
  head->base = (staged){.line = r->line};
  head->screen = cell_of(r, ROLE_SCREEN);
  if (head->screen.length == 0) {
    tenter__reject(r, TENTER_SAY_KIND_NO_SCREEN, TENTER_SAY_ROW_NO_SCREEN, END);
    return false;
  }
  return take_time(r, &head->base);
}

/* What the setup is made of. */
static bool take_setup(reader *r, reading_head *head) {
  if (!take_direction(r, head))
    return false;
  head->position = cell_of(r, ROLE_POSITION);
  if (r->at[ROLE_X_CM] >= 0 && !take_xy(r, head))
    return false;
  head->meter = cell_of(r, ROLE_METER);
  head->operator= cell_of(r, ROLE_OPERATOR);
  return !r->out->has_nul || names_are_whole(r, head);
}

bool tenter__take_head(reader *r, reading_head *head) {
  return take_start(r, head) && take_setup(r, head);
}

/* The attributes of the row; those of the row before where the cells are the same. */
static uint32_t take_attributes(reader *r) {
  worker *m = r->memory;
  tenter_buffer *cells = &m->row_cells;
  tenter_buffer_clear(cells);
  for (int role = ROLE_MESH; role <= ROLE_NEEDED_ON; role++) {
    tenter_text text = cell_of(r, (column_role)role);
    tenter_buffer_add(cells, &text.length, sizeof text.length);
    tenter_buffer_add(cells, text.start, text.length);
  }
  if (m->last_known && !cells->failed && cells->length == m->last_cells.length &&
      memcmp(cells->bytes, m->last_cells.bytes, cells->length) == 0)
    return m->last_attributes;
  size_t problems = r->out->problem_count;
  tenter_attributes attributes;
  uint64_t hash = r->row_hash;
  tenter__read_attributes(r, &attributes);
  uint32_t id = tenter__attributes_add(&r->words->attributes, &attributes);
  r->failed = r->failed || id == UINT32_MAX || cells->failed;
  tenter_buffer swapped = m->last_cells;
  m->last_cells = *cells;
  *cells = swapped;
  m->last_attributes = id;
  /* What is remarked must be remarked on each row. */
  m->last_known = problems == r->out->problem_count && hash == r->row_hash;
  return id;
}

/* Ids for what the setup is made of. */
static void intern_parts(reader *r, reading_head *head) {
  worker *m = r->memory;
  setup *how = &head->how;
  *how = (setup){.direction = (uint16_t)head->direction, .position = TENTER_NO_NAME16};
  how->meter = name16_of(r, &m->meters, TENTER_NAME_METER, head->meter);
  how->operator= name16_of(r, &m->operators, TENTER_NAME_OPERATOR, head->operator);
  if (head->position.length > 0)
    how->position = (uint16_t)intern_position(r, head->position);
  if (r->at[ROLE_TRIAL] >= 0)
    take_trial(r, how);
}

uint32_t tenter__intern_setup(reader *r, const setup *how) {
  uint32_t id = tenter__setup_add(&r->words->setups, how);
  r->failed = r->failed || id == UINT32_MAX;
  return id;
}

/* Screen, attributes and note. */
static inline void intern_rest(reader *r, reading_head *head) {
  head->base.screen = screen_of(r, head->screen);
  head->more = (staged_more){.note = TENTER_NO_NAME};
  if (r->in->has_attributes)
    head->more.attributes = take_attributes(r);
  if (r->in->has_note)
    head->more.note = tenter__take_name(r, ROLE_NOTE, TENTER_NAME_NOTE);
}

bool tenter__intern_head(reader *r, reading_head *head) {
  intern_parts(r, head);
  intern_rest(r, head);
  return !r->failed;
}

static inline void keep_reading(reader *r, const staged *one, const staged_more *more) {
  chunk *out = r->out;
  staged *kept = out->count < out->room ? (staged *)out->items + out->count++ : tenter__new_item(r);
  if (!kept)
    return;
  *kept = *one;
  if (out->more)
    out->more[out->count - 1] = *more;
}

void tenter__keep_reading(reader *r, const staged *one, const staged_more *more) {
  keep_reading(r, one, more);
}

/* The cells of the setup as one text, where they stand side by side in a plain row; else empty. */
static inline tenter_text run_of(const reader *r) {
  if (r->in->run_first < 0 || !r->plain || r->cell_count <= (size_t)r->in->run_last)
    return (tenter_text){"", 0};
  const tenter_text *first = &r->cells[r->in->run_first], *last = &r->cells[r->in->run_last];
  return (tenter_text){first->start, (size_t)(last->start + last->length - first->start)};
}

static bool learn_setup(reader *r, reading_head *head, run_slot *slot, run_slot *key) {
  size_t problems = r->out->problem_count;
  intern_parts(r, head);
  uint32_t id = tenter__intern_setup(r, &head->how);
  head->base.setup |= id << 8;
  if (slot && problems == r->out->problem_count) { /* what is remarked must be remarked again */
    key->value = id;
    *slot = *key;
  }
  return !r->failed;
}

static inline void take_reading(reader *r) {
  reading_head head;
  run_slot key = {.length = 0}, *slot = NULL;
  tenter_text run = run_of(r);
  bool known = false;
  if (!take_start(r, &head))
    return;
  if (run.length - 1 < 32) {
    slot = run_seek(&r->memory->runs, run, &key);
    known = run_holds(slot, &key);
  }
  if ((!known && !take_setup(r, &head)) || !take_tension(r, &head.base.tension))
    return;
  if (known)
    head.base.setup |= slot->value << 8;
  else if (!learn_setup(r, &head, slot, &key))
    return;
  intern_rest(r, &head);
  if (column_of(r, ROLE_TENSION)->misnamed)
    head.base.setup |= TENTER_READING_MISNAMED_UNIT;
  if (r->in->has_row)
    head.more.row = tenter__row_hash(r, false);
  if (r->failed)
    return;
  keep_reading(r, &head.base, &head.more);
  r->out->accepted++;
}

/* ---- the loop over rows --------------------------------------------------------------------- */

static void take_by_table(reader *r) {
  switch (r->in->layout.table) {
  case TENTER_TABLE_READINGS:
    if (r->in->layout.wide)
      tenter__take_session(r);
    else
      take_reading(r);
    break;
  case TENTER_TABLE_REGISTER:
    tenter__take_register(r);
    break;
  case TENTER_TABLE_EVENTS:
    tenter__take_event(r);
    break;
  case TENTER_TABLE_METER_CHECKS:
    tenter__take_check(r);
    break;
  }
}

/* A row whose cells lie in memory->cells, count of them. */
static inline void take_row(reader *r, size_t count) {
  worker *m = r->memory;
  size_t wanted = r->in->layout.count;
  r->cells = m->cells;
  r->cell_count = count;
  r->row_hash = 0;
  for (size_t i = count; i < wanted; i++)
    m->cells[i] = (tenter_text){"", 0};
  r->out->rows++;
  if (cell_trim(m->cells[0]).length == 0 && tenter__row_is_blank(r)) {
    r->out->blank++;
    return;
  }
  if (m->more_cells) {
    char has[FIGURE_SIZE], most[FIGURE_SIZE];
    tenter__reject(r, TENTER_SAY_KIND_CELLS,
                   r->in->dialect.delimiter == '\t' ? TENTER_SAY_ROW_CELLS_TAB
                                                    : TENTER_SAY_ROW_CELLS,
                   tenter__figure((double)count, has), tenter__figure((double)wanted, most), END);
    return;
  }
  if (r->out->check_utf8 &&
      !tenter_text_is_utf8((tenter_text){r->row, (size_t)(r->row_end - r->row)})) {
    tenter__reject(r, TENTER_SAY_KIND_UTF8, TENTER_SAY_ROW_UTF8, END);
    return;
  }
  take_by_table(r);
}

/* One row by the careful splitter. Returns the next row; NULL where it is unfinished. */
static const char *take_careful(reader *r, const char *row, const char *end, bool whole) {
  worker *m = r->memory;
  split s = {.delimiter = r->in->dialect.delimiter,
             .newline = r->in->dialect.newline,
             .cells = m->cells,
             .room = r->in->layout.count,
             .scratch = m->scratch};
  split_end status = tenter__split_row(&s, row, end, whole);
  if (status == SPLIT_UNFINISHED)
    return NULL;
  r->row = row;
  r->row_end = s.next;
  r->plain = false;
  m->more_cells = s.more;
  if (status == SPLIT_UNCLOSED) {
    r->out->rows++;
    tenter__reject(r, TENTER_SAY_KIND_QUOTE, TENTER_SAY_ROW_QUOTE, END);
  } else {
    take_row(r, s.count);
  }
  r->line += s.lines;
  return s.next;
}

static inline void drop_return(tenter_text *cell) {
  if (cell->length > 0 && cell->start[cell->length - 1] == '\r')
    cell->length--;
}

const char *tenter__take_rows(reader *r, const char *at, const char *limit, const char *end,
                              bool whole, bool *unfinished) {
  const char delimiter = r->in->dialect.delimiter, newline = r->in->dialect.newline;
  const size_t room = r->in->layout.count;
  tenter_text *cells = r->memory->cells;
  const char *row = at, *block = at;
  unsigned high = 0;
  uint64_t marks = row < limit ? tenter__marks(block, delimiter, newline, &high) : 0;
  while (row < limit && !r->failed) {
    const char *start = row;
    size_t count = 0;
    r->memory->more_cells = false;
    for (;;) {
      while (marks == 0) {
        block += 64;
        marks = tenter__marks(block, delimiter, newline, &high);
      }
      const char *mark = block + __builtin_ctzll(marks);
      marks &= marks - 1;
      if (*mark == '"' && mark < end) {
        start = NULL;
        break;
      }
      tenter_text cell = {start, (size_t)(mark - start)};
      if (count < room)
        cells[count] = cell;
      else if (cell_trim(cell).length > 0)
        r->memory->more_cells = true;
      count++;
      start = mark + 1;
      if (*mark == newline || mark >= end)
        break;
    }
    if (!start) {
      const char *next = take_careful(r, row, end, whole);
      if (!next) {
        *unfinished = true;
        break;
      }
      row = block = next;
      marks = row < limit ? tenter__marks(block, delimiter, newline, &high) : 0;
      continue;
    }
    if (start > end && !whole) { /* the mark was the sentinel at the end of the buffer */
      *unfinished = true;
      break;
    }
    if (count <= room)
      drop_return(&cells[count - 1]);
    r->row = row;
    r->plain = true;
    r->row_end = start > end ? end : start;
    take_row(r, count);
    r->line++;
    row = r->row_end;
  }
  r->out->not_utf8 = r->out->not_utf8 || high != 0; /* chunk.c looks closer */
  return row;
}
