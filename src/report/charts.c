/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Drawing by gnuplot. One script draws all pictures, one after the other, to standard output; the
 * pictures are cut out of what comes back and rewritten: gnuplot's frame, definitions, ids and
 * titles go (they would clash in one page), colours become names of the style sheet.
 *
 * A layer is painted with the colour rgb(1, 2, n) where n is its paint: no picture has such a
 * colour by chance, and it is easy to find. */
#include "tenter/report/charts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "tenter/base/child.h"
#include "tenter/report/escape.h"

enum { SECONDS = 60, DECIMALS = 6, MOST_OUTPUT = 64 << 20 };

static const char *const paint_names[] = {"--ink",    "--quiet", "--forecast", "--floor",
                                          "--target", "--good",  "--act"};
enum { PAINTS = sizeof paint_names / sizeof *paint_names };

/* ---- the script ---- */

static void add_number(tenter_buffer *script, double value) {
  if (isfinite(value))
    tenter_buffer_number(script, value, DECIMALS);
  else
    tenter_buffer_text(script, "NaN");
}

static void add_paint(tenter_buffer *script, tenter_paint paint) {
  tenter_buffer_print(script, "rgb '#0102%02x'", (unsigned)paint);
}

static void add_data(tenter_buffer *script, const tenter_layer *layer, size_t index) {
  tenter_buffer_print(script, "$layer%zu << EOD\n", index);
  for (size_t i = 0; i < layer->count; i++) {
    const double *columns[] = {layer->x, layer->y, layer->low, layer->high};
    for (size_t c = 0; c < 4; c++) {
      if (columns[c] == NULL)
        tenter_buffer_text(script, "NaN");
      else
        add_number(script, columns[c][i]);
      tenter_buffer_byte(script, c < 3 ? ' ' : '\n');
    }
  }
  tenter_buffer_text(script, "EOD\n");
}

static void add_words(tenter_buffer *script, const tenter_layer *layer) {
  for (size_t i = 0; i < layer->count; i++) {
    tenter_buffer_text(script, "set label ");
    tenter_escape_gnuplot(script, layer->words[i]);
    tenter_buffer_text(script, " at ");
    add_number(script, layer->x[i]);
    tenter_buffer_byte(script, ',');
    add_number(script, layer->y[i]);
    tenter_buffer_text(script, " center front noenhanced textcolor ");
    add_paint(script, layer->paint);
    tenter_buffer_byte(script, '\n');
  }
}

static const char *style_of(tenter_layer_kind kind) {
  switch (kind) {
  case TENTER_LAYER_BAND:
    return "using 1:3:4 with filledcurves fillstyle transparent solid 0.25 noborder linecolor ";
  case TENTER_LAYER_LINE:
    return "using 1:2 with lines linewidth 1.2 linecolor ";
  case TENTER_LAYER_RULE:
    return "using 1:2 with lines linewidth 0.7 linecolor ";
  case TENTER_LAYER_DASHES:
    return "using 1:2 with lines linewidth 1 dashtype (5,3) linecolor ";
  case TENTER_LAYER_POINTS:
    return "using 1:2 with points pointtype 7 pointsize 0.28 linecolor ";
  default:
    return "using 1:3:(0):($4-$3) with vectors nohead linewidth 0.8 linecolor ";
  }
}

/* Steps of 1, 2 or 5 times a power of ten, four or five of them across span. */
static void add_tics(tenter_buffer *script, char axis, double span) {
  double power = pow(10, floor(log10(span / 5))), step = power;
  if (span / step > 5)
    step = 2 * power;
  if (span / step > 5)
    step = 5 * power;
  if (span / step > 5)
    step = 10 * power;
  tenter_buffer_print(script, "set %ctics ", axis);
  add_number(script, step);
  tenter_buffer_byte(script, '\n');
}

/* Characters of UTF-8. */
static size_t characters(const char *text) {
  size_t count = 0;
  for (; *text != '\0'; text++)
    count += ((unsigned char)*text & 0xC0) != 0x80;
  return count;
}

/* Names to the left of the axis. */
static void add_names(tenter_buffer *script, const tenter_chart *chart) {
  size_t widest = 0;
  for (size_t i = 0; i < chart->y_name_count; i++) {
    size_t width = characters(chart->y_names[i]);
    widest = width > widest ? width : widest;
    tenter_buffer_text(script, "set label ");
    tenter_escape_gnuplot(script, chart->y_names[i]);
    tenter_buffer_print(script, " at graph -0.03, first %zu right noenhanced\n", i + 1);
  }
  tenter_buffer_print(script, "unset ytics\nset lmargin %zu\n", widest + 2);
}

static void add_frame(tenter_buffer *script, const tenter_chart *chart) {
  tenter_buffer_print(script,
                      "reset\nset terminal svg size %d,%d fixed font 'inherit,10' noenhanced\n"
                      "unset key\n",
                      chart->width, chart->height);
  if (chart->form.mark == TENTER_MARK_COMMA)
    tenter_buffer_text(script, "set decimalsign ','\n");
  if (chart->bare)
    tenter_buffer_text(script, "unset border\nunset tics\nset margins 0,0,0,0\n");
  else
    tenter_buffer_text(script, "set border 3 linewidth 0.6\n"
                               "set tics nomirror out scale 0.4\n"
                               "set format '%g'\n"
                               "set lmargin 4.2\nset rmargin 1\nset tmargin 0.6\n");
  if (!chart->bare)
    add_tics(script, 'x', chart->x_most - chart->x_least);
  if (chart->y_name_count > 0)
    add_names(script, chart);
  else if (!chart->bare)
    add_tics(script, 'y', chart->y_most - chart->y_least);
  tenter_buffer_text(script, "set xlabel ");
  tenter_escape_gnuplot(script, chart->x_label);
  tenter_buffer_text(script, " offset 0,0.6\nset ylabel ");
  tenter_escape_gnuplot(script, chart->y_label);
  tenter_buffer_text(script, "\nset xrange [");
  add_number(script, chart->x_least);
  tenter_buffer_byte(script, ':');
  add_number(script, chart->x_most);
  tenter_buffer_text(script, "]\nset yrange [");
  add_number(script, chart->y_least);
  tenter_buffer_byte(script, ':');
  add_number(script, chart->y_most);
  tenter_buffer_text(script, "]\n");
}

static void add_chart(tenter_buffer *script, const tenter_chart *chart) {
  add_frame(script, chart);
  for (size_t i = 0; i < chart->layer_count; i++) {
    const tenter_layer *layer = &chart->layers[i];
    if (layer->kind == TENTER_LAYER_WORDS)
      add_words(script, layer);
    else if (layer->count > 0)
      add_data(script, layer, i);
  }
  tenter_buffer_text(script, "plot NaN notitle"); /* a picture of words alone is one, too */
  for (size_t i = 0; i < chart->layer_count; i++) {
    const tenter_layer *layer = &chart->layers[i];
    if (layer->kind == TENTER_LAYER_WORDS || layer->count == 0)
      continue;
    tenter_buffer_print(script, ", $layer%zu %s", i, style_of(layer->kind));
    add_paint(script, layer->paint);
    tenter_buffer_text(script, " notitle");
  }
  tenter_buffer_byte(script, '\n');
}

/* ---- what comes back ---- */

static const char *find(const char *at, const char *end, const char *what) {
  size_t length = strlen(what);
  for (; at + length <= end; at++)
    /* NOLINTNEXTLINE(clang-analyzer-core.*): at lies within the answer */
    if (memcmp(at, what, length) == 0)
      return at;
  return NULL;
}

static bool starts(const char *at, const char *end, const char *what) {
  size_t length = strlen(what);
  return (size_t)(end - at) >= length && memcmp(at, what, length) == 0;
}

/* rgb(1, 2, n) at at: its paint, or -1; *after is behind the bracket. */
static int paint_at(const char *at, const char *end, const char **after) {
  long part[3];
  const char *p = at + 4; /* behind "rgb(" */
  for (int i = 0; i < 3; i++) {
    char *stop;
    part[i] = strtol(p, &stop, 10);
    if (stop == p || stop >= end || (*stop != ',' && *stop != ')'))
      return -1;
    p = stop + 1;
  }
  *after = p;
  return part[0] == 1 && part[1] == 2 && part[2] >= 0 && part[2] < PAINTS ? (int)part[2] : -1;
}

/* One tag, from '<' to behind '>', with its colours and references renamed. */
static void add_tag(tenter_buffer *out, const char *at, const char *end, size_t number) {
  while (at < end) {
    const char *after;
    int paint = starts(at, end, "rgb(") ? paint_at(at, end, &after) : -1;
    if (paint >= 0) {
      tenter_buffer_print(out, "var(%s)", paint_names[paint]);
      at = after;
    } else if (starts(at, end, "\"black\"") || starts(at, end, "'black'")) {
      tenter_buffer_print(out, "%ccurrentColor%c", *at, *at);
      at += 7;
    } else if (starts(at, end, "crispEdges")) {
      tenter_buffer_text(out, "auto");
      at += strlen("crispEdges");
    } else if (starts(at, end, "#gpPt6'")) {
      tenter_buffer_print(out, "#dot%zu'", number);
      at += 7;
    } else {
      tenter_buffer_byte(out, *at++);
    }
  }
}

/* The inside of one picture: all but what is said above. */
static void add_body(tenter_buffer *out, const char *at, const char *end, size_t number) {
  while (at < end) {
    const char *tag = memchr(at, '<', (size_t)(end - at));
    const char *close = tag == NULL ? NULL : memchr(tag, '>', (size_t)(end - tag));
    if (close == NULL)
      break;
    tenter_buffer_add(out, at, (size_t)(tag - at));
    at = close + 1;
    if (starts(tag, end, "<title>")) {
      const char *stop = find(tag, end, "</title>");
      at = stop != NULL ? stop + strlen("</title>") : end;
    } else if (starts(tag, end, "<g id=")) {
      tenter_buffer_text(out, "<g>");
    } else {
      add_tag(out, tag, close + 1, number);
    }
  }
}

/* Rewrites the next picture of *at into out; false where there is none. */
static bool next_picture(const char **at, const char *end, const tenter_chart *chart, size_t number,
                         tenter_buffer *out) {
  const char *start = find(*at, end, "<svg");
  const char *body = start == NULL ? NULL : find(start, end, "</defs>");
  const char *stop = body == NULL ? NULL : find(body, end, "</svg>");
  if (stop == NULL)
    return false;
  tenter_buffer_print(out,
                      "<svg xmlns=\"http://www.w3.org/2000/svg\" "
                      "xmlns:xlink=\"http://www.w3.org/1999/xlink\" width=\"%d\" height=\"%d\" "
                      "viewBox=\"0 0 %d %d\" aria-hidden=\"true\" focusable=\"false\"><defs>"
                      "<circle id=\"dot%zu\" r=\"1\" fill=\"currentColor\" stroke=\"none\"/>"
                      "</defs><g>",
                      chart->width, chart->height, chart->width, chart->height, number);
  add_body(out, body + strlen("</defs>"), stop, number);
  tenter_buffer_text(out, "</svg>");
  *at = stop + strlen("</svg>");
  return true;
}

static tenter_status cut_out(const tenter_buffer *drawn, const tenter_chart *charts, size_t count,
                             tenter_arena *arena, tenter_text *svg, tenter_error *error) {
  const char *at = drawn->bytes, *end = at + drawn->length;
  tenter_buffer picture = {0};
  tenter_status status = TENTER_OK;
  for (size_t i = 0; status == TENTER_OK && i < count; i++) {
    tenter_buffer_clear(&picture);
    if (!next_picture(&at, end, &charts[i], i + 1, &picture)) {
      status = tenter_fail(error, TENTER_FAILED, "gnuplot drew %zu of %zu pictures", i, count);
      break;
    }
    char *copy = picture.failed
                     ? NULL
                     : tenter_arena_copy(arena, (tenter_text){picture.bytes, picture.length});
    svg[i] = (tenter_text){copy, picture.length};
    if (copy == NULL)
      status = tenter_fail_memory(error);
  }
  tenter_buffer_release(&picture);
  return status;
}

tenter_status tenter_charts_draw(const tenter_chart *charts, size_t count, tenter_arena *arena,
                                 tenter_text *svg, tenter_error *error) {
  static const char *const argv[] = {"gnuplot", "-d", NULL}; /* -d: no start-up files */
  tenter_buffer script = {0}, drawn = {0};
  if (count == 0)
    return TENTER_OK;
  for (size_t i = 0; i < count; i++)
    add_chart(&script, &charts[i]);
  tenter_status status = script.failed
                             ? tenter_fail_memory(error)
                             : tenter_child_run(argv, (tenter_text){script.bytes, script.length},
                                                SECONDS, MOST_OUTPUT, &drawn, error);
  if (status == TENTER_OK)
    status = cut_out(&drawn, charts, count, arena, svg, error);
  for (size_t i = 0; status != TENTER_OK && i < count; i++)
    svg[i] = (tenter_text){NULL, 0};
  tenter_buffer_release(&script);
  tenter_buffer_release(&drawn);
  return status;
}
