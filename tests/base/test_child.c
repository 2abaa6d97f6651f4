/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Children: fed and drained at once, held to their limits, always waited for. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include <errno.h>
#include <signal.h>
#include <stdlib.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "folder.h"
#include "tenter/base/alloc.h"
#include "tenter/base/child.h"

enum { MANY = 3 << 20 };

/* What every run must leave behind: nothing. */
static void assert_no_child_left(void) {
  errno = 0;
  assert_int_equal(waitpid(-1, NULL, WNOHANG), -1);
  assert_int_equal(errno, ECHILD);
}

static tenter_status run(const char *script, tenter_text input, double seconds,
                         tenter_buffer *output, tenter_error *error) {
  const char *const argv[] = {"sh", "-c", script, NULL};
  size_t open_before = test_count_entries("/dev/fd");
  tenter_status status = tenter_child_run(argv, input, seconds, MANY + 1000, output, error);
  assert_int_equal(test_count_entries("/dev/fd"), open_before);
  assert_no_child_left();
  return status;
}

static void assert_fails(const char *script, double seconds, const char *words) {
  tenter_buffer output = {0};
  tenter_error error;
  assert_int_equal(run(script, tenter_text_of("input"), seconds, &output, &error), TENTER_FAILED);
  if (strstr(error.message, words) == NULL)
    fail_msg("%s", error.message);
  tenter_buffer_release(&output);
}

/* More than any socket holds, both ways and on standard error, so that waiting on one side only
 * would never end. */
static void much_goes_in_and_out(void **state) {
  (void)state;
  tenter_buffer output = {0};
  char *bytes = tenter_alloc(MANY, 1);
  for (size_t i = 0; i < MANY; i++)
    bytes[i] = (char)('a' + i % 23);
  tenter_buffer_text(&output, "> ");
  tenter_text input = {bytes, MANY};
  assert_int_equal(run("cat; head -c 2000000 /dev/zero >&2", input, 60, &output, NULL), TENTER_OK);
  assert_int_equal(output.length, MANY + 2);
  assert_memory_equal(output.bytes, "> ", 2);
  assert_memory_equal(output.bytes + 2, bytes, MANY);
  tenter_buffer_clear(&output);
  /* One that does not want its input: no SIGPIPE, no failure. */
  assert_int_equal(run("exec 0<&-; echo done", input, 60, &output, NULL), TENTER_OK);
  assert_string_equal(tenter_buffer_string(&output), "done\n");
  tenter_free(bytes);
  tenter_buffer_release(&output);
}

static void its_surroundings(void **state) {
  (void)state;
  tenter_buffer output = {0};
  setenv("LC_ALL", "de_DE.UTF-8", 1);
  setenv("TEST_MARK", "kept", 1);
  const char *const argv[] = {"env", NULL};
  assert_int_equal(tenter_child_run(argv, (tenter_text){0}, 60, 1 << 20, &output, NULL), TENTER_OK);
  const char *list = tenter_buffer_string(&output);
  assert_non_null(strstr(list, "TEST_MARK=kept\n"));
  assert_non_null(strstr(list, "LC_ALL=C\n"));
  assert_null(strstr(list, "LC_ALL=de"));
  assert_string_equal(getenv("LC_ALL"), "de_DE.UTF-8");
  tenter_buffer_release(&output);
}

/* The arguments reach the child as they are: nothing reads them as a command. */
static void no_shell(void **state) {
  (void)state;
  const char *const argv[] = {"printf", "%s", "$(touch harm) `touch harm`; touch harm", NULL};
  tenter_buffer output = {0};
  assert_int_equal(tenter_child_run(argv, (tenter_text){0}, 60, 1000, &output, NULL), TENTER_OK);
  assert_string_equal(tenter_buffer_string(&output), argv[2]);
  assert_int_equal(access("harm", F_OK), -1);
  tenter_buffer_release(&output);
}

static void failures_say_why(void **state) {
  (void)state;
  assert_fails("echo out; echo 'no such font' >&2; exit 3", 60, "ended with code 3: no such font");
  assert_fails("exit 1", 60, "sh ended with code 1");
  assert_fails("kill -9 $$", 60, "signal 9");
  assert_fails("head -c 4000000 /dev/zero", 60, "printed more than");
  tenter_error error;
  tenter_buffer output = {0};
  const char *const missing[] = {"tenter-no-such-program", NULL};
  assert_int_equal(tenter_child_run(missing, (tenter_text){0}, 9, 9, &output, &error),
                   TENTER_FAILED);
  assert_non_null(strstr(error.message, "tenter-no-such-program"));
  const char *const folder[] = {"/tmp", NULL};
  assert_int_equal(tenter_child_run(folder, (tenter_text){0}, 9, 9, &output, &error),
                   TENTER_FAILED);
  assert_non_null(strstr(error.message, "/tmp"));
  assert_no_child_left();
  tenter_buffer_release(&output);
}

/* The message keeps the head of what it said, whole characters only. */
static void long_complaints_are_cut(void **state) {
  (void)state;
  tenter_buffer output = {0};
  tenter_error error;
  assert_int_equal(run("printf '%01000d' 0 >&2; exit 1", (tenter_text){0}, 60, &output, &error),
                   TENTER_FAILED);
  assert_int_equal(strspn(strchr(error.message, '0'), "0"), 500);
  tenter_buffer_release(&output);
}

static double now(void) {
  struct timespec time;
  clock_gettime(CLOCK_MONOTONIC, &time);
  return (double)time.tv_sec + 1e-9 * (double)time.tv_nsec;
}

static void the_time_limit_holds(void **state) {
  (void)state;
  double began = now();
  assert_fails("sleep 100", 0.3, "longer than 0.3 seconds");
  assert_fails("exec 1>&- 2>&-; sleep 100", 0.3, "longer than 0.3 seconds");
  assert_fails("trap '' TERM; while :; do :; done", 0.3, "longer than 0.3 seconds");
  assert_true(now() - began < 30);
}

/* Its own children die with it. */
static void the_whole_group_is_killed(void **state) {
  (void)state;
  tenter_buffer output = {0};
  tenter_error error;
  assert_int_equal(run("sleep 100 & echo $!; wait", (tenter_text){0}, 0.5, &output, &error),
                   TENTER_FAILED);
  pid_t grandchild = (pid_t)strtol(tenter_buffer_string(&output), NULL, 10);
  assert_true(grandchild > 1);
  char path[64], text[256] = "";
  snprintf(path, sizeof path, "/proc/%ld/stat", (long)grandchild);
  for (int i = 0; i < 100 && kill(grandchild, 0) == 0; i++) {
    FILE *file = fopen(path, "r");
    if (file == NULL)
      break;
    size_t got = fread(text, 1, sizeof text - 1, file);
    fclose(file);
    text[got] = '\0';
    if (strstr(text, ") Z") != NULL) /* dead, and nobody here waits for orphans */
      break;
    nanosleep(&(struct timespec){.tv_nsec = 20000000}, NULL);
  }
  assert_true(kill(grandchild, 0) != 0 || strstr(text, ") Z") != NULL);
  tenter_buffer_release(&output);
}

static void signals_are_left_alone(void **state) {
  (void)state;
  struct sigaction before, after;
  sigaction(SIGPIPE, NULL, &before);
  assert_fails("exit 1", 60, "code 1");
  sigaction(SIGPIPE, NULL, &after);
  assert_true(before.sa_handler == after.sa_handler);
  signal(SIGPIPE, SIG_IGN); /* a parent that ignores it must not pass that on */
  assert_fails("kill -PIPE $$; exit 0", 60, "signal 13");
  signal(SIGPIPE, SIG_DFL);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(much_goes_in_and_out),
      cmocka_unit_test(its_surroundings),
      cmocka_unit_test(no_shell),
      cmocka_unit_test(failures_say_why),
      cmocka_unit_test(long_complaints_are_cut),
      cmocka_unit_test(the_time_limit_holds),
      cmocka_unit_test(the_whole_group_is_killed),
      cmocka_unit_test(signals_are_left_alone),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
