"""Pairs of shots from close up: the level from the gun alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import fsolve

from heatmap.correct import Calibration, ReferencePair, calibrate, close_up_mm
from heatmap.grate_model.reference_pairs import KnownGuns
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, Gun, TargetBand
from heatmap.physics.planck import band_radiance, band_temperature
from heatmap.physics.spot import rail_share
from heatmap.readings.reading import Reading, Round
from heatmap.units import mm_from_in

GRILL = Grill(grate=Grate(width_mm=600.0, depth_mm=450.0), target=TargetBand(low_c=288.0, high_c=316.0, numbers="rail"))
NEAR_MM = mm_from_in(4.0)
RAIL_C, EMISSIVITY, AIR_C = 300.0, 0.90, GRILL.surroundings.air_c


def shown_c(share: float, valley_c: float, rail_c: float = RAIL_C) -> float:
    """What an ideal gun shows of a spot, by the measurement equation: setting and own temperature as in the grill."""
    rail_k, valley_k, air_k = rail_c + 273.15, valley_c + 273.15, AIR_C + 273.15
    rail = EMISSIVITY * band_radiance(rail_k) + (1.0 - EMISSIVITY) * band_radiance(air_k)
    arriving = share * rail + (1.0 - share) * band_radiance(valley_k)
    setting = GRILL.gun.emissivity_setting
    return float(band_temperature((arriving - (1.0 - setting) * band_radiance(air_k)) / setting)) - 273.15


def pair(valley_c: float, place: int = 0) -> ReferencePair:
    view = calibrate(GRILL).view(NEAR_MM)
    reading = Reading(
        id=2 * place + 2,
        shown_c=shown_c(view.valley_shot_share[0], valley_c),
        x_mm=120.0 * place,
        y_mm=200.0,
        aim="valley",
        distance_mm=NEAR_MM,
    )
    return ReferencePair(reading=reading, infrared_c=shown_c(view.share[0], valley_c), infrared_std_c=0.0, partners=1)


def rail_behind(known: Calibration, valley_c: float) -> tuple[float, float]:
    """The rail, and its shared standard deviation, behind what the gun shows from its usual distance."""
    corrected = known.correct(np.array([shown_c(known.view().share[0], valley_c)]))
    mean_c, std_c = corrected.rail_c, corrected.shared_std_c
    return float(mean_c[0]), float(std_c[0])


def shot_pair(valley_c: float, place: int, random: np.random.Generator) -> ReferencePair:
    """A pair as a hand shoots it: each misses its aim, and the spot catches more or less of the rail."""
    grate, gun = GRILL.grate, GRILL.gun
    missed_mm = random.normal(0.0, gun.aim_sd_mm * NEAR_MM / gun.distance_mm, 2) + [0.0, 0.5 * grate.rail_pitch_mm]
    shares = rail_share(missed_mm, gun.smallest_spot_mm, grate.rail_top_mm, grate.rail_pitch_mm)
    seen = [
        shown_c(float(share), valley_c) * (1.0 + random.normal(0.0, gun.repeatability_percent) / 100.0)
        for share in shares
    ]
    one = pair(valley_c, place)
    return replace(one, reading=replace(one.reading, shown_c=seen[1]), infrared_c=seen[0])


@pytest.mark.parametrize("valley_c", [280.0, 370.0])
def test_twelve_pairs_find_the_rail_beside_a_valley_of_any_heat(valley_c: float) -> None:
    """Without them a valley of 70 °C more than its rail makes the rail read some 45 °C too hot.

    What pairs leave open is filled by what valleys usually are, so that one far from it is not found in full.
    """
    random = np.random.default_rng(4)
    played = [
        rail_behind(calibrate(GRILL, [shot_pair(valley_c, place, random) for place in range(12)]), valley_c)
        for _ in range(30)
    ]
    off_c, told_c = np.array(played).T - np.array([[RAIL_C], [0.0]])
    alone_c, alone_std_c = rail_behind(calibrate(GRILL), valley_c)
    assert abs(off_c.mean()) < 0.5 * told_c.mean()
    assert np.sqrt(np.mean(off_c**2)) < told_c.mean() < 0.55 * alone_std_c
    if valley_c >= 340.0:
        assert np.sqrt(np.mean(off_c**2)) < 0.5 * abs(alone_c - RAIL_C)


def test_agrees_with_solving_the_two_equations() -> None:
    """With everything else known two shots are two equations for rail and valley; scipy's fsolve is the reference."""
    sure = replace(
        GRILL,
        grate=replace(GRILL.grate, emissivity=EMISSIVITY, emissivity_sd=0.0, emissivity_patch_sd=0.0),
        gun=replace(GRILL.gun, accuracy_c=0.0, accuracy_percent=0.0, repeatability_percent=0.0, aim_sd_mm=1.0),
        surroundings=replace(GRILL.surroundings, reflected_sd_c=0.0),
    )
    view = calibrate(sure).view(NEAR_MM)
    shares = view.share[0], view.valley_shot_share[0]
    seen = [shown_c(share, 345.0) for share in shares]
    solved = fsolve(
        lambda both: [shown_c(share, both[1], both[0]) - one for share, one in zip(shares, seen, strict=True)],
        [280, 300],
    )
    valley = Reading(id=1, shown_c=seen[1], x_mm=0.0, y_mm=0.0, aim="valley", distance_mm=NEAR_MM)
    many = [
        ReferencePair(
            reading=replace(valley, id=place, x_mm=200.0 * place), infrared_c=seen[0], infrared_std_c=0.0, partners=1
        )
        for place in range(12)
    ]
    rail_c = calibrate(sure, many).correct(np.array([seen[0]]), NEAR_MM).rail_c
    assert solved[0] == pytest.approx(RAIL_C, abs=1e-6)
    assert float(rail_c[0]) == pytest.approx(float(solved[0]), abs=2.0)


@pytest.mark.parametrize("off_c", [-55.0, 55.0])
def test_one_mistyped_of_twelve_is_left_out(off_c: float) -> None:
    """A hundred °F off in one number would move the level by some 10 °C."""
    random = np.random.default_rng(5)
    good = [shot_pair(315.0, place, random) for place in range(12)]
    shown = good[7].reading.shown_c
    assert shown is not None
    wrong = replace(good[7], reading=replace(good[7].reading, shown_c=shown + off_c))
    known = calibrate(GRILL, [*good[:7], wrong, *good[8:]])
    assert [one.believed for one in known.reference_pairs] == [place != 7 for place in range(12)]
    without = calibrate(GRILL, [*good[:7], *good[8:]])
    assert rail_behind(known, 315.0) == pytest.approx(rail_behind(without, 315.0), rel=1e-12)
    assert all(one.believed for one in calibrate(GRILL, good).reference_pairs)


def test_a_partner_from_as_near_tells_more_than_the_map() -> None:
    with_partner, without = pair(340.0), replace(pair(340.0), partners=0, infrared_c=shown_c(1 / 3, 340.0))
    stds = [rail_behind(calibrate(GRILL, [one]), 340.0)[1] for one in (with_partner, without)]
    assert stds[0] < 0.9 * stds[1]


def test_pairs_at_one_place_count_for_less_than_at_twelve() -> None:
    spread = calibrate(GRILL, [pair(340.0, place) for place in range(12)])
    heap = calibrate(GRILL, [pair(340.0)] * 12)
    assert rail_behind(spread, 340.0)[1] < rail_behind(heap, 340.0)[1]


def round_with(*beside: Reading) -> Round:
    far = [
        Reading(id=n, shown_c=300.0, x_mm=x, y_mm=y, round=1)
        for n, (x, y) in enumerate(((x, y) for x in (100.0, 300.0, 500.0) for y in (80.0, 220.0, 360.0)), start=1)
    ]
    return Round(number=1, session="", readings=(*far, *beside))


def close(number: int, aim: str, shown: float, **changes: object) -> Reading:
    told: dict[str, object] = {"x_mm": 300.0, "y_mm": 220.0, "distance_mm": NEAR_MM, "round": 1} | changes
    return Reading(id=number, shown_c=shown, aim=aim, **told)  # type: ignore[arg-type]


def pairs_of(*beside: Reading) -> tuple[ReferencePair, ...]:
    one = round_with(*beside)
    return KnownGuns(GRILL, [one])(one)["dry"].reference_pairs


def test_a_valley_shot_is_paired_with_the_rail_shot_from_the_same_distance() -> None:
    (found,) = pairs_of(close(20, "rail", 303.0), close(21, "valley", 311.0))
    assert (found.partners, found.infrared_c) == (1, pytest.approx(303.0))
    (elsewhere,) = pairs_of(close(20, "rail", 303.0, x_mm=100.0, y_mm=80.0), close(21, "valley", 311.0))
    assert elsewhere.partners == 0
    (farther,) = pairs_of(close(20, "rail", 303.0, distance_mm=150.0), close(21, "valley", 311.0))
    assert farther.partners == 0


def test_many_valley_shots_do_not_push_out_the_contact_reading() -> None:
    valleys = [close(30 + n, "valley", 311.0) for n in range(20)]
    aims = [one.reading.aim for one in pairs_of(close(20, "contact", 305.0, distance_mm=None), *valleys)]
    assert aims.count("contact") == 1
    assert aims.count("valley") == 12


def test_close_up_is_asked_for_only_where_it_tells() -> None:
    assert close_up_mm(GRILL) == pytest.approx(NEAR_MM)
    assert close_up_mm(replace(GRILL, units="si")) == 100.0
    plate = replace(GRILL, grate=replace(GRILL.grate, rail_top_mm=19.05, rail_pitch_mm=19.05))
    assert close_up_mm(plate) is None
    assert close_up_mm(replace(GRILL, gun=Gun(smallest_spot_mm=25.0))) is None
