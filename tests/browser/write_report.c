/* SPDX-License-Identifier: GPL-3.0-or-later */
/* write_report FOLDER SCREENS ...: the files of a review, of a check and of the lots of invented
 * shops. */
#include <stdio.h>
#include <stdlib.h>

#include "shared_shop.h"

static tenter_status write_one(const char *folder, size_t screens, tenter_error *error) {
  report_shop shop;
  tenter_report_options options = {.version = "9.9.9"};
  char note[TENTER_MESSAGE_SIZE] = "";
  report_shop_make(&shop, screens, NULL);
  tenter_status status = tenter_report_review_files(shop.review, &options, folder, note, error);
  if (status == TENTER_OK)
    status = tenter_report_check_files(shop.shop, &options, folder, error);
  if (status == TENTER_OK)
    status = tenter_report_lots_files(shop.review, &options, folder, note, error);
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
