/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From the words of a command line to the model of the shop. */
#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "command.h"
#include "tenter/base/file.h"
#include "tenter/intake/config.h"
#include "tenter/intake/load.h"

/* Why there is no day to judge at: files without dates, or none of their rows can be used. */
static tenter_status refuse_undated(const tenter_tables *tables, tenter_error *error) {
  for (size_t i = 0; i < tables->problem_count; i++) {
    const tenter_problem *problem = &tables->problems[i];
    if (problem->rejected)
      return tenter_fail(error, TENTER_INPUT,
                         "no row with a date can be used. The first that was rejected is %s:%u: "
                         "%s. To list them all: tenter check --as-of 2026-11-15, and the files",
                         tables->sources[problem->row.file].file, (unsigned)problem->row.line,
                         problem->reason);
  }
  return tenter_fail(error, TENTER_INPUT,
                     "nothing in these files has a date, so there is no day to judge at: add the "
                     "readings, or give the day with --as-of 2026-11-15");
}

/* The moment to judge at: a date alone means the end of that day. */
static tenter_status find_as_of(const command_call *call, const tenter_tables *tables,
                                tenter_time *as_of, tenter_error *error) {
  if (call->as_of) {
    tenter_when when = {.at = TENTER_NO_TIME};
    if (!tenter_when_parse_iso(tenter_text_of(call->as_of), &when)) /* checked when it was taken */
      return tenter_fail(error, TENTER_USAGE, "--as-of %s: not a time", call->as_of);
    *as_of = when.date_only ? tenter_day_start(when.at) + TENTER_DAY - 1 : when.at;
    return TENTER_OK;
  }
  *as_of = tenter_tables_last_day_end(tables);
  return *as_of != TENTER_NO_TIME ? TENTER_OK : refuse_undated(tables, error);
}

static tenter_status open_shop(const command_call *call, command_shop *s, tenter_error *error) {
  tenter_status status =
      tenter_config_read(call->config, call->words, call->word_count, s->arena, &s->config, error);
  if (status == TENTER_OK)
    status =
        tenter_intake_load(call->words, call->word_count, &s->config, s->tables, s->pool, error);
  if (status == TENTER_OK)
    status = tenter_tables_settle(s->tables, &s->config.settings, s->pool, error);
  tenter_time as_of = TENTER_NO_TIME;
  if (status == TENTER_OK)
    status = tenter_intake_notes(s->tables, error);
  if (status == TENTER_OK)
    status = find_as_of(call, s->tables, &as_of, error);
  if (status == TENTER_OK)
    status = tenter_shop_new(s->tables, &s->config, as_of, s->pool, &s->shop, error);
  return status;
}

/* A report among the data would be read as data by the next run: screens.csv is a register. */
static tenter_status check_words(const command_call *call, tenter_error *error) {
  if (call->word_count == 0)
    return tenter_fail(error, TENTER_USAGE,
                       "name the files to read, or the folder they are in ('-' is standard input)");
  for (size_t i = 0; call->out && i < call->word_count; i++)
    if (tenter_path_same(call->words[i], call->out))
      return tenter_fail(error, TENTER_USAGE,
                         "--out %s: that is the folder of the data, and the next run would read "
                         "the report as data; name another, such as one inside it",
                         call->out);
  return TENTER_OK;
}

tenter_status command_shop_open(const command_call *call, command_shop *shop, tenter_error *error) {
  *shop = (command_shop){0};
  tenter_status status = check_words(call, error);
  if (status != TENTER_OK)
    return status;
  shop->pool = tenter_pool_new(call->threads);
  shop->arena = tenter_arena_new();
  shop->tables = tenter_tables_new();
  status = shop->pool && shop->arena && shop->tables ? open_shop(call, shop, error)
                                                     : tenter_fail_memory(error);
  if (status != TENTER_OK)
    command_shop_release(shop);
  return status;
}

void command_shop_release(command_shop *shop) {
  tenter_shop_free(shop->shop);
  tenter_tables_free(shop->tables);
  tenter_arena_free(shop->arena);
  tenter_pool_free(shop->pool);
  *shop = (command_shop){0};
}

tenter_report_options command_report_options(const command_call *call, const command_shop *shop) {
  int paper = call->paper >= 0 ? call->paper : shop->config.settings.paper;
  return (tenter_report_options){.version = TENTER_VERSION,
                                 .pool = shop->pool,
                                 .pdf = call->pdf,
                                 .paper = (tenter_paper)paper};
}

static tenter_status write_stdout(void *context, const void *bytes, size_t length,
                                  tenter_error *error) {
  (void)context;
  if (fwrite(bytes, 1, length, stdout) == length)
    return TENTER_OK;
  return tenter_fail(error, TENTER_FAILED, "standard output: %s", strerror(errno));
}

tenter_sink command_stdout(void) {
  return (tenter_sink){.write = write_stdout};
}

void command_remark(const command_call *call, const char *format, ...) {
  if (call->quiet)
    return;
  tenter_error cleaned; /* its door makes control characters harmless */
  char text[TENTER_MESSAGE_SIZE];
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(text, sizeof text, format, arguments);
  va_end(arguments);
  tenter_fail(&cleaned, TENTER_OK, "%s", text);
  fprintf(stderr, "tenter: %s\n", cleaned.message);
}
