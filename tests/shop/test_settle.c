/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The canonical order: against a slow twin, against itself on shuffled rows, and repetitions by
 * hand. */
#include "tables_fixture.h"

static uint64_t random_state;

static uint32_t random_below(uint32_t limit) { /* a fixed linear congruence: same rows every run */
  random_state = random_state * 6364136223846793005U + 1442695040888963407U;
  return (uint32_t)((random_state >> 33) % limit);
}

static void settle(tenter_tables *t, bool keep, size_t threads) {
  tenter_settings settings = tenter_settings_default();
  settings.repeats = keep ? TENTER_REPEATS_KEEP : TENTER_REPEATS_DROP;
  tenter_pool *pool = tenter_pool_new(threads);
  assert_int_equal(tenter_tables_settle(t, &settings, pool, NULL), TENTER_OK);
  assert_true(t->settled);
  tenter_pool_free(pool);
}

/* count readings of a few screens, many of them alike; order permutes the rows. */
static tenter_tables *random_tables(size_t count, const uint32_t *order) {
  static const char *const screens[] = {"S-10", "S-9", "s-9", "B", "<b>"};
  static const char *const places[] = {"C", "NW", "E"};
  tenter_tables *t = tables_make(3);
  char taken[32];
  for (size_t k = 0; k < count; k++) {
    random_state = 7919U * (order[k] + 1);
    random_below(2);
    const char *screen = screens[random_below(5)], *place = places[random_below(3)];
    snprintf(taken, sizeof taken, "2026-03-%02uT10:%02u", 1 + random_below(5), random_below(3));
    size_t i = add_reading(t, screen, taken, position(t, place, NAN, NAN),
                           (tenter_direction)random_below(3), 20 + random_below(3));
    t->readings.trial[i] = (uint16_t)random_below(2);
    t->readings.meter[i] = (uint16_t)name(t, TENTER_NAME_METER, random_below(2) ? "M1" : "M0");
    t->readings.line[i] = order[k] + 2;
  }
  return t;
}

typedef struct plain { /* a reading with its names spelled out, for the twin */
  const char *screen, *position, *meter;
  uint32_t taken, line;
  int direction, trial;
  double tension;
} plain;

static plain plain_of(const tenter_tables *t, size_t i) {
  const tenter_readings *r = &t->readings;
  return (plain){tenter_names_get(t->names[TENTER_NAME_SCREEN], r->screen[i]),
                 t->positions[r->position[i]].label,
                 tenter_names_get(t->names[TENTER_NAME_METER], r->meter[i]),
                 r->taken[i],
                 r->line[i],
                 r->direction[i],
                 r->trial[i],
                 r->tension[i]};
}

static int plain_order(const void *a, const void *b) {
  const plain *p = a, *q = b;
  int order = tenter_text_natural(tenter_text_of(p->screen), tenter_text_of(q->screen));
  if (!order)
    order = (p->taken > q->taken) - (p->taken < q->taken);
  if (!order)
    order = strcmp(p->position, q->position); /* places without coordinates: by label */
  if (!order)
    order = p->direction - q->direction;
  if (!order)
    order = p->trial - q->trial;
  if (!order)
    order = strcmp(p->meter, q->meter);
  if (!order)
    order = (p->tension > q->tension) - (p->tension < q->tension);
  return order;
}

static int plain_order_line(const void *a, const void *b) {
  int order = plain_order(a, b);
  const plain *p = a, *q = b;
  return order ? order : (p->line > q->line) - (p->line < q->line);
}

enum { ROWS = 3000 };

static void same_as_slow_twin(void **state) {
  (void)state;
  uint32_t order[ROWS];
  for (uint32_t i = 0; i < ROWS; i++)
    order[i] = i;
  tenter_tables *t = random_tables(ROWS, order);
  plain *twin = calloc(ROWS, sizeof *twin);
  for (size_t i = 0; i < ROWS; i++)
    twin[i] = plain_of(t, i);
  /* the names move when they are sorted: copies of the texts */
  for (size_t i = 0; i < ROWS; i++) {
    twin[i].screen = strdup(twin[i].screen);
    twin[i].meter = strdup(twin[i].meter);
  }
  qsort(twin, ROWS, sizeof *twin, plain_order_line);
  size_t kept = 0;
  for (size_t i = 0; i < ROWS; i++)
    if (kept == 0 || plain_order(&twin[kept - 1], &twin[i]) != 0) {
      plain first = twin[i];
      twin[i] = twin[kept];
      twin[kept++] = first;
    }
  settle(t, false, 2);
  assert_int_equal(t->readings.count, kept);
  assert_true(kept < ROWS);
  assert_int_equal(t->sources[0].repeated, ROWS - kept);
  assert_int_equal(t->sources[0].accepted, kept);
  for (size_t i = 0; i < kept; i++) {
    plain ours = plain_of(t, i);
    assert_int_equal(plain_order_line(&ours, &twin[i]), 0);
  }
  for (size_t i = 0; i < ROWS; i++) {
    free((void *)(uintptr_t)twin[i].screen);
    free((void *)(uintptr_t)twin[i].meter);
  }
  free(twin);
  tenter_tables_free(t);
}

static void order_of_rows_changes_nothing(void **state) {
  (void)state;
  uint32_t order[ROWS];
  for (uint32_t i = 0; i < ROWS; i++)
    order[i] = i;
  tenter_tables *plain_rows = random_tables(ROWS, order);
  random_state = 5;
  for (uint32_t i = ROWS - 1; i > 0; i--) { /* Fisher and Yates */
    uint32_t k = random_below(i + 1), held = order[i];
    order[i] = order[k];
    order[k] = held;
  }
  tenter_tables *shuffled = random_tables(ROWS, order);
  settle(plain_rows, false, 1);
  settle(shuffled, false, 3);
  const tenter_readings *a = &plain_rows->readings, *b = &shuffled->readings;
  assert_int_equal(a->count, b->count);
  assert_memory_equal(a->tension, b->tension, a->count * sizeof *a->tension);
  assert_memory_equal(a->taken, b->taken, a->count * sizeof *a->taken);
  assert_memory_equal(a->screen, b->screen, a->count * sizeof *a->screen);
  assert_memory_equal(a->position, b->position, a->count * sizeof *a->position);
  assert_memory_equal(a->meter, b->meter, a->count * sizeof *a->meter);
  assert_memory_equal(a->line, b->line, a->count * sizeof *a->line);
  tenter_tables_free(plain_rows);
  tenter_tables_free(shuffled);
}

static void repeats_can_be_kept(void **state) {
  (void)state;
  tenter_tables *t = tables_make(3);
  uint16_t centre = position(t, "C", 0, 0);
  for (int i = 0; i < 2; i++)
    add_reading(t, "A", "2026-03-01T10:00", centre, TENTER_WARP, 22.5);
  settle(t, true, 1);
  assert_int_equal(t->readings.count, 2);
  assert_int_equal(t->sources[0].repeated, 0);
  tenter_tables_free(t);
}

/* The same place and time with another value is a second reading. */
static void other_value_is_no_repetition(void **state) {
  (void)state;
  tenter_tables *t = tables_make(3);
  uint16_t centre = position(t, "C", 0, 0);
  add_reading(t, "A", "2026-03-01T10:00", centre, TENTER_WARP, 22.5);
  add_reading(t, "A", "2026-03-01T10:00", centre, TENTER_WARP, 22.4);
  settle(t, false, 1);
  assert_int_equal(t->readings.count, 2);
  tenter_tables_free(t);
}

/* Wide rows: two equal readings of one row are two columns, not a repetition; a row that repeats
 * another counts once; a row that shares one of its two readings with another stays whole. */
static void wide_rows(void **state) {
  (void)state;
  tenter_tables *t = tables_make(3);
  uint16_t centre = position(t, "C", 0, 0);
  static const struct {
    uint32_t line, row;
    double tension;
  } cells[] = {{2, 11, 20}, {2, 11, 20}, {3, 11, 20}, {3, 11, 20}, {4, 12, 20}, {4, 12, 21}};
  for (size_t k = 0; k < 6; k++) {
    size_t i = add_reading(t, "A", "2026-03-01", centre, TENTER_WARP, cells[k].tension);
    t->readings.line[i] = cells[k].line;
    t->readings.row[i] = cells[k].row;
  }
  t->sources[0].rows = t->sources[0].accepted = 3;
  settle(t, false, 1);
  assert_int_equal(t->readings.count, 4);
  assert_int_equal(t->sources[0].repeated, 1);
  assert_int_equal(t->sources[0].accepted, 2);
  tenter_tables_free(t);
}

static void small_tables(void **state) {
  (void)state;
  tenter_tables *t = tables_make(3);
  add_event(t, "B", "2026-03-02", TENTER_EVENT_GLUED);
  add_event(t, "A", "2026-03-02", TENTER_EVENT_STRETCHED);
  add_event(t, "B", "2026-03-02", TENTER_EVENT_GLUED);
  add_register(t, "B")->attributes.target = 22;
  add_register(t, "B")->attributes.target = 22;
  add_register(t, "B")->attributes.target = 23;
  settle(t, false, 1);
  assert_int_equal(t->event_count, 2);
  assert_string_equal(tenter_names_get(t->names[TENTER_NAME_SCREEN], t->events[0].screen), "A");
  assert_int_equal(t->events[1].row.line, 2); /* the first of the two equal rows stays */
  assert_int_equal(t->sources[1].repeated, 1);
  assert_int_equal(t->register_count, 2);
  assert_int_equal(t->sources[2].repeated, 1);
  tenter_tables_free(t);
}

/* A million rows of one screen, in reverse order of time, alike in all but the minute: no worse
 * than n log n. */
static void one_screen_many_rows(void **state) {
  (void)state;
  enum { MANY = 1000000 };
  tenter_tables *t = tables_make(1);
  tenter_readings_release(&t->readings);
  assert_int_equal(tenter_readings_reserve(&t->readings, MANY,
                                           TENTER_READINGS_OPERATOR | TENTER_READINGS_TRIAL |
                                               TENTER_READINGS_FILE,
                                           NULL),
                   0);
  uint32_t screen = name(t, TENTER_NAME_SCREEN, "A");
  for (uint32_t i = 0; i < MANY; i++) {
    t->readings.screen[i] = screen;
    t->readings.taken[i] = 1700000000 - i / 2; /* every moment twice: half are repetitions */
    t->readings.line[i] = i + 2;
    t->readings.tension[i] = 20;
  }
  t->sources[0].accepted = MANY;
  settle(t, false, 2);
  assert_int_equal(t->readings.count, MANY / 2);
  for (uint32_t i = 1; i < MANY / 2; i++)
    assert_true(t->readings.taken[i - 1] < t->readings.taken[i]);
  tenter_tables_free(t);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(same_as_slow_twin),   cmocka_unit_test(order_of_rows_changes_nothing),
      cmocka_unit_test(repeats_can_be_kept), cmocka_unit_test(other_value_is_no_repetition),
      cmocka_unit_test(wide_rows),           cmocka_unit_test(small_tables),
      cmocka_unit_test(one_screen_many_rows)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
