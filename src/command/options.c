/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The options every command takes, reading a command line by the options' rows, and the help made
 * of them. */
#include <errno.h>
#include <getopt.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command.h"

static tenter_status take_help(command_call *call, const char *argument, tenter_error *error) {
  (void)argument;
  (void)error;
  call->help = true;
  return TENTER_OK;
}

static tenter_status take_config(command_call *call, const char *argument, tenter_error *error) {
  (void)error;
  call->config = argument;
  return TENTER_OK;
}

static tenter_status take_as_of(command_call *call, const char *argument, tenter_error *error) {
  tenter_when when;
  call->as_of = argument;
  if (tenter_when_parse_iso(tenter_text_of(argument), &when))
    return TENTER_OK;
  return tenter_fail(error, TENTER_USAGE,
                     "--as-of %s: expected a date or a date and time, such as 2026-11-15 or "
                     "2026-11-15T18:00",
                     argument);
}

static tenter_status take_out(command_call *call, const char *argument, tenter_error *error) {
  call->out = argument;
  if (*argument)
    return TENTER_OK;
  return tenter_fail(error, TENTER_USAGE, "--out: expected the name of a folder");
}

static tenter_status take_pdf(command_call *call, const char *argument, tenter_error *error) {
  (void)argument;
  (void)error;
  call->pdf = true;
  return TENTER_OK;
}

static tenter_status take_paper(command_call *call, const char *argument, tenter_error *error) {
  if (strcmp(argument, "a4") == 0)
    call->paper = TENTER_PAPER_A4;
  else if (strcmp(argument, "letter") == 0)
    call->paper = TENTER_PAPER_LETTER;
  else
    return tenter_fail(error, TENTER_USAGE, "--paper %s: expected a4 or letter", argument);
  return TENTER_OK;
}

static tenter_status take_format(command_call *call, const char *argument, tenter_error *error) {
  if (strcmp(argument, "text") == 0)
    call->format = FORMAT_TEXT;
  else if (strcmp(argument, "json") == 0)
    call->format = FORMAT_JSON;
  else
    return tenter_fail(error, TENTER_USAGE, "--format %s: expected text or json", argument);
  return TENTER_OK;
}

static tenter_status take_threads(command_call *call, const char *argument, tenter_error *error) {
  char *end;
  errno = 0;
  long threads = strtol(argument, &end, 10);
  if (errno || *end || end == argument || threads < 1 || threads > 1024)
    return tenter_fail(error, TENTER_USAGE, "--threads %s: expected a number from 1 to 1024",
                       argument);
  call->threads = (size_t)threads;
  return TENTER_OK;
}

static tenter_status take_quiet(command_call *call, const char *argument, tenter_error *error) {
  (void)argument;
  (void)error;
  call->quiet = true;
  return TENTER_OK;
}

const command_option command_common_options[] = {
    {"config", "FILE", "the settings (default: tenter.ini beside the data)", take_config},
    {"as-of", "TIME", "judge as of TIME (default: end of the last day read)", take_as_of},
    {"out", "DIR", "also write the report's files into DIR", take_out},
    {"pdf", NULL, "with --out: also as a PDF", take_pdf},
    {"paper", "a4|letter", "the paper of the PDF (default: as the config says; a4)", take_paper},
    {"format", "text|json", "what standard output gets (default: text)", take_format},
    {"threads", "N", "threads to use (default: all processors)", take_threads},
    {"quiet", NULL, "no progress and no remarks on standard error", take_quiet},
    {"help", NULL, "print this help", take_help},
    {NULL, NULL, NULL, NULL}};

/* ---- parsing ------------------------------------------------------------------------------------
 */

enum { MOST_OPTIONS = 32 };

static size_t collect(const command *self, const command_option *rows[MOST_OPTIONS]) {
  size_t count = 0;
  for (const command_option *row = command_common_options; row->name; row++)
    rows[count++] = row;
  for (const command_option *row = self->options; row->name && count < MOST_OPTIONS; row++)
    rows[count++] = row;
  return count;
}

/* The option whose name is nearest to what was typed, or NULL. */
static const command_option *nearest(const command_option *const rows[], size_t count,
                                     const char *typed) {
  typed += strspn(typed, "-");
  tenter_text text = {typed, strcspn(typed, "=")};
  const command_option *best = NULL;
  size_t least = 3;
  for (size_t i = 0; i < count; i++) {
    size_t distance = tenter_text_distance(text, tenter_text_of(rows[i]->name), least);
    if (distance < least) {
      least = distance;
      best = rows[i];
    }
  }
  return best;
}

static tenter_status refuse_option(const command *self, const command_option *const rows[],
                                   size_t count, int code, const char *typed, tenter_error *error) {
  if (code == ':')
    return tenter_fail(error, TENTER_USAGE, "%s needs a value; see tenter %s --help", typed,
                       self->name);
  const command_option *near = nearest(rows, count, typed);
  if (near)
    return tenter_fail(error, TENTER_USAGE,
                       "there is no option %s; did you mean --%s? See tenter %s --help", typed,
                       near->name, self->name);
  return tenter_fail(error, TENTER_USAGE,
                     "%s: not an option of this command; see tenter %s --help. (A file whose name "
                     "begins with - is given after --, or as ./-name)",
                     typed, self->name);
}

tenter_status command_parse(const command *self, int argc, char **argv, command_call *call,
                            tenter_error *error) {
  const command_option *rows[MOST_OPTIONS];
  size_t count = collect(self, rows);
  struct option longs[MOST_OPTIONS + 1] = {{0}};
  for (size_t i = 0; i < count; i++)
    longs[i] = (struct option){rows[i]->name, rows[i]->argument ? required_argument : no_argument,
                               NULL, (int)i + 256};
  *call = (command_call){.fail_on = -1, .paper = -1, .invention = INVENTION_DEFAULTS};
  optind = 1;
  opterr = 0;
  for (int code; (code = getopt_long(argc, argv, ":h", longs, NULL)) != -1;) {
    if (code == 'h')
      call->help = true;
    else if (code >= 256) {
      tenter_status status = rows[code - 256]->take(call, optarg, error);
      if (status != TENTER_OK)
        return status;
    } else {
      char letter[] = {'-', (char)optopt, '\0'}; /* 0 or above 255 for a long one */
      bool is_short = optopt > 0 && optopt < 256;
      return refuse_option(self, rows, count, code, is_short ? letter : argv[optind - 1], error);
    }
  }
  if (call->pdf && !call->out && !call->help)
    return tenter_fail(error, TENTER_USAGE, "--pdf needs a folder to write to: add --out DIR");
  call->words = (const char **)(argv + optind); /* getopt has moved the words to the end */
  call->word_count = (size_t)(argc - optind);
  return TENTER_OK;
}

/* ---- help ---------------------------------------------------------------------------------------
 */

static void print_option(const command_option *row) {
  char left[40];
  snprintf(left, sizeof left, "--%s%s%s", row->name, row->argument ? " " : "",
           row->argument ? row->argument : "");
  printf("  %-20s %s\n", left, row->help);
}

void command_print_help(const command *self) {
  printf("Usage: tenter %s [OPTION...] %s%s\n\n%s\n\nOptions:\n", self->name,
         self->words ? self->words : "", self->no_files ? "" : "FILE or FOLDER...", self->about);
  for (const command_option *row = self->options; row->name; row++)
    print_option(row);
  for (const command_option *row = command_common_options; row->name; row++)
    print_option(row);
  printf("\nExit status: 0 done; 1 failed on the way; 2 the command line or the config is\n"
         "wrong; 3 the input can't be used.\n");
}

void command_print_overview(void) {
  printf("tenter: quality control of screen tension\n\n"
         "Usage: tenter COMMAND [OPTION...] FILE or FOLDER...\n\nCommands:\n");
  for (size_t i = 0; command_list[i]; i++)
    printf("  %-12s %s\n", command_list[i]->name, command_list[i]->summary);
  printf("\nAlso: tenter --settings (every setting with its default and reason, as a\n"
         "tenter.ini), tenter --version, tenter COMMAND --help.\n");
}
