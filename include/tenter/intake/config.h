/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The config: one INI file of settings, specifications, meters and column names. */
#ifndef TENTER_INTAKE_CONFIG_H
#define TENTER_INTAKE_CONFIG_H

#include "tenter/shop/tables.h"

/* Reads path, or where it is NULL the tenter.ini that lies beside the data: in each folder among
 * the words of the command line, and beside each file among them ("-" has none). Where none is
 * there, *config is all defaults and its file is "". All texts are in the arena.
 *
 * Sections: [intake] [review] [population] [shop] [cost] [report] [certificate] with the keys of
 * tenter_setting_table (the file of [report] logo is read and checked: tenter/intake/house.h);
 * [spec] and [mesh NAME] (target minus plus floor coarse_floor maximum evenness_point
 * evenness_spread warp_weft); [meter NAME] (resolution expanded_uncertainty coverage_factor
 * checked_every_days); [columns] NAME = PCRE2 pattern. Sections and keys in any case; lines that
 * begin with ; or # are comments, and so is what follows a blank and a ';'. A line holds at most
 * 199 bytes.
 *
 * TENTER_USAGE, with file, line and the nearest known name, for an unknown section or key, a key
 * given twice, a value out of range, a bad pattern, a line that can't be read, a --config that
 * can't be opened, or two different tenter.ini. */
tenter_status tenter_config_read(const char *path, const char *const *words, size_t count,
                                 tenter_arena *arena, tenter_config *config, tenter_error *error);

#endif
