/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What may be asked of an invented shop (invent.h): rows that options, help and defaults read. */
#ifndef TENTER_COMMAND_INVENTION_H
#define TENTER_COMMAND_INVENTION_H

/* What may be asked for. X(field, option, least, most, default, help); all are numbers. */
#define INVENT_NUMBERS(X)                                                                          \
  X(seed, "seed", 0, 4294967295., 1, "another number, another shop (default 1)")                   \
  X(screens, "screens", 1, 100000, 60, "screens in use (default 60)")                              \
  X(weeks, "weeks", 2, 520, 26, "weeks of readings (default 26)")                                  \
  X(meshes, "meshes", 1, 4, 2, "kinds of mesh (default 2)")                                        \
  X(lots, "lots", 1, 1000, 8, "lots of mesh, all kinds together (default 8)")                      \
  X(fast, "fast-lots", 0, 1000, 1, "of these, how many relax fast (default 1)")                    \
  X(meters, "meters", 1, 20, 2, "tension meters (default 2)")                                      \
  X(operators, "operators", 1, 20, 3, "people who read (default 3)")                               \
  X(stations, "stations", 1, 20, 2, "stretching stations (default 2)")                             \
  X(shift, "meter-shift", -5, 5, 0, "N/cm by which the last meter moves (default 0)")              \
  X(shift_weeks, "shift-weeks", 1, 520, 2, "weeks before the end when it does (default 2)")        \
  X(tilt, "tilt", -5, 5, 0, "N/cm by which the last station tilts (default 0)")                    \
  X(levels_off, "levels-off", 0, 10000, 0, "days after which mesh levels off (default never)")

typedef struct invention {
#define INVENT_FIELD(field, ...) double field;
  INVENT_NUMBERS(INVENT_FIELD)
#undef INVENT_FIELD
} invention;

#define INVENT_DEFAULT(field, option, least, most, value, help) .field = (value),
#define INVENTION_DEFAULTS                                                                         \
  { INVENT_NUMBERS(INVENT_DEFAULT) }

#endif
