/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A fit's notes in plain words, with the names and figures that belong to them. */
#include <stdio.h>

#include "law_internal.h"

typedef struct writer {
  char *text;
  size_t size, used;
} writer;

/* After snprintf(w->text + w->used, w->size - w->used, ...): what was cut is not counted. */
static void advance(writer *w, int wrote) {
  size_t room = w->size - w->used;
  if (wrote > 0 && room > 0)
    w->used += (size_t)wrote < room ? (size_t)wrote : room - 1;
}

#define PUT(w, ...)                                                                                \
  advance((w), snprintf((w)->text + (w)->used, (w)->size - (w)->used, __VA_ARGS__))

const char *tenter_law_note_sentence(unsigned note) {
  static const char *const sentences[] = {
#define X(name, sentence) sentence,
      TENTER_LAW_NOTES(X)
#undef X
  };
  for (size_t k = 0; k < TENTER_LAW_NOTE_COUNT; k++)
    if (note == 1u << k)
      return sentences[k];
  return "";
}

/* What a note's sentence does not say by itself. */
static void put_figures(writer *w, const tenter_law_curve *curve, unsigned note) {
  const tenter_law_info *info = tenter_law_describe(curve->law);
  switch (note) {
  case TENTER_LAW_NOT_CONVERGED:
    PUT(w, " (%s)", tenter_fit_stop_sentence(curve->stop));
    break;
  case TENTER_LAW_ON_BOUND:
    for (size_t k = info->linear; k < info->parameters; k++)
      if (curve->on_bound[k])
        PUT(w, " (%s = %.4g%s)", info->parameter[k], curve->parameter[k],
            info->is_time[k] ? " h" : "");
    break;
  case TENTER_LAW_EXPLAINS_NOTHING:
    if (curve->p_constant == curve->p_constant)
      PUT(w, " (p = %.2f)", curve->p_constant);
    break;
  case TENTER_LAW_NOT_RANDOM:
    PUT(w, " (%zu runs where %.1f are usual)", curve->runs.runs, curve->runs.expected);
    break;
  case TENTER_LAW_TOO_FEW:
    PUT(w, " (%zu)", curve->count);
    break;
  default:
    break;
  }
}

void tenter_law_words(const tenter_law_curve *curve, char *text, size_t size) {
  writer w = {.text = text, .size = size};
  if (size == 0)
    return;
  text[0] = 0;
  for (unsigned note = 1; note < 1u << TENTER_LAW_NOTE_COUNT; note <<= 1) {
    if (!(curve->notes & note))
      continue;
    const char *sentence = tenter_law_note_sentence(note);
    char first = sentence[0];
    if (first >= 'a' && first <= 'z')
      first = (char)(first - 'a' + 'A');
    PUT(&w, "%s%c%s", w.used ? " " : "", first, sentence + 1);
    put_figures(&w, curve, note);
    PUT(&w, ".");
  }
}
