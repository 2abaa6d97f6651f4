/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reading files by pread, so that threads can share one. What is no regular file is found out
 * before it is opened (opening a pipe or a device can have effects) and once more after. */
#include "tenter/base/file.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "tenter/base/alloc.h"

enum { SPOOL_PIECE = 1 << 16 };

struct tenter_file {
  char *name;
  int fd;
  uint64_t size;
  dev_t device;
  ino_t inode;
};

static const char *kind_of(mode_t mode) {
  if (S_ISDIR(mode))
    return "a folder";
  if (S_ISFIFO(mode))
    return "a pipe";
  if (S_ISSOCK(mode))
    return "a socket";
  return "a device";
}

static tenter_status refuse_kind(const char *path, mode_t mode, tenter_error *error) {
  return tenter_fail(error, TENTER_INPUT, "%s: this is %s; only regular files can be read%s", path,
                     kind_of(mode), S_ISFIFO(mode) ? " (standard input is named by -)" : "");
}

/* Too many open files and the like are no fault of the input. */
static tenter_status fail_open(const char *path, int reason, tenter_error *error) {
  bool environment = reason == EMFILE || reason == ENFILE || reason == ENOMEM;
  return tenter_fail(error, environment ? TENTER_FAILED : TENTER_INPUT, "%s: can't be read: %s",
                     path, strerror(reason));
}

static tenter_status open_path(const char *path, int *fd, tenter_error *error) {
  struct stat found;
  if (stat(path, &found) != 0)
    return fail_open(path, errno, error);
  if (!S_ISREG(found.st_mode))
    return refuse_kind(path, found.st_mode, error);
  /* O_NONBLOCK: should a pipe have taken its place, opening it must not wait for a writer. */
  *fd = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC | O_NOCTTY);
  return *fd < 0 ? fail_open(path, errno, error) : TENTER_OK;
}

/* A file without a name in TMPDIR (or /tmp). */
static tenter_status open_unnamed(int *fd, tenter_error *error) {
  const char *folder = getenv("TMPDIR");
  if (folder == NULL || *folder == '\0')
    folder = "/tmp";
  static const char stem[] = "/tenter-XXXXXX";
  size_t length = strlen(folder);
  char *path = tenter_alloc(length + sizeof stem, 1);
  if (path == NULL)
    return tenter_fail_memory(error);
  memcpy(path, folder, length);
  memcpy(path + length, stem, sizeof stem);
  tenter_status status = TENTER_OK;
  *fd = mkstemp(path);
  if (*fd < 0)
    status = tenter_fail(error, TENTER_FAILED,
                         "%s: no temporary file can be made for standard input: %s; set TMPDIR to "
                         "a folder with room",
                         folder, strerror(errno));
  else if (unlink(path) != 0 || fcntl(*fd, F_SETFD, FD_CLOEXEC) != 0)
    status = tenter_fail(error, TENTER_FAILED, "%s: %s", path, strerror(errno));
  tenter_free(path);
  return status;
}

static tenter_status write_all(int fd, const char *bytes, size_t length, tenter_error *error) {
  while (length > 0) {
    ssize_t done = write(fd, bytes, length);
    if (done < 0 && errno == EINTR)
      continue;
    if (done < 0)
      return tenter_fail(error, TENTER_FAILED,
                         "standard input can't be kept in a temporary file: %s; set TMPDIR to a "
                         "folder with room",
                         strerror(errno));
    bytes += done;
    length -= (size_t)done;
  }
  return TENTER_OK;
}

static tenter_status spool(int fd, tenter_error *error) {
  char piece[SPOOL_PIECE];
  for (;;) {
    ssize_t got = read(STDIN_FILENO, piece, sizeof piece);
    if (got == 0)
      return TENTER_OK;
    if (got < 0 && errno == EINTR)
      continue;
    if (got < 0 && errno == EAGAIN) { /* somebody made it non-blocking */
      struct pollfd wait = {.fd = STDIN_FILENO, .events = POLLIN};
      poll(&wait, 1, -1);
      continue;
    }
    if (got < 0)
      return tenter_fail(error, TENTER_INPUT, "standard input can't be read: %s", strerror(errno));
    tenter_status status = write_all(fd, piece, (size_t)got, error);
    if (status != TENTER_OK)
      return status;
  }
}

/* A regular file at its start ("tenter check - < readings.csv") needs no copy. */
static tenter_status open_standard_input(int *fd, tenter_error *error) {
  struct stat found;
  if (fstat(STDIN_FILENO, &found) == 0 && S_ISREG(found.st_mode) &&
      lseek(STDIN_FILENO, 0, SEEK_CUR) == 0) {
    *fd = fcntl(STDIN_FILENO, F_DUPFD_CLOEXEC, 0);
    return *fd < 0 ? fail_open("standard input", errno, error) : TENTER_OK;
  }
  tenter_status status = open_unnamed(fd, error);
  return status == TENTER_OK ? spool(*fd, error) : status;
}

static tenter_status file_fill(tenter_file *file, const char *path, tenter_error *error) {
  bool standard = strcmp(path, "-") == 0;
  const char *name = standard ? "standard input" : path;
  size_t length = strlen(name);
  file->name = tenter_alloc(length + 1, 1);
  if (file->name == NULL)
    return tenter_fail_memory(error);
  memcpy(file->name, name, length);
  tenter_status status =
      standard ? open_standard_input(&file->fd, error) : open_path(path, &file->fd, error);
  if (status != TENTER_OK)
    return status;
  struct stat found;
  if (fstat(file->fd, &found) != 0)
    return fail_open(name, errno, error);
  if (!S_ISREG(found.st_mode))
    return refuse_kind(name, found.st_mode, error);
  file->size = (uint64_t)found.st_size;
  file->device = found.st_dev;
  file->inode = found.st_ino;
  return TENTER_OK;
}

tenter_status tenter_file_open(const char *path, tenter_file **file, tenter_error *error) {
  tenter_file *made = tenter_alloc(1, sizeof *made);
  if (made == NULL)
    return tenter_fail_memory(error);
  made->fd = -1;
  tenter_status status = file_fill(made, path, error);
  if (status != TENTER_OK) {
    tenter_file_close(made);
    return status;
  }
  *file = made;
  return TENTER_OK;
}

void tenter_file_close(tenter_file *file) {
  if (file == NULL)
    return;
  if (file->fd >= 0)
    close(file->fd);
  tenter_free(file->name);
  tenter_free(file);
}

const char *tenter_file_name(const tenter_file *file) {
  return file->name;
}

uint64_t tenter_file_size(const tenter_file *file) {
  return file->size;
}

bool tenter_file_same(const tenter_file *a, const tenter_file *b) {
  return a->device == b->device && a->inode == b->inode;
}

tenter_status tenter_file_read(const tenter_file *file, uint64_t offset, void *bytes, size_t length,
                               size_t *got, tenter_error *error) {
  uint64_t there = offset < file->size ? file->size - offset : 0;
  if (length > there)
    length = (size_t)there;
  size_t done = 0;
  while (done < length) {
    ssize_t part = pread(file->fd, (char *)bytes + done, length - done, (off_t)(offset + done));
    if (part < 0 && errno == EINTR)
      continue;
    if (part < 0)
      return tenter_fail(error, TENTER_FAILED, "%s: reading failed: %s", file->name,
                         strerror(errno));
    if (part == 0)
      return tenter_fail(error, TENTER_INPUT,
                         "%s: the file became shorter while it was read; read it again when "
                         "nothing writes to it",
                         file->name);
    done += (size_t)part;
  }
  *got = done;
  return TENTER_OK;
}

tenter_status tenter_file_slurp(const char *path, size_t limit, tenter_buffer *buffer,
                                tenter_error *error) {
  tenter_file *file = NULL;
  tenter_status status = tenter_file_open(path, &file, error);
  if (file == NULL)
    return status;
  if (file->size > limit) {
    status = tenter_fail(error, TENTER_INPUT, "%s: the file has %llu bytes; at most %zu are read",
                         file->name, (unsigned long long)file->size, limit);
  } else if (file->size > 0) {
    size_t got = 0;
    char *room = tenter_buffer_room(buffer, (size_t)file->size);
    status = room == NULL ? tenter_fail_memory(error)
                          : tenter_file_read(file, 0, room, (size_t)file->size, &got, error);
    buffer->length += got;
  }
  tenter_file_close(file);
  return status;
}

bool tenter_path_same(const char *a, const char *b) {
  struct stat one, two;
  return stat(a, &one) == 0 && stat(b, &two) == 0 && one.st_dev == two.st_dev &&
         one.st_ino == two.st_ino;
}

tenter_status tenter_path_look(const char *path, tenter_path_kind *kind, tenter_error *error) {
  struct stat found;
  *kind = TENTER_PATH_NOTHING;
  if (stat(path, &found) == 0)
    *kind = S_ISDIR(found.st_mode) ? TENTER_PATH_FOLDER : TENTER_PATH_OTHER;
  else if (errno != ENOENT && errno != ENOTDIR)
    return fail_open(path, errno, error);
  return TENTER_OK;
}

/* A growing list of names, each a string of its own in the arena. */
typedef struct list {
  char **paths;
  size_t count, room;
} list;

static bool list_add(list *names, tenter_arena *arena, const char *folder, const char *name) {
  if (names->count == names->room) {
    size_t room = names->room == 0 ? 64 : names->room * 2;
    char **paths = tenter_resize(names->paths, room, sizeof *paths);
    if (paths == NULL)
      return false;
    names->paths = paths;
    names->room = room;
  }
  size_t length = strlen(folder);
  const char *slash = length > 0 && folder[length - 1] == '/' ? "" : "/";
  char *path = tenter_arena_print(arena, "%s%s%s", folder, slash, name);
  if (path == NULL)
    return false;
  names->paths[names->count++] = path;
  return true;
}

static int by_bytes(const void *a, const void *b) {
  return strcmp(*(char *const *)a, *(char *const *)b);
}

static tenter_status list_fill(list *names, DIR *folder, const char *path, tenter_arena *arena,
                               tenter_error *error) {
  for (;;) {
    errno = 0;
    const struct dirent *entry = readdir(folder);
    if (entry == NULL)
      return errno == 0 ? TENTER_OK : fail_open(path, errno, error);
    if (strcmp(entry->d_name, ".") == 0 || strcmp(entry->d_name, "..") == 0)
      continue;
    if (!list_add(names, arena, path, entry->d_name))
      return tenter_fail_memory(error);
  }
}

static tenter_status list_hand_over(const list *names, tenter_arena *arena, char ***paths,
                                    size_t *count, tenter_error *error) {
  char **kept = tenter_arena_alloc(arena, names->count, sizeof *kept);
  if (kept == NULL)
    return tenter_fail_memory(error);
  if (names->count > 0) {
    memcpy(kept, names->paths, names->count * sizeof *kept);
    qsort(kept, names->count, sizeof *kept, by_bytes);
  }
  *paths = kept;
  *count = names->count;
  return TENTER_OK;
}

tenter_status tenter_folder_list(const char *path, tenter_arena *arena, char ***paths,
                                 size_t *count, tenter_error *error) {
  DIR *folder = opendir(path);
  if (folder == NULL)
    return fail_open(path, errno, error);
  list names = {0};
  tenter_status status = list_fill(&names, folder, path, arena, error);
  closedir(folder);
  if (status == TENTER_OK)
    status = list_hand_over(&names, arena, paths, count, error);
  tenter_free(names.paths);
  return status;
}
