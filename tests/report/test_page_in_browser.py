"""The report in a real browser: no error, nothing fetched, no sideways scrolling on a phone, two sheets on paper."""

from __future__ import annotations

import functools
import http.server
import json
import re
import shutil
import subprocess
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser")
pytestmark = pytest.mark.skipif(BROWSER is None, reason="needs Chromium (Debian and Ubuntu: the package chromium)")

QUIET = (
    "--headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync --disable-default-apps --disable-extensions --hide-scrollbars "
    "--disable-domain-reliability --enable-logging=stderr --v=0"
).split() + ["--host-resolver-rules=MAP * ~NOTFOUND , EXCLUDE 127.0.0.1"]  # nothing leaves this machine
PHONE_PX = 390
MEASURE = f"""<!doctype html><title>measure</title>
<iframe id="page" src="page.html" style="width:{PHONE_PX}px;height:800px;border:0"></iframe><pre id="found"></pre>
<script>
onload = () => {{
  const inside = document.getElementById("page").contentDocument;
  const wide = [...inside.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > {PHONE_PX} + 0.5);
  document.getElementById("found").textContent = JSON.stringify({{
    scroll: inside.documentElement.scrollWidth,
    wide: wide.map(e => e.tagName),
    pictures: [...inside.images].map(e => e.complete && e.naturalWidth > 0),
    smallest: Math.min(...[...inside.querySelectorAll("p, td, th, li, dd, dt, h1, h2, h3, caption")]
      .map(e => parseFloat(inside.defaultView.getComputedStyle(e).fontSize))),
  }});
}};
</script>"""


# The page in its print style at the width of paper, with columns of one height after the other [mm]: what a sheet would
# cut stands in more than one box.
CUT = """<!doctype html><title>cut</title>
<iframe id="page" src="page.html" style="width:700px;height:1200px;border:0"></iframe><pre id="found"></pre>
<script>
onload = () => {
  const inside = document.getElementById("page").contentDocument, main = inside.querySelector("main"), cut = [];
  for (let height = 150; height <= 270; height += 10) {
    main.style.cssText = `height:${height}mm;column-fill:auto`;
    for (const one of inside.querySelectorAll("main table, main figure, main img, main p"))
      if (one.getClientRects().length > 1) cut.push(`${one.tagName} at ${height} mm`);
  }
  document.getElementById("found").textContent = JSON.stringify({columns: getComputedStyle(main).columnCount, cut});
};
</script>"""


@contextmanager
def served(folder: Path) -> Iterator[str]:
    """Serve a folder on this machine only, so that the measuring page may look into the report."""

    class Silent(http.server.SimpleHTTPRequestHandler):
        def log_message(self, *_: object) -> None:
            pass

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), functools.partial(Silent, directory=str(folder)))
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def browse(folder: Path, *how: str) -> subprocess.CompletedProcess[str]:
    profile = folder / "profile"
    shutil.rmtree(profile, ignore_errors=True)
    command = [str(BROWSER), *QUIET, f"--user-data-dir={profile}", *how]
    return subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)


def asked_by_pages(log: Path, address: str) -> set[str]:
    """Return every address a page asked for; what the browser asks on its own behalf has another initiator."""
    events = json.loads(log.read_text(encoding="utf-8"))["events"]
    requests = [event["params"] for event in events if {"url", "initiator"} <= set(event.get("params", {}))]
    return {request["url"] for request in requests if request["initiator"].startswith(address)}


def look(folder: Path, html: str) -> tuple[dict[str, object], list[str], set[str]]:
    """Return what a phone shows, console lines, and every address asked for outside this machine."""
    (folder / "page.html").write_text(html, encoding="utf-8")
    (folder / "measure.html").write_text(MEASURE, encoding="utf-8")
    log = folder / "network.json"
    with served(folder) as address:
        shown = browse(folder, f"--log-net-log={log}", "--dump-dom", f"{address}/measure.html")
    found = re.search(r'<pre id="found">(.*?)</pre>', shown.stdout, re.DOTALL)
    assert found, shown.stderr[-2000:]
    console = [line for line in shown.stderr.splitlines() if "CONSOLE" in line and "favicon" not in line]
    outside = {url for url in asked_by_pages(log, address) if not url.startswith((address, "data:"))}
    return json.loads(found[1].replace("&amp;", "&")), console, outside


def test_on_a_phone(tmp_path: Path, full_page: str):
    found, console, outside = look(tmp_path, full_page)
    assert found["scroll"] == PHONE_PX, "no sideways scrolling"
    assert found["wide"] == []
    assert found["pictures"] == [True] * 3, "every picture is drawn"
    assert float(str(found["smallest"])) >= 12
    assert console == []
    assert outside == set()


def test_the_looking_sees_what_is_wrong(tmp_path: Path):
    """A page that breaks every rule must be caught, or the test above could not fail."""
    broken = (
        "<!doctype html><p style='width:900px;font-size:6px'>wide</p><img src='data:image/png;base64,AAAA'>"
        "<img src='http://192.0.2.1/x.png'><script>console.error('seen'); throw new Error('thrown')</script>"
    )
    found, console, outside = look(tmp_path, broken)
    assert int(str(found["scroll"])) > PHONE_PX
    assert found["pictures"] == [False, False]
    assert float(str(found["smallest"])) < 12
    assert any("seen" in line for line in console)
    assert any("thrown" in line for line in console)
    assert outside == {"http://192.0.2.1/x.png"}, "an address of RFC 5737 that leads nowhere"


def test_no_sheet_cuts_a_table_a_picture_or_a_sentence(tmp_path: Path, full_page: str):
    (tmp_path / "page.html").write_text(full_page.replace("@media print", "@media all"), encoding="utf-8")
    (tmp_path / "cut.html").write_text(CUT, encoding="utf-8")
    with served(tmp_path) as address:
        shown = browse(tmp_path, "--dump-dom", f"{address}/cut.html")
    found = re.search(r'<pre id="found">(.*?)</pre>', shown.stdout, re.DOTALL)
    assert found, shown.stderr[-2000:]
    assert json.loads(found[1]) == {"columns": "2", "cut": []}


def test_opens_from_a_file_and_prints_on_two_sheets(tmp_path: Path, full_page: str):
    page, paper = tmp_path / "report.html", tmp_path / "report.pdf"
    page.write_text(full_page, encoding="utf-8")
    shown = browse(tmp_path, "--no-pdf-header-footer", f"--print-to-pdf={paper}", page.as_uri())
    assert paper.exists(), shown.stderr[-2000:]
    assert 1 <= len(re.findall(rb"/Type\s*/Page\b(?!s)", paper.read_bytes())) <= 2
    assert not [line for line in shown.stderr.splitlines() if "CONSOLE" in line]
