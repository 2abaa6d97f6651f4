/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between pattern.c (what each mesh tells of its noise) and noise.c (what is made of it). */
#ifndef TENTER_JUDGE_NOISE_H
#define TENTER_JUDGE_NOISE_H

#include "judge.h"

typedef struct mesh_noise {
  double reading, reading_df; /* variance of a repeated reading (NaN, 0: not told) */
  double own, own_df;         /* variance of a screen's own pattern at a point (NaN, 0: not told) */
  double level;               /* mean tension */
  size_t mountings;
} mesh_noise;

/* Sd's of every pattern and of the shop from what the meshes tell. */
void judge__noise(judge *j, const mesh_noise *meshes);

#endif
