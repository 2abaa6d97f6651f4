/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The run id: FNV-1a (64 bit; G. Fowler, L. C. Noll, P. Vo) over what decides a report. It tells
 * files of one set from those of another; it is no proof of anything. The inputs' SHA-256 are that.
 */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "tenter/report/report.h"

static uint64_t mix(uint64_t hash, const void *bytes, size_t length) {
  const unsigned char *at = bytes;
  for (size_t i = 0; i < length; i++)
    hash = (hash ^ at[i]) * UINT64_C(0x100000001b3);
  return hash;
}

/* With its final NUL, so that "ab","c" is not "a","bc". */
static uint64_t mix_text(uint64_t hash, const char *string) {
  return mix(hash, string, strlen(string) + 1);
}

static uint64_t mix_settings(uint64_t hash, const tenter_settings *settings) {
  for (size_t i = 0; i < tenter_setting_count; i++) {
    const tenter_setting *setting = &tenter_setting_table[i];
    const char *field = (const char *)settings + setting->offset;
    switch (setting->type) {
    case TENTER_SETTING_NUMBER:
      hash = mix(hash, field, sizeof(double));
      break;
    case TENTER_SETTING_WHOLE:
    case TENTER_SETTING_CHOICE:
      hash = mix(hash, field, sizeof(int));
      break;
    case TENTER_SETTING_FLAG:
      hash = mix(hash, field, sizeof(bool));
      break;
    case TENTER_SETTING_WORDS:
      hash = mix_text(hash, *(const char *const *)field);
      break;
    }
  }
  return hash;
}

void tenter_report_run_id(const tenter_shop *shop, const char *version, char run[TENTER_RUN_SIZE]) {
  uint64_t hash = mix_text(UINT64_C(0xcbf29ce484222325), version);
  hash = mix(hash, &shop->as_of, sizeof shop->as_of);
  for (size_t i = 0; i < shop->tables->source_count; i++) {
    hash = mix_text(hash, shop->tables->sources[i].file);
    hash = mix_text(hash, shop->tables->sources[i].sha256);
  }
  hash = mix_text(hash, shop->config->sha256);
  hash = mix_settings(hash, &shop->config->settings);
  if (shop->config->logo.length > 0)
    hash = mix(hash, shop->config->logo.start, shop->config->logo.length);
  snprintf(run, TENTER_RUN_SIZE, "%016" PRIx64, hash);
}
