/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which screens a certificate is about, and what is said of all of them together. */
#include "certificate.h"

#include <stdlib.h>

static const char *const refusal_words[] = {
#define WORD(constant, code) code,
    TENTER_REFUSALS(WORD)
#undef WORD
};

const char *tenter_refusal_word(tenter_refusal_code code) {
  return code < TENTER_REFUSAL_COUNT ? refusal_words[code] : "";
}

bool certificate_is_for(const tenter_certificate *c, const tenter_attributes *is) {
  switch (c->request.scope) {
  case TENTER_CERTIFICATE_ORDER:
    return is->order == c->request.name;
  case TENTER_CERTIFICATE_CUSTOMER:
    return is->customer == c->request.name;
  default:
    return false;
  }
}

const tenter_certificate_screen *certificate_listed(const tenter_certificate *c, size_t mounting) {
  uint32_t screen = c->review->shop->mountings[mounting].screen;
  size_t low = 0, high = c->screen_count;
  while (low < high) {
    size_t middle = low + (high - low) / 2;
    if (c->screens[middle].screen < screen)
      low = middle + 1;
    else
      high = middle;
  }
  bool found = low < c->screen_count && c->screens[low].screen == screen &&
               c->screens[low].mounting == mounting;
  return found ? &c->screens[low] : NULL;
}

/* ---- which screens -------------------------------------------------------------------------- */

/* The mounting in use, or the last one. */
static size_t mounting_of_screen(const tenter_shop *shop, uint32_t screen) {
  const tenter_screen *s = &shop->screens[screen];
  return s->current != UINT32_MAX ? s->current : s->first_mounting + s->mounting_count - 1;
}

static bool is_asked(const tenter_certificate *c, uint32_t screen) {
  const tenter_shop *shop = c->review->shop;
  if (shop->screens[screen].mounting_count == 0)
    return false;
  if (c->request.scope != TENTER_CERTIFICATE_SCREENS)
    return certificate_is_for(c, &shop->mountings[mounting_of_screen(shop, screen)].is);
  for (size_t i = 0; i < c->request.screen_count; i++)
    if (c->request.screens[i] == screen)
      return true;
  return false;
}

static tenter_status list_screens(tenter_certificate *c, tenter_error *error) {
  const tenter_shop *shop = c->review->shop;
  size_t count = 0;
  for (uint32_t i = 0; i < shop->screen_count; i++)
    count += is_asked(c, i);
  if (count == 0)
    return tenter_fail(error, TENTER_INPUT,
                       "no screen belongs to it at the time judged at: order and customer stand in "
                       "the register, or in columns of the readings");
  c->screens = tenter_arena_alloc(c->arena, count, sizeof *c->screens);
  if (!c->screens)
    return tenter_fail_memory(error);
  for (uint32_t i = 0; i < shop->screen_count; i++)
    if (is_asked(c, i))
      c->screens[c->screen_count++] =
          (tenter_certificate_screen){.screen = i, .mounting = mounting_of_screen(shop, i)};
  return TENTER_OK;
}

/* ---- all of them together ------------------------------------------------------------------- */

/* The one customer and order of all, or none. */
static void find_buyer(tenter_certificate *c) {
  for (size_t i = 0; i < c->screen_count; i++) {
    const tenter_attributes *is = &c->review->shop->mountings[c->screens[i].mounting].is;
    if (i == 0) {
      c->customer = is->customer;
      c->order = is->order;
    }
    if (is->customer != c->customer)
      c->customer = TENTER_NO_NAME;
    if (is->order != c->order)
      c->order = TENTER_NO_NAME;
  }
}

static void sum_up(tenter_certificate *c) {
  c->first = c->last = TENTER_NO_TIME;
  for (size_t i = 0; i < c->screen_count; i++) {
    const tenter_certificate_screen *screen = &c->screens[i];
    if (!screen->certified)
      continue;
    tenter_time taken = c->review->shop->sessions[screen->judged->latest.session].taken;
    c->first = c->certified == 0 || taken < c->first ? taken : c->first;
    c->last = c->certified == 0 || taken > c->last ? taken : c->last;
    c->certified++;
    c->by_simple_rule += screen->by_simple_rule;
  }
}

static tenter_status run(tenter_certificate *c, tenter_error *error) {
  tenter_status status = list_screens(c, error);
  if (status != TENTER_OK)
    return status;
  for (size_t i = 0; i < c->screen_count; i++)
    if (!certificate_screen(c, &c->screens[i]))
      return tenter_fail_memory(error);
  find_buyer(c);
  sum_up(c);
  status = certificate_meters(c, error);
  if (status == TENTER_OK && c->request.scope != TENTER_CERTIFICATE_SCREENS)
    status = certificate_process(c, error);
  return status;
}

tenter_status tenter_certificate_new(const tenter_review *review,
                                     const tenter_certificate_request *request,
                                     tenter_certificate **certificate, tenter_error *error) {
  tenter_arena *arena = tenter_arena_new();
  tenter_certificate *c = arena ? tenter_arena_alloc(arena, 1, sizeof *c) : NULL;
  if (!c) {
    tenter_arena_free(arena);
    return tenter_fail_memory(error);
  }
  *c =
      (tenter_certificate){.review = review,
                           .request = *request,
                           .arena = arena,
                           .simple = review->judged->settings->decision_rule == TENTER_RULE_SIMPLE};
  tenter_status status = run(c, error);
  if (status == TENTER_OK)
    *certificate = c;
  else
    tenter_certificate_free(c);
  return status;
}

void tenter_certificate_free(tenter_certificate *certificate) {
  if (certificate)
    tenter_arena_free(certificate->arena);
}
