/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A set of files that appears whole. All calls name files relative to the open folder, so that a
 * folder that is moved or replaced meanwhile changes nothing; renaming replaces a link
 * and does not follow it. */
#include "tenter/base/output.h"

#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "tenter/base/alloc.h"
#include "tenter/base/names.h"

enum { TEMPORARY_SIZE = 64, TRIES = 1000 };

struct tenter_output {
  char *path;          /* of the folder, for messages */
  int folder, file;    /* -1 where not open */
  tenter_names *names; /* of the files of the set */
  uint32_t done;       /* those before it are renamed or removed */
  bool failed;         /* something of the set is missing: no commit */
  unsigned salt;       /* makes temporary names differ from leftovers of another run */
};

static tenter_status fail_file(const tenter_output *output, const char *name, const char *what,
                               int reason, tenter_error *error) {
  return tenter_fail(error, TENTER_FAILED, "%s/%s: %s: %s", output->path, name, what,
                     strerror(reason));
}

/* Makes the folder that path names and those above it. The slashes of path are put back. */
static tenter_status make_folders(char *path, tenter_error *error) {
  for (char *slash = path;;) {
    slash += strspn(slash, "/");
    slash += strcspn(slash, "/");
    char kept = *slash;
    *slash = '\0';
    bool made = mkdir(path, 0777) == 0 || errno == EEXIST;
    int reason = errno;
    struct stat found;
    /* A read-only disk says so even of folders that are there. */
    made = made || (stat(path, &found) == 0 && S_ISDIR(found.st_mode));
    if (!made)
      tenter_fail(error, TENTER_FAILED, "%s: the folder can't be made: %s", path, strerror(reason));
    *slash = kept;
    if (!made)
      return TENTER_FAILED;
    if (slash[strspn(slash, "/")] == '\0')
      return TENTER_OK;
  }
}

static tenter_status output_fill(tenter_output *output, const char *folder, tenter_error *error) {
  size_t length = strlen(folder);
  if (length == 0)
    return tenter_fail(error, TENTER_USAGE, "the name of the folder to write to is empty");
  output->path = tenter_alloc(length + 1, 1);
  output->names = tenter_names_new();
  if (output->path == NULL || output->names == NULL)
    return tenter_fail_memory(error);
  memcpy(output->path, folder, length);
  tenter_status status = make_folders(output->path, error);
  if (status != TENTER_OK)
    return status;
  output->folder = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (output->folder < 0 && errno == ENOTDIR)
    return tenter_fail(error, TENTER_USAGE, "%s: this is no folder; name one to write to", folder);
  if (output->folder < 0)
    return tenter_fail(error, TENTER_FAILED, "%s: the folder can't be opened: %s", folder,
                       strerror(errno));
  return TENTER_OK;
}

tenter_status tenter_output_open(const char *folder, tenter_output **output, tenter_error *error) {
  tenter_output *made = tenter_alloc(1, sizeof *made);
  if (made == NULL)
    return tenter_fail_memory(error);
  made->folder = made->file = -1;
  tenter_status status = output_fill(made, folder, error);
  if (status != TENTER_OK) {
    tenter_output_free(made);
    return status;
  }
  *output = made;
  return TENTER_OK;
}

static void temporary_name(const tenter_output *output, uint32_t id, char name[TEMPORARY_SIZE]) {
  snprintf(name, TEMPORARY_SIZE, ".tenter-%ld-%u-%u.tmp", (long)getpid(), output->salt,
           (unsigned)id);
}

/* The place must be free or a regular file: no link, folder or device is written through. */
static tenter_status check_place(const tenter_output *output, const char *name,
                                 tenter_error *error) {
  struct stat found;
  if (fstatat(output->folder, name, &found, AT_SYMLINK_NOFOLLOW) != 0)
    return errno == ENOENT ? TENTER_OK
                           : fail_file(output, name, "the file can't be written", errno, error);
  if (S_ISREG(found.st_mode))
    return TENTER_OK;
  const char *kind = S_ISLNK(found.st_mode)   ? "a link"
                     : S_ISDIR(found.st_mode) ? "a folder"
                                              : "no regular file";
  return tenter_fail(error, TENTER_FAILED,
                     "%s/%s: there is %s of that name, and it is not written to; remove it or name "
                     "another folder",
                     output->path, name, kind);
}

/* What is written must be on the disk before it takes the place of what was there. */
static tenter_status close_file(tenter_output *output, tenter_error *error) {
  if (output->file < 0)
    return TENTER_OK;
  int synced = fdatasync(output->file), reason = errno;
  if (synced != 0 && (reason == EINVAL || reason == ENOSYS))
    synced = 0; /* a file system that has nothing to flush */
  int closed = close(output->file);
  if (synced == 0)
    reason = errno;
  output->file = -1;
  if (synced == 0 && closed == 0)
    return TENTER_OK;
  const char *name = tenter_names_get(output->names, tenter_names_count(output->names) - 1);
  return fail_file(output, name, "writing failed", reason, error);
}

static tenter_status open_temporary(tenter_output *output, const char *name, tenter_error *error) {
  uint32_t id = tenter_names_count(output->names);
  char temporary[TEMPORARY_SIZE];
  for (int tries = 0; output->file < 0; tries++) {
    temporary_name(output, id, temporary);
    output->file = openat(output->folder, temporary,
                          O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0666);
    if (output->file >= 0)
      break;
    /* Only the first name of a set may still choose the salt that all of them share. */
    if (errno != EEXIST || id != 0 || tries == TRIES)
      return fail_file(output, name, "the file can't be made", errno, error);
    output->salt++;
  }
  if (tenter_names_add(output->names, tenter_text_of(name)) != TENTER_NO_NAME)
    return TENTER_OK;
  unlinkat(output->folder, temporary, 0);
  close(output->file);
  output->file = -1;
  return tenter_fail_memory(error);
}

static tenter_status fail_set(const tenter_output *output, tenter_error *error) {
  return tenter_fail(error, TENTER_FAILED,
                     "%s: an earlier file of the set could not be written, so none is",
                     output->path);
}

static tenter_status begin(tenter_output *output, const char *name, tenter_error *error) {
  tenter_status status = close_file(output, error);
  if (status != TENTER_OK)
    return status;
  if (*name == '\0' || strchr(name, '/') != NULL || strcmp(name, ".") == 0 ||
      strcmp(name, "..") == 0)
    return tenter_fail(error, TENTER_FAILED, "'%s' can't be the name of a file", name);
  if (tenter_names_find(output->names, tenter_text_of(name)) != TENTER_NO_NAME)
    return tenter_fail(error, TENTER_FAILED, "%s/%s: the file would be written twice", output->path,
                       name);
  status = check_place(output, name, error);
  return status == TENTER_OK ? open_temporary(output, name, error) : status;
}

tenter_status tenter_output_begin(tenter_output *output, const char *name, tenter_error *error) {
  if (output->failed)
    return fail_set(output, error);
  tenter_status status = begin(output, name, error);
  output->failed = status != TENTER_OK;
  return status;
}

tenter_status tenter_output_write(tenter_output *output, const void *bytes, size_t length,
                                  tenter_error *error) {
  const char *from = bytes;
  if (output->failed || output->file < 0)
    return fail_set(output, error);
  while (length > 0) {
    ssize_t done = write(output->file, from, length);
    if (done < 0 && errno == EINTR)
      continue;
    if (done < 0) {
      int reason = errno;
      output->failed = true;
      const char *name = tenter_names_get(output->names, tenter_names_count(output->names) - 1);
      return fail_file(output, name, "writing failed", reason, error);
    }
    from += done;
    length -= (size_t)done;
  }
  return TENTER_OK;
}

tenter_status tenter_output_put(tenter_output *output, const char *name,
                                const tenter_buffer *content, tenter_error *error) {
  if (content->failed) {
    output->failed = true;
    return tenter_fail_memory(error);
  }
  tenter_status status = tenter_output_begin(output, name, error);
  return status == TENTER_OK ? tenter_output_write(output, content->bytes, content->length, error)
                             : status;
}

static tenter_status rename_one(const tenter_output *output, uint32_t id, tenter_error *error) {
  char temporary[TEMPORARY_SIZE];
  temporary_name(output, id, temporary);
  const char *name = tenter_names_get(output->names, id);
  if (renameat(output->folder, temporary, output->folder, name) != 0)
    return fail_file(output, name, "the file can't be put in its place", errno, error);
  return TENTER_OK;
}

static void remove_rest(tenter_output *output) {
  char temporary[TEMPORARY_SIZE];
  for (; output->done < tenter_names_count(output->names); output->done++) {
    temporary_name(output, output->done, temporary);
    unlinkat(output->folder, temporary, 0);
  }
}

tenter_status tenter_output_commit(tenter_output *output, tenter_error *error) {
  tenter_status status = output->failed ? fail_set(output, error) : close_file(output, error);
  uint32_t count = tenter_names_count(output->names);
  for (uint32_t id = output->done; id < count && status == TENTER_OK; id++)
    status = check_place(output, tenter_names_get(output->names, id), error);
  while (output->done < count && status == TENTER_OK) {
    status = rename_one(output, output->done, error);
    if (status == TENTER_OK)
      output->done++;
  }
  remove_rest(output);
  return status;
}

void tenter_output_free(tenter_output *output) {
  if (output == NULL)
    return;
  if (output->file >= 0)
    close(output->file);
  if (output->folder >= 0) {
    remove_rest(output);
    close(output->folder);
  }
  tenter_names_free(output->names);
  tenter_free(output->path);
  tenter_free(output);
}
