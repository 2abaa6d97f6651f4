/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "doors.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <spawn.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <unistd.h>

/* The state of the doors. It is the test program's own: nothing of the project sees it. */
static struct {
  atomic_int door; /* FAULT_DOORS: none */
  atomic_ulong calls, strike;
  atomic_bool for_good, part, held;
  atomic_ulong transfers;
} now = {.door = FAULT_DOORS};

void fault_arm(fault_door door, unsigned long k, bool for_good) {
  atomic_store(&now.calls, 0);
  atomic_store(&now.strike, k);
  atomic_store(&now.for_good, for_good);
  atomic_store(&now.door, (int)door);
}

void fault_arm_short(void) {
  atomic_store(&now.transfers, 0);
  atomic_store(&now.part, true);
}

unsigned long fault_disarm(void) {
  atomic_store(&now.door, FAULT_DOORS);
  atomic_store(&now.part, false);
  return atomic_load(&now.calls);
}

void fault_hold(bool hold) {
  atomic_store(&now.held, hold);
}

bool fault_arm_text(const char *text) {
  static const char *const names[FAULT_DOORS] = {"memory ", "read ",   "write ",
                                                 "place ",  "thread ", "child "};
  if (strcmp(text, "short") == 0) {
    fault_arm_short();
    return true;
  }
  for (int i = 0; i < FAULT_DOORS; i++) {
    size_t length = strlen(names[i]);
    if (strncmp(text, names[i], length) != 0)
      continue;
    char *end;
    unsigned long k = strtoul(text + length, &end, 10);
    bool for_good = strcmp(end, " good") == 0;
    if (!for_good && strcmp(end, " once") != 0)
      return false;
    fault_arm((fault_door)i, k, for_good);
    return true;
  }
  return false;
}

/* Whether this call fails; errno is set then. */
static bool fails(fault_door door, int reason) {
  if (atomic_load(&now.door) != (int)door || atomic_load(&now.held))
    return false;
  unsigned long call = atomic_fetch_add(&now.calls, 1) + 1, strike = atomic_load(&now.strike);
  if (strike == 0 || call < strike || (call > strike && !atomic_load(&now.for_good)))
    return false;
  errno = reason;
  return true;
}

/* Of a transfer of length bytes: 0 to interrupt it, or as many as it may do. Reads and writes take
 * turns in one scrambled row, so that neither only ever meets the other's leavings. */
static size_t share(size_t length) {
  if (!atomic_load(&now.part) || length == 0)
    return length;
  unsigned turn = (unsigned)atomic_fetch_add(&now.transfers, 1) * 2654435761U >> 30;
  if (turn == 0) {
    errno = EINTR;
    return 0;
  }
  return turn == 1 ? 1 : turn == 2 ? (length + 1) / 2 : length;
}

/* What the linker makes of --wrap: calls of f come to __wrap_f, and __real_f is f. The names are
 * its own, hence the reserved ones. */
#define WRAP(type, name, parameters)                                                               \
  type __real_##name parameters;                                                                   \
  type __wrap_##name parameters;                                                                   \
  type __wrap_##name parameters

WRAP(void *, tenter_alloc, (size_t count, size_t size)) {
  return fails(FAULT_MEMORY, ENOMEM) ? NULL : __real_tenter_alloc(count, size);
}

WRAP(void *, tenter_resize, (void *block, size_t count, size_t size)) {
  return fails(FAULT_MEMORY, ENOMEM) ? NULL : __real_tenter_resize(block, count, size);
}

WRAP(ssize_t, read, (int fd, void *bytes, size_t length)) {
  size_t part = share(length);
  if (fails(FAULT_READ, EIO) || (part == 0 && length > 0))
    return -1;
  return __real_read(fd, bytes, part);
}

WRAP(ssize_t, pread, (int fd, void *bytes, size_t length, off_t offset)) {
  size_t part = share(length);
  if (fails(FAULT_READ, EIO) || (part == 0 && length > 0))
    return -1;
  return __real_pread(fd, bytes, part, offset);
}

WRAP(ssize_t, write, (int fd, const void *bytes, size_t length)) {
  size_t part = share(length);
  if (fails(FAULT_WRITE, ENOSPC) || (part == 0 && length > 0))
    return -1;
  return __real_write(fd, bytes, part);
}

WRAP(int, fdatasync, (int fd)) {
  return fails(FAULT_WRITE, ENOSPC) ? -1 : __real_fdatasync(fd);
}

/* The mode counts only where a file is made. */
static mode_t mode_of(int flags, va_list arguments) {
  return (flags & O_CREAT) != 0 ? va_arg(arguments, mode_t) : 0;
}

WRAP(int, open, (const char *path, int flags, ...)) {
  va_list arguments;
  va_start(arguments, flags);
  mode_t mode = mode_of(flags, arguments);
  va_end(arguments);
  return fails(FAULT_PLACE, EACCES) ? -1 : __real_open(path, flags, mode);
}

WRAP(int, openat, (int folder, const char *path, int flags, ...)) {
  va_list arguments;
  va_start(arguments, flags);
  mode_t mode = mode_of(flags, arguments);
  va_end(arguments);
  return fails(FAULT_PLACE, EACCES) ? -1 : __real_openat(folder, path, flags, mode);
}

WRAP(int, mkdir, (const char *path, mode_t mode)) {
  return fails(FAULT_PLACE, EACCES) ? -1 : __real_mkdir(path, mode);
}

WRAP(int, renameat, (int from_folder, const char *from, int to_folder, const char *to)) {
  return fails(FAULT_PLACE, EACCES) ? -1 : __real_renameat(from_folder, from, to_folder, to);
}

WRAP(int, stat, (const char *path, struct stat *found)) {
  return fails(FAULT_PLACE, EACCES) ? -1 : __real_stat(path, found);
}

WRAP(int, fstat, (int fd, struct stat *found)) {
  return fails(FAULT_PLACE, EACCES) ? -1 : __real_fstat(fd, found);
}

WRAP(int, fstatat, (int folder, const char *path, struct stat *found, int flags)) {
  return fails(FAULT_PLACE, EACCES) ? -1 : __real_fstatat(folder, path, found, flags);
}

WRAP(DIR *, opendir, (const char *path)) {
  return fails(FAULT_PLACE, EACCES) ? NULL : __real_opendir(path);
}

WRAP(int, pthread_create,
     (pthread_t * thread, const pthread_attr_t *attributes, void *(*run)(void *), void *context)) {
  return fails(FAULT_THREAD, EAGAIN) ? EAGAIN
                                     : __real_pthread_create(thread, attributes, run, context);
}

WRAP(int, socketpair, (int domain, int type, int protocol, int ends[2])) {
  return fails(FAULT_CHILD, EMFILE) ? -1 : __real_socketpair(domain, type, protocol, ends);
}

WRAP(int, posix_spawnp,
     (pid_t * pid, const char *file, const posix_spawn_file_actions_t *actions,
      const posix_spawnattr_t *attributes, char *const argv[], char *const variables[])) {
  return fails(FAULT_CHILD, EAGAIN)
             ? EAGAIN
             : __real_posix_spawnp(pid, file, actions, attributes, argv, variables);
}
