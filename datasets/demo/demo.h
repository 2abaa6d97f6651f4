/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The invented shop behind datasets/demo: what it owns, what is true in it,
 * and what it wrote down. A stand-alone program; nothing of libtenter is used,
 * so that the data owe nothing to the models they are meant to try.
 *
 * Time is in whole minutes since 2026-01-01 00:00, local, no clock changes.
 * Tension is in N/cm. */
#ifndef DEMO_H
#define DEMO_H

#include <gsl/gsl_rng.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

enum {
  SCREENS = 120,
  MESHES = 4,
  LOTS = 9,
  METERS = 3,
  STATIONS = 3,
  OPERATORS = 4,
  POSITIONS = 9,
  DAY = 1440,      /* minutes */
  LOG_DAY = 59,    /* 1 March: the event log begins */
  FIRST_DAY = 137, /* Monday 18 May: the first reading */
  LAST_DAY = 318,  /* Sunday 15 November: the last */
  SLIP_DAY = 292,  /* Tuesday 20 October: the bond of one screen slips */
  DRIFT_DAY = 277  /* Monday 5 October: meter M2 begins to drift */
};

typedef enum {
  ROLE_NONE,
  ROLE_SLIP,
  ROLE_TWO_LOTS,
  ROLE_SWAPPED,
  ROLE_OVER_MAXIMUM,
  ROLE_BURST,
  ROLE_REMESHED,
  ROLE_RETIRED,
  ROLE_NEVER_READ,
  ROLE_SETTLING,
  ROLE_STALE,
  ROLE_UNKNOWN_STRETCH,
  ROLE_UNLOGGED,
  ROLE_TYPED_EARLY,
  ROLE_ODD_IN_SET,
  ROLE_IN_ODD_SET,
  ROLE_ORDER
} role;

typedef struct {
  const char *name;
  double target, floor, coarse_floor, maximum; /* coarse_floor 0: none */
  double loss; /* share of the one-minute tension lost per decade of time */
} mesh;

typedef struct {
  const char *name;
  int mesh;
  double factor; /* its loss as a multiple of the mesh's */
  bool fast;
  int first_day, last_day; /* when it is cut from */
} lot;

typedef struct {
  const char *name;
  double bias, drift, resolution; /* drift: bias added by the last day */
} meter;

typedef struct {
  const char *name, *set, *customer, *order, *needed_on;
} job_of; /* customer is in Windows-1252 */

typedef struct {
  int screen, lot, station, who;
  int number;                      /* 1 for the first tension on this piece of mesh */
  long stretched, zero, ended;     /* ended -1: in use */
  bool logged;                     /* its start stands in events.csv */
  double at_24h, one_minute, loss; /* loss: N/cm per decade */
  double dropped;                  /* lost to first print, reclaims, slip */
  bool printed;
  double warp_minus_weft;
  double pattern[POSITIONS]; /* mean zero over the screen's layout */
} mounting;

typedef struct {
  int mesh, positions, rack, slot;
  bool retensionable;
  const char *set;
  role role;
  bool told;       /* its once-only session has been read */
  double gap_days; /* mean days between jobs */
  int mounting;    /* index, -1 before the first stretch or after the end */
  int due_day;     /* to be stretched from then on; -1 not due */
  int press_until; /* in work until that day; -1 on the rack */
  int printed_day;
  long planned[3]; /* sessions to come besides the weekly round; 0 none */
} screen;

typedef enum { FILE_RACK, FILE_PRESS, FILE_GAUGE } place_read;

typedef struct {
  int screen, mounting, meter, who, n, trial;
  place_read where;
  long at, typed; /* typed: the time as written down */
  bool swapped;
  const char *note;
  int position[2 * POSITIONS], direction[2 * POSITIONS]; /* 0 warp, 1 weft */
  int shown[2 * POSITIONS], meant[2 * POSITIONS];        /* 1/100 N/cm */
} session;

typedef struct {
  int screen, count, lot, mesh, station, who, order; /* -1: left blank */
  long at;
  bool date_only;
  const char *what;
} event;

typedef struct {
  int meter, who, nominal, indicated; /* 1/100 N/cm */
  int day;
} plate_check;

typedef struct {
  const char *file, *kind;
  long line;
  int screen;       /* -1: none */
  int shown, meant; /* 1/100 N/cm; -1: not a value */
} wrong_row;

typedef struct {
  gsl_rng *rng;
  screen screens[SCREENS];
  mounting *mountings;
  session *sessions;
  event *events;
  plate_check *checks;
  wrong_row *wrong;
  size_t n_mountings, n_sessions, n_events, n_checks, n_wrong;
} shop;

/* tables.c: what the shop owns and what is true of it */
extern const mesh meshes[MESHES];
extern const lot lots[LOTS];
extern const meter meters[METERS];
extern const char *const stations[STATIONS];
extern const double station_east_minus_west[STATIONS];
extern const char *const operators[OPERATORS];
extern const double operator_bias[OPERATORS];
extern const char *const position_names[POSITIONS];
extern const int position_x[POSITIONS];
extern const double corner_minus_centre;
extern const double noise_at_20; /* grows with the square of the tension */
const char *role_name(role which);
/* Which customer's order the screen belongs to; NULL: none. */
const job_of *job_of_screen(const shop *s, int which);
void furnish(shop *s);

/* tension.c: what the mesh does and what the meter shows of it */
double draw_normal(shop *s, double sd);
double draw_uniform(shop *s, double low, double high);
int draw_int(shop *s, int below);
bool chance(shop *s, double probability);
double true_mean(const mounting *m, long at);
double meter_bias(int which, long at);
int start_mounting(shop *s, int which, long stretched, long zero, bool new_mesh);
void slip(mounting *m);
session *measure(shop *s, int which, long at, int meter_used, int who, place_read where);
double shown_mean(const session *t);
int shown_least(const session *t);

/* weeks.c: half a year of work, day by day */
void run_weeks(shop *s);
void log_event(shop *s, event e);

/* write.c, truth.c: the files; false when one can't be written */
bool write_demo(shop *s, const char *folder);
bool write_truth(const shop *s, const char *folder);
FILE *open_in(const char *folder, const char *name);
void format_time(long at, char text[20], const char *style);

/* Room for one more at the end of a list whose length is n; stops the program
 * when memory runs out. */
void *grow(void *list, size_t n, size_t size);

#endif
