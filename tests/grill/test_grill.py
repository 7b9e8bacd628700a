"""The grill as values: checks, positions, marks, finishes."""

from __future__ import annotations

import math
from dataclasses import FrozenInstanceError, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatmap.errors import GrillError, ReadingError
from heatmap.grill.burner import Burner, burner_key
from heatmap.grill.grate import Grate, Positions
from heatmap.grill.grill import Grill, Gun, Surroundings, TargetBand
from heatmap.grill.schema import Key, OutOfRangeError
from heatmap.physics.finishes import find_finish
from heatmap.readings.written import mark_from_text
from heatmap.units import inside_value, shown_value

GRATE = Grate(width_mm=600.0, depth_mm=450.0)
GRILL = Grill(grate=GRATE, target=TargetBand(low_c=288.0, high_c=316.0))
KNOB = Burner(name="Left Back", points_mm=((100.0, 20.0), (100.0, 430.0)))


def test_positions_are_lettered_from_the_back_and_numbered_from_the_left() -> None:
    assert GRILL.labels == ("A1", "A2", "A3", "A4", "B1", "B2", "B3", "B4", "C1", "C2", "C3", "C4")
    margin_mm = 2.5 * 25.4
    assert GRILL.point_mm("A1") == pytest.approx((margin_mm, 450.0 - margin_mm))
    assert GRILL.point_mm(" c4 ") == pytest.approx((600.0 - margin_mm, margin_mm))
    assert GRILL.point_mm("B2")[1] == pytest.approx(225.0)
    points = np.array([GRILL.point_mm(label) for label in GRILL.labels])
    np.testing.assert_allclose(points.mean(axis=0), [300.0, 225.0])


def test_a_single_row_or_column_lies_in_the_middle() -> None:
    one = replace(GRILL, positions=Positions(rows=1, columns=1))
    assert one.labels == ("A1",)
    assert one.point_mm("A1") == (300.0, 225.0)


@pytest.mark.parametrize("label", ["", "D1", "A5", "A0", "1A", "A", "AA1", "A-1", "A1.0", "A²", "Ä1", "A 1x", "٣"])
def test_no_such_position(label: str) -> None:
    with pytest.raises(ReadingError, match=r"is not on this grate; positions go from A1 \(back left\) to C4"):
        GRILL.point_mm(label)


@given(rows=st.integers(1, 26), columns=st.integers(1, 11))
def test_every_label_is_a_point_on_the_grate(rows: int, columns: int) -> None:
    grill = replace(GRILL, positions=Positions(rows=rows, columns=columns))
    assert len(set(grill.labels)) == rows * columns
    for label in (grill.labels[0], grill.labels[-1]):
        x_mm, y_mm = grill.point_mm(label)
        assert 0.0 < x_mm < 600.0
        assert 0.0 < y_mm < 450.0


def test_cells_tile_the_grate() -> None:
    x_mm, y_mm = GRATE.cells_mm(12.7)
    assert (len(x_mm), len(y_mm)) == (47, 35)
    np.testing.assert_allclose([x_mm[0], x_mm[-1]], [300.0 / 47, 600.0 - 300.0 / 47])
    np.testing.assert_allclose(np.diff(y_mm), 450.0 / 35)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: replace(GRATE, width_mm=math.nan), "grate.width is nan mm"),
        (
            lambda: replace(GRATE, width_mm=math.inf),
            "grate.width is inf mm; it must be at least 50 and at most 5000 mm",
        ),
        (
            lambda: replace(GRATE, rail_top_mm=30.0),
            "grate.rail_top is 30 mm; it must be at least 0.2 and below 19.05 mm",
        ),
        (
            lambda: replace(GRATE, width_mm=4700.0),  # 1.7 square metres over its depth
            "grate.width is 4700 mm; it must be at least 50 and below 3778 mm, or it is larger than any grate",
        ),
        (lambda: replace(GRATE, rim_mm=225.0), "grate.rim is 225 mm; it must be at least 0 and below 225 mm"),
        (lambda: replace(GRATE, seams_mm=(300.0, math.nan)), "grate.seams is nan mm"),
        (lambda: replace(GRATE, rails="left-to-right", seams_mm=(500.0,)), "grate.seams is 500 mm"),
        (
            lambda: replace(GRATE, emissivity=0.0),
            "grate.emissivity is 0; it must be at least 0.01 and at most 1: no metal is brighter",
        ),
        (lambda: replace(GRATE, finish="gold"), "finish 'gold' is not in the table"),
        (lambda: replace(GRATE, rails="round"), 'grate.rails is "round"'),
        (lambda: TargetBand(low_c=316.0, high_c=316.0), "the band is upside down or empty"),
        (
            lambda: TargetBand(low_c=316.0, high_c=288.0),
            "target.low is 316 °C; it must be at least -20 and below 288 °C",
        ),
        (lambda: TargetBand(low_c=280.0, high_c=300.0, numbers="cook"), 'target.numbers is "cook"'),
        (lambda: Gun(own_temperature_c="lid"), 'gun.own_temperature is "lid"'),
        (lambda: Gun(emissivity_setting=1.01), "gun.emissivity_setting is 1.01"),
        (lambda: Gun(emissivity_setting=1e-300), "it must be at least 0.01 and at most 1: no gun can be set lower"),
        (lambda: Positions(rows=0), "positions.rows is 0"),
        (lambda: Positions(rows=26, columns=99), "positions.rows times columns is 2574; it must be at most 300: every"),
        (lambda: replace(GRILL, positions=Positions(margin_mm=225.0)), "positions.margin is 225 mm"),
        (lambda: replace(GRILL, units="metric"), 'units is "metric"'),
        (lambda: replace(GRILL, burners=(KNOB, replace(KNOB, name="left_back"))), "is there twice"),
        (lambda: replace(KNOB, name="  "), "burner.name is empty"),
        (lambda: replace(KNOB, points_mm=()), "say where it lies"),
        (lambda: replace(KNOB, control="dial"), 'control is "dial"'),
        (
            lambda: replace(KNOB, high=1e9),
            "it must be at least -5000 and at most 5000: no dial goes farther",
        ),
        (lambda: replace(KNOB, step=0.0001), "step is 0.0001; from 1 to 10 it must be at least 0.0045"),
        (
            lambda: replace(KNOB, marks=tuple(map(str, range(61)))),
            "marks is a list of 61; it must be of at most 60: no",
        ),
        (
            lambda: replace(GRILL, burners=tuple(replace(KNOB, name=str(at)) for at in range(25))),
            "there are 25 burners; at most 24",
        ),
        (lambda: replace(KNOB, low=10.0), "low must be below high"),
        (lambda: replace(KNOB, step=0.0), "step is 0; it must be above 0 and at most 5000"),
        (lambda: replace(KNOB, step=math.nan), "step is nan; it must be above 0"),
        (lambda: replace(KNOB, marks=("LO",)), "marks are LO; they must be two or more"),
    ],
)
def test_what_cannot_be_is_refused(make: object, words: str) -> None:
    with pytest.raises(GrillError, match=words.replace("(", r"\(")) as caught:
        make()  # type: ignore[operator]
    assert "\n" not in str(caught.value)


def test_out_of_range_speaks_both_units() -> None:
    error = OutOfRangeError("gun.distance", 0.0, Key(kind="length", low=10.0, high=5000.0))
    assert str(error) == "gun.distance is 0 mm; it must be at least 10 and at most 5000 mm"
    assert error.in_units("us") == "gun.distance is 0 in; it must be at least 0.3937 and at most 196.9 in"
    open_ended = OutOfRangeError("x", -1.0, Key(kind="difference", low=0.0, low_open=True))
    assert open_ended.in_units("us") == "x is -1.8 °F; it must be above 0 °F"


@given(value=st.floats(-1e4, 1e4), kind=st.sampled_from(["length", "temperature", "difference", "number"]))
def test_shown_and_back(value: float, kind: str) -> None:
    for units in ("us", "si"):
        there = shown_value(value, kind, units)  # type: ignore[arg-type]
        assert inside_value(there, kind, units) == pytest.approx(value, abs=1e-9)  # type: ignore[arg-type]


def test_a_solid_plate_survives_rounding_of_inches() -> None:
    assert Grate(width_mm=600.0, depth_mm=450.0, rail_top_mm=19.05, rail_pitch_mm=0.75 * 25.4).rail_top_mm == 19.05


def test_emissivity_is_given_or_from_the_finish() -> None:
    seasoned = find_finish("cast iron, seasoned")
    assert (GRATE.rail_emissivity, GRATE.rail_emissivity_sd) == (seasoned.emissivity, seasoned.emissivity_sd)
    own = replace(GRATE, emissivity=0.8)
    assert (own.rail_emissivity, own.rail_emissivity_sd) == (0.8, 0.05)
    assert replace(own, emissivity_sd=0.0).rail_emissivity_sd == 0.0
    assert replace(GRATE, emissivity_sd=0.1).rail_emissivity == seasoned.emissivity
    assert replace(own, finish="gold").finish == "gold"  # not looked up where a number is given


def test_seams_run_along_the_rails() -> None:
    assert GRATE.seam_axis == "x"
    assert replace(GRATE, rails="left-to-right").seam_axis == "y"


def test_what_the_gun_takes_as_reflected() -> None:
    around = Surroundings(air_c=31.0)
    assert replace(GRILL, surroundings=around).gun_own_c == 31.0
    assert replace(GRILL, gun=Gun(own_temperature_c="none")).gun_own_c is None
    assert replace(GRILL, gun=Gun(own_temperature_c=28.0)).gun_own_c == 28.0


def test_settable_marks() -> None:
    np.testing.assert_allclose(KNOB.settable, np.arange(1.0, 10.1, 0.5))
    uneven = replace(KNOB, step=2.0)
    assert uneven.settable == (1.0, 3.0, 5.0, 7.0, 9.0, 10.0)
    tenths = replace(KNOB, low=0.0, high=0.3, step=0.1)
    np.testing.assert_allclose(tenths.settable, [0.0, 0.1, 0.2, 0.3])
    named = replace(KNOB, marks=("LO", "MED", "HI"))
    np.testing.assert_allclose(named.settable, [1.0, 5.5, 10.0])
    assert [named.mark_text(mark) for mark in named.settable] == ["LO", "MED", "HI"]
    assert KNOB.mark_text(2.5) == "2.5"
    assert (KNOB.fraction(1.0), KNOB.fraction(10.0)) == (0.0, 1.0)


@pytest.mark.parametrize("burner", [KNOB, replace(KNOB, marks=("LO", "MED", "HI"))])
def test_marks_there_and_back(burner: Burner) -> None:
    for mark in burner.settable:
        assert mark_from_text(burner.mark_text(float(mark)), burner) == pytest.approx(mark)
    assert mark_from_text(" hi ", replace(KNOB, marks=("LO", "HI"))) == 10.0


@pytest.mark.parametrize("text", ["", "11", "0.9", "nan", "inf", "hot"])
def test_no_such_mark(text: str) -> None:
    with pytest.raises(ReadingError, match='is no mark of burner "Left Back"; it goes from 1 to 10'):
        mark_from_text(text, KNOB)


def test_burners_are_found_by_any_spelling() -> None:
    grill = replace(GRILL, burners=(KNOB,))
    for name in ("Left Back", "left back", "LEFT_BACK", "left_back"):
        assert burner_key(name.replace("_", " ")) == "left_back"
        assert grill.burner(name.replace("_", " ")) is KNOB
    assert grill.burner("left_back") is KNOB
    with pytest.raises(ReadingError, match='there is no burner "right"; burners are: Left Back'):
        grill.burner("right")
    with pytest.raises(ReadingError, match="none in the grill file"):
        GRILL.burner("right")
    assert grill.complete_settings({"Left Back": 3.0})
    assert not grill.complete_settings({})
    assert replace(GRILL, burners=(Burner(name="coals", control="none"),)).complete_settings({})


def test_a_ring_is_closed_and_round() -> None:
    ring = np.array(Burner.ring((300.0, 225.0), 80.0))
    np.testing.assert_allclose(ring[0], ring[-1])
    np.testing.assert_allclose(np.hypot(*(ring - [300.0, 225.0]).T), 80.0)


def test_a_grill_cannot_be_changed() -> None:
    with pytest.raises(FrozenInstanceError):
        GRILL.units = "si"  # type: ignore[misc]
