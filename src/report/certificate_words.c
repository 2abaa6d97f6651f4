/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Why a screen is refused, as a sentence; which sets are whole. */
#include "certificate_parts.h"

static const char *when_words(tenter_document *d, tenter_when when) {
  char words[TENTER_WORDS_SIZE];
  return tenter_document_print(d, "%s", tenter_say_when(d->form, when, words));
}

/* The messages of the codes, in their order. */
static const tenter_say says[] = {
    TENTER_SAY_CERT_NOT_IN_USE,    TENTER_SAY_CERT_NEVER_READ,   TENTER_SAY_CERT_NO_TOLERANCE,
    TENTER_SAY_CERT_AGE_UNKNOWN,   TENTER_SAY_CERT_TOO_YOUNG,    TENTER_SAY_CERT_TOO_FEW_POSITIONS,
    TENTER_SAY_CERT_NEVER_CHECKED, TENTER_SAY_CERT_OUT_OF_CHECK, TENTER_SAY_CERT_METER_SHIFTED,
    TENTER_SAY_CERT_OUTSIDE,       TENTER_SAY_CERT_UNDECIDED,    TENTER_SAY_CERT_EVENNESS_UNDECIDED,
    TENTER_SAY_CERT_FALLS,         TENTER_SAY_CERT_REVIEW};
_Static_assert(sizeof says / sizeof *says == TENTER_REFUSAL_COUNT, "one message a code");

const char *cert_refusal_words(tenter_document *d, const tenter_certificate *c,
                               const tenter_refusal *r) {
  const char *meter = part_name(c->review, TENTER_NAME_METER,
                                r->meter == TENTER_NO_NAME16 ? TENTER_NO_NAME : r->meter);
  const char *found = part_fixed(d, r->found, 1), *wanted = part_fixed(d, r->wanted, 1);
  const char *values[4] = {found, wanted, "", ""};
  switch (r->code) {
  case TENTER_REFUSAL_TOO_YOUNG:
  case TENTER_REFUSAL_TOO_FEW_POSITIONS:
    values[0] = part_fixed(d, r->found, 0);
    values[1] = part_fixed(d, r->wanted, 0);
    break;
  case TENTER_REFUSAL_NEVER_CHECKED:
    values[0] = meter;
    values[1] = part_fixed(d, r->wanted, 0);
    break;
  case TENTER_REFUSAL_OUT_OF_CHECK:
    values[0] = meter;
    values[1] = when_words(d, r->when);
    values[2] = part_fixed(d, r->found, 0);
    values[3] = part_fixed(d, r->wanted, 0);
    break;
  case TENTER_REFUSAL_METER_SHIFTED:
    values[0] = meter;
    values[1] = part_fixed(d, r->found, 1);
    values[2] = when_words(d, r->when);
    break;
  case TENTER_REFUSAL_EVENNESS_UNDECIDED:
    values[0] = part_fixed(d, 100 * r->found, 0);
    break;
  case TENTER_REFUSAL_FALLS_BEFORE_USE:
    values[0] = when_words(d, r->when);
    values[1] = part_fixed(d, 100 * r->found, 0);
    values[2] = part_fixed(d, 100 * r->wanted, 0);
    break;
  case TENTER_REFUSAL_REVIEW:
    values[0] = part_reason(d, r->reason);
    break;
  default:
    break;
  }
  return tenter_say_fill(d->arena, says[r->code], values[0], values[1], values[2], values[3],
                         (const char *)NULL);
}

const char *cert_refusals_words(tenter_document *d, const tenter_certificate *c,
                                const tenter_certificate_screen *screen) {
  const char *all = "";
  for (size_t i = 0; i < screen->refusal_count; i++) {
    const char *one = cert_refusal_words(d, c, &screen->refusals[i]);
    all = tenter_document_print(d, "%s%s%s", all, i > 0 ? " " : "", one);
  }
  return all;
}

static bool is_listed(const tenter_certificate *c, uint32_t screen) {
  for (size_t i = 0; i < c->screen_count; i++)
    if (c->screens[i].screen == screen)
      return true;
  return false;
}

bool cert_has_set(const tenter_certificate *c, const tenter_review_set *set) {
  for (size_t i = 0; i < set->screen_count; i++)
    if (!is_listed(c, set->screens[i]))
      return false;
  return set->screen_count > 1;
}
