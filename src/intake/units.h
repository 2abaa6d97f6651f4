/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Units as people write them in headers. */
#ifndef TENTER_INTAKE_UNITS_H
#define TENTER_INTAKE_UNITS_H

#include "columns.h"

/* Sets multiply, divide, misnamed and count_unit of a column of that class from its unit's text.
 * False where the text is no unit known here; the column is then as without a unit. */
bool tenter__unit_read(tenter_text text, unit_class kind, column *of);

/* As the config's `unit` says (TENTER_UNIT_...). */
void tenter__unit_set(int unit, column *of);

#endif
