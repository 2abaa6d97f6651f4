/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A shop in which nothing is wrong but what is asked for, on make_shop.h: sessions share days,
 * meters, lots and stations. */
#ifndef TEST_JUDGE_MAKE_CALM_SHOP_H
#define TEST_JUDGE_MAKE_CALM_SHOP_H

#include "make_shop.h"

enum { CALM_SCREENS = 48, CALM_WEEKS = 14, CALM_LAST_HOURS = CALM_WEEKS * 168 - 9 };

typedef struct calm_shop {
  double tilt;        /* of station ST-2, N/cm a half width */
  double meter_shift; /* of meter M-2 in the last week */
  double lot_shift;   /* of lot L-1 in the last week */
} calm_shop;

/* One session of five points, both directions, of true tension t; a point's tilt with its x. */
static inline void read_session(maker *k, const char *screen, double hours, const char *meter,
                                double t, double tilt) {
  for (int d = TENTER_WARP; d <= TENTER_WEFT; d++)
    for (size_t i = 0; i < 5; i++) {
      double x = maker_five[i][1] == 'E' ? 0.8 : maker_five[i][1] == 'W' ? -0.8 : 0;
      maker_reading(k, screen, hours, maker_five[i], (tenter_direction)d, meter,
                    t + tilt * x + 0.25 * maker_normal(k));
    }
}

/* Four lots of two meshes, three stations, two meters; each screen is stretched again every five
 * weeks and read after 30 h and then weekly, on one of three days. Log law, everything normal. */
static inline const tenter_review *make_calm(maker *k, const calm_shop *shop) {
  static const char *const meshes[] = {"77-48", "120-34"}, *const lots[] = {"L-1", "L-2", "L-3",
                                                                            "L-4"};
  static const char *const stations[] = {"ST-1", "ST-2", "ST-3"}, *const meters[] = {"M-1", "M-2"};
  double lot_loss[4], day[CALM_WEEKS * 7];
  for (size_t i = 0; i < 4; i++)
    lot_loss[i] = 1.2 + 0.1 * maker_normal(k);
  for (size_t i = 0; i < CALM_WEEKS * 7; i++)
    day[i] = 0.05 * maker_normal(k);
  for (size_t s = 0; s < CALM_SCREENS; s++) {
    char name[16];
    snprintf(name, sizeof name, "S-%02zu", s);
    maker_screen(k, name,
                 &(screen_made){.mesh = meshes[s % 2], .target = 24, .minus = 2, .plus = 2});
    size_t weekday = s % 3 * 2;
    double stretched = -1, level = 0, loss = 0, tilt = 0;
    for (size_t week = s % 5; week < CALM_WEEKS; week++) {
      double at = (double)week * 168 + (double)weekday * 24 + (double)(s % 7) / 4;
      size_t lot = s % 2 * 2 + s / 2 % 2;
      if (stretched < 0 || (week - s % 5) % 5 == 0) {
        tenter_event *event = maker_event(k, name, at, TENTER_EVENT_STRETCHED);
        size_t station = (s + week) % 3;
        event->station = maker_name(k, TENTER_NAME_STATION, stations[station]);
        event->mesh = maker_name(k, TENTER_NAME_MESH, meshes[s % 2]);
        event->target = 24;
        event->lot = maker_name(k, TENTER_NAME_LOT, lots[lot]);
        stretched = at;
        level = 24 + 0.6 * maker_normal(k);
        loss = lot_loss[lot] + 0.1 * maker_normal(k);
        tilt = (station == 1 ? shop->tilt : 0) + 0.05 * maker_normal(k);
        at += 30;
      }
      size_t meter = (s / 3 + week) % 2;
      bool last = week == CALM_WEEKS - 1;
      double t = level - loss * log10((at - stretched) / 24) + 0.1 * maker_normal(k) +
                 day[(size_t)(at / 24)];
      t += last && meter == 1 ? shop->meter_shift : 0;
      t += last && lot == 0 ? shop->lot_shift : 0;
      read_session(k, name, at, meters[meter], t, tilt);
    }
  }
  return maker_judge_at(k, CALM_LAST_HOURS, true);
}

#endif
