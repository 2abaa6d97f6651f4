# SPDX-License-Identifier: GPL-3.0-or-later
"""The files of a review, read by Python's own readers: JSON against its schema, CSV against JSON,
HTML as a tree without anything that the data tried to put into it."""
import copy
import csv
import html.parser
import io
import json
import os
import re
import sys

try:
    import jsonschema
except ImportError:
    print("python3-jsonschema is missing")
    sys.exit(77)

made, schema_path = sys.argv[1:3]
schema = json.load(open(schema_path, encoding="utf-8"))
jsonschema.Draft202012Validator.check_schema(schema)
validator = jsonschema.Draft202012Validator(schema)
NASTY = "<script>document.title='run'</script>"
failures = []


def check(holds, what):
    if not holds:
        failures.append(what)


def path(*parts):
    return os.path.join(made, *parts)


def read_csv(folder, name):
    with open(path(folder, name), encoding="utf-8", newline="") as file:
        text = file.read()
    check(text.count("\n") == text.count("\r\n") + text.replace("\r\n", "").count("\n"), name)
    rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    check(all(len(row) == len(rows[0]) for row in rows), name + ": rows of one length")
    return [dict(zip(rows[0], row)) for row in rows[1:]]


def no_constant(word):
    raise ValueError(word + " is not JSON")


def number(text):
    return float(text) if text != "" else None


def check_json(folder):
    text = open(path(folder, "review.json"), encoding="utf-8").read()
    review = json.loads(text, parse_constant=no_constant)
    for error in list(validator.iter_errors(review))[:5]:
        check(False, f"{folder}/review.json: {error.json_path}: {error.message}")
    # The schema's order is the documented order of the keys.
    check(list(review) == schema["required"], "keys of review.json in order")
    screen = schema["properties"]["screens"]["items"]["required"]
    check(all(list(s) == screen for s in review["screens"]), "keys of screens in order")
    actions = ("use", "reread", "restretch", "withdraw")
    for action in actions:
        count = sum(s["action"] == action for s in review["screens"])
        check(review["summary"][action] == count, f"summary.{action} counts the screens")
    for screen in review["screens"]:
        worst = max([actions.index(r["action"]) for r in screen["reasons"]], default=0)
        check(actions[worst] == screen["action"], "the worst reason is the action")
    for source in review["inputs"]:
        check(source["rows"] == source["accepted"] + source["rejected"] + source["blank"]
              + source["repeated"], "rows are accounted for")
    check(any(s["screen"] == NASTY for s in review["screens"]), "ids stand as they are")
    return review


def check_schema_bites(review):
    """A review with a key missing, a word that is no verdict, or a text for a number is refused."""
    def refused(change):
        other = copy.deepcopy(review)
        change(other)
        return next(validator.iter_errors(other), None) is not None
    for key in schema["required"]:
        check(refused(lambda r, k=key: r.pop(k)), f"schema: {key} is required")
    for key in schema["properties"]["screens"]["items"]["required"]:
        check(refused(lambda r, k=key: r["screens"][0].pop(k)), f"schema: screens.{key} is required")
    check(refused(lambda r: r["screens"][0].update(action="burn")), "schema: actions")
    check(refused(lambda r: r["screens"][0].update(floor="18")), "schema: numbers")
    check(refused(lambda r: r.update(as_of="3 Nov")), "schema: times")


def check_tables(folder, review):
    screens = {s["screen"]: s for s in review["screens"]}
    rows = read_csv(folder, "screens.csv")
    check([r["screen"] for r in rows] == [s["screen"] for s in review["screens"]], "screens.csv")
    for row in rows:
        screen = screens[row["screen"]]
        check(row["action"] == screen["action"], "screens.csv: action")
        check(number(row["floor"]) == screen["floor"], "screens.csv: floor")
        check(number(row["now"]) == (screen["forecast"] or {}).get("now"), "screens.csv: now")
        check(number(row["mean"]) == (screen["latest"] or {}).get("mean"), "screens.csv: mean")
        check(row["reasons"].split() == [r["code"] for r in screen["reasons"]], "screens.csv: reasons")
    lots = read_csv(folder, "lots.csv")
    check([r["lot"] for r in lots] == [lot["lot"] or "" for lot in review["lots"]], "lots.csv")
    for row, lot in zip(lots, review["lots"]):
        for key in lot.keys() - {"lot", "mesh", "fast", "confounded_with"}:
            check(number(row[key]) == lot[key], f"lots.csv: {key}")
    alone = json.load(open(path(folder, "lots.json"), encoding="utf-8"))
    check(all(alone[key] == review[key] for key in ("run", "as_of", "lots", "populations")),
          "lots.json: the objects of review.json")
    check_worklist(folder, screens)
    check_sheet(folder, screens)
    rejected = read_csv(folder, "rejected.csv")
    check([r["line"] for r in rejected] == ["900", "901"], "rejected.csv: lines")
    check(rejected[1]["text"] == "=1+1,\"x\"\r\n\x1b[0m", "rejected.csv: the text as it stood")


def rack(row):
    return int(row["place"].split()[1])


def check_worklist(folder, screens):
    rows = read_csv(folder, "worklist.csv")
    wanted = {name for name, s in screens.items() if s["action"] != "use"}
    check({r["screen"] for r in rows} == wanted, "worklist.csv: every screen that needs something")
    check([rack(r) for r in rows] == sorted(rack(r) for r in rows), "worklist.csv: by place")
    check(sorted(int(r["order"]) for r in rows) == list(range(1, len(rows) + 1)), "worklist.csv: order")
    worst = ["withdraw", "restretch", "reread"]
    urgent = sorted(rows, key=lambda r: int(r["order"]))
    check([r["action"] for r in urgent] == sorted((r["action"] for r in rows), key=worst.index),
          "worklist.csv: the worst action is the most urgent")
    words = {"withdraw": "TAKE OUT OF USE", "restretch": "RE-STRETCH", "reread": "READ AGAIN"}
    check(all(r["do"] == words[r["action"]] for r in rows), "worklist.csv: words")
    week = re.compile(r"(20\d\d-W[0-5]\d)?$")
    check(all(week.match(r["due_week"]) and week.match(r["planned_week"]) for r in rows), "worklist.csv: weeks")
    check(all(0 <= float(r["value_of_reading"] or 0) <= 1 for r in rows), "worklist.csv: value of a reading")


def check_sheet(folder, screens):
    rows = read_csv(folder, "reading-sheet.csv")
    check(list(rows[0])[:6] == ["screen", "place", "mesh", "taken", "meter", "operator"], "sheet: head")
    points = list(rows[0])[6:]
    check(len(points) == 10 and "C warp" in points and "it's <b> weft" in points, "sheet: points")
    check(all(row[p] == "" for row in rows for p in points), "sheet: blank")
    names = {r["screen"] for r in rows}
    check(all(n in names for n, s in screens.items() if s["action"] == "reread"), "sheet: to be read")
    check(all(screens[n]["action"] in ("use", "reread") for n in names), "sheet: nothing to be stretched")
    falls = [i for i in range(1, len(rows)) if rack(rows[i]) < rack(rows[i - 1])]
    check(len(falls) <= 3, "sheet: by place, in at most four groups")


class Tree(html.parser.HTMLParser):
    """What a page holds: elements, ids, whether they nest."""
    VOID = {"meta", "input", "br", "hr", "img", "link"}

    def __init__(self):
        super().__init__()
        self.open, self.tags, self.ids, self.text = [], {}, [], []

    def handle_starttag(self, tag, attributes):
        self.tags[tag] = self.tags.get(tag, 0) + 1
        for name, value in attributes:
            check(not name.startswith("on"), f"an event handler: {name}={value}")
            if name == "id":
                self.ids.append(value)
            if name in ("src", "href", "xlink:href"):
                logo = tag == "img" and value.startswith("data:image/svg+xml;base64,")
                check(value.startswith("#") or logo, f"a link that leaves the page: {value}")
        if tag not in self.VOID and not self.get_starttag_text().endswith("/>"):
            self.open.append(tag)

    def handle_startendtag(self, tag, attributes):
        self.handle_starttag(tag, attributes)

    def handle_endtag(self, tag):
        check(bool(self.open) and self.open[-1] == tag, f"</{tag}> closes {self.open[-1:]}")
        if self.open:
            self.open.pop()

    def handle_data(self, data):
        self.text.append(data)


def check_html(folder, name):
    page = open(path(folder, name), encoding="utf-8").read()
    tree = Tree()
    tree.feed(page)
    tree.close()
    check(tree.open == [], f"{name}: all elements are closed")
    check(tree.tags.get("script") == 1, f"{name}: one script, the page's own")
    check(tree.tags.get("style") == 1, f"{name}: one style sheet, the page's own")
    check(tree.tags.get("img") == 1, f"{name}: no picture but the logo")
    check('alt="&lt;b&gt;The&lt;/b&gt; &quot;house&quot; &amp; Co"' in page, f"{name}: the house's name")
    check("<b>The" not in page, f"{name}: the house's name is no markup")
    check(len(set(tree.ids)) == len(tree.ids), f"{name}: ids are unique")
    check("\x1b" not in page and "\u202e" not in page, f"{name}: no control characters")
    check(page.count("Content-Security-Policy") == 1, f"{name}: content security policy")
    return tree, page


def check_meters(folder, review):
    tree, page = check_html(folder, "meter.html")
    meter = json.load(open(path(folder, "meter.json"), encoding="utf-8"))
    check(meter["meters"] == review["meters"], "meter.json: the meters of review.json")
    checked = {m["meter"] for m in meter["plates"]}
    check(checked <= {m["meter"] for m in review["meters"]}, "meter.json: plates of meters")
    drawn = [m for m in meter["plates"] if m["slope"] is not None]
    check(tree.tags.get("figure", 0) == len(drawn), "meter.html: a picture for each line")
    check(page.count('role="img"') == len(drawn), "meter.html: each picture is told in words")
    for m in meter["plates"]:
        for v in m["values"]:
            check(v["line_low"] is None or v["line_low"] <= v["line_high"], "meter.json: bands")


def check_pages(folder, review):
    tree, page = check_html(folder, "review.html")
    check(review["run"] in page, "the run id stands in the page")
    check(tree.tags.get("figure", 0) >= 12, "pictures")
    check(tree.tags.get("svg", 0) == tree.tags.get("figure") + 1, "each figure has its picture")
    check(page.count('role="img"') == page.count("<svg") - 1, "each picture is told in words")
    check_html(folder, "check.html")
    check_html(folder, "lots.html")
    check_meters(folder, review)
    checked = json.load(open(path(folder, "check.json"), encoding="utf-8"))
    check(checked["inputs"] == review["inputs"], "check and review report the same inputs")
    for key in ("problems", "columns", "shop"):
        check(key in checked, f"check.json: {key}")
    check(set(checked["shop"]) == {"screens", "mountings", "sessions", "readings", "lots", "meters"},
          "check.json: shop")


def check_intervals(folder, review):
    """interval.json against its schema, the review and its tables; what a curve must do."""
    own = json.load(open(os.path.join(os.path.dirname(schema_path), "interval.schema.json"), encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(own)
    bites = jsonschema.Draft202012Validator(own)
    whole = json.loads(open(path(folder, "interval.json"), encoding="utf-8").read(), parse_constant=no_constant)
    for error in list(bites.iter_errors(whole))[:5]:
        check(False, f"{folder}/interval.json: {error.json_path}: {error.message}")
    check(list(whole) == own["required"], "keys of interval.json in order")
    for key in own["required"]:
        check(next(bites.iter_errors({k: v for k, v in whole.items() if k != key}), None) is not None,
              f"interval schema: {key} is required")
    check(whole["intervals"] == review["intervals"] != [], "interval.json: the intervals of review.json")
    for mesh in whole["meshes"]:
        check(mesh["below"] == sorted(mesh["below"]) and len(mesh["days"]) == len(mesh["below"]), "share below")
    for row, interval in zip(read_csv(folder, "intervals.csv"), whole["intervals"], strict=True):
        check(row["lot"] == (interval["lot"] or "") and number(row["days"]) == interval["days"], "intervals.csv")
    for row, turn in zip(read_csv(folder, "plan.csv"), whole["plan"], strict=True):
        check(row["screen"] == turn["screen"] and row["week"] == turn["week"], "plan.csv")
    tree, page = check_html(folder, "interval.html")
    check(whole["run"] in page, "interval.html: the run id")
    check(tree.tags.get("svg", 0) - 1 == tree.tags.get("figure", 0) >= 1, "interval.html: pictures")


def check_screens(folder, review):
    """screen.json against its schema and the review; screen.html as a tree."""
    own = json.load(open(os.path.join(os.path.dirname(schema_path), "screen.schema.json"), encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(own)
    bites = jsonschema.Draft202012Validator(own)
    whole = json.loads(open(path(folder, "screen.json"), encoding="utf-8").read(), parse_constant=no_constant)
    for error in list(bites.iter_errors(whole))[:5]:
        check(False, f"{folder}/screen.json: {error.json_path}: {error.message}")
    for key in own["required"]:
        check(next(bites.iter_errors({k: v for k, v in whole.items() if k != key}), None) is not None,
              f"screen schema: {key} is required")
    screens = {s["screen"]: s for s in review["screens"]}
    check(NASTY in [s["screen"] for s in whole["screens"]] and len(whole["screens"]) > 10, "screen.json: screens")
    for story in whole["screens"]:
        shared = [k for k in screens[story["screen"]] if k in story]
        check(len(shared) >= 23 and all(story[k] == screens[story["screen"]][k] for k in shared),
              "screen.json: a screen as it stands in review.json")
        check(len(story["session_list"]) == story["sessions"], "screen.json: every session")
        for of in ("lot", "own"):
            laws = [law for law in story["laws"] if (law["of"] == "own") == (of == "own")]
            check(sum(law["chosen"] for law in laws) == 1, "screen.json: one law is chosen")
        for p in [p for law in story["laws"] for p in law["parameters"]]:
            given = p["limits"] == "given"
            check(given == (p["low"] is not None or p["low_open"]) == (p["high"] is not None or p["high_open"]),
                  "screen.json: limits where they are given")
            check(not given or ((p["low"] is None or p["low"] <= p["value"])
                                and (p["high"] is None or p["value"] <= p["high"])), "screen.json: limits hold the value")
    limits = [p["limits"] for s in whole["screens"] for law in s["laws"] for p in law["parameters"]]
    check("given" in limits and "each its own" in limits, "screen.json: limits of both kinds")
    bad = copy.deepcopy(whole)
    bad["screens"][0]["laws"][0]["parameters"][0]["low_open"] = "no"
    check(next(bites.iter_errors(bad), None) is not None, "screen schema: flags")
    for key in own["$defs"]["story"]["required"]:
        bad = copy.deepcopy(whole)
        bad["screens"][0].pop(key)
        check(next(bites.iter_errors(bad), None) is not None, f"screen schema: {key} of a story is required")
    tree, page = check_html(folder, "screen.html")
    check(whole["run"] in page, "screen.html: the run id")
    check(tree.tags.get("svg", 0) - 1 == tree.tags.get("figure", 0) >= 10, "screen.html: pictures")


def check_certificate(folder):
    """The certificate of a customer whose name, and whose screens' names, are markup."""
    certificate_schema = json.load(open(os.path.join(os.path.dirname(schema_path),
                                                     "certificate.schema.json"), encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(certificate_schema)
    bites = jsonschema.Draft202012Validator(certificate_schema)
    text = open(path(folder, "certificate.json"), encoding="utf-8").read()
    whole = json.loads(text, parse_constant=no_constant)
    for error in list(bites.iter_errors(whole))[:5]:
        check(False, f"{folder}/certificate.json: {error.json_path}: {error.message}")
    for key in certificate_schema["required"]:
        check(next(bites.iter_errors({k: v for k, v in whole.items() if k != key}), None) is not None,
              f"certificate schema: {key} is required")
    data = whole["data"]
    check(data["customer"] == 'Buyer <b>&"1"', "certificate: the customer's name as it stands")
    check(0 < data["certified"] < len(data["screens"]), "certificate: some certified, some not")
    check(all(s["certified"] == (s["refused"] == []) for s in data["screens"]),
          "certificate: a screen is certified or refused for a reason")
    rows = read_csv(folder, "certificate.csv")
    for row, screen in zip(rows, data["screens"], strict=True):
        check(row["screen"] == screen["screen"], "certificate.csv: ids as they stand")
        check(row["refused"].split(";") == ([r["code"] for r in screen["refused"]] or [""]),
              "certificate.csv: refusals")
        check(number(row["mean"]) == (screen["reading"] or {}).get("mean"), "certificate.csv: mean")
    tree, page = check_html(folder, "certificate.html")
    check(whole["fingerprint"] in page, "the fingerprint stands in the page")
    check(tree.tags.get("svg", 0) - 1 == tree.tags.get("figure", 0) > 2, "certificate: pictures")


for folder in ("small", "large"):
    check_certificate(folder)
    review = check_json(folder)
    check_tables(folder, review)
    check_pages(folder, review)
    check_intervals(folder, review)
    check_screens(folder, review)
    if folder == "small":
        check_schema_bites(review)
size = os.path.getsize(path("large", "review.html"))
check(size < 3_000_000, f"a page of 1000 screens is under 3 MB ({size})")
check(not os.path.exists(path("pwned")), "nothing in the data was run")
for failure in failures[:20]:
    print("FAILED:", failure)
sys.exit(1 if failures else 0)
