"""A line as a phone writes down what was said: understood in one way, or not at all."""

from __future__ import annotations

import pytest

from heatmap.errors import ReadingError
from heatmap.grill.grate import Grate, Positions
from heatmap.grill.grill import Grill, TargetBand
from heatmap.readings.spoken import parse_said
from heatmap.readings.typed import RowOfShots, Shot

BAND = TargetBand(low_c=288.0, high_c=315.0)
GRILL = Grill(grate=Grate(width_mm=600.0, depth_mm=450.0), target=BAND)
WIDE = Grill(
    grate=Grate(width_mm=2000.0, depth_mm=450.0), target=BAND, positions=Positions(rows=2, columns=26, margin_mm=30.0)
)


def said(line, grill=GRILL):
    found = parse_said(line, grill)
    assert isinstance(found, Shot)
    return found.position, found.aim, round(found.shown_c * 1.8 + 32, 6)


@pytest.mark.parametrize(
    ("line", "meant"),
    [
        ("B two five eighty two", ("B2", "rail", 582)),
        ("b two five hundred and eighty two", ("B2", "rail", 582)),
        ("B two five hundred eighty-two", ("B2", "rail", 582)),
        ("B two five eight two", ("B2", "rail", 582)),
        ("B 2 582", ("B2", "rail", 582)),
        ("b2 five eighty two", ("B2", "rail", 582)),
        ("B two 582", ("B2", "rail", 582)),
        ("C four six oh five", ("C4", "rail", 605)),
        ("A one six hundred", ("A1", "rail", 600)),
        ("A one five twelve", ("A1", "rail", 512)),
        ("A one five eighty point five", ("A1", "rail", 580.5)),
        ("contact B two six ten", ("B2", "contact", 610)),
        ("B two contact six ten", ("B2", "contact", 610)),
        ("five eighty two", ("", "rail", 582)),
        ("patch five ninety", ("", "patch", 590)),
        ("five ninety patch", ("", "patch", 590)),
        ("B two five ninety patch", ("B2", "patch", 590)),
        ("B3 585", ("B3", "rail", 585)),
    ],
)
def test_what_can_be_read_in_one_way_is_understood(line, meant):
    assert said(line) == meant


@pytest.mark.parametrize(
    "line",
    [
        "two five eighty two", "B five eighty two nine", "B two fifty eight two", "B two", "B two eighty two",
        "Z one five eighty", "B nine five eighty", "be two five eighty", "B two five eighty two hundred",
        "B two hundred", "B two five hundred five hundred", "A one two five eighty two", "hundred", "and and",
        "five patch ninety", "nine twenty patch five", "B two five contact ten", "B two five contact eighty two",
    ],
)  # fmt: skip
def test_what_cannot_is_refused_with_what_was_heard(line):
    with pytest.raises(ReadingError) as refused:
        parse_said(line, GRILL)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize(
    ("line", "place"),
    [("B twenty two five eighty", "B22"), ("B twenty five eighty", "B20"), ("B two five eighty", "B2")],
)
def test_on_a_wide_grate_the_number_ends_the_position(line, place):
    assert said(line, WIDE) == (place, "rail", 580)


def test_a_row_typed_is_still_a_row():
    assert isinstance(parse_said("B 585 590 600", GRILL), RowOfShots)
