/* SPDX-License-Identifier: GPL-3.0-or-later */
/* SHA-256 of a file beside its parsing, of the very bytes that were parsed. */
#include <pthread.h>

#include "chunk.h"
#include "tenter/base/alloc.h"
#include "tenter/intake/sha256.h"

enum { MOST_WAITING = 16 }; /* chunks whose bytes may wait in memory */

typedef struct waiting {
  tenter_buffer buffer;
  size_t from, length;
  bool there;
} waiting;

struct hasher {
  pthread_mutex_t lock;  /* of all below but sha */
  pthread_mutex_t hands; /* of sha: who holds it hashes */
  tenter_sha256 *sha;
  waiting *chunks;
  size_t count, next, queued;
  tenter_buffer spare[MOST_WAITING];
  size_t spare_count;
  bool failed;
};

hasher *tenter__hasher_new(size_t chunk_count) {
  hasher *made = tenter_alloc(1, sizeof *made);
  if (!made)
    return NULL;
  pthread_mutex_init(&made->lock, NULL);
  pthread_mutex_init(&made->hands, NULL);
  made->sha = tenter_sha256_new();
  made->chunks = tenter_alloc(chunk_count + 1, sizeof *made->chunks);
  made->count = chunk_count;
  if (made->sha && made->chunks)
    return made;
  tenter__hasher_free(made);
  return NULL;
}

void tenter__hasher_free(hasher *of) {
  if (!of)
    return;
  for (size_t i = 0; of->chunks && i < of->count; i++)
    tenter_buffer_release(&of->chunks[i].buffer);
  for (size_t i = 0; i < of->spare_count; i++)
    tenter_buffer_release(&of->spare[i]);
  tenter_sha256_free(of->sha);
  tenter_free(of->chunks);
  pthread_mutex_destroy(&of->lock);
  pthread_mutex_destroy(&of->hands);
  tenter_free(of);
}

tenter_buffer tenter__hasher_buffer(hasher *of) {
  tenter_buffer buffer = {0};
  pthread_mutex_lock(&of->lock);
  if (of->spare_count > 0)
    buffer = of->spare[--of->spare_count];
  pthread_mutex_unlock(&of->lock);
  buffer.length = 0;
  return buffer;
}

/* The next chunk in order, taken out of the queue; false where it is not there yet. */
static bool take_next(hasher *of, waiting *taken) {
  pthread_mutex_lock(&of->lock);
  bool there = of->next < of->count && of->chunks[of->next].there;
  if (there) {
    *taken = of->chunks[of->next];
    of->chunks[of->next++].buffer = (tenter_buffer){0};
    of->queued--;
  }
  pthread_mutex_unlock(&of->lock);
  return there;
}

static void give_back(hasher *of, tenter_buffer *buffer, bool good) {
  pthread_mutex_lock(&of->lock);
  of->failed = of->failed || !good;
  if (of->spare_count < MOST_WAITING) {
    of->spare[of->spare_count++] = *buffer;
    *buffer = (tenter_buffer){0};
  }
  pthread_mutex_unlock(&of->lock);
  tenter_buffer_release(buffer);
}

static void hash_on(hasher *of) {
  waiting next;
  while (take_next(of, &next)) {
    bool good =
        next.length == 0 || tenter_sha256_add(of->sha, next.buffer.bytes + next.from, next.length);
    give_back(of, &next.buffer, good);
  }
}

void tenter__hasher_give(hasher *of, size_t number, tenter_buffer buffer, size_t from,
                         size_t length) {
  pthread_mutex_lock(&of->lock);
  of->chunks[number] = (waiting){buffer, from, length, true};
  bool long_queue = ++of->queued > MOST_WAITING;
  pthread_mutex_unlock(&of->lock);
  /* With few in the queue nobody waits for the one who hashes. */
  if (long_queue)
    pthread_mutex_lock(&of->hands);
  else if (pthread_mutex_trylock(&of->hands) != 0)
    return;
  hash_on(of);
  pthread_mutex_unlock(&of->hands);
}

bool tenter__hasher_end(hasher *of, char digits[65]) {
  hash_on(of);
  return !of->failed && of->next == of->count && tenter_sha256_end(of->sha, digits);
}
