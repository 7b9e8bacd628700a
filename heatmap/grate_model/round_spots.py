"""What the model of the grate needs of one round: its rail spots with their times, and the marks they were taken at.

Many shots at one place in one round are one value, known better: a port left running can send hundreds.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from heatmap.correct import Spot
from heatmap.gaussian import same_places
from heatmap.grill.grill import Grill
from heatmap.readings.reading import INSISTED, Round
from heatmap.units import BoolArray, FloatArray, IntArray

Group = tuple[str, str, str]

#: A grate that soaked under a closed lid loses about 10, 19 and 27 °F in the first 30, 60 and 90 s after it is lifted
#: (common practice, no source): an exponential with these two constants goes through all three.
LID_DROP_C, LID_TIME_S = 100.0 / 1.8, 285.0
#: From lifting the lid to the first shot: to set it aside, take up the gun and aim. Assumed.
LID_TO_FIRST_SHOT_S = 8.0
#: Warming or cooling as during the round is believed for no longer than this before and after. Assumed: a grate's own
#: time of settling is about as long (common practice, no source), and a rise that fast cannot last longer.
MOST_DRIFT_MIN = 10.0
#: A shot farther from the middle of its round counts as so far: no pass over a grate takes two hours, and a clock that
#: was years off is no drift.
FARTHEST_MIN = 60.0
#: More repeats than this are merged; so many are still each judged as a blunder by all others. Assumed. In a round of
#: more spots than :data:`MANY_SPOTS` all repeats are merged.
MOST_REPEATS, MANY_SPOTS = 6, 300
#: Repeats beyond the first of each value that count for how much shots scatter. Assumed.
MOST_SPARE = 12
#: Among many repeats, one farther from their median than so many robust standard deviations is left out. Assumed.
FAR_OFF = 5.0
#: Median absolute deviation of a normal distribution to its standard deviation.
_MAD_TO_STD = 1.4826


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RoundSpots:
    """The rail spots of one round.

    Attributes
    ----------
    number : int
    group : tuple of str
        Session, lid and surface: rounds that share them share their level.
    settings : mapping
        Mark of each burner.
    marks_known : bool
        Whether every burner that can be set has a mark.
    points_mm : ndarray (n, 2)
    rail_c : ndarray (n,)
    shot_std_c, place_std_c : ndarray (n,)
        Own standard deviation that is new with every shot, and that all shots at one place have in common.
    minutes : ndarray (n,)
        Since the median time of the round; 0 without times.
    trusted : ndarray (n,) of bool
        Readings the cook insisted on.
    taken_at, last_at : datetime or None
        Median, first and last time.
    turned_at : datetime or None
        When a knob was last turned before it, where that was said.
    corrected : tuple of Spot
        One for each of its readings, those not of a rail too.
    """

    number: int
    group: Group
    settings: Mapping[str, float]
    marks_known: bool
    points_mm: FloatArray
    rail_c: FloatArray
    shot_std_c: FloatArray
    place_std_c: FloatArray
    minutes: FloatArray
    trusted: BoolArray
    taken_at: datetime | None = None
    last_at: datetime | None = None
    turned_at: datetime | None = None
    corrected: tuple[Spot, ...] = ()

    @classmethod
    def of(cls, grill: Grill, one: Round, spots: tuple[Spot, ...]) -> RoundSpots:
        """Gather the rail spots of a round; `spots` are all of its readings, corrected."""
        rail = [spot for spot in spots if spot.reading.aim == "rail"]
        times = [spot.reading.taken_at for spot in rail]
        known = sorted(time for time in times if time is not None)
        middle = one.taken_at
        timed = middle is not None and len(known) == len(times)
        minutes = [(time - middle) / timedelta(minutes=1) if timed else 0.0 for time in times]  # type: ignore[operator]
        columns = [(spot.rail_c, spot.shot_std_c, spot.place_std_c) for spot in rail]
        rail_c, shot_std_c, place_std_c = np.array(columns, dtype=np.float64).reshape(-1, 3).T
        return cls(
            number=one.number,
            group=(one.session, one.lid, one.surface),
            settings=one.settings,
            marks_known=grill.complete_settings(one.settings),
            points_mm=np.array([spot.reading.point_mm for spot in rail], dtype=np.float64).reshape(-1, 2),
            rail_c=rail_c,
            shot_std_c=shot_std_c,
            place_std_c=place_std_c,
            minutes=np.clip(np.array(minutes, dtype=np.float64), -FARTHEST_MIN, FARTHEST_MIN),
            trusted=np.array([spot.reading.note.startswith(INSISTED) for spot in rail], dtype=bool),
            taken_at=middle,
            last_at=known[-1] if known else None,
            turned_at=one.turned_at,
            corrected=spots,
        )

    @property
    def is_timed(self) -> bool:
        """Whether its shots have times that differ, so that warming can be told."""
        return bool(len(self.minutes)) and float(np.ptp(self.minutes)) > 0.0

    def minutes_at(self, when: datetime | None) -> float:
        """Return the minutes from the median time to another time near the round, no farther than drift is believed."""
        if when is None or self.taken_at is None:
            return 0.0
        return min(max((when - self.taken_at) / timedelta(minutes=1), -MOST_DRIFT_MIN), MOST_DRIFT_MIN)

    def lid_drop_c(self, minutes: FloatArray | float) -> FloatArray:
        """Return what the usual grate has lost (negative) since its lid was lifted, at minutes from the median time."""
        if self.group[1] != "closed" or not self.is_timed:
            return np.zeros_like(np.asarray(minutes, dtype=np.float64))
        since_s = 60.0 * (np.asarray(minutes, dtype=np.float64) - self.minutes.min()) + LID_TO_FIRST_SHOT_S
        return np.asarray(-LID_DROP_C * (1.0 - np.exp(-np.maximum(since_s, 0.0) / LID_TIME_S)))


class AllSpots:
    """The spots of some rounds, end to end; of places that have too many in a round the shots are merged.

    Attributes
    ----------
    round, points_mm, rail_c, shot_std_c, place_std_c, minutes, lid_drop_c, trusted : ndarray (n, …)
        As of :class:`RoundSpots`, after the merging; which of the rounds each is of, and what its usual grate has lost
        since the lid was lifted.
    member : ndarray (m,) of int
        For each spot as it was, which of these it became part of.
    left_out : ndarray (m,) of bool
        Spots too far from their many repeats to be part of them.
    spare : int
        How many shots more than values there are.
    scatter : float
        Sum of squares of the shots about their values, over the variance claimed for them.
    """

    def __init__(self, rounds: Sequence[RoundSpots]) -> None:
        """Merge them round by round."""
        members, left_out, starts = [], [], [0]
        for one in rounds:
            groups, off = _groups(one)
            members.append(groups + starts[-1])
            left_out.append(off)
            starts.append(starts[-1] + len(set(groups.tolist())))
        self.member, self.left_out = member, off = np.concatenate(members), np.concatenate(left_out)
        first = np.unique(member, return_index=True)[1]

        def each(name: str) -> FloatArray:
            return np.concatenate([getattr(one, name) for one in rounds])

        shots_c, shot_std_c, minutes = each("rail_c"), each("shot_std_c"), each("minutes")
        weight = np.where(off, 0.0, shot_std_c**-2.0)
        total = np.bincount(member, weight)

        def mean(values: FloatArray) -> FloatArray:
            apart = values - values[first][member]
            return np.asarray(values[first] + np.bincount(member, weight * apart) / total)

        self.round = np.repeat(np.arange(len(rounds)), np.diff(starts))
        self.points_mm, self.place_std_c = each("points_mm")[first], each("place_std_c")[first]
        self.rail_c, self.minutes, self.shot_std_c = mean(shots_c), mean(minutes), 1.0 / np.sqrt(total)
        self.trusted = np.bincount(member, each("trusted")) > 0
        self.lid_drop_c = np.concatenate(
            [one.lid_drop_c(self.minutes[self.round == at]) for at, one in enumerate(rounds)]
        )
        self.spare = len(member) - len(first) - int(off.sum())
        self.scatter = float(np.square(np.where(off, 0.0, shots_c - self.rail_c[member]) / shot_std_c).sum())

    def log_likelihood(self, noise: float) -> float:
        """Return how well shots that scatter so many times as much as is claimed explain the repeats of each value; no
        more than :data:`MOST_SPARE` of them count, lest they leave one node alone.
        """
        share = min(1.0, MOST_SPARE / max(self.spare, 1))
        return -share * (self.spare * math.log(noise) + 0.5 * self.scatter / noise**2)


def _groups(one: RoundSpots) -> tuple[IntArray, BoolArray]:
    """Return which group each spot of a round is in, in the order of first spots, and which are far off theirs."""
    place = same_places(one.points_mm)[1]
    counts = np.bincount(place)
    few = MOST_REPEATS if np.minimum(counts, MOST_REPEATS).sum() <= MANY_SPOTS else 1
    many = counts[place] > few
    first = np.unique(place, return_index=True)[1]
    groups = np.unique(np.where(many, first[place], np.arange(len(place))), return_inverse=True)[1]
    off = np.zeros(len(place), dtype=bool)
    for at in set(groups[many].tolist()):
        here = np.flatnonzero(groups == at)
        apart = np.abs(one.rail_c[here] - np.median(one.rail_c[here]))
        std = max(_MAD_TO_STD * float(np.median(apart)), float(one.shot_std_c[here].min()))
        off[here] = (apart > FAR_OFF * std) & ~one.trusted[here]
    return groups, off
