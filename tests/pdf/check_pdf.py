# SPDX-License-Identifier: GPL-3.0-or-later
"""PDFs of write_pdf, read by poppler: what they say of themselves, fonts, text, where each word stands."""
import html
import os
import re
import shutil
import subprocess
import sys
import unicodedata

made, tenter, datasets = sys.argv[1:4]
if not shutil.which("pdftotext"):
    print("poppler-utils is missing")
    sys.exit(77)
failures = []


def check(holds, what):
    if not holds:
        failures.append(what)


def run(*words):
    return subprocess.run(words, cwd=made, check=True, capture_output=True).stdout.decode("utf-8")


def info(name):
    lines = run("pdfinfo", name).splitlines()
    return {key: value.strip() for key, value in (line.split(":", 1) for line in lines if ":" in line)}


def pages(name):
    """Of each page: its size and its words as (text, left, top, right, bottom)."""
    found = []
    for page in re.findall(r'<page (.*?)</page>', run("pdftotext", "-bbox", name, "-"), re.S):
        size = [float(x) for x in re.match(r'width="([\d.]+)" height="([\d.]+)"', page).groups()]
        words = [(html.unescape(text), *(float(x) for x in box)) for *box, text in re.findall(
            r'<word xMin="([-\d.]+)" yMin="([-\d.]+)" xMax="([-\d.]+)" yMax="([-\d.]+)">(.*?)</word>', page)]
        found.append((size, words))
    return found


def check_frame(name, found):
    for number, (size, words) in enumerate(found, 1):
        for text, left, top, right, bottom in words:
            if all(unicodedata.combining(letter) for letter in text):
                continue  # marks piled on marks reach as high as they are piled
            inside = left >= 30 and top >= 20 and right <= size[0] - 30 and bottom <= size[1] - 20
            check(inside, f"{name}, page {number}: {text[:20]!r} stands outside the frame")


def check_apart(name, found):
    """No word is set over another one."""
    for number, (size, words) in enumerate(found, 1):
        words = sorted(words, key=lambda word: word[2])
        for i, (text, left, top, right, bottom) in enumerate(words):
            for other, l, t, r, b in words[i + 1:]:
                if t >= bottom:
                    break  # and so do all that follow
                across, down = min(right, r) - max(left, l), min(bottom, b) - max(top, t)
                check(across < 1 or down < 4, f"{name}, page {number}: {text[:20]!r} over {other[:20]!r}")


def check_fonts(name):
    rows = [line.split() for line in run("pdffonts", name).splitlines()[2:]]
    check(rows and all(row[-5] == "yes" for row in rows), f"{name}: every font is embedded")
    check(all(row[-3] == "yes" for row in rows), f"{name}: every font says which letters it has")


def check_everything(name, size):
    about, found = info(name), pages(name)
    check(about["Title"] == "One of everything", f"{name}: title")
    check(about["Author"] == "The house", f"{name}: author")
    check(about["CreationDate"].startswith("Tue Nov  3 23:59:59 2026"), f"{name}: dated as of")
    check(about["JavaScript"] == "no" and about["Encrypted"] == "no", f"{name}: nothing runs")
    raw = open(os.path.join(made, name), "rb").read()
    check(b"/Lang (de-CH)" in raw and b"/DisplayDocTitle true" in raw, f"{name}: language")
    check(raw.rstrip().endswith(b"%%EOF") and raw.count(b"%%EOF") == 2, f"{name}: one update")
    check("not" not in run("pdfinfo", "-struct", name), f"{name}: structure")
    upright, wide = size, size[::-1]
    for number, (is_size, words) in enumerate(found, 1):
        text = [word[0] for word in words]
        sheet = "warp" in text
        check([round(x) for x in is_size] == (wide if sheet else upright), f"{name}, page {number}: size")
        line = " ".join(text)
        check(f"Seite {number} von {len(found)}" in line, f"{name}: number of page {number}")
        check("fingerprint 0123456789abcdef" in line, f"{name}: foot of page {number}")
        check(("One of everything" in line), f"{name}: head of page {number}")
        if any(re.fullmatch(r"N-\d+", word) for word in text):
            check("Tension" in text and "Why" in text, f"{name}, page {number}: header again")
        if any(re.fullmatch(r"B-\d+", word) for word in text):
            check("Sheet" in text and "weft" in text, f"{name}, page {number}: header of the sheet")
    all_words = [word[0] for _, words in found for word in words]
    check([w for w in all_words if re.fullmatch(r"N-\d+", w)] == [f"N-{i}" for i in range(100)],
          f"{name}: every row, once, in order")
    check([w for w in all_words if re.fullmatch(r"B-\d+", w)] == [f"B-{i}" for i in range(40)],
          f"{name}: every row of the sheet")
    check(all_words.count("inside") == 3, f"{name}: words of pictures are text")
    check(len(run("pdfimages", "-list", name).splitlines()) == 2, f"{name}: pictures are vectors")
    check_frame(name, found)
    check_apart(name, found)
    check_fonts(name)
    check_marks(name, found)


def check_marks(name, found):
    """Numbers stand with their marks under each other: 7, 18.5, 118.25 and -3.125 of one column."""
    for number, (_, words) in enumerate(found, 1):
        marks = []
        for text, left, _, right, _ in words:
            if text in ("7", "18.5", "118.25", "\u22123.125"):
                digit = (right - left) / (len(text) - 0.5 * ("." in text))  # the mark is half a digit
                after = len(text) - text.index(".") - 1 if "." in text else -0.5
                marks.append(right - after * digit)
        check(not marks or max(marks) - min(marks) < 1.5, f"{name}, page {number}: marks {marks[:4]}")


def check_hostile():
    name = "hostile.pdf"
    found = pages(name)
    text = run("pdftotext", name, "-")
    check(info(name)["Title"].startswith('<b>bold</b> & "title" %s (paren\\) \ufffd[31m'), "title as it stands")
    check("<span foreground='red' size='99999'>" in text.replace("\n", " "), "markup is text")
    check("/JavaScript" in text and info(name)["JavaScript"] == "no", "nothing of PDF's own is believed")
    check(not re.search(r"[\x00-\x08\x0b\x0e-\x1f\x7f\u202d\u202e\u2066-\u2069]", text), "no control characters")
    check("desrever" in text, "the direction of writing is not turned")
    check(text.count("W") >= 10000 * 3, "the long id is whole")
    check(len(re.findall(r"\bword\b", text)) >= 20000 * 3, "the long text is whole, over pages")
    check(text.count("Donaudampfschifffahrtsgesellschaft") == 60, "a table too wide is set as records")
    check_frame(name, found)
    check_fonts(name)


def check_demo():
    """The reports of the demo shop: every screen is there, nothing is set over anything."""
    demo = os.path.join(datasets, "demo")
    for command, size in ((["review"], "a4"), (["lots"], "letter"), (["screen", "S-023", "S-001"], "a4")):
        folder = os.path.join(made, "demo")
        subprocess.run([tenter, *command, "--quiet", "--out", folder, "--pdf", "--paper", size, demo],
                       check=True, stdout=subprocess.DEVNULL)
        name = os.path.join("demo", command[0] + ".pdf")
        found = pages(name)
        check_frame(name, found)
        check_apart(name, found)
        check_fonts(name)
        check(round(found[0][0][0]) == (595 if size == "a4" else 612), f"{name}: paper")
        if command == ["review"]:
            listed = {word[0] for _, words in found for word in words}
            with open(os.path.join(made, "demo", "screens.csv"), encoding="utf-8") as table:
                ids = [line.split(",")[0] for line in table][1:]
            check(ids and set(ids) <= listed, f"{name}: every screen")


check_everything("a4.pdf", [595, 842])
check_everything("letter.pdf", [612, 792])
check(open(os.path.join(made, "a4.pdf"), "rb").read() == open(os.path.join(made, "again.pdf"), "rb").read(),
      "the same bytes again")
check_hostile()
check_demo()
for failure in failures[:20]:
    print("FAILED:", failure)
sys.exit(1 if failures else 0)
