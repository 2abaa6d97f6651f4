/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The language of a PDF, and that its title is shown: added to the catalogue that cairo wrote, by
 * an incremental update (ISO 32000-1, 7.5.6): the new catalogue, a cross-reference of that one
 * object, a trailer that leads to the old one. */
#include <stdlib.h>
#include <string.h>

#include "sheet.h"

/* The last place of what within the bytes from start on; NULL where there is none. */
static const char *last_of(const tenter_buffer *pdf, size_t start, const char *what) {
  size_t length = strlen(what);
  for (size_t at = pdf->length; at >= start + length; at--)
    if (memcmp(pdf->bytes + at - length, what, length) == 0)
      return pdf->bytes + at - length;
  return NULL;
}

/* The number behind a key of the trailer; -1. */
static long number_after(const char *from, const char *key) {
  const char *at = from != NULL ? strstr(from, key) : NULL;
  return at != NULL ? strtol(at + strlen(key), NULL, 10) : -1;
}

/* Letters, digits and hyphens only: a tag can't end the string it stands in. */
static bool is_tag(const char *language) {
  return language[0] != '\0' &&
         strspn(language, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-") ==
             strlen(language);
}

bool pdf_set_language(tenter_buffer *pdf, size_t start, const char *language) {
  if (tenter_buffer_string(pdf) == NULL || !is_tag(language))
    return false;
  const char *trailer = last_of(pdf, start, "trailer");
  long size = number_after(trailer, "/Size "), root = number_after(trailer, "/Root ");
  long info = number_after(trailer, "/Info "), xref = number_after(trailer, "startxref");
  if (size <= 0 || root <= 0 || xref <= 0)
    return false;
  tenter_buffer head = {0}, added = {0};
  tenter_buffer_print(&head, "\n%ld 0 obj\n<<", root);
  const char *name = tenter_buffer_string(&head);
  const char *object = name != NULL ? last_of(pdf, start, name) : NULL;
  const char *end = object != NULL ? strstr(object, "endobj") : NULL;
  if (end != NULL) {
    const char *rest = object + head.length;
    tenter_buffer_print(&added,
                        "%ld 0 obj\n<< /Lang (%s)\n   /ViewerPreferences << "
                        "/DisplayDocTitle true >>\n",
                        root, language);
    tenter_buffer_add(&added, rest, (size_t)(end - rest));
    size_t at = pdf->length - start, table = at + added.length + strlen("endobj\n");
    tenter_buffer_print(&added, "endobj\nxref\n%ld 1\n%010zu 00000 n \n", root, at);
    tenter_buffer_print(&added, "trailer\n<< /Size %ld\n   /Root %ld 0 R\n", size, root);
    if (info > 0)
      tenter_buffer_print(&added, "   /Info %ld 0 R\n", info);
    tenter_buffer_print(&added, "   /Prev %ld\n>>\nstartxref\n%zu\n%%%%EOF\n", xref, table);
    pdf->failed |= added.failed;
    tenter_buffer_add(pdf, added.bytes, added.length);
  }
  tenter_buffer_release(&head);
  tenter_buffer_release(&added);
  return end != NULL;
}
