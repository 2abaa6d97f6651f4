/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef TENTER_JUDGE_FORECAST_H
#define TENTER_JUDGE_FORECAST_H

#include "judge.h"

/* Relaxation, forecast and ageing of screen i of the review. */
void judge__forecast(judge *j, size_t i);

#endif
