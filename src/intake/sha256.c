/* SPDX-License-Identifier: GPL-3.0-or-later */
/* SHA-256 through libcrypto's EVP door, which picks the processor's own instructions. */
#include "tenter/intake/sha256.h"

#include <openssl/evp.h>

#include "tenter/base/alloc.h"

struct tenter_sha256 {
  EVP_MD_CTX *context;
};

tenter_sha256 *tenter_sha256_new(void) {
  tenter_sha256 *hash = tenter_alloc(1, sizeof *hash);
  if (!hash)
    return NULL;
  hash->context = EVP_MD_CTX_new();
  if (hash->context && EVP_DigestInit_ex(hash->context, EVP_sha256(), NULL) == 1)
    return hash;
  tenter_sha256_free(hash);
  return NULL;
}

void tenter_sha256_free(tenter_sha256 *hash) {
  if (!hash)
    return;
  EVP_MD_CTX_free(hash->context);
  tenter_free(hash);
}

bool tenter_sha256_add(tenter_sha256 *hash, const void *bytes, size_t length) {
  return length == 0 || EVP_DigestUpdate(hash->context, bytes, length) == 1;
}

bool tenter_sha256_end(tenter_sha256 *hash, char digits[TENTER_SHA256_SIZE]) {
  static const char hexadecimal[] = "0123456789abcdef";
  unsigned char bytes[EVP_MAX_MD_SIZE];
  unsigned length = 0;
  if (EVP_DigestFinal_ex(hash->context, bytes, &length) != 1 || length != 32)
    return false;
  for (unsigned i = 0; i < length; i++) {
    digits[2 * i] = hexadecimal[bytes[i] >> 4];
    digits[2 * i + 1] = hexadecimal[bytes[i] & 15];
  }
  digits[64] = '\0';
  return true;
}

bool tenter_sha256_of(const void *bytes, size_t length, char digits[TENTER_SHA256_SIZE]) {
  tenter_sha256 *hash = tenter_sha256_new();
  bool done = hash && tenter_sha256_add(hash, bytes, length) && tenter_sha256_end(hash, digits);
  tenter_sha256_free(hash);
  return done;
}
