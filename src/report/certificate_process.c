/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The part of a certificate on how the shop stretched for it: counts, normality, tolerance
 * interval, capability, acceptance by variables; one group a specification. */
#include <math.h>

#include "certificate_parts.h"

#define END (const char *)NULL

/* One group on its way into the document. */
typedef struct grouped {
  tenter_document *d;
  const cert_parts *p;
  const tenter_certificate_group *g;
  tenter_block *section, *list;
} grouped;

static const char *fixed(const grouped *t, double value, int decimals) {
  return part_fixed(t->d, value, decimals);
}

static const char *percent(const grouped *t, double share, int decimals) {
  return fixed(t, 100 * share, decimals);
}

/* An id of the page, one a group. */
static const char *id_of(const grouped *t, const char *word) {
  return tenter_document_print(t->d, "%s-%zu", word, (size_t)(t->g - t->p->c->groups) + 1);
}

static const char *confidence(const grouped *t) {
  return percent(t, t->p->c->review->shop->config->settings.confidence, 0);
}

static void define(const grouped *t, tenter_say term, const char *text) {
  tenter_document_define(t->d, t->list, tenter_say_text(term), text);
}

/* ---- what can be said whatever the law ------------------------------------------------------ */

static void tell_counts(const grouped *t) {
  const tenter_certificate_group *g = t->g;
  tenter_arena *arena = t->d->arena;
  define(t, TENTER_SAY_CERT_MADE,
         tenter_say_fill(arena, TENTER_SAY_CERT_MADE_WORDS, part_count(t->d, g->mountings),
                         part_count(t->d, g->rejects), part_count(t->d, g->refused),
                         part_count(t->d, g->mountings - g->count), END));
  define(t, TENTER_SAY_CERT_COUNTED,
         g->count == 0
             ? tenter_say_text(TENTER_SAY_CERT_COUNTED_NONE)
             : tenter_say_fill(arena, TENTER_SAY_CERT_COUNTED_WORDS, part_count(t->d, g->within),
                               part_count(t->d, g->count), part_count(t->d, g->outside),
                               percent(t, g->outside_share.low, 1),
                               percent(t, g->outside_share.high, 1), confidence(t), END));
}

static void tell_range(const grouped *t) {
  const tenter_certificate_group *g = t->g;
  if (g->count < 2)
    return;
  double middle = (g->sorted[(g->count - 1) / 2] + g->sorted[g->count / 2]) / 2;
  define(t, TENTER_SAY_CERT_RANGE,
         tenter_say_fill(t->d->arena, TENTER_SAY_CERT_RANGE_WORDS, fixed(t, g->sorted[0], 2),
                         fixed(t, middle, 2), fixed(t, g->sorted[g->count - 1], 2),
                         percent(t, g->range_content, 0), confidence(t), END));
}

/* ---- under a normal law --------------------------------------------------------------------- */

static const char *p_words(const grouped *t, double p) {
  return p < 0.001 ? tenter_document_print(t->d, "<%s", fixed(t, 0.001, 3)) : fixed(t, p, 3);
}

static void tell_normality(const grouped *t) {
  const tenter_certificate_group *g = t->g;
  define(t, TENTER_SAY_CERT_NORMALITY,
         !g->tested
             ? tenter_say_fill(t->d->arena, TENTER_SAY_CERT_NORMAL_UNTESTED,
                               part_count(t->d, TENTER_NORMALITY_LEAST), END)
             : tenter_say_fill(t->d->arena,
                               g->normal ? TENTER_SAY_CERT_NORMAL : TENTER_SAY_CERT_NOT_NORMAL,
                               fixed(t, g->normality.a2, 3), p_words(t, g->normality.p), END));
}

static void tell_tolerance_interval(const grouped *t) {
  const tenter_certificate_group *g = t->g;
  const char *content = percent(t, t->p->c->review->shop->config->settings.content, 0);
  const char *factor = fixed(t, g->factor, 3), *words;
  if (g->tested && !g->normal)
    return;
  if (isnan(g->factor))
    words = tenter_say_text(TENTER_SAY_CERT_TOO_FEW);
  else if (isfinite(g->low) && isfinite(g->high))
    words = tenter_say_fill(t->d->arena, TENTER_SAY_CERT_TOLERANCE_BOTH, fixed(t, g->low, 2),
                            fixed(t, g->high, 2), content, confidence(t), factor, END);
  else
    words = tenter_say_fill(
        t->d->arena,
        isfinite(g->low) ? TENTER_SAY_CERT_TOLERANCE_LOW : TENTER_SAY_CERT_TOLERANCE_HIGH,
        fixed(t, isfinite(g->low) ? g->low : g->high, 2), content, confidence(t), factor, END);
  define(t, TENTER_SAY_CERT_TOLERANCE_INTERVAL, words);
}

static void tell_moments(const grouped *t) {
  const tenter_capability *c = &t->g->capability;
  if (t->g->count == 0)
    return;
  define(t, TENTER_SAY_CERT_MOMENTS,
         tenter_say_fill(t->d->arena, TENTER_SAY_CERT_MOMENTS_WORDS, fixed(t, c->mean, 2),
                         fixed(t, c->sd, 2), fixed(t, c->within, 2), END));
}

static void index_row(const grouped *t, tenter_block *table, tenter_say say,
                      const tenter_estimate *e, double times, int decimals) {
  tenter_cell *row = isnan(e->value) ? NULL : tenter_document_row(t->d, table);
  if (row == NULL)
    return;
  row[0] = tenter_cell_text(tenter_say_text(say));
  row[1] = tenter_cell_number(times * e->value, decimals);
  row[2] = tenter_cell_number(times * e->low, decimals);
  row[3] = tenter_cell_number(times * e->high, decimals);
}

static void tell_indices(const grouped *t) {
  const tenter_capability *c = &t->g->capability;
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_CERT_COLUMN_INDEX), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_VALUE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_CERT_COLUMN_LOW), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_CERT_COLUMN_HIGH), TENTER_CELLS_NUMBER, true}};
  if (isnan(c->ppk.value))
    return;
  const char *caption = tenter_say_fill(t->d->arena, TENTER_SAY_CERT_INDICES, confidence(t), END);
  tenter_block *table =
      tenter_document_table(t->d, t->section, id_of(t, "capability"), caption, columns, 4);
  index_row(t, table, TENTER_SAY_CERT_CP, &c->cp, 1, 2);
  index_row(t, table, TENTER_SAY_CERT_CPK, &c->cpk, 1, 2);
  index_row(t, table, TENTER_SAY_CERT_PP, &c->pp, 1, 2);
  index_row(t, table, TENTER_SAY_CERT_PPK, &c->ppk, 1, 2);
  index_row(t, table, TENTER_SAY_CERT_SHARE_BELOW, &c->below, 100, 2);
  index_row(t, table, TENTER_SAY_CERT_SHARE_ABOVE, &c->above, 100, 2);
  index_row(t, table, TENTER_SAY_CERT_SHARE_OUTSIDE, &c->outside, 100, 2);
  part_say(t->d, t->section, TENTER_SAY_CERT_INDICES_NOTE);
}

static void tell_plot(const grouped *t) {
  size_t index = (size_t)(t->g - t->p->c->groups);
  const cert_picture *plot = t->p->plots != NULL ? &t->p->plots[index] : NULL;
  if (plot == NULL || plot->alternative == NULL)
    return;
  tenter_block *figures = tenter_document_figures(t->d, t->section);
  tenter_document_figure(t->d, figures,
                         (tenter_figure){.title = tenter_say_text(TENTER_SAY_CERT_PLOT),
                                         .caption = tenter_say_text(TENTER_SAY_CERT_PLOT_CAPTION),
                                         .alternative = plot->alternative,
                                         .svg = plot->svg,
                                         .width = plot->width,
                                         .height = plot->height});
}

/* ---- acceptance by variables ---------------------------------------------------------------- */

static const char *quality_words(const grouped *t, double quality) {
  return isinf(quality) ? tenter_say_text(TENTER_SAY_CERT_PLAN_NO_LIMIT) : fixed(t, quality, 2);
}

static const char *plan_words(const grouped *t) {
  const tenter_certificate_group *g = t->g;
  tenter_arena *arena = t->d->arena;
  const char *sigma = isnan(g->plan.sigma) ? tenter_say_text(TENTER_SAY_CERT_PLAN_UNKNOWN)
                                           : tenter_say_fill(arena, TENTER_SAY_CERT_PLAN_KNOWN,
                                                             fixed(t, g->plan.sigma, 2), END);
  return tenter_say_fill(arena, TENTER_SAY_CERT_PLAN_WORDS,
                         tenter_say_text(g->result.accepted ? TENTER_SAY_CERT_PLAN_ACCEPTED
                                                            : TENTER_SAY_CERT_PLAN_REJECTED),
                         part_count(t->d, t->p->c->plan_asked), fixed(t, g->plan.k, 2), sigma,
                         part_count(t->d, g->count), quality_words(t, g->result.lower_quality),
                         quality_words(t, g->result.upper_quality), END);
}

static const char *no_plan_words(const grouped *t) {
  const tenter_certificate_group *g = t->g;
  if (g->sorted_delivery)
    return tenter_say_text(TENTER_SAY_CERT_PLAN_SORTED);
  if (g->tested && !g->normal)
    return tenter_say_text(TENTER_SAY_CERT_PLAN_NOT_NORMAL);
  return tenter_say_fill(t->d->arena, TENTER_SAY_CERT_PLAN_FEW,
                         part_count(t->d, t->p->c->plan_asked), part_count(t->d, g->count),
                         part_count(t->d, g->mountings), END);
}

static void tell_plan(const grouped *t) {
  const tenter_certificate_group *g = t->g;
  if (t->p->c->plan_asked == 0)
    return;
  tenter_block *section = tenter_document_section(
      t->d, t->section, "plan", tenter_say_text(TENTER_SAY_CERT_PLAN), TENTER_SECTION_PLAIN);
  tenter_document_paragraph(t->d, section, g->planned ? plan_words(t) : no_plan_words(t));
  if (g->planned)
    tenter_document_paragraph(t->d, section,
                              tenter_say_fill(t->d->arena, TENTER_SAY_CERT_PLAN_OC,
                                              percent(t, tenter_plan_quality(&g->plan, 0.95), 2),
                                              percent(t, tenter_plan_quality(&g->plan, 0.50), 1),
                                              percent(t, tenter_plan_quality(&g->plan, 0.10), 1),
                                              END));
}

/* ---- all of it ------------------------------------------------------------------------------ */

static void tell_group(const cert_parts *p, tenter_block *parent,
                       const tenter_certificate_group *g) {
  tenter_document *d = p->parts.document;
  const char *mesh = part_name(p->c->review, TENTER_NAME_MESH, g->mesh);
  const char *heading =
      tenter_say_fill(d->arena, TENTER_SAY_CERT_GROUP_HEADING, mesh[0] != '\0' ? mesh : "–",
                      part_fixed(d, g->target, 1), END);
  const char *id = tenter_document_print(d, "process-%zu", (size_t)(g - p->c->groups) + 1);
  grouped t = {.d = d,
               .p = p,
               .g = g,
               .section = tenter_document_section(d, parent, id, heading, TENTER_SECTION_PLAIN)};
  t.list = tenter_document_definitions(d, t.section);
  tell_counts(&t);
  tell_moments(&t);
  tell_normality(&t);
  tell_tolerance_interval(&t);
  tell_range(&t);
  tell_indices(&t);
  tell_plot(&t);
  tell_plan(&t);
}

void cert_part_process(cert_parts *p) {
  tenter_document *d = p->parts.document;
  tenter_block *section = tenter_document_section(
      d, NULL, "process", tenter_say_text(TENTER_SAY_CERT_PROCESS), TENTER_SECTION_PLAIN);
  if (p->c->request.scope == TENTER_CERTIFICATE_SCREENS) {
    part_say(d, section, TENTER_SAY_CERT_PROCESS_PICKED);
    return;
  }
  size_t mountings = 0;
  for (size_t i = 0; i < p->c->group_count; i++)
    mountings += p->c->groups[i].mountings;
  const char *days = part_fixed(d, p->c->review->shop->config->settings.reject_days, 0);
  tenter_document_paragraph(
      d, section,
      tenter_say_fill(d->arena, TENTER_SAY_CERT_PROCESS_LEAD, part_count(d, mountings), days, END));
  for (size_t i = 0; i < p->c->group_count; i++)
    tell_group(p, section, &p->c->groups[i]);
}
