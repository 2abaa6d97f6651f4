/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between the files that make a certificate:
 *   certificate.c          which screens, and the whole
 *   certificate_screen.c   one screen: its verdict, or why not
 *   certificate_meters.c   the meters of the readings
 *   certificate_process.c  how the shop stretched for the order */
#ifndef TENTER_SRC_JUDGE_CERTIFICATE_H
#define TENTER_SRC_JUDGE_CERTIFICATE_H

#include "judge.h"
#include "tenter/judge/certificate.h"

/* Fills a screen whose screen and mounting are set. False when memory runs out. */
bool certificate_screen(tenter_certificate *c, tenter_certificate_screen *screen);

/* The limits of a mounting; infinite where there is none. */
void certificate_limits(const tenter_attributes *is, double *lower, double *upper);

/* The last check of a meter at or before a time (a date counts from its start), or NULL. */
const tenter_meter_check *certificate_last_check(const judge *j, uint16_t meter, tenter_time time);

/* What the config says of a meter, or NULL. */
const tenter_meter_spec *certificate_meter_spec(const judge *j, uint16_t meter);

/* Of the readings of all certified screens. */
tenter_status certificate_meters(tenter_certificate *c, tenter_error *error);

/* The groups of an order or a customer. */
tenter_status certificate_process(tenter_certificate *c, tenter_error *error);

/* True where a mounting belongs to the order or customer asked for. */
bool certificate_is_for(const tenter_certificate *c, const tenter_attributes *is);

/* Whether a mounting is the one listed of its screen. */
const tenter_certificate_screen *certificate_listed(const tenter_certificate *c, size_t mounting);

#endif
