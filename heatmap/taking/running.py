"""The map while it is being shot: as much as is worth showing after every reading, and quick."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from heatmap.correct import Calibration
from heatmap.decide.next_spots import HARDLY, NextSpot, Stakes
from heatmap.errors import MapError
from heatmap.grate_model.reference_pairs import calibrations_for
from heatmap.grate_model.round_map import RoundMap, map_recheck, map_round
from heatmap.grill.grill import Grill
from heatmap.readings.reading import Round
from heatmap.taking.doubt import DOUBTED
from heatmap.verdict.chances import Word, words

FloatArray = NDArray[np.float64]

#: From so many readings on the running map and verdict are shown; a re-check moves a map that is there already.
FEWEST, FEWEST_RECHECK = 5, 2
#: With more readings than this the map waits for the end: it would hold up the shooting.
MOST = 600
#: Nobody is told to stop before so many: fewer are not worth reading as a map.
FEWEST_TO_STOP = 8


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Background:
    """What is found out beside the shooting, because it takes longer than a cook should wait after each shot.

    Attributes
    ----------
    calibrations : mapping
        For each state of the surface in the round.
    suspects : mapping
        Reading id to why it is not believed.
    """

    calibrations: Mapping[str, Calibration]
    suspects: Mapping[int, str]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RunningMap:
    """The map of an unfinished round at its labelled positions.

    Attributes
    ----------
    grill : Grill
    round_map : RoundMap
    calibration : Calibration
    compared_c, std_c : ndarray, shape (positions,)
        The number held against the band at every position, and its standard deviation, level included.
    words : tuple of Word
    next : NextSpot
        Where a further shot is worth most.
    rest_gain : float
        Expected rise of the share of positions that is named rightly when all that are not shot yet are shot.
    """

    grill: Grill
    round_map: RoundMap
    calibration: Calibration
    compared_c: FloatArray
    std_c: FloatArray
    words: tuple[Word, ...]
    next: NextSpot
    rest_gain: float

    @property
    def least_sure(self) -> tuple[str, ...]:
        """The two positions whose number is known least well."""
        order = np.argsort(-self.std_c, kind="stable")[:2]
        return tuple(self.grill.labels[index] for index in order)

    @property
    def is_enough(self) -> bool:
        """Whether shooting all that is left would hardly change the answer."""
        shot = {reading.position for reading in self.round_map.round.with_aim("rail")}
        return len(shot) >= FEWEST_TO_STOP and max(self.rest_gain, self.next.gain or 0.0) < HARDLY

    def labelled(self, word: Word) -> tuple[str, ...]:
        """Return the positions of this word."""
        return tuple(label for label, here in zip(self.grill.labels, self.words, strict=True) if here == word)


def look_behind(grill: Grill, rounds: Sequence[Round], one: Round) -> Background:
    """Find out what is known of the gun, and which readings of the round are not to be believed."""
    calibrations = calibrations_for(grill, rounds, one)
    try:
        mapped = map_round(grill, one, calibrations)
    except MapError:
        return Background(calibrations=calibrations, suspects={})
    return Background(
        calibrations=calibrations,
        suspects={mapped.spots[index].reading.id: why for index, why in mapped.suspects.items()},
    )


def running_map(grill: Grill, one: Round, background: Background, base: RoundMap | None = None) -> RunningMap | None:
    """Map an unfinished round; None while it has too few readings.

    Parameters
    ----------
    grill : Grill
    one : Round
        As far as it has got.
    background : Background
        As last found out; must know every state of the surface in the round.
    base : RoundMap, optional
        For a re-check: the map of the last full round.
    """
    kept = believed(one, background.suspects)
    if not (FEWEST if base is None else FEWEST_RECHECK) <= len(kept.with_aim("rail")) <= MOST:
        return None
    try:
        if base is None:
            mapped = map_round(grill, kept, background.calibrations, keep_suspects=True)
        else:
            mapped = map_recheck(base, kept, background.calibrations)
    except MapError:
        return None
    calibration = background.calibrations[kept.surface]
    points_mm = np.array([grill.point_mm(label) for label in grill.labels])
    mean_c, own_std_c = mapped.surface.predict(points_mm)
    centre_c = float(np.mean(mean_c))
    level_std_c = calibration.level_std_c(centre_c)
    compared_c = calibration.compared_c(mean_c)
    std_c = np.hypot(own_std_c * calibration.compared_slope(centre_c), level_std_c)
    target = grill.target
    stakes = Stakes.of(mapped, calibration, level_std_c, with_area=False)
    return RunningMap(
        grill=grill,
        round_map=mapped,
        calibration=calibration,
        compared_c=compared_c,
        std_c=std_c,
        words=tuple(str(word) for word in words(compared_c, std_c, target.low_c, target.high_c)),  # type: ignore[misc]
        next=stakes.best(1)[0],
        rest_gain=stakes.gain_of_the_rest(),
    )


def believed(one: Round, suspects: Collection[int]) -> Round:
    """Return a round without the readings that are not believed, or were doubted when they came."""
    kept = (each for each in one.readings if each.id not in suspects and not each.note.startswith(DOUBTED))
    return replace(one, readings=tuple(kept))
