/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A fit's notes in plain words, with the names and figures that belong to them. */
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "law_internal.h"

typedef struct writer {
  char *text;
  size_t size, used;
} writer;

static void put(writer *w, const char *format, ...) __attribute__((format(printf, 2, 3)));

static void put(writer *w, const char *format, ...) {
  if (w->used + 1 >= w->size)
    return;
  va_list arguments;
  va_start(arguments, format);
  int wrote = vsnprintf(w->text + w->used, w->size - w->used, format, arguments);
  va_end(arguments);
  if (wrote > 0)
    w->used += (size_t)wrote;
  if (w->used >= w->size)
    w->used = w->size - 1;
}

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
    put(w, " (%s)", tenter_fit_stop_sentence(curve->stop));
    break;
  case TENTER_LAW_ON_BOUND:
    for (size_t k = info->linear; k < info->parameters; k++)
      if (curve->on_bound[k])
        put(w, " (%s = %.4g%s)", info->parameter[k], curve->parameter[k],
            info->is_time[k] ? " h" : "");
    break;
  case TENTER_LAW_EXPLAINS_NOTHING:
    if (curve->p_constant == curve->p_constant)
      put(w, " (p = %.2f)", curve->p_constant);
    break;
  case TENTER_LAW_NOT_RANDOM:
    put(w, " (%zu runs where %.1f are usual)", curve->runs.runs, curve->runs.expected);
    break;
  case TENTER_LAW_TOO_FEW:
    put(w, " (%zu)", curve->count);
    break;
  default:
    break;
  }
}

void tenter_law_words(const tenter_law_curve *curve, char *text, size_t size) {
  writer w = {.text = text, .size = size};
  if (size > 0)
    text[0] = 0;
  for (unsigned note = 1; note < 1u << TENTER_LAW_NOTE_COUNT; note <<= 1) {
    if (!(curve->notes & note))
      continue;
    const char *sentence = tenter_law_note_sentence(note);
    char first = sentence[0];
    if (first >= 'a' && first <= 'z')
      first = (char)(first - 'a' + 'A');
    put(&w, "%s%c%s", w.used ? " " : "", first, sentence + 1);
    put_figures(&w, curve, note);
    put(&w, ".");
  }
}
