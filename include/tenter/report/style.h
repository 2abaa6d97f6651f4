/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The house style, reports/house.css, for those who are no browser: its custom properties. */
#ifndef TENTER_REPORT_STYLE_H
#define TENTER_REPORT_STYLE_H

#include <stdbool.h>

enum { TENTER_STYLE_SIZE = 160 };

/* What the property called name ("--ink") is on printed pages: as its print block says, else as it
 * is in general. Without quotation marks and outer blanks, "#000" as "#000000". False, and "",
 * where it is not there or longer than value. */
bool tenter_style_value(const char *name, char value[TENTER_STYLE_SIZE]);

#endif
