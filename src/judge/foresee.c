/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was to be expected of each session before it was taken: errors against a fit that has seen
 * the session would hide what they are to show.
 *
 * Outline: a mounting begins with what an earlier moment knew of its lot (or its mesh, or the
 * prior); along its sessions each is forecast, then taken in by Bayes' rule for two numbers, but
 * for those of a meter that had shifted by then: they would make the next ones look high. At a
 * break of its level the line begins anew. One walk a mounting, whatever its sessions. */
#include "population_inner.h"
#include "tenter/base/alloc.h"

enum { BLOCK_MOUNTINGS = 512 };

/* The group of a lot in the past; SIZE_MAX where it had none. */
static size_t find_group(const struct population_inner *in, uint64_t key) {
  size_t low = 0, high = in->placed_count;
  while (low < high) {
    size_t middle = low + (high - low) / 2;
    if (in->placed[middle].group < key)
      low = middle + 1;
    else
      high = middle;
  }
  return low < in->placed_count && in->placed[low].group == key ? in->group[low] : SIZE_MAX;
}

/* The line of a mounting before its own data: its lot's where the lot was known, its mesh's where
 * that was, else the prior's (*told: false). Names are the same at every moment, indices are not.
 */
static bool line_before(const judge *past, const tenter_mounting *m, double hint,
                        tenter_nested_line *line, bool *told) {
  const population *p = past->population;
  const struct population_inner *in = p->inner;
  uint32_t slot = mesh_slot(past, m->is.mesh);
  const tenter_nested_solution *s = in->fit.solution ? in->fit.solution : in->heaviest;
  if (s && !in->blocks[slot].prior && in->blocks[slot].mountings > 1) {
    size_t group =
        m->is.lot == TENTER_NO_NAME ? SIZE_MAX : find_group(in, (uint64_t)slot << 33 | m->is.lot);
    *told = group == SIZE_MAX ? tenter_nested_new_group_line(s, slot, NULL, line)
                              : tenter_nested_new_unit_line(s, group, NULL, line);
    if (*told)
      return true;
  }
  *told = false;
  return judge__prior_line(past, p, slot, hint, line);
}

typedef struct walk {
  judge *j;
  const judge *past;
  tenter_time from, to;
} walk;

/* Of sessions as they were read, whatever printing and meters did to them. */
static double past_residual(const population *p) {
  return p->inner->fit.solution && p->inner->use.columns > 0 ? p->inner->fit.components.residual
                                                             : p->residual[0];
}

static foreseen compare(const population *p, const tenter_nested_line *line,
                        const session_value *value, bool told) {
  double u = tenter_clock_u(p->clock, value->u);
  double expected = scale_from(p, line->level + line->slope * u);
  double scale = p->log ? expected : 1; /* of a small difference, to tension */
  double variance =
      scale * scale * (line->cov.level + 2 * u * line->cov.cross + u * u * line->cov.slope) +
      past_residual(p) / value->weight;
  double error = value->adjusted - expected;
  return (foreseen){(float)error, told ? (float)(error / sqrt(variance)) : NAN};
}

static void take(const population *p, tenter_nested_line *line, const session_value *value) {
  double u = tenter_clock_u(p->clock, value->u), y = scale_to(p, value->adjusted);
  double weight = value->weight * (p->log ? squared(value->adjusted) : 1);
  tenter_nested_line_update(line, past_residual(p), 1, &u, &y, &weight);
}

static void walk_mounting(const walk *w, const tenter_mounting *m) {
  judge *j = w->j;
  tenter_nested_line line;
  bool begun = false, told = false, known = false; /* a line; by data; sessions of its own in it */
  size_t end = m->first_session + m->session_count;
  if (m->session_count == 0 || j->shop->sessions[end - 1].taken < w->from)
    return;
  for (size_t i = m->first_session; i < end && j->shop->sessions[i].taken < w->to; i++) {
    const session_value *value = &j->sessions[i];
    if (isnan(value->u))
      continue;
    if (known && j->shop->sessions[i].taken >= w->from)
      j->foreseen[i] = compare(w->past->population, &line, value, told);
    if (!begun || value->state & SESSION_BREAK) {
      begun = line_before(w->past, m, value->adjusted, &line, &told);
      known = false;
    }
    if (!begun || judge__shift(j, i) != 0)
      continue;
    take(w->past->population, &line, value);
    known = true;
  }
}

static void walk_block(void *context, size_t task, size_t worker) {
  (void)worker;
  const walk *w = context;
  const tenter_shop *shop = w->j->shop;
  size_t end = (task + 1) * BLOCK_MOUNTINGS;
  for (size_t i = task * BLOCK_MOUNTINGS; i < end && i < shop->mounting_count; i++)
    walk_mounting(w, &shop->mountings[i]);
}

static bool make_room(judge *j) {
  j->foreseen = tenter_arena_alloc(j->arena, j->shop->session_count + 1, sizeof *j->foreseen);
  for (size_t i = 0; j->foreseen && i < j->shop->session_count; i++)
    j->foreseen[i] = (foreseen){NAN, NAN};
  return j->foreseen;
}

tenter_status judge__foresee(judge *j, const judge *past, tenter_time from, tenter_time to,
                             tenter_error *error) {
  if (!j->foreseen && !make_room(j))
    return tenter_fail_memory(error);
  walk w = {j, past, from, to};
  size_t blocks = (j->shop->mounting_count + BLOCK_MOUNTINGS - 1) / BLOCK_MOUNTINGS;
  tenter_pool_run(j->pool, blocks, walk_block, &w);
  return TENTER_OK;
}

double judge__usual_loss(const judge *j, size_t mounting, double tension) {
  const population *p = j->population;
  const struct population_inner *in = p->inner;
  size_t nodes = j->review->node_count;
  if (in->unit[mounting] != UINT32_MAX) {
    const tenter_line *lines = &in->group_lines[in->group[in->unit[mounting]] * nodes];
    tenter_line line = judge__mean_line(nodes, j->review->node_weight, lines);
    double loss = judge__in_tension(p, line, tension).loss;
    if (!isnan(loss))
      return loss;
  }
  return j->settings->prior_loss_share * tension;
}
