"""The report page: what it says, that it needs nothing, that text stays text, that everyone can read it."""

from __future__ import annotations

import dataclasses
import re
from collections import Counter
from datetime import UTC, datetime
from html import unescape
from html.parser import HTMLParser

import numpy as np
import pytest

from heatmap.assessment import Assessment, assess
from heatmap.decisions.decision import decide
from heatmap.decisions.placement import Wanted, find_places
from heatmap.report.page import report_html
from heatmap.units import f_difference_from_c, f_from_c, percent, percent_range
from heatmap.verdict.comparison import Comparison
from heatmap.words import cautions
from heatmap.words.compare import compare_lines
from heatmap.words.decision import decision_sentence, place_words
from heatmap.words.map import band_sentence, map_answer

# HTML Living Standard, 13.1.2: elements that have no end tag.
VOID = {"meta", "img", "br", "hr", "link", "input"}
Both = tuple[Assessment, Assessment]


class Page(HTMLParser):
    """A page taken apart: tags with attributes, texts of headings and cells, and whether every tag is closed."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.texts: list[tuple[str, str]] = []
        self.tables: list[list[list[str]]] = []
        self.feed(html.replace("\u00a0", " "))
        assert not self.open, f"never closed: {self.open}"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)
        if tag == "table":
            self.tables.append([])
        if tag == "tr":
            self.tables[-1].append([])
        if tag in ("td", "th"):
            self.tables[-1][-1].append("")

    def handle_endtag(self, tag: str) -> None:
        assert self.open, f"</{tag}> closes nothing"
        assert self.open.pop() == tag, f"</{tag}> closes the wrong thing"

    def handle_data(self, data: str) -> None:
        if self.open and data.strip():
            self.texts.append((self.open[-1], data.strip()))
            if {"td", "th"} & set(self.open):
                self.tables[-1][-1][-1] += data

    def of(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.tags if name == tag]

    def text(self, tag: str) -> list[str]:
        return [text for name, text in self.texts if name == tag]


def reported(assessment: Assessment, **sections: object) -> str:
    """Return a report with these sections, made at noon."""
    made_at, decision = datetime(2026, 6, 6, 12, tzinfo=UTC), decide(assessment)
    told = {"decision": decision, "then": decision, "made_at": made_at, "version": "1.2.3", **sections}
    return report_html(assessment, **told)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def page(full_page: str) -> Page:
    return Page(full_page)


def test_answer_first_then_sections_in_order(page: Page, assessments: Both):
    assert page.text("h2") == [
        "Heat map",
        "What to do",
        "Where to set the food down",
        "Seconds for the sear",
        "Before and after",
        "Round by round",
        "All spots",
        "Assumed, because the grill file is silent",
        "Cautions",
    ]


def test_the_answer_stands_on_top_and_the_band_once(full_page: str, page: Page, assessments: Both):
    first, _, rest = map_answer(assessments[1]).partition("; ")
    assert page.text("h1") == [first]
    assert rest[1:] in " ".join(page.text("p"))
    assert page.text("p").count(band_sentence(assessments[1])) == 1
    assert full_page.index("<h1>") < full_page.index("<h2>")


def test_the_decision_stands_below_the_answer(full_page: str, assessments: Both):
    decision = decide(assessments[1])
    assert decision.do == "turn", "the premise"
    bold = re.findall(r'<p class="answer">(.*?)</p>', unbroken(full_page.partition("<h2>")[0]))
    assert bold == [decision_sentence(assessments[1], decision)]


def test_food_cautions_stand_beside_the_seconds_as_well(full_page: str):
    section = full_page.partition("<h2>Seconds for the sear</h2>")[2].partition("</section>")[0]
    before_the_table = unbroken(section.partition("<table>")[0])
    assert cautions.BELOW_WHOLE_CUT in before_the_table
    assert cautions.ONLY_A_FORECAST in before_the_table
    assert cautions.BELOW_WHOLE_CUT in unbroken(full_page.partition("<h2>Cautions</h2>")[2])


def unbroken(html: str) -> str:
    """Return a page's text with plain spaces and apostrophes."""
    return unescape(html).replace("\u00a0", " ")


def test_every_round_has_its_row(full_page: str, assessments: Both):
    section = unbroken(full_page.partition("<h2>Round by round</h2>")[2].partition("</section>")[0])
    assert re.findall(r'<th scope="row">(\d+)</th>', section) == ["1", "2", "3"]
    even = assessments[1].evenness
    assert section.count(f"<td>{percent(even.share_in_band)}</td>") == 3
    assert section.count(f"<td>{percent_range(even.share_in_band_low, even.share_in_band_high)}</td>") == 3


def test_headings_do_not_skip_a_level(page: Page):
    levels = [int(tag[1]) for tag, _ in page.tags if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(later - earlier <= 1 for earlier, later in zip(levels, levels[1:], strict=False))


def test_pictures_say_their_result(page: Page, assessments: Both):
    pictures = page.of("img")
    assert len(pictures) == 3
    assert all(len(picture["alt"] or "") > 25 for picture in pictures)
    assert len({picture["alt"] for picture in pictures}) == len(pictures)
    assert map_answer(assessments[1]) in str(pictures[0]["alt"])
    assert "with the best places outlined" in str(pictures[0]["alt"])
    assert all(int(str(picture["width"])) > 0 and int(str(picture["height"])) > 0 for picture in pictures)


def test_tables_have_headers(full_page: str, page: Page):
    scopes = Counter(str(attributes.get("scope")) for attributes in page.of("th"))
    assert set(scopes) == {"col", "row"}
    for table in re.findall(r"<table>.*?</table>", full_page, re.DOTALL):
        head, body = table.split("<tbody>")
        assert 'scope="col"' in head
        assert body.count("<tr>") == body.count('scope="row"')


def test_page_declares_language_charset_and_viewport(full_page: str, page: Page):
    assert full_page.lstrip().lower().startswith("<!doctype html>")
    assert page.of("html")[0]["lang"] == "en"
    assert {"charset": "utf-8"} in page.of("meta")
    assert any(meta.get("name") == "viewport" for meta in page.of("meta"))
    assert "".join(page.text("title"))


def test_page_needs_nothing_else(full_page: str, page: Page):
    for tag, attributes in page.tags:
        for name in ("src", "href", "srcset", "action", "data", "poster"):
            assert str(attributes.get(name) or "data:").startswith("data:"), f"{tag} {name}"
    assert not {"script", "link", "iframe", "object", "form", "base"} & {tag for tag, _ in page.tags}
    assert not re.search(r"url\(|@import|https?:", re.sub(r"base64,[A-Za-z0-9+/=]+", "", full_page))
    policy = next(meta for meta in page.of("meta") if meta.get("http-equiv") == "Content-Security-Policy")
    assert str(policy["content"]).startswith("default-src 'none'")


def test_notes_and_names_stay_text(full_page: str, page: Page):
    assert "<script" not in full_page
    assert any("B2: <script>alert('a note')</script>" in text for text in page.text("li"))
    assert any("three <b>burners</b> & a terrace" in text for text in page.text("p"))
    assert "<i>middle" not in full_page


def test_spots_with_both_uncertainties(page: Page, assessments: Both):
    after = assessments[1]
    rows = next(table for table in page.tables if table[0][0] == "Spot")[1:]
    assert len(rows) == len(after.spots) == 13
    for row, assessed in zip(rows, after.spots, strict=True):
        spot = assessed.spot
        assert row[1] == f"{f_from_c(spot.reading.shown_c):.0f}"
        if spot.rail_c is None:
            assert row[2:6] == ["–"] * 4
            assert "valley" in row[0]
            continue
        own_f, shared_f = (1.959964 * f_difference_from_c(std_c) for std_c in (spot.own_std_c, spot.shared_std_c))
        assert row[2:5] == [f"{f_from_c(spot.rail_c):.0f}", f"±{own_f:.0f}", f"±{shared_f:.0f}"]
        sure = assessed.word == assessed.leaning
        assert row[5].split(maxsplit=1)[1] == (assessed.word if sure else f"perhaps {assessed.leaning}")


@pytest.mark.usefixtures("undrawn")
def test_suspects_are_called_left_out(assessments: Both):
    after = assessments[1]
    rail_c = float(after.calibration.correct(np.array([300.0])).rail_c[0])
    doubted = dataclasses.replace(after)
    vars(doubted)["suspects"] = {0: rail_c}  # a cached property holds what it finds
    page = Page(reported(doubted))
    rows = next(table for table in page.tables if table[0][0] == "Spot")
    assert rows[1][5] == "× left out"
    first = after.spots[0].spot.reading
    said = f"Left out {first.position} (reading {first.id}), about 572 expected."
    assert any(said in text for text in page.text("p"))


def test_before_and_after_beside_each_other(page: Page, comparison: Comparison):
    rows = next(table for table in page.tables if table[0][0] == "Round")[1:]
    assert [row[0] for row in rows] == ["1", "2"]
    both = (comparison.before, comparison.after)
    assert [row[1] for row in rows] == [f"{100 * one.evenness.share_in_band:.0f} %" for one in both]
    assert compare_lines(comparison)[0] in page.text("p")


def test_cautions_and_assumptions_are_told_once(page: Page):
    lines = page.text("li")
    for caution in cautions.AT_THE_GRILL:
        assert lines.count(caution) == 1
    assert 'grate.finish = "cast iron, seasoned"' in lines
    assert any("cook" in line or "145" in line for line in lines), "the sear's own cautions"


def test_when_and_with_which_version(page: Page):
    assert "Made by gratemap 1.2.3, 2026-06-06 15:30 +0200." in page.text("p")
    (line,) = [text for text in page.text("p") if text.startswith("Round 2")]
    assert re.search(r"2026-06-06 14:4\d \+0200", line), "in the time of the one who made it"
    assert "left 4" in line


@pytest.mark.usefixtures("undrawn")
def test_what_is_not_given_is_left_out(assessments: Both):
    page = Page(reported(assessments[1]))
    always = ["Heat map", "What to do", "All spots", "Assumed, because the grill file is silent", "Cautions"]
    assert page.text("h2") == always
    assert len(page.of("img")) == 2


def test_numbers_and_units_stay_on_one_line(full_page: str):
    assert "\u00a0%" in full_page
    assert not re.search(r"\d [%°]", re.sub(r"(?s)<style>.*?</style>", "", full_page))


@pytest.mark.usefixtures("undrawn")
def test_without_knobs_nothing_is_turned(assessments: Both):
    before = assessments[0]
    coals = dataclasses.replace(before.grill, burners=())
    page = Page(reported(assess(coals, before.rounds, 1)))
    assert not any(text.startswith("Turn ") for text in page.text("p"))
    assert len(page.of("img")) == 1


@pytest.mark.usefixtures("undrawn")
def test_numbers_are_in_the_cooks_units(assessments_si: Both):
    page = Page(reported(assessments_si[1]))
    own = [text for tag, text in page.texts if tag in ("h1", "p", "dd", "caption", "td", "th")]
    assert any("°C" in text for text in own)
    assert not any("°F" in text for text in own)


@pytest.mark.parametrize(
    ("session", "told"),
    [("2026-06-06", "Round 1 · 2026-06-06 12:20 +0000"), ("at noon", "Round 1 · at noon · 2026-06-06 12:20 +0000")],
)
@pytest.mark.usefixtures("undrawn")
def test_the_day_of_a_round_stands_once(assessments: Both, session: str, told: str):
    before = assessments[0]
    one = dataclasses.replace(before, round=dataclasses.replace(before.round, session=session))
    page = Page(reported(one))
    assert any(text.startswith(told + " · marks") for text in page.text("p")), page.text("p")[:4]


@pytest.mark.usefixtures("undrawn")
def test_a_place_stands_by_the_same_words_in_its_table_and_in_its_sentence(assessments: Both, assessments_si: Both):
    for assessment in (assessments[1], assessments_si[1]):
        placement = find_places(assessment, Wanted.of(assessment.grill))
        page = Page(reported(assessment, places=placement))
        (rows,) = [table[1:] for table in page.tables if table[0][0] == "Place"]
        for place, row in zip(placement.places, rows, strict=True):
            assert place_words(assessment.grill, place) in row[0]


def test_same_report_same_bytes(assessments: Both):
    assert reported(assessments[0]) == reported(assessments[0])


def luminance(colour: str) -> float:
    """W3C, Web Content Accessibility Guidelines 2.1, definition of relative luminance."""
    parts = [int(colour[start : start + 2], 16) / 255 for start in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_published_contrast_in_light_dark_and_print(full_page: str):
    """WCAG 2.1, success criterion 1.4.3 (AA): at least 4.5 to 1; asked of every ink on both grounds."""
    schemes = re.findall(r":root \{([^}]*)\}", full_page)
    assert len(schemes) == 3
    for scheme in schemes:
        colours = dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", scheme))
        for ground in ("paper", "tint"):
            for ink in ("ink", "quiet", "cold", "hot"):
                light, dark = sorted((luminance(colours[ink]), luminance(colours[ground])), reverse=True)
                assert (light + 0.05) / (dark + 0.05) >= 4.5, f"{ink} on {ground}"
