"""Is a new reading to be believed?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from heatmap.correct import calibrate
from heatmap.grate_model.reference_pairs import corrected_rounds
from heatmap.grate_model.round_map import RoundMap, surface_to_come
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, TargetBand
from heatmap.readings.reading import Reading, Round
from heatmap.synthetic import draw_grill
from heatmap.taking.doubt import doubt
from heatmap.units import c_from_f, f_from_c

NUMBERS = dict(zip("B2 A1 C4 A4 C1 A2 B3".split(), (580, 562, 601, 571, 590, 566, 588), strict=True))


@pytest.fixture(scope="module")
def grill():
    return Grill(grate=Grate(width_mm=610.0, depth_mm=457.0), target=TargetBand(low_c=288.0, high_c=316.0))


def reading(grill, label, shown_f, **more):
    x_mm, y_mm = grill.point_mm(label)
    return Reading(id=more.pop("id", 1), shown_c=float(c_from_f(shown_f)), x_mm=x_mm, y_mm=y_mm, position=label, **more)


@pytest.fixture(scope="module")
def known(grill):
    """Return the calibration, the map and the readings of seven good shots."""
    shots = tuple(reading(grill, label, shown, id=index) for index, (label, shown) in enumerate(NUMBERS.items(), 1))
    one = Round(number=1, session="", readings=shots)
    log = corrected_rounds(grill, (one,))
    return log.calibrations(one)["dry"], RoundMap.of(log, one).surface, shots


def test_what_the_map_allows_is_believed(grill, known):
    for label, shown in (("B1", 577), ("C2", 592), ("A3", 560), ("C3", 605)):
        assert doubt(reading(grill, label, shown), *known) is None


@pytest.mark.parametrize(
    ("shown", "meant"), [(58, True), (858, True), (85, True), (985, False), (430, False), (760, False)]
)
def test_slips_and_shots_that_cannot_be_are_doubted(grill, known, shown, meant):
    found = doubt(reading(grill, "B1", shown), *known)
    assert found is not None
    assert f_from_c(found.expected_shown_c) == pytest.approx(578, abs=12)
    if meant:
        assert found.meant_c is not None
        assert f_from_c(found.meant_c) == pytest.approx(578, abs=15)


def test_with_few_readings_only_what_cannot_be_on_one_grate_is_doubted(grill, known):
    calibration, _, shots = known
    assert doubt(reading(grill, "A1", 500), calibration, None, shots[:1]) is None
    assert doubt(reading(grill, "A1", 58), calibration, None, shots[:1]) is not None


@pytest.mark.parametrize("shown", [5, 58, 85, 99, 1580, 1858])
def test_the_first_shot_of_all_is_held_against_the_band_and_the_air(grill, known, shown):
    found = doubt(reading(grill, "A1", shown), known[0], None, ())
    assert found is not None
    assert found.expected_shown_c is None
    assert found.meant_c is None


@pytest.mark.parametrize("shown", [300, 400, 500, 580, 700, 950])
def test_a_first_shot_of_a_grate_on_its_way_is_not_asked_about(grill, known, shown):
    assert doubt(reading(grill, "A1", shown), known[0], None, ()) is None


def test_a_first_shot_of_bright_metal_is_held_against_a_band_of_rails_as_a_rail(grill):
    bright = replace(
        grill,
        grate=Grate(width_mm=610.0, depth_mm=457.0, emissivity=0.3, emissivity_sd=0.05),
        target=TargetBand(low_c=288.0, high_c=316.0, numbers="rail"),
    )
    calibration = calibrate(bright)
    shown_f = float(f_from_c(calibration.shown_from_rail_c(np.array([300.0]))[0]))
    assert doubt(reading(bright, "A1", round(shown_f)), calibration, None, ()) is None


def test_contact_and_valley_readings_are_not_judged_as_rail_readings(grill, known):
    assert doubt(reading(grill, "B1", 900, aim="valley"), *known) is None
    assert doubt(reading(grill, "B1", 400, aim="contact"), *known) is None


def test_the_first_shot_of_a_round_is_held_against_the_rounds_before():
    """Two digits swapped are seen by the round before, not by band and air alone; honest shots are not asked about."""
    missed = blind = honest = 0
    for seed in range(6):
        grill = draw_grill(1000 + seed, cell_mm=50.8)
        first = grill.play_round(1)
        grill.wait(13.0)
        second = grill.play_round(2)
        log = corrected_rounds(grill.grill, (first,))
        group = (second.session, second.lid, second.surface)
        to_come = surface_to_come(log, second, second.settings, group)
        calibration = log.calibrations(second)[second.surface]
        for reading in second.with_aim("rail")[:4]:
            shown_f = round(1.8 * reading.shown_c + 32.0)
            swapped = 100 * (shown_f // 10 % 10) + 10 * (shown_f // 100) + shown_f % 10
            honest += doubt(reading, calibration, to_come, []) is not None
            if abs(swapped - shown_f) > 80:
                slip = replace(reading, shown_c=(swapped - 32.0) / 1.8)
                missed += doubt(slip, calibration, to_come, []) is None
                blind += doubt(slip, calibration, None, []) is None
    assert honest == 0
    assert blind >= 10
    assert missed <= blind / 3


def test_without_a_full_round_before_nothing_is_expected():
    grill = draw_grill(1000)
    first = grill.play_round(1)
    few = replace(first, readings=first.readings[:2])
    group = (first.session, first.lid, first.surface)
    assert surface_to_come(corrected_rounds(grill.grill, (few,)), replace(first, number=2), {}, group) is None
