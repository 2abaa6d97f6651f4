/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One child at a time, fed and drained in one poll loop. Its three streams are sockets, not pipes:
 * writing to one whose reader is gone gives an error, not SIGPIPE, and no flag has
 * to be set that a fork of another thread could miss. */
#include "tenter/base/child.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <stdbool.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "tenter/base/alloc.h"

enum { PIECE = 1 << 16, KEPT_WORDS = 500 };

extern char **environ;

typedef struct child {
  const char *name;
  pid_t pid;         /* 0 before it runs and after it was waited for */
  int in, out, err;  /* our ends; -1 where closed */
  tenter_text input; /* what is still to be sent */
  size_t printed, limit;
  tenter_buffer *output;
  char words[KEPT_WORDS + 1]; /* of its standard error */
  size_t word_count;
  struct timespec began;
  double seconds;
} child;

static void close_end(int *fd) {
  if (*fd >= 0)
    close(*fd);
  *fd = -1;
}

static double time_left(const child *c) {
  struct timespec now;
  clock_gettime(CLOCK_MONOTONIC, &now);
  return c->seconds - (double)(now.tv_sec - c->began.tv_sec) -
         1e-9 * (double)(now.tv_nsec - c->began.tv_nsec);
}

/* The environment with LC_ALL=C: the strings are the process's own, the list is the caller's. */
static char **environment(void) {
  static const char name[] = "LC_ALL=";
  static char locale[] = "LC_ALL=C";
  size_t count = 0, kept = 0;
  while (environ != NULL && environ[count] != NULL)
    count++;
  char **list = tenter_alloc(count + 2, sizeof *list);
  if (list == NULL)
    return NULL;
  for (size_t i = 0; i < count; i++)
    if (strncmp(environ[i], name, sizeof name - 1) != 0)
      list[kept++] = environ[i];
  list[kept] = locale;
  return list;
}

/* Two joined sockets whose descriptors are none of the standard three. */
static bool join(int *ours, int *theirs) {
  int ends[2];
  if (socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends) != 0)
    return false;
  *ours = fcntl(ends[0], F_DUPFD_CLOEXEC, STDERR_FILENO + 1);
  *theirs = fcntl(ends[1], F_DUPFD_CLOEXEC, STDERR_FILENO + 1);
  int reason = errno;
  close(ends[0]);
  close(ends[1]);
  errno = reason;
  return *ours >= 0 && *theirs >= 0;
}

/* The child gets a process group of its own (so that it can be killed with its own children) and
 * the signals in their plain state. Returns 0 or an error number. */
static int spawn(child *c, const char *const argv[], char **variables, const int theirs[3]) {
  posix_spawn_file_actions_t actions;
  posix_spawnattr_t attributes;
  int reason = posix_spawn_file_actions_init(&actions);
  if (reason != 0)
    return reason;
  reason = posix_spawnattr_init(&attributes);
  if (reason != 0) {
    posix_spawn_file_actions_destroy(&actions);
    return reason;
  }
  for (int fd = 0; fd < 3 && reason == 0; fd++)
    reason = posix_spawn_file_actions_adddup2(&actions, theirs[fd], fd);
  sigset_t none, pipe;
  sigemptyset(&none);
  sigemptyset(&pipe);
  sigaddset(&pipe, SIGPIPE);
  posix_spawnattr_setsigmask(&attributes, &none);
  posix_spawnattr_setsigdefault(&attributes, &pipe);
  posix_spawnattr_setpgroup(&attributes, 0);
  posix_spawnattr_setflags(&attributes,
                           POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF | POSIX_SPAWN_SETPGROUP);
  /* argv is not const in the interface for old times' sake only; it is not written to. */
  if (reason == 0)
    reason = posix_spawnp(&c->pid, argv[0], &actions, &attributes, (char *const *)argv, variables);
  posix_spawnattr_destroy(&attributes);
  posix_spawn_file_actions_destroy(&actions);
  if (reason != 0)
    c->pid = 0;
  return reason;
}

static tenter_status start(child *c, const char *const argv[], tenter_error *error) {
  char **variables = environment();
  if (variables == NULL)
    return tenter_fail_memory(error);
  int theirs[3] = {-1, -1, -1}, reason = 0;
  if (!join(&c->in, &theirs[0]) || !join(&c->out, &theirs[1]) || !join(&c->err, &theirs[2]))
    reason = errno;
  if (reason == 0)
    reason = spawn(c, argv, variables, theirs);
  for (int i = 0; i < 3; i++)
    close_end(&theirs[i]);
  tenter_free(variables);
  if (reason == ENOENT)
    return tenter_fail(error, TENTER_FAILED,
                       "%s can't be started: no program of that name is in PATH", c->name);
  if (reason != 0)
    return tenter_fail(error, TENTER_FAILED, "%s can't be started: %s", c->name, strerror(reason));
  return TENTER_OK;
}

static bool would_wait(void) {
  return errno == EAGAIN || errno == EWOULDBLOCK || errno == EINTR;
}

/* A child that reads no further than it needs is no failure: the rest is dropped. */
static void feed(child *c) {
  if (c->input.length > 0) {
    ssize_t sent = send(c->in, c->input.start, c->input.length, MSG_NOSIGNAL | MSG_DONTWAIT);
    if (sent < 0 && would_wait())
      return;
    if (sent >= 0) {
      c->input.start += sent;
      c->input.length -= (size_t)sent;
    }
    if (sent >= 0 && c->input.length > 0)
      return;
  }
  close_end(&c->in);
}

static tenter_status drain_output(child *c, tenter_error *error) {
  char *room = tenter_buffer_room(c->output, PIECE);
  if (room == NULL)
    return tenter_fail_memory(error);
  ssize_t got = recv(c->out, room, PIECE, MSG_DONTWAIT);
  if (got < 0 && would_wait())
    return TENTER_OK;
  if (got <= 0) {
    close_end(&c->out);
    return TENTER_OK;
  }
  if ((size_t)got > c->limit - c->printed)
    return tenter_fail(error, TENTER_FAILED, "%s printed more than %zu bytes and was stopped",
                       c->name, c->limit);
  c->printed += (size_t)got;
  c->output->length += (size_t)got;
  return TENTER_OK;
}

static void drain_words(child *c) {
  char piece[4096];
  ssize_t got = recv(c->err, piece, sizeof piece, MSG_DONTWAIT);
  if (got < 0 && would_wait())
    return;
  if (got <= 0) {
    close_end(&c->err);
    return;
  }
  size_t room = KEPT_WORDS - c->word_count;
  size_t kept = (size_t)got < room ? (size_t)got : room;
  memcpy(c->words + c->word_count, piece, kept);
  c->word_count += kept;
}

static tenter_status fail_late(const child *c, tenter_error *error) {
  return tenter_fail(error, TENTER_FAILED, "%s took longer than %g seconds and was stopped",
                     c->name, c->seconds);
}

/* Until the child has closed both of its outputs. */
static tenter_status converse(child *c, tenter_error *error) {
  while (c->out >= 0 || c->err >= 0) {
    double left = time_left(c);
    if (left <= 0)
      return fail_late(c, error);
    /* poll passes over negative descriptors */
    struct pollfd ends[] = {{.fd = c->in, .events = POLLOUT},
                            {.fd = c->out, .events = POLLIN},
                            {.fd = c->err, .events = POLLIN}};
    int ready = poll(ends, 3, left > 1000 ? 1000000 : (int)(left * 1000) + 1);
    if (ready < 0 && errno != EINTR)
      return tenter_fail(error, TENTER_FAILED, "%s: %s", c->name, strerror(errno));
    if (ready <= 0)
      continue;
    if (ends[0].revents != 0)
      feed(c);
    if (ends[2].revents != 0)
      drain_words(c);
    tenter_status status = ends[1].revents != 0 ? drain_output(c, error) : TENTER_OK;
    if (status != TENTER_OK)
      return status;
  }
  return TENTER_OK;
}

/* It has closed its outputs, so the end is near; there is no call that waits for a limited time
 * without a signal handler, hence the naps. */
static tenter_status wait_for(child *c, int *how, tenter_error *error) {
  close_end(&c->in);
  for (;;) {
    pid_t got = waitpid(c->pid, how, WNOHANG);
    if (got < 0 && errno != EINTR) {
      c->pid = 0;
      return tenter_fail(error, TENTER_FAILED, "%s: how it ended can't be known: %s", c->name,
                         strerror(errno));
    }
    if (got > 0) {
      c->pid = 0;
      return TENTER_OK;
    }
    if (time_left(c) <= 0)
      return fail_late(c, error);
    nanosleep(&(struct timespec){.tv_nsec = 500000}, NULL);
  }
}

static tenter_status judge(child *c, int how, tenter_error *error) {
  if (WIFEXITED(how) && WEXITSTATUS(how) == 0)
    return TENTER_OK;
  while (c->word_count > 0 && strchr(" \n\r\t", c->words[c->word_count - 1]) != NULL)
    c->word_count--;
  c->words[c->word_count] = '\0';
  const char *colon = c->word_count > 0 ? ": " : "";
  if (WIFEXITED(how))
    return tenter_fail(error, TENTER_FAILED, "%s ended with code %d%s%s", c->name, WEXITSTATUS(how),
                       colon, c->words);
  return tenter_fail(error, TENTER_FAILED, "%s was ended by signal %d%s%s", c->name, WTERMSIG(how),
                     colon, c->words);
}

static void stop(child *c) {
  close_end(&c->in);
  close_end(&c->out);
  close_end(&c->err);
  if (c->pid == 0)
    return;
  kill(-c->pid, SIGKILL);
  while (waitpid(c->pid, NULL, 0) < 0 && errno == EINTR) {
  }
}

tenter_status tenter_child_run(const char *const argv[], tenter_text input, double seconds,
                               size_t limit, tenter_buffer *output, tenter_error *error) {
  child c = {.name = argv[0],
             .in = -1,
             .out = -1,
             .err = -1,
             .input = input,
             .limit = limit,
             .output = output,
             .seconds = seconds};
  int how = 0;
  clock_gettime(CLOCK_MONOTONIC, &c.began);
  tenter_status status = start(&c, argv, error);
  if (status == TENTER_OK)
    status = converse(&c, error);
  if (status == TENTER_OK)
    status = wait_for(&c, &how, error);
  if (status == TENTER_OK)
    status = judge(&c, how, error);
  stop(&c);
  return status;
}

const char *tenter_child_find(const char *name, tenter_arena *arena) {
  static const char *const folders[] = {"", "../libexec/tenter/"};
  char self[4096];
  ssize_t length = readlink("/proc/self/exe", self, sizeof self);
  if (length <= 0 || (size_t)length == sizeof self)
    return "";
  while (length > 0 && self[length - 1] != '/')
    length--;
  for (size_t i = 0; i < sizeof folders / sizeof *folders; i++) {
    char *path = tenter_arena_print(arena, "%.*s%s%s", (int)length, self, folders[i], name);
    if (path == NULL || access(path, X_OK) == 0)
      return path;
  }
  return "";
}
