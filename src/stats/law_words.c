/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A fit's notes in plain words, with the names and figures that belong to them. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "law_internal.h"

#define END ((const char *)NULL)

enum { NUMBER = 32, FIGURES = 240, SENTENCE = 480 };

static const tenter_say sentences[] = {
#define X(name) TENTER_SAY_LAW_##name,
    TENTER_LAW_NOTES(X)
#undef X
};

/* The decimal mark of a number that was printed with a point. */
static const char *marked(tenter_form form, char number[NUMBER]) {
  char *point = form.mark == TENTER_MARK_COMMA ? strchr(number, '.') : NULL;
  if (point != NULL)
    *point = ',';
  return number;
}

static void say_bounds(const tenter_law_curve *curve, tenter_form form, char figures[FIGURES]) {
  const tenter_law_info *info = tenter_law_describe(curve->law);
  char number[NUMBER], one[FIGURES], before[FIGURES];
  for (size_t k = info->linear; k < info->parameters; k++) {
    if (!curve->on_bound[k])
      continue;
    snprintf(number, sizeof number, "%.4g", curve->parameter[k]);
    tenter_say_put(one, sizeof one,
                   info->is_time[k] ? TENTER_SAY_LAW_FIGURE_BOUND_HOURS
                                    : TENTER_SAY_LAW_FIGURE_BOUND,
                   info->parameter[k], marked(form, number), END);
    memcpy(before, figures, FIGURES);
    if (before[0] == '\0')
      memcpy(figures, one, FIGURES);
    else
      tenter_say_put(figures, FIGURES, TENTER_SAY_LIST_AND_MORE, before, one, END);
  }
}

/* What a note's sentence does not say by itself; "" where it says all. */
static void say_figures(const tenter_law_curve *curve, unsigned note, tenter_form form,
                        char figures[FIGURES]) {
  char number[NUMBER], count[NUMBER];
  figures[0] = '\0';
  switch (note) {
  case TENTER_LAW_NOT_CONVERGED:
    snprintf(figures, FIGURES, "%s", tenter_fit_stop_sentence(curve->stop));
    break;
  case TENTER_LAW_ON_BOUND:
    say_bounds(curve, form, figures);
    break;
  case TENTER_LAW_EXPLAINS_NOTHING:
    snprintf(number, sizeof number, "%.2f", curve->p_constant);
    if (!isnan(curve->p_constant))
      tenter_say_put(figures, FIGURES, TENTER_SAY_LAW_FIGURE_P, marked(form, number), END);
    break;
  case TENTER_LAW_NOT_RANDOM:
    snprintf(count, sizeof count, "%zu", curve->runs.runs);
    snprintf(number, sizeof number, "%.1f", curve->runs.expected);
    tenter_say_put(figures, FIGURES, TENTER_SAY_LAW_FIGURE_RUNS, count, marked(form, number), END);
    break;
  case TENTER_LAW_TOO_FEW:
    snprintf(figures, FIGURES, "%zu", curve->count);
    break;
  default:
    break;
  }
}

void tenter_law_words(const tenter_law_curve *curve, tenter_form form, char *text, size_t size) {
  char figures[FIGURES], sentence[SENTENCE];
  if (size == 0)
    return;
  text[0] = '\0';
  for (size_t used = 0, k = 0; k < TENTER_LAW_NOTE_COUNT && used + 1 < size; k++) {
    if (!(curve->notes & 1u << k))
      continue;
    say_figures(curve, 1u << k, form, figures);
    tenter_say_put(sentence, sizeof sentence,
                   figures[0] ? TENTER_SAY_LAW_NOTE_FIGURES : TENTER_SAY_LAW_NOTE,
                   tenter_say_text(sentences[k]), figures, END);
    snprintf(text + used, size - used, "%s%s", used > 0 ? " " : "", sentence);
    used = strlen(text);
  }
}
