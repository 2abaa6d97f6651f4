/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The program: finds the command and lets it run. The only place that ends the process, and the
 * only one that touches what is process-wide (the locale, GSL's error handler, SIGPIPE, limits). */
#include <gsl/gsl_errno.h>
#include <limits.h>
#include <locale.h>
#ifdef __GLIBC__
#include <malloc.h>
#endif
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/resource.h>

#include "command.h"
#include "tenter/base/alloc.h"

static const command *find_command(const char *name) {
  for (size_t i = 0; command_list[i]; i++)
    if (strcmp(command_list[i]->name, name) == 0)
      return command_list[i];
  return NULL;
}

static tenter_status refuse_command(const char *name, tenter_error *error) {
  const char *best = NULL;
  size_t least = 3;
  for (size_t i = 0; command_list[i]; i++) {
    size_t distance =
        tenter_text_distance(tenter_text_of(name), tenter_text_of(command_list[i]->name), least);
    if (distance < least) {
      least = distance;
      best = command_list[i]->name;
    }
  }
  return tenter_fail(error, TENTER_USAGE, "there is no command %s%s%s; see tenter --help", name,
                     best ? "; did you mean " : "", best ? best : "");
}

/* Every setting in the form of a tenter.ini, at its default. */
static int print_settings(tenter_error *error) {
  tenter_arena *arena = tenter_arena_new();
  tenter_settings defaults = tenter_settings_default();
  const char *section = "";
  for (size_t i = 0; arena && i < tenter_setting_count; i++) {
    const tenter_setting *row = &tenter_setting_table[i];
    char *value = tenter_setting_print(&defaults, row, arena);
    if (!value)
      break;
    if (strcmp(section, row->section) != 0)
      printf("%s[%s]\n", *section ? "\n" : "", row->section);
    section = row->section;
    printf("; %s%s%s%s%s%s%s\n", row->sentence, *row->unit ? " (" : "", row->unit,
           *row->unit ? ")" : "", *row->source ? " [" : "", row->source, *row->source ? "]" : "");
    printf("%s%s = %s\n", *value ? "" : "; ", row->key, value);
  }
  bool made = arena != NULL;
  tenter_arena_free(arena);
  return made ? TENTER_OK : (int)tenter_fail_memory(error);
}

static int dispatch(int argc, char **argv, tenter_error *error) {
  const char *word = argc > 1 ? argv[1] : "--help";
  if (strcmp(word, "--help") == 0 || strcmp(word, "-h") == 0 || strcmp(word, "help") == 0) {
    command_print_overview();
    return argc > 1
               ? TENTER_OK
               : (int)tenter_fail(error, TENTER_USAGE, "name a command, such as check or review");
  }
  if (strcmp(word, "--version") == 0)
    return printf("tenter %s\n", TENTER_VERSION) > 0 ? TENTER_OK : TENTER_FAILED;
  if (strcmp(word, "--settings") == 0)
    return print_settings(error);
  const command *self = find_command(word);
  if (!self)
    return (int)refuse_command(word, error);
  command_call call;
  int status = (int)command_parse(self, argc - 1, argv + 1, &call, error);
  if (status == TENTER_OK && call.help)
    command_print_help(self);
  else if (status == TENTER_OK)
    status = self->run(&call, error);
  tenter_free(call.screens);
  return status;
}

/* Every input stays open while it is read; a folder with a file a day soon holds more than the
 * usual soft limit of 1024. Where it can't be raised, opening one too many says so. */
static void allow_many_files(void) {
  struct rlimit limit;
  if (getrlimit(RLIMIT_NOFILE, &limit) != 0)
    return;
  limit.rlim_cur = limit.rlim_max;
  setrlimit(RLIMIT_NOFILE, &limit);
}

/* What one stage frees the next one takes: pages given back to the system and asked for anew must
 * be cleared again, which took a tenth of a large review. */
static void keep_memory(void) {
#ifdef __GLIBC__
  mallopt(M_MMAP_THRESHOLD, 32 << 20);
  mallopt(M_TRIM_THRESHOLD, INT_MAX);
#endif
}

int main(int argc, char **argv) {
  setlocale(LC_CTYPE, "C.UTF-8"); /* widths of characters; numbers stay as in C */
  signal(SIGPIPE, SIG_IGN);       /* a closed pipe is a failed write like another, */
  signal(SIGXFSZ, SIG_IGN);       /* and so is a file over the limit */
  gsl_set_error_handler_off();
  allow_many_files();
  keep_memory();
  tenter_error error = {.status = TENTER_OK};
  int status = dispatch(argc, argv, &error);
  if (fflush(stdout) != 0 && status == TENTER_OK)
    status = (int)tenter_fail(&error, TENTER_FAILED, "standard output could not be written");
  if (error.status != TENTER_OK)
    fprintf(stderr, "tenter: %s\n", error.message);
  return status;
}
