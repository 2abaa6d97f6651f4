/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Making, attaching and freeing workers. */
#include "worker.h"

#include "tenter/base/alloc.h"

worker *tenter__worker_new(void) {
  worker *made = tenter_alloc(1, sizeof *made);
  if (made && (made->scratch = tenter_alloc(SCRATCH_SIZE, 1)))
    return made;
  tenter__worker_free(made);
  return NULL;
}

void tenter__worker_free(worker *of) {
  if (!of)
    return;
  tenter__slab_close(&of->pen);
  tenter_free(of->scratch);
  tenter_free(of->cells);
  tenter_buffer_release(&of->decoded);
  tenter_buffer_release(&of->row_cells);
  tenter_buffer_release(&of->last_cells);
  tenter_free(of);
}

static void forget(worker *of) {
  memset(&of->screens, 0, sizeof of->screens);
  memset(&of->positions, 0, sizeof of->positions);
  memset(&of->directions, 0, sizeof of->directions);
  memset(&of->meters, 0, sizeof of->meters);
  memset(&of->operators, 0, sizeof of->operators);
  memset(&of->runs, 0, sizeof of->runs);
  of->date = (last_date){.length = 0};
  of->last_screen = TENTER_NO_NAME;
  of->known_screens = 0;
  of->last_known = false;
}

bool tenter__worker_attach(worker *of, input *in, size_t number) {
  if (!in->lexicons[number] && !(in->lexicons[number] = tenter__lexicon_new()))
    return false;
  if (of->cell_room < in->layout.count + 1) {
    tenter_text *cells = tenter_resize(of->cells, in->layout.count + 1, sizeof *cells);
    if (!cells)
      return false;
    of->cells = cells;
    of->cell_room = in->layout.count + 1;
  }
  if (of->in != in || of->generation != in->generation)
    forget(of);
  of->in = in;
  of->generation = in->generation;
  of->words = in->lexicons[number];
  return true;
}
