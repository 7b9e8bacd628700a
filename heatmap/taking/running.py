"""The map while it is being shot: as much as is worth showing after every reading, and quick."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from heatmap.correct import Calibration, calibrate
from heatmap.decisions.next_spots import NextSpot, Stakes
from heatmap.decisions.tuning import HARDLY
from heatmap.errors import MapError
from heatmap.grate_model.model import RoundSurface
from heatmap.grate_model.reference_pairs import KnownGuns, corrected_rounds
from heatmap.grate_model.round_map import (
    CalibrationsOf,
    CorrectedRounds,
    RoundMap,
    last_full_round,
    map_round,
    surface_to_come,
)
from heatmap.grill.grill import Grill
from heatmap.readings.reading import Reading, Round
from heatmap.taking.doubt import DOUBTED
from heatmap.taking.session import Session
from heatmap.taking.tuning import FEWEST, FEWEST_AFTER_A_FULL_ROUND, FEWEST_TO_STOP, MOST_ON_THE_SPOT
from heatmap.units import FloatArray
from heatmap.verdict.chances import Word, leanings, words


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RunningMap:
    """The map of an unfinished round at its labelled positions.

    Attributes
    ----------
    round_map : RoundMap
    calibration : Calibration
    compared_c, std_c : ndarray, shape (positions,)
        The number held against the band at every position, and its standard deviation, level included.
    words : tuple of Word
        Empty outside the zone that should be in band.
    leanings : tuple of Word
        The likeliest word at each, sure or not; empty as well outside the zone.
    next : NextSpot
        Where a further shot is worth most.
    rest_gain : float
        Expected rise of the share of positions that is named rightly when all that are not shot yet are shot.
    """

    round_map: RoundMap
    calibration: Calibration
    compared_c: FloatArray
    std_c: FloatArray
    words: tuple[Word, ...]
    leanings: tuple[Word, ...]
    next: NextSpot
    rest_gain: float

    @property
    def least_sure(self) -> tuple[str, ...]:
        """The two positions whose number is known least well."""
        order = np.argsort(-self.std_c, kind="stable")[:2]
        return tuple(self.calibration.grill.labels[index] for index in order)

    @property
    def is_enough(self) -> bool:
        """Whether shooting all that is left would hardly change the answer."""
        shot = {reading.position for reading in self.round_map.round.with_aim("rail")}
        return len(shot) >= FEWEST_TO_STOP and max(self.rest_gain, self.next.gain) < HARDLY

    def labelled(self, word: Word, *, sure: bool = True) -> tuple[str, ...]:
        """Return the positions of which this word is sure, or those that only lean to it."""
        return tuple(
            label
            for label, here, leaning in zip(self.calibration.grill.labels, self.words, self.leanings, strict=True)
            if leaning == word and (here == word) is sure
        )


def running_map(grill: Grill, earlier: Sequence[Round], one: Round, calibrations: CalibrationsOf) -> RunningMap | None:
    """Map an unfinished round after the rounds before it; None while it has too few readings."""
    believed = replace(one, readings=tuple(each for each in one.readings if not each.note.startswith(DOUBTED)))
    fewest = FEWEST if last_full_round(grill, earlier, one) is None else FEWEST_AFTER_A_FULL_ROUND
    if not fewest <= len(believed.with_aim("rail")) <= MOST_ON_THE_SPOT:
        return None
    try:
        mapped = map_round(CorrectedRounds(grill, (*earlier, believed), calibrations), believed)
    except MapError:
        return None
    calibration = calibrations(believed)[believed.surface]
    points_mm = np.array([grill.point_mm(label) for label in grill.labels])
    mean_c, own_std_c = mapped.surface.predict(points_mm)
    centre_c = float(np.mean(mean_c))
    level_std_c = calibration.level_std_c(centre_c)
    compared_c = calibration.compared_c(mean_c)
    std_c = np.hypot(own_std_c * calibration.compared_slope(centre_c), level_std_c)
    target = grill.target
    asked_for = grill.in_zone(points_mm)

    def in_zone(found: NDArray[np.str_]) -> tuple[Word, ...]:
        return tuple(str(word) if asked else "" for word, asked in zip(found, asked_for, strict=True))  # type: ignore[misc]

    stakes = Stakes.of(mapped, calibration, level_std_c)
    return RunningMap(
        round_map=mapped,
        calibration=calibration,
        compared_c=compared_c,
        std_c=std_c,
        words=in_zone(words(compared_c, std_c, target.low_c, target.high_c)),
        leanings=in_zone(leanings(compared_c, std_c, target.low_c, target.high_c)),
        next=stakes.best(1)[0],
        rest_gain=stakes.gain_of_the_rest(),
    )


class GrowingMap:
    """Maps a round again after every reading, and tells the session what is known by then.

    Attributes
    ----------
    running : RunningMap or None
        None while there are too few readings.
    """

    def __init__(self) -> None:
        """Begin with nothing shot; the rounds before the first session it is given stay as they are then."""
        self.running: RunningMap | None = None
        self._guns: KnownGuns | None = None
        self._references: list[Reading] = []
        self._asked: tuple[object, ...] | None = None
        self._to_come: RoundSurface | None = None

    def update(self, session: Session) -> None:
        """Map what has been shot so far."""
        grill, earlier, one = session.grill, session.earlier, session.round
        if not session.readings:
            # The first shot is judged too, by the band and the air; how the gun sees it matters little for that.
            session.calibrations = {session.surface: calibrate(grill, surface=session.surface)}
            session.surface_known = self._surface_to_come(session)
            return
        references = [reading for reading in one.readings if reading.aim != "rail"]
        guns = self._guns
        if (
            guns is None
            or references != self._references
            or any(pair is None for (number, *_), pair in guns.seen.items() if number == one.number)
        ):  # what is known of the gun may be more, or another, by now
            guns = self._guns = KnownGuns(grill, (*earlier, one))
            self._references = references
        self.running = running_map(grill, earlier, one, guns)
        session.calibrations = guns(one)
        session.surface_known = self.running.round_map.surface if self.running else self._surface_to_come(session)

    def _surface_to_come(self, session: Session) -> RoundSurface | None:
        """Return what the rounds before say of this one, worked out once for the same knobs, lid and rails."""
        grill, earlier, knobs = session.grill, session.earlier, dict(session.knobs)
        group = (session.name, session.lid, session.surface)
        if self._asked != (knobs, group):
            self._asked = (knobs, group)
            self._to_come = surface_to_come(corrected_rounds(grill, earlier), session.round, knobs, group)
        return self._to_come

    def suspects(self) -> list[tuple[Reading, float]]:
        """Return the readings that turn out not to fit the others, and what the gun should have shown."""
        if self.running is None:
            return []
        mapped, found = self.running.round_map, []
        for index, expected_c in mapped.suspects.items():
            shown_c = self.running.calibration.shown_from_rail_c(np.array([expected_c]))
            found.append((mapped.spots[index].reading, float(shown_c[0])))
        return found
