/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the parts of a report have in common. */
#include <math.h>
#include <string.h>

#include "review_parts.h"

const char *part_name(const tenter_review *review, tenter_name_kind kind, uint32_t id) {
  return tenter_names_get(review->shop->tables->names[kind], id);
}

const char *part_count(tenter_document *document, size_t count) {
  return tenter_document_print(document, "%zu", count);
}

const char *part_fixed(tenter_document *document, double value, int decimals) {
  tenter_buffer text = {0};
  tenter_form_fixed(&text, document->form, value, decimals);
  const char *string = tenter_buffer_string(&text);
  const char *copy = tenter_document_print(document, "%s", string != NULL ? string : "");
  document->failed |= string == NULL;
  tenter_buffer_release(&text);
  return copy[0] != '\0' ? copy : "–";
}

const char *part_joined(tenter_document *document, const char *const *texts, size_t count) {
  const char *all = "";
  for (size_t i = 0; i < count; i++)
    all = i == 0 ? texts[i] : tenter_document_print(document, "%s, %s", all, texts[i]);
  return all;
}

tenter_tone part_tone(tenter_action action) {
  static const tenter_tone tones[] = {TENTER_TONE_GOOD, TENTER_TONE_WATCH, TENTER_TONE_ACT,
                                      TENTER_TONE_STOP};
  return action < TENTER_ACTION_COUNT ? tones[action] : TENTER_TONE_PLAIN;
}

tenter_cell part_action_cell(tenter_action action) {
  if (action >= TENTER_ACTION_COUNT)
    return tenter_cell_verdict(tenter_say_text(TENTER_SAY_NOT_IN_USE), TENTER_TONE_PLAIN, -1);
  return tenter_cell_verdict(tenter_action_words(action), part_tone(action), (double)action);
}

/* A probability in per cent, without the digits that it does not bear. */
tenter_cell part_percent(double share) {
  tenter_cell cell = tenter_cell_number(100 * share, 0);
  if (isfinite(share) && share < 0.005)
    cell.text = "<1";
  else if (isfinite(share) && share > 0.995)
    cell.text = ">99";
  return cell;
}

const char *part_reason(tenter_document *document, const tenter_reason *reason) {
  const char *text = reason != NULL ? reason->words : "";
  const char *caution = strstr(text, tenter_say_text(TENTER_SAY_WHY_CAUTION));
  if (caution == NULL)
    return text;
  while (caution > text && caution[-1] == ' ')
    caution--;
  return tenter_document_print(document, "%.*s", (int)(caution - text), text);
}

void part_say(tenter_document *document, tenter_block *parent, tenter_say id) {
  tenter_document_paragraph(document, parent, tenter_say_text(id));
}

tenter_document *document_of(const tenter_shop *shop, tenter_say title, const char *version) {
  tenter_document *document = tenter_document_new(tenter_say_text(title), "en");
  if (document == NULL)
    return NULL;
  char run[TENTER_RUN_SIZE], words[TENTER_WORDS_SIZE];
  tenter_report_run_id(shop, version, run);
  document->run = tenter_document_print(document, "%s", run);
  document->program = tenter_document_print(document, "tenter %s", version);
  document->pages = tenter_say_text(TENTER_SAY_PAGES);
  document->made = shop->as_of;
  const tenter_settings *settings = &shop->config->settings;
  document->house = (tenter_house){settings->shop_name, settings->shop_address, shop->config->logo,
                                   shop->config->accent};
  document->form =
      (tenter_form){(tenter_mark)settings->report_mark, (tenter_dates)settings->report_dates};
  tenter_when as_of = {shop->as_of, false};
  document->subtitle =
      tenter_say_fill(document->arena, TENTER_SAY_AS_OF,
                      tenter_say_when(document->form, as_of, words), (const char *)NULL);
  return document;
}
