"""Many shots at one place in one round are one value, known better: a port left running can send hundreds."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from heatmap.gaussian import same_places
from heatmap.grate_model.round_spots import RoundSpots
from heatmap.units import BoolArray, FloatArray, IntArray

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
class Merged:
    """Rounds with many repeats merged.

    Attributes
    ----------
    rounds : tuple of RoundSpots
    member : ndarray (n,) of int
        For each spot as it was, which spot it became part of.
    left_out : ndarray (n,) of bool
        Spots too far from their many repeats to be part of them.
    spare : int
        How many shots more than values there are.
    scatter : float
        Sum of squares of the shots about their values, over the variance claimed for them.
    """

    rounds: tuple[RoundSpots, ...]
    member: IntArray
    left_out: BoolArray
    spare: int
    scatter: float

    def log_likelihood(self, noise: float) -> float:
        """Return how well shots that scatter so many times as much as is claimed explain the repeats of each value; no
        more than :data:`MOST_SPARE` of them count, lest they leave one node alone.
        """
        share = min(1.0, MOST_SPARE / max(self.spare, 1))
        return -share * (self.spare * math.log(noise) + 0.5 * self.scatter / noise**2)


def merge_repeats(rounds: Sequence[RoundSpots]) -> Merged:
    """Merge the shots of each round at places that have too many."""
    merged, members, left_out, count, spare, scatter = [], [], [], 0, 0, 0.0
    for one in rounds:
        groups, off = _groups(one)
        if len(set(groups.tolist())) < len(groups):
            every, one = one, _merged(one, groups, off)
            off_by = np.where(off, 0.0, every.rail_c - one.rail_c[groups])
            scatter += float(np.square(off_by / every.shot_std_c).sum())
            spare += len(groups) - len(one.rail_c) - int(off.sum())
        merged.append(one)
        members.append(groups + count)
        left_out.append(off)
        count += len(one.rail_c)
    return Merged(
        rounds=tuple(merged),
        member=np.concatenate(members),
        left_out=np.concatenate(left_out),
        spare=spare,
        scatter=scatter,
    )


def _groups(one: RoundSpots) -> tuple[IntArray, BoolArray]:
    """Return which group each spot of a round is in, in the order of first spots, and which are far off theirs."""
    if len(set(map(tuple, one.points_mm.tolist()))) == len(one.points_mm):
        return np.arange(len(one.points_mm)), np.zeros(len(one.points_mm), dtype=bool)
    place = same_places(one.points_mm)[1]
    counts = np.bincount(place)
    few = MOST_REPEATS if np.minimum(counts, MOST_REPEATS).sum() <= MANY_SPOTS else 1
    many = counts[place] > few
    keys = np.where(many, place, len(place) + np.arange(len(place)))
    _, first, groups = np.unique(keys, return_index=True, return_inverse=True)
    groups = np.argsort(np.argsort(first))[groups]
    off = np.zeros(len(place), dtype=bool)
    for at in set(groups[many].tolist()):
        here = np.flatnonzero(groups == at)
        apart = np.abs(one.rail_c[here] - np.median(one.rail_c[here]))
        std = max(_MAD_TO_STD * float(np.median(apart)), float(one.shot_std_c[here].min()))
        off[here] = (apart > FAR_OFF * std) & ~one.trusted[here]
    return groups, off


def _merged(one: RoundSpots, groups: IntArray, off: BoolArray) -> RoundSpots:
    weight = np.where(off, 0.0, one.shot_std_c**-2.0)
    total = np.bincount(groups, weight)

    def mean(values: FloatArray) -> FloatArray:
        return np.bincount(groups, weight * values) / total

    first = np.unique(groups, return_index=True)[1]
    return replace(
        one,
        points_mm=one.points_mm[first],
        rail_c=mean(one.rail_c),
        shot_std_c=1.0 / np.sqrt(total),
        place_std_c=one.place_std_c[first],
        minutes=mean(one.minutes),
        trusted=np.bincount(groups, one.trusted) > 0,
    )
