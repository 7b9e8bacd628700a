"""The map while a round grows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from heatmap.grate_model.reference_pairs import KnownGuns
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, TargetBand
from heatmap.readings.reading import INSISTED, Reading, Round
from heatmap.taking.doubt import DOUBTED
from heatmap.taking.running import GrowingMap, running_map
from heatmap.taking.session import Session
from heatmap.taking.tuning import FEWEST
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


def mapped(one: Round, earlier: Sequence[Round] = ()):
    return running_map(GRILL, earlier, one, KnownGuns(GRILL, (*earlier, one)))


def test_good_readings_are_all_believed():
    assert mapped(round_of(12)).suspects == {}


def test_a_slip_kept_early_is_found_and_left_out_of_the_map():
    slip, good = round_of(12, B2=850), round_of(12)
    insisted = replace(slip, readings=tuple(replace(one, note=INSISTED) for one in slip.readings))
    found, misled, truly = mapped(slip), mapped(insisted), mapped(good)
    assert [slip.readings[index].position for index in found.suspects] == ["B2"]
    off = np.abs(found.at_labels[0] - truly.at_labels[0]).max()
    assert off < 0.2 * np.abs(misled.at_labels[0] - truly.at_labels[0]).max()


def test_what_was_kept_in_doubt_is_no_part_of_the_map():
    good = round_of(12)
    doubted = replace(good.readings[0], id=13, shown_c=100.0, note=DOUBTED)
    with_doubted = replace(good, readings=(*good.readings, doubted))
    np.testing.assert_allclose(mapped(with_doubted).at_labels[0], mapped(good).at_labels[0])


def test_what_a_contact_reading_teaches_is_known_whichever_comes_first_and_after_it_was_put_right():
    shots = round_of(12).readings
    at_b2 = next(one for one in shots if one.position == "B2")
    others = [one for one in shots if one is not at_b2]
    contact = replace(at_b2, id=20, aim="contact", shown_c=330.0)
    put_right = replace(contact, id=21, shown_c=290.0)

    def known(*grown: list[Reading]) -> float:
        session = Session(GRILL, GRILL.labels, number=1, name="")
        growing = GrowingMap()
        for session.readings in grown:
            growing.update(session)
        return float(session.calibrations["dry"].shown_from_rail_c(np.array([300.0]))[0])

    paired = known([*shots, contact])
    assert paired < known(list(shots)) - 10.0
    first = known([others[0], contact], [others[0], contact, at_b2], [*others, contact, at_b2])
    assert first == pytest.approx(paired, abs=3.0)  # the shot beside it alone tells what the gun shows there
    assert known([*shots, contact], [*shots, put_right]) == known([*shots, put_right])
    assert known([*shots, put_right]) > paired + 10.0


def test_too_few_readings_are_no_map_and_no_error():
    for count in range(1, FEWEST):
        assert mapped(round_of(count)) is None
    row = round_of(4)  # all of the back row, in one line
    assert mapped(row) is None


def test_a_full_round_before_carries_the_shape_from_the_second_shot_on():
    before, grown = round_of(12), replace(round_of(2), number=2)
    assert mapped(replace(round_of(1), number=2), (before,)) is None
    found = mapped(grown, (before,))
    assert found.shape_from is before
    shown_c = np.array([one.shown_c for one in before.readings])
    # The band is in shown numbers: two shots as before leave the map where the round before had it, which scatters
    # about its own readings by no more than their steps of some 3 °C.
    np.testing.assert_allclose(found.at_labels[0], shown_c, atol=5.0)


def test_every_position_has_one_word_and_few_shots_are_not_enough():
    few = mapped(round_of(6))
    words = {
        (word, sure): few.labelled(word, sure=sure)  # type: ignore[arg-type]
        for word in ("too hot", "too cold", "in band")
        for sure in (True, False)
    }
    assert sorted(label for labels in words.values() for label in labels) == sorted(GRILL.labels)
    assert few.next is not None


@pytest.mark.parametrize("level_f", [350.0, 850.0])
def test_a_grate_far_from_the_band_needs_no_more_shots(level_f):
    shown = dict.fromkeys(GRILL.labels, level_f)
    one = round_of(12, **shown)
    assert mapped(one).next is None
    assert set(mapped(one).words_at_labels[0]) == {"too cold" if level_f < 550.0 else "too hot"}
