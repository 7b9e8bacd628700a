"""What looks like a slip: asked about where it is one, and not where a grate may well be so."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, Gun, TargetBand
from heatmap.readings.reading import Reading, Round
from heatmap.units import c_from_f
from heatmap.verdict.oddities import Oddity, oddities
from heatmap.words.map import oddity_sentence

GRATE = Grate(width_mm=610.0, depth_mm=457.0)
US = Grill(grate=GRATE, target=TargetBand(low_c=float(c_from_f(550.0)), high_c=float(c_from_f(600.0))))
SI = Grill(grate=GRATE, target=TargetBand(low_c=290.0, high_c=315.0), units="si")
NOW = datetime(2026, 6, 14, 13, 0, tzinfo=UTC)


def round_of(grill: Grill, numbers: list[float], *, timed: bool = True, again: int = 1) -> Round:
    """Return a round with these numbers, in the grill's units, at its positions in order."""
    convert = c_from_f if grill.units == "us" else float
    readings = [
        Reading(
            id=at + 1,
            shown_c=float(convert(number)),
            x_mm=grill.point_mm(label)[0],
            y_mm=grill.point_mm(label)[1],
            position=label,
            taken_at=NOW - timedelta(seconds=100 - 7 * at) if timed else None,
        )
        for at, (label, number) in enumerate(zip(grill.labels, numbers, strict=False))
    ]
    return Round(number=2, session="", readings=tuple(readings * again))


SLANT = [float(554 + 4 * at) for at in range(12)]
#: A band that holds 290 to 308 °F, and as many °C.
WIDE = replace(US, target=TargetBand(low_c=float(c_from_f(280.0)), high_c=float(c_from_f(620.0))))


@pytest.mark.parametrize(
    ("grill", "numbers"),
    [
        (US, SLANT),
        (US, [float(270 + 18 * at) for at in range(12)]),
        (SI, [float(270 + 5 * at) for at in range(12)]),
        (WIDE, [float(290 + (6 * at) % 19) for at in range(12)]),
    ],
)
def test_nothing_is_odd_about_a_plain_round_or_a_cold_one(grill, numbers):
    assert not list(oddities(grill, round_of(grill, numbers), NOW))


@pytest.mark.parametrize(
    ("grill", "lowest", "says"), [(US, 290, "is it in °C? 290-308 °F"), (SI, 560, "is it in °F? 560-578 °C")]
)
def test_a_round_typed_in_the_other_unit_is_asked_about(grill, lowest, says):
    one = round_of(grill, [float(lowest + (6 * at) % 19) for at in range(12)])
    (found,) = oddities(grill, one, NOW)
    assert found == Oddity("other unit", one.readings)
    sentence = oddity_sentence(found, 2, grill)
    assert says in sentence and "\n" not in sentence


def test_twelve_times_one_number_is_asked_about_and_three_times_is_not():
    assert not list(oddities(US, round_of(US, [580.0] * 3), NOW))
    (found,) = oddities(US, round_of(US, [580.0] * 12), NOW)
    assert (found.kind, len(found.readings)) == ("all alike", 12)
    assert "all 12 shots show 580 °F" in oddity_sentence(found, 2, US)


@pytest.mark.parametrize("timed", [True, False])
def test_rows_pasted_twice_are_told(timed):
    (found,) = oddities(US, round_of(US, SLANT, timed=timed, again=2), NOW)
    assert (found.kind, len(found.readings)) == ("said again", 12)
    assert "12 rows say what others say, the first at A1" in oddity_sentence(found, 2, US)


def test_a_second_pass_that_shows_some_numbers_again_is_none_pasted():
    first, second = (round_of(US, numbers, timed=False).readings for numbers in (SLANT, [*SLANT[:6], *SLANT[:6]]))
    both = Round(number=2, session="", readings=(*first, *second))
    assert not list(oddities(US, both, NOW))


def test_a_day_far_ahead_is_told_and_a_clock_an_hour_ahead_is_not():
    one = round_of(US, SLANT)
    late = replace(one.readings[3], taken_at=datetime(2198, 1, 1, 12, tzinfo=UTC))
    (found,) = oddities(US, replace(one, readings=(*one.readings[:3], late)), NOW)
    assert found == Oddity("yet to come", (late,))
    assert "2198-01-01 (reading 4)" in oddity_sentence(found, 2, US)
    assert not list(oddities(US, one, NOW - timedelta(hours=1)))


def test_a_setting_no_grate_has_is_told():
    low = replace(US, gun=Gun(emissivity_setting=0.05))
    (found,) = oddities(low, round_of(US, SLANT), NOW)
    assert found == Oddity("low setting")
    assert "emissivity setting is 0.05" in oddity_sentence(found, 2, low)
