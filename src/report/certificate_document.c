/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The certificate as a document: who, what, when; specification and rule in words; screens
 * certified and refused; the day of use; meters; cautions; signature; and, to look up, pictures,
 * the process, what it rests on. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "certificate_parts.h"
#include "tenter/stats/normal.h"

#define END (const char *)NULL

enum { MOST_SPECIFICATIONS = 20 };

static const tenter_shop *shop_of(const cert_parts *p) {
  return p->c->review->shop;
}

static const tenter_mounting *mounting_of(const cert_parts *p,
                                          const tenter_certificate_screen *screen) {
  return &shop_of(p)->mountings[screen->mounting];
}

static const char *name_of(const cert_parts *p, tenter_name_kind kind, uint32_t id) {
  return part_name(p->c->review, kind, id);
}

static const char *fixed(const cert_parts *p, double value, int decimals) {
  return part_fixed(p->parts.document, value, decimals);
}

static const char *when_words(const cert_parts *p, tenter_when when) {
  char words[TENTER_WORDS_SIZE];
  return tenter_document_print(p->parts.document, "%s",
                               tenter_say_when(p->parts.document->form, when, words));
}

static tenter_block *section(const cert_parts *p, const char *id, tenter_say heading) {
  return tenter_document_section(p->parts.document, NULL, id, tenter_say_text(heading),
                                 TENTER_SECTION_PLAIN);
}

/* ---- who, what, when ------------------------------------------------------------------------ */

static const char *lead_words(const cert_parts *p) {
  tenter_document *d = p->parts.document;
  const tenter_certificate *c = p->c;
  const char *all = part_count(d, c->screen_count);
  if (c->certified == 0)
    return tenter_say_fill(d->arena, TENTER_SAY_CERT_NONE, all, END);
  if (c->certified == c->screen_count)
    return tenter_say_fill(d->arena, TENTER_SAY_CERT_ALL, all, END);
  return tenter_say_fill(d->arena, TENTER_SAY_CERT_SOME, part_count(d, c->certified), all,
                         part_count(d, c->screen_count - c->certified), END);
}

static const char *shop_words(const cert_parts *p) {
  const tenter_settings *is = &shop_of(p)->config->settings;
  if (is->shop_name[0] == '\0')
    return tenter_say_text(TENTER_SAY_CERT_NAMELESS);
  if (is->shop_address[0] == '\0')
    return is->shop_name;
  return tenter_document_print(p->parts.document, "%s, %s", is->shop_name, is->shop_address);
}

static const char *or_unstated(const char *words) {
  return words[0] != '\0' ? words : tenter_say_text(TENTER_SAY_CERT_UNSTATED);
}

static void tell_head(const cert_parts *p) {
  tenter_document *d = p->parts.document;
  const tenter_certificate *c = p->c;
  tenter_document_paragraph(d, NULL, lead_words(p));
  tenter_block *list = tenter_document_definitions(d, NULL);
  tenter_document_define(d, list, tenter_say_text(TENTER_SAY_CERT_BY), shop_words(p));
  tenter_document_define(d, list, tenter_say_text(TENTER_SAY_CERT_FOR),
                         or_unstated(name_of(p, TENTER_NAME_CUSTOMER, c->customer)));
  tenter_document_define(d, list, tenter_say_text(TENTER_SAY_CERT_ORDER),
                         or_unstated(name_of(p, TENTER_NAME_ORDER, c->order)));
  tenter_document_define(d, list, tenter_say_text(TENTER_SAY_CERT_SCREENS_TERM),
                         tenter_say_fill(d->arena, TENTER_SAY_CERT_SCREENS_COUNT,
                                         part_count(d, c->certified),
                                         part_count(d, c->screen_count - c->certified), END));
  if (c->certified > 0)
    tenter_document_define(d, list, tenter_say_text(TENTER_SAY_CERT_READ),
                           tenter_say_fill(d->arena, TENTER_SAY_CERT_READ_SPAN,
                                           when_words(p, (tenter_when){c->first, false}),
                                           when_words(p, (tenter_when){c->last, false}), END));
  tenter_document_define(d, list, tenter_say_text(TENTER_SAY_CERT_ISSUED),
                         when_words(p, (tenter_when){shop_of(p)->as_of, false}));
}

/* ---- specification and rule ----------------------------------------------------------------- */

static bool same_number(double a, double b) {
  return a == b || (isnan(a) && isnan(b));
}

static bool same_specification(const tenter_mounting *a, const tenter_mounting *b) {
  return a->is.mesh == b->is.mesh && same_number(a->is.target, b->is.target) &&
         same_number(a->is.minus, b->is.minus) && same_number(a->is.plus, b->is.plus) &&
         same_number(a->evenness_point, b->evenness_point) &&
         same_number(a->evenness_spread, b->evenness_spread) &&
         same_number(a->warp_weft, b->warp_weft);
}

static const char *limits_words(const cert_parts *p, const tenter_attributes *is) {
  tenter_arena *arena = p->parts.document->arena;
  const char *target = fixed(p, is->target, 1);
  const char *low = fixed(p, is->target - is->minus, 1), *high = fixed(p, is->target + is->plus, 1);
  if (isnan(is->target) || (isnan(is->minus) && isnan(is->plus)))
    return tenter_say_text(TENTER_SAY_CERT_SPEC_NONE);
  if (isnan(is->plus))
    return tenter_say_fill(arena, TENTER_SAY_CERT_SPEC_LOWER, target, low, END);
  if (isnan(is->minus))
    return tenter_say_fill(arena, TENTER_SAY_CERT_SPEC_UPPER, target, high, END);
  return tenter_say_fill(arena, TENTER_SAY_CERT_SPEC_BOTH, target, low, high, END);
}

static void tell_specification(const cert_parts *p, tenter_block *list, const tenter_mounting *m) {
  tenter_document *d = p->parts.document;
  const char *mesh = name_of(p, TENTER_NAME_MESH, m->is.mesh);
  const char *term = mesh[0] != '\0'
                         ? tenter_say_fill(d->arena, TENTER_SAY_CERT_SPEC_MESH, mesh, END)
                         : tenter_say_text(TENTER_SAY_CERT_SPEC_NO_MESH);
  const char *even =
      tenter_say_fill(d->arena, TENTER_SAY_CERT_SPEC_EVENNESS, fixed(p, m->evenness_point, 1),
                      fixed(p, m->evenness_spread, 1), fixed(p, m->warp_weft, 1), END);
  tenter_document_define(d, list, term,
                         tenter_document_print(d, "%s%s", limits_words(p, &m->is), even));
}

static void tell_specifications(const cert_parts *p, tenter_block *parent) {
  const tenter_mounting *told[MOST_SPECIFICATIONS];
  size_t count = 0;
  tenter_block *list = tenter_document_definitions(p->parts.document, parent);
  for (size_t i = 0; i < p->c->screen_count && count < MOST_SPECIFICATIONS; i++) {
    const tenter_mounting *m = mounting_of(p, &p->c->screens[i]);
    bool known = false;
    for (size_t k = 0; k < count && !known; k++)
      known = same_specification(m, told[k]);
    if (known)
      continue;
    told[count++] = m;
    tell_specification(p, list, m);
  }
}

static void tell_rule(const cert_parts *p) {
  tenter_document *d = p->parts.document;
  const tenter_settings *is = &shop_of(p)->config->settings;
  tenter_block *parent = section(p, "specification", TENTER_SAY_CERT_SPECIFICATION);
  tell_specifications(p, parent);
  double passes = 100 * tenter_normal_above(is->coverage_factor);
  tenter_document_paragraph(d, parent,
                            p->c->simple
                                ? tenter_say_fill(d->arena, TENTER_SAY_CERT_RULE_SIMPLE,
                                                  part_count(d, p->c->by_simple_rule), END)
                                : tenter_say_fill(d->arena, TENTER_SAY_CERT_RULE_GUARDED,
                                                  fixed(p, is->coverage_factor, 3),
                                                  fixed(p, passes, passes < 1 ? 1 : 0), END));
  tenter_document_paragraph(d, parent,
                            tenter_say_fill(d->arena, TENTER_SAY_CERT_RULE_LEAST,
                                            fixed(p, is->settling_hours, 0),
                                            part_count(d, (size_t)is->least_positions),
                                            fixed(p, is->youngest_age_hours, 0), END));
}

/* ---- the screens ---------------------------------------------------------------------------- */

/* "18.9 NW warp" */
static const char *point_words(const cert_parts *p, double tension, uint16_t position,
                               tenter_direction direction) {
  tenter_document *d = p->parts.document;
  work_point point = {position, direction};
  const char *where = position == TENTER_NO_NAME16 && direction == TENTER_DIRECTION_NONE
                          ? ""
                          : work_point_words(shop_of(p)->tables, point, d->arena);
  return tenter_document_print(d, "%s %s", fixed(p, tension, 1), where);
}

static const char *evenness_words(tenter_verdict verdict) {
  static const tenter_say words[] = {TENTER_SAY_SCREEN_NOT_JUDGED, TENTER_SAY_SCREEN_EVEN,
                                     TENTER_SAY_SCREEN_UNDECIDED, TENTER_SAY_SCREEN_UNEVEN};
  return tenter_say_text(words[verdict]);
}

static const char *accepted_words(const cert_parts *p, const tenter_certificate_screen *screen) {
  if (screen->accepted_session == screen->judged->latest.session ||
      screen->accepted_session == SIZE_MAX)
    return "";
  tenter_document *d = p->parts.document;
  double age = tenter_mounting_age_hours(mounting_of(p, screen),
                                         shop_of(p)->sessions[screen->accepted_session].taken);
  return tenter_say_fill(
      d->arena, TENTER_SAY_CERT_ACCEPTED,
      tenter_document_uncertain(d, screen->accepted_mean, screen->accepted_expanded),
      fixed(p, age, 0), END);
}

static void screen_row(const cert_parts *p, tenter_block *table,
                       const tenter_certificate_screen *screen) {
  tenter_document *d = p->parts.document;
  tenter_cell *row = tenter_document_row(d, table);
  if (row == NULL)
    return;
  const tenter_attributes *is = &mounting_of(p, screen)->is;
  const tenter_latest *latest = &screen->judged->latest;
  bool simple = screen->by_simple_rule;
  row[0] = tenter_cell_text(name_of(p, TENTER_NAME_SCREEN, screen->screen));
  row[1] = tenter_cell_verdict(
      tenter_say_text(simple ? TENTER_SAY_CERT_CONFORMS_SIMPLE : TENTER_SAY_CERT_CONFORMS),
      simple ? TENTER_TONE_WATCH : TENTER_TONE_GOOD, simple);
  row[2] = tenter_cell_text(name_of(p, TENTER_NAME_MESH, is->mesh));
  row[3] = tenter_cell_text(name_of(p, TENTER_NAME_LOT, is->lot));
  row[4] = tenter_cell_number(is->target, 1);
  row[5] = tenter_cell_time((tenter_when){shop_of(p)->sessions[latest->session].taken, true});
  row[6] = tenter_cell_number(latest->age_hours, 0);
  row[7] = tenter_cell_text(tenter_document_uncertain(d, latest->adjusted_mean, screen->expanded));
  row[7].rank = latest->adjusted_mean;
  row[8] = tenter_cell_text(
      point_words(p, latest->min, latest->weakest_position, latest->weakest_direction));
  row[8].rank = latest->min;
  row[9] = tenter_cell_text(
      point_words(p, latest->max, latest->tightest_position, latest->tightest_direction));
  row[9].rank = latest->max;
  row[10] = tenter_cell_text(evenness_words(screen->judged->evenness));
  row[11] = p->c->simple ? part_percent(screen->judged->tolerance_probability)
                         : tenter_cell_number(NAN, 0);
  row[12] = tenter_cell_text(accepted_words(p, screen));
}

static void tell_screens(const cert_parts *p) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_SCREEN), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_VERDICT), TENTER_CELLS_VERDICT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_MESH), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_LOT), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_CERT_COLUMN_TARGET), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_READ), TENTER_CELLS_TIME, true},
      {tenter_say_text(TENTER_SAY_CERT_COLUMN_AGE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_CERT_COLUMN_MEAN), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_CERT_COLUMN_WEAKEST), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_CERT_COLUMN_TIGHTEST), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_CERT_COLUMN_EVENNESS), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_CERT_COLUMN_CHANCE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_CERT_COLUMN_ACCEPTED), TENTER_CELLS_TEXT, false}};
  if (p->c->certified == 0)
    return;
  tenter_document *d = p->parts.document;
  tenter_block *parent = section(p, "screens", TENTER_SAY_CERT_SCREENS);
  part_say(d, parent, TENTER_SAY_CERT_SCREENS_LEAD);
  tenter_block *table = tenter_document_table(d, parent, "certified", "", columns, 13);
  bool others = false;
  for (size_t i = 0; i < p->c->screen_count; i++) {
    const tenter_certificate_screen *screen = &p->c->screens[i];
    if (!screen->certified)
      continue;
    screen_row(p, table, screen);
    others |= accepted_words(p, screen)[0] != '\0';
  }
  tenter_document_prune(table);
  if (p->c->simple)
    part_say(d, parent, TENTER_SAY_CERT_CHANCE_NOTE);
  if (others)
    part_say(d, parent, TENTER_SAY_CERT_ACCEPTED_NOTE);
}

static void tell_refused(const cert_parts *p) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_SCREEN), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_WHY), TENTER_CELLS_TEXT, false}};
  if (p->c->certified == p->c->screen_count)
    return;
  tenter_document *d = p->parts.document;
  tenter_block *parent = section(p, "refused", TENTER_SAY_CERT_REFUSED);
  part_say(d, parent, TENTER_SAY_CERT_REFUSED_LEAD);
  tenter_block *table = tenter_document_table(d, parent, "refused-table", "", columns, 2);
  for (size_t i = 0; i < p->c->screen_count; i++) {
    const tenter_certificate_screen *screen = &p->c->screens[i];
    tenter_cell *row = screen->certified ? NULL : tenter_document_row(d, table);
    if (row == NULL)
      continue;
    row[0] = tenter_cell_text(name_of(p, TENTER_NAME_SCREEN, screen->screen));
    row[1] = tenter_cell_text(cert_refusals_words(d, p->c, screen));
  }
}

/* ---- the day of use ------------------------------------------------------------------------- */

static void tell_ahead(const cert_parts *p) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_SCREEN), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_CERT_COLUMN_DAY), TENTER_CELLS_TIME, true},
      {tenter_say_text(TENTER_SAY_CERT_COLUMN_EXPECTED), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_CERT_COLUMN_FROM), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_CERT_COLUMN_TO), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_FLOOR), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_CHANCE), TENTER_CELLS_NUMBER, true}};
  tenter_document *d = p->parts.document;
  tenter_block *table = NULL;
  for (size_t i = 0; i < p->c->screen_count; i++) {
    const tenter_certificate_screen *screen = &p->c->screens[i];
    if (!screen->certified || !isfinite(screen->expected))
      continue;
    if (table == NULL) {
      tenter_block *parent = section(p, "ahead", TENTER_SAY_CERT_AHEAD);
      part_say(d, parent, TENTER_SAY_CERT_AHEAD_LEAD);
      table = tenter_document_table(d, parent, "ahead-table", "", columns, 7);
    }
    tenter_cell *row = tenter_document_row(d, table);
    if (row == NULL)
      return;
    row[0] = tenter_cell_text(name_of(p, TENTER_NAME_SCREEN, screen->screen));
    row[1] = tenter_cell_time(mounting_of(p, screen)->is.needed_on);
    row[2] = tenter_cell_number(screen->expected, 1);
    row[3] = tenter_cell_number(screen->expected - 1.645 * screen->expected_sd, 1);
    row[4] = tenter_cell_number(screen->expected + 1.645 * screen->expected_sd, 1);
    row[5] = tenter_cell_number(mounting_of(p, screen)->is.floor, 1);
    row[6] = part_percent(screen->below_floor_then);
  }
}

/* ---- sets ----------------------------------------------------------------------------------- */

static tenter_cell set_verdict(tenter_verdict verdict) {
  static const tenter_say words[] = {TENTER_SAY_SCREEN_NOT_JUDGED, TENTER_SAY_CERT_SET_YES,
                                     TENTER_SAY_SET_UNDECIDED, TENTER_SAY_SET_NO};
  static const tenter_tone tones[] = {TENTER_TONE_PLAIN, TENTER_TONE_GOOD, TENTER_TONE_WATCH,
                                      TENTER_TONE_ACT};
  return tenter_cell_verdict(tenter_say_text(words[verdict]), tones[verdict], (double)verdict);
}

static void tell_sets(const cert_parts *p) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_SET), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SCREENS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SPREAD), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_UNCERTAINTY), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_AGREES), TENTER_CELLS_VERDICT, true}};
  tenter_document *d = p->parts.document;
  const tenter_review *review = p->c->review;
  tenter_block *table = NULL;
  for (size_t i = 0; i < review->set_count; i++) {
    const tenter_review_set *set = &review->sets[i];
    if (!cert_has_set(p->c, set))
      continue;
    if (table == NULL) {
      tenter_block *parent = section(p, "sets", TENTER_SAY_CERT_SETS);
      const char *limit = fixed(p, shop_of(p)->config->settings.set_spread, 1);
      tenter_document_paragraph(d, parent,
                                tenter_say_fill(d->arena, TENTER_SAY_CERT_SETS_LEAD, limit, END));
      table = tenter_document_table(d, parent, "sets-table", "", columns, 5);
    }
    tenter_cell *row = tenter_document_row(d, table);
    if (row == NULL)
      return;
    int decimals = tenter_decimals_of(set->spread_uncertainty);
    row[0] = tenter_cell_text(name_of(p, TENTER_NAME_SET, set->set));
    row[1] = tenter_cell_number((double)set->screen_count, 0);
    row[2] = tenter_cell_number(set->spread, decimals);
    row[3] = tenter_cell_number(set->spread_uncertainty, decimals);
    row[4] = set_verdict(set->agrees);
  }
}

/* ---- pictures ------------------------------------------------------------------------------- */

static void tell_pictures(const cert_parts *p, const cert_picture *pictures, const char *id,
                          tenter_say heading, tenter_say lead) {
  tenter_document *d = p->parts.document;
  tenter_block *figures = NULL;
  for (size_t i = 0; pictures != NULL && i < p->c->screen_count; i++) {
    const cert_picture *picture = &pictures[i];
    if (picture->alternative == NULL)
      continue;
    if (figures == NULL) {
      tenter_block *parent = section(p, id, heading);
      part_say(d, parent, lead);
      if (p->drawn < p->c->certified)
        tenter_document_paragraph(
            d, parent,
            tenter_say_fill(d->arena, TENTER_SAY_CERT_PICTURES_CUT, part_count(d, p->drawn), END));
      figures = tenter_document_figures(d, parent);
    }
    tenter_document_figure(
        d, figures,
        (tenter_figure){.title = name_of(p, TENTER_NAME_SCREEN, p->c->screens[i].screen),
                        .caption = "",
                        .alternative = picture->alternative,
                        .svg = picture->svg,
                        .width = picture->width,
                        .height = picture->height});
  }
}

/* ---- meters --------------------------------------------------------------------------------- */

static void meter_row(const cert_parts *p, tenter_block *table,
                      const tenter_certificate_meter *meter) {
  tenter_document *d = p->parts.document;
  tenter_cell *row = tenter_document_row(d, table);
  if (row == NULL)
    return;
  row[0] = tenter_cell_text(name_of(p, TENTER_NAME_METER, meter->meter));
  row[1] = tenter_cell_number((double)meter->screens, 0);
  row[2] = tenter_cell_number(meter->expanded, 2);
  row[3] = tenter_cell_number(meter->coverage, 1);
  row[4] = tenter_cell_text(meter->assumed ? tenter_say_text(TENTER_SAY_CERT_ASSUMED) : "");
  row[5] = tenter_cell_number(meter->resolution, 2);
  row[6] = tenter_cell_time(meter->checked);
  if (meter->checks == 0)
    row[6].text = tenter_say_text(TENTER_SAY_CERT_METER_NO_CHECK);
  row[7] = tenter_cell_number(meter->worst, 2);
  row[7].sign = true;
  row[8] = tenter_cell_text(
      isfinite(meter->bias) ? tenter_document_uncertain(d, meter->bias, meter->bias_se) : "");
  row[9] = tenter_cell_number(meter->every_days, 0);
}

static void tell_meters(const cert_parts *p) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_METER), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SCREENS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_CERT_COLUMN_EXPANDED), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_CERT_COLUMN_COVERAGE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_NOTED), TENTER_CELLS_TEXT, false},
      {tenter_say_text(TENTER_SAY_CERT_COLUMN_RESOLUTION), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_CERT_COLUMN_CHECKED), TENTER_CELLS_TIME, true},
      {tenter_say_text(TENTER_SAY_CERT_COLUMN_ERROR), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_BIAS), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_CERT_COLUMN_EVERY), TENTER_CELLS_NUMBER, true}};
  if (p->c->certified == 0)
    return;
  tenter_document *d = p->parts.document;
  tenter_block *parent = section(p, "meters", TENTER_SAY_CERT_METERS);
  if (p->c->meter_count == 0) {
    tenter_document_paragraph(d, parent,
                              tenter_say_fill(d->arena, TENTER_SAY_CERT_METERS_NONE,
                                              part_fixed(d, TENTER_ASSUMED_EXPANDED, 1),
                                              part_fixed(d, TENTER_ASSUMED_COVERAGE, 0),
                                              (const char *)NULL));
    return;
  }
  part_say(d, parent, TENTER_SAY_CERT_METERS_LEAD);
  tenter_block *table = tenter_document_table(d, parent, "meters-table", "", columns, 10);
  for (size_t i = 0; i < p->c->meter_count; i++)
    meter_row(p, table, &p->c->meters[i]);
  tenter_document_prune(table);
}

/* ---- cautions, provenance, signature -------------------------------------------------------- */

static void tell_cautions(const cert_parts *p) {
  static const tenter_say items[] = {
      TENTER_SAY_CERT_CAUTION_EYES,      TENTER_SAY_CERT_CAUTION_STORE,
      TENTER_SAY_CERT_CAUTION_RECEIPT,   TENTER_SAY_CERT_CAUTION_RAISE,
      TENTER_SAY_CERT_CAUTION_CHEMICALS, TENTER_SAY_CERT_CAUTION_DEFER};
  tenter_document *d = p->parts.document;
  tenter_block *caution =
      tenter_document_caution(d, NULL, tenter_say_text(TENTER_SAY_CERT_CAUTION));
  for (size_t i = 0; i < sizeof items / sizeof *items; i++)
    tenter_document_item(d, caution, tenter_say_text(items[i]));
}

/* Those that differ from their defaults; all of them stand in certificate.json. */
static void tell_settings(const cert_parts *p, tenter_block *list) {
  tenter_document *d = p->parts.document;
  const tenter_settings *is = &shop_of(p)->config->settings;
  tenter_settings initial = tenter_settings_default();
  for (size_t i = 0; i < tenter_setting_count; i++) {
    const tenter_setting *setting = &tenter_setting_table[i];
    const char *value = tenter_setting_print(is, setting, d->arena);
    const char *was = tenter_setting_print(&initial, setting, d->arena);
    d->failed |= value == NULL || was == NULL;
    if (!d->failed && strcmp(value, was) != 0)
      tenter_document_define(
          d, list, tenter_document_print(d, "[%s] %s", setting->section, setting->key), value);
  }
}

static void tell_provenance(const cert_parts *p) {
  tenter_document *d = p->parts.document;
  tenter_block *parent = section(p, "provenance", TENTER_SAY_CERT_PROVENANCE);
  tenter_block *list = tenter_document_definitions(d, parent);
  tenter_document_define(
      d, list, tenter_say_text(TENTER_SAY_CERT_FINGERPRINT),
      tenter_say_fill(d->arena, TENTER_SAY_CERT_FINGERPRINT_WORDS, p->fingerprint, END));
  part_sources(d, list, shop_of(p), p->parts.version);
  tell_settings(p, list);
  part_say(d, parent, TENTER_SAY_CERT_VERIFY);
}

static void tell_signature(const cert_parts *p) {
  tenter_document *d = p->parts.document;
  const char *shop = shop_of(p)->config->settings.shop_name;
  tenter_block *lines = tenter_document_signature(
      d, NULL,
      tenter_say_fill(d->arena, TENTER_SAY_CERT_SIGNATURE,
                      shop[0] != '\0' ? shop : tenter_say_text(TENTER_SAY_CERT_SIGNATURE_SHOP),
                      END));
  tenter_document_item(d, lines, tenter_say_text(TENTER_SAY_CERT_SIGN_DATE));
  tenter_document_item(d, lines, tenter_say_text(TENTER_SAY_CERT_SIGN_NAME));
  tenter_document_item(d, lines, tenter_say_text(TENTER_SAY_CERT_SIGN_HAND));
}

/* ---- the whole ------------------------------------------------------------------------------ */

static const char *subject_words(const cert_parts *p) {
  tenter_document *d = p->parts.document;
  const tenter_certificate *c = p->c;
  if (c->request.scope == TENTER_CERTIFICATE_ORDER)
    return tenter_say_fill(d->arena, TENTER_SAY_CERT_TITLE_OF_ORDER,
                           name_of(p, TENTER_NAME_ORDER, c->request.name), END);
  if (c->request.scope == TENTER_CERTIFICATE_CUSTOMER)
    return tenter_say_fill(d->arena, TENTER_SAY_CERT_TITLE_OF_CUSTOMER,
                           name_of(p, TENTER_NAME_CUSTOMER, c->request.name), END);
  return NULL;
}

static void tell(cert_parts *p, bool page) {
  tenter_document *d = p->parts.document;
  const char *subject = subject_words(p);
  if (subject != NULL)
    d->subtitle = tenter_document_print(d, "%s · %s", subject, d->subtitle);
  tell_head(p);
  if (p->missing[0] != '\0')
    tenter_document_paragraph(d, NULL,
                              tenter_say_fill(d->arena, TENTER_SAY_NO_PICTURES, p->missing, END));
  tell_rule(p);
  tell_screens(p);
  tell_refused(p);
  if (p->c->certified == 0)
    return;
  tell_ahead(p);
  tell_sets(p);
  tell_meters(p);
  tell_cautions(p);
  if (page)
    tell_signature(p);
  tell_pictures(p, p->maps, "maps", TENTER_SAY_CERT_MAPS, TENTER_SAY_CERT_MAPS_LEAD);
  tell_pictures(p, p->curves, "curves", TENTER_SAY_CERT_CURVES, TENTER_SAY_CERT_CURVES_LEAD);
  cert_part_process(p);
  if (page)
    tell_provenance(p);
}

/* Whose paper it is, and the fingerprint at the foot of each page. */
static void set_paper(const cert_parts *p) {
  tenter_document *d = p->parts.document;
  const tenter_settings *is = &shop_of(p)->config->settings;
  if (d->house.name == NULL)
    d->house.name = is->shop_name;
  if (d->house.address == NULL)
    d->house.address = is->shop_address;
  d->footer = tenter_say_fill(d->arena, TENTER_SAY_CERT_FOOTER, p->fingerprint, END);
}

tenter_document *cert_document(const tenter_certificate_report *report, const char *fingerprint,
                               bool pictures, char note[TENTER_MESSAGE_SIZE]) {
  const tenter_certificate *c = report->certificate;
  const char *version = report->options->version;
  cert_parts p = {
      .parts = {.review = c->review,
                .version = version,
                .document = document_of(c->review->shop, TENTER_SAY_TITLE_CERTIFICATE, version)},
      .c = c,
      .fingerprint = fingerprint};
  tenter_document *d = p.parts.document;
  if (d == NULL)
    return NULL;
  if (pictures) {
    set_paper(&p);
    cert_pictures_draw(&p);
  }
  if (note != NULL && p.missing[0] != '\0')
    snprintf(note, TENTER_MESSAGE_SIZE, "%s",
             tenter_say_fill(d->arena, TENTER_SAY_CERT_NOTE_PICTURES, p.missing, END));
  if (!d->failed)
    tell(&p, pictures);
  if (!d->failed)
    return d;
  tenter_document_free(d);
  return NULL;
}
