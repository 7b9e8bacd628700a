"""The map while a round grows."""

from __future__ import annotations

import numpy as np
import pytest

from heatmap.grill.grill import Grate, Grill, TargetBand
from heatmap.readings.reading import Reading, Round
from heatmap.taking.running import FEWEST, Background, look_behind, running_map
from heatmap.units import c_from_f

GRILL = Grill(grate=Grate(width_mm=610.0, depth_mm=457.0), target=TargetBand(low_c=288.0, high_c=316.0))
SHOWN_F = dict(zip(GRILL.labels, (562, 566, 570, 571, 575, 580, 588, 590, 590, 593, 598, 601), strict=True))


def round_of(count: int, **shown_f: float) -> Round:
    readings = []
    for index, (label, number) in enumerate(list({**SHOWN_F, **shown_f}.items())[:count], 1):
        x_mm, y_mm = GRILL.point_mm(label)
        shown_c = float(c_from_f(number))
        readings.append(Reading(id=index, shown_c=shown_c, x_mm=x_mm, y_mm=y_mm, position=label))
    return Round(number=1, session="", readings=tuple(readings))


def mapped(one: Round, suspects: dict[int, str] | None = None):
    behind = look_behind(GRILL, (one,), one)
    return running_map(GRILL, one, Background(calibrations=behind.calibrations, suspects=suspects or {}))


def test_good_readings_are_all_believed():
    one = round_of(12)
    assert look_behind(GRILL, (one,), one).suspects == {}


def test_a_slip_kept_early_is_found_behind_and_left_out_of_the_map():
    slip, good = round_of(12, B2=850), round_of(12)
    suspects = look_behind(GRILL, (slip,), slip).suspects
    assert [slip.readings[index - 1].position for index in suspects] == ["B2"]
    believed, misled, truly = mapped(slip, dict(suspects)), mapped(slip), mapped(good)
    off = np.abs(believed.compared_c - truly.compared_c).max()
    assert off < 0.2 * np.abs(misled.compared_c - truly.compared_c).max()


def test_too_few_readings_are_no_map_and_no_error():
    for count in range(1, FEWEST):
        assert mapped(round_of(count)) is None
    two = round_of(2)
    assert look_behind(GRILL, (two,), two).suspects == {}
    row = round_of(4)  # all of the back row, in one line
    assert mapped(row) is None


def test_every_position_has_one_word_and_few_shots_are_not_enough():
    few = mapped(round_of(6))
    words = {word: few.labelled(word) for word in ("too hot", "too cold", "in band", "unsure")}
    assert sorted(label for labels in words.values() for label in labels) == sorted(GRILL.labels)
    assert not few.is_enough


@pytest.mark.parametrize("level_f", [350.0, 850.0])
def test_a_grate_far_from_the_band_needs_no_more_shots(level_f):
    shown = dict.fromkeys(GRILL.labels, level_f)
    one = round_of(12, **shown)
    assert mapped(one).is_enough
    assert set(mapped(one).words) == {"too cold" if level_f < 550.0 else "too hot"}
