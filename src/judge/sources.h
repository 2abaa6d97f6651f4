/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef TENTER_JUDGE_SOURCES_H
#define TENTER_JUDGE_SOURCES_H

#include "judge.h"

typedef struct row_list {
  tenter_row rows[TENTER_SOURCES_NAMED];
  uint32_t count, more;
  tenter_row last; /* of those not named */
} row_list;

void judge__add_row(row_list *s, tenter_row row);
void judge__add_reading(const judge *j, row_list *s, size_t reading);
void judge__add_session(const judge *j, row_list *s, size_t session);

#endif
