"""One round turned into a surface: drift, the lid, suspects, re-checks, and rounds that cannot be mapped."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from heatmap.correct.calibration import calibrate
from heatmap.errors import MapError
from heatmap.grate_model.round_map import CorrectedRounds, RoundMap, is_recheck, same_marks
from heatmap.grate_model.round_spots import LID_TO_FIRST_SHOT_S, MOST_DRIFT_MIN, RoundSpots
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, TargetBand
from heatmap.readings.reading import INSISTED, Reading, Round

GRILL = Grill(grate=Grate(width_mm=600.0, depth_mm=450.0), target=TargetBand(low_c=288.0, high_c=316.0), units="si")
START = datetime(2026, 5, 2, 11, 0, tzinfo=UTC)
KNOWN = {"dry": calibrate(GRILL)}
Field = Callable[[float, float], float]


def shots(field: Field, labels: Sequence[str] = GRILL.labels, seed: int | None = 1, **changes: object) -> list[Reading]:
    """Shoot positions in order, 8 s apart, with some scatter; what the gun shows is rounded to whole
    degrees."""
    rng = np.random.default_rng(seed)
    readings = []
    for index, label in enumerate(labels):
        x_mm, y_mm = GRILL.point_mm(label)
        scatter = 0.0 if seed is None else float(rng.normal(0.0, 1.5))
        told: dict[str, object] = {
            "id": index + 1,
            "shown_c": float(np.round(field(x_mm, y_mm) + scatter)),
            "x_mm": x_mm,
            "y_mm": y_mm,
            "position": label,
            "taken_at": START + timedelta(seconds=8 * index),
        }
        readings.append(Reading(**(told | changes)))  # type: ignore[arg-type]
    return readings


def one_round(readings: Sequence[Reading], number: int = 1) -> Round:
    return Round(number=number, session="", readings=tuple(readings))


def mapped(readings: Sequence[Reading]) -> RoundMap:
    return after([], one_round(readings))


def after(before: Sequence[Round], chosen: Round) -> RoundMap:
    return RoundMap.of(CorrectedRounds(GRILL, (*before, chosen), lambda _: KNOWN), chosen)


def shown_at(round_map: RoundMap, points_mm: np.ndarray) -> np.ndarray:
    return KNOWN["dry"].shown_from_rail_c(round_map.surface.predict(points_mm)[0])


def slanted(x_mm: float, y_mm: float) -> float:
    return 300.0 + 0.05 * (x_mm - 300.0) - 0.04 * (y_mm - 225.0)


INSIDE = np.array([[150.0, 120.0], [300.0, 225.0], [450.0, 330.0], [150.0, 330.0]])


def test_a_known_field_comes_back() -> None:
    round_map = mapped(shots(slanted))
    truth = [slanted(*point) for point in INSIDE]
    np.testing.assert_allclose(shown_at(round_map, INSIDE), truth, atol=3.0)
    assert round_map.suspects == {}
    assert [spot.reading.id for spot in round_map.kept_spots] == list(range(1, 13))
    assert round_map.shape_from is None


def test_order_of_readings_is_irrelevant() -> None:
    readings = shots(slanted)
    shuffled = [readings[index] for index in np.random.default_rng(2).permutation(12)]
    np.testing.assert_allclose(
        mapped(readings).surface.predict(INSIDE)[0], mapped(shuffled).surface.predict(INSIDE)[0], rtol=1e-8
    )


def test_mirrored_grate_gives_a_mirrored_map() -> None:
    readings = shots(slanted)
    width_mm = GRILL.grate.width_mm
    turned = [replace(reading, x_mm=width_mm - reading.x_mm) for reading in readings]
    mirrored = INSIDE * [-1.0, 1.0] + [width_mm, 0.0]
    for before, after in zip(
        mapped(readings).surface.predict(INSIDE), mapped(turned).surface.predict(mirrored), strict=True
    ):
        np.testing.assert_allclose(before, after, rtol=1e-7)


def test_a_repeat_teaches_and_never_widens_its_place() -> None:
    readings = shots(slanted)
    again = replace(readings[5], id=13, taken_at=readings[-1].taken_at)
    here = np.array([readings[5].point_mm])
    once, twice = mapped(readings), mapped([*readings, again])
    assert twice.surface.predict(here)[1][0] < once.surface.predict(here)[1][0] * 1.02
    sure, unsure = (each.surface.drift_c_per_min() for each in (twice, once))
    assert sure is not None
    assert unsure is not None
    assert sure[1] < unsure[1]


def test_drift_is_learned_from_repeats() -> None:
    """A grate that rises by 6 °C a minute, shot twice: the map stands for the median time, not for the mean
    of both."""
    first = shots(slanted, seed=None)
    second = [
        replace(
            reading,
            id=reading.id + 12,
            shown_c=reading.shown_c + 12.0,
            taken_at=reading.taken_at + timedelta(minutes=2),
        )
        for reading in first
    ]
    round_map = mapped([*first, *second])
    drift = round_map.surface.drift_c_per_min()
    assert drift is not None
    assert drift[0] == pytest.approx(6.0, abs=0.7)
    surface, last = round_map.surface, second[-1]
    assert last.taken_at is not None
    minutes = surface.spots.minutes_at(last.taken_at + timedelta(minutes=1))
    now_c, later_c = (surface.predict([last.point_mm], when)[0][0] for when in (0.0, minutes))
    assert later_c - now_c == pytest.approx(6.0 * minutes, rel=0.12)
    # The farther from the shots, the less is known; and nothing is believed for long.
    stds_c = [surface.predict([last.point_mm], when)[1][0] for when in (minutes, minutes + 2.0, minutes + 6.0)]
    assert stds_c == sorted(stds_c)
    assert surface.spots.minutes_at(last.taken_at + timedelta(hours=2)) == MOST_DRIFT_MIN
    assert surface.spots.minutes_at(None) == 0.0


# A grate that soaked under a closed lid loses about 10, 19 and 27 °F in the first 30, 60 and 90 s after it is
# lifted: common practice, no source.
LOST_C = {0.0: 0.0, 30.0: 10 / 1.8, 60.0: 19 / 1.8, 90.0: 27 / 1.8}


def lid_round(lid: str) -> list[Reading]:
    """Shoot a level grate from front to back while it cools, one reading every 8 s, from 8 s after the lid is
    lifted."""
    labels = [f"{row}{column}" for row in "CBA" for column in range(1, 5)]
    readings = []
    for index, reading in enumerate(shots(lambda x, y: 300.0, labels, seed=None)):
        seconds = LID_TO_FIRST_SHOT_S + 8.0 * index
        lost_c = float(np.interp(seconds, list(LOST_C), list(LOST_C.values())))
        readings.append(replace(reading, shown_c=round(300.0 - lost_c), lid=lid))  # type: ignore[arg-type]
    return readings


def test_cooling_after_the_lid_is_no_tilt() -> None:
    front, back = np.array([[300.0, 63.5]]), np.array([[300.0, 386.5]])

    def tilt(round_map: RoundMap) -> float:
        return float(shown_at(round_map, back)[0] - shown_at(round_map, front)[0])

    told, untold = mapped(lid_round("closed")), mapped(lid_round("open"))
    assert abs(tilt(told)) < 3.0
    assert tilt(untold) < -4.0
    assert told.surface.drift_c_per_min() is not None
    # By the median time, 56 s after the lid, some 18 °F are gone: common practice, no source.
    assert told.surface.lid_drop_c() == pytest.approx(-18.0 / 1.8, abs=3.0)


def test_the_lid_takes_what_the_trade_says() -> None:
    one = one_round(lid_round("closed"))
    spots = RoundSpots.of(GRILL, one, mapped(one.readings).corrected)
    assert spots.minutes[list(spots.minutes).index(0.0)] == 0.0
    # Between 8 and 38 s, 10 °F or a little less: common practice, no source.
    ends_min = spots.minutes.min() + np.array([0.0, 0.5])
    assert -np.diff(spots.lid_drop_c(ends_min))[0] == pytest.approx(5.5, abs=0.5)
    opened = RoundSpots.of(GRILL, one_round(lid_round("open")), mapped(one.readings).corrected)
    assert not opened.lid_drop_c(opened.minutes).any()


def test_without_times_there_is_no_drift() -> None:
    untimed = [replace(reading, taken_at=None) for reading in shots(slanted)]
    assert mapped(untimed).surface.drift_c_per_min() is None
    one_missing = shots(slanted)
    one_missing[3] = replace(one_missing[3], taken_at=None)
    assert mapped(one_missing).surface.drift_c_per_min() is None
    at_once = [replace(reading, taken_at=START) for reading in shots(slanted)]
    assert mapped(at_once).surface.drift_c_per_min() is None


@pytest.mark.parametrize("typed", [28.0, 391.0])
def test_a_slip_is_suspect_and_left_out(typed: float) -> None:
    readings = shots(slanted)
    clean = mapped(readings)
    readings[4] = replace(readings[4], shown_c=typed)
    round_map = mapped(readings)
    assert list(round_map.suspects) == [4]
    expected_c = KNOWN["dry"].shown_from_rail_c(np.array(round_map.suspects[4]))
    assert expected_c == pytest.approx(slanted(*readings[4].point_mm), abs=12.0)
    np.testing.assert_allclose(shown_at(round_map, INSIDE), shown_at(clean, INSIDE), atol=3.0)


def test_a_suspect_the_cook_insists_on_stays() -> None:
    readings = shots(slanted)
    readings[4] = replace(readings[4], shown_c=391.0, note=f"{INSISTED} after a second look")
    assert mapped(readings).suspects == {}
    assert len(mapped(readings).kept_spots) == 12
    readings[4] = replace(readings[4], note="")
    assert list(mapped(readings).suspects) == [4]


def test_oiled_and_dry_readings_go_through_their_own_correction() -> None:
    calibrations = {"dry": calibrate(GRILL), "oiled": calibrate(GRILL, surface="oiled")}
    dry = shots(slanted)
    mixed = [replace(one, surface="oiled" if index % 2 else "dry") for index, one in enumerate(dry)]
    spots = RoundMap.of(CorrectedRounds(GRILL, (), lambda _: calibrations), one_round(mixed)).corrected
    assert [spot.reading.id for spot in spots] == [one.id for one in mixed]
    alone = RoundMap.of(CorrectedRounds(GRILL, (), lambda _: calibrations), one_round(dry)).corrected
    same = [abs(a.rail_c - b.rail_c) < 1e-3 for a, b in zip(spots, alone, strict=True)]  # type: ignore[operator]
    assert same == [True, False] * 6


@pytest.mark.parametrize(
    ("labels", "message"),
    [
        ([], "round 1 has rail readings at 0 places; a map needs at least 3, not all in one line"),
        (["A1"], "round 1 has rail readings at 1 place; a map needs"),
        (["A1", "B2", "A1"], "round 1 has rail readings at 2 places; a map needs"),
        (["A1", "A2", "A3", "A4"], "round 1 has all its rail readings in one line; a map needs an area"),
    ],
)
def test_too_few_or_in_one_line(labels: list[str], message: str) -> None:
    with pytest.raises(MapError, match=message) as caught:
        mapped(shots(slanted, labels))
    assert "\n" not in str(caught.value)


def moved(field: Field, level_c: float, tilt_c: float) -> Field:
    return lambda x_mm, y_mm: field(x_mm, y_mm) + level_c + tilt_c * (x_mm / 300.0 - 1.0)


def bumpy(x_mm: float, y_mm: float) -> float:
    return 300.0 + 12.0 * np.sin(x_mm / 90.0) * np.cos(y_mm / 110.0)


FEW = ["A1", "A4", "B2", "C4"]


def recheck(field: Field, labels: Sequence[str] = FEW, minutes: float = 10.0, **changes: object) -> Round:
    later = [
        replace(one, id=one.id + 100, taken_at=one.taken_at + timedelta(minutes=minutes), round=2)  # type: ignore[operator]
        for one in shots(field, labels, **changes)  # type: ignore[arg-type]
    ]
    return one_round(later, number=2)


def test_what_is_a_recheck() -> None:
    assert is_recheck(GRILL, recheck(bumpy))
    assert is_recheck(GRILL, recheck(bumpy, ["B2"]))
    assert not is_recheck(GRILL, one_round(shots(bumpy)))
    assert not is_recheck(GRILL, one_round(shots(bumpy, GRILL.labels[:6])))
    assert not is_recheck(GRILL, one_round([]))
    turned = one_round(shots(bumpy, knobs={"left": 5.0}))
    assert same_marks(turned, one_round(shots(bumpy)))
    assert same_marks(turned, turned)
    assert not same_marks(turned, one_round(shots(bumpy, knobs={"left": 6.0})))


def test_a_recheck_keeps_the_shape_and_takes_level_and_tilt() -> None:
    base = mapped(shots(bumpy))
    now = moved(bumpy, 25.0, 6.0)
    round_map = after([base.round], recheck(now))
    assert round_map.shape_from is base.round
    points = np.array([GRILL.point_mm(label) for label in GRILL.labels])

    def error_c(one: RoundMap, field: Field) -> float:
        off_c = shown_at(one, points) - np.array([field(*point) for point in points])
        return float(np.sqrt(np.mean(off_c**2)))

    assert error_c(round_map, now) < error_c(base, bumpy) + 1.5
    # The shape alone: what four shots could not tell is still there.
    before_c = shown_at(base, points)
    shape_c = shown_at(round_map, points) - before_c - 25.0 - 6.0 * (points[:, 0] / 300.0 - 1.0)
    assert np.abs(shape_c).max() < 4.0


@pytest.mark.parametrize("labels", [["B2"], ["B2", "C3"]])
def test_one_or_two_shots_take_the_level(labels: list[str]) -> None:
    base = mapped(shots(bumpy))
    round_map = after([base.round], recheck(moved(bumpy, 25.0, 0.0), labels))
    points = np.array([GRILL.point_mm(label) for label in GRILL.labels])
    np.testing.assert_allclose(shown_at(round_map, points) - shown_at(base, points), 25.0, atol=6.0)
    corner = np.array([GRILL.point_mm("A4")])
    assert round_map.surface.predict(corner)[1][0] > base.surface.predict(corner)[1][0]


@pytest.mark.parametrize("labels", [["A1", "B2", "C4"], ["B2", "B3", "C2"], FEW, ["A1", "A4", "C1", "C4", "B2"]])
def test_one_odd_shot_of_a_recheck_does_not_turn_the_map(labels: list[str]) -> None:
    """A shot that cannot be turns nothing; one that may be true moves the far side by less than itself."""
    base = mapped(shots(bumpy))
    fine = recheck(bumpy, labels)
    points = np.array([GRILL.point_mm(label) for label in GRILL.labels])
    before_c = after([base.round], fine).surface.predict(points)[0]
    first = fine.readings[0]
    far = np.hypot(points[:, 0] - first.x_mm, points[:, 1] - first.y_mm) > 250.0
    u = points[:, 0] / 300.0 - 1.0
    v = points[:, 1] / 225.0 - 1.0
    for off_c in (-60.0, -30.0, -20.0, -12.0, 12.0, 20.0, 30.0, 60.0):
        odd = replace(fine, readings=(replace(first, shown_c=first.shown_c + off_c), *fine.readings[1:]))  # type: ignore[operator]
        change_c = after([base.round], odd).surface.predict(points)[0] - before_c
        if abs(off_c) < 60.0:
            assert np.abs(change_c[far]).max() < 0.8 * abs(off_c)
            continue
        assert np.abs(change_c[far]).max() < 8.0
        lean_c = np.linalg.lstsq(np.column_stack([np.ones_like(u), u, v]), change_c, rcond=None)[0][1:]
        assert np.hypot(*lean_c) < 7.0


def test_an_odd_shot_that_is_shot_again_is_believed() -> None:
    base = mapped(shots(bumpy))
    fine = recheck(bumpy)
    off = replace(fine.readings[0], shown_c=fine.readings[0].shown_c + 30.0)  # type: ignore[operator]
    twice = replace(fine, readings=(off, replace(off, id=900, shown_c=off.shown_c - 2.0), *fine.readings[1:]))  # type: ignore[operator]
    found = after([base.round], twice)
    assert found.suspects == {}
    there = np.array([off.point_mm])
    assert found.surface.predict(there)[0][0] - base.surface.predict(there)[0][0] > 15.0


def test_a_blunder_in_a_recheck_is_suspect() -> None:
    base = mapped(shots(bumpy))
    fine = recheck(bumpy)
    bad = replace(fine, readings=(replace(fine.readings[0], shown_c=200.0), *fine.readings[1:]))
    round_map = after([base.round], bad)
    assert list(round_map.suspects) == [0]
    points = np.array([GRILL.point_mm(label) for label in GRILL.labels])
    np.testing.assert_allclose(shown_at(round_map, points), shown_at(base, points), atol=6.0)
    insisted = replace(bad, readings=(replace(bad.readings[0], note=INSISTED), *bad.readings[1:]))
    assert after([base.round], insisted).suspects == {}
    assert after([base.round], fine).suspects == {}


def test_twelve_equal_readings_are_no_map_without_error() -> None:
    """No place is better known than the mean of twelve shots at the gun's display step and repeatability."""
    level = mapped([replace(one, shown_c=300.0) for one in shots(slanted)])
    points = np.array([GRILL.point_mm(label) for label in GRILL.labels])
    gun = GRILL.gun
    one_shot_c = np.hypot(0.01 * gun.repeatability_percent * 300.0, gun.display_step_c / np.sqrt(12.0))
    assert level.surface.predict(points)[1].min() > one_shot_c / np.sqrt(12.0)


def scattered(count: int) -> Round:
    """Return a round of shots at so many places of no label."""
    random = np.random.default_rng(3)
    points_mm = random.uniform(20.0, 430.0, (count, 2))
    readings = [
        Reading(id=at, shown_c=300.0, x_mm=x_mm, y_mm=y_mm) for at, (x_mm, y_mm) in enumerate(points_mm.tolist(), 1)
    ]
    return Round(number=1, session="", readings=tuple(readings))


def test_more_places_than_can_be_weighed_are_refused_with_the_limit():
    one = scattered(2000)
    with pytest.raises(MapError, match="rail readings at 2000 places; a map takes in at most 400"):
        RoundMap.of(CorrectedRounds(GRILL, (one,), lambda _: KNOWN), one)


def test_older_rounds_are_left_out_before_the_time_gets_out_of_hand():
    """Twelve rounds of 100 places each hold 1,200 spots; 600 are weighed."""
    rounds = [replace(scattered(100), number=at) for at in range(1, 13)]
    found = RoundMap.of(CorrectedRounds(GRILL, rounds, lambda _: KNOWN), rounds[-1])
    assert [one.number for one in found.model.rounds] == [7, 8, 9, 10, 11, 12]
