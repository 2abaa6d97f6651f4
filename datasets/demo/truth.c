/* SPDX-License-Identifier: GPL-3.0-or-later */
/* truth.json: what is true of the demo shop, for checking findings against.
 * Nothing here needs escaping: all texts are the generator's own ASCII. */
#include "demo.h"

#include <math.h>

static const long end_of_year = (LAST_DAY + 1) * (long)DAY;

/* Loss per decade of a first tension at the mesh's target, N/cm. */
static double loss_at_target(const mesh *m, double factor) {
  double share = m->loss * factor;
  return share * m->target / (1.0 - share * log((double)DAY) / log(10.0));
}

static void put_meshes(FILE *f) {
  fputs("  \"meshes\": [\n", f);
  for (int i = 0; i < MESHES; i++)
    fprintf(f,
            "    { \"mesh\": \"%s\", \"target\": %.1f, \"floor\": %.1f, \"maximum\": %.1f, "
            "\"loss_share\": %.3f, \"loss_per_decade\": %.2f }%s\n",
            meshes[i].name, meshes[i].target, meshes[i].floor, meshes[i].maximum, meshes[i].loss,
            loss_at_target(&meshes[i], 1.0), i + 1 < MESHES ? "," : "");
  fputs("  ],\n", f);
}

static int count_mountings(const shop *s, int which_lot) {
  int n = 0;
  for (size_t i = 0; i < s->n_mountings; i++)
    n += s->mountings[i].lot == which_lot;
  return n;
}

static void put_lots(FILE *f, const shop *s) {
  fputs("  \"lots\": [\n", f);
  for (int i = 0; i < LOTS; i++)
    fprintf(f,
            "    { \"lot\": \"%s\", \"mesh\": \"%s\", \"factor\": %.2f, \"fast\": %s, "
            "\"loss_per_decade\": %.2f, \"mountings\": %d }%s\n",
            lots[i].name, meshes[lots[i].mesh].name, lots[i].factor,
            lots[i].fast ? "true" : "false", loss_at_target(&meshes[lots[i].mesh], lots[i].factor),
            count_mountings(s, i), i + 1 < LOTS ? "," : "");
  fputs("  ],\n", f);
}

static void put_meters(FILE *f) {
  char since[20];
  format_time(DRIFT_DAY * (long)DAY, since, "Y-M-D");
  fputs("  \"meters\": [\n", f);
  for (int i = 0; i < METERS; i++)
    fprintf(f,
            "    { \"meter\": \"%s\", \"bias\": %.1f, \"bias_at_end\": %.1f, \"drifts_since\": "
            "%s%s%s, \"resolution\": %.1f, \"noise_at_20\": %.2f }%s\n",
            meters[i].name, meters[i].bias, meters[i].bias + meters[i].drift,
            meters[i].drift < 0 ? "\"" : "", meters[i].drift < 0 ? since : "null",
            meters[i].drift < 0 ? "\"" : "", meters[i].resolution, noise_at_20,
            i + 1 < METERS ? "," : "");
  fputs("  ],\n  \"operators\": [\n", f);
  for (int i = 0; i < OPERATORS; i++)
    fprintf(f, "    { \"operator\": \"%s\", \"bias\": %.2f }%s\n", operators[i], operator_bias[i],
            i + 1 < OPERATORS ? "," : "");
  fputs("  ],\n", f);
}

static void put_stations(FILE *f) {
  fprintf(f, "  \"corner_minus_centre\": %.1f,\n  \"warp_minus_weft\": 0.3,\n  \"stations\": [\n",
          corner_minus_centre);
  for (int i = 0; i < STATIONS; i++)
    fprintf(f, "    { \"station\": \"%s\", \"east_minus_west\": %.1f }%s\n", stations[i],
            station_east_minus_west[i], i + 1 < STATIONS ? "," : "");
  fputs("  ],\n", f);
}

static void put_screen(FILE *f, const shop *s, int i) {
  const screen *c = &s->screens[i];
  fprintf(f, "    { \"screen\": \"S-%03d\", \"mesh\": \"%s\", \"story\": \"%s\", ", i + 1,
          meshes[c->mesh].name, role_name(c->role));
  if (c->mounting < 0)
    fputs("\"in_use\": false }", f);
  else
    fprintf(f, "\"in_use\": true, \"mounting\": %d, \"tension\": %.2f, \"above_floor\": %.2f }",
            c->mounting, true_mean(&s->mountings[c->mounting], end_of_year),
            true_mean(&s->mountings[c->mounting], end_of_year) - meshes[c->mesh].floor);
}

static void put_screens(FILE *f, const shop *s) {
  fputs("  \"screens\": [\n", f);
  for (int i = 0; i < SCREENS; i++) {
    put_screen(f, s, i);
    fputs(i + 1 < SCREENS ? ",\n" : "\n", f);
  }
  fputs("  ],\n", f);
}

static void put_mounting(FILE *f, const mounting *m) {
  char zero[20], ended[20];
  format_time(m->zero, zero, "Y-M-DTh:m");
  format_time(m->ended < 0 ? 0 : m->ended, ended, "Y-M-DTh:m");
  fprintf(f,
          "    { \"screen\": \"S-%03d\", \"lot\": \"%s\", \"station\": \"%s\", \"zero\": \"%s\", "
          "\"ended\": %s%s%s, \"logged\": %s, \"number\": %d, \"at_24h\": %.2f, "
          "\"loss_per_decade\": %.2f, \"steps\": %.2f }",
          m->screen + 1, lots[m->lot].name, stations[m->station], zero, m->ended < 0 ? "" : "\"",
          m->ended < 0 ? "null" : ended, m->ended < 0 ? "" : "\"", m->logged ? "true" : "false",
          m->number, m->at_24h, m->loss, m->dropped);
}

static void put_mountings(FILE *f, const shop *s) {
  fputs("  \"mountings\": [\n", f);
  for (size_t i = 0; i < s->n_mountings; i++) {
    put_mounting(f, &s->mountings[i]);
    fputs(i + 1 < s->n_mountings ? ",\n" : "\n", f);
  }
  fputs("  ],\n", f);
}

static void put_wrong(FILE *f, const wrong_row *w) {
  fprintf(f, "    { \"file\": \"%s\", \"line\": %ld, \"kind\": \"%s\"", w->file, w->line, w->kind);
  if (w->screen >= 0)
    fprintf(f, ", \"screen\": \"S-%03d\"", w->screen + 1);
  if (w->shown >= 0)
    fprintf(f, ", \"shown\": %.2f", w->shown / 100.0);
  if (w->meant >= 0)
    fprintf(f, ", \"meant\": %.2f", w->meant / 100.0);
  fputs(" }", f);
}

bool write_truth(const shop *s, const char *folder) {
  FILE *f = open_in(folder, "truth.json");
  if (!f)
    return false;
  fprintf(f, "{\n  \"as_of\": \"2026-11-16T00:00\",\n  \"sessions\": %zu,\n", s->n_sessions);
  put_meshes(f);
  put_lots(f, s);
  put_meters(f);
  put_stations(f);
  put_screens(f, s);
  put_mountings(f, s);
  fputs("  \"wrong_rows\": [\n", f);
  for (size_t i = 0; i < s->n_wrong; i++) {
    put_wrong(f, &s->wrong[i]);
    fputs(i + 1 < s->n_wrong ? ",\n" : "\n", f);
  }
  fputs("  ]\n}\n", f);
  bool ok = !ferror(f);
  return fclose(f) == 0 && ok;
}
