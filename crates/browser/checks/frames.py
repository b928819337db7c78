#!/usr/bin/env python3
"""How long the page's own thread is busy with script while a scan is panned and zoomed: a report, not a check.

    python3 crates/browser/checks/frames.py http://127.0.0.1:4711/scans/1 [--clipped] [--phone]
    python3 crates/browser/checks/frames.py 'http://127.0.0.1:4711/side-by-side?scan=1&scan=2' --loupe [--phone]

Needs a running Closework, chromium and chromedriver, and nothing beyond Python's own library. The figures are the
browser's own: its trace (DevTools' timeline), fetched through WebDriver's performance log. A frame is what the page's own
thread does between two commits to the screen; its script is every outermost function call and event in it, its all is
layout, painting and the drawing of the canvas too. "cpu" is the time that the thread really ran, which a busy machine does
not spoil; "wall" is what a person waits.
"""

import argparse
import bisect
import json
import re
import subprocess
import urllib.request

BUDGET_MS = 8
SCRIPT = {"FunctionCall", "EventDispatch", "EvaluateScript", "v8.callFunction", "RunMicrotasks"}


class Browser:
    """Chromium through chromedriver."""

    def __init__(self, phone):
        self.process = subprocess.Popen(["chromedriver", "--port=0"], stdout=subprocess.PIPE, text=True)
        ready = next(line for line in self.process.stdout if "started successfully" in line)
        self.root = "http://127.0.0.1:" + re.search(r"on port (\d+)", ready)[1]
        options = {
            "args": ["--headless=new", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
                     "--window-size=1280,900"],
            "perfLoggingPrefs": {"traceCategories": "devtools.timeline,disabled-by-default-devtools.timeline"},
        }
        if phone:
            options["mobileEmulation"] = {"deviceMetrics": {"width": 390, "height": 844, "pixelRatio": 2, "touch": True}}
        wanted = {"browserName": "chrome", "goog:chromeOptions": options, "goog:loggingPrefs": {"performance": "ALL"}}
        self.session = ""
        self.session = "/session/" + self.ask("POST", "/session", {"capabilities": {"alwaysMatch": wanted}})["sessionId"]

    def ask(self, method, path, body=None):
        data = json.dumps(body or {}).encode() if method == "POST" else None
        request = urllib.request.Request(self.root + self.session + path, data, {"content-type": "application/json"}, method=method)
        return json.load(urllib.request.urlopen(request, timeout=300))["value"]

    def run(self, script):
        return self.ask("POST", "/execute/sync", {"script": script, "args": []})

    def trace(self):
        messages = (json.loads(entry["message"])["message"] for entry in self.ask("POST", "/se/log", {"type": "performance"}))
        return [m["params"] for m in messages if m["method"] == "Tracing.dataCollected"]

    def end(self):
        try:
            self.ask("DELETE", "")
        finally:
            self.process.terminate()
            self.process.wait()


def wait(browser, what):
    script = f"const end = arguments[0]; (function look() {{ {what} ? end(true) : setTimeout(look, 100); }})()"
    browser.ask("POST", "/execute/async", {"script": script, "args": []})


def drag(browser, pointer, steps):
    """Back and forth over the middle of the pane."""
    box = browser.run("const r = document.querySelector('.pane').getBoundingClientRect(); return [r.x, r.y, r.width, r.height]")
    x, y, w, h = box
    at = lambda fx, fy: {"type": "pointerMove", "duration": 16, "x": round(x + w * fx), "y": round(y + h * fy)}
    moves = []
    for i in range(steps):
        sweep = abs((i / 20) % 2 - 1)
        moves.append(at(0.1 + 0.8 * sweep, 0.2 + 0.6 * ((i % 37) / 37)))
    actions = [at(0.1, 0.2), {"type": "pointerDown", "button": 0}, *moves, {"type": "pointerUp", "button": 0}]
    source = {"type": "pointer", "id": pointer, "parameters": {"pointerType": pointer}, "actions": actions}
    browser.ask("POST", "/actions", {"actions": [source]})


def hover(browser, steps):
    """The same without a button."""
    box = browser.run("const r = document.querySelector('.pane').getBoundingClientRect(); return [r.x, r.y, r.width, r.height]")
    x, y, w, h = box
    place = lambda i: (0.1 + 0.8 * abs((i / 20) % 2 - 1), 0.2 + 0.6 * ((i % 37) / 37))
    moves = [{"type": "pointerMove", "duration": 16, "x": round(x + w * fx), "y": round(y + h * fy)} for fx, fy in map(place, range(steps))]
    browser.ask("POST", "/actions", {"actions": [{"type": "pointer", "id": "mouse", "parameters": {"pointerType": "mouse"}, "actions": moves}]})


def wheel(browser, steps):
    box = browser.run("const r = document.querySelector('.pane').getBoundingClientRect(); return [r.x + r.width / 3, r.y + r.height / 3]")
    x, y = map(round, box)
    scroll = [{"type": "scroll", "x": x, "y": y, "deltaX": 0, "deltaY": 120 if i % 40 < 20 else -120, "duration": 0, "origin": "viewport"} for i in range(steps)]
    browser.ask("POST", "/actions", {"actions": [{"type": "wheel", "id": "wheel", "actions": scroll}]})


def outermost(events):
    """Of events on one thread those that lie in no other."""
    end = 0
    for event in sorted(events, key=lambda e: (e["ts"], -e.get("dur", 0))):
        if event["ts"] >= end:
            end = event["ts"] + event.get("dur", 0)
            yield event


def frames(events):
    """For each frame of the page's own thread: script (wall, cpu), its longest single stretch, and everything (cpu); ms."""
    whole = [e for e in events if e.get("ph") == "X"]
    threads = [(e["pid"], e["tid"]) for e in whole if e["name"] == "FunctionCall"]
    if not threads:
        return []
    main = max(set(threads), key=threads.count)
    mine = [e for e in whole if (e["pid"], e["tid"]) == main]
    commits = sorted(e["ts"] + e.get("dur", 0) for e in mine if e["name"] == "Commit")
    found = [[0, 0, 0, 0] for _ in range(len(commits) + 1)]
    for event in outermost(e for e in mine if e["name"] in SCRIPT):
        frame = found[bisect.bisect(commits, event["ts"])]
        wall, cpu = event.get("dur", 0) / 1000, event.get("tdur", 0) / 1000
        frame[0], frame[1], frame[2] = frame[0] + wall, frame[1] + cpu, max(frame[2], cpu)
    for event in outermost(e for e in mine if e["name"] == "RunTask"):
        found[bisect.bisect(commits, event["ts"])][3] += event.get("tdur", 0) / 1000
    return found[1:-1]


def report(name, found):
    if not found:
        print(f"{name:<24} no frames in the trace")
        return
    def figures(values):
        values = sorted(values)
        share = lambda q: values[min(len(values) - 1, int(q * len(values)))]
        over = sum(v > BUDGET_MS for v in values)
        return f"median {share(0.5):5.2f}  99 % {share(0.99):6.2f}  most {values[-1]:6.2f}  over {BUDGET_MS} ms: {over:3}"
    print(f"{name:<24} {len(found):5} frames")
    for i, what in enumerate(["script, wall", "script, cpu", "longest script, cpu", "all of the thread, cpu"]):
        print(f"   {what:<23} {figures([f[i] for f in found])}")


def exercise(asked, name, wish, presses, act):
    """One browser for each: a trace can be fetched once."""
    browser = Browser(asked.phone)
    try:
        browser.ask("POST", "/url", {"url": asked.page})
        wait(browser, "document.querySelector('.tools:not([hidden])')")
        browser.run("document.querySelector('.pane').scrollIntoView({block: 'center'})")
        if asked.clipped:
            browser.run("document.querySelector('input[name=ends]').click()")
            wait(browser, "/^(At|No) /.test(document.querySelector('.counted').textContent)")
        if asked.loupe:
            browser.run("document.querySelector('input[name=loupe][value=print]').click()")
        for _ in range(presses):
            browser.run(f"document.querySelector('[data-wish={wish}]').click()")
        browser.run("console.timeStamp('begun')")
        act(browser)
        events = browser.trace()
        stamps = [e["ts"] for e in events if e["name"] == "TimeStamp" and e["args"]["data"].get("message") == "begun"]
        report(name, frames([e for e in events if not stamps or e["ts"] >= stamps[0]]))
    finally:
        browser.end()


def main():
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("page", help="the address of a scan's page")
    words.add_argument("--clipped", action="store_true", help="with clipped samples shown")
    words.add_argument("--loupe", action="store_true", help="of scans side by side: with the loupe moved over them")
    words.add_argument("--phone", action="store_true", help="390 x 844 at two device pixels, moved by a finger")
    asked = words.parse_args()
    window = "390 x 844 at 2" if asked.phone else "1280 x 900 at 1"
    print(f"{asked.page}, window {window}" + (", clipped samples shown" if asked.clipped else ""))
    pointer = "touch" if asked.phone else "mouse"
    if asked.loupe:
        # A mouse moves it by being over a picture, a finger by being drawn.
        act = (lambda browser: drag(browser, pointer, 150)) if asked.phone else (lambda browser: hover(browser, 150))
        exercise(asked, "loupe over the whole", "fit", 1, act)
        exercise(asked, "loupe at true pixels", "one", 1, act)
        return
    exercise(asked, "panned at true pixels", "one", 1, lambda browser: drag(browser, pointer, 150))
    exercise(asked, "panned, zoomed in twice", "in", 2, lambda browser: drag(browser, pointer, 150))
    if not asked.phone:
        exercise(asked, "zoomed by the wheel", "fit", 1, lambda browser: wheel(browser, 80))


if __name__ == "__main__":
    main()
