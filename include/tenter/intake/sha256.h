/* SPDX-License-Identifier: GPL-3.0-or-later */
/* SHA-256 (FIPS 180-4) of bytes that come piece by piece; libcrypto does the work. */
#ifndef TENTER_INTAKE_SHA256_H
#define TENTER_INTAKE_SHA256_H

#include <stdbool.h>
#include <stddef.h>

enum { TENTER_SHA256_SIZE = 65 }; /* 64 hexadecimal digits and a NUL */

typedef struct tenter_sha256 tenter_sha256;

/* A hash of nothing yet; NULL when memory runs out. */
tenter_sha256 *tenter_sha256_new(void);
void tenter_sha256_free(tenter_sha256 *hash);

bool tenter_sha256_add(tenter_sha256 *hash, const void *bytes, size_t length);

/* Ends the hash: its lower-case hexadecimal digits. Nothing may be added after. */
bool tenter_sha256_end(tenter_sha256 *hash, char digits[TENTER_SHA256_SIZE]);

/* All in one. */
bool tenter_sha256_of(const void *bytes, size_t length, char digits[TENTER_SHA256_SIZE]);

#endif
