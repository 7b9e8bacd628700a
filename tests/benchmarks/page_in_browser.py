"""How long from a tap to "Kept" on the phone page, and to the same number on a second browser?

Run by hand::

    python tests/benchmarks/page_in_browser.py [--taps 96] [--quick] [--json FILE]

The real command serves a grate of 48 positions (6 by 8) from a log on the disk; two pages of one Chromium look at it,
the second at its map. Measured by the clock of that machine: from the tap on Enter until the first page says "Kept"
(which it does once the disk has it), until the second shows the number at its position, and until its map has been
drawn anew.
Needs Playwright and Chromium; no radio lies between, so a phone's own network comes on top.
"""

from __future__ import annotations

# Before numpy, as the command does: it keeps small matrices on one thread.
import cli  # noqa: F401

# isort: split

import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from table import Row, alone
from take import GRILL

#: Notes by the clock when something becomes so, on whichever page.
WATCH = """() => {
  window.noted = {};
  const note = (name) => (window.noted[name] ??= performance.timeOrigin + performance.now());
  const look = () => {
    note(document.getElementById("kept").textContent);
    for (const key of document.querySelectorAll(".places button")) note(key.getAttribute("aria-label").split(",")[0]);
  };
  new MutationObserver(look).observe(document.body, {subtree: true, childList: true, characterData: true});
  const put = CanvasRenderingContext2D.prototype.putImageData;
  CanvasRenderingContext2D.prototype.putImageData = function (...given) {
    put.apply(this, given);
    window.drawn = performance.timeOrigin + performance.now();
  };
  document.getElementById("enter").addEventListener("click", () => {
    window.tapped = performance.timeOrigin + performance.now();
  }, {capture: true});
}"""


def served(folder):
    """Start the command; return it and the cook's address."""
    words = ["-c", "from cli.app import app; app()", "page", "--port", "0", "--say-url"]
    there = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])}
    process = subprocess.Popen([sys.executable, *words], cwd=folder, env=there, stdout=subprocess.PIPE, text=True)
    return process, re.search(r"http://\S+", process.stdout.readline())[0]


def rows(quick=False, taps=96):
    """Return the milliseconds from a tap to what follows from it."""
    from playwright.sync_api import sync_playwright

    rng = np.random.default_rng(1)
    taps = 6 if quick else taps
    kept, seen, drawn = [], [], []
    with tempfile.TemporaryDirectory() as name, sync_playwright() as playwright:
        (Path(name) / "grill.toml").write_text(GRILL, encoding="utf-8")
        process, address = served(name)
        chromium = shutil.which("chromium") or shutil.which("chromium-browser")
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        one, other = (browser.new_context().new_page() for _ in range(2))
        for page in (one, other):
            page.goto(address)
            page.wait_for_selector("#shoot:not([hidden])")
            page.evaluate(WATCH)
        other.click("nav a[href='#map']")
        for tap in range(taps):
            if one.is_visible("#round-over"):
                one.click("#round-over [data-round='full']")
                one.wait_for_function("() => document.getElementById('heading').textContent.includes(', 0 of ')")
            position, shown = one.inner_text("#asked"), round(575 + rng.normal(0.0, 4.0))
            other.evaluate("window.noted = {}; window.drawn = 0")
            one.evaluate("window.noted = {}")
            for digit in str(shown):
                one.click(f"[data-digit='{digit}']")
            one.click("#enter")
            one.wait_for_function("(text) => window.noted[text]", arg=f"Kept: {position} {shown}")
            other.wait_for_function("(text) => window.noted[text]", arg=f"{position}: {shown}")
            other.wait_for_timeout(400)  # the map follows by itself
            start = one.evaluate("window.tapped")
            kept.append(one.evaluate("(text) => window.noted[text]", f"Kept: {position} {shown}") - start)
            seen.append(other.evaluate("(text) => window.noted[text]", f"{position}: {shown}") - start)
            if tap > 12:
                drawn.append(other.evaluate("window.drawn") - start)
        browser.close()
        process.send_signal(signal.SIGTERM)
        process.wait()
    size = f"{taps} taps"
    measured = {"kept on the disk, and said": kept, "the number on a second browser": seen}
    measured |= {"the map drawn anew there": drawn} if drawn else {}
    found = []
    for what, times in measured.items():
        worst = {"99 % are below": (float(np.percentile(times, 99)), None)}
        found.append(Row(what=f"tap to {what}", size=size, value=float(np.median(times)), unit="ms", also=worst))
    return found


if __name__ == "__main__":
    alone(rows, __doc__)
