"""What contact, patch and valley readings teach of the gun: each is paired with what the gun shows at its place.

A reference pair speaks for all rounds with the same gun on the same surface, before and after; so those of every round
are gathered, each read off the map of its own round, before any of them has spoken.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Literal

import numpy as np

from heatmap.correct import Calibration, ReferencePair, calibrate, correct_readings
from heatmap.correct.tuning import MOST_PAIRS
from heatmap.errors import MapError
from heatmap.grate_model.round_map import Corrected, RoundMap, map_round
from heatmap.grill.grill import Grill
from heatmap.readings.reading import Reading, Round

State = Literal["dry", "oiled"]
GunKey = tuple[str, frozenset[str]]


class KnownGuns(dict[GunKey, Mapping[str, Calibration]]):
    """What is known of the gun, by :func:`gun_key`, for when many rounds of one log that does not change are mapped.

    Attributes
    ----------
    references : dict
        For each state of the surface every contact, patch and valley reading of the log, with its round.
    seen : dict
        For each round, reading and state the reading beside what the gun shows at its place before any pair has spoken;
        None where nothing is known of that. The same whichever round is asked about.
    corrected : dict
        The spots of rounds, corrected by what is known.
    """

    def __init__(self) -> None:
        super().__init__()
        self.references: dict[State, list[tuple[Round, Reading]]] = {}
        self.seen: dict[tuple[int, int, State], ReferencePair | None] = {}
        self.corrected: Corrected = {}


def calibrations_for(
    grill: Grill, rounds: Sequence[Round], chosen: Round, known: KnownGuns | None = None
) -> dict[str, Calibration]:
    """Return what is known of the gun on each state of the surface in a round, from the reference pairs of every round.

    Parameters
    ----------
    grill : Grill
    rounds : sequence of Round
        All rounds there are.
    chosen : Round
    known : KnownGuns, optional
        What was found out for other rounds of the same log; what is found out is added to it.

    Returns
    -------
    dict
        "dry", "oiled" or both to what is known there.
    """
    states = sorted({reading.surface for reading in chosen.readings})
    known = KnownGuns() if known is None else known
    return {state: calibration_for(grill, rounds, chosen, state, known) for state in states}


def calibration_for(
    grill: Grill, rounds: Sequence[Round], chosen: Round, state: State, known: KnownGuns | None = None
) -> Calibration:
    """Return what is known of the gun on one state of the surface, from the reference pairs of every round."""
    return calibrate(
        grill, _reference_pairs(grill, rounds, chosen, state, KnownGuns() if known is None else known), state
    )


def calibrations_of(
    grill: Grill, rounds: Sequence[Round], known: KnownGuns | None = None
) -> Callable[[Round], Mapping[str, Calibration]]:
    """Return what tells of each round what is known of its gun, worked out once for all rounds that it is the same for.

    `known` holds what was found out before; what is found out is added to it.
    """
    guns = KnownGuns() if known is None else known

    def of(one: Round) -> Mapping[str, Calibration]:
        key = gun_key(one)
        if key not in guns:
            guns[key] = calibrations_for(grill, rounds, one, guns)
        return guns[key]

    return of


def gun_key(one: Round) -> GunKey:
    """Return what :func:`calibrations_for` looks at in a round: its session, and the states of its surface."""
    return one.session, frozenset(reading.surface for reading in one.readings)


def _reference_pairs(
    grill: Grill, rounds: Sequence[Round], chosen: Round, state: State, known: KnownGuns
) -> list[ReferencePair]:
    """Pair every contact, patch and valley reading with what the gun, by its round's own map, shows there."""
    if state not in known.references:
        known.references[state] = [
            (one, reading)
            for one in rounds
            for reading in one.with_aim("contact", "patch", "valley")
            if reading.surface == state
        ]
    if not known.references[state]:
        return []
    candidates = sorted(known.references[state], key=lambda pair: (pair[0].session == chosen.session, pair[0].number))
    latest = _latest(candidates)
    start = calibrate(grill, surface=state)
    unseen: dict[int, list[Reading]] = {}
    for one, reading in latest:
        if (one.number, reading.id, state) not in known.seen:
            unseen.setdefault(one.number, []).append(reading)
    by_number = {one.number: one for one, _ in latest}
    for number, readings in unseen.items():
        for reading, pair in zip(readings, _pairs(grill, by_number[number], readings, start), strict=True):
            known.seen[number, reading.id, state] = pair
    seen = [(one, known.seen[one.number, reading.id, state]) for one, reading in latest]
    return [replace(pair, same_session=one.session == chosen.session) for one, pair in seen if pair is not None]


def _latest(candidates: Sequence[tuple[Round, Reading]]) -> list[tuple[Round, Reading]]:
    """Return the last few of each kind, in order: many valley shots do not push a contact reading out."""
    left = {"contact": MOST_PAIRS, "patch": MOST_PAIRS, "valley": MOST_PAIRS}
    kept = []
    for one, reading in reversed(candidates):
        left[reading.aim] -= 1
        if left[reading.aim] >= 0:
            kept.append((one, reading))
    return kept[::-1]


def _provisional_map(grill: Grill, one: Round, start: Calibration) -> RoundMap | None:
    """Map a round before any pair has spoken; only what its gun showed is read off this map."""
    readings = tuple(reading for reading in one.with_aim("rail") if reading.surface == start.surface)
    try:
        alone = replace(one, readings=readings)
        return map_round(grill, (alone,), alone, lambda _: {start.surface: start})
    except MapError:
        return None


def _pairs(grill: Grill, one: Round, readings: Sequence[Reading], start: Calibration) -> list[ReferencePair | None]:
    """Set contact, patch and valley readings of a round beside what the gun shows of the rail there and then.

    From the map of their round, or, where there is none, from rail readings within a rail's pitch of each.
    """
    round_map = _provisional_map(grill, one, start)
    if round_map is None:
        return [_pair_beside(one, reading, start) for reading in readings]
    minutes = np.array([round_map.surface.spots.minutes_at(reading.taken_at) for reading in readings])
    rail_c, rail_std_c = round_map.surface.predict([reading.point_mm for reading in readings], minutes)
    return [
        _valley_pair(round_map, one, reading, start) or _pair(reading, mean_c, std_c, start)
        for reading, mean_c, std_c in zip(readings, rail_c.tolist(), rail_std_c.tolist(), strict=True)
    ]


def _pair_beside(one: Round, reading: Reading, start: Calibration) -> ReferencePair | None:
    """Pair a reading of a round without a map with the rail readings within a rail's pitch of it."""
    beside = [rail for rail in one.with_aim("rail") if _is_beside(rail, reading, start.grill)]
    if not beside:
        return None
    spots = correct_readings(beside, start)
    rail_c = float(np.mean([spot.rail_c for spot in spots]))
    shot_c, place_c = (max(getattr(spot, name) for spot in spots) for name in ("shot_std_c", "place_std_c"))
    std_c = float(np.hypot(shot_c / np.sqrt(len(spots)), place_c))
    return _valley_pair(None, one, reading, start) or _pair(reading, rail_c, std_c, start)


def _valley_pair(round_map: RoundMap | None, one: Round, reading: Reading, start: Calibration) -> ReferencePair | None:
    """Pair a valley shot with the rail shots at its very place from the same distance, where there are any.

    Close up these differ most, and what their place has of its own is in both.
    """
    if reading.aim != "valley":
        return None
    usual_mm = start.grill.gun.distance_mm
    rails = one.with_aim("rail") if round_map is None else [spot.reading for spot in round_map.kept_spots]
    shown_c = [
        float(rail.shown_c or 0.0) + _moved_c(round_map, rail, reading)
        for rail in rails
        if _is_beside(rail, reading, start.grill)
        and (rail.distance_mm or usual_mm) == (reading.distance_mm or usual_mm)
    ]
    if not shown_c:
        return None
    return ReferencePair(reading=reading, infrared_c=float(np.mean(shown_c)), infrared_std_c=0.0, partners=len(shown_c))


def _pair(reading: Reading, rail_c: float, rail_std_c: float, start: Calibration) -> ReferencePair:
    """Pair a reading with what the gun shows of a rail at this temperature."""
    ends = start.shown_from_rail_c(rail_c + np.array([-5.0, 0.0, 5.0]))
    return ReferencePair(
        reading=reading, infrared_c=float(ends[1]), infrared_std_c=rail_std_c * float(ends[2] - ends[0]) / 10.0
    )


def _is_beside(rail: Reading, reference: Reading, grill: Grill) -> bool:
    """Tell whether a rail reading is within a rail's pitch of a reference reading, on the same state of the surface."""
    apart_mm = np.hypot(rail.x_mm - reference.x_mm, rail.y_mm - reference.y_mm)
    return rail.surface == reference.surface and bool(apart_mm <= grill.grate.rail_pitch_mm)


def _moved_c(round_map: RoundMap | None, before: Reading, after: Reading) -> float:
    """Return how far a place moved between two readings there [°C]."""
    if round_map is None or before.taken_at is None or after.taken_at is None:
        return 0.0
    surface = round_map.surface
    then_c, now_c = (
        float(surface.predict([after.point_mm], surface.spots.minutes_at(when))[0][0])
        for when in (before.taken_at, after.taken_at)
    )
    return now_c - then_c
