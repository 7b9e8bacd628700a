"""The report in a real browser: no error, nothing fetched, no sideways scrolling on a phone, two sheets on paper."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

PHONE_PX = 390
MEASURED = f"""() => {{
  const wide = [...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > {PHONE_PX} + 0.5);
  return {{
    scroll: document.documentElement.scrollWidth,
    wide: wide.map(e => e.tagName),
    pictures: [...document.images].map(e => e.complete && e.naturalWidth > 0),
    smallest: Math.min(...[...document.querySelectorAll("p, td, th, li, dd, dt, h1, h2, h3, caption")]
      .map(e => parseFloat(getComputedStyle(e).fontSize))),
  }};
}}"""
# With columns of one height after the other [mm], what a sheet would cut stands in more than one box.
CUT = """() => {
  const main = document.querySelector("main"), cut = [];
  for (let height = 150; height <= 270; height += 10) {
    main.style.cssText = `height:${height}mm;column-fill:auto`;
    for (const one of document.querySelectorAll("main table, main figure, main img, main p"))
      if (one.getClientRects().length > 1) cut.push(`${one.tagName} at ${height} mm`);
  }
  return {columns: getComputedStyle(main).columnCount, cut};
}"""


@dataclass(slots=True, kw_only=True)
class Opened:
    """A report opened from its file, what the browser complained of, and every address it was asked for by the page."""

    page: Page
    wrong: list[str] = field(default_factory=list)
    asked: set[str] = field(default_factory=set)


@pytest.fixture
def opened(browser: Browser, tmp_path: Path) -> Iterator[Any]:
    """Return what opens a report at a width and a height [px]; nothing leaves this machine."""
    contexts = []

    def open_it(html: str, width: int, height: int) -> Opened:
        contexts.append(browser.new_context(viewport={"width": width, "height": height}))
        contexts[-1].route("http*://**", lambda route: route.abort())
        found = Opened(page=contexts[-1].new_page())
        found.page.on("console", lambda line: found.wrong.append(line.text))
        found.page.on("pageerror", lambda error: found.wrong.append(str(error)))
        found.page.on("request", lambda request: found.asked.add(request.url))
        path = tmp_path / "report.html"
        path.write_text(html, encoding="utf-8")
        found.page.goto(path.as_uri())
        found.asked = {url for url in found.asked if not url.startswith(("data:", path.as_uri()))}
        return found

    yield open_it
    for context in contexts:
        context.close()


def test_on_a_phone(opened: Any, full_page: str):
    found = opened(full_page, PHONE_PX, 800)
    measured = found.page.evaluate(MEASURED)
    assert measured["scroll"] == PHONE_PX, "no sideways scrolling"
    assert measured["wide"] == []
    assert measured["pictures"] == [True] * 3, "every picture is drawn"
    assert measured["smallest"] >= 12
    assert (found.wrong, found.asked) == ([], set())


def test_the_looking_sees_what_is_wrong(opened: Any):
    """A page that breaks every rule must be caught, or the test above could not fail."""
    broken = (
        "<!doctype html><p style='width:900px;font-size:6px'>wide</p><img src='data:image/png;base64,AAAA'>"
        "<img src='http://192.0.2.1/x.png'><script>console.error('seen'); throw new Error('thrown')</script>"
    )
    found = opened(broken, PHONE_PX, 800)
    measured = found.page.evaluate(MEASURED)
    assert measured["scroll"] > PHONE_PX
    assert measured["pictures"] == [False, False]
    assert measured["smallest"] < 12
    assert any("seen" in line for line in found.wrong)
    assert any("thrown" in line for line in found.wrong)
    assert found.asked == {"http://192.0.2.1/x.png"}, "an address of RFC 5737 that leads nowhere"


def test_no_sheet_cuts_a_table_a_picture_or_a_sentence(opened: Any, full_page: str):
    page = opened(full_page, 700, 1200).page
    page.emulate_media(media="print")
    assert page.evaluate(CUT) == {"columns": "2", "cut": []}


def test_opens_from_a_file_and_prints_on_two_sheets(opened: Any, full_page: str):
    found = opened(full_page, 800, 1200)
    paper = found.page.pdf(prefer_css_page_size=True)
    assert 1 <= len(re.findall(rb"/Type\s*/Page\b(?!s)", paper)) <= 2
    assert found.wrong == []
