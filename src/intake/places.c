/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Word lists, and what the words mean. */
#include "places.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "values.h"

size_t tenter__fold(tenter_text text, char *folded, size_t size) {
  size_t length = 0;
  for (size_t i = 0; i < text.length && length + 1 < size; i++) {
    char byte = text.start[i];
    if (byte == ' ' || byte == '\t' || byte == '_' || byte == '-' || byte == '.')
      continue;
    folded[length++] = byte >= 'A' && byte <= 'Z' ? (char)(byte - 'A' + 'a') : byte;
  }
  folded[length] = '\0';
  return length;
}

/* ---- places --------------------------------------------------------------------------------- */

static tenter_position no_place(void) {
  return (tenter_position){
      .kind = TENTER_PLACE_UNKNOWN, .x = NAN, .y = NAN, .x_cm = NAN, .y_cm = NAN};
}

static tenter_position ninth(int x, int y) {
  tenter_position place = no_place();
  place.x = x;
  place.y = y;
  place.kind = x == 0 && y == 0   ? TENTER_PLACE_CENTRE
               : x != 0 && y != 0 ? TENTER_PLACE_CORNER
                                  : TENTER_PLACE_SIDE;
  return place;
}

typedef struct place_word {
  const char *word;
  int x, y;
} place_word;

/* Whole words, folded; "top left" and its kin are put together from the halves below. */
static const place_word whole_words[] = {
    {"c", 0, 0},     {"m", 0, 0},          {"n", 0, 1},      {"ne", 1, 1},
    {"e", 1, 0},     {"se", 1, -1},        {"s", 0, -1},     {"sw", -1, -1},
    {"w", -1, 0},    {"nw", -1, 1},        {"north", 0, 1},  {"northeast", 1, 1},
    {"east", 1, 0},  {"southeast", 1, -1}, {"south", 0, -1}, {"southwest", -1, -1},
    {"west", -1, 0}, {"northwest", -1, 1}, {"tl", -1, 1},    {"tr", 1, 1},
    {"bl", -1, -1},  {"br", 1, -1},        {"tc", 0, 1},     {"bc", 0, -1},
    {"ctr", 0, 0},   {"cl", -1, 0},        {"cr", 1, 0},
};

typedef struct half_word {
  const char *word;
  char axis; /* 'x', 'y', or 'm' for the middle, which says nothing of either */
  int at;
} half_word;

static const half_word half_words[] = {
    {"top", 'y', 1},    {"upper", 'y', 1}, {"bottom", 'y', -1}, {"lower", 'y', -1},
    {"left", 'x', -1},  {"right", 'x', 1}, {"centre", 'm', 0},  {"center", 'm', 0},
    {"middle", 'm', 0}, {"mid", 'm', 0},   {"corner", 'c', 0},  {"side", 'c', 0},
    {"edge", 'c', 0},
};

static const half_word *half_at(const char *text) {
  for (size_t i = 0; i < sizeof half_words / sizeof *half_words; i++)
    if (strncmp(text, half_words[i].word, strlen(half_words[i].word)) == 0)
      return &half_words[i];
  return NULL;
}

/* "topleft", "lowerrightcorner", "middleleft": each axis at most once. */
static bool read_halves(const char *folded, tenter_position *place) {
  int x = 0, y = 0, xs = 0, ys = 0, middles = 0;
  while (*folded) {
    const half_word *half = half_at(folded);
    if (!half)
      return false;
    folded += strlen(half->word);
    x = half->axis == 'x' ? half->at : x;
    y = half->axis == 'y' ? half->at : y;
    xs += half->axis == 'x';
    ys += half->axis == 'y';
    middles += half->axis == 'm';
  }
  if (xs > 1 || ys > 1 || xs + ys + middles == 0 || xs + ys + middles > 2)
    return false;
  *place = ninth(x, y);
  return true;
}

static bool read_word(const char *folded, tenter_position *place) {
  for (size_t i = 0; i < sizeof whole_words / sizeof *whole_words; i++)
    if (strcmp(folded, whole_words[i].word) == 0) {
      *place = ninth(whole_words[i].x, whole_words[i].y);
      return true;
    }
  return read_halves(folded, place);
}

/* r1c1 is the top left one of a grid of three by three. */
static bool read_grid(const char *folded, tenter_position *place) {
  if (strlen(folded) != 4 || folded[0] != 'r' || folded[2] != 'c' || folded[1] < '1' ||
      folded[1] > '3' || folded[3] < '1' || folded[3] > '3')
    return false;
  *place = ninth(folded[3] - '2', '2' - folded[1]);
  return true;
}

static bool read_numbered(const char *folded, const number_layout *layout, tenter_position *place) {
  size_t number = 0;
  if (!layout || !*folded || strlen(folded) > 2 || strspn(folded, "0123456789") != strlen(folded))
    return false;
  for (; *folded; folded++)
    number = number * 10 + (size_t)(*folded - '0');
  if (number < 1 || number > layout->count)
    return false;
  *place = layout->places[number - 1];
  return true;
}

/* Where x ends and y begins: the only ';', the only ',', or the second of three ','. */
static const char *pair_split(tenter_text text) {
  const char *commas[4] = {0}, *semicolon = NULL;
  size_t count = 0, semicolons = 0;
  for (const char *at = text.start; at < text.start + text.length; at++) {
    if (*at == ',' && count < 4)
      commas[count++] = at;
    if (*at == ';' && semicolons++ == 0)
      semicolon = at;
  }
  if (semicolons > 0)
    return semicolons == 1 && count <= 2 ? semicolon : NULL;
  return count == 1 ? commas[0] : count == 3 ? commas[1] : NULL;
}

static bool read_coordinate(const char *from, const char *to, double *value) {
  bool marked;
  tenter_text text = tenter_text_trim((tenter_text){from, (size_t)(to - from)});
  return tenter__number_read(text, '.', value, &marked) != NUMBER_NONE && fabs(*value) <= 1000;
}

static bool read_pair(tenter_text text, tenter_position *place) {
  if (text.length >= 2 && *text.start == '(' && text.start[text.length - 1] == ')')
    text = (tenter_text){text.start + 1, text.length - 2};
  const char *split = pair_split(text);
  double x, y;
  if (!split || !read_coordinate(text.start, split, &x) ||
      !read_coordinate(split + 1, text.start + text.length, &y))
    return false;
  *place = tenter__place_at(x, y);
  return true;
}

tenter_position tenter__place_at(double x_cm, double y_cm) {
  tenter_position place = no_place();
  if (x_cm == 0 && y_cm == 0)
    place = ninth(0, 0);
  place.x_cm = x_cm + 0.0; /* no -0 */
  place.y_cm = y_cm + 0.0;
  return place;
}

bool tenter__place_read(tenter_text text, const number_layout *layout, tenter_position *place) {
  char folded[64];
  size_t length = tenter__fold(text, folded, sizeof folded);
  if (length + 1 < sizeof folded && (read_word(folded, place) || read_grid(folded, place) ||
                                     read_numbered(folded, layout, place)))
    return true;
  if (read_pair(text, place))
    return true;
  *place = no_place();
  return false;
}

void tenter__place_key(const tenter_position *place, char key[PLACE_KEY_SIZE]) {
  key[0] = '\0';
  if (place->kind != TENTER_PLACE_UNKNOWN)
    snprintf(key, PLACE_KEY_SIZE, "at %g %g", place->x, place->y);
  else if (!isnan(place->x_cm))
    snprintf(key, PLACE_KEY_SIZE, "cm %.9g %.9g", place->x_cm, place->y_cm);
}

const char *tenter__place_word(const tenter_position *place) {
  static const char *const words[3][3] = {{"bottom left", "left", "top left"},
                                          {"bottom", "centre", "top"},
                                          {"bottom right", "right", "top right"}};
  if (place->kind == TENTER_PLACE_UNKNOWN || isnan(place->x))
    return "";
  return words[(int)place->x + 1][(int)place->y + 1];
}

/* The next word of the list and what is left. */
static tenter_text next_word(const char **words, const char *separators) {
  const char *start = *words + strspn(*words, " ");
  size_t length = strcspn(start, separators);
  *words = start + length + (start[length] != '\0');
  return tenter_text_trim((tenter_text){start, length});
}

const char *tenter__layout_read(const char *words, tenter_arena *arena, number_layout *layout) {
  const char *separators = strpbrk(words, ",;") ? ",;" : " ";
  layout->count = 0;
  while (*words) {
    tenter_text word = next_word(&words, separators);
    if (word.length == 0)
      continue;
    if (layout->count == MOST_LAYOUT ||
        !tenter__place_read(word, NULL, &layout->places[layout->count++])) {
      const char *bad = tenter_arena_copy(arena, word);
      return bad ? bad : "";
    }
  }
  return NULL;
}

/* ---- directions, events, frames ------------------------------------------------------------- */

typedef struct meaning {
  const char *word; /* folded */
  int means;
} meaning;

static int find_meaning(tenter_text text, const meaning *list, size_t count, int otherwise) {
  char folded[64];
  if (tenter__fold(text, folded, sizeof folded) + 1 == sizeof folded)
    return otherwise;
  for (size_t i = 0; i < count; i++)
    if (strcmp(folded, list[i].word) == 0)
      return list[i].means;
  return otherwise;
}

#define FIND(text, list, otherwise)                                                                \
  find_meaning(text, list, sizeof(list) / sizeof *(list), (int)(otherwise))

tenter_direction tenter__direction_read(tenter_text text) {
  static const meaning words[] = {
      {"warp", TENTER_WARP},    {"wa", TENTER_WARP},   {"wp", TENTER_WARP},
      {"wrp", TENTER_WARP},     {"weft", TENTER_WEFT}, {"we", TENTER_WEFT},
      {"wf", TENTER_WEFT},      {"wft", TENTER_WEFT},  {"fill", TENTER_WEFT},
      {"filling", TENTER_WEFT}, {"woof", TENTER_WEFT}, {"warpwise", TENTER_WARP},
      {"weftwise", TENTER_WEFT}};
  return (tenter_direction)FIND(text, words, TENTER_DIRECTIONS);
}

tenter_event_kind tenter__event_read(tenter_text text) {
  static const meaning words[] = {
      {"stretched", TENTER_EVENT_STRETCHED},
      {"stretch", TENTER_EVENT_STRETCHED},
      {"stretching", TENTER_EVENT_STRETCHED},
      {"restretched", TENTER_EVENT_STRETCHED},
      {"restretch", TENTER_EVENT_STRETCHED},
      {"retensioned", TENTER_EVENT_RETENSIONED},
      {"retension", TENTER_EVENT_RETENSIONED},
      {"retensioning", TENTER_EVENT_RETENSIONED},
      {"remeshed", TENTER_EVENT_REMESHED},
      {"remesh", TENTER_EVENT_REMESHED},
      {"remeshing", TENTER_EVENT_REMESHED},
      {"newmesh", TENTER_EVENT_REMESHED},
      {"glued", TENTER_EVENT_GLUED},
      {"glue", TENTER_EVENT_GLUED},
      {"gluing", TENTER_EVENT_GLUED},
      {"coated", TENTER_EVENT_COATED},
      {"coat", TENTER_EVENT_COATED},
      {"coating", TENTER_EVENT_COATED},
      {"printed", TENTER_EVENT_PRINTED},
      {"print", TENTER_EVENT_PRINTED},
      {"printing", TENTER_EVENT_PRINTED},
      {"impressions", TENTER_EVENT_PRINTED},
      {"reclaimed", TENTER_EVENT_RECLAIMED},
      {"reclaim", TENTER_EVENT_RECLAIMED},
      {"reclaiming", TENTER_EVENT_RECLAIMED},
      {"stripped", TENTER_EVENT_RECLAIMED},
      {"hazeremoved", TENTER_EVENT_HAZE_REMOVED},
      {"hazeremoval", TENTER_EVENT_HAZE_REMOVED},
      {"dehazed", TENTER_EVENT_HAZE_REMOVED},
      {"dehaze", TENTER_EVENT_HAZE_REMOVED},
      {"burst", TENTER_EVENT_BURST},
      {"torn", TENTER_EVENT_BURST},
      {"ripped", TENTER_EVENT_BURST},
      {"split", TENTER_EVENT_BURST},
      {"retired", TENTER_EVENT_RETIRED},
      {"retire", TENTER_EVENT_RETIRED},
      {"scrapped", TENTER_EVENT_RETIRED},
      {"discarded", TENTER_EVENT_RETIRED},
  };
  return (tenter_event_kind)FIND(text, words, TENTER_EVENT_NOTE);
}

tenter_frame tenter__frame_read(tenter_text text) {
  static const meaning words[] = {
      {"glued", TENTER_FRAME_GLUED},
      {"glue", TENTER_FRAME_GLUED},
      {"fixed", TENTER_FRAME_GLUED},
      {"rigid", TENTER_FRAME_GLUED},
      {"retensionable", TENTER_FRAME_RETENSIONABLE},
      {"retension", TENTER_FRAME_RETENSIONABLE},
      {"selftensioning", TENTER_FRAME_RETENSIONABLE},
      {"roller", TENTER_FRAME_RETENSIONABLE},
  };
  return (tenter_frame)FIND(text, words, TENTER_FRAME_UNKNOWN);
}

/* ---- meshes ---------------------------------------------------------------------------------- */

tenter_text tenter__mesh_text(tenter_text text, int count_unit, char *full, size_t size) {
  if (count_unit == TENTER_COUNT_NONE || text.length == 0 || text.length > 4)
    return text;
  for (size_t i = 0; i < text.length; i++)
    if (text.start[i] < '0' || text.start[i] > '9')
      return text;
  snprintf(full, size, "%.*s/%s", (int)text.length, text.start,
           count_unit == TENTER_COUNT_CM ? "cm" : "in");
  return tenter_text_of(full);
}
