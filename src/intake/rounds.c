/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reading the inputs in rounds. The first round reads every file as its head suggests; a file whose
 * rows say otherwise (another encoding, decimal mark or order of dates) is read again, so that
 * the result is that of the whole file wherever the evidence stands. Each of the three can change
 * once, so that there are few rounds. */
#include <pthread.h>
#include <stdio.h>
#include <string.h>

#include "load.h"
#include "tenter/base/alloc.h"

/* One task: a chunk of an input. */
typedef struct task {
  input *in;
  size_t number;
  bool done;
} task;

/* A round; lean_from: from this task on no texts of problems are kept, since the tasks before hold
 * enough of them. It only ever falls behind the truth, never before it. */
typedef struct chunk_round {
  intake *all;
  task *tasks;
  size_t count;
  pthread_mutex_t lock;
  size_t done_to, texts, lean_from;
} chunk_round;

static void count_texts(chunk_round *round, size_t number) {
  pthread_mutex_lock(&round->lock);
  round->tasks[number].done = true;
  while (round->done_to < round->count && round->tasks[round->done_to].done) {
    const task *t = &round->tasks[round->done_to++];
    round->texts += t->in->chunks[t->number].problem_count;
    if (round->texts >= MOST_TEXTS && round->lean_from > round->done_to)
      round->lean_from = round->done_to;
  }
  pthread_mutex_unlock(&round->lock);
}

static void run_task(void *context, size_t number, size_t thread) {
  chunk_round *round = context;
  task *t = &round->tasks[number];
  pthread_mutex_lock(&round->lock);
  bool lean = number >= round->lean_from;
  pthread_mutex_unlock(&round->lock);
  tenter__chunk_read(round->all, t->in, t->number, CHUNK_GUESS, lean, thread);
  count_texts(round, number);
}

static void drop_lexicons(intake *all, input *in) {
  for (size_t i = 0; in->lexicons && i < all->worker_count; i++) {
    tenter__lexicon_free(in->lexicons[i]);
    in->lexicons[i] = NULL;
  }
}

static tenter_status prepare(intake *all, input *in, tenter_error *error) {
  if (!in->lexicons)
    in->lexicons = tenter_alloc(all->worker_count, sizeof(void *));
  drop_lexicons(all, in);
  in->generation++;
  in->discarded = false;
  tenter_status status = tenter__chunks_cut(in, all->chunk_size, error);
  tenter__hasher_free(in->hasher);
  in->hasher = status == TENTER_OK ? tenter__hasher_new(in->chunk_count) : NULL;
  if (status == TENTER_OK && (!in->lexicons || !in->hasher))
    status = tenter_fail_memory(error);
  return status;
}

static tenter_status fill_round(chunk_round *round, tenter_error *error) {
  intake *all = round->all;
  for (size_t i = 0; i < all->input_count; i++)
    if (all->inputs[i].again) {
      tenter_status status = prepare(all, &all->inputs[i], error);
      if (status != TENTER_OK)
        return status;
      round->count += all->inputs[i].chunk_count;
    }
  round->tasks = tenter_alloc(round->count + 1, sizeof *round->tasks);
  if (!round->tasks)
    return tenter_fail_memory(error);
  size_t next = 0;
  for (size_t i = 0; i < all->input_count; i++)
    for (size_t k = 0; all->inputs[i].again && k < all->inputs[i].chunk_count; k++)
      round->tasks[next++] = (task){.in = &all->inputs[i], .number = k};
  round->lean_from = round->count;
  return TENTER_OK;
}

static tenter_status run_round(intake *all, tenter_error *error) {
  chunk_round round = {.all = all};
  pthread_mutex_init(&round.lock, NULL);
  tenter_status status = fill_round(&round, error);
  if (status == TENTER_OK)
    tenter_pool_run(all->pool, round.count, run_task, &round);
  tenter_free(round.tasks);
  pthread_mutex_destroy(&round.lock);
  return status;
}

/* ---- after a round --------------------------------------------------------------------------- */

static tenter_status chunk_status(const chunk *of, tenter_error *error) {
  if (of->status != TENTER_OK && error)
    *error = of->error;
  return of->status;
}

static tenter_status first_failure(const input *in, tenter_error *error) {
  for (size_t i = 0; i < in->chunk_count; i++)
    if (in->chunks[i].status != TENTER_OK)
      return chunk_status(&in->chunks[i], error);
  return TENTER_OK;
}

/* Puts chunks right that began at a line end inside a quoted cell. */
static tenter_status repair_borders(intake *all, input *in, tenter_error *error) {
  uint64_t next = in->dialect.data_start;
  for (size_t i = 0; i < in->chunk_count; i++) {
    chunk *each = &in->chunks[i];
    if (each->end <= next) {
      if (each->first == CHUNK_GUESS)
        continue;
      tenter__chunk_clear(each);
      each->first = each->next = CHUNK_GUESS;
      in->discarded = true;
      continue;
    }
    if (each->first != next) {
      in->discarded = true;
      in->generation++; /* what was remembered may come from what was no row */
      tenter__chunk_read(all, in, i, next, false, each->worker);
      if (each->status != TENTER_OK)
        return chunk_status(each, error);
    }
    next = each->next;
  }
  return TENTER_OK;
}

static bool any_not_utf8(const input *in) {
  for (size_t i = 0; i < in->chunk_count; i++)
    if (in->chunks[i].not_utf8)
      return true;
  return false;
}

/* A comma is the decimal mark where more numbers have it than a point. */
static bool mark_differs(const input *in) {
  uint64_t own = 0, other = 0;
  for (size_t i = 0; i < in->chunk_count; i++) {
    own += in->chunks[i].marks[0];
    other += in->chunks[i].marks[1];
  }
  return !in->forced_mark && (in->dialect.mark == '.' ? other > own : own <= other && other > 0);
}

void tenter__line_bases(const input *in, uint32_t *bases) {
  uint64_t line = in->dialect.first_line;
  for (size_t i = 0; i < in->chunk_count; i++) {
    bases[i] = (uint32_t)line;
    line += in->chunks[i].lines;
  }
}

static void gather_orders(const input *in, order_evidence *orders) {
  uint64_t line = in->dialect.first_line;
  *orders = (order_evidence){.count = {0}};
  for (size_t i = 0; i < in->chunk_count; i++) {
    tenter__evidence_add(orders, &in->chunks[i].orders, (uint32_t)line);
    line += in->chunks[i].lines;
  }
}

/* ---- the order of dates ---------------------------------------------------------------------- */

/* What the files whose headers are read as the same columns say together. Evidence is kept by file
 * so that messages can name it. */
typedef struct order_view {
  unsigned fits; /* orders that all dates fit; 0 with none is a contradiction */
  bool any;
  const input *file[ORDERS];
  const order_evidence *evidence[ORDERS]; /* of the first file with dates that fit just these */
} order_view;

static order_view view_group(const intake *all, const order_evidence *evidence, const char *group) {
  order_view view = {.fits = ORDER_YMD | ORDER_DMY | ORDER_MDY};
  for (size_t i = 0; i < all->input_count; i++) {
    const input *in = &all->inputs[i];
    if (strcmp(in->layout.group, group) != 0)
      continue;
    for (unsigned orders = 1; orders < ORDERS; orders++)
      if (evidence[i].count[orders] > 0) {
        view.any = true;
        view.fits &= orders;
        if (!view.evidence[orders]) {
          view.file[orders] = in;
          view.evidence[orders] = &evidence[i];
        }
      }
  }
  return view;
}

static bool is_one(unsigned orders) {
  return orders != 0 && (orders & (orders - 1)) == 0;
}

/* What a date is in one order, as text. */
static const char *read_in(const char *date, unsigned order, char text[TENTER_TIME_SIZE]) {
  tenter_when when = {.at = TENTER_NO_TIME};
  unsigned orders;
  tenter__time_read(tenter_text_of(date), order, &when, &orders);
  return tenter_when_print(when, text);
}

static tenter_status fail_open(const order_view *view, tenter_error *error) {
  unsigned orders = 1;
  while (!view->evidence[orders] || (view->fits & orders) != view->fits)
    orders++;
  const input *in = view->file[orders];
  const char *date = view->evidence[orders]->first[orders].text;
  char readings[200] = "", text[TENTER_TIME_SIZE];
  size_t length = 0;
  unsigned last = 0;
  for (unsigned order = ORDER_YMD; order < ORDERS; order *= 2)
    if (view->fits & order) {
      length +=
          (size_t)snprintf(readings + length, sizeof readings - length, "%s%s as %s",
                           last ? ", " : "", read_in(date, order, text), tenter__order_word(order));
      last = last ? last : order;
    }
  return tenter_fail(error, TENTER_INPUT,
                     "%s:%u: '%s' can be read in more than one way: %s; and no date in the files "
                     "with this header decides. Put the right order into tenter.ini:\n"
                     "[intake]\ntime_order = %s",
                     in->name, (unsigned)view->evidence[orders]->first[orders].line, date, readings,
                     tenter__order_word(view->fits & ORDER_DMY ? (unsigned)ORDER_DMY : last));
}

static tenter_status fail_contrary(const order_view *view, tenter_error *error) {
  for (unsigned a = 1; a < ORDERS; a++)
    for (unsigned b = a + 1; b < ORDERS; b++)
      if (view->evidence[a] && view->evidence[b] && (a & b) == 0) {
        const char *one = view->evidence[a]->first[a].text;
        const char *two = view->evidence[b]->first[b].text;
        return tenter_fail(
            error, TENTER_INPUT,
            "%s:%u: '%s' can't be a date in the order of %s:%u: '%s', and both files have the same "
            "header. Correct one of them; or name the order in tenter.ini, and rows that do not "
            "fit it are rejected:\n[intake]\ntime_order = %s",
            view->file[a]->name, (unsigned)view->evidence[a]->first[a].line, one,
            view->file[b]->name, (unsigned)view->evidence[b]->first[b].line, two,
            tenter__order_word(b & ORDER_DMY   ? ORDER_DMY
                               : b & ORDER_MDY ? ORDER_MDY
                                               : ORDER_YMD));
      }
  return tenter_fail(error, TENTER_INPUT,
                     "the dates of files with the same header fit no one order of day, month and "
                     "year; name the order in tenter.ini:\n[intake]\ntime_order = dmy");
}

/* Decides for every file; whole: on all of its rows, and what stays open is an error. */
static tenter_status decide_orders(intake *all, const order_evidence *evidence, bool whole,
                                   tenter_error *error) {
  for (size_t i = 0; i < all->input_count; i++) {
    input *in = &all->inputs[i];
    if (in->forced_order)
      continue;
    order_view view = view_group(all, evidence, in->layout.group);
    if (whole && view.any && view.fits == 0)
      return fail_contrary(&view, error);
    if (whole && view.any && !is_one(view.fits))
      return fail_open(&view, error);
    if (view.any && is_one(view.fits) && in->order != view.fits) {
      in->order = view.fits;
      bool affected = false;
      for (unsigned orders = 1; orders < ORDERS; orders++)
        affected = affected || evidence[i].count[orders] > 0;
      in->again = affected;
    }
  }
  return TENTER_OK;
}

/* ---- rounds ---------------------------------------------------------------------------------- */

/* Looks at an input that was just read. in->again stays set where it must be read once more. */
static tenter_status look_at(intake *all, input *in, tenter_error *error) {
  order_evidence unused = {.count = {0}};
  in->again = false;
  tenter_status status = first_failure(in, error);
  if (status != TENTER_OK)
    return status;
  if (any_not_utf8(in)) {
    in->again = true;
    return tenter__dialect_find(all, in, ENCODING_1252, &unused, error);
  }
  status = repair_borders(all, in, error);
  if (status == TENTER_OK && any_not_utf8(in)) { /* found by a repaired chunk */
    in->again = true;
    return tenter__dialect_find(all, in, ENCODING_1252, &unused, error);
  }
  if (status == TENTER_OK && mark_differs(in)) {
    in->dialect.mark = in->dialect.mark == '.' ? ',' : '.';
    in->again = true;
  }
  return status;
}

static bool any_again(const intake *all) {
  for (size_t i = 0; i < all->input_count; i++)
    if (all->inputs[i].again)
      return true;
  return false;
}

static tenter_status one_round(intake *all, order_evidence *evidence, tenter_error *error) {
  tenter_status status = run_round(all, error);
  for (size_t i = 0; i < all->input_count && status == TENTER_OK; i++)
    if (all->inputs[i].again)
      status = look_at(all, &all->inputs[i], error);
  if (status != TENTER_OK || any_again(all))
    return status;
  for (size_t i = 0; i < all->input_count; i++)
    gather_orders(&all->inputs[i], &evidence[i]);
  return decide_orders(all, evidence, true, error);
}

static tenter_status find_dialects(intake *all, order_evidence *evidence, tenter_error *error) {
  static const unsigned orders[] = {ORDER_DMY, ORDER_YMD, ORDER_DMY, ORDER_MDY};
  for (size_t i = 0; i < all->input_count; i++) {
    input *in = &all->inputs[i];
    in->forced_order = all->settings->time_order != TENTER_ORDER_AUTO;
    in->order = orders[all->settings->time_order];
    in->again = true;
    tenter_status status = tenter__dialect_find(all, in, ENCODING_UTF8, &evidence[i], error);
    if (status != TENTER_OK)
      return status;
  }
  return decide_orders(all, evidence, false, error);
}

/* A file without rows is an error, and so is one of which only the end of the hash is missing. */
static tenter_status finish(input *in, tenter_error *error) {
  uint64_t rows = 0, blank = 0;
  for (size_t i = 0; i < in->chunk_count; i++) {
    rows += in->chunks[i].rows;
    blank += in->chunks[i].blank;
  }
  if (rows == blank)
    return tenter_fail(error, TENTER_INPUT,
                       "%s: the table is empty: there is a header (line %u) but no row under it%s",
                       in->name, (unsigned)in->dialect.header_line,
                       rows > 0 ? " that is filled in" : "");
  if (!tenter__hasher_end(in->hasher, in->sha256))
    return tenter_fail_memory(error);
  tenter__hasher_free(in->hasher);
  in->hasher = NULL;
  return TENTER_OK;
}

tenter_status tenter__inputs_read(intake *all, tenter_error *error) {
  enum { MOST_ROUNDS = 8 };
  order_evidence *evidence = tenter_alloc(all->input_count, sizeof *evidence);
  if (!evidence)
    return tenter_fail_memory(error);
  tenter_status status = find_dialects(all, evidence, error);
  for (size_t i = 0; i < all->input_count; i++)
    all->inputs[i].again = true;
  for (int round = 0; status == TENTER_OK && any_again(all); round++) {
    status = one_round(all, evidence, error);
    if (round == MOST_ROUNDS)
      status = tenter_fail(error, TENTER_FAILED,
                           "the files were read in %d ways, none of which "
                           "agrees with itself: a defect of this program",
                           round);
  }
  for (size_t i = 0; i < all->input_count && status == TENTER_OK; i++)
    status = finish(&all->inputs[i], error);
  tenter_free(evidence);
  return status;
}
