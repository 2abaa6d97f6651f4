/* SPDX-License-Identifier: GPL-3.0-or-later */
/* simulate_charts [SHOPS]: calm shops drawn one after another; how many new signals and screens to
 * read again their charts gave, beside what each review announced, and how many lay in its range.
 */
#include "make_calm_shop.h"

typedef struct tally {
  double seen, announced, within;
} tally;

static void count(tally *t, size_t seen, double announced, double low, double high) {
  t->seen += (double)seen;
  t->announced += announced;
  t->within += (double)seen >= low && (double)seen <= high;
}

static void show(const char *what, const tally *t, size_t shops) {
  printf("%-8s %7.3f a week seen, %7.3f announced; %5.1f %% of shops within the announced 95 %%\n",
         what, t->seen / (double)shops, t->announced / (double)shops,
         100 * t->within / (double)shops);
}

int main(int argc, char **argv) {
  size_t shops = argc > 1 ? strtoul(argv[1], NULL, 10) : 100;
  tally signals = {0}, screens = {0};
  for (size_t i = 0; i < shops; i++) {
    maker *k = maker_new();
    k->random = 500000 + 97 * i;
    const tenter_chart_alarms *a = &make_calm(k, &(calm_shop){0})->charts.alarms;
    count(&signals, a->seen_signals, a->signals, a->signals_low, a->signals_high);
    count(&screens, a->seen_screens, a->screens, a->screens_low, a->screens_high);
    maker_free(k);
  }
  show("signals", &signals, shops);
  show("screens", &screens, shops);
  return 0;
}
