/* SPDX-License-Identifier: GPL-3.0-or-later */
/* worklist.ics: the next weeks' work as a calendar (RFC 5545): an entry a week for what is
 * re-stretched and one for what is read, Monday to Friday, which blocks no time.
 *
 * An entry keeps its UID from one review to the next (the week, what is done, and the shop's first
 * session), so that a calendar that is given the newer file puts it in place of the older entry;
 * DTSTAMP and SEQUENCE come from the moment of the review. Times in the files have no zone, so that
 * DTSTAMP says the shop's clock where the standard wants UTC: it tells older from newer. */
#include <string.h>

#include "exports.h"
#include "tenter/report/escape.h"
#include "tenter/words/words.h"
#include "work_plan.h"

enum { MOST_OCTETS = 75, MOST_NAMED = 60 };

typedef struct calendar {
  const tenter_review *review;
  tenter_arena *arena;
  tenter_buffer *out;
  tenter_buffer line; /* one content line, not folded yet */
  uint64_t shop;      /* what tells this shop from others */
} calendar;

/* ---- lines ---------------------------------------------------------------------------------- */

/* Ends the line: no more than 75 octets each, a character never cut in two (3.1). */
static void end_line(calendar *c) {
  const char *at = c->line.bytes;
  size_t left = c->line.length, room = MOST_OCTETS;
  while (left > room) {
    size_t cut = room;
    while (((unsigned char)at[cut] & 0xC0) == 0x80)
      cut--;
    tenter_buffer_add(c->out, at, cut);
    tenter_buffer_text(c->out, "\r\n ");
    at += cut;
    left -= cut;
    room = MOST_OCTETS - 1; /* the blank counts */
  }
  tenter_buffer_add(c->out, at, left);
  tenter_buffer_text(c->out, "\r\n");
  c->out->failed |= c->line.failed;
  tenter_buffer_clear(&c->line);
}

static void put_line(calendar *c, const char *line) {
  tenter_buffer_text(&c->line, line);
  end_line(c);
}

static void put_date(calendar *c, const char *property, tenter_time time) {
  tenter_date d = tenter_date_of(time);
  tenter_buffer_print(&c->line, "%s;VALUE=DATE:%04d%02d%02d", property, d.year, d.month, d.day);
  end_line(c);
}

/* ---- entries -------------------------------------------------------------------------------- */

static const char *name(const calendar *c, tenter_name_kind kind, uint32_t id) {
  const char *text = tenter_names_get(c->review->shop->tables->names[kind], id);
  return text[0] != '\0' ? text : tenter_say_text(TENTER_SAY_CALENDAR_NO_NAME);
}

/* FNV-1a (Fowler, Noll, Vo) of the earliest session: its time and its screen. */
static uint64_t shop_key(const tenter_shop *shop) {
  const tenter_session *first = NULL;
  uint64_t hash = 0xcbf29ce484222325U;
  char words[TENTER_TIME_SIZE];
  for (size_t i = 0; i < shop->session_count; i++)
    if (first == NULL || shop->sessions[i].taken < first->taken)
      first = &shop->sessions[i];
  if (first == NULL)
    return hash;
  tenter_time_print(first->taken, words);
  const char *texts[] = {words,
                         tenter_names_get(shop->tables->names[TENTER_NAME_SCREEN], first->screen)};
  for (size_t i = 0; i < 2; i++)
    for (const char *b = texts[i]; *b != '\0'; b++)
      hash = (hash ^ (unsigned char)*b) * 0x100000001b3U;
  return hash;
}

/* The screens of a week, mesh by mesh, each with its place. */
static void describe(calendar *c, const work_plan *plan, size_t first, size_t end) {
  size_t named = end - first < MOST_NAMED ? end : first + MOST_NAMED;
  tenter_buffer text = {0};
  for (size_t i = first; i < named; i++) {
    const work_turn *turn = &plan->turns[i];
    uint32_t place = c->review->shop->mountings[turn->screen->mounting].is.place;
    const char *screen = name(c, TENTER_NAME_SCREEN, turn->screen->screen);
    if (work_plan_opens(plan, i) || i == first)
      tenter_buffer_print(&text, "%s%s: ", i > first ? "\n" : "",
                          name(c, TENTER_NAME_MESH, turn->mesh));
    else
      tenter_buffer_text(&text, ", ");
    if (place != TENTER_NO_NAME)
      screen = tenter_say_fill(c->arena, TENTER_SAY_CALENDAR_PLACE, screen,
                               name(c, TENTER_NAME_PLACE, place), (const char *)NULL);
    tenter_buffer_text(&text, screen);
  }
  if (named < end)
    tenter_buffer_print(&text, "\n%s",
                        tenter_say_fill(c->arena, TENTER_SAY_CALENDAR_MORE,
                                        tenter_arena_print(c->arena, "%zu", end - named),
                                        (const char *)NULL));
  const char *all = tenter_buffer_string(&text);
  tenter_buffer_text(&c->line, "DESCRIPTION:");
  tenter_escape_calendar(&c->line, all != NULL ? all : "");
  c->out->failed |= all == NULL;
  tenter_buffer_release(&text);
  end_line(c);
}

static void summarise(calendar *c, bool readings, size_t count) {
  tenter_say many = readings ? TENTER_SAY_CALENDAR_READ : TENTER_SAY_CALENDAR_RESTRETCH;
  tenter_say one = readings ? TENTER_SAY_CALENDAR_READ_ONE : TENTER_SAY_CALENDAR_RESTRETCH_ONE;
  const char *words =
      count == 1 ? tenter_say_text(one)
                 : tenter_say_fill(c->arena, many, tenter_arena_print(c->arena, "%zu", count),
                                   (const char *)NULL);
  tenter_buffer_text(&c->line, "SUMMARY:");
  tenter_escape_calendar(&c->line, words);
  end_line(c);
}

static void put_entry(calendar *c, const work_plan *plan, bool readings, size_t first, size_t end) {
  tenter_time as_of = c->review->shop->as_of;
  tenter_time monday = c->review->plan_start + plan->turns[first].week * (tenter_time)TENTER_WEEK;
  tenter_date stamp = tenter_date_of(as_of);
  put_line(c, "BEGIN:VEVENT");
  tenter_buffer_print(&c->line, "UID:%s-%s-%016llx@tenter", readings ? "read" : "restretch",
                      work_week_words(c->review, plan->turns[first].week, c->arena),
                      (unsigned long long)c->shop);
  end_line(c);
  tenter_buffer_print(&c->line, "DTSTAMP:%04d%02d%02dT%02d%02d%02dZ", stamp.year, stamp.month,
                      stamp.day, stamp.hour, stamp.minute, stamp.second);
  end_line(c);
  tenter_buffer_print(&c->line, "SEQUENCE:%lld", (long long)(as_of / TENTER_DAY));
  end_line(c);
  put_date(c, "DTSTART", monday);
  put_date(c, "DTEND", monday + 5 * TENTER_DAY); /* the day after the last */
  put_line(c, "TRANSP:TRANSPARENT");
  summarise(c, readings, end - first);
  describe(c, plan, first, end);
  put_line(c, "END:VEVENT");
}

static void put_entries(calendar *c, bool readings) {
  work_plan plan;
  if (!work_plan_new(c->review, readings, c->arena, &plan))
    c->out->failed = true;
  for (size_t first = 0, end; first < plan.count; first = end) {
    for (end = first; end < plan.count && plan.turns[end].week == plan.turns[first].week;)
      end++;
    put_entry(c, &plan, readings, first, end);
  }
}

void export_calendar(const tenter_review *review, tenter_buffer *out) {
  calendar c = {
      .review = review, .arena = tenter_arena_new(), .out = out, .shop = shop_key(review->shop)};
  if (c.arena == NULL) {
    out->failed = true;
    return;
  }
  put_line(&c, "BEGIN:VCALENDAR");
  put_line(&c, "VERSION:2.0");
  put_line(&c, "PRODID:-//tenter//work list//EN");
  put_entries(&c, false);
  put_entries(&c, true);
  put_line(&c, "END:VCALENDAR");
  out->failed |= tenter_arena_failed(c.arena);
  tenter_buffer_release(&c.line);
  tenter_arena_free(c.arena);
}
