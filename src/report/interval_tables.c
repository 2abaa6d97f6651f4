/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The tables of `tenter interval`. */
#include <math.h>

#include "interval_report.h"

enum { MOST_NAMED = 40 };

static tenter_block *section_of(interval_parts *parts, const char *id, tenter_say heading) {
  return tenter_document_section(parts->common.document, NULL, id, tenter_say_text(heading),
                                 TENTER_SECTION_PLAIN);
}

/* Days as they are said: a decimal where they are few, a word where there are none or no end. */
static tenter_cell days_cell(double days) {
  tenter_cell cell = tenter_cell_number(days, days < 10 ? 1 : 0);
  if (!isfinite(days)) {
    cell.text = tenter_say_text(TENTER_SAY_INTERVAL_LONG);
    cell.rank = INFINITY;
  } else if (days <= 0) {
    cell.text = tenter_say_text(TENTER_SAY_INTERVAL_AT_ONCE);
  }
  return cell;
}

static const char *days_words(tenter_document *d, double days) {
  return isfinite(days) ? part_fixed(d, days, days < 10 ? 1 : 0)
                        : tenter_say_text(TENTER_SAY_INTERVAL_LONG);
}

/* The same where nothing was estimated: empty. */
static tenter_cell estimate_cell(double days, double known) {
  return isnan(known) ? tenter_cell_number(NAN, 0) : days_cell(days);
}

static const char *mesh_name(const interval_parts *parts, const tenter_interval_group *mesh) {
  return part_name(parts->common.review, TENTER_NAME_MESH, mesh->interval->mesh);
}

/* A row that begins with the names of a mesh and a lot. */
static tenter_cell *lot_row(interval_parts *parts, tenter_block *table,
                            const tenter_review_interval *interval) {
  const tenter_review *review = parts->common.review;
  tenter_cell *row = tenter_document_row(parts->common.document, table);
  if (row == NULL)
    return NULL;
  bool any = interval->lot == TENTER_NO_NAME;
  row[0] = tenter_cell_text(part_name(review, TENTER_NAME_MESH, interval->mesh));
  row[0].rank = interval->mesh;
  row[1] = tenter_cell_text(any ? tenter_say_text(TENTER_SAY_INTERVAL_ANY_LOT)
                                : part_name(review, TENTER_NAME_LOT, interval->lot));
  row[1].rank = any ? -1.0 : (double)interval->lot;
  return row;
}

/* Adds a row for each mesh, its lots below it. */
static void all_rows(interval_parts *parts, tenter_block *table,
                     void fill(tenter_cell *row, const tenter_interval_group *group)) {
  const tenter_interval_study *study = parts->study;
  size_t m = 0, l = 0;
  while (m + l < study->count + study->lot_count && m + l < MOST_ROWS) {
    bool any = study->review->intervals[m + l].lot == TENTER_NO_NAME;
    const tenter_interval_group *group = any ? &study->meshes[m++] : &study->lots[l++];
    tenter_cell *row = lot_row(parts, table, group->interval);
    if (row == NULL)
      return;
    fill(row, group);
  }
}

/* What is said of the lots (with their mesh) for which it is so; NULL where there is none. */
static const char *of_lots(interval_parts *parts, tenter_say say,
                           bool is_so(const tenter_interval_group *lot)) {
  tenter_document *d = parts->common.document;
  const tenter_interval_study *study = parts->study;
  const char *names[MOST_NAMED];
  size_t count = 0;
  for (size_t i = 0; i < study->lot_count; i++) {
    const tenter_review_interval *interval = study->lots[i].interval;
    if (!is_so(&study->lots[i]))
      continue;
    if (count < MOST_NAMED)
      names[count] = tenter_document_print(
          d, "%s (%s)", part_name(study->review, TENTER_NAME_LOT, interval->lot),
          part_name(study->review, TENTER_NAME_MESH, interval->mesh));
    count++;
  }
  if (count == 0)
    return NULL;
  const char *all = part_joined(d, names, count < MOST_NAMED ? count : MOST_NAMED);
  if (count > MOST_NAMED)
    all = tenter_say_fill(d->arena, TENTER_SAY_INTERVAL_SCREENS_MORE, all,
                          part_count(d, count - MOST_NAMED), (const char *)NULL);
  return tenter_say_fill(d->arena, say, all, (const char *)NULL);
}

static void list_of_lots(interval_parts *parts, tenter_block *list, tenter_say say,
                         bool is_so(const tenter_interval_group *lot)) {
  const char *words = of_lots(parts, say, is_so);
  if (words != NULL)
    tenter_document_item(parts->common.document, list, words);
}

/* ---- days ----------------------------------------------------------------------------------- */

static void days_row(interval_parts *parts, tenter_block *table,
                     const tenter_review_interval *interval) {
  tenter_cell *row = lot_row(parts, table, interval);
  if (row == NULL)
    return;
  row[2] = tenter_cell_number(interval->floor, 1);
  row[3] = days_cell(interval->days);
  row[4] = days_cell(interval->days_early);
  row[5] = days_cell(interval->days_late);
  row[6] = part_percent(interval->below_at_start);
}

void interval_part_days(interval_parts *parts) {
  tenter_document *d = parts->common.document;
  const tenter_review *review = parts->common.review;
  if (review->interval_count == 0) {
    part_say(d, NULL, TENTER_SAY_INTERVAL_NONE);
    return;
  }
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_MESH), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_LOT), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_FLOOR), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_MAY_GO), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_DAYS_EARLY), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_DAYS_LATE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_AT_START), TENTER_CELLS_NUMBER, true}};
  tenter_document_paragraph(
      d, NULL,
      tenter_say_fill(d->arena, TENTER_SAY_INTERVAL_LEAD,
                      part_fixed(d, 100 * review->shop->config->settings.risk, 1),
                      (const char *)NULL));
  tenter_block *section = section_of(parts, "days", TENTER_SAY_INTERVALS);
  part_say(d, section, TENTER_SAY_INTERVALS_LEAD);
  tenter_block *table = tenter_document_table(d, section, "intervals", "", columns, 7);
  for (size_t i = 0; i < review->interval_count && i < MOST_ROWS; i++)
    days_row(parts, table, &review->intervals[i]);
}

/* ---- the past ------------------------------------------------------------------------------- */

static tenter_say verdict_say(tenter_interval_verdict verdict) {
  switch (verdict) {
  case TENTER_INTERVAL_AGREE:
    return TENTER_SAY_INTERVAL_AGREE;
  case TENTER_INTERVAL_LIVES_SHORTER:
    return TENTER_SAY_INTERVAL_SHORTER;
  case TENTER_INTERVAL_LIVES_LONGER:
    return TENTER_SAY_INTERVAL_LONGER;
  default:
    return TENTER_SAY_INTERVAL_FEW;
  }
}

static const char *story(interval_parts *parts, const tenter_interval_group *mesh) {
  tenter_document *d = parts->common.document;
  const tenter_interval_life *l = &mesh->life;
  const char *text = tenter_say_fill(
      d->arena, TENTER_SAY_INTERVAL_STORY, mesh_name(parts, mesh), part_count(d, l->mountings),
      part_count(d, l->crossed), part_count(d, l->at_first), part_count(d, l->restretched),
      part_count(d, l->restretched_low), part_count(d, l->burst), part_count(d, l->retired),
      part_count(d, l->in_use), (const char *)NULL);
  text = tenter_document_print(d, "%s %s", text, tenter_say_text(verdict_say(l->verdict)));
  if (isfinite(l->weibull_all_fail) && isfinite(l->weibull_none_fail))
    text = tenter_document_print(
        d, "%s %s", text,
        tenter_say_fill(d->arena, TENTER_SAY_INTERVAL_BOUNDS, days_words(d, l->weibull_all_fail),
                        days_words(d, l->weibull_none_fail), (const char *)NULL));
  return text;
}

/* What is said without the model: nothing from too few. */
static void past_row(tenter_cell *row, const tenter_interval_group *group) {
  const tenter_interval_estimate *free = &group->life.free, *law = &group->life.weibull;
  bool few = group->life.verdict == TENTER_INTERVAL_TOO_FEW;
  row[2] = days_cell(group->interval->days);
  row[3] = days_cell(group->interval->days_early);
  row[4] = days_cell(group->interval->days_late);
  double free_known = few ? NAN : free->days, law_known = few ? NAN : law->days;
  row[5] = estimate_cell(free->days, free_known);
  row[6] = estimate_cell(free->early, free_known);
  row[7] = estimate_cell(free->late, free_known);
  row[8] = estimate_cell(law->days, law_known);
  row[9] = estimate_cell(law->early, law_known);
  row[10] = estimate_cell(law->late, law_known);
}

static bool lot_agrees(const tenter_interval_group *lot) {
  return lot->life.verdict == TENTER_INTERVAL_AGREE;
}

static bool lot_has_few(const tenter_interval_group *lot) {
  return lot->life.verdict == TENTER_INTERVAL_TOO_FEW;
}

static bool lot_shorter(const tenter_interval_group *lot) {
  return lot->life.verdict == TENTER_INTERVAL_LIVES_SHORTER;
}

static bool lot_longer(const tenter_interval_group *lot) {
  return lot->life.verdict == TENTER_INTERVAL_LIVES_LONGER;
}

void interval_part_past(interval_parts *parts) {
  tenter_document *d = parts->common.document;
  if (parts->study->count == 0)
    return;
  const char *from = tenter_say_text(TENTER_SAY_COLUMN_DAYS_EARLY);
  const char *to = tenter_say_text(TENTER_SAY_COLUMN_DAYS_LATE);
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_MESH), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_LOT), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_MODEL), TENTER_CELLS_NUMBER, true},
      {from, TENTER_CELLS_NUMBER, true},
      {to, TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_FREE), TENTER_CELLS_NUMBER, true},
      {from, TENTER_CELLS_NUMBER, true},
      {to, TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_WEIBULL), TENTER_CELLS_NUMBER, true},
      {from, TENTER_CELLS_NUMBER, true},
      {to, TENTER_CELLS_NUMBER, true}};
  tenter_block *section = section_of(parts, "past", TENTER_SAY_INTERVAL_PAST);
  part_say(d, section, TENTER_SAY_INTERVAL_PAST_LEAD);
  tenter_block *table = tenter_document_table(d, section, "past-table", "", columns, 11);
  all_rows(parts, table, past_row);
  tenter_block *list = tenter_document_list(d, section);
  for (size_t m = 0; m < parts->study->count; m++)
    tenter_document_item(d, list, story(parts, &parts->study->meshes[m]));
  list_of_lots(parts, list, TENTER_SAY_INTERVAL_LOTS_SHORTER, lot_shorter);
  list_of_lots(parts, list, TENTER_SAY_INTERVAL_LOTS_LONGER, lot_longer);
  list_of_lots(parts, list, TENTER_SAY_INTERVAL_LOTS_AGREE, lot_agrees);
  list_of_lots(parts, list, TENTER_SAY_INTERVAL_LOTS_FEW, lot_has_few);
}

/* ---- costs ---------------------------------------------------------------------------------- */

static void cost_row(tenter_cell *row, const tenter_interval_group *group) {
  const tenter_interval_cost *c = &group->cost;
  row[2] = days_cell(c->best_days);
  if (isnan(c->best_days))
    row[2].text = tenter_say_text(TENTER_SAY_INTERVAL_NEVER);
  row[3] = tenter_cell_number(c->best_rate, 2);
  row[4] = tenter_cell_number(c->habit_rate, 2);
  row[5] = tenter_cell_number((double)group->in_use, 0);
  row[6] = tenter_cell_number(c->saving_on_habit, 0);
  row[7] = tenter_cell_number(c->saving_on_calendar, 0);
}

static bool lot_without_habit(const tenter_interval_group *lot) {
  return isnan(lot->cost.habit_rate);
}

void interval_part_costs(interval_parts *parts) {
  tenter_document *d = parts->common.document;
  const tenter_settings *settings = &parts->common.review->shop->config->settings;
  if (parts->study->count == 0)
    return;
  tenter_block *section = section_of(parts, "costs", TENTER_SAY_INTERVAL_COSTS);
  if (!parts->study->meshes[0].cost.known) {
    part_say(d, section, TENTER_SAY_INTERVAL_NO_COSTS);
    return;
  }
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_MESH), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_LOT), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_BEST), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_BEST_COST), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_HABIT_COST), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SCREENS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SAVED), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SAVED_CALENDAR), TENTER_CELLS_NUMBER, true}};
  tenter_document_paragraph(
      d, section,
      tenter_say_fill(d->arena, TENTER_SAY_INTERVAL_COSTS_LEAD,
                      part_fixed(d, settings->cost_restretch, 2),
                      part_fixed(d, settings->cost_failure, 2), settings->currency,
                      days_words(d, parts->study->calendar_days), (const char *)NULL));
  tenter_block *table = tenter_document_table(d, section, "costs-table", "", columns, 8);
  all_rows(parts, table, cost_row);
  const char *unknown = of_lots(parts, TENTER_SAY_INTERVAL_LOTS_NO_HABIT, lot_without_habit);
  if (unknown != NULL)
    tenter_document_paragraph(d, section, unknown);
}

/* ---- what changes it ------------------------------------------------------------------------ */

static void risk_row(tenter_cell *row, const tenter_interval_group *group) {
  for (int i = 0; i < TENTER_INTERVAL_RISKS; i++)
    row[2 + i] = days_cell(group->risk_days[i]);
}

static void risk_table(interval_parts *parts) {
  tenter_document *d = parts->common.document;
  const tenter_interval_group *meshes = parts->study->meshes;
  tenter_table_column columns[2 + TENTER_INTERVAL_RISKS] = {
      {tenter_say_text(TENTER_SAY_COLUMN_MESH), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_LOT), TENTER_CELLS_TEXT, true}};
  for (int i = 0; i < TENTER_INTERVAL_RISKS; i++) {
    double per_cent = 100 * meshes[0].risks[i];
    int decimals = fabs(per_cent - round(per_cent)) < 1e-9 ? 0 : per_cent < 1 ? 2 : 1;
    columns[2 + i] =
        (tenter_table_column){tenter_document_print(d, "%s %%", part_fixed(d, per_cent, decimals)),
                              TENTER_CELLS_NUMBER, true};
  }
  tenter_block *section = section_of(parts, "risk", TENTER_SAY_INTERVAL_RISK);
  part_say(d, section, TENTER_SAY_INTERVAL_RISK_LEAD);
  tenter_block *table =
      tenter_document_table(d, section, "risk-table", "", columns, 2 + TENTER_INTERVAL_RISKS);
  all_rows(parts, table, risk_row);
}

static void reading_row(tenter_cell *row, const tenter_interval_group *group) {
  row[2] = tenter_cell_number(group->spacing_days[1], 1);
  row[3] = days_cell(group->interval->days);
  for (int i = 0; i < TENTER_INTERVAL_SPACINGS; i++)
    row[4 + i] = estimate_cell(group->spacing_life[i], group->spacing_life[i]);
}

static void reading_table(interval_parts *parts) {
  tenter_document *d = parts->common.document;
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_MESH), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_LOT), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_USUAL_DAYS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_READ_NEVER), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_READ_HALF), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_READ_USUAL), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_READ_TWICE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_READ_FOUR), TENTER_CELLS_NUMBER, true}};
  tenter_block *section = section_of(parts, "reading", TENTER_SAY_INTERVAL_READING);
  part_say(d, section, TENTER_SAY_INTERVAL_READING_LEAD);
  tenter_block *table = tenter_document_table(d, section, "reading-table", "", columns, 8);
  all_rows(parts, table, reading_row);
}

void interval_part_sensitivity(interval_parts *parts) {
  if (parts->study->count == 0)
    return;
  risk_table(parts);
  reading_table(parts);
}

/* ---- the plan ------------------------------------------------------------------------------- */

/* "S-1, S-2, ... and 12 more" of the turns of one mesh in one week. */
static const char *which(interval_parts *parts, const work_plan *plan, size_t first, size_t end) {
  tenter_document *d = parts->common.document;
  const char *names[MOST_NAMED] = {0};
  size_t named = end - first < MOST_NAMED ? end - first : MOST_NAMED;
  for (size_t i = 0; i < named; i++)
    names[i] =
        part_name(parts->common.review, TENTER_NAME_SCREEN, plan->turns[first + i].screen->screen);
  const char *all = part_joined(d, names, named);
  if (named == end - first)
    return all;
  return tenter_say_fill(d->arena, TENTER_SAY_INTERVAL_SCREENS_MORE, all,
                         part_count(d, end - first - named), (const char *)NULL);
}

/* The rows of a week; returns the first turn after it. */
static size_t week_rows(interval_parts *parts, tenter_block *table, const work_plan *plan,
                        bool readings, int week, size_t at) {
  tenter_document *d = parts->common.document;
  for (size_t end; at < plan->count && plan->turns[at].week == week; at = end) {
    for (end = at + 1; end < plan->count && !work_plan_opens(plan, end);)
      end++;
    tenter_cell *row = tenter_document_row(d, table);
    if (row == NULL)
      return plan->count;
    row[0] = tenter_cell_text(work_week_words(parts->common.review, week, d->arena));
    row[0].rank = week;
    row[1] = tenter_cell_verdict(
        tenter_say_text(readings ? TENTER_SAY_INTERVAL_READ : TENTER_SAY_INTERVAL_RESTRETCH),
        readings ? TENTER_TONE_WATCH : TENTER_TONE_ACT, readings);
    row[2] =
        tenter_cell_text(part_name(parts->common.review, TENTER_NAME_MESH, plan->turns[at].mesh));
    row[2].rank = plan->turns[at].mesh;
    row[3] = tenter_cell_number((double)(end - at), 0);
    row[4] = tenter_cell_text(which(parts, plan, at, end));
  }
  return at;
}

static const char *limit_words(tenter_document *d, double limit) {
  return limit > 0 ? part_fixed(d, limit, limit < 10 && floor(limit) < limit ? 1 : 0)
                   : tenter_say_text(TENTER_SAY_INTERVAL_NO_LIMIT);
}

void interval_part_plan(interval_parts *parts) {
  tenter_document *d = parts->common.document;
  const tenter_settings *settings = &parts->common.review->shop->config->settings;
  tenter_block *section = section_of(parts, "plan", TENTER_SAY_INTERVAL_PLAN);
  if (parts->restretch.count + parts->read.count == 0) {
    part_say(d, section, TENTER_SAY_INTERVAL_NO_PLAN);
    return;
  }
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_WEEK), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_DO), TENTER_CELLS_VERDICT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_MESH), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SCREENS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_WHICH), TENTER_CELLS_TEXT, false}};
  const char *limits = tenter_say_fill(
      d->arena, TENTER_SAY_INTERVAL_LIMITS, limit_words(d, settings->stretches_per_week),
      limit_words(d, settings->sessions_per_week), (const char *)NULL);
  tenter_document_paragraph(
      d, section,
      tenter_say_fill(d->arena, TENTER_SAY_INTERVAL_PLAN_LEAD, limits, (const char *)NULL));
  if (parts->restretch.count > 0)
    tenter_document_caution(d, section, tenter_say_text(TENTER_SAY_CAUTION_RAISE));
  tenter_block *table = tenter_document_table(d, section, "plan-table", "", columns, 5);
  size_t stretched = 0, read = 0;
  for (int week = 0; week < TENTER_PLAN_WEEKS; week++) {
    stretched = week_rows(parts, table, &parts->restretch, false, week, stretched);
    read = week_rows(parts, table, &parts->read, true, week, read);
  }
}
