/* SPDX-License-Identifier: GPL-3.0-or-later */
/* write_report FOLDER SCREENS ...: the files of a review, of a check, of the lots, of the charts,
 * of the meters, of the intervals, of a certificate and of screens of invented shops. */
#include <stdio.h>
#include <stdlib.h>

#include "shared_shop.h"
#include "tenter/report/certificate.h"

/* Stands in for SHA-256, which this layer does not have: the length in digits. */
static bool count_bytes(const void *bytes, size_t length, char digits[65]) {
  (void)bytes;
  snprintf(digits, 65, "%064zu", length);
  return true;
}

static tenter_status write_certificate(const report_shop *shop,
                                       const tenter_report_options *options, const char *folder,
                                       char *note, tenter_error *error) {
  tenter_certificate_request request = {.scope = TENTER_CERTIFICATE_CUSTOMER, .name = 0};
  tenter_certificate *certificate = NULL;
  tenter_buffer json = {0};
  tenter_status status = tenter_certificate_new(shop->review, &request, &certificate, error);
  tenter_certificate_report report = {certificate, options, count_bytes};
  if (status == TENTER_OK)
    status = tenter_report_certificate_files(&report, folder, &json, note, error);
  tenter_buffer_release(&json);
  tenter_certificate_free(certificate);
  return status;
}

static tenter_status write_intervals(const report_shop *shop, const tenter_report_options *options,
                                     const char *folder, char *note, tenter_error *error) {
  tenter_interval_study *study = NULL;
  tenter_status status = tenter_interval_study_new(shop->review, NULL, &study, error);
  if (status == TENTER_OK)
    status = tenter_report_interval_files(study, options, folder, note, error);
  tenter_interval_study_free(study);
  return status;
}

/* The first screens by id, those with names of every kind among them. */
static tenter_status write_screens(const report_shop *shop, const tenter_report_options *options,
                                   const char *folder, char *note, tenter_error *error) {
  enum { MOST = 24 };
  uint32_t ids[MOST];
  const tenter_screen_story *stories[MOST];
  size_t count = 0;
  for (size_t i = 0; i < shop->review->screen_count && count < MOST; i++)
    ids[count++] = shop->review->screens[i].screen;
  tenter_arena *arena = tenter_arena_new();
  tenter_status status =
      arena ? tenter_screen_stories_new(shop->review, ids, count, NULL, arena, stories, error)
            : tenter_fail_memory(error);
  if (status == TENTER_OK)
    status =
        tenter_report_screens_files(shop->review, stories, count, options, folder, note, error);
  tenter_arena_free(arena);
  return status;
}

static tenter_status write_one(const char *folder, size_t screens, tenter_error *error) {
  report_shop shop;
  tenter_report_options options = {.version = "9.9.9"};
  char note[TENTER_MESSAGE_SIZE] = "";
  report_shop_make(&shop, screens, NULL);
  shop.config.settings.shop_name = "<b>The</b> \"house\" & Co";
  shop.config.logo = tenter_text_of("<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"30\" "
                                    "height=\"20\"><rect width=\"30\" height=\"20\"/></svg>");
  shop.config.accent = 0x7a2e1d;
  tenter_status status = tenter_report_review_files(shop.review, &options, folder, note, error);
  if (status == TENTER_OK)
    status = tenter_report_check_files(shop.shop, &options, folder, error);
  if (status == TENTER_OK)
    status = tenter_report_lots_files(shop.review, &options, folder, note, error);
  if (status == TENTER_OK)
    status = write_intervals(&shop, &options, folder, note, error);
  if (status == TENTER_OK)
    status = write_certificate(&shop, &options, folder, note, error);
  if (status == TENTER_OK)
    status = tenter_report_charts_files(shop.review, &options, folder, note, error);
  if (status == TENTER_OK)
    status = tenter_report_meter_files(shop.review, &options, folder, error);
  if (status == TENTER_OK)
    status = write_screens(&shop, &options, folder, note, error);
  if (note[0] != '\0')
    fprintf(stderr, "%s\n", note);
  report_shop_release(&shop);
  return status;
}

int main(int argc, char **argv) {
  tenter_error error = {0};
  for (int i = 1; i + 1 < argc; i += 2)
    if (write_one(argv[i], strtoul(argv[i + 1], NULL, 10), &error) != TENTER_OK) {
      fprintf(stderr, "%s\n", error.message);
      return 1;
    }
  return 0;
}
