/* SPDX-License-Identifier: GPL-3.0-or-later */
/* worklist.ics, read back by a parser of this file: content lines, folding, escaping and what an
 * entry must hold, by RFC 5545 (section numbers beside the checks). */
#include <ctype.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <gsl/gsl_errno.h>

#include "shared_shop.h"
#include "tenter/base/file.h"

enum { SCREENS = 160, MOST_ENTRIES = 32 };

typedef struct entry {
  char uid[80], stamp[20], start[12], end[12], summary[80], sequence[20];
  char description[1 << 14]; /* unescaped */
  int uids, stamps, starts, ends, summaries, descriptions;
} entry;

typedef struct parsed {
  entry entries[MOST_ENTRIES];
  int count;
} parsed;

static const tenter_report_options options = {.version = "1.2.3"};
static report_shop shop;

/* ---- reading ---- */

/* 3.1: lines end with CRLF and are at most 75 octets long, the line end apart; a character is never
 * cut in two here. Unfolds in place. */
static void unfold(char *text, size_t length) {
  size_t line = 0, to = 0;
  for (size_t i = 0; i < length; i++) {
    unsigned char byte = (unsigned char)text[i];
    if (byte == '\r') {
      assert_int_equal(text[i + 1], '\n');
      assert_true(line <= 75);
      line = 0;
      if (text[i + 2] == ' ') { /* folded */
        assert_true(((unsigned char)text[i + 3] & 0xC0) != 0x80);
        i += 2;
        line = 1;
      } else {
        text[to++] = '\n';
        i++;
      }
      continue;
    }
    assert_true(byte >= 0x20 && byte != 0x7F); /* 3.1: no control character in a value */
    text[to++] = (char)byte;
    line++;
  }
  text[to] = '\0';
}

/* 3.3.11: only \\ \; \, \n \N are escapes, and ; and , stand in no TEXT without one. */
static void unescape(const char *value, char *out, size_t room) {
  size_t n = 0;
  for (; *value; value++) {
    assert_true(n + 1 < room);
    assert_true(*value != ',' && *value != ';');
    if (*value == '\\') {
      value++;
      assert_non_null(strchr("\\;,nN", *value));
      out[n++] = *value == 'n' || *value == 'N' ? '\n' : *value;
    } else {
      out[n++] = *value;
    }
  }
  out[n] = '\0';
}

static void take(entry *e, const char *name, const char *parameter, const char *value) {
  bool date = strcmp(name, "DTSTART") == 0 || strcmp(name, "DTEND") == 0;
  assert_string_equal(parameter, date ? "VALUE=DATE" : "");
  if (strcmp(name, "UID") == 0)
    e->uids++, snprintf(e->uid, sizeof e->uid, "%s", value);
  else if (strcmp(name, "DTSTAMP") == 0)
    e->stamps++, snprintf(e->stamp, sizeof e->stamp, "%s", value);
  else if (strcmp(name, "SEQUENCE") == 0)
    snprintf(e->sequence, sizeof e->sequence, "%s", value);
  else if (strcmp(name, "DTSTART") == 0)
    e->starts++, snprintf(e->start, sizeof e->start, "%s", value);
  else if (strcmp(name, "DTEND") == 0)
    e->ends++, snprintf(e->end, sizeof e->end, "%s", value);
  else if (strcmp(name, "SUMMARY") == 0)
    unescape(value, e->summary, sizeof e->summary), e->summaries++;
  else if (strcmp(name, "DESCRIPTION") == 0)
    unescape(value, e->description, sizeof e->description), e->descriptions++;
  else if (strcmp(name, "TRANSP") == 0)
    assert_string_equal(value, "TRANSPARENT"); /* 3.8.2.7 */
  else
    fail_msg("a property that is not expected: %s", name);
}

/* 3.1: name *(";" param) ":" value; names are letters, digits and hyphens. */
static void split(char *line, char **name, char **parameter, char **value) {
  size_t n = strspn(line, "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-");
  assert_true(n > 0 && (line[n] == ':' || line[n] == ';'));
  *name = line;
  *parameter = line + strlen(line); /* "" */
  *value = strchr(line, ':') + 1;
  (*value)[-1] = '\0';
  if (line[n] == ';') {
    line[n] = '\0';
    *parameter = line + n + 1;
  }
}

static parsed *parse(tenter_buffer *file) {
  parsed *p = calloc(1, sizeof *p);
  char *name, *parameter, *value, *next;
  entry *open = NULL;
  int version = 0, product = 0, ended = 0;
  unfold(file->bytes, file->length);
  assert_int_equal(strncmp(file->bytes, "BEGIN:VCALENDAR\n", 16), 0); /* 3.4 */
  for (char *line = file->bytes + 16; *line; line = next) {
    next = strchr(line, '\n') + 1;
    next[-1] = '\0';
    assert_int_equal(ended, 0);
    split(line, &name, &parameter, &value);
    if (strcmp(name, "BEGIN") == 0) {
      assert_string_equal(value, "VEVENT");
      assert_null(open);
      assert_true(p->count < MOST_ENTRIES);
      open = &p->entries[p->count++];
    } else if (strcmp(name, "END") == 0) {
      assert_string_equal(value, open ? "VEVENT" : "VCALENDAR");
      ended = open == NULL;
      open = NULL;
    } else if (open) {
      take(open, name, parameter, value);
    } else {
      version += strcmp(name, "VERSION") == 0 && strcmp(value, "2.0") == 0; /* 3.7.4 */
      product += strcmp(name, "PRODID") == 0;                               /* 3.7.3 */
    }
  }
  assert_true(ended && version == 1 && product == 1); /* 3.6 */
  return p;
}

static parsed *calendar_of(const char *folder) {
  char note[TENTER_MESSAGE_SIZE], path[64];
  tenter_error error = {0};
  tenter_buffer file = {0};
  if (tenter_report_review_files(shop.review, &options, folder, note, &error) != TENTER_OK)
    fail_msg("%s", error.message);
  snprintf(path, sizeof path, "%s/worklist.ics", folder);
  assert_int_equal(tenter_file_slurp(path, SIZE_MAX, &file, NULL), TENTER_OK);
  assert_non_null(tenter_buffer_string(&file));
  parsed *p = parse(&file);
  tenter_buffer_release(&file);
  return p;
}

/* ---- checks ---- */

/* A place of 80 letters of two bytes: where lines are folded, a letter is in the way. */
static void make_place(void) {
  char name[200] = "x";
  for (int i = 0; i < 80; i++)
    strcat(name, "\xC3\xA9");
  uint32_t id = tenter_names_add(shop.tables->names[TENTER_NAME_PLACE], tenter_text_of(name));
  for (size_t i = 0; i < 4; i++)
    shop.shop->mountings[shop.review->screens[i].mounting].is.place = id;
}

/* Puts screens into weeks by hand: the first ten re-stretched in week 0, one more in week 2, the
 * rest read in week 1. */
static void make_plan(void) {
  for (size_t i = 0; i < shop.review->screen_count; i++) {
    tenter_turn *turn = &shop.review->screens[i].turn;
    turn->restretch_week = i < 10 ? 0 : i == 10 ? 2 : i == 11 ? TENTER_PLAN_WEEKS : -1;
    turn->read_week = i < 10 ? -1 : 1;
  }
}

static void test_entries(void **state) {
  (void)state;
  make_plan();
  parsed *p = calendar_of("out");
  assert_int_equal(p->count, 3); /* what lies beyond the list is not in it */
  assert_string_equal(p->entries[0].summary, "Re-stretch 10 screens");
  assert_string_equal(p->entries[1].summary, "Re-stretch 1 screen");
  assert_string_equal(p->entries[2].summary, "Read 150 screens");
  for (int i = 0; i < p->count; i++) {
    const entry *e = &p->entries[i];
    assert_true(e->uids == 1 && e->stamps == 1 && e->starts == 1); /* 3.6.1 */
    assert_true(e->ends == 1 && e->summaries == 1 && e->descriptions == 1);
    tenter_date d = tenter_date_of(shop.shop->as_of);
    char stamp[40];
    snprintf(stamp, sizeof stamp, "%04d%02d%02dT%02d%02d%02dZ", d.year, d.month, d.day, d.hour,
             d.minute, d.second); /* 3.8.7.2: UTC */
    assert_string_equal(e->stamp, stamp);
    assert_int_equal(strlen(e->start), 8);
    assert_true(strcmp(e->start, e->end) < 0); /* 3.6.1: DTEND is later */
    for (int k = 0; k < i; k++)
      assert_string_not_equal(e->uid, p->entries[k].uid); /* 3.8.4.7 */
  }
  tenter_date monday = tenter_date_of(shop.review->plan_start + 2 * (tenter_time)TENTER_WEEK);
  char start[40];
  snprintf(start, sizeof start, "%04d%02d%02d", monday.year, monday.month, monday.day);
  assert_string_equal(p->entries[1].start, start);
  free(p);
}

/* Names from the data stand in the text as they are, but for characters that a reader would not
 * see: nothing in them ends a line or begins a property. */
static void test_names(void **state) {
  (void)state;
  make_plan();
  parsed *p = calendar_of("out");
  const tenter_names *names = shop.tables->names[TENTER_NAME_SCREEN];
  for (size_t i = 0; i < 10; i++) {
    const char *screen = tenter_names_get(names, shop.review->screens[i].screen);
    char plain[64];
    size_t n = strcspn(screen, "\xE2\x1b"); /* up to what is replaced */
    snprintf(plain, sizeof plain, "%.*s", (int)(n < 60 ? n : 60), screen);
    assert_non_null(strstr(p->entries[0].description, plain));
  }
  assert_non_null(strstr(p->entries[2].description, "\nAnd 90 more.")); /* 60 are named */
  assert_null(strstr(p->entries[2].description, "\x1b"));
  free(p);
}

/* A later review keeps the UIDs and has a later stamp and a sequence number that is not lower
 * (3.8.7.4), so that a calendar replaces its entries. */
static void test_stable(void **state) {
  (void)state;
  make_plan();
  parsed *p = calendar_of("out");
  shop.shop->as_of += TENTER_DAY;
  parsed *q = calendar_of("out");
  shop.shop->as_of -= TENTER_DAY;
  assert_int_equal(p->count, q->count);
  for (int i = 0; i < p->count; i++) {
    assert_string_equal(p->entries[i].uid, q->entries[i].uid);
    assert_true(strcmp(p->entries[i].stamp, q->entries[i].stamp) < 0);
    assert_int_equal(atol(p->entries[i].sequence) + 1, atol(q->entries[i].sequence));
  }
  free(p);
  free(q);
}

/* Nothing to do: a calendar without entries. */
static void test_empty(void **state) {
  (void)state;
  for (size_t i = 0; i < shop.review->screen_count; i++)
    shop.review->screens[i].turn.restretch_week = shop.review->screens[i].turn.read_week = -1;
  parsed *p = calendar_of("out");
  assert_int_equal(p->count, 0);
  free(p);
}

static int make(void **state) {
  (void)state;
  gsl_set_error_handler_off();
  report_shop_make(&shop, SCREENS, NULL);
  make_place();
  return 0;
}

static int drop(void **state) {
  (void)state;
  report_shop_release(&shop);
  return 0;
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_entries), cmocka_unit_test(test_names),
                                     cmocka_unit_test(test_stable), cmocka_unit_test(test_empty)};
  return cmocka_run_group_tests(tests, make, drop);
}
