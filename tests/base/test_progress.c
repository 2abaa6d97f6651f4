/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The progress line, on a pseudo-terminal. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include <fcntl.h>
#include <stdlib.h>
#include <time.h>
#include <unistd.h>

#include "tenter/base/progress.h"

/* Runs body with standard error on fd. */
static void with_standard_error(int fd, void body(void)) {
  fflush(stderr);
  int kept = dup(STDERR_FILENO);
  assert_true(dup2(fd, STDERR_FILENO) == STDERR_FILENO);
  body();
  fflush(stderr);
  dup2(kept, STDERR_FILENO);
  close(kept);
}

static void expect_none(void) {
  tenter_progress *progress = tenter_progress_new();
  assert_null(progress);
  tenter_progress_say(progress, "reading", 1, 2);
  tenter_progress_free(progress);
}

static void nothing_unless_on_a_terminal(void **state) {
  (void)state;
  int ends[2];
  assert_int_equal(pipe(ends), 0);
  with_standard_error(ends[1], expect_none);
  close(ends[1]);
  char byte;
  assert_int_equal(read(ends[0], &byte, 1), 0);
  close(ends[0]);
}

static void nap(long milliseconds) {
  nanosleep(&(struct timespec){milliseconds / 1000, milliseconds % 1000 * 1000000}, NULL);
}

static void short_run(void) {
  tenter_progress *progress = tenter_progress_new();
  assert_non_null(progress);
  nap(400);
  tenter_progress_say(progress, "reading", 1, 2);
  tenter_progress_free(progress);
}

static void long_run(void) {
  tenter_progress *progress = tenter_progress_new();
  nap(1050);
  tenter_progress_say(progress, "reading", 21, 50);
  tenter_progress_say(progress, "too soon after", 22, 50);
  nap(120);
  tenter_progress_say(progress, "\x1B]0;x\x07judging", 3, 2);
  nap(120);
  tenter_progress_say(progress, "empty", 0, 0);
  tenter_progress_free(progress);
}

/* What body writes to a terminal. */
static void capture(void body(void), char *text, size_t room) {
  int master = posix_openpt(O_RDWR | O_NOCTTY);
  assert_true(master >= 0 && grantpt(master) == 0 && unlockpt(master) == 0);
  int slave = open(ptsname(master), O_RDWR | O_NOCTTY);
  assert_true(slave >= 0);
  with_standard_error(slave, body);
  assert_int_equal(fcntl(master, F_SETFL, O_NONBLOCK), 0);
  size_t length = 0; /* a terminal hands out what it got in pieces of its own */
  for (ssize_t got; (got = read(master, text + length, room - 1 - length)) > 0;)
    length += (size_t)got;
  text[length] = '\0';
  close(slave);
  close(master);
}

static void only_after_a_second_and_wiped(void **state) {
  (void)state;
  char text[4096];
  capture(short_run, text, sizeof text);
  assert_string_equal(text, "");
  capture(long_run, text, sizeof text);
  assert_ptr_equal(strstr(text, "\rreading: 42 % "), text);
  assert_null(strstr(text, "too soon"));
  assert_non_null(strstr(text, "judging: 100 %"));
  assert_null(strchr(text, '\x1B')); /* a stage's own control characters are not passed on */
  assert_null(strchr(text, '\a'));
  assert_non_null(strstr(text, "\rempty "));
  /* The last thing is a line of blanks. */
  size_t length = strlen(text);
  assert_true(length > 80 && text[length - 1] == '\r');
  assert_int_equal(strspn(text + length - 73, " "), 72);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(nothing_unless_on_a_terminal),
      cmocka_unit_test(only_after_a_second_and_wiped),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
