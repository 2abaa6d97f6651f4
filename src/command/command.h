/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a command is. Each has a file of its own with its descriptor at the top; commands.c lists
 * them. Options are data: parsing, --help and the checks of the tests read the same rows. */
#ifndef TENTER_COMMAND_COMMAND_H
#define TENTER_COMMAND_COMMAND_H

#include <stdbool.h>
#include <stddef.h>

#include "invention.h"
#include "tenter/base/pool.h"
#include "tenter/judge/review.h"
#include "tenter/report/report.h"

enum { EXIT_ACTION = 4 }; /* --fail-on: a screen needs that action or a worse one */

typedef enum command_format { FORMAT_TEXT, FORMAT_JSON } command_format;

/* The words of one command line, understood. Strings are borrowed from argv. */
typedef struct command_call {
  const char *config, *as_of, *out; /* NULL where not given */
  command_format format;
  size_t threads; /* 0: as many as there are processors */
  bool quiet, help, pdf;
  int paper;          /* tenter_paper, or -1: what the config says */
  int fail_on;        /* tenter_action, or -1 */
  const char **words; /* files and folders */
  size_t word_count;
  const char **screens; /* --screen, in order; freed by main */
  size_t screen_count;
  invention invention;          /* simulate */
  const char *order, *customer; /* NULL where not given */
  bool verify;
  const char *freeze, *limits; /* charts; NULL where not given */
} command_call;

/* Takes the argument of one option (NULL for a flag) into the call. */
typedef tenter_status option_take(command_call *call, const char *argument, tenter_error *error);

typedef struct command_option {
  const char *name;     /* long form, without dashes */
  const char *argument; /* what stands for it in the help; NULL for a flag */
  const char *help;
  option_take *take;
} command_option;

typedef struct command {
  const char *name, *summary;
  const char *words; /* what stands before the files in the usage line; NULL for nothing */
  const char *about; /* paragraphs under the usage line */
  const command_option *options;                             /* its own, ended by a name of NULL */
  int (*run)(const command_call *call, tenter_error *error); /* an exit status */
  bool no_files;                                             /* reads none */
} command;

extern const command command_interval, command_check, command_review, command_lots, command_charts,
    command_meter, command_screen, command_certificate, command_simulate;
extern const command *const command_list[]; /* all of them, ended by NULL */
extern const command_option command_common_options[];

/* Reads argv (argv[0] is the command's name) into *call; call->words points into argv. */
tenter_status command_parse(const command *self, int argc, char **argv, command_call *call,
                            tenter_error *error);

void command_print_help(const command *self);
void command_print_overview(void);

/* Everything that a command reads and makes before it can answer. */
typedef struct command_shop {
  tenter_pool *pool;
  tenter_arena *arena; /* of the config */
  tenter_config config;
  tenter_tables *tables;
  tenter_shop *shop;
} command_shop;

/* Config, files, canonical order, model. On failure *shop is released already. */
tenter_status command_shop_open(const command_call *call, command_shop *shop, tenter_error *error);
void command_shop_release(command_shop *shop);

/* What the reports of this call need to know. */
tenter_report_options command_report_options(const command_call *call, const command_shop *shop);

/* --screen: one more id. */
tenter_status command_take_screen(command_call *call, const char *argument, tenter_error *error);

/* Ids and files of the call into lists of their own, to be freed by tenter_free (screens, words): a
 * word that is no file or folder is an id. */
tenter_status command_sort_words(const command_call *call, command_call *sorted,
                                 tenter_error *error);

/* TENTER_USAGE where the sorted words name no file. */
tenter_status command_need_files(const command_call *sorted, tenter_error *error);

/* The screen of an id; one that no screen has is an error of the command line that names the
 * nearest. */
tenter_status command_find_screen(const tenter_shop *shop, const char *id, uint32_t *screen,
                                  tenter_error *error);

/* Standard output as the sink of a report; its failure (a full disk, a closed pipe) is
 * TENTER_FAILED. */
tenter_sink command_stdout(void);

/* A remark on standard error, unless the call is quiet. */
void command_remark(const command_call *call, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

#endif
