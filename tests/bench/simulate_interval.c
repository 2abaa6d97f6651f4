/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shops whose truth is known, asked how long a new mounting may go: which share of new mountings is
 * truly below the floor at the interval that was named, against the risk that was stated; how often
 * the 90 % interval of days holds the age at which the risk is truly reached. For the mesh (a lot
 * not seen yet) and for each lot. `simulate_interval [TIMES [RISK [FAMILIES]]]` makes TIMES as many
 * shops, at a RISK (0.05), of the first so many FAMILIES (3).
 *
 * With the fitted family both truths are in closed form: a new mounting's tension at an age is
 * normal. Of the other families shares are counted over draws. */
#include "../judge/make_shop.h"
#include "tenter/stats/normal.h"

enum { A_LOT = 8, SIZES = 3, READINGS = 5, DRAWS = 4000, MOST_LOTS = 40 };

static const int sizes[SIZES] = {6, 12, 40}; /* lots */
static const int shops_of[SIZES] = {240, 240, 200};
static const double level = 25, loss = 1.25, floor_at = 20.5, now_days = 200;
static double risk = 0.05; /* as asked for */
static const double sd_lot = 0.6, sd_mounting = 0.8, lot_share = 0.15, mounting_share = 0.1;

typedef enum family { FITTED, PROPORTIONAL, LEVELS_OFF, FAMILIES } family;
static const char *const family_words[FAMILIES] = {"as fitted", "proportional", "levels off"};

/* ---- the truth ------------------------------------------------------------------------------ */

typedef struct line {
  double level, share; /* deviation of the level; loss as a share of the usual one */
} line;

/* Level and loss of a lot, of a mounting in it: independent normals. */
static line draw_lot(maker *k) {
  double own = maker_normal(k);
  return (line){sd_lot * own, 1 + lot_share * maker_normal(k)};
}

static line draw_mounting(maker *k, const line *lot) {
  double own = maker_normal(k);
  return (line){lot->level + sd_mounting * own, lot->share + mounting_share * maker_normal(k)};
}

static double tension_of(const line *t, family f, double days) {
  const double ease = 2; /* decades in which a loss that levels off falls to 1 / e */
  double u = log10(days), at = level + t->level;
  double lost = loss * t->share * (f == PROPORTIONAL ? at / level : 1);
  return at - lost * (f == LEVELS_OFF ? ease * (1 - exp(-u / ease)) : u);
}

/* Share of new mountings below the floor at an age; of a lot, or (NULL) of lots not seen. */
static double below_of(maker *k, const line *lot, family f, double days) {
  if (f != FITTED) {
    int below = 0;
    for (int i = 0; i < DRAWS; i++) {
      line fresh = lot ? *lot : draw_lot(k), one = draw_mounting(k, &fresh);
      below += tension_of(&one, f, days) < floor_at;
    }
    return (double)below / DRAWS;
  }
  double u = log10(days), known = lot != NULL;
  line mean = lot ? *lot : (line){0, 1};
  double v = sd_mounting * sd_mounting + (1 - known) * sd_lot * sd_lot;
  double w = mounting_share * mounting_share + (1 - known) * lot_share * lot_share;
  double sd = sqrt(v + u * u * loss * loss * w);
  return tenter_normal_below((floor_at - tension_of(&mean, f, days)) / sd);
}

/* ---- one shop ------------------------------------------------------------------------------- */

static void add_mounting(maker *k, int i, int lot, const line *t, family f) {
  char name[16], lot_name[16];
  snprintf(name, sizeof name, "S-%03d", i);
  snprintf(lot_name, sizeof lot_name, "L%02d", lot);
  double zero = 1 + 24 * 150 * maker_uniform(k), life = now_days - zero / 24;
  int sessions = 2 + (int)(5 * maker_uniform(k));
  maker_screen(
      k, name,
      &(screen_made){.mesh = "120-34", .lot = lot_name, .floor = floor_at, .stretched = zero});
  for (int s = 0; s < sessions; s++) {
    double first = log10(1.2), span = log10(life) - first;
    double days = pow(10, first + span * (s + maker_uniform(k)) / sessions);
    double own = tension_of(t, f, days) + 0.15 * maker_normal(k);
    for (size_t p = 0; p < READINGS; p++)
      maker_reading(k, name, zero + 24 * days, maker_five[p], TENTER_WARP, "M1",
                    round(10 * (own + 0.3 * maker_normal(k))) / 10);
  }
}

/* What came true; a row of the table. squares: over shops. */
typedef struct tally {
  double shops, share, squares, intervals, held, days, none;
} tally;

typedef struct tallies {
  tally mesh, lots;
} tallies;

/* One interval: returns the true share below the floor at its days (10 years where it has none). */
static double check(maker *k, const tenter_review_interval *interval, const line *lot, family f,
                    tally *out) {
  double days = isnan(interval->days) ? 3652.5 : fmax(interval->days, 1);
  double early = fmax(interval->days_early, 1), late = interval->days_late;
  bool held = below_of(k, lot, f, early) <= risk &&
              (isnan(late) || below_of(k, lot, f, fmax(late, 1)) >= risk);
  if (interval->days_early == 0) /* it may be reached at once */
    held = isnan(late) || below_of(k, lot, f, fmax(late, 1)) >= risk;
  out->intervals++;
  out->held += held;
  out->none += interval->days == 0 || isnan(interval->days);
  out->days += log10(days);
  return below_of(k, lot, f, days);
}

static void simulate(uint64_t seed, family f, int count, tallies *out) {
  line lots[MOST_LOTS];
  maker *k = maker_new();
  k->random = seed;
  k->config.settings.risk = risk;
  for (int l = 0; l < count; l++)
    lots[l] = draw_lot(k);
  for (int i = 0; i < count * A_LOT; i++) {
    line t = draw_mounting(k, &lots[i % count]);
    add_mounting(k, i, i % count, &t, f);
  }
  maker_judge(k, 24 * now_days);
  double of_lots = 0, named = 0;
  for (size_t i = 0; i < k->review->interval_count; i++) {
    const tenter_review_interval *interval = &k->review->intervals[i];
    bool any = interval->lot == TENTER_NO_NAME;
    const line *lot = NULL;
    if (!any)
      lot = &lots[atoi(tenter_names_get(k->tables->names[TENTER_NAME_LOT], interval->lot) + 1)];
    tally *t = any ? &out->mesh : &out->lots;
    double share = check(k, interval, lot, f, t);
    t->share += any ? share : 0;
    t->squares += any ? share * share : 0;
    of_lots += any ? 0 : share;
    named += !any;
  }
  out->lots.share += of_lots / named;
  out->lots.squares += of_lots / named * of_lots / named;
  out->mesh.shops++;
  out->lots.shops++;
  maker_free(k);
}

/* ---- the table ------------------------------------------------------------------------------ */

static void print_row(family f, int lots, const char *what, const tally *t) {
  double mean = t->share / t->shops;
  double se = sqrt(fmax(0, t->squares / t->shops - mean * mean) / t->shops);
  bool off = fabs(mean - risk) > risk / 5;
  printf("%-13s %5d  %-8s %6.0f %10.1f %11.2f +- %.2f %s %14.1f %12.0f\n", family_words[f], lots,
         what, t->shops, pow(10, t->days / t->intervals), 100 * mean, 196 * se, off ? "!" : " ",
         100 * t->held / t->intervals, t->none);
}

int main(int argc, char **argv) {
  static tallies table[FAMILIES][SIZES];
  double times = argc > 1 ? atof(argv[1]) : 1;
  int families = argc > 3 ? atoi(argv[3]) : FAMILIES;
  uint64_t seed = 20260105;
  risk = argc > 2 ? atof(argv[2]) : risk;
  printf("Days at a risk of %g %%: the true share below the floor there, mean over shops (+- 1.96 "
         "se;\n! off by more than a fifth of the risk); 90 %% intervals that hold the true age\n"
         "truth          lots  for       shops  days(geo)      below %%           held %%   none "
         "named\n",
         100 * risk);
  for (family f = FITTED; f < FAMILIES && (int)f < families; f++)
    for (int s = 0; s < SIZES; s++) {
      for (int n = 0; n < shops_of[s] * times; n++)
        simulate(seed += 7919, f, sizes[s], &table[f][s]);
      print_row(f, sizes[s], "mesh", &table[f][s].mesh);
      print_row(f, sizes[s], "its lots", &table[f][s].lots);
      fflush(stdout);
    }
  return 0;
}
