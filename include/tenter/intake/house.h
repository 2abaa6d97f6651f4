/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The shop's own style of reports: what may become part of them. */
#ifndef TENTER_INTAKE_HOUSE_H
#define TENTER_INTAKE_HOUSE_H

#include "tenter/shop/tables.h"

enum { TENTER_LOGO_MOST = 512 * 1024, TENTER_LOGO_SIDE = 4096 };

/* Whether bytes may be a logo: a PNG (its header whole, at most TENTER_LOGO_SIDE pixels a side) or
 * an SVG that can do nothing but stand there: no scripts, no handlers, no animations, no foreign
 * elements, no document type, no style that loads, no reference but to itself or to a picture
 * within it. At most TENTER_LOGO_MOST bytes. TENTER_USAGE with what was found and what to do. */
tenter_status tenter_logo_check(tenter_text bytes, tenter_error *error);

/* Reads "#rrggbb" as 0xrrggbb (never 0: black is 0x000001; "" is 0, none). TENTER_USAGE for
 * anything else, and for a colour that can't be read on white paper: contrast under 4.5 to 1 (WCAG
 * 2.2, success criterion 1.4.3). */
tenter_status tenter_accent_read(const char *text, unsigned *accent, tenter_error *error);

/* The contrast of a colour with white, 1 .. 21 (WCAG 2.2, "contrast ratio"). */
double tenter_contrast_on_white(unsigned colour);

/* [report] logo (a path from the folder of the config) and accent into config->logo and
 * config->accent. TENTER_USAGE where the file can't be read or used. */
tenter_status tenter_house_read(tenter_config *config, tenter_arena *arena, tenter_error *error);

#endif
