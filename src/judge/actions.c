/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The table of actions, line by line. The worst that applies is the screen's
 * action, every one that applies is a reason. */
#include "actions.h"

#include <stdlib.h>

enum { MOST_CAUSES = 40, MOST_FINDINGS = 8 };

/* One screen while it is decided. */
typedef struct deciding {
  const judge *j;
  tenter_review_screen *screen;
  const screen_inner *inner;
  const tenter_mounting *m;
  const session_doubt *doubt;
  double risk;
  bool coarse;  /* has a coarse floor */
  bool shifted; /* the latest session's meter has shifted */
  bool below;   /* under the floor that withdraws, beyond doubt */
  cause causes[MOST_CAUSES];
  size_t count;
} deciding;

static void add(deciding *d, tenter_reason_code code, tenter_action action) {
  if (d->count < MOST_CAUSES)
    d->causes[d->count++] = (cause){.code = code, .action = action};
}

static bool is_stale(const deciding *d) {
  if (!d->screen->read)
    return false;
  double age =
      (double)d->j->shop->as_of - (double)d->j->shop->sessions[d->screen->latest.session].taken;
  return age > d->j->settings->stale_days * TENTER_DAY;
}

/* Full, not stale, not doubted as misread, its meter not shifted. */
static bool is_fit(const deciding *d) {
  const tenter_review_screen *screen = d->screen;
  return screen->read && d->j->shop->sessions[screen->latest.session].full && !is_stale(d) &&
         !screen->doubted && !d->shifted;
}

/* ---- withdraw ------------------------------------------------------------------------------- */

/* P(now) against the floor that withdraws; with the bias of a shifted meter taken off as well, for
 * such a shift alone withdraws nothing. */
static bool surely_below(const deciding *d) {
  const tenter_forecast *f = &d->screen->forecast;
  double now = d->coarse ? f->below_coarse_now : f->below_floor_now;
  double corrected = d->coarse ? d->inner->corrected_coarse : d->inner->corrected_now;
  return now >= 1 - d->risk && (!d->shifted || corrected >= 1 - d->risk);
}

/* The reading that looks misread is the one in question. */
static bool is_doubted_reading(const deciding *d, uint32_t reading) {
  return d->doubt->kind == DOUBT_UNIT || d->doubt->kind == DOUBT_JUMP ||
         (d->doubt->kind == DOUBT_DIGIT && d->doubt->reading == reading);
}

static void withdraw(deciding *d) {
  const screen_inner *inner = d->inner;
  d->below = surely_below(d);
  if (d->below)
    add(d, TENTER_REASON_BELOW_FLOOR, TENTER_ACTION_WITHDRAW);
  if (inner->point_below) {
    bool sure = !d->shifted && !is_doubted_reading(d, inner->low_reading);
    add(d, TENTER_REASON_POINT_BELOW_FLOOR, sure ? TENTER_ACTION_WITHDRAW : TENTER_ACTION_REREAD);
  }
  if (d->screen->maximum == TENTER_VERDICT_BAD) {
    bool sure = !is_doubted_reading(d, inner->over_reading) && (!d->shifted || inner->over_anyway);
    add(d, TENTER_REASON_OVER_MAXIMUM, sure ? TENTER_ACTION_WITHDRAW : TENTER_ACTION_REREAD);
  }
}

/* ---- re-stretch ----------------------------------------------------------------------------- */

static bool between_floors(const deciding *d) {
  bool mean = d->screen->forecast.below_floor_now >= 1 - d->risk;
  return d->coarse && !d->below && (mean || d->inner->point_between);
}

static bool falls_below(const deciding *d) {
  double chance = d->screen->forecast.below_floor_at_horizon;
  return (chance > d->risk || (d->shifted && d->inner->corrected_horizon > d->risk)) && !d->below &&
         !between_floors(d);
}

/* Every cause asks to re-stretch where the latest session is fit to act on, else to read again. */
static void restretch(deciding *d) {
  size_t before = d->count;
  tenter_action action = d->screen->fit_to_act ? TENTER_ACTION_RESTRETCH : TENTER_ACTION_REREAD;
  if (between_floors(d))
    add(d, TENTER_REASON_ONE_COLOUR_ONLY, action);
  if (falls_below(d))
    add(d, TENTER_REASON_FALLS_BELOW_FLOOR, action);
  if (d->screen->evenness == TENTER_VERDICT_BAD)
    add(d, TENTER_REASON_UNEVEN, action);
  if (d->screen->tolerance == TENTER_VERDICT_BAD && !d->inner->acceptance_above)
    add(d, TENTER_REASON_ACCEPTANCE_LOW, action);
  if (d->count > before && !d->screen->fit_to_act && d->screen->read)
    add(d, TENTER_REASON_NOT_FIT_TO_ACT, TENTER_ACTION_REREAD);
}

/* ---- read again ----------------------------------------------------------------------------- */

/* A later full session that came down to the tolerance closes an acceptance that was too high. */
static bool came_down(const deciding *d) {
  const judge *j = d->j;
  size_t latest = d->screen->latest.session;
  double limit = d->m->is.target + d->m->is.plus;
  return latest > d->screen->acceptance_session && j->shop->sessions[latest].full &&
         !d->screen->doubted &&
         j->sessions[latest].adjusted + judge__session_uncertainty(j, latest, true, NULL) < limit;
}

static void acceptance(deciding *d) {
  const screen_inner *inner = d->inner;
  tenter_action open = TENTER_ACTION_REREAD, closed = TENTER_ACTION_USE;
  if (d->screen->tolerance == TENTER_VERDICT_UNDECIDED)
    add(d, TENTER_REASON_ACCEPTANCE_UNDECIDED, inner->acceptance_closed ? closed : open);
  if (d->screen->tolerance == TENTER_VERDICT_BAD && inner->acceptance_above)
    add(d, TENTER_REASON_ACCEPTANCE_HIGH, came_down(d) ? closed : open);
}

static void reread(deciding *d) {
  if (d->screen->age_hours < d->j->settings->settling_hours)
    add(d, TENTER_REASON_SETTLING, TENTER_ACTION_REREAD);
  if (!d->screen->read)
    add(d, TENTER_REASON_NEVER_READ, TENTER_ACTION_REREAD);
  if (is_stale(d))
    add(d, TENTER_REASON_STALE, TENTER_ACTION_REREAD);
  if (d->screen->evenness == TENTER_VERDICT_UNDECIDED)
    add(d, TENTER_REASON_EVENNESS_UNDECIDED, TENTER_ACTION_REREAD);
  acceptance(d);
  if (d->screen->maximum == TENTER_VERDICT_UNDECIDED)
    add(d, TENTER_REASON_MAXIMUM_UNDECIDED, TENTER_ACTION_REREAD);
  if (d->screen->doubted)
    add(d, TENTER_REASON_DOUBTED_READING, TENTER_ACTION_REREAD);
  if (d->shifted)
    add(d, TENTER_REASON_METER_SHIFTED, TENTER_ACTION_REREAD);
  if (d->doubt->stepped)
    add(d, TENTER_REASON_STEPPED_DOWN, TENTER_ACTION_REREAD);
  if (d->doubt->rose || d->doubt->rose_before)
    add(d, TENTER_REASON_TENSION_ROSE, d->doubt->rose ? TENTER_ACTION_REREAD : TENTER_ACTION_USE);
}

/* ---- notes ---------------------------------------------------------------------------------- */

/* The findings of this screen: they stand in order of screens. */
static void findings(deciding *d) {
  const tenter_shop *shop = d->j->shop;
  size_t low = 0, high = shop->finding_count;
  while (low < high) {
    size_t middle = low + (high - low) / 2;
    if (shop->findings[middle].screen < d->screen->screen)
      low = middle + 1;
    else
      high = middle;
  }
  for (size_t n = 0; low < shop->finding_count && n < MOST_FINDINGS; low++, n++) {
    if (shop->findings[low].screen != d->screen->screen)
      return;
    add(d, TENTER_REASON_CONTRADICTION, TENTER_ACTION_USE);
    d->causes[d->count - 1].finding = &shop->findings[low];
  }
}

static void notes(deciding *d) {
  if (d->inner->shifted && !d->shifted)
    add(d, TENTER_REASON_METER_SHIFTED, TENTER_ACTION_USE); /* corrected for it */
  if (isnan(d->m->is.floor))
    add(d, TENTER_REASON_NO_FLOOR, TENTER_ACTION_USE);
  findings(d);
}

/* ---- all of it ------------------------------------------------------------------------------ */

static int cause_order(const void *a, const void *b) { /* worst first, then as in the list */
  const cause *c = a, *e = b;
  if (c->action != e->action)
    return c->action > e->action ? -1 : 1;
  if (c->code != e->code)
    return c->code < e->code ? -1 : 1;
  return (c->finding > e->finding) - (c->finding < e->finding);
}

static bool put_into_words(deciding *d, size_t i, tenter_arena *arena) {
  tenter_reason *reasons = tenter_arena_alloc(arena, d->count, sizeof *reasons);
  bool said = false;
  for (size_t k = 0; reasons && k < d->count; k++) {
    bool caution = !said && judge__raises_tension(&d->causes[k]);
    said |= caution;
    if (!judge__reason(d->j, i, &d->causes[k], caution, arena, &reasons[k]))
      return false;
  }
  d->screen->reasons = reasons;
  d->screen->reason_count = d->count;
  return reasons != NULL;
}

bool judge__action(judge *j, size_t i, tenter_arena *arena) {
  tenter_review_screen *screen = &j->review->screens[i];
  deciding d = {.j = j,
                .screen = screen,
                .inner = &j->screens[i],
                .m = &j->shop->mountings[screen->mounting],
                .doubt = &j->doubts[screen->screen],
                .risk = j->settings->risk};
  d.coarse = !isnan(d.m->is.coarse_floor);
  d.shifted = screen->read && j->screens[i].shifted &&
              !(j->sessions[screen->latest.session].state & SESSION_CORRECTED);
  screen->doubted = d.doubt->kind != DOUBT_NONE;
  screen->fit_to_act = is_fit(&d);
  withdraw(&d);
  restretch(&d);
  reread(&d);
  notes(&d);
  qsort(d.causes, d.count, sizeof *d.causes, cause_order);
  screen->action = d.count > 0 ? d.causes[0].action : TENTER_ACTION_USE;
  screen->after_this_job = d.m->stencil && screen->action == TENTER_ACTION_RESTRETCH;
  screen->action_before = TENTER_ACTION_COUNT;
  return !j->texts || put_into_words(&d, i, arena);
}

/* ---- afterwards ----------------------------------------------------------------------------- */

bool judge__chart_reason(judge *j, size_t i, const tenter_review_chart *chart,
                         const tenter_chart_signal *signal) {
  tenter_review_screen *screen = &j->review->screens[i];
  if (screen->action == TENTER_ACTION_USE)
    screen->action = TENTER_ACTION_REREAD;
  if (!j->texts)
    return true;
  cause c = {.code = TENTER_REASON_CHART_SIGNAL,
             .action = TENTER_ACTION_REREAD,
             .chart = chart,
             .signal = signal};
  tenter_reason *reasons = tenter_arena_alloc(j->arena, screen->reason_count + 1, sizeof *reasons);
  if (!reasons)
    return false;
  size_t at = 0; /* in the order of cause_order */
  while (at < screen->reason_count &&
         (screen->reasons[at].action > c.action ||
          (screen->reasons[at].action == c.action && screen->reasons[at].code < c.code)))
    at++;
  for (size_t k = 0; k < screen->reason_count; k++)
    reasons[k < at ? k : k + 1] = screen->reasons[k];
  if (!judge__reason(j, i, &c, false, j->arena, &reasons[at]))
    return false;
  screen->reasons = reasons;
  screen->reason_count++;
  return true;
}
