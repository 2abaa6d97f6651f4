/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Finding what tools/embed.cmake built in. */
#include "tenter/report/assets.h"

#include <string.h>

const tenter_asset *tenter_asset_find(const char *name) {
  for (const tenter_asset *asset = tenter_assets; asset->name != NULL; asset++)
    if (strcmp(asset->name, name) == 0)
      return asset;
  return NULL;
}
