/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between shift.c (what moved) and shift_words.c (what is said of it, and of each meter). */
#ifndef TENTER_JUDGE_SHIFT_H
#define TENTER_JUDGE_SHIFT_H

#include "judge.h"
#include "tenter/stats/shift.h"

typedef struct shift_words {
  judge *j;
  const tenter_shift_fit *fit;
  const double *edge; /* days before the end */
  size_t bins;
  double end; /* civil seconds */
  size_t scanned[2];
  uint16_t name[2][TENTER_SHIFT_SOURCES]; /* of the sources scanned */
} shift_words;

/* Fills review->shifts (since and sessions stand there already) and the bias, shift and candidates
 * of review->meters. False when memory runs out. */
bool judge__shift_words(const shift_words *w);

#endif
