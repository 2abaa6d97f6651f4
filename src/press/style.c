/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The house style: colours, faces and sizes of reports/house.css, as its printed pages have them.
 */
#include <stdlib.h>
#include <string.h>

#include "sheet.h"

static const char *const colours[PAINTS] = {
    [INK] = "--ink",     [QUIET] = "--quiet", [RULE] = "--rule", [GOOD] = "--good",
    [WATCH] = "--watch", [ACT] = "--act",     [STOP] = "--stop", [ACCENT] = "--ink"};

static const char *const sizes[FACE_COUNT] = {
    [FACE_TITLE] = "--size-title",     [FACE_SUBTITLE] = "--size-subtitle",
    [FACE_HEADING] = "--size-heading", [FACE_SUBHEADING] = "--size-subheading",
    [FACE_LEAD] = "--size-lead",       [FACE_BODY] = "--size-body",
    [FACE_BODY_BOLD] = "--size-body",  [FACE_CAPTION] = "--size-caption",
    [FACE_CELL] = "--size-cell",       [FACE_CELL_BOLD] = "--size-cell",
    [FACE_CELL_HEAD] = "--size-head",  [FACE_NOTE] = "--size-note",
    [FACE_NOTE_QUIET] = "--size-note", [FACE_RUNNING] = "--size-running",
};

static tenter_status lacks(const char *name, tenter_error *error) {
  return tenter_fail(error, TENTER_FAILED, "the program was built with a house.css without %s",
                     name);
}

tenter_status style_load(press *p, tenter_error *error) {
  char value[TENTER_STYLE_SIZE], *end = value;
  if (!tenter_style_value("--family", p->family))
    return lacks("--family", error);
  for (int i = 0; i < PAINTS; i++) {
    if (!tenter_style_value(colours[i], value) || strlen(value) != 7)
      return lacks(colours[i], error);
    p->paint[i] = (unsigned)strtoul(value + 1, &end, 16);
  }
  if (p->document->house.accent != 0)
    p->paint[ACCENT] = p->document->house.accent;
  for (int i = 0; i < FACE_COUNT; i++) {
    if (!tenter_style_value(sizes[i], value) || !((p->size[i] = strtod(value, &end)) > 0) ||
        strcmp(end, "pt") != 0)
      return lacks(sizes[i], error);
  }
  return TENTER_OK;
}
