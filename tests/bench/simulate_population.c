/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shops whose truth is known, judged as any other: how many fast lots are found and how many names
 * are wrong, whether 90 % intervals of the tension in a week cover 90 %, whether the chances to be
 * below the floor come true. Half of the shops are not what the model believes: losses in
 * proportion to the level, laws that level off in four ways, skewed lots. Prints one table;
 * `simulate_population [TIMES]` makes TIMES as many shops.
 *
 * Fast, in truth: the lot's loss at the mesh's level is over the mean of all lots there are by more
 * than the margin (10 %). Floors are drawn without a look at the screen, else chances could not
 * come true. */
#include "../judge/make_shop.h"

enum { A_LOT = 16, SIZES = 4, DEPTHS = 4, BINS = 6, READINGS = 5 };

static const int sizes[SIZES] = {3, 6, 12, 40};         /* lots */
static const int shops_of[SIZES] = {300, 180, 120, 60}; /* fitted; as many of the others together */
static const int depths[DEPTHS] = {0, 1, 3, 20};        /* sessions of a mounting */
static const double bins[BINS + 1] = {0, 0.05, 0.2, 0.5, 0.8, 0.95, 1.0001};
static const double level = 25, loss = 1.25, margin = 0.1, horizon_days = 7;

typedef enum family {
  FITTED,
  PROPORTIONAL,
  TO_A_LEVEL, /* the laws that level off: a power of age, stretched, one and two exponentials */
  STRETCHED,
  SOLID,
  TWO_PHASE,
  SKEWED,
  FAMILIES
} family;
static const char *const family_words[FAMILIES] = {
    "as fitted", "proportional", "to a level", "stretched", "solid", "two phases", "skewed lots"};

/* Counts of forecasts; squares: over shops, of (covered - 0.9 n), which says how far the forecasts
 * of a shop go together. */
typedef struct coverage {
  double n, covered, squares;
} coverage;

typedef struct tally {
  double shops, lots, fast, named, right, clear, clear_found;
  coverage depth[DEPTHS];
} tally;

typedef struct calibration {
  double n, chance, below;
} calibration;

/* ---- the truth ------------------------------------------------------------------------------ */

/* A mounting's true line; what the law makes of u is the family's. */
typedef struct truth {
  double level, loss; /* at 24 h; per decade there */
  double zero;        /* hours */
  int sessions;
} truth;

typedef struct true_lot {
  double level, share; /* deviation of the level; loss as a share of the usual loss */
} true_lot;

static true_lot draw_lot(maker *k, family f) {
  double common = maker_normal(k);
  true_lot lot = {.level = 0.6 * common};
  double own = 0.3 * common + 0.954 * maker_normal(k); /* correlated by 0.3 */
  if (f == SKEWED)
    own = -log(maker_uniform(k)) - 1; /* exponential about its mean */
  lot.share = 1 + 0.15 * own;
  return lot;
}

/* The excess that judge means: at the mesh's level, the part that goes with the level taken out. */
static double true_excess(const true_lot *lot, family f) {
  return f == PROPORTIONAL ? lot->share - 1 : lot->share - 1 - lot->level / level;
}

static truth draw_mounting(maker *k, const true_lot *lot, family f, int sessions) {
  truth t = {.sessions = sessions};
  t.level = level + lot->level + 0.8 * maker_normal(k);
  double share = lot->share + 0.1 * maker_normal(k);
  t.loss = loss * share * (f == PROPORTIONAL ? t.level / level : 1);
  return t;
}

/* What is left of a loss that levels off. */
static double left_of(family f, double days) {
  double hours = 24 * days;
  switch (f) {
  case TO_A_LEVEL: /* by 1 / e in two decades */
    return exp(-log10(days) / 2);
  case STRETCHED:
    return exp(-pow(hours / 200, 0.4));
  case SOLID:
    return exp(-hours / 250);
  default:
    return 0.5 * exp(-hours / 60) + 0.5 * exp(-hours / 700);
  }
}

static double tension_of(const truth *t, family f, double days) {
  if (f < TO_A_LEVEL || f > TWO_PHASE)
    return t->level - t->loss * log10(days);
  double first = left_of(f, 1), decade = first - left_of(f, 10);
  return t->level - t->loss * (first - left_of(f, days)) / decade;
}

/* ---- one shop ------------------------------------------------------------------------------- */

static const double now_days = 70;

/* Read at random ages, one to each of as many equal parts of its life in log age. */
static void read_mounting(maker *k, const char *name, const truth *t, family f) {
  double life = now_days - t->zero / 24, first = log10(1.2), span = log10(life) - first;
  for (int s = 0; s < t->sessions; s++) {
    double days = pow(10, first + span * (s + maker_uniform(k)) / t->sessions);
    double own = tension_of(t, f, days) + 0.15 * maker_normal(k);
    for (size_t i = 0; i < READINGS; i++)
      maker_reading(k, name, t->zero + 24 * days, maker_five[i], TENTER_WARP, "M1",
                    round(10 * (own + 0.3 * maker_normal(k))) / 10);
  }
}

static void add_mounting(maker *k, int i, int lot, const truth *t, family f) {
  char name[16], lot_name[16];
  snprintf(name, sizeof name, "S-%03d", i);
  snprintf(lot_name, sizeof lot_name, "L%02d", lot);
  double then = now_days + horizon_days - t->zero / 24;
  maker_screen(k, name,
               &(screen_made){.mesh = "120-34",
                              .lot = lot_name,
                              .floor = level - loss * log10(then) + maker_normal(k),
                              .stretched = t->zero});
  read_mounting(k, name, t, f);
}

static void check_lots(const maker *k, const true_lot *lots, int count, family f, tally *out) {
  for (size_t i = 0; i < k->review->lot_count; i++) {
    const tenter_review_lot *lot = &k->review->lots[i];
    int l = atoi(tenter_names_get(k->tables->names[TENTER_NAME_LOT], lot->lot) + 1);
    bool fast = true_excess(&lots[l], f) > margin, clear = true_excess(&lots[l], f) > 3 * margin;
    out->named += lot->fast;
    out->right += lot->fast && fast;
    out->clear_found += lot->fast && clear;
  }
  for (int l = 0; l < count; l++) {
    out->fast += true_excess(&lots[l], f) > margin;
    out->clear += true_excess(&lots[l], f) > 3 * margin;
  }
  out->lots += count;
}

static void check_forecast(const maker *k, int i, const truth *t, family f, double *covered,
                           calibration *all) {
  char name[16];
  snprintf(name, sizeof name, "S-%03d", i);
  const tenter_review_screen *s = maker_find(k, name);
  double age = now_days - t->zero / 24, mean, sd, p = s->forecast.below_floor_at_horizon;
  double floor = k->shop->mountings[s->mounting].is.floor;
  double now = tension_of(t, f, age), then = tension_of(t, f, age + horizon_days);
  tenter_review_tension_at(k->review, s, 24 * (age + horizon_days), &mean, &sd);
  *covered += fabs(then - mean) < 1.6449 * sd;
  for (int b = 0; b < BINS; b++)
    if (p >= bins[b] && p < bins[b + 1]) {
      all[b].n++;
      all[b].chance += p;
      all[b].below += now < floor || then < floor;
    }
}

static void simulate(uint64_t seed, family f, int count, tally *out, calibration *all) {
  true_lot lots[40];
  truth mountings[40 * A_LOT];
  maker *k = maker_new();
  k->random = seed;
  for (int l = 0; l < count; l++)
    lots[l] = draw_lot(k, f);
  for (int i = 0; i < count * A_LOT; i++) {
    truth *t = &mountings[i];
    *t = draw_mounting(k, &lots[i % count], f, depths[i / count % DEPTHS]);
    t->zero = 1 + 24 * 55 * maker_uniform(k);
    add_mounting(k, i, i % count, t, f);
  }
  maker_judge(k, 24 * now_days);
  check_lots(k, lots, count, f, out);
  for (int d = 0; d < DEPTHS; d++) {
    double n = 0, covered = 0;
    for (int i = 0; i < count * A_LOT; i++)
      if (i / count % DEPTHS == d) {
        check_forecast(k, i, &mountings[i], f, &covered, all);
        n++;
      }
    coverage *c = &out->depth[d];
    c->n += n;
    c->covered += covered;
    c->squares += (covered - 0.9 * n) * (covered - 0.9 * n);
  }
  out->shops++;
  maker_free(k);
}

/* ---- the table ------------------------------------------------------------------------------ */

static double per_cent(double part, double whole) {
  return whole > 0 ? 100 * part / whole : NAN;
}

static void print_share(double part, double whole, int width) {
  if (whole > 0)
    printf("%*.1f", width, per_cent(part, whole));
  else
    printf("%*s", width, "-");
}

static void print_lots(family f, int lots, const tally *t) {
  printf("%-13s %4d %6.0f %6.0f %6.0f %6.0f", family_words[f], lots, t->shops, t->lots, t->fast,
         t->named);
  print_share(t->right, t->fast, 9);
  print_share(t->clear_found, t->clear, 11);
  print_share(t->named - t->right, t->named, 9);
  if (t->named > 0) /* a rate of 10 %% may show so much of itself by chance */
    printf(" (%.0f)", 10 + 164.5 * sqrt(0.09 / t->named));
  printf("\n");
}

/* Covered per cent, and the half width of the 95 % band: binomial, or as far as the shops
 * themselves scatter where that is wider (screens of a shop share what is not known). */
static void print_coverage(const coverage *c) {
  double binomial = 196 * sqrt(0.09 / c->n), shops = 196 * sqrt(c->squares) / c->n;
  double off = per_cent(c->covered, c->n) - 90;
  printf("  %5.1f (%3.1f %3.1f)%s", 90 + off, binomial, shops,
         fabs(off) > binomial ? fabs(off) > shops ? "!" : "~" : " ");
}

static void print_lots_table(tally table[FAMILIES][SIZES]) {
  printf("Fast lots (margin 10 %%; clear: over 30 %%; false names at most 10 %% by design, in "
         "brackets what\n"
         "that may look like by chance: one-sided 95 %%)\n"
         "truth         lots  shops   lots   fast  named  found %%  clear f. %%  false %%\n");
  for (family f = FITTED; f < FAMILIES; f++)
    for (int s = 0; s < SIZES; s++)
      print_lots(f, sizes[s], &table[f][s]);
}

static void print_coverage_table(tally table[FAMILIES][SIZES]) {
  printf("\nTension in 7 days: 90 %% intervals that cover the truth, by sessions of the mounting\n"
         "(in brackets the 95 %% bands about 90: binomial; as the shops scatter. ~ outside the "
         "first,\n! outside both)\n"
         "truth         lots     0 sessions         1 session          3 sessions         20 "
         "sessions\n");
  for (family f = FITTED; f < FAMILIES; f++)
    for (int s = 0; s < SIZES; s++) {
      printf("%-13s %4d", family_words[f], sizes[s]);
      for (int d = 0; d < DEPTHS; d++)
        print_coverage(&table[f][s].depth[d]);
      printf("\n");
    }
}

static void print_chances(calibration all[FAMILIES][BINS]) {
  printf("\nBelow the floor in 7 days: chance said, and what came true\n"
         "truth         chance        screens   said %%   true %%   95 %% band\n");
  for (family f = FITTED; f < FAMILIES; f++)
    for (int b = 0; b < BINS; b++) {
      const calibration *c = &all[f][b];
      double p = c->chance / c->n;
      printf("%-13s %3.0f to %3.0f %% %8.0f   %6.1f   %6.1f       %.1f\n", family_words[f],
             100 * bins[b], 100 * fmin(1, bins[b + 1]), c->n, 100 * p, per_cent(c->below, c->n),
             196 * sqrt(p * (1 - p) / c->n));
    }
}

int main(int argc, char **argv) {
  static tally table[FAMILIES][SIZES];
  static calibration all[FAMILIES][BINS];
  double times = argc > 1 ? atof(argv[1]) : 1;
  uint64_t seed = 20260105;
  for (int s = 0; s < SIZES; s++)
    for (int n = 0; n < shops_of[s] * times; n++) {
      family other = (family)(PROPORTIONAL + n % (FAMILIES - PROPORTIONAL));
      simulate(seed += 7919, FITTED, sizes[s], &table[FITTED][s], all[FITTED]);
      simulate(seed += 7919, other, sizes[s], &table[other][s], all[other]);
    }
  print_lots_table(table);
  print_coverage_table(table);
  print_chances(all);
  return 0;
}
