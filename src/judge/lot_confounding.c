/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What always went together with a lot (methods: what always went together can't be told apart by
 * any formula).
 *
 * Two lots of a mesh can be compared, as far as the meter goes, where they were read with one
 * meter, or are linked by other lots that were: lots and meters are the points of a graph, uses its
 * lines, and lots that hang together can be told from the meters (the connectedness of a two-way
 * layout; Searle 1971, Linear Models, section 7.4, from memory). A lot that can be compared with
 * fewer than half of the other lots of its mesh is named with the meter, and not flagged. Likewise
 * operators and stations. A lot for which nothing is known of a meter is left out of that question.
 *
 * Lots follow each other in time, and their readings overlap. A lot is named with the calendar only
 * where all its stretches fall into a fortnight in which fewer than half of the others had one. */
#include "lots.h"

#include "tenter/base/alloc.h"

enum {
  FORTNIGHT = 14 * TENTER_DAY,
  LEAST_USE = 20 /* a link is at least one session in so many */
};

typedef enum factor { METER, OPERATOR, STATION, CALENDAR, MESH, FACTORS } factor;
static const tenter_say factor_words[] = {TENTER_SAY_LOT_OWN_METER, TENTER_SAY_LOT_OWN_OPERATOR,
                                          TENTER_SAY_LOT_OWN_STATION, TENTER_SAY_LOT_OWN_FORTNIGHT,
                                          TENTER_SAY_LOT_OWN_MESH};

/* First and last stretch of a lot; from > to where none is known. */
typedef struct span {
  tenter_time from, to;
  bool whole; /* all its stretches are known */
} span;

/* Room for the lots of one mesh, and for the levels (meters, operators or stations) of a factor. */
typedef struct graph {
  uint32_t *parent;       /* by lot of the mesh: another of the same piece, or itself */
  uint32_t *piece;        /* by root: lots in it */
  bool *known;            /* by lot: something is known of the factor */
  uint32_t *owner;        /* by level: a lot that used it, or nobody */
  uint32_t *uses;         /* by level: sessions of the lot at hand */
  uint32_t *used, *owned; /* levels with uses; with an owner */
  size_t used_count, owned_count, total; /* total: uses of the lot at hand */
} graph;

typedef struct graphs {
  graph of[STATION + 1];
  span *spans;    /* by lot */
  unsigned *with; /* by lot: bits of factors that it can't be told from; not owned */
} graphs;

static const uint32_t nobody = UINT32_MAX;

static uint32_t root_of(graph *g, uint32_t lot) {
  while (g->parent[lot] != lot)
    lot = g->parent[lot] = g->parent[g->parent[lot]];
  return lot;
}

static uint32_t level_of(factor f, const tenter_mounting *m, const tenter_session *s) {
  uint16_t id = f == METER ? s->meter : s->operator;
  if (f == STATION)
    return m->is.station;
  return id == TENTER_NO_NAME16 ? TENTER_NO_NAME : id;
}

/* Counts the fitted sessions of a lot by level of each factor. */
static void count_uses(const judge *j, graphs *gs, const population_lot *lot) {
  for (factor f = METER; f <= STATION; f++)
    gs->of[f].used_count = gs->of[f].total = 0;
  for (size_t i = 0; i < lot->count; i++) {
    const tenter_mounting *m = judge__lot_mounting(j, lot, i);
    for (size_t k = m->first_session; k < m->first_session + m->session_count; k++) {
      if (!(j->sessions[k].state & SESSION_FITTED))
        continue;
      for (factor f = METER; f <= STATION; f++) {
        uint32_t level = level_of(f, m, &j->shop->sessions[k]);
        graph *g = &gs->of[f];
        if (level == TENTER_NO_NAME)
          continue;
        if (g->uses[level]++ == 0)
          g->used[g->used_count++] = level;
        g->total++;
      }
    }
  }
}

/* Links a lot with those that used the same levels. */
static void link_lot(graph *g, uint32_t lot) {
  for (size_t i = 0; i < g->used_count; i++) {
    uint32_t level = g->used[i], uses = g->uses[level];
    g->uses[level] = 0;
    if ((size_t)uses * LEAST_USE < g->total)
      continue; /* too few to compare by: a slip of the pen, perhaps */
    if (g->owner[level] == nobody) {
      g->owner[level] = lot;
      g->owned[g->owned_count++] = level;
    } else {
      g->parent[root_of(g, lot)] = root_of(g, g->owner[level]);
    }
  }
}

/* Fewer than half of the others. */
static bool few(size_t mates, size_t others) {
  return 2 * mates < others;
}

/* Which lots a factor sets apart from most others of the mesh. */
static void mark_apart(graph *g, factor f, size_t count, unsigned *with) {
  size_t known = 0;
  for (size_t i = 0; i < g->owned_count; i++)
    g->owner[g->owned[i]] = nobody;
  for (uint32_t i = 0; i < count; i++) {
    g->piece[root_of(g, i)] += g->known[i];
    known += g->known[i];
  }
  for (uint32_t i = 0; i < count; i++)
    if (g->known[i] && few(g->piece[root_of(g, i)] - 1, known - 1))
      with[i] |= 1U << f;
}

static void check_factors(const judge *j, graphs *gs, const population_lot *lots, size_t count) {
  for (factor f = METER; f <= STATION; f++) {
    gs->of[f].owned_count = 0;
    for (uint32_t i = 0; i < count; i++) {
      gs->of[f].parent[i] = i;
      gs->of[f].piece[i] = 0;
    }
  }
  for (uint32_t i = 0; i < count; i++) {
    count_uses(j, gs, &lots[i]);
    for (factor f = METER; f <= STATION; f++) {
      gs->of[f].known[i] = gs->of[f].total > 0;
      link_lot(&gs->of[f], i);
    }
  }
  for (factor f = METER; f <= STATION; f++)
    mark_apart(&gs->of[f], f, count, gs->with);
}

/* ---- the calendar --------------------------------------------------------------------------- */

static span span_of(const judge *j, const population_lot *lot) {
  span s = {INT64_MAX, INT64_MIN, lot->count > 0};
  for (size_t i = 0; i < lot->count; i++) {
    tenter_time at = judge__lot_mounting(j, lot, i)->stretched.at;
    s.whole &= at != TENTER_NO_TIME;
    if (at == TENTER_NO_TIME)
      continue;
    s.from = at < s.from ? at : s.from;
    s.to = at > s.to ? at : s.to;
  }
  return s;
}

/* Whether a lot was stretched between two times; its ends mostly say so. */
static bool stretched_within(const judge *j, const population_lot *lot, const span *s,
                             tenter_time from, tenter_time to) {
  if (s->to < from || s->from > to)
    return false;
  bool found = s->from >= from || s->to <= to;
  for (size_t i = 0; i < lot->count && !found; i++) {
    tenter_time at = judge__lot_mounting(j, lot, i)->stretched.at;
    found = at != TENTER_NO_TIME && at >= from && at <= to;
  }
  return found;
}

static bool own_fortnight(const judge *j, const span *spans, const population_lot *lots,
                          size_t count, size_t at) {
  const span *own = &spans[at];
  if (!own->whole || own->to - own->from > FORTNIGHT)
    return false;
  size_t others = 0, mates = 0;
  for (size_t i = 0; i < count; i++) {
    if (i == at || spans[i].from > spans[i].to)
      continue;
    others++;
    mates += stretched_within(j, &lots[i], &spans[i], own->to - FORTNIGHT, own->from + FORTNIGHT);
  }
  return few(mates, others);
}

static void check_calendar(const judge *j, graphs *g, const population_lot *lots, size_t count) {
  for (size_t i = 0; i < count; i++)
    g->spans[i] = span_of(j, &lots[i]);
  for (size_t i = 0; i < count; i++)
    if (lots[i].sessions > 0 && own_fortnight(j, g->spans, lots, count, i))
      g->with[i] |= 1U << CALENDAR;
}

/* ---- the mesh ------------------------------------------------------------------------------- */

/* A lot and its mesh always went together where nothing else is known of the mesh. */
static bool alone(const judge *j, const population_lot *lot) {
  const tenter_review *review = j->review;
  for (size_t i = 0; i < review->population_count; i++)
    if (review->populations[i].mesh == lot->mesh)
      return review->populations[i].mountings == lot->mountings;
  return false;
}

/* ---- all meshes ----------------------------------------------------------------------------- */

/* The names of what stands in the bits of with; false when memory runs out. */
static bool name_factors(const judge *j, unsigned with, tenter_review_lot *out) {
  const char **names = with ? tenter_arena_alloc(j->arena, FACTORS, sizeof *names) : NULL;
  for (factor f = METER; names && f < FACTORS; f++)
    if (with & 1U << f)
      names[out->confounded_count++] = tenter_say_text(factor_words[f]);
  out->confounded_with = names;
  return names || !with;
}

/* The lots of one mesh. */
static void check_mesh(const judge *j, graphs *g, const population_lot *lots, size_t count) {
  for (size_t i = 0; i < count; i++)
    g->with[i] = count == 1 && alone(j, lots) ? 1U << MESH : 0;
  if (count > 1) {
    check_factors(j, g, lots, count);
    check_calendar(j, g, lots, count);
  }
}

static bool make_graph(size_t lots, size_t levels, graph *g) {
  *g = (graph){.parent = tenter_alloc(lots + 1, sizeof *g->parent),
               .piece = tenter_alloc(lots + 1, sizeof *g->piece),
               .known = tenter_alloc(lots + 1, sizeof *g->known),
               .owner = tenter_alloc(levels + 1, sizeof *g->owner),
               .uses = tenter_alloc(levels + 1, sizeof *g->uses),
               .used = tenter_alloc(levels + 1, sizeof *g->used),
               .owned = tenter_alloc(levels + 1, sizeof *g->owned)};
  if (!g->parent || !g->piece || !g->known || !g->owner || !g->uses || !g->used || !g->owned)
    return false;
  for (size_t i = 0; i < levels; i++)
    g->owner[i] = nobody;
  return true;
}

static bool make_graphs(const judge *j, size_t lots, graphs *g) {
  static const tenter_name_kind kinds[STATION + 1] = {TENTER_NAME_METER, TENTER_NAME_OPERATOR,
                                                      TENTER_NAME_STATION};
  *g = (graphs){.spans = tenter_alloc(lots + 1, sizeof *g->spans)};
  bool done = g->spans;
  for (factor f = METER; done && f <= STATION; f++)
    done = make_graph(lots, tenter_names_count(j->tables->names[kinds[f]]), &g->of[f]);
  return done;
}

static void release_graph(graph *g) {
  tenter_free(g->parent);
  tenter_free(g->piece);
  tenter_free(g->known);
  tenter_free(g->owner);
  tenter_free(g->uses);
  tenter_free(g->used);
  tenter_free(g->owned);
}

static void release_graphs(graphs *g) {
  tenter_free(g->spans);
  for (factor f = METER; f <= STATION; f++)
    release_graph(&g->of[f]);
}

typedef struct checking {
  const judge *j;
  size_t *first;  /* by mesh: its first lot; one more for the end */
  unsigned *with; /* by lot: bits of factors */
  bool *failed;   /* by mesh */
} checking;

static void check_task(void *context, size_t mesh, size_t worker) {
  (void)worker;
  const checking *c = context;
  size_t from = c->first[mesh], count = c->first[mesh + 1] - from;
  graphs g;
  c->failed[mesh] = !make_graphs(c->j, count, &g);
  g.with = c->with + from;
  if (!c->failed[mesh])
    check_mesh(c->j, &g, &c->j->population->lots[from], count);
  release_graphs(&g);
}

static size_t find_meshes(const population *p, size_t *first) {
  size_t meshes = 0;
  for (size_t i = 0; i < p->lot_count; i++)
    if (i == 0 || p->lots[i].mesh != p->lots[i - 1].mesh)
      first[meshes++] = i;
  first[meshes] = p->lot_count;
  return meshes;
}

bool judge__lot_confounding(const judge *j, tenter_review_lot *out) {
  size_t lots = j->population->lot_count, meshes = 0;
  checking c = {j, tenter_alloc(lots + 1, sizeof *c.first), tenter_alloc(lots + 1, sizeof *c.with),
                tenter_alloc(lots + 1, sizeof *c.failed)};
  bool done = c.first && c.with && c.failed;
  if (done) {
    meshes = find_meshes(j->population, c.first);
    tenter_pool_run(j->pool, meshes, check_task, &c);
  }
  for (size_t i = 0; i < meshes && done; i++)
    done = !c.failed[i];
  for (size_t i = 0; i < lots && done; i++)
    done = name_factors(j, c.with[i], &out[i]);
  tenter_free(c.first);
  tenter_free(c.with);
  tenter_free(c.failed);
  return done;
}
