/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is said of a shift, and of each meter: its size and since when, what it is measured against,
 * and everything that it can't be told from. */
#include <string.h>

#include "shift.h"

/* ---- names ---------------------------------------------------------------------------------- */

static uint32_t name_id(const shift_words *w, tenter_shift_source who) {
  if (who.kind == TENTER_SHIFT_ALL)
    return TENTER_NO_NAME;
  return w->name[who.kind == TENTER_SHIFT_SECOND][who.source];
}

static const char *label(const shift_words *w, tenter_shift_source who) {
  const tenter_tables *t = w->j->tables;
  if (who.kind == TENTER_SHIFT_ALL)
    return tenter_say_text(TENTER_SAY_SHIFT_OF_ALL);
  bool person = who.kind == TENTER_SHIFT_SECOND;
  const char *name = tenter_names_get(t->names[person ? TENTER_NAME_OPERATOR : TENTER_NAME_METER],
                                      name_id(w, who));
  return tenter_say_fill(w->j->arena,
                         person ? TENTER_SAY_SHIFT_OF_OPERATOR : TENTER_SAY_SHIFT_OF_METER, name,
                         (const char *)NULL);
}

static bool same(tenter_shift_source a, tenter_shift_source b) {
  return a.kind == b.kind && a.source == b.source;
}

/* All candidates but one; false when memory runs out. */
static bool list_others(const shift_words *w, const tenter_shift *shift, tenter_shift_source but,
                        const char *const **list, size_t *count) {
  const char **texts = tenter_arena_alloc(w->j->arena, shift->others + 1, sizeof *texts);
  *count = 0;
  if (!texts)
    return false;
  if (!same(shift->who, but))
    texts[(*count)++] = label(w, shift->who);
  for (size_t i = 0; i < shift->others; i++)
    if (!same(shift->other[i], but))
      texts[(*count)++] = label(w, shift->other[i]);
  *list = texts;
  return !tenter_arena_failed(w->j->arena);
}

/* ---- one shift ------------------------------------------------------------------------------ */

static const char *against_of(const shift_words *w, const tenter_shift *shift) {
  if (shift->gauged)
    return TENTER_AGAINST_PLATE;
  return shift->who.kind == TENTER_SHIFT_FIRST && w->scanned[0] > 1 ? TENTER_AGAINST_METERS
                                                                    : TENTER_AGAINST_PAST;
}

static const char *measured(const char *against) {
  if (strcmp(against, TENTER_AGAINST_PLATE) == 0)
    return tenter_say_text(TENTER_SAY_SHIFT_BY_PLATE);
  if (strcmp(against, TENTER_AGAINST_METERS) == 0)
    return tenter_say_text(TENTER_SAY_SHIFT_BY_METERS);
  return tenter_say_text(TENTER_SAY_SHIFT_BY_PAST);
}

static const char *joined(tenter_arena *arena, const char *const *texts, size_t count) {
  const char *all = texts[0];
  for (size_t i = 1; i < count; i++)
    all = tenter_say_fill(arena, i + 1 < count ? TENTER_SAY_LIST_AND_MORE : TENTER_SAY_LIST_OR, all,
                          texts[i], (const char *)NULL);
  return all;
}

static tenter_say entry_of(const tenter_review_shift *shift) {
  bool lower = shift->size < 0;
  if (shift->until != TENTER_NO_TIME)
    return lower ? TENTER_SAY_SHIFT_LOWER_ON : TENTER_SAY_SHIFT_HIGHER_ON;
  if (shift->drift)
    return lower ? TENTER_SAY_SHIFT_LOWER_DRIFTING : TENTER_SAY_SHIFT_HIGHER_DRIFTING;
  return lower ? TENTER_SAY_SHIFT_LOWER_SINCE : TENTER_SAY_SHIFT_HIGHER_SINCE;
}

static const char *say_shift(const shift_words *w, const tenter_shift *shift,
                             const tenter_review_shift *out, tenter_form form) {
  tenter_arena *arena = w->j->arena;
  char since[TENTER_WORDS_SIZE];
  const char *said = tenter_say_fill(arena, entry_of(out), label(w, shift->who),
                                     tenter_say_fixed(arena, form, fabs(out->size), 2),
                                     tenter_say_fixed(arena, form, out->size_se, 2),
                                     tenter_say_when(form, (tenter_when){out->since, true}, since),
                                     measured(out->against), (const char *)NULL);
  if (out->confounded_count == 0)
    return said;
  return tenter_say_fill(arena, TENTER_SAY_SHIFT_NOT_TOLD, said,
                         joined(arena, out->confounded_with, out->confounded_count),
                         (const char *)NULL);
}

/* The first check of a meter from the begin of its shift on; TENTER_NO_TIME without. */
static tenter_time first_check(const shift_words *w, const tenter_shift *shift) {
  const tenter_tables *t = w->j->tables;
  tenter_time begin = (tenter_time)(w->end + w->edge[shift->bin] * TENTER_DAY);
  tenter_time first = TENTER_NO_TIME;
  for (size_t i = 0; i < t->check_count && shift->who.kind == TENTER_SHIFT_FIRST; i++) {
    const tenter_meter_check *check = &t->checks[i];
    if (check->meter == name_id(w, shift->who) && check->at.at >= begin &&
        (first == TENTER_NO_TIME || check->at.at < first))
      first = check->at.at;
  }
  return first;
}

static bool fill_shift(const shift_words *w, const tenter_shift *shift, tenter_review_shift *out) {
  static const char *const causes[] = {"meter", "operator", TENTER_CAUSE_ALL};
  out->cause = causes[shift->who.kind];
  out->name = name_id(w, shift->who);
  out->until = TENTER_NO_TIME;
  if (shift->shape == TENTER_SHIFT_SPELL)
    out->until = (tenter_time)(w->end + w->edge[shift->bin + 1] * TENTER_DAY);
  tenter_time plate = first_check(w, shift);
  if (out->since == TENTER_NO_TIME || (plate != TENTER_NO_TIME && plate < out->since))
    out->since = plate;
  out->drift = shift->shape == TENTER_SHIFT_RAMP;
  out->size = shift->size;
  out->size_se = shift->se;
  out->against = against_of(w, shift);
  out->corrected = w->j->settings->shifted_readings == TENTER_SHIFTED_CORRECTED;
  if (!w->j->texts)
    return true;
  if (!list_others(w, shift, shift->who, &out->confounded_with, &out->confounded_count))
    return false;
  out->text = say_shift(w, shift, out, TENTER_FORM_PLAIN);
  out->shown = say_shift(w, shift, out, judge__form(w->j));
  return !tenter_arena_failed(w->j->arena);
}

/* ---- each meter ----------------------------------------------------------------------------- */

/* How far a meter is off now for what moved, over all shifts it is a candidate of. */
typedef struct now {
  double off, variance;
  size_t first; /* the shift that began first and is there still; SIZE_MAX none */
  bool gauged;
} now;

static bool is_candidate(const tenter_shift *shift, tenter_shift_source who) {
  bool is = same(shift->who, who);
  for (size_t i = 0; i < shift->others; i++)
    is |= same(shift->other[i], who);
  return is;
}

static now now_of(const shift_words *w, tenter_shift_source meter) {
  now n = {.first = SIZE_MAX};
  for (size_t i = 0; i < w->fit->shifts; i++) {
    const tenter_shift *shift = &w->fit->shift[i];
    double share = tenter_shift_share(shift, w->edge, w->bins, -1e-9);
    if (share == 0 || !is_candidate(shift, meter))
      continue;
    n.off += share * shift->size;
    n.variance += squared(share * shift->se);
    n.gauged |= shift->gauged;
    if (n.first == SIZE_MAX || shift->bin < w->fit->shift[n.first].bin)
      n.first = i;
  }
  return n;
}

/* Mean error on plates before a time; NaN without. */
static double plate_before(const judge *j, uint32_t meter, tenter_time before, double *variance) {
  double sum = 0, count = 0;
  *variance = 0;
  for (size_t i = 0; i < j->tables->check_count; i++) {
    const tenter_meter_check *check = &j->tables->checks[i];
    if (check->meter == meter && check->at.at < before) {
      sum += check->indicated - check->nominal;
      count++;
    }
  }
  if (count > 0)
    *variance = squared(j->settings->repeatability) / count;
  return count > 0 ? sum / count : NAN;
}

static bool take_shift(const shift_words *w, size_t source, const now *n,
                       tenter_review_meter *meter) {
  const judge *j = w->j;
  double variance = 0, base = 0;
  const tenter_shift *first = &w->fit->shift[n->first];
  tenter_time begin = (tenter_time)(w->end + w->edge[first->bin] * TENTER_DAY);
  meter->since = j->review->shifts[n->first].since;
  meter->bias_against = n->gauged           ? TENTER_AGAINST_PLATE
                        : w->scanned[0] > 1 ? TENTER_AGAINST_METERS
                                            : TENTER_AGAINST_PAST;
  if (n->gauged)
    base = plate_before(j, meter->meter, begin, &variance);
  else if (!isnan(w->fit->level[source])) {
    base = w->fit->level[source];
    variance = squared(w->fit->level_se[source]);
  }
  meter->bias = n->off + (isnan(base) ? 0 : base);
  meter->bias_se = sqrt(n->variance + variance);
  meter->shifted = true;
  tenter_shift_source who = {TENTER_SHIFT_FIRST, source};
  return !j->texts || list_others(w, first, who, &meter->confounded_with, &meter->confounded_count);
}

bool judge__shift_words(const shift_words *w) {
  const judge *j = w->j;
  for (size_t i = 0; i < w->fit->shifts; i++)
    if (!fill_shift(w, &w->fit->shift[i], &j->review->shifts[i]))
      return false;
  for (size_t source = 0; source < w->scanned[0]; source++) {
    tenter_review_meter *meter = &j->review->meters[w->name[0][source]];
    now n = now_of(w, (tenter_shift_source){TENTER_SHIFT_FIRST, source});
    if (n.first != SIZE_MAX && fabs(n.off) >= j->settings->least_shift) {
      if (!take_shift(w, source, &n, meter))
        return false;
    } else if (meter->checks == 0 && !isnan(w->fit->level[source])) {
      meter->bias = w->fit->level[source];
      meter->bias_se = w->fit->level_se[source];
      meter->bias_against = TENTER_AGAINST_METERS;
    }
  }
  return true;
}

/* ---- a session of a screen ------------------------------------------------------------------ */

/* The shift of an operator or of all readings that the session lies in. */
static const tenter_review_shift *shift_of(const judge *j, const tenter_session *s) {
  for (size_t i = 0; i < j->review->shift_count; i++) {
    const tenter_review_shift *shift = &j->review->shifts[i];
    bool in =
        s->taken >= shift->since && (shift->until == TENTER_NO_TIME || s->taken < shift->until);
    uint16_t name = shift->cause[0] == 'o' ? s->operator: s->meter;
    if (in && (shift->name == TENTER_NO_NAME || shift->name == name))
      return shift;
  }
  return NULL;
}

static const char *cause_words(const tenter_review_shift *shift) {
  return tenter_say_text(shift->name == TENTER_NO_NAME ? TENTER_SAY_SHIFT_CAUSE_ALL
                         : shift->cause[0] == 'o'      ? TENTER_SAY_SHIFT_CAUSE_OPERATOR
                                                       : TENTER_SAY_SHIFT_CAUSE_METER);
}

shift_told judge__shift_told(const judge *j, size_t session) {
  const tenter_session *s = &j->shop->sessions[session];
  bool corrected = j->sessions[session].state & SESSION_CORRECTED;
  if (s->meter != TENTER_NO_NAME16) {
    const tenter_review_meter *m = &j->review->meters[s->meter];
    if (m->shifted && s->taken >= m->since)
      return (shift_told){tenter_names_get(j->tables->names[TENTER_NAME_METER], s->meter),
                          NULL,
                          m->bias,
                          m->since,
                          m->confounded_with,
                          m->confounded_count,
                          corrected};
  }
  const tenter_review_shift *shift = shift_of(j, s);
  if (!shift)
    return (shift_told){.corrected = corrected, .off = NAN};
  return (shift_told){NULL,         cause_words(shift),     shift->size,
                      shift->since, shift->confounded_with, shift->confounded_count,
                      corrected};
}
