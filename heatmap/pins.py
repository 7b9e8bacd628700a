"""What contact, patch and valley readings teach of the gun: each is paired with what the gun shows at its place.

A pin speaks for all rounds with the same gun on the same surface, before and after; so the pins of every round are
gathered, each read off the map of its own round, before any of them has spoken.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Literal

import numpy as np

from heatmap.correct import Calibration, Pin, calibrate, correct_readings
from heatmap.errors import MapError
from heatmap.grill import Grill
from heatmap.readings import Reading, Round
from heatmap.round_map import RoundMap, drift_at, map_round

State = Literal["dry", "oiled"]
GunKey = tuple[str, frozenset[str]]

#: No more than this many of the latest contact, patch and valley readings are asked; older ones add next to
#: nothing.
MOST_PINS = 12


class KnownGuns(dict[GunKey, Mapping[str, Calibration]]):
    """What is known of the gun, by :func:`gun_key`, for when many rounds of one log are mapped in a row.

    Attributes
    ----------
    pins : dict
        For each state of the surface every contact, patch and valley reading of the log, with its round.
    infrared_c : dict
        For each round, reading and state what the gun shows at its place and the standard deviation, read off the
        round's map before any pin has spoken; None where nothing is known. The same whichever round is asked about.
    """

    def __init__(self) -> None:
        super().__init__()
        self.pins: dict[State, list[tuple[Round, Reading]]] = {}
        self.infrared_c: dict[tuple[int, int, State], tuple[float, float] | None] = {}


def calibrations_for(
    grill: Grill, rounds: Sequence[Round], chosen: Round, known: KnownGuns | None = None
) -> dict[str, Calibration]:
    """Return what is known of the gun on each state of the surface in a round, from the pins of every round.

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
    """Return what is known of the gun on one state of the surface, from every round's pins."""
    return calibrate(grill, _pins(grill, rounds, chosen, state, KnownGuns() if known is None else known), state)


def gun_key(one: Round) -> GunKey:
    """Return what :func:`calibrations_for` looks at in a round: its session, and the states of its surface."""
    return one.session, frozenset(reading.surface for reading in one.readings)


def _pins(grill: Grill, rounds: Sequence[Round], chosen: Round, state: State, known: KnownGuns) -> list[Pin]:
    """Pair every contact, patch and valley reading with what the gun, by its round's own map, shows there."""
    if state not in known.pins:
        known.pins[state] = [
            (one, reading)
            for one in rounds
            for reading in one.with_aim("contact", "patch", "valley")
            if reading.surface == state
        ]
    if not known.pins[state]:
        return []
    candidates = sorted(known.pins[state], key=lambda pair: (pair[0].session == chosen.session, pair[0].number))
    pins = []
    start = calibrate(grill, (), state)
    maps: dict[int, RoundMap | None] = {}
    for one, reading in candidates[-MOST_PINS:]:
        key = (one.number, reading.id, state)
        if key not in known.infrared_c:
            if one.number not in maps:
                maps[one.number] = _provisional_map(grill, one, start)
            known.infrared_c[key] = _infrared_at(maps[one.number], one, reading, start)
        infrared = known.infrared_c[key]
        if infrared is not None:
            pins.append(
                Pin(
                    reading=reading,
                    infrared_c=infrared[0],
                    infrared_std_c=infrared[1],
                    same_session=one.session == chosen.session,
                )
            )
    return pins


def _provisional_map(grill: Grill, one: Round, start: Calibration) -> RoundMap | None:
    """Map a round before any pin has spoken; only what its gun showed is read off this map."""
    readings = tuple(reading for reading in one.with_aim("rail") if reading.surface == start.surface)
    try:
        return map_round(grill, replace(one, readings=readings), {start.surface: start})
    except MapError:
        return None


def _infrared_at(
    round_map: RoundMap | None, one: Round, pin: Reading, start: Calibration
) -> tuple[float, float] | None:
    """Return what the gun shows of the rail at a pin's place and time, and its standard deviation.

    From the map of the pin's round, or, where there is none, from rail readings within a rail's pitch of it.
    """
    if round_map is not None:
        mean_c, std_c = round_map.surface.predict(np.array([pin.point_mm]))
        moved_c, moved_std_c = drift_at(round_map, pin.taken_at, pin.point_mm)
        rail_c, rail_std_c = float(mean_c[0]) + moved_c, float(np.hypot(std_c[0], moved_std_c))
    else:
        reach = start.grill.grate.rail_pitch_mm
        beside = [
            reading
            for reading in one.with_aim("rail")
            if reading.surface == start.surface and np.hypot(reading.x_mm - pin.x_mm, reading.y_mm - pin.y_mm) <= reach
        ]
        if not beside:
            return None
        spots = correct_readings(beside, start)
        rail_c = float(np.mean([spot.rail_c for spot in spots]))
        shot_c, place_c = (max(getattr(spot, name) for spot in spots) for name in ("shot_std_c", "place_std_c"))
        rail_std_c = float(np.hypot(shot_c / np.sqrt(len(spots)), place_c))
    ends = start.shown_from_rail_c(rail_c + np.array([-5.0, 0.0, 5.0]))
    return float(ends[1]), rail_std_c * float(ends[2] - ends[0]) / 10.0
