/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "shared_shop.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { POSITIONS = 5, SESSIONS = 8, PER_SESSION = POSITIONS * 2 };

const char *const report_shop_nasty[] = {
    "<script>document.title='run'</script>",
    "\"><img src=x onerror=\"document.title='run'\">",
    "`touch pwned` $(touch pwned)",
    "'; system('touch pwned'); '",
    "=cmd|' /C calc'!A0",
    "two\nlines, \"quoted\"",
    "\xE2\x80\xAE"
    "rtl \x1b[31mred\x07",
    "{/Symbol a}_2^3 @ %s %n \\u0000 &amp; ${x} {1}",
    "long-long-long-long-long-long-long-long-long-long-long-long-long-long-long-long-long-long-end",
    NULL};

static void fail(const char *message) {
  fprintf(stderr, "the shop of the test can't be made: %s\n", message);
  exit(1);
}

/* A small generator (Knuth, TAOCP 3.3.4, MMIX), so that the shop is the same everywhere. */
static double unit(uint64_t *state) {
  *state = *state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
  return (double)(*state >> 11) / 9007199254740992.0;
}

static double normal(uint64_t *state) {
  double sum = -6; /* of twelve uniform numbers */
  for (int i = 0; i < 12; i++)
    sum += unit(state);
  return sum;
}

static uint32_t add_name(tenter_tables *tables, tenter_name_kind kind, const char *name) {
  return tenter_names_add(tables->names[kind], tenter_text_of(name));
}

static void add_positions(tenter_tables *tables) {
  static const tenter_position positions[POSITIONS] = {
      {"C", TENTER_PLACE_CENTRE, 0, 0, NAN, NAN},
      {"it's <b>", TENTER_PLACE_CORNER, -1, 1, NAN, NAN},
      {"NE", TENTER_PLACE_CORNER, 1, 1, NAN, NAN},
      {"SE", TENTER_PLACE_CORNER, 1, -1, NAN, NAN},
      {"SW", TENTER_PLACE_CORNER, -1, -1, NAN, NAN}};
  tenter_position *copy = tenter_arena_alloc(tables->arena, POSITIONS, sizeof *copy);
  if (copy == NULL)
    fail("memory");
  memcpy(copy, positions, sizeof positions);
  tables->positions = copy;
  tables->position_count = POSITIONS;
}

static void add_sources(tenter_tables *tables, size_t screens) {
  tenter_source *sources = tenter_arena_alloc(tables->arena, 2, sizeof *sources);
  if (sources == NULL)
    fail("memory");
  uint64_t rows = screens * SESSIONS;
  sources[0] = (tenter_source){
      .file = "week <45> \"a\".csv", .wide = true, .rows = rows + 3, .accepted = rows};
  sources[0].rejected = 2;
  sources[0].blank = 1;
  sources[1] = (tenter_source){
      .file = "register.csv", .table = TENTER_TABLE_REGISTER, .rows = screens, .accepted = screens};
  memset(sources[0].sha256, 'a', 64);
  memset(sources[1].sha256, 'b', 64);
  tables->sources = sources;
  tables->source_count = 2;
}

static void add_columns(tenter_tables *tables) {
  tenter_column *columns = tenter_arena_alloc(tables->arena, 3, sizeof *columns);
  if (columns == NULL)
    fail("memory");
  columns[0] = (tenter_column){0, "Screen ID", "screen"};
  columns[1] = (tenter_column){0, "<i>colour</i>", ""};
  columns[2] = (tenter_column){1, "Screen", "screen"};
  tables->columns = columns;
  tables->column_count = 3;
}

static void screen_name(size_t index, char *name, size_t size) {
  if (index < REPORT_SHOP_NASTY)
    snprintf(name, size, "%s", report_shop_nasty[index]);
  else
    snprintf(name, size, "S-%zu", index);
}

static tenter_time first_stretch(void) {
  tenter_when when;
  tenter_when_parse_iso(tenter_text_of("2026-08-03T08:00"), &when);
  return when.at;
}

static void add_register_row(tenter_tables *tables, uint32_t screen, size_t index,
                             tenter_time stretched) {
  static const char *const meshes[] = {"120-34", "49-55 <mesh>"};
  char words[64];
  tenter_attributes is = tenter_attributes_none();
  is.mesh = add_name(tables, TENTER_NAME_MESH, meshes[index % 2]);
  snprintf(words, sizeof words, "L%zu & %zu", index % 2, index / 2 % 3);
  is.lot = add_name(tables, TENTER_NAME_LOT, words);
  snprintf(words, sizeof words, "Rack %zu", index % 12 + 1);
  is.place = add_name(tables, TENTER_NAME_PLACE, words);
  snprintf(words, sizeof words, "Job %zu", index / 4);
  is.set = add_name(tables, TENTER_NAME_SET, words);
  is.customer = add_name(tables, TENTER_NAME_CUSTOMER, "Buyer <b>&\"1\"");
  is.needed_on = (tenter_when){stretched + 200 * TENTER_DAY, true};
  is.stretched.at = stretched;
  is.frame = index % 3 == 0 ? TENTER_FRAME_RETENSIONABLE : TENTER_FRAME_GLUED;
  is.target = index % 2 == 0 ? 22 : 25;
  is.minus = is.plus = 1.5;
  is.maximum = is.target + 8;
  tables->registers[tables->register_count++] =
      (tenter_register_row){.screen = screen, .attributes = is, .row = {1, (uint32_t)index + 2}};
}

static void add_session(tenter_tables *tables, uint32_t screen, tenter_time at, double mean,
                        double corner, uint64_t *state) {
  tenter_readings *r = &tables->readings;
  uint32_t meter = add_name(tables, TENTER_NAME_METER, screen % 2 == 0 ? "M1" : "M<2>");
  uint32_t line = (uint32_t)(r->count / PER_SESSION) + 2;
  for (int i = 0; i < PER_SESSION; i++) {
    size_t k = r->count++;
    double off = i / 2 == POSITIONS - 1 ? corner : 0;
    r->tension[k] = round(10 * (mean + off + 0.2 * normal(state))) / 10;
    r->taken[k] = (uint32_t)at;
    r->screen[k] = screen;
    r->line[k] = line;
    r->file[k] = 0;
    r->position[k] = (uint16_t)(i / 2);
    r->direction[k] = (uint8_t)(i % 2 == 0 ? TENTER_WARP : TENTER_WEFT);
    r->meter[k] = (uint16_t)meter;
    r->operator[k] = TENTER_NO_NAME16;
    r->trial[k] = 0;
    r->flags[k] = 0;
  }
}

/* Every fifth screen has a corner that is off; they lose 4 to 8 % a decade, some far more. */
static void add_screen(tenter_tables *tables, size_t index, uint64_t *state) {
  char name[256];
  screen_name(index, name, sizeof name);
  uint32_t screen = add_name(tables, TENTER_NAME_SCREEN, name);
  tenter_time stretched = first_stretch() + (tenter_time)(index % 30) * TENTER_DAY;
  double target = index % 2 == 0 ? 22 : 25, level = target + 0.4 * normal(state);
  double loss = target * (0.04 + 0.04 * unit(state)) + (index % 7 == 0 ? 2.2 : 0);
  add_register_row(tables, screen, index, stretched);
  for (int session = 0; session < SESSIONS; session++) {
    double hours = 26 + 168.0 * session;
    add_session(tables, screen, stretched + (tenter_time)(hours * TENTER_HOUR),
                level - loss * log10(hours / 24), index % 5 == 0 ? -2.1 : 0, state);
  }
}

static void make_tables(report_shop *made, size_t screens, tenter_pool *pool) {
  tenter_error error = {0};
  uint64_t state = 7;
  made->tables = tenter_tables_new();
  if (made->tables == NULL)
    fail("memory");
  tenter_tables *tables = made->tables;
  add_positions(tables);
  add_sources(tables, screens);
  add_columns(tables);
  tables->registers = tenter_arena_alloc(tables->arena, screens, sizeof *tables->registers);
  if (tables->registers == NULL ||
      tenter_readings_reserve(&tables->readings, screens * SESSIONS * PER_SESSION,
                              TENTER_READINGS_OPERATOR | TENTER_READINGS_TRIAL |
                                  TENTER_READINGS_FILE,
                              &error) != TENTER_OK)
    fail(error.message);
  tables->readings.count = 0; /* reserve sets it; add_session counts up to it again */
  for (size_t i = 0; i < screens; i++)
    add_screen(tables, i, &state);
  tenter_tables_note(tables, (tenter_row){0, 900}, true, "the tension \"<b>\" is no number",
                     "S-1;2026-08-04;<b>", NULL);
  tenter_tables_note(tables, (tenter_row){0, 901}, true, "no date", "=1+1,\"x\"\r\n\x1b[0m", NULL);
  tenter_tables_note(tables, (tenter_row){0, 902}, false, "a note", "", NULL);
  if (tenter_tables_settle(tables, &made->config.settings, pool, &error) != TENTER_OK)
    fail(error.message);
}

/* Findings that a shop of this size need not have by itself. */
static void add_findings(tenter_review *review) {
  tenter_arena *arena = review->arena;
  tenter_reason *reasons = tenter_arena_alloc(arena, 2, sizeof *reasons);
  tenter_row *rows = tenter_arena_alloc(arena, TENTER_SOURCES_NAMED, sizeof *rows);
  const char **with = tenter_arena_alloc(arena, 1, sizeof *with);
  if (reasons == NULL || rows == NULL || with == NULL)
    fail("memory");
  for (uint32_t i = 0; i < TENTER_SOURCES_NAMED; i++)
    rows[i] = (tenter_row){0, i + 2};
  with[0] = "station <2>";
  tenter_review_screen *screen = &review->screens[0];
  review->actions[screen->action]--;
  screen->action = TENTER_ACTION_WITHDRAW;
  review->actions[screen->action]++;
  reasons[0] = (tenter_reason){TENTER_REASON_POINT_BELOW_FLOOR,
                               TENTER_ACTION_WITHDRAW,
                               "The point <b>SW</b> reads 14.1 N/cm, \"below\" the floor & more.",
                               "The point <b>SW</b> reads 14.1 N/cm, \"below\" the floor & more.",
                               rows,
                               TENTER_SOURCES_NAMED,
                               5};
  reasons[1] = (tenter_reason){
      .code = TENTER_REASON_NOTE, .text = "A note.\x1b[31m", .words = "A note.\x1b[31m"};
  screen->reasons = reasons;
  screen->reason_count = 2;
  if (review->lot_count > 0) {
    review->lots[0].fast = true;
    review->lots[0].confounded_with = with;
    review->lots[0].confounded_count = 1;
  }
  if (review->meter_count > 0) {
    review->meters[0].shifted = true;
    review->meters[0].since = review->shop->as_of - TENTER_WEEK;
  }
  if (review->set_count > 0)
    review->sets[0].agrees = TENTER_VERDICT_BAD;
}

void report_shop_make(report_shop *made, size_t screens, tenter_pool *pool) {
  tenter_error error = {0};
  *made = (report_shop){.spec = tenter_spec_default()};
  made->config = (tenter_config){
      .file = "", .settings = tenter_settings_default(), .specs = &made->spec, .spec_count = 1};
  make_tables(made, screens, pool);
  tenter_time as_of = first_stretch() + 85 * TENTER_DAY;
  if (tenter_shop_new(made->tables, &made->config, as_of, pool, &made->shop, &error) != TENTER_OK ||
      tenter_review_new(made->shop, true, pool, &made->review, &error) != TENTER_OK)
    fail(error.message);
  add_findings(made->review);
}

void report_shop_release(report_shop *made) {
  tenter_review_free(made->review);
  tenter_shop_free(made->shop);
  tenter_tables_free(made->tables);
}
