/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the demo shop owns, and what is true of it. Everything that a finding
 * of the review could be compared with stands here as a constant. */
#include "demo.h"

/* Targets follow what printers report for such meshes (about 25 for coarse,
 * 20 to 22 for fine), the losses the band of 3 to 7 % of the one-minute
 * tension per decade of time. */
const mesh meshes[MESHES] = {
    {"43-80", 25.0, 20.0, 17.0, 36.0, 0.046},
    {"77-48", 23.0, 18.4, 0.0, 29.0, 0.050},
    {"100-40", 21.0, 16.8, 0.0, 27.0, 0.052},
    {"120-34", 20.0, 16.0, 0.0, 25.0, 0.054},
};

const lot lots[LOTS] = {
    {"K2511", 0, 1.00, false, 0, 400},   {"P2607", 1, 0.95, false, 0, 250},
    {"P2613", 1, 1.06, false, 85, 400},  {"P2618", 1, 1.80, true, 84, 400},
    {"Q2604", 2, 1.07, false, 0, 270},   {"Q2612", 2, 0.92, false, 95, 400},
    {"T2602", 3, 0.93, false, 0, 260},   {"T2609", 3, 1.75, true, 76, 400},
    {"T2616", 3, 1.08, false, 110, 400},
};

const meter meters[METERS] = {
    {"M1", 0.1, 0.0, 0.1},
    {"M2", 0.0, -0.8, 0.1},
    {"M3", -0.1, 0.0, 0.5},
};

const char *const stations[STATIONS] = {"ST1", "ST2", "ST3"};
const double station_east_minus_west[STATIONS] = {0.0, 1.2, 0.0};

const char *const operators[OPERATORS] = {"AK", "BT", "CW", "DM"};
const double operator_bias[OPERATORS] = {0.0, 0.15, -0.1, 0.0};

const char *const position_names[POSITIONS] = {"centre", "NW", "NE", "SW", "SE",
                                               "N",      "E",  "S",  "W"};
const int position_x[POSITIONS] = {0, -1, 1, -1, 1, 0, 1, 0, -1};

const double corner_minus_centre = 0.4;
const double noise_at_20 = 0.30;

static const char *const role_names[] = {
    "ordinary",
    "bond slipped",
    "two lots in the register",
    "swapped",
    "over maximum",
    "burst",
    "remeshed",
    "retired",
    "never read since stretch",
    "settling",
    "stale",
    "unknown stretch",
    "rise unlogged",
    "read before stretch",
    "odd one in its set",
    "in odd set",
    "fresh for order",
};

const char *role_name(role which) {
  return role_names[which];
}

/* The colour sets: screens FIRST to LAST, by their number on the frame. */
static const struct {
  const char *name;
  int first, last;
} sets[] = {
    {"HARBOUR", 24, 28},  {"ORCHARD", 36, 39},   {"LANTERN", 54, 59},
    {"MERIDIAN", 72, 75}, {"KESTREL", 112, 116},
};

static const job_of jobs[] = {
    {"order", "", "Caf\xe9 Lindwurm", "O-2611", "2026-11-18"},
    {"set", "LANTERN", "M\xf6we & Tang", "O-2612", "2026-11-20"},
    {"set", "HARBOUR", "Hollin \x96 Daughters", "O-2609", "2026-11-17"},
};

static bool same(const char *a, const char *b) {
  while (*a && *a == *b) {
    a++;
    b++;
  }
  return *a == *b;
}

const job_of *job_of_screen(const shop *s, int which) {
  const screen *c = &s->screens[which];
  if (c->role == ROLE_ORDER)
    return &jobs[0];
  for (size_t i = 1; i < sizeof jobs / sizeof *jobs; i++)
    if (c->set && same(c->set, jobs[i].set))
      return &jobs[i];
  return NULL;
}

/* Screens with a story, by their number on the frame. */
static const struct {
  int number;
  role role;
} stories[] = {
    {7, ROLE_UNLOGGED},      {12, ROLE_RETIRED},         {23, ROLE_SLIP},
    {31, ROLE_TWO_LOTS},     {34, ROLE_SWAPPED},         {36, ROLE_IN_ODD_SET},
    {37, ROLE_IN_ODD_SET},   {38, ROLE_ODD_IN_SET},      {39, ROLE_IN_ODD_SET},
    {41, ROLE_OVER_MAXIMUM}, {45, ROLE_BURST},           {52, ROLE_NEVER_READ},
    {70, ROLE_STALE},        {82, ROLE_UNKNOWN_STRETCH}, {85, ROLE_REMESHED},
    {93, ROLE_SETTLING},     {118, ROLE_TYPED_EARLY},
};

static int mesh_of(int number) {
  if (number <= 20)
    return 0;
  if (number <= 65)
    return 1;
  return number <= 87 ? 2 : 3;
}

static bool large(int number) {
  return (number <= 20 && number % 2 == 1) || (number >= 60 && number <= 65) ||
         (number >= 77 && number <= 87);
}

static void furnish_one(shop *s, int number) {
  screen *c = &s->screens[number - 1];
  *c = (screen){.mesh = mesh_of(number), .positions = large(number) ? 9 : 5};
  c->rack = (number - 1) / 15;
  c->slot = (number - 1) % 15 + 1;
  c->retensionable = number * 7 % 10 < 3 || number == 7 || number == 85;
  c->gap_days = chance(s, 0.6) ? 50.0 : 100.0;
  c->mounting = c->press_until = c->due_day = c->printed_day = -1;
  for (size_t i = 0; i < sizeof stories / sizeof *stories; i++)
    if (stories[i].number == number)
      c->role = stories[i].role;
  if (number >= 100 && number <= 111) {
    c->role = ROLE_ORDER;
    c->retensionable = false;
  }
  for (size_t i = 0; i < sizeof sets / sizeof *sets; i++)
    if (number >= sets[i].first && number <= sets[i].last)
      c->set = sets[i].name;
}

void furnish(shop *s) {
  for (int number = 1; number <= SCREENS; number++)
    furnish_one(s, number);
}
