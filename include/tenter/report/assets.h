/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The files of the top folder reports/ that are built into the program. */
#ifndef TENTER_REPORT_ASSETS_H
#define TENTER_REPORT_ASSETS_H

#include <stddef.h>

typedef struct tenter_asset {
  const char *name;  /* file name */
  const char *bytes; /* NUL after the last */
  size_t length;
  const char *sha256; /* of the bytes, in hex */
} tenter_asset;

extern const tenter_asset tenter_assets[]; /* ends with a name of NULL */

/* The asset called name, or NULL. */
const tenter_asset *tenter_asset_find(const char *name);

#endif
