# SPDX-License-Identifier: GPL-3.0-or-later
"""The page of a review in headless Chromium, driven over its debugging pipe: complete without
script, sorts and filters with it, nothing overflows at 380 px, 1200 px and A4, text keeps a contrast of
4.5 (WCAG 2.1, 1.4.3) in light and dark, nothing is loaded or run that is not the page's own.
With a third argument the screenshots are written into that folder."""
import base64
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile

made = sys.argv[1]
shots = sys.argv[3] if len(sys.argv) > 3 else None
chromium = shutil.which("chromium") or shutil.which("chromium-browser")
if chromium is None:
    print("chromium is missing")
    sys.exit(77)
failures = []


def check(holds, what):
    if not holds:
        failures.append(what)


class Browser:
    """Commands and answers are JSON, each ended by a NUL, over two pipes (descriptors 3 and 4)."""

    def __init__(self):
        self.profile = tempfile.mkdtemp()
        inward, self.send_to = os.pipe()
        self.read_from, outward = os.pipe()
        # The child finds its ends at 3 and 4.
        command = (f'exec 3<&{inward} 4>&{outward}; exec "$0" "$@"')
        self.process = subprocess.Popen(
            ["bash", "-c", command, chromium, "--headless", "--no-sandbox", "--disable-gpu",
             "--disable-background-networking", "--no-first-run", "--remote-debugging-pipe",
             "--hide-scrollbars", f"--user-data-dir={self.profile}", "about:blank"],
            pass_fds=(inward, outward), stderr=subprocess.DEVNULL)
        os.close(inward)
        os.close(outward)
        self.rest, self.last, self.events = b"", 0, []

    def receive(self):
        while b"\0" not in self.rest:
            piece = os.read(self.read_from, 1 << 20)
            if not piece:
                raise EOFError("the browser has gone")
            self.rest += piece
        message, self.rest = self.rest.split(b"\0", 1)
        return json.loads(message)

    def call(self, method, session=None, **parameters):
        self.last += 1
        message = {"id": self.last, "method": method, "params": parameters}
        if session is not None:
            message["sessionId"] = session
        os.write(self.send_to, json.dumps(message).encode() + b"\0")
        while True:
            answer = self.receive()
            if answer.get("id") == self.last:
                if "error" in answer:
                    raise RuntimeError(f"{method}: {answer['error']}")
                return answer["result"]
            self.events.append(answer)

    def wait(self, name, session):
        while True:
            for event in self.events:
                if event.get("method") == name and event.get("sessionId") == session:
                    self.events.remove(event)
                    return
            self.events.append(self.receive())

    def close(self):
        self.call("Browser.close")
        self.process.wait(20)
        shutil.rmtree(self.profile, ignore_errors=True)


class Page:
    def __init__(self, browser, file, width, height=900, dark=False, script=True, media=""):
        self.browser = browser
        target = browser.call("Target.createTarget", url="about:blank")["targetId"]
        self.session = browser.call("Target.attachToTarget", targetId=target,
                                    flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Network", "Log"):
            self.call(f"{domain}.enable")
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=height,
                  deviceScaleFactor=1, mobile=False)
        self.call("Emulation.setEmulatedMedia", media=media, features=[
            {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}])
        self.call("Emulation.setScriptExecutionDisabled", value=not script)
        self.call("Page.navigate", url="file://" + os.path.abspath(file))
        browser.wait("Page.loadEventFired", self.session)

    def call(self, method, **parameters):
        return self.browser.call(method, self.session, **parameters)

    def value(self, expression):
        result = self.call("Runtime.evaluate", expression=expression, returnByValue=True)
        if "exceptionDetails" in result:
            raise RuntimeError(result["exceptionDetails"])
        return result["result"].get("value")

    def shot(self, name):
        if shots is None:
            return
        height = self.value("document.documentElement.scrollHeight")
        picture = self.call("Page.captureScreenshot", captureBeyondViewport=True, clip={
            "x": 0, "y": 0, "width": self.value("innerWidth"), "height": min(height, 6000),
            "scale": 1})
        with open(os.path.join(shots, name), "wb") as file:
            file.write(base64.b64decode(picture["data"]))


# Elements that stick out of the page, but for what lies within a table that scrolls by itself.
OVERFLOW = """(() => {
  const wide = document.documentElement.clientWidth + 1, out = [];
  if (document.documentElement.scrollWidth > wide) out.push('the page scrolls sideways');
  for (const e of document.body.querySelectorAll('*')) {
    const box = e.getBoundingClientRect();
    if (box.width > 0 && box.right > wide && !e.closest('.table'))
      out.push(e.tagName + ' ' + e.textContent.slice(0, 40));
  }
  return out.slice(0, 5);
})()"""

# The least contrast of text against what is behind it, with the text that has it.
CONTRAST = """(() => {
  const parts = c => c.match(/[\\d.]+/g).map(Number);
  const light = c => { const [r, g, b] = parts(c).slice(0, 3).map(v => {
    v /= 255; return v <= 0.03928 ? v / 12.92 : Math.pow((v + 0.055) / 1.055, 2.4); });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
  const behind = e => { for (; e; e = e.parentElement) {
    const c = getComputedStyle(e).backgroundColor, p = parts(c);
    if (p.length < 4 || p[3] > 0) return c; } return 'rgb(255,255,255)'; };
  let least = 99, where = '';
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let n = walk.nextNode(); n; n = walk.nextNode()) {
    const e = n.parentElement;
    if (!n.data.trim() || ['SCRIPT', 'STYLE'].includes(e.tagName) || !e.getClientRects().length)
      continue;
    const style = getComputedStyle(e);
    const ink = light(e.closest('svg') ? style.fill : style.color), paper = light(behind(e));
    const ratio = (Math.max(ink, paper) + 0.05) / (Math.min(ink, paper) + 0.05);
    if (ratio < least) { least = ratio; where = n.data.trim().slice(0, 40); }
  }
  return [least, where];
})()"""

FIRST = "[...document.querySelectorAll('#worklist tbody tr')].filter(r => !r.hidden)" \
        ".map(r => r.cells[%d].textContent)"


def check_layout(browser, file):
    for width in (380, 794, 1200):
        for dark in (False, True):
            page = Page(browser, file, width, dark=dark)
            over = page.value(OVERFLOW)
            check(over == [], f"{width} px: sticks out: {over}")
            least, where = page.value(CONTRAST)
            check(least >= 4.5, f"contrast {least:.2f} ({'dark' if dark else 'light'}): {where}")
            page.shot(f"{os.path.basename(file)[:-5]}-{width}{'-dark' if dark else ''}.png")


def check_script(browser, file):
    page = Page(browser, file, 1200)
    check(page.value("document.title") == "Screen review", "nothing of the data was run")
    check(page.value("document.querySelectorAll('thead [role=button]').length") > 20, "headers are buttons")
    before = page.value(FIRST % 0)
    press = "document.querySelectorAll('#worklist thead [role=button]')[0].click()"
    page.value(press)
    up = page.value(FIRST % 0)
    page.value(press)
    down = page.value(FIRST % 0)
    check(sorted(before) == sorted(up) == sorted(down), "sorting keeps all rows")
    check(up == down[::-1] and up != before, "sorting sorts, and turns round")
    page.value("""document.querySelectorAll('#worklist thead [role=button]')[2]
      .dispatchEvent(new KeyboardEvent('keydown', {key: 'Enter', cancelable: true}))""")
    check(page.value(FIRST % 2)[0] == "READ AGAIN", "sorting by keyboard")
    page.value(press), page.value(press)
    check(page.value("document.querySelector('#worklist thead th').getAttribute('aria-sort')")
          == "descending", "aria-sort")
    check(up.index("S-9") < up.index("S-10"), "ids sort as people expect")
    page.value("""(() => { const i = document.querySelector('#worklist input');
      i.value = 's-12'; i.dispatchEvent(new Event('input')); })()""")
    check(page.value(FIRST % 0) == ["S-12"], "filtering shows the row that holds the words")
    numbers = page.value("""(() => {
      const t = document.querySelector('#screens-table');
      t.querySelectorAll('thead [role=button]')[5].click();
      return [...t.tBodies[0].rows].map(r => r.cells[5].getAttribute('data-k'))
        .filter(k => k !== null).map(Number); })()""")
    check(len(numbers) > 5 and numbers == sorted(numbers), "numbers sort as numbers")


def check_without_script(browser, file):
    page = Page(browser, file, 1200, script=False)
    page.call("Emulation.setScriptExecutionDisabled", value=False)
    rows = page.value("document.querySelectorAll('#worklist tbody tr').length")
    check(rows > 10 and page.value("document.querySelectorAll('[role=button], input').length") == 0,
          "complete without script")
    check(page.value("getComputedStyle(document.querySelector('main')).maxWidth") != "none",
          "the style applies")


def check_first_screen(browser, file):
    page = Page(browser, file, 1200, height=800)
    top = page.value("document.querySelector('#worklist tbody tr').getBoundingClientRect().bottom")
    check(top < 800, f"what to do is in the first screenful ({top} px)")
    check(page.value("document.images[0].naturalWidth") == 30, "the logo is shown, by the page's own policy")
    check(page.value("document.querySelector('svg.accent').getBoundingClientRect().width") > 300, "the rule")


def check_quiet(browser):
    for event in browser.events:
        if event.get("method") == "Log.entryAdded":
            check(False, "the browser complains: " + event["params"]["entry"]["text"])
        if event.get("method") == "Network.requestWillBeSent":
            url = event["params"]["request"]["url"]
            page = url.startswith("file://") and url.endswith(".html")
            check(page or url.startswith("data:image/svg+xml;base64,"), f"something is loaded: {url}")


def check_print(browser, file):
    page = Page(browser, file, 794)
    pdf = base64.b64decode(page.call("Page.printToPDF", preferCSSPageSize=True,
                                     printBackground=False)["data"])
    pages = len(re.findall(rb"/Type\s*/Page\b", pdf))
    check(pdf.startswith(b"%PDF") and pages > 2, f"prints ({pages} pages)")
    boxes = set(re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", pdf))
    sizes = {(round(float(w)), round(float(h))) for w, h in boxes}
    check(any(w < h for w, h in sizes) and any(w > h for w, h in sizes),
          f"A4, and the sheet across ({sizes})")
    with open(os.path.join(shots or made, "review.pdf"), "wb") as out:
        out.write(pdf)
    if shutil.which("pdftotext"):
        text = subprocess.run(["pdftotext", "-layout", out.name, "-"], capture_output=True,
                              text=True, check=True).stdout
        heads = len(re.findall(r"^[\f ]*Screen +Place +Do +When +Why$", text, re.M))
        check(heads > 1, f"print: the head of a table stands on each of its pages ({heads})")
    printed = Page(browser, file, 703, media="print")  # A4 less its margins, 186 mm
    printed.value("document.querySelector('.sheet').remove()")  # it has pages of its own, across
    over = printed.value(OVERFLOW)
    check(over == [], f"print: sticks out: {over}")
    check(printed.value("getComputedStyle(document.querySelector('tbody tr')).breakInside")
          == "avoid", "print: rows are not split")


def check_screens(browser, file):
    check_layout(browser, file)
    page = Page(browser, file, 1200)
    check(page.value("document.title") == "The story of a screen", "screen.html: nothing of the data was run")
    page = Page(browser, file, 1200, script=False)
    page.call("Emulation.setScriptExecutionDisabled", value=False)
    check(page.value("document.querySelectorAll('[id^=parameters] tbody tr, table tbody tr').length") > 100
          and page.value("document.querySelectorAll('[role=button], input').length") == 0,
          "screen.html: complete without script")
    check(page.value("[...document.querySelectorAll('figure svg')].every(s => s.getBoundingClientRect().width > 100)"),
          "screen.html: the pictures are drawn without script")
    printed = Page(browser, file, 703, media="print")  # A4 less its margins, 186 mm
    over = printed.value(OVERFLOW)
    check(over == [], f"screen.html, print: sticks out: {over}")
    pdf = base64.b64decode(Page(browser, file, 794).call("Page.printToPDF", preferCSSPageSize=True)["data"])
    sizes = {(round(float(w)), round(float(h))) for w, h in
             re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", pdf)}
    check(sizes == {(595, 842)}, f"screen.html: A4 ({sizes})")


browser = Browser()
review = os.path.join(made, "small", "review.html")
for part in (check_layout, check_script, check_without_script, check_first_screen, check_print):
    part(browser, review)
check_layout(browser, os.path.join(made, "small", "check.html"))
check_layout(browser, os.path.join(made, "small", "lots.html"))
check_layout(browser, os.path.join(made, "small", "interval.html"))
check_layout(browser, os.path.join(made, "small", "certificate.html"))
check_layout(browser, os.path.join(made, "small", "charts.html"))
check_layout(browser, os.path.join(made, "small", "meter.html"))
check_screens(browser, os.path.join(made, "small", "screen.html"))
check_quiet(browser)
browser.close()
for failure in failures[:20]:
    print("FAILED:", failure)
sys.exit(1 if failures else 0)
