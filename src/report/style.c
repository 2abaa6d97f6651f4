/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Custom properties are found as text: the file is our own, and tests ask for each of them. */
#include "tenter/report/style.h"

#include <string.h>

#include "tenter/report/assets.h"

/* Behind "name:" in at .. end, the first; NULL where it is not there. */
static const char *find(const char *at, const char *end, const char *name) {
  size_t length = strlen(name);
  for (const char *hit = at; (hit = strstr(hit, name)) != NULL && hit + length < end; hit += length)
    if (hit[length] == ':' && strchr(" \n;{", hit[-1]) != NULL)
      return hit + length + 1;
  return NULL;
}

/* "#abc" is "#aabbcc". */
static void spread(char *value) {
  if (value[0] != '#' || strlen(value) != 4)
    return;
  for (int i = 3; i > 0; i--)
    value[2 * i] = value[2 * i - 1] = value[i];
  value[7] = '\0';
}

bool tenter_style_value(const char *name, char value[TENTER_STYLE_SIZE]) {
  const tenter_asset *sheet = tenter_asset_find("house.css");
  value[0] = '\0';
  if (sheet == NULL)
    return false;
  const char *end = sheet->bytes + sheet->length, *print = strstr(sheet->bytes, "@media print");
  const char *at = print != NULL ? find(print, end, name) : NULL;
  if (at == NULL)
    at = find(sheet->bytes + 1, end, name);
  size_t length = 0;
  for (; at != NULL && *at != ';' && *at != '}' && at < end; at++) {
    if (*at == '"' || (*at == ' ' && length == 0))
      continue;
    if (length + 1 == TENTER_STYLE_SIZE) {
      value[0] = '\0';
      return false;
    }
    value[length++] = *at == '\n' ? ' ' : *at;
  }
  value[length] = '\0';
  spread(value);
  return length > 0;
}
