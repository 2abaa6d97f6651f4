/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The files of the demo shop, in the several dialects of a real one, with a
 * few things wrong on purpose. Every wrong row is noted, with its line, in
 * s->wrong, for truth.json. */
#include "demo.h"

#include <stdlib.h>
#include <string.h>

typedef struct {
  FILE *file;
  const char *name, *end; /* end: of a line */
  long line;              /* of the row being written */
} table;

FILE *open_in(const char *folder, const char *name) {
  char path[4200];
  snprintf(path, sizeof path, "%s/%s", folder, name);
  FILE *file = fopen(path, "wb");
  if (!file)
    fprintf(stderr, "generate_demo: cannot write %s\n", path);
  return file;
}

static bool open_table(table *t, const char *folder, const char *name, const char *end,
                       const char *header) {
  *t = (table){.file = open_in(folder, name), .name = name, .end = end, .line = 2};
  if (t->file)
    fprintf(t->file, "%s%s", header, end);
  return t->file != NULL;
}

static void end_line(table *t) {
  fputs(t->end, t->file);
  t->line++;
}

static bool close_table(table *t) {
  bool ok = !ferror(t->file);
  return fclose(t->file) == 0 && ok;
}

static void note_wrong(shop *s, const table *t, const char *kind, int which, int shown, int meant) {
  s->wrong = grow(s->wrong, s->n_wrong, sizeof *s->wrong);
  s->wrong[s->n_wrong++] = (wrong_row){t->name, kind, t->line, which, shown, meant};
}

/* --- times and numbers --- */

/* STYLE holds Y, M, D, h, m where the parts go: "Y-M-D h:m", "D/M/Y h:m". */
void format_time(long at, char text[20], const char *style) {
  static const int length[12] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  int day = (int)(at / DAY), minute = (int)(at % DAY), month = 0, n = 0;
  while (day >= length[month])
    day -= length[month++];
  for (; *style && n < 15; style++) {
    int part = *style == 'M'   ? month + 1
               : *style == 'D' ? day + 1
               : *style == 'h' ? minute / 60
               : *style == 'm' ? minute % 60
                               : -1;
    if (*style == 'Y') {
      memcpy(text + n, "2026", 4);
      n += 4;
    } else if (part >= 0) {
      text[n++] = (char)('0' + part / 10 % 10);
      text[n++] = (char)('0' + part % 10);
    } else {
      text[n++] = *style;
    }
  }
  text[n] = '\0';
}

static void put_value(FILE *f, int hundredths, char mark) {
  if (hundredths % 10)
    fprintf(f, "%d%c%02d", hundredths / 100, mark, hundredths % 100);
  else
    fprintf(f, "%d%c%d", hundredths / 100, mark, hundredths / 10 % 10);
}

/* --- readings, one row a reading --- */

typedef enum {
  FLAW_NONE,
  FLAW_REPEATED,
  FLAW_BLANK,
  FLAW_NO_ID,
  FLAW_TENFOLD,
  FLAW_ZERO,
  FLAW_TEXT,
  FLAW_DATE,
  FLAW_YEAR
} flaw;

typedef struct {
  int row;
  flaw what;
} planned_flaw;

typedef struct {
  const char *name, *end, *header, *style, *bad_date, *bad_year, *blank;
  char delimiter, mark;
  bool has_note;
  int first_day, last_day; /* of the sessions in it */
  const planned_flaw *flaws;
} dialect;

static const planned_flaw flaws_q2[] = {
    {412, FLAW_REPEATED}, {1290, FLAW_BLANK}, {2105, FLAW_NO_ID},    {2377, FLAW_REPEATED},
    {3010, FLAW_TENFOLD}, {3555, FLAW_BLANK}, {4021, FLAW_REPEATED}, {0, FLAW_NONE}};
static const planned_flaw flaws_q3[] = {
    {705, FLAW_DATE},  {1502, FLAW_BLANK}, {2600, FLAW_NO_ID},    {3111, FLAW_TENFOLD},
    {8200, FLAW_ZERO}, {9003, FLAW_TEXT},  {9500, FLAW_REPEATED}, {0, FLAW_NONE}};
static const planned_flaw flaws_q4[] = {
    {300, FLAW_YEAR}, {1200, FLAW_REPEATED}, {2001, FLAW_BLANK}, {2502, FLAW_DATE}, {0, FLAW_NONE}};
static const planned_flaw flaws_none[] = {{0, FLAW_NONE}};

static const char q3_header[] = "Screen ID;Date/Time;Pos.;Dir;Tension [N/cm];Meter;Operator";

static const dialect dialects[] = {
    {"readings-2026-q2.csv", "\n", "screen,taken,position,direction,tension,meter,operator,note",
     "Y-M-D h:m", "", "", "", ',', '.', true, 137, 180, flaws_q2},
    {"readings-2026-q3.csv", "\r\n", q3_header, "D/M/Y h:m", "31/09/2026 10:15", "", ";;;;;;", ';',
     ',', false, 181, 272, flaws_q3},
    {"readings-2026-q4.csv", "\n",
     "\xef\xbb\xbfscreen,taken,position,direction,tension (N),meter,operator,note", "Y-M-DTh:m",
     "last week", "2062-10-07T09:12", ",,,,,,,", ',', '.', true, 273, 400, flaws_q4},
    {"readings-2026-week-33.csv", "\r\n", q3_header, "D/M/Y h:m", "", "", "", ';', ',', false, 221,
     227, flaws_none},
};

static flaw flaw_of_row(const dialect *d, int row) {
  for (const planned_flaw *p = d->flaws; p->what != FLAW_NONE; p++)
    if (p->row == row)
      return p->what;
  return FLAW_NONE;
}

static void put_time(FILE *f, const dialect *d, const session *t, int i, flaw what) {
  char text[20];
  format_time(t->typed + i / 4, text, d->style);
  fputs(what == FLAW_DATE ? d->bad_date : what == FLAW_YEAR ? d->bad_year : text, f);
}

static void put_tension(FILE *f, const dialect *d, const session *t, int i, flaw what) {
  if (what == FLAW_TEXT)
    fputs("wet", f);
  else
    put_value(f,
              what == FLAW_TENFOLD ? t->meant[i] * 10
              : what == FLAW_ZERO  ? 0
                                   : t->shown[i],
              d->mark);
}

/* Quoted, with inner quotes doubled. */
static void put_note(FILE *f, const char *note) {
  if (!note)
    return;
  fputc('"', f);
  for (; *note; note++)
    fputs(*note == '"' ? "\"\"" : (const char[]){*note, '\0'}, f);
  fputc('"', f);
}

static void put_reading(FILE *f, const dialect *d, const session *t, int i, flaw what) {
  int direction = t->swapped ? 1 - t->direction[i] : t->direction[i];
  if (what != FLAW_NO_ID)
    fprintf(f, "S-%03d", t->screen + 1);
  fputc(d->delimiter, f);
  put_time(f, d, t, i, what);
  fprintf(f, "%c%s%c%s%c", d->delimiter, position_names[t->position[i]], d->delimiter,
          direction == 0 ? "warp" : "weft", d->delimiter);
  put_tension(f, d, t, i, what);
  fprintf(f, "%c%s%c%s", d->delimiter, meters[t->meter].name, d->delimiter, operators[t->who]);
  if (d->has_note) {
    fputc(d->delimiter, f);
    put_note(f, i == 0 ? t->note : NULL);
  }
}

static const char *flaw_kind(flaw what) {
  static const char *const kinds[] = {"",
                                      "repeated row",
                                      "blank row",
                                      "missing id",
                                      "impossible value",
                                      "impossible value",
                                      "not a number",
                                      "unreadable date",
                                      "year in the future"};
  return kinds[what];
}

/* A row, what is wrong with it, and what follows it. */
static void write_row(shop *s, table *out, const dialect *d, const session *t, int i, int row) {
  flaw what = flaw_of_row(d, row);
  bool follows = what == FLAW_REPEATED || what == FLAW_BLANK;
  if (what != FLAW_NONE && !follows)
    note_wrong(s, out, flaw_kind(what), t->screen, -1, t->meant[i]);
  else if (t->shown[i] != t->meant[i] && d->flaws != flaws_none)
    note_wrong(s, out, "misread", t->screen, t->shown[i], t->meant[i]);
  put_reading(out->file, d, t, i, follows ? FLAW_NONE : what);
  end_line(out);
  if (!follows)
    return;
  note_wrong(s, out, flaw_kind(what), what == FLAW_BLANK ? -1 : t->screen, -1, -1);
  if (what == FLAW_REPEATED)
    put_reading(out->file, d, t, i, FLAW_NONE);
  else
    fputs(d->blank, out->file);
  end_line(out);
}

static void note_session(shop *s, const table *out, const dialect *d, const session *t) {
  if (d->flaws == flaws_none)
    return;
  if (t->swapped)
    note_wrong(s, out, "warp and weft swapped in this session", t->screen, -1, -1);
  if (t->typed != t->at)
    note_wrong(s, out, "date typed two days early: before the stretch", t->screen, -1, -1);
}

static bool write_long(shop *s, const char *folder, const dialect *d) {
  table out;
  int row = 0;
  if (!open_table(&out, folder, d->name, d->end, d->header))
    return false;
  if (d->flaws == flaws_none)
    note_wrong(s, &out, "whole file repeats a week of readings-2026-q3.csv", -1, -1, -1);
  for (size_t k = 0; k < s->n_sessions; k++) {
    const session *t = &s->sessions[k];
    int day = (int)(t->at / DAY);
    if (t->where != FILE_RACK || day < d->first_day || day > d->last_day)
      continue;
    note_session(s, &out, d, t);
    for (int i = 0; i < t->n; i++)
      write_row(s, &out, d, t, i, ++row);
  }
  return close_table(&out);
}

/* --- readings, one row a session, and the gauge study --- */

static void put_points(FILE *f, const session *t) {
  for (int i = 0; i < 2 * POSITIONS; i++) {
    fputc(',', f);
    if (i < t->n)
      put_value(f, t->shown[i], '.');
  }
}

static void note_misreads(shop *s, const table *out, const session *t) {
  for (int i = 0; i < t->n; i++)
    if (t->shown[i] != t->meant[i])
      note_wrong(s, out, "misread", t->screen, t->shown[i], t->meant[i]);
}

static bool write_press_room(shop *s, const char *folder) {
  table out;
  char text[20];
  if (!open_table(&out, folder, "readings-press-room.csv", "\n",
                  "Screen,Taken,Meter,Operator,centre_warp,centre_weft,NW_warp,NW_weft,NE_warp,"
                  "NE_weft,SW_warp,SW_weft,SE_warp,SE_weft,N_warp,N_weft,E_warp,E_weft,S_warp,"
                  "S_weft,W_warp,W_weft"))
    return false;
  for (size_t k = 0; k < s->n_sessions; k++) {
    const session *t = &s->sessions[k];
    if (t->where != FILE_PRESS)
      continue;
    format_time(t->at, text, "Y-M-D h:m");
    note_misreads(s, &out, t);
    fprintf(out.file, "S-%03d,%s,%s,%s", t->screen + 1, text, meters[t->meter].name,
            operators[t->who]);
    put_points(out.file, t);
    end_line(&out);
  }
  return close_table(&out);
}

static bool write_gauge_study(const shop *s, const char *folder) {
  table out;
  char text[20];
  if (!open_table(&out, folder, "gauge-study.csv", "\n",
                  "screen,taken,position,direction,trial,tension,meter,operator"))
    return false;
  for (size_t k = 0; k < s->n_sessions; k++) {
    const session *t = &s->sessions[k];
    if (t->where != FILE_GAUGE)
      continue;
    format_time(t->at, text, "Y-M-D h:m");
    fprintf(out.file, "S-%03d,%s,centre,warp,%d,", t->screen + 1, text, t->trial);
    put_value(out.file, t->shown[0], '.');
    fprintf(out.file, ",%s,%s", meters[t->meter].name, operators[t->who]);
    end_line(&out);
  }
  return close_table(&out);
}

/* --- register --- */

/* The mounting the register knows of: the last one that was written down. */
static const mounting *registered(const shop *s, int which) {
  const mounting *found = NULL;
  for (size_t i = 0; i < s->n_mountings; i++) {
    const mounting *m = &s->mountings[i];
    bool unlogged = s->screens[which].role == ROLE_UNLOGGED && !m->logged && found;
    if (m->screen == which && !unlogged)
      found = m;
  }
  return found;
}

static void put_register_row(const shop *s, table *out, int which, int lot_shown) {
  const screen *c = &s->screens[which];
  const mounting *m = registered(s, which);
  const job_of *job = job_of_screen(s, which);
  bool small = c->positions == 5;
  char text[20];
  format_time(m->stretched, text, m->stretched < 105 * (long)DAY ? "Y-M-D" : "Y-M-D h:m");
  if (c->role == ROLE_UNKNOWN_STRETCH)
    text[0] = '\0';
  fprintf(out->file, "S-%03d,%s,%s,%s,%s,%s,%s,%c-%d,", which + 1, meshes[c->mesh].name,
          lots[lot_shown].name, text, c->role == ROLE_UNKNOWN_STRETCH ? "" : stations[m->station],
          c->retensionable ? "retensionable" : "glued", small ? "60,90" : "140,160", 'A' + c->rack,
          c->slot);
  fprintf(out->file, "%s,%s,%s,%s", c->set ? c->set : "", job ? job->customer : "",
          job ? job->order : "", job ? job->needed_on : "");
  end_line(out);
}

static bool write_register(shop *s, const char *folder) {
  table out;
  if (!open_table(&out, folder, "register.csv", "\r\n",
                  "Screen ID,Mesh,Lot,Stretched,Station,Frame,Width cm,Height cm,Place,Set,"
                  "Customer,Order,Needed on"))
    return false;
  for (int i = 0; i < SCREENS; i++) {
    int true_lot = registered(s, i)->lot;
    put_register_row(s, &out, i, true_lot);
    if (s->screens[i].role != ROLE_TWO_LOTS)
      continue;
    note_wrong(s, &out, "second row for the screen, with another lot", i, -1, -1);
    put_register_row(s, &out, i, true_lot == 1 ? 2 : 1);
  }
  return close_table(&out);
}

/* --- events, checks, config --- */

static int by_time(const void *a, const void *b) {
  const event *x = a, *y = b;
  if (x->at != y->at)
    return x->at < y->at ? -1 : 1;
  return x->order < y->order ? -1 : x->order > y->order;
}

static void put_event(table *out, const event *e, const char *when) {
  fprintf(out->file, "S-%03d,%s,%s,", e->screen + 1, when, e->what);
  if (e->count >= 0)
    fprintf(out->file, "%d", e->count);
  fprintf(out->file, ",%s,%s,%s,%s", e->lot < 0 ? "" : lots[e->lot].name,
          e->mesh < 0 ? "" : meshes[e->mesh].name, e->station < 0 ? "" : stations[e->station],
          operators[e->who]);
  end_line(out);
}

static bool write_events(shop *s, const char *folder) {
  table out;
  char text[20];
  if (!open_table(&out, folder, "events.csv", "\n",
                  "screen,at,event,count,lot,mesh,station,operator"))
    return false;
  qsort(s->events, s->n_events, sizeof *s->events, by_time);
  bool spoiled = false;
  for (size_t i = 0; i < s->n_events; i++) {
    const event *e = &s->events[i];
    bool spoil = i > 400 && !spoiled && e->count >= 0;
    format_time(e->at, text, e->date_only ? "Y-M-D" : "Y-M-D h:m");
    if (spoil)
      note_wrong(s, &out, "unreadable date", e->screen, -1, -1);
    put_event(&out, e, spoil ? "2026-13-02 09:10" : text);
    spoiled = spoiled || spoil;
  }
  return close_table(&out);
}

static bool write_checks(const shop *s, const char *folder) {
  table out;
  char text[20];
  if (!open_table(&out, folder, "meter-checks.csv", "\n", "meter,at,nominal,indicated,operator"))
    return false;
  for (size_t i = 0; i < s->n_checks; i++) {
    const plate_check *c = &s->checks[i];
    format_time(c->day * (long)DAY, text, "Y-M-D");
    fprintf(out.file, "%s,%s,", meters[c->meter].name, text);
    put_value(out.file, c->nominal, '.');
    fputc(',', out.file);
    put_value(out.file, c->indicated, '.');
    fprintf(out.file, ",%s", operators[c->who]);
    end_line(&out);
  }
  return close_table(&out);
}

static void put_mesh_section(FILE *f, const mesh *m) {
  fprintf(f, "\n[mesh %s]\ntarget = %.1f\nfloor = %.1f\n", m->name, m->target, m->floor);
  if (m->coarse_floor > 0)
    fprintf(f, "coarse_floor = %.1f\n", m->coarse_floor);
  fprintf(f, "maximum = %.1f\n", m->maximum);
}

static bool write_config(const char *folder) {
  FILE *f = open_in(folder, "tenter.ini");
  if (!f)
    return false;
  fputs("# The demo shop's settings. Tension in N/cm.\n\n"
        "[report]\nlogo = logo.svg\naccent = #7a2e1d\n\n"
        "[spec]\nminus = 2\nplus = 2\n",
        f);
  for (int i = 0; i < MESHES; i++)
    put_mesh_section(f, &meshes[i]);
  for (int i = 0; i < METERS; i++)
    fprintf(f,
            "\n[meter %s]\nresolution = %.1f\nexpanded_uncertainty = %.1f\n"
            "coverage_factor = 2\nchecked_every_days = 7\n",
            meters[i].name, meters[i].resolution, meters[i].resolution > 0.2 ? 0.6 : 0.4);
  fputs("\n[review]\nhorizon_days = 7\nrisk = 0.05\nsettling_hours = 24\nstale_days = 14\n", f);
  fputs("\n[certificate]\nname = The Demo Shop\naddress = 1 Frame Street, Anywhere\n"
        "sampling_plan = n=10, k=1.41\n",
        f);
  fputs("\n[cost]\nrestretch = 12\nfailure = 400\ncurrency = EUR\n", f);
  bool ok = !ferror(f);
  return fclose(f) == 0 && ok;
}

static int by_session(const void *a, const void *b) {
  const session *x = a, *y = b;
  if (x->at != y->at)
    return x->at < y->at ? -1 : 1;
  return x->screen < y->screen ? -1 : x->screen > y->screen;
}

bool write_demo(shop *s, const char *folder) {
  qsort(s->sessions, s->n_sessions, sizeof *s->sessions, by_session);
  for (size_t i = 0; i < sizeof dialects / sizeof *dialects; i++)
    if (!write_long(s, folder, &dialects[i]))
      return false;
  return write_press_room(s, folder) && write_gauge_study(s, folder) && write_register(s, folder) &&
         write_events(s, folder) && write_checks(s, folder) && write_config(folder);
}
