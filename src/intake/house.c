/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Logo and colour of a shop. An SVG is looked through tag by tag; what could act or load is refused
 * by name and not repaired: a shop sees what its logo is, and nothing is let through by a repair
 * that was too clever. (Pages show it as an image, in which nothing runs or loads either.) */
#include "tenter/intake/house.h"

#include <ctype.h>
#include <math.h>
#include <string.h>
#include <strings.h>

#include "tenter/base/file.h"

/* ---- PNG ------------------------------------------------------------------------------------ */

static const unsigned char png_magic[8] = {0x89, 'P', 'N', 'G', '\r', '\n', 0x1A, '\n'};

static unsigned long big_endian(const char *at) {
  unsigned long value = 0;
  for (int i = 0; i < 4; i++)
    value = value << 8 | (unsigned char)at[i];
  return value;
}

/* Magic, then the header chunk: length 13, "IHDR", width, height (PNG, ISO/IEC 15948, 11.2.2). */
static tenter_status check_png(tenter_text png, tenter_error *error) {
  if (png.length < 33 || big_endian(png.start + 8) != 13 || memcmp(png.start + 12, "IHDR", 4) != 0)
    return tenter_fail(error, TENTER_USAGE, "the PNG has no header; save it again");
  unsigned long width = big_endian(png.start + 16), height = big_endian(png.start + 20);
  if (width < 1 || height < 1 || width > TENTER_LOGO_SIDE || height > TENTER_LOGO_SIDE)
    return tenter_fail(error, TENTER_USAGE,
                       "the picture has %lu by %lu pixels; at most %d by %d can be used", width,
                       height, TENTER_LOGO_SIDE, TENTER_LOGO_SIDE);
  return TENTER_OK;
}

/* ---- SVG ------------------------------------------------------------------------------------ */

typedef struct scan {
  const char *at, *end;
  tenter_error *error;
} scan;

static bool starts(const char *at, const char *end, const char *what) {
  size_t length = strlen(what);
  return (size_t)(end - at) >= length && strncasecmp(at, what, length) == 0;
}

static const char *find(const char *at, const char *end, const char *what) {
  for (; at < end; at++)
    if (starts(at, end, what))
      return at;
  return NULL;
}

static tenter_status refuse(const scan *s, const char *what) {
  return tenter_fail(s->error, TENTER_USAGE,
                     "the SVG has %s, which a logo can't have; save it as plain SVG, or as PNG",
                     what);
}

/* Name without its prefix: what follows the colon, if there is one. */
static tenter_text local_name(tenter_text name) {
  const char *colon = memchr(name.start, ':', name.length);
  if (colon == NULL)
    return name;
  return (tenter_text){colon + 1, name.length - (size_t)(colon + 1 - name.start)};
}

static bool is_name(tenter_text name, const char *what) {
  return name.length == strlen(what) && strncasecmp(name.start, what, name.length) == 0;
}

static bool is_name_byte(char c) {
  return c != '\0' && strchr(" \t\r\n/>=\"'<", c) == NULL;
}

static tenter_text next_name(scan *s) {
  const char *start = s->at;
  while (s->at < s->end && is_name_byte(*s->at))
    s->at++;
  return (tenter_text){start, (size_t)(s->at - start)};
}

static void skip_blanks(scan *s) {
  while (s->at < s->end && isspace((unsigned char)*s->at))
    s->at++;
}

/* Only #id within url( ... ); nothing that imports. */
static bool loads(tenter_text style) {
  const char *end = style.start + style.length;
  if (find(style.start, end, "@import") || find(style.start, end, "expression(") ||
      memchr(style.start, '\\', style.length))
    return true;
  for (const char *at = style.start; (at = find(at, end, "url(")) != NULL; at++) {
    const char *inside = at + 4;
    while (inside < end && (isspace((unsigned char)*inside) || *inside == '"' || *inside == '\''))
      inside++;
    if (inside == end || *inside != '#')
      return true;
  }
  return false;
}

/* References only to itself, or to a picture of dots that it holds. */
static bool leads_out(tenter_text value) {
  const char *end = value.start + value.length;
  return value.length > 0 && value.start[0] != '#' &&
         !starts(value.start, end, "data:image/png;base64,") &&
         !starts(value.start, end, "data:image/jpeg;base64,");
}

static tenter_status check_attribute(const scan *s, tenter_text name, tenter_text value) {
  tenter_text local = local_name(name);
  if (find(value.start, value.start + value.length, "&#")) /* could spell what is looked for here */
    return refuse(s, "letters written as numbers");
  if (local.length > 2 && strncasecmp(local.start, "on", 2) == 0)
    return refuse(s, "an event handler");
  if ((is_name(local, "href") || is_name(local, "src")) && leads_out(value))
    return refuse(s, "a reference that leads out of it");
  if (is_name(local, "base") || loads(value))
    return refuse(s, "something that it loads");
  return TENTER_OK;
}

/* name = "value", again and again, up to the end of the tag. */
static tenter_status check_attributes(scan *s) {
  for (;;) {
    skip_blanks(s);
    if (s->at < s->end && *s->at == '/')
      s->at++;
    if (s->at < s->end && *s->at == '>') {
      s->at++;
      return TENTER_OK;
    }
    tenter_text name = next_name(s);
    skip_blanks(s);
    if (name.length == 0 || s->at >= s->end || *s->at != '=')
      return refuse(s, "a broken tag");
    s->at++;
    skip_blanks(s);
    const char *close = s->at < s->end && (*s->at == '"' || *s->at == '\'')
                            ? memchr(s->at + 1, *s->at, (size_t)(s->end - s->at - 1))
                            : NULL;
    if (close == NULL)
      return refuse(s, "a broken tag");
    tenter_text value = {s->at + 1, (size_t)(close - s->at - 1)};
    s->at = close + 1;
    tenter_status status = check_attribute(s, name, value);
    if (status != TENTER_OK)
      return status;
  }
}

/* The style sheet between <style> and </style>. */
static tenter_status check_style(scan *s) {
  const char *close = find(s->at, s->end, "</");
  if (close == NULL)
    return refuse(s, "a style that does not end");
  tenter_text style = {s->at, (size_t)(close - s->at)};
  if (memchr(style.start, '<', style.length) || memchr(style.start, '&', style.length))
    return refuse(s, "markup in its style");
  return loads(style) ? refuse(s, "something that it loads") : TENTER_OK;
}

typedef enum tag { TAG_NONE, TAG_SVG, TAG_OTHER } tag; /* none: no beginning of an element */

static tenter_status check_element(scan *s, tag *kind) {
  static const char *const refused[] = {
      "script",  "foreignobject",    "iframe",        "embed", "object",
      "handler", "animate",          "animatemotion", "set",   "animatecolor",
      "audio",   "animatetransform", "video",         "a",     "link",
      "discard"};
  tenter_text whole = next_name(s), name = local_name(whole);
  *kind = is_name(name, "svg") ? TAG_SVG : TAG_OTHER;
  for (size_t i = 0; i < sizeof refused / sizeof *refused; i++)
    if (is_name(name, refused[i]))
      return tenter_fail(s->error, TENTER_USAGE,
                         "the SVG has an element %s, which a logo can't have; save it as plain "
                         "SVG, or as PNG",
                         refused[i]);
  tenter_status status = whole.length > 0 ? check_attributes(s) : refuse(s, "a broken tag");
  if (status == TENTER_OK && is_name(name, "style") && s->at[-2] != '/')
    status = check_style(s);
  return status;
}

/* Behind what, or a refusal. */
static tenter_status skip_past(scan *s, const char *what) {
  const char *found = find(s->at, s->end, what);
  if (found == NULL)
    return refuse(s, "an end missing");
  s->at = found + strlen(what);
  return TENTER_OK;
}

/* From a '<' on. */
static tenter_status check_tag(scan *s, tag *kind) {
  *kind = TAG_NONE;
  if (starts(s->at, s->end, "<!--"))
    return skip_past(s, "-->");
  if (starts(s->at, s->end, "<?xml ") || starts(s->at, s->end, "<?xml\t"))
    return skip_past(s, "?>");
  if (starts(s->at, s->end, "<?"))
    return refuse(s, "a processing instruction");
  if (starts(s->at, s->end, "<!"))
    return refuse(s, "a document type or a CDATA section");
  if (starts(s->at, s->end, "</"))
    return skip_past(s, ">");
  s->at++;
  return check_element(s, kind);
}

static tenter_status check_svg(tenter_text svg, tenter_error *error) {
  scan s = {svg.start, svg.start + svg.length, error};
  tag first = TAG_NONE, kind;
  if (!tenter_text_is_utf8(svg) || memchr(svg.start, '\0', svg.length))
    return refuse(&s, "text that is not UTF-8");
  if (starts(s.at, s.end, "\xEF\xBB\xBF"))
    s.at += 3;
  while ((s.at = memchr(s.at, '<', (size_t)(s.end - s.at))) != NULL) {
    tenter_status status = check_tag(&s, &kind);
    if (status != TENTER_OK)
      return status;
    first = first == TAG_NONE ? kind : first;
  }
  return first == TAG_SVG ? TENTER_OK
                          : tenter_fail(error, TENTER_USAGE,
                                        "neither a PNG nor an SVG; save the logo as one of them");
}

tenter_status tenter_logo_check(tenter_text bytes, tenter_error *error) {
  if (bytes.length > TENTER_LOGO_MOST)
    return tenter_fail(error, TENTER_USAGE,
                       "it has %zu bytes; at most %d can be used in every report", bytes.length,
                       TENTER_LOGO_MOST);
  if (bytes.length >= 8 && memcmp(bytes.start, png_magic, 8) == 0)
    return check_png(bytes, error);
  return check_svg(bytes, error);
}

/* ---- colour --------------------------------------------------------------------------------- */

/* sRGB to linear light. */
static double linear(unsigned part) {
  double c = part / 255.0;
  return c <= 0.04045 ? c / 12.92 : pow((c + 0.055) / 1.055, 2.4);
}

double tenter_contrast_on_white(unsigned colour) {
  double luminance = 0.2126 * linear(colour >> 16 & 0xFF) + 0.7152 * linear(colour >> 8 & 0xFF) +
                     0.0722 * linear(colour & 0xFF);
  return 1.05 / (luminance + 0.05);
}

tenter_status tenter_accent_read(const char *text, unsigned *accent, tenter_error *error) {
  const double least = 4.5;
  unsigned colour = 0;
  *accent = 0;
  if (text[0] == '\0')
    return TENTER_OK;
  bool good = text[0] == '#' && strlen(text) == 7;
  for (int i = 1; good && i < 7; i++) {
    static const char digits[] = "0123456789abcdef";
    const char *digit = strchr(digits, tolower((unsigned char)text[i]));
    good = digit != NULL;
    colour = good ? colour << 4 | (unsigned)(digit - digits) : 0;
  }
  if (!good)
    return tenter_fail(error, TENTER_USAGE,
                       "'%s' is no colour; write it as #rrggbb, for example #1d5791", text);
  double contrast = tenter_contrast_on_white(colour);
  if (contrast < least)
    return tenter_fail(error, TENTER_USAGE,
                       "%s is too pale to be read on paper: its contrast with white is %.1f to 1, "
                       "and %.1f is the least; take a darker one",
                       text, contrast, least);
  *accent = colour > 0 ? colour : 1;
  return TENTER_OK;
}

/* ---- from the config ------------------------------------------------------------------------ */

static tenter_status refuse_setting(const tenter_config *config, const char *key,
                                    const tenter_error *why, tenter_error *error) {
  return tenter_fail(error, why->status == TENTER_FAILED ? TENTER_FAILED : TENTER_USAGE,
                     "%s: [report] %s: %s", config->file, key, why->message);
}

static tenter_status read_logo(tenter_config *config, tenter_arena *arena, tenter_error *error) {
  const char *logo = config->settings.logo, *slash = strrchr(config->file, '/');
  int folder = slash != NULL && logo[0] != '/' ? (int)(slash - config->file) + 1 : 0;
  const char *path = tenter_arena_print(arena, "%.*s%s", folder, config->file, logo);
  if (path == NULL)
    return tenter_fail_memory(error);
  tenter_buffer bytes = {0};
  tenter_error why = {TENTER_OK, ""};
  tenter_status status = tenter_file_slurp(path, TENTER_LOGO_MOST + 1, &bytes, &why);
  tenter_text text = {bytes.bytes != NULL ? bytes.bytes : "", bytes.length};
  if (status == TENTER_OK)
    status = tenter_logo_check(text, &why);
  if (status == TENTER_OK) {
    char *copy = tenter_arena_copy(arena, text);
    config->logo = (tenter_text){copy, text.length};
    status = copy != NULL ? TENTER_OK : tenter_fail_memory(&why);
  }
  tenter_buffer_release(&bytes);
  return status == TENTER_OK ? TENTER_OK : refuse_setting(config, "logo", &why, error);
}

tenter_status tenter_house_read(tenter_config *config, tenter_arena *arena, tenter_error *error) {
  tenter_error why = {TENTER_OK, ""};
  if (tenter_accent_read(config->settings.accent, &config->accent, &why) != TENTER_OK)
    return refuse_setting(config, "accent", &why, error);
  return config->settings.logo[0] != '\0' ? read_logo(config, arena, error) : TENTER_OK;
}
