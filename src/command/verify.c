/* SPDX-License-Identifier: GPL-3.0-or-later */
/* tenter certificate --verify: is this what was issued? Says what holds, what differs, what was not
 * there to be checked; and what all that proves. */
#include "verify.h"

#include <stdio.h>
#include <string.h>

#include "tenter/base/alloc.h"
#include "tenter/base/file.h"
#include "tenter/intake/vouch.h"
#include "tenter/report/escape.h"
#include "tenter/report/json.h"

/* One check on its way. */
typedef struct checking {
  const command_call *call;
  tenter_arena *arena;
  const char *certificate;
  tenter_vouch vouch;
  bool *seen; /* by file of the certificate: found unchanged */
  size_t checked, wrong;
  tenter_buffer out;
  tenter_json json; /* in the format of JSON */
} checking;

static const char *base_name(const char *path) {
  const char *slash = strrchr(path, '/');
  return slash ? slash + 1 : path;
}

static bool as_json(const checking *c) {
  return c->call->format == FORMAT_JSON;
}

/* "certificate.html: unchanged" */
static void say(checking *c, const char *path, const char *code, const char *words) {
  if (as_json(c)) {
    tenter_json_line(&c->json);
    tenter_json_open(&c->json, NULL, '{');
    tenter_json_text(&c->json, "file", path);
    tenter_json_text(&c->json, "answer", code);
    tenter_json_close(&c->json, '}');
    return;
  }
  tenter_escape_terminal(&c->out, path);
  tenter_buffer_print(&c->out, ": %s\n", words);
}

/* ---- the certificate itself ----------------------------------------------------------------- */

/* The file of that name among the words, or in a folder among them. */
static tenter_status find_certificate(checking *c, tenter_error *error) {
  for (size_t i = 0; i < c->call->word_count; i++) {
    const char *word = c->call->words[i];
    tenter_path_kind kind;
    tenter_status status = tenter_path_look(word, &kind, error);
    if (status != TENTER_OK)
      return status;
    if (kind == TENTER_PATH_FOLDER) {
      const char *inside = tenter_arena_print(c->arena, "%s/certificate.json", word);
      if (!inside)
        return tenter_fail_memory(error);
      if (tenter_path_look(inside, &kind, error) != TENTER_OK || kind != TENTER_PATH_OTHER)
        continue;
      word = inside;
    } else {
      const char *dot = strrchr(base_name(word), '.');
      if (!dot || strcmp(dot, ".json") != 0)
        continue;
    }
    if (c->certificate && !tenter_path_same(c->certificate, word))
      return tenter_fail(error, TENTER_USAGE, "two certificates: %s and %s; check one at a time",
                         c->certificate, word);
    c->certificate = word;
  }
  if (c->certificate)
    return TENTER_OK;
  return tenter_fail(error, TENTER_USAGE,
                     "--verify needs the certificate's own data: name certificate.json, or the "
                     "folder it is in");
}

static void judge_itself(checking *c) {
  c->checked++;
  if (!c->vouch.seal_holds)
    say(c, c->certificate, "changed",
        "CHANGED since it was issued: its seal does not hold. What it says can't be relied on");
  else if (!c->vouch.fingerprint_holds)
    say(c, c->certificate, "changed", "CHANGED: its fingerprint is not that of its data");
  else
    say(c, c->certificate, "unchanged", "unchanged, its seal and its fingerprint hold");
  c->wrong += !c->vouch.seal_holds || !c->vouch.fingerprint_holds;
}

/* ---- other files ---------------------------------------------------------------------------- */

static tenter_status check_file(checking *c, const char *path, bool found_in_folder,
                                tenter_error *error) {
  static const char *const codes[] = {"unchanged", "renamed", "changed", "foreign"};
  static const char *const words[] = {
      "unchanged", "unchanged, under another name", "CHANGED: it is not what the certificate names",
      "NO PART of this certificate: neither its name nor its bytes are known to it"};
  if (tenter_path_same(path, c->certificate))
    return TENTER_OK;
  char digits[TENTER_SHA256_SIZE];
  tenter_status status = tenter_vouch_hash(path, digits, error);
  if (status != TENTER_OK)
    return status;
  const tenter_vouched *named;
  tenter_vouch_answer answer = tenter_vouch_ask(&c->vouch, path, digits, &named);
  if (found_in_folder && answer == TENTER_VOUCH_FOREIGN)
    return TENTER_OK; /* other things may lie there */
  if (answer == TENTER_VOUCH_UNCHANGED || answer == TENTER_VOUCH_RENAMED)
    c->seen[named - c->vouch.files] = true;
  else
    c->wrong++;
  c->checked++;
  say(c, path, codes[answer], words[answer]);
  return TENTER_OK;
}

static tenter_status check_folder(checking *c, const char *folder, tenter_error *error) {
  char **paths;
  size_t count;
  tenter_status status = tenter_folder_list(folder, c->arena, &paths, &count, error);
  for (size_t i = 0; i < count && status == TENTER_OK; i++) {
    tenter_path_kind kind;
    status = tenter_path_look(paths[i], &kind, error);
    if (status == TENTER_OK && kind == TENTER_PATH_OTHER)
      status = check_file(c, paths[i], true, error);
  }
  return status;
}

static tenter_status check_words(checking *c, tenter_error *error) {
  tenter_status status = TENTER_OK;
  for (size_t i = 0; i < c->call->word_count && status == TENTER_OK; i++) {
    tenter_path_kind kind;
    status = tenter_path_look(c->call->words[i], &kind, error);
    if (status != TENTER_OK)
      break;
    status = kind == TENTER_PATH_FOLDER ? check_folder(c, c->call->words[i], error)
                                        : check_file(c, c->call->words[i], false, error);
  }
  return status;
}

static void say_missing(checking *c) {
  for (size_t i = 0; i < c->vouch.file_count; i++)
    if (!c->seen[i])
      say(c, c->vouch.files[i].file, "not_checked",
          c->vouch.files[i].issued ? "not checked: not given, or not as issued"
                                   : "not checked (an input): not given, or not as it was");
}

/* ---- what it proves ------------------------------------------------------------------------- */

static void conclude(checking *c) {
  const tenter_vouch *v = &c->vouch;
  bool holds = c->wrong == 0;
  if (as_json(c)) {
    tenter_json_close(&c->json, ']');
    tenter_json_flag(&c->json, "unchanged", holds);
    tenter_json_name(&c->json, "fingerprint", v->fingerprint);
    tenter_json_close(&c->json, '}');
    tenter_buffer_byte(&c->out, '\n');
    return;
  }
  if (v->seal_holds) {
    tenter_buffer_text(&c->out, "\nCertificate");
    tenter_buffer_text(&c->out, *v->order ? " of order " : "");
    tenter_escape_terminal(&c->out, v->order);
    tenter_buffer_text(&c->out, *v->customer ? " for " : "");
    tenter_escape_terminal(&c->out, v->customer);
    tenter_buffer_text(&c->out, *v->issuer ? " by " : "");
    tenter_escape_terminal(&c->out, v->issuer);
    tenter_buffer_print(&c->out, ", %zu screens, as of ", v->certified);
    tenter_escape_terminal(&c->out, v->as_of);
    tenter_buffer_text(&c->out, "\nFingerprint ");
    tenter_escape_terminal(&c->out, v->fingerprint);
    tenter_buffer_byte(&c->out, '\n');
  }
  tenter_buffer_print(&c->out, "\n%s: %zu checked, %zu not as issued.\n",
                      holds ? "IT HOLDS" : "IT DOES NOT HOLD", c->checked, c->wrong);
  if (holds)
    tenter_buffer_text(&c->out,
                       "What this proves: not one digit of what was checked has changed since the\n"
                       "certificate was issued.\n");
  tenter_buffer_text(
      &c->out, "What it does not prove: who issued it (anyone can make a certificate, and a seal\n"
               "for it), or that the readings were true. Compare the fingerprint with the one on\n"
               "the signed copy, or ask the shop.\n");
}

static tenter_status check_all(checking *c, tenter_error *error) {
  tenter_status status = find_certificate(c, error);
  if (status == TENTER_OK)
    status = tenter_vouch_read(c->certificate, c->arena, &c->vouch, error);
  if (status != TENTER_OK)
    return status;
  c->seen = tenter_arena_alloc(c->arena, c->vouch.file_count, sizeof *c->seen);
  if (!c->seen)
    return tenter_fail_memory(error);
  if (as_json(c)) {
    c->json = tenter_json_start(&c->out);
    tenter_json_open(&c->json, NULL, '{');
    tenter_json_open(&c->json, "checked", '[');
  }
  judge_itself(c);
  if (c->vouch.seal_holds)
    status = check_words(c, error);
  if (status == TENTER_OK) {
    say_missing(c);
    conclude(c);
  }
  return status;
}

int command_verify(const command_call *call, tenter_error *error) {
  if (call->order || call->customer || call->screen_count > 0 || call->out)
    return (int)tenter_fail(error, TENTER_USAGE,
                            "--verify takes files alone: no --order, --customer, --screen, --out");
  checking c = {.call = call, .arena = tenter_arena_new()};
  tenter_status status = c.arena ? check_all(&c, error) : tenter_fail_memory(error);
  if (status == TENTER_OK && c.out.failed)
    status = tenter_fail_memory(error);
  tenter_sink out = command_stdout();
  if (status == TENTER_OK)
    status = out.write(out.context, c.out.bytes, c.out.length, error);
  int answer = status == TENTER_OK && c.wrong > 0 ? EXIT_ACTION : (int)status;
  tenter_buffer_release(&c.out);
  tenter_arena_free(c.arena);
  return answer;
}
