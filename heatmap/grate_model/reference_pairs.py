"""What contact, patch and valley readings teach of the gun: each is paired with what the gun shows at its place.

A reference pair speaks for all rounds with the same gun on the same surface, before and after; so those of every round
are gathered, each read off the map of its own round, before any of them has spoken.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from heatmap.correct import Calibration, ReferencePair, State, calibrate, correct_readings
from heatmap.correct.tuning import MOST_PAIRS
from heatmap.errors import MapError
from heatmap.grate_model.round_map import CorrectedRounds, RoundMap
from heatmap.grill.grill import Grill
from heatmap.readings.reading import Reading, Round


class KnownGuns:
    """What is known of the gun in any round of a log, from the reference pairs of every round: worked out once.

    Attributes
    ----------
    seen : dict
        For each round, reading and state of the surface the reading beside what the gun shows at its place before any
        pair has spoken; None where nothing is known of that. The same whichever round is asked about.
    """

    def __init__(self, grill: Grill, rounds: Sequence[Round]) -> None:
        """Begin with every contact, patch and valley reading of the log, none of them paired."""
        self.seen: dict[tuple[int, int, State], ReferencePair | None] = {}
        self._grill = grill
        self._references = [(one, reading) for one in rounds for reading in one.with_aim("contact", "patch", "valley")]
        self._known: dict[tuple[str, State], Calibration] = {}

    def __call__(self, one: Round) -> Mapping[str, Calibration]:
        """Return what is known in a round, "dry", "oiled" or both to what is known there."""
        return {state: self._calibration(one.session, state) for state in {each.surface for each in one.readings}}

    def _calibration(self, session: str, state: State) -> Calibration:
        if (session, state) not in self._known:
            self._known[session, state] = calibrate(self._grill, self._pairs(session, state), state)
        return self._known[session, state]

    def _pairs(self, session: str, state: State) -> list[ReferencePair]:
        """Set every reference reading on a state of the surface beside what the gun shows of the rail there and then.

        By the map of its round, or, where there is none, by rail readings within a rail's pitch of it.
        """
        here = [(one, reading) for one, reading in self._references if reading.surface == state]
        latest = _latest(sorted(here, key=lambda pair: (pair[0].session == session, pair[0].number)))
        unseen = [(one, reading) for one, reading in latest if (one.number, reading.id, state) not in self.seen]
        start, rounds = calibrate(self._grill, surface=state), {one.number: one for one, _ in unseen}
        maps = {number: _provisional_map(one, start) for number, one in rounds.items()}
        for one, reading in unseen:
            self.seen[one.number, reading.id, state] = _pair(maps[one.number], one, reading, start)
        seen = [(one, self.seen[one.number, reading.id, state]) for one, reading in latest]
        return [replace(pair, same_session=one.session == session) for one, pair in seen if pair is not None]


def corrected_rounds(grill: Grill, rounds: Sequence[Round]) -> CorrectedRounds:
    """Return the rounds of a log, to be corrected by what their reference pairs teach."""
    return CorrectedRounds(grill, rounds, KnownGuns(grill, rounds))


def _latest(candidates: Sequence[tuple[Round, Reading]]) -> list[tuple[Round, Reading]]:
    """Return the last few of each kind, in order: many valley shots do not push a contact reading out."""
    left = {"contact": MOST_PAIRS, "patch": MOST_PAIRS, "valley": MOST_PAIRS}
    kept = []
    for one, reading in reversed(candidates):
        left[reading.aim] -= 1
        if left[reading.aim] >= 0:
            kept.append((one, reading))
    return kept[::-1]


def _provisional_map(one: Round, start: Calibration) -> RoundMap | None:
    """Map a round before any pair has spoken; only what its gun showed is read off this map."""
    readings = tuple(reading for reading in one.with_aim("rail") if reading.surface == start.surface)
    try:
        alone = replace(one, readings=readings)
        return RoundMap.of(CorrectedRounds(start.grill, (alone,), lambda _: {start.surface: start}), alone)
    except MapError:
        return None


def _pair(round_map: RoundMap | None, one: Round, reading: Reading, start: Calibration) -> ReferencePair | None:
    """Pair a reading with what the gun shows of the rail there and then; None where nothing tells of that.

    A valley shot is paired with the rail shots at its very place from the same distance, where there are any: close up
    these differ most, and what their place has of its own is in both.
    """
    grill, usual_mm = start.grill, start.grill.gun.distance_mm
    rails = one.with_aim("rail") if round_map is None else [spot.reading for spot in round_map.kept_spots]
    beside = [
        rail
        for rail in rails
        if rail.surface == reading.surface
        and np.hypot(rail.x_mm - reading.x_mm, rail.y_mm - reading.y_mm) <= grill.grate.rail_pitch_mm
    ]
    alike = [rail for rail in beside if (rail.distance_mm or usual_mm) == (reading.distance_mm or usual_mm)]
    if reading.aim == "valley" and alike:
        shown_c = float(np.mean([float(rail.shown_c or 0.0) + _moved_c(round_map, rail, reading) for rail in alike]))
        return ReferencePair(reading=reading, infrared_c=shown_c, infrared_std_c=0.0, partners=len(alike))
    if round_map is not None:
        minutes = round_map.surface.spots.minutes_at(reading.taken_at)
        rail_c, std_c = (float(each[0]) for each in round_map.surface.predict([reading.point_mm], minutes))
    elif beside:
        spots = correct_readings(beside, start)
        rail_c = float(np.mean([spot.rail_c for spot in spots]))
        shot_c, place_c = (max(getattr(spot, name) for spot in spots) for name in ("shot_std_c", "place_std_c"))
        std_c = float(np.hypot(shot_c / np.sqrt(len(spots)), place_c))
    else:
        return None
    ends = start.shown_from_rail_c(rail_c + np.array([-5.0, 0.0, 5.0]))
    return ReferencePair(
        reading=reading, infrared_c=float(ends[1]), infrared_std_c=std_c * float(ends[2] - ends[0]) / 10.0
    )


def _moved_c(round_map: RoundMap | None, before: Reading, after: Reading) -> float:
    """Return how far a place moved between two readings there [°C]."""
    if round_map is None or before.taken_at is None or after.taken_at is None:
        return 0.0
    surface = round_map.surface
    minutes = np.array([surface.spots.minutes_at(when) for when in (before.taken_at, after.taken_at)])
    return float(np.diff(surface.predict([after.point_mm] * 2, minutes)[0])[0])
