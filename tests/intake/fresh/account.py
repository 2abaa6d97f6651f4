#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Independent account of the sets: reads the files with the csv module only,
applies one reader's understanding of the text, writes expected.json.
Per file the kind, delimiter, decimal mark, date order and unit factor are
given by hand (they are part of the expectation); rows are counted here.
Lines that the text leaves open are listed by hand in `unsure` with a word why:
then accepted/rejected/blank/repeated are null, and sure_* fields say the rest."""
import csv, io, json, os, re
from datetime import datetime
csv.field_size_limit(10**7)
HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = HERE + "/sets"
CLOCK = datetime(2026, 11, 26)          # nothing in the sets lies near it

def text(path):
    b = open(path, "rb").read()
    if b[:2] == b"\xff\xfe": return b[2:].decode("utf-16-le")
    if b[:2] == b"\xfe\xff": return b[2:].decode("utf-16-be")
    if b[:3] == b"\xef\xbb\xbf": return b[3:].decode("utf-8")
    try: return b.decode("utf-8")
    except UnicodeDecodeError: return b.decode("cp1252")

def records(path, delim):
    r = csv.reader(io.StringIO(text(path), newline=""), delimiter=delim)
    last = 0
    for row in r:
        yield last + 1, row
        last = r.line_num

def when(s, order):
    s = s.strip()
    if not s: return None, "no date"
    if order == "iso":
        fs = ["%Y-%m-%d"] + [f"%Y-%m-%d{sep}{h}" for sep in " T" for h in ("%H:%M", "%H:%M:%S")]
    else:
        fs = [d + h for d in ("%d.%m.%Y", "%d/%m/%Y") for h in ("", " %H:%M", " %H:%M:%S")]
    for f in fs:
        try: d = datetime.strptime(s, f)
        except ValueError: continue
        if not 1970 <= d.year <= 2100: return None, f"year {d.year} outside 1970-2100"
        if d > CLOCK: return None, f"{s} is later than the clock plus a day"
        return d, None
    return None, f"unreadable date {s!r}"

def number(s, dec):
    s = s.strip()
    pat = r"[+-]?\d+(\.\d+)?" if dec == "." else r"[+-]?\d+([.,]\d+)?"
    return float(s.replace(",", ".")) if re.fullmatch(pat, s) else None

def tension(s, dec, factor):
    if not s.strip(): return "no tension"
    v = number(s, dec)
    if v is None: return f"tension {s.strip()!r} is no number"
    v *= factor
    return None if 1 <= v <= 100 else f"tension {v:g} N/cm outside 1-100"

LBF = 4.4482216152605 / 2.54
def F(file, table, delim=",", dec=".", order="iso", factor=1.0, unsure=None, amb=(), skip=None, cols=None):
    return dict(file=file, table=table, delim=delim, dec=dec, order=order, factor=factor, unsure=unsure or {}, amb=list(amb), skip=skip, cols=cols)

L, W, G, E, C = "readings long", "readings wide", "register", "events", "meter checks"
def account(s, f, seen):
    path = f"{ROOT}/{s}/{f['file']}"
    recs = list(records(path, f["delim"]))
    head = recs[0][1]
    def norm(h):
        h = re.sub(r"[\(\[].*?[\)\]]", "", h)
        return re.sub(r"[\s_.]", "", h).lower()
    n = [norm(h) for h in head]
    def col(*names):
        for i, h in enumerate(n):
            if h in names: return i
    iscr = col("screen", "screenid", "screenno"); iat = col("taken", "at", "date/time", "datetime", "date")
    iten = col("tension"); imet = col("meter")
    acc = rep = bla = 0; rej = []; uns = []
    for line, row in recs[1:]:
        cells = [c.strip() for c in row]
        def cell(i): return cells[i] if i is not None and i < len(cells) else ""
        if line in f["unsure"]: uns.append(line); continue
        if not any(cells): bla += 1; continue
        why = None
        if f["table"] == C:
            if not cell(imet): why = "no meter"
        elif not cell(iscr): why = "no screen id"
        if not why and f["table"] != G: why = when(cell(iat), f["order"])[1]
        if not why and f["table"] == L: why = tension(cell(iten), f["dec"], f["factor"])
        if not why and f["table"] == W:
            for i, h in enumerate(n):
                if re.fullmatch(r"((centre|nw|se|r\dc\d)?(warp|weft))", h) and (w := tension(cell(i), f["dec"], f["factor"])):
                    why = f"{head[i]}: {w}"
        if not why and f["table"] == E and not cell(col("event")): why = "no event"
        if not why and f["table"] == C:
            for c in ("nominal", "indicated"):
                if number(cell(col(c)), f["dec"]) is None: why = f"{c} {cell(col(c))!r} is no number"
        if why: rej.append((line, why)); continue
        key = (f["table"], tuple(n), tuple(cells))
        if key in seen: rep += 1
        else: seen.add(key); acc += 1
    rows = len(recs) - 1
    assert rows == acc + len(rej) + bla + rep + len(uns), (s, f["file"])
    out = dict(file=f["file"], table=f["table"], rows=rows)
    if uns or f["amb"]:
        out.update(accepted=None, rejected=None, blank=None, repeated=None, rejected_lines=None)
        out.update(sure_accepted=acc, sure_rejected=len(rej), sure_blank=bla, sure_repeated=rep, sure_rejected_lines=[l for l, _ in rej],
                   reasons={str(l): w for l, w in rej}, ambiguous=[f"line {l}: {f['unsure'][l]}" for l in uns] + f["amb"])
    else:
        out.update(accepted=acc, rejected=len(rej), blank=bla, repeated=rep, rejected_lines=[l for l, _ in rej], reasons={str(l): w for l, w in rej})
    return out

def X(file, table=None, why=None):      # a file in a set refused as a whole
    return dict(file=file, table=table, refused=why)

SETS = [
("01-plain-four-tables", 0, [F("events.csv", E), F("meter-checks.csv", C), F("readings.csv", L), F("register.csv", G)], "Clean; the four kinds, comma, ISO."),
("02-umlauts-1252", 0, [F("april-anfang.csv", L, ";", ",", "dmy"), F("april-ende.csv", L, ";", ",", "dmy"), F("siebe.csv", G, ";", ",")],
  "Windows-1252, CRLF, decimal comma. april-anfang alone has only days 3-6 in month 4; april-ende (same header, days 21-24) decides day first for both. Ids keep their umlauts."),
("03-wide-utf16", 0, [F("quick-look.csv", W), F("register.csv", G, ";"), F("sessions.csv", W, "\t")],
  "UTF-16LE tab, UTF-16BE ;, UTF-8 BOM comma; wide; a row of only tabs is blank; one row repeated; one unreadable date."),
("04-quoted-notes", 0, [F("bench-log.csv", L)],
  "Quoted CRLF / LF inside fields, doubled quotes, bare inch marks in an unquoted field, BOM, three empty lines (one inside, two at the end) counted as blank rows. rejected_lines = physical line where the row starts."),
("05-pipe-words", 0, [
   F("abbreviations.csv", L, "|", unsure={5: "'wf' as abbreviation", 4: "'wp' as abbreviation", 2: "'wa' as abbreviation", 3: "'we' as abbreviation", 6: "'WP' as abbreviation", 7: "'Wf.' as abbreviation (full stop in a value)"},
     amb=["'the usual abbreviations' are not listed, and it is not said what becomes of a row whose direction is not known: rejected, or accepted without direction"]),
   F("date-and-time-apart.csv", L, "|", unsure={4: "same day, place and value as line 2, other Time: accepted if Time is used (or if the unmatched cell counts for 'exact repetition'), repeated if Time is an unmatched column"},
     amb=["separate Date and Time columns are not mentioned in the text: is Time joined to Date, or an unmatched column (times lost, rows at noon)? Is 'Date' a synonym for taken?"]),
   F("floor.csv", L, "|")],
  "Pipe; position words in several cases; T date-times with seconds."),
("06-misnamed-units", 0, [F("moment.csv", L), F("newton.csv", L), F("per-square.csv", L, ";", ","), F("square-inch.csv", L, "\t")],
  "N, N/cm² (cp1252), Nm, N/in2: taken as N/cm with a warning for each, never converted. newton.csv uses 'Screen No.' (is it among the usual synonyms?; if not, exit 3 naming that file)."),
("07-real-units", 0, [F("kilo.csv", L, ";", ",", factor=10), F("newton-metre-width.csv", L, factor=.01), F("pounds.csv", L, factor=LBF)],
  "Limits 1-100 N/cm taken to hold after conversion: N/m/100, kN/m*10, lbf/in*1.7513."),
("08-impossible-values", 0, [
   F("meter.csv", C), F("readings.csv", L),
   F("register.csv", G, unsure={3: "needed_on 2027-01-15: 'nothing later than the clock plus a day' must surely not hold for a date by which a screen is needed, but the text makes no exception", 4: "target 'high': whole row rejected, or the cell only?", 5: "frame 'wooden' is neither glued nor retensionable: rejected, or kept as text?"})],
  "Every way a reading can be untrue; two unmatched columns with one name (Humidity) are harmless; register line 8 is all blank cells."),
("09-repeats-and-link", 0, [F("export-a.csv", L), F("export-b.csv", L), F("trials.csv", L)],
  "Folder also holds export-b-link.csv, a symbolic link to export-b.csv: read once, so total rows = 21+8+5 (the account may name either name; the link sorts first in byte order). Five rows of export-b repeat export-a's; by file this assumes name order. Same place/time/other value is accepted; trial 1 and 2 are two readings."),
("10-events", 0, [F("events.csv", E)],
  "washed / dropped from the rack are unknown words: accepted, kept as notes, listed. Row of only commas and an empty last line are blank."),
("11-odd-ids", 0, [F("odd-register.csv", G), F("odd.csv", L)],
  "All ids accepted as they stand; '  S-1  ' is S-1; 23 distinct screens in odd.csv. An id of 400 letters taken as allowed. Ids beginning with = - + @ should be shown so that a spreadsheet does not run them, yet unchanged: text silent."),
("12-day-first", 0, [F("begin-march.csv", L, order="dmy"), F("events.csv", E, order="dmy"), F("rest-march.csv", L, order="dmy", unsure={})],
  "begin-march alone is undecided (days 2,5,9 of month 3), rest-march (same header) decides. One 31/06 (no such day either way; see the ambiguity about a typing error among day-first dates) and one 27/03/2099 are rejected, not a reason to refuse. events.csv decides for itself."),
("13-ambiguous-dates", 3, [X("spring.csv", L, "dates fit dd/mm and mm/dd"), X("summer.csv", L, "same")], "Refused: both files share a header and no date in them decides; the error must show both readings and print the tenter.ini line."),
("14-empty-file", 3, [X("good.csv", L, "not at fault"), X("nothing.csv", None, "0 bytes: an empty table")], "Refused although good.csv is fine; error names nothing.csv."),
("15-header-only", 3, [X("events.csv", E, "header, no rows: an empty table"), X("good.csv", L, "not at fault")], "Refused; names events.csv. (Ambiguous: a header-only export of a shop that had no events yet might be harmless, but 'an empty table ... exit 3'.)"),
("16-no-table", 3, [X("good.csv", L, "not at fault"), X("paint.csv", None, "header Paint,Litres,Price is none of the tables")], "Refused; names paint.csv, what was looked for, what was found."),
("17-workbook", 3, [X("good.csv", L, "not at fault"), X("tension.csv", None, "zip magic PK: a workbook or archive")], "Refused with a word on what it is and how to export a table."),
("18-duplicate-headers", None, [X("readings.csv", L, "'tension' and 'Tension (N/cm)' are the same header after matching")], "Expected 3 (a header that can't be understood), but the text does not say; taking one of the two in silence would be the worst outcome."),
("19-grid-and-xy", 0, [F("grid.csv", L, "\t"), F("wide-grid.csv", W, ";", ","), F("xy.csv", L)],
  "r1c1..r3c3 in both cases of letter (upper case taken as the same), wide grid headers, x,y in quoted cells with decimal point, negative and 0,0 (= the middle)."),
("20-messy-shop", 0, [
   F("checks.csv", C, unsure={2: "nominal 0 (a zero check): are the limits 1-100 for meter checks too?", 6: "nominal 200: same question"},
     amb=["lines 3,4: date only, equal in all cells: repeated by the text although it may be a second check that day; line 5: another value, accepted"]),
   F("events.csv", E, unsure={2: "'Stretched' with a capital: the event stretched, or another word?", 3: "'RETENSIONED': same", 4: "'haze removed' with a blank for _: same (all accepted either way; only the meaning is open)", 5: "printed without count: accepted with count unknown, or rejected?", 6: "count 'many': rejected or cell ignored?", 7: "count -50", 8: "count '1,200' (thousands mark)", 9: "event empty: rejected, surely, but 'other words are kept as notes'", 10: "coated with a count: ignored or a fault?"}),
   F("readings.csv", L, unsure={
     3: "one empty cell too many", 4: "one filled cell too many (unquoted comma in note)", 5: "two optional cells missing at the end", 6: "tension cell missing: rejected either way (too few cells / no tension)",
     7: "line 2 again, only operator differs: exact repetition?", 8: "line 2 again, 24.00 for 24.0", 9: "line 2 again, 'centre' for 'C'", 10: "header line again (joined exports): rejected for its date, or skipped?",
     11: "row of only commas: blank, surely", 12: "row of blanks and commas: blank, surely", 13: "empty line: blank, surely",
     15: "line 14 (rejected) again: rejected or repeated?", 16: "unknown place 'by the door'", 17: "unknown direction 'diagonal'", 18: "24,6 in a file with decimal points", 19: "unit in the cell", 20: "ISO 8601 basic form", 21: "ISO 8601 with Z (zone)", 22: "fraction of a second",
     23: "no position, no direction (both optional)", 24: "tension 100: is the limit inclusive?", 25: "tension 1: same"}),
   F("wide.csv", W, unsure={3: "one cell 'n/a' among good ones: row rejected, or the cell only?", 4: "one cell empty: surely fine", 5: "all readings empty: blank, rejected or accepted?", 6: "one cell 250: row or cell?", 7: "all cells n/a: rejected, surely"})],
  "One of each thing the text leaves open. Only the identity rows = accepted + rejected + blank + repeated and the sure_* fields bind."),
]
doc = {"clock_note": "made on 2026-11-25; 2099 and 2098 are the only future dates except needed_on 2027-01-15 in set 08", "sets": []}
tot = 0
for name, code, files, notes in SETS:
    here = {x for x in os.listdir(f"{ROOT}/{name}") if not os.path.islink(f"{ROOT}/{name}/{x}")}
    assert here == {f["file"] for f in files}, (name, here)
    seen = set(); fs = []
    for f in files:
        if "refused" in f:
            fs.append(dict(file=f["file"], table=f["table"], rows=None, accepted=None, rejected=None, blank=None, repeated=None, rejected_lines=None, why=f["refused"]))
        else: fs.append(account(name, f, seen))
    doc["sets"].append(dict(name=name, exit=code, files=fs, notes=notes))
assert len(SETS) == 20
GENERAL = open(HERE + "/ambiguities.txt").read().strip().split("\n")
doc["ambiguous"] = GENERAL
json.dump(doc, open(HERE + "/expected.json", "w"), ensure_ascii=False, indent=1)
for s in doc["sets"]:
    print(s["name"], s["exit"])
    for f in s["files"]:
        print("   ", f["file"], f["table"], *(f"{k}={f.get(k)}" for k in ("rows", "accepted", "rejected", "blank", "repeated", "rejected_lines")), f.get("reasons", ""), {k: v for k, v in f.items() if k.startswith("sure")} or "")
