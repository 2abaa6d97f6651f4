/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Week by week: what was read and not read, how the sessions lay against what was expected of them,
 * how many screens were below their floor; pictures of it, and whether it has a trend. */
#include <math.h>
#include <string.h>

#include "pictures.h"

enum { WEEK_LAYERS = 3 };

/* ---- table ---------------------------------------------------------------------------------- */

/* "12 (8 to 17)", in percent; "" without screens to judge. */
static const char *share_words(tenter_document *d, const tenter_review_week *week) {
  if (!isfinite(week->below_floor))
    return "";
  return tenter_say_fill(d->arena, TENTER_SAY_WEEK_SHARE, part_fixed(d, 100 * week->below_floor, 0),
                         part_fixed(d, 100 * week->below_floor_low, 0),
                         part_fixed(d, 100 * week->below_floor_high, 0), (const char *)NULL);
}

static void week_row(tenter_document *d, tenter_block *table, const tenter_review_week *week) {
  tenter_cell *row = tenter_document_row(d, table);
  if (row == NULL)
    return;
  size_t read = week->screens < week->in_use ? week->screens : week->in_use;
  row[0] = tenter_cell_text(tenter_document_print(d, "%d-W%02d", week->year, week->week));
  row[1] = tenter_cell_number((double)week->screens, 0);
  row[2] = tenter_cell_number((double)(week->in_use - read), 0);
  row[3] = tenter_cell_number((double)week->sessions, 0);
  row[4] = tenter_cell_number(week->mean_shift, 2);
  row[4].sign = true;
  row[5] = tenter_cell_text(share_words(d, week));
  row[5].rank = week->below_floor;
  for (int a = 0; a < TENTER_ACTION_COUNT; a++)
    row[6 + a] = tenter_cell_number((double)week->actions[TENTER_ACTION_COUNT - 1 - a], 0);
}

static void week_table(review_parts *parts, tenter_block *section) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_WEEK), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SCREENS_READ), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_NOT_READ), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SESSIONS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SHIFT), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_BELOW), TENTER_CELLS_TEXT, true},
      {tenter_action_words(TENTER_ACTION_WITHDRAW), TENTER_CELLS_NUMBER, false},
      {tenter_action_words(TENTER_ACTION_RESTRETCH), TENTER_CELLS_NUMBER, false},
      {tenter_action_words(TENTER_ACTION_REREAD), TENTER_CELLS_NUMBER, false},
      {tenter_action_words(TENTER_ACTION_USE), TENTER_CELLS_NUMBER, false}};
  tenter_block *table =
      tenter_document_table(parts->document, section, "weeks-table", "", columns, 10);
  for (size_t i = parts->review->week_count; i-- > 0;)
    week_row(parts->document, table, &parts->review->weeks[i]);
}

/* ---- trends --------------------------------------------------------------------------------- */

static const char *trend_name(const review_parts *parts, const tenter_review_trend *trend) {
  if (strcmp(trend->of, "shop") == 0)
    return tenter_say_text(TENTER_SAY_WHOLE_SHOP);
  bool mesh = strcmp(trend->of, "mesh") == 0;
  return part_name(parts->review, mesh ? TENTER_NAME_MESH : TENTER_NAME_STATION, trend->name);
}

static void trend_row(review_parts *parts, tenter_block *table, const tenter_review_trend *trend) {
  tenter_document *d = parts->document;
  tenter_cell *row = tenter_document_row(d, table);
  if (row == NULL)
    return;
  row[0] = tenter_cell_text(trend_name(parts, trend));
  row[1] = tenter_cell_number((double)trend->weeks, 0);
  row[2] = tenter_cell_number(trend->slope, 3);
  row[2].sign = true;
  row[3] = tenter_cell_number(trend->low, 3);
  row[3].sign = true;
  row[4] = tenter_cell_number(trend->high, 3);
  row[4].sign = true;
  row[5] =
      tenter_cell_text(trend->p < 0.001 ? tenter_document_print(d, "< %s", part_fixed(d, 0.001, 3))
                                        : part_fixed(d, trend->p, 3));
  row[5].rank = trend->p;
}

static void trend_table(review_parts *parts, tenter_block *section) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_TREND_OF), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_WEEKS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SLOPE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_LOW), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_HIGH), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_P), TENTER_CELLS_TEXT, true}};
  const tenter_review *review = parts->review;
  tenter_block *table = NULL;
  for (size_t i = 0; i < review->trend_count && i < MOST_ROWS; i++) {
    if (isnan(review->trends[i].slope))
      continue;
    if (table == NULL) {
      part_say(parts->document, section, TENTER_SAY_TRENDS_LEAD);
      table = tenter_document_table(parts->document, section, "trends-table", "", columns, 6);
    }
    trend_row(parts, table, &review->trends[i]);
  }
}

/* ---- pictures ------------------------------------------------------------------------------- */

/* A frame over the weeks; `values` are drawn as dots on a line, low .. high as strokes. */
static void week_chart(studio *s, const double *x, const double *values, const double *low,
                       const double *high, const char *label) {
  size_t n = s->parts->review->week_count;
  double least = 0, most = 0;
  studio_stretch(&least, &most, values, n);
  studio_stretch(&least, &most, low, n);
  studio_stretch(&least, &most, high, n);
  tenter_layer *layers = tenter_arena_alloc(s->arena, WEEK_LAYERS, sizeof *layers);
  s->failed |= layers == NULL;
  if (s->failed)
    return;
  double edge = fmax(0.06 * (most - least), 0.005);
  layers[0] = studio_across(s, TENTER_LAYER_RULE, TENTER_PAINT_QUIET, x[0] - 0.5, 0.5, 0);
  layers[1] = low != NULL ? (tenter_layer){.kind = TENTER_LAYER_BARS,
                                           .paint = TENTER_PAINT_QUIET,
                                           .x = x,
                                           .low = low,
                                           .high = high,
                                           .count = n}
                          : (tenter_layer){.kind = TENTER_LAYER_RULE,
                                           .paint = TENTER_PAINT_QUIET,
                                           .x = x,
                                           .y = values,
                                           .count = n};
  layers[2] = (tenter_layer){
      .kind = TENTER_LAYER_POINTS, .paint = TENTER_PAINT_INK, .x = x, .y = values, .count = n};
  s->charts[s->count++] = (tenter_chart){.form = s->parts->document->form,
                                         .width = WEEK_WIDTH,
                                         .height = PICTURE_HEIGHT,
                                         .x_least = x[0] - 0.5,
                                         .x_most = 0.5,
                                         .y_least = least - (least < 0 ? edge : 0),
                                         .y_most = most + edge,
                                         .x_label = tenter_say_text(TENTER_SAY_CHART_WEEKS),
                                         .y_label = label,
                                         .layers = layers,
                                         .layer_count = WEEK_LAYERS};
}

void week_charts(studio *s) {
  const tenter_review *review = s->parts->review;
  size_t n = review->week_count;
  if (n < 2)
    return;
  double *x = studio_numbers(s, n), *shift = studio_numbers(s, n), *share = studio_numbers(s, n);
  double *low = studio_numbers(s, n), *high = studio_numbers(s, n);
  if (s->failed)
    return;
  for (size_t i = 0; i < n; i++) {
    const tenter_review_week *week = &review->weeks[i];
    x[i] = (double)i - (double)(n - 1);
    shift[i] = week->mean_shift;
    share[i] = 100 * week->below_floor;
    low[i] = 100 * week->below_floor_low;
    high[i] = 100 * week->below_floor_high;
  }
  week_chart(s, x, shift, NULL, NULL, "N/cm");
  week_chart(s, x, share, low, high, "%");
}

static void week_figures(review_parts *parts, tenter_block *section) {
  tenter_document *d = parts->document;
  static const tenter_say titles[WEEK_PICTURES] = {TENTER_SAY_WEEK_SHIFT, TENTER_SAY_WEEK_BELOW};
  tenter_block *figures = tenter_document_figures(d, section);
  for (size_t i = 0; i < WEEK_PICTURES; i++)
    tenter_document_figure(d, figures,
                           (tenter_figure){.title = tenter_say_text(titles[i]),
                                           .caption = "",
                                           .alternative = tenter_say_text(TENTER_SAY_ALT_WEEKS),
                                           .svg = parts->pictures.weeks[i],
                                           .width = WEEK_WIDTH,
                                           .height = PICTURE_HEIGHT});
}

static void say_uncharted(review_parts *parts, tenter_block *section) {
  tenter_document *d = parts->document;
  size_t without = 0;
  for (size_t i = 0; i < parts->review->week_count; i++)
    without += !parts->review->weeks[i].charted;
  if (without > 0)
    tenter_document_paragraph(d, section,
                              tenter_say_fill(d->arena, TENTER_SAY_PAST_WEEKS_UNCHARTED,
                                              part_count(d, without), (const char *)NULL));
}

void part_weeks(review_parts *parts, tenter_block *section) {
  tenter_document *d = parts->document;
  tenter_block *folded = tenter_document_section(
      d, section, "weeks", tenter_say_text(TENTER_SAY_PAST_WEEKS), TENTER_SECTION_FOLDED);
  part_say(d, folded, TENTER_SAY_PAST_WEEKS_LEAD);
  say_uncharted(parts, folded);
  week_figures(parts, folded);
  week_table(parts, folded);
  trend_table(parts, folded);
}
