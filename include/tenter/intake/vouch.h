/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Checking a certificate: does its own file hold together, and are other files those it names?
 *
 * What holds shows that nothing was changed since it was issued. It does not show who issued it:
 * whoever makes a new certificate makes a new seal. */
#ifndef TENTER_INTAKE_VOUCH_H
#define TENTER_INTAKE_VOUCH_H

#include <stdbool.h>
#include <stddef.h>

#include "tenter/base/arena.h"
#include "tenter/base/status.h"
#include "tenter/intake/sha256.h"

typedef struct tenter_vouched {
  const char *file, *sha256; /* as the certificate names it */
  bool issued;               /* with it; else an input or the config */
} tenter_vouched;

typedef struct tenter_vouch {
  bool seal_holds, fingerprint_holds; /* the second only where the first does */
  /* read only where the seal holds; "" where not given */
  const char *fingerprint, *program, *as_of, *issuer, *customer, *order;
  size_t certified;
  tenter_vouched *files;
  size_t file_count;
} tenter_vouch;

/* Reads certificate.json at path; texts in arena. TENTER_INPUT where it can't be read, or ends in
 * no seal: then it is no certificate, or was cut off. */
tenter_status tenter_vouch_read(const char *path, tenter_arena *arena, tenter_vouch *vouch,
                                tenter_error *error);

/* The SHA-256 of a file. */
tenter_status tenter_vouch_hash(const char *path, char digits[TENTER_SHA256_SIZE],
                                tenter_error *error);

typedef enum tenter_vouch_answer {
  TENTER_VOUCH_UNCHANGED, /* it bears a name and the hash that goes with it */
  TENTER_VOUCH_RENAMED,   /* the hash is known, under another name */
  TENTER_VOUCH_CHANGED,   /* the name is known, with another hash */
  TENTER_VOUCH_FOREIGN    /* neither */
} tenter_vouch_answer;

/* What the certificate says of a file of this path and hash; *named (may be NULL) is the row it
 * rests on, NULL for FOREIGN. Names are compared without their folders. */
tenter_vouch_answer tenter_vouch_ask(const tenter_vouch *vouch, const char *path,
                                     const char *digits, const tenter_vouched **named);

#endif
