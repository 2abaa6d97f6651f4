/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The whole program with one door failing: each run is a child of this process that enters main
 * with the fault armed. Whatever fails, when and for how long: the exit status is one of the
 * contract, a failure is said in a sentence, nothing leaks (the sanitizers speak in the child's
 * standard error), no temporary file stays, every file of --out is either the old one or the whole
 * new one, and a run that made up for the fault gives the same bytes as one that met none.
 *
 * Calls are tried one by one at first, then further and further apart; FAULT_STEP=n in the
 * environment tries every n-th (1: each; an hour). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include <dirent.h>
#include <fcntl.h>
#include <sys/wait.h>
#include <unistd.h>

#include "doors.h"
#include "folder.h"
#include "tenter/base/buffer.h"
#include "tenter/base/file.h"

int __real_main(int argc, char **argv); /* the program's; see --wrap in CMakeLists.txt */
int __wrap_main(int argc, char **argv);

/* A command line and what it writes; in the order in which the files appear. */
typedef struct command_line {
  const char *name, *option; /* one more option; NULL for none */
  const char *files[9];      /* of --out; ends with NULL */
} command_line;

static const command_line review = {"review",
                                    NULL,
                                    {"review.html", "screens.csv", "lots.csv", "worklist.csv",
                                     "worklist.ics", "reading-sheet.csv", "rejected.csv",
                                     "review.json", NULL}};
static const command_line lots = {"lots", NULL, {"lots.html", "lots.csv", "lots.json", NULL}};
static const command_line check = {
    "check", NULL, {"check.html", "rejected.csv", "check.json", NULL}};
static const command_line certificate = {
    "certificate",
    "--order=O-1",
    {"certificate.html", "certificate.csv", "certificate.json", NULL}};
static const command_line interval = {
    "interval",
    NULL,
    {"interval.html", "intervals.csv", "plan.csv", "worklist.ics", "interval.json", NULL}};

typedef struct fault {
  fault_door door;
  unsigned long k;
  bool for_good;
} fault;

enum { LARGEST = 1 << 24 };
#define BROKEN SIZE_MAX
static const char old[] = "what stood here before\n";

static tenter_buffer contents(const char *folder, const char *name) {
  char path[64];
  snprintf(path, sizeof path, "%s/%s", folder, name);
  tenter_buffer bytes = {0};
  tenter_error error;
  if (tenter_file_slurp(path, LARGEST, &bytes, &error) != TENTER_OK)
    fail_msg("%s", error.message);
  return bytes;
}

static bool same(const tenter_buffer *a, const tenter_buffer *b) {
  return a->length == b->length && (a->length == 0 || memcmp(a->bytes, b->bytes, a->length) == 0);
}

/* ---- one run ------------------------------------------------------------------------------------
 */

static void redirect(const char *path, int to) {
  int fd = open(path, O_WRONLY | O_CREAT | O_TRUNC, 0666);
  if (fd < 0 || dup2(fd, to) < 0)
    _exit(98);
  close(fd);
}

/* The child: never returns. What it found out goes to the pipe before its atexit handlers run. */
static void enter(const command_line *line, const fault *met, int pipe_end) {
  char out[] = "--out", folder[] = "out", threads[] = "--threads=3", shop[] = TEST_SHOP;
  char program[] = "tenter", name[16], option[16] = "";
  snprintf(name, sizeof name, "%s", line->name);
  snprintf(option, sizeof option, "%s", line->option ? line->option : "--threads=3");
  char *argv[] = {program, name, out, folder, threads, option, shop, NULL};
  redirect("stdout", STDOUT_FILENO);
  redirect("stderr", STDERR_FILENO);
  fault_arm(met->door, met->k, met->for_good);
  int status = __real_main(7, argv);
  unsigned long calls = fault_disarm();
  if (write(pipe_end, &calls, sizeof calls) != sizeof calls)
    _exit(97);
  close(pipe_end);
  exit(status);
}

/* Returns the exit status; *calls is how often the door was passed. */
static int run(const command_line *line, const fault *met, unsigned long *calls) {
  test_fresh_folder("out");
  for (size_t i = 0; line->files[i]; i++) {
    char path[64];
    snprintf(path, sizeof path, "out/%s", line->files[i]);
    test_write_file(path, old);
  }
  int ends[2];
  assert_int_equal(pipe(ends), 0);
  fflush(NULL);
  pid_t child = fork();
  assert_true(child >= 0);
  if (child == 0) {
    close(ends[0]);
    enter(line, met, ends[1]);
  }
  close(ends[1]);
  *calls = 0;
  ssize_t got = read(ends[0], calls, sizeof *calls);
  close(ends[0]);
  int state = 0;
  assert_int_equal(waitpid(child, &state, 0), child);
  bool finished = got == (ssize_t)sizeof *calls && WIFEXITED(state);
  return finished ? WEXITSTATUS(state) : 100;
}

/* ---- what must hold after it --------------------------------------------------------------------
 */

/* Whether the run's word is as it should be: a sentence where it failed, no report of a sanitizer,
 * and nothing that another writes in between. */
static bool speaks(int status) {
  tenter_buffer said = contents(".", "stderr");
  const char *text = tenter_buffer_string(&said);
  bool fine = true;
  for (const char *rest = text; fine && *rest; rest += strcspn(rest, "\n") + 1)
    fine = strncmp(rest, "tenter: ", 8) == 0 && strchr(rest, '\n') != NULL;
  if (status != TENTER_OK)
    fine = fine && strlen(text) > strlen("tenter: x");
  tenter_buffer_release(&said);
  return fine;
}

static bool has_said(const char *words) {
  tenter_buffer said = contents(".", "stderr");
  bool has = strstr(tenter_buffer_string(&said), words) != NULL;
  tenter_buffer_release(&said);
  return has;
}

/* How many files of the set are new: the first of the set, all whole, the rest as they were and
 * nothing besides; BROKEN where it is not so. The page may differ where pictures are missing, and
 * so may what vouches for it. */
static size_t count_new(const command_line *line, bool pictures_missing) {
  size_t fresh = 0, count = 0;
  bool broken = false;
  for (; line->files[count]; count++) {
    tenter_buffer now = contents("out", line->files[count]);
    tenter_buffer good = contents(line->name, line->files[count]);
    bool is_old = now.length == strlen(old) && memcmp(now.bytes, old, now.length) == 0;
    bool page = pictures_missing && (strstr(line->files[count], ".html") ||
                                     strcmp(line->files[count], "certificate.json") == 0);
    if (!is_old && fresh == count && (page || same(&now, &good)))
      fresh++;
    else
      broken = broken || !is_old;
    tenter_buffer_release(&now);
    tenter_buffer_release(&good);
  }
  return broken || test_count_entries("out") != count ? BROKEN : fresh;
}

static bool printed_all(const command_line *line) {
  tenter_buffer now = contents(".", "stdout"), good = contents(line->name, "stdout");
  bool all = same(&now, &good);
  tenter_buffer_release(&now);
  tenter_buffer_release(&good);
  return all;
}

/* Whether a run may end so that met a fault. A thread or the pictures less are made up for; a file
 * that can't be opened is the input's fault, or the config's. */
static bool may_end(const fault *met, int status, bool pictures_missing) {
  switch (status) {
  case TENTER_OK:
    return met->door == FAULT_THREAD || met->door == FAULT_PLACE || pictures_missing;
  case TENTER_FAILED:
    return met->door != FAULT_THREAD && met->door != FAULT_CHILD;
  default:
    return met->door == FAULT_PLACE && (status == TENTER_INPUT || status == TENTER_USAGE);
  }
}

/* Returns whether the run met its fault, and counts in *failures where it went wrong. Files come
 * before what is printed: a run that fails at that has written all of them. */
static bool strike(const command_line *line, const fault *met, size_t *failures) {
  unsigned long calls;
  int status = run(line, met, &calls);
  bool struck = calls >= met->k, pictures_missing = has_said("the pictures are missing");
  size_t fresh = count_new(line, pictures_missing), files = 0;
  while (line->files[files])
    files++;
  bool fine = (struck ? may_end(met, status, pictures_missing) : status == TENTER_OK) &&
              speaks(status) && fresh != BROKEN;
  if (status == TENTER_OK)
    fine = fine && fresh == files && printed_all(line);
  else
    fine = fine && (fresh == 0 || fresh == files || met->door == FAULT_PLACE);
  if (!fine)
    print_error("%s, door %d, call %lu, %s: status %d, %zd files new\n", line->name, (int)met->door,
                met->k, met->for_good ? "for good" : "once", status, fresh);
  *failures += !fine;
  return struck;
}

static void sweep(const command_line *line, fault_door door, size_t *failures) {
  const char *asked = getenv("FAULT_STEP");
  unsigned long step = asked ? strtoul(asked, NULL, 10) : 0;
  bool met = true;
  for (unsigned long k = 1; met; k += step > 0 ? step : k < 16 ? 1 : k / 4) {
    bool once = strike(line, &(fault){door, k, false}, failures);
    bool good = strike(line, &(fault){door, k, true}, failures);
    met = once || good;
  }
}

/* Keeps what a run without a fault gives, in a folder by the command's name. */
static void run_well(const command_line *line) {
  unsigned long calls;
  assert_int_equal(run(line, &(fault){FAULT_DOORS, 0, false}, &calls), TENTER_OK);
  assert_true(speaks(TENTER_OK));
  test_fresh_folder(line->name);
  for (size_t i = 0; line->files[i]; i++) {
    char from[64], to[64];
    snprintf(from, sizeof from, "out/%s", line->files[i]);
    snprintf(to, sizeof to, "%s/%s", line->name, line->files[i]);
    assert_int_equal(rename(from, to), 0);
  }
  char to[64];
  snprintf(to, sizeof to, "%s/stdout", line->name);
  assert_int_equal(rename("stdout", to), 0);
}

static void sweep_all(const command_line *line) {
  size_t failures = 0;
  run_well(line);
  for (int door = 0; door < FAULT_DOORS; door++)
    sweep(line, (fault_door)door, &failures);
  assert_int_equal(failures, 0);
}

static void checks(void **state) {
  (void)state;
  sweep_all(&check);
}

static void intervals(void **state) {
  (void)state;
  sweep_all(&interval);
}

static void lots_alone(void **state) {
  (void)state;
  sweep_all(&lots);
}

static void reviews(void **state) {
  (void)state;
  sweep_all(&review);
}

static void certifies(void **state) {
  (void)state;
  sweep_all(&certificate);
}

int __wrap_main(int argc, char **argv) {
  (void)argc;
  (void)argv;
  const struct CMUnitTest tests[] = {cmocka_unit_test(checks), cmocka_unit_test(lots_alone),
                                     cmocka_unit_test(intervals), cmocka_unit_test(reviews),
                                     cmocka_unit_test(certifies)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
