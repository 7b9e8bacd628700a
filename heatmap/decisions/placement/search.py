"""The search: every centre and heading in reach is scored; the best are picked, moved, kept apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from heatmap.decisions.placement.field import TargetField
from heatmap.decisions.placement.footprint import Footprint
from heatmap.decisions.placement.room import Headings, Room
from heatmap.units import BoolArray, FloatArray, IntArray

#: Headings tried when it is free: every half hour of half the clock, plainest first; the rest is the same.
FREE_HEADINGS = (12.0, 1.0, 11.0, 2.0, 10.0, 3.0, 12.5, 11.5, 1.5, 10.5, 2.5, 9.5)
#: What a turn away from 12, or to a half hour, must gain to be worth saying, °C: far below any reading.
_TURN_WORTH_C, _HALF_HOUR_WORTH_C = 0.1, 0.2
#: Two pieces do not come closer: no hand sets food down better than to a quarter of an inch (assumed).
GAP_MM = 6.35
#: Centres of the first search are this close, or as close as these many allow.
FINEST_STEP_MM, MOST_CENTRES = 12.7, 400
#: A place is moved in ever smaller steps down to about this, an eighth of an inch.
_LAST_STEP_MM = 3.2
#: Sets are built from each of the best this many first places.
_STARTS = 48


@dataclass(frozen=True, kw_only=True, eq=False)
class Candidates:
    """Centres and headings the food may take, with their scores.

    Attributes
    ----------
    options : tuple of headings
    option : ndarray, shape (n,)
        Index into `options`.
    centres_mm : ndarray, shape (n, 2)
    squares_c2 : ndarray, shape (n,)
        Expected mean squared difference from the target over the footprint, without the level.
    """

    options: tuple[Headings, ...]
    option: IntArray
    centres_mm: FloatArray
    squares_c2: FloatArray

    @property
    def cost_c(self) -> FloatArray:
        """Root of the squares, plus what an odd heading must gain where there is a choice."""
        root = np.sqrt(self.squares_c2)
        if len(self.options) <= 2:  # the headings were asked for
            return np.asarray(root)
        odd = [
            0.0 if headings == (12.0,) else _TURN_WORTH_C if headings[0].is_integer() else _HALF_HOUR_WORTH_C
            for headings in self.options
        ]
        return np.asarray(root + np.array(odd)[self.option])

    def only(self, keep: IntArray) -> Candidates:
        """Return some of them."""
        return Candidates(
            options=self.options,
            option=self.option[keep],
            centres_mm=self.centres_mm[keep],
            squares_c2=self.squares_c2[keep],
        )

    def gaps_mm(self, footprint: Footprint, some: IntArray) -> FloatArray:
        """Return the gap between each of some candidates (s,) and all of them, (s, n)."""
        result = np.empty((len(some), len(self.option)))
        for mine in np.unique(self.option[some]):
            rows = np.flatnonzero(self.option[some] == mine)
            for other in np.unique(self.option):
                columns = np.flatnonzero(self.option == other)
                apart = self.centres_mm[some[rows], None] - self.centres_mm[columns]
                gaps = footprint.gaps_mm(apart, self.options[mine], self.options[other])
                result[np.ix_(rows, columns)] = gaps
        return result


def candidates(room: Room, field: TargetField, options: Sequence[Headings], most: int = MOST_CENTRES) -> Candidates:
    """Score a lattice of centres for every option of headings."""
    centres, scores = [], []
    for headings in options:
        points, weights = room.footprint.area_rule_mm(headings)
        step_mm = _step_mm(room, headings, most)
        lattice = room.lattice_mm(headings, step_mm) if room.fits(headings) else np.empty((0, 2))
        centres.append(lattice)
        scores.append(field.squares_c2(lattice[:, None] + points, weights))
    return Candidates(
        options=tuple(options),
        option=np.repeat(np.arange(len(options)), [len(one) for one in centres]),
        centres_mm=np.concatenate(centres),
        squares_c2=np.concatenate(scores),
    )


def _step_mm(room: Room, headings: Headings, most: int) -> float:
    low, high = room.centres_mm(headings)
    width, depth = np.maximum(high - low, 0.0)
    return max(FINEST_STEP_MM, float(np.sqrt(width * depth / most)), float(max(width, depth) / most))


def best_of_each_centre(found: Candidates, bin_mm: float) -> Candidates:
    """Keep the cheapest heading in each square of the grate."""
    squares = np.floor(found.centres_mm / bin_mm).astype(np.int64)
    order = np.argsort(found.cost_c, kind="stable")
    _, first = np.unique(squares[order], axis=0, return_index=True)
    return found.only(np.sort(order[first]))


def best_apart(room: Room, field: TargetField, found: Candidates, count: int) -> list[tuple[FloatArray, Headings]]:
    """Return up to `count` centres (2,) with their headings, best first, none overlapping a better one."""
    chosen: list[tuple[FloatArray, Headings]] = []
    cost, free = found.cost_c, np.ones(len(found.option), dtype=bool)
    while free.any() and len(chosen) < count:
        best = int(np.argmin(np.where(free, cost, np.inf)))
        headings = found.options[found.option[best]]
        centre = _moved(room, field, found.centres_mm[best], headings, chosen)
        chosen.append((centre, headings))
        for index in set(found.option[free].tolist()):
            these = np.flatnonzero(free & (found.option == index))
            apart = found.centres_mm[these] - centre
            free[these] = room.footprint.gaps_mm(apart, headings, found.options[index]) >= GAP_MM
    return chosen


def _moved(
    room: Room,
    field: TargetField,
    centre_mm: FloatArray,
    headings: Headings,
    taken: Sequence[tuple[FloatArray, Headings]],
) -> FloatArray:
    """Move a centre to where it is best nearby, in ever smaller steps, keeping off the places taken."""
    points, weights = room.footprint.area_rule_mm(headings)
    around = np.array([(x, y) for y in (-1.0, 0.0, 1.0) for x in (-1.0, 0.0, 1.0) if (x, y) != (0.0, 0.0)])
    here = float(field.squares_c2(centre_mm[None, None] + points, weights)[0])
    step = 0.5 * FINEST_STEP_MM
    for _ in range(40):
        trial = centre_mm + step * around
        allowed = room.allows(trial, headings)
        for other_mm, other in taken:
            allowed &= room.footprint.gaps_mm(trial - other_mm, headings, other) >= GAP_MM
        scores = np.where(allowed, field.squares_c2(trial[:, None] + points, weights), np.inf)
        best = int(np.argmin(scores))
        if scores[best] < here - 1e-9:
            here, centre_mm = float(scores[best]), trial[best]
        elif step <= _LAST_STEP_MM:
            break
        else:
            step *= 0.5
    return centre_mm


def difference_squares_c2(field: TargetField, footprint: Footprint, found: Candidates) -> FloatArray:
    """Return the expected squared difference between the footprint means of every two candidates, (n, n)."""
    means, samples = [], []
    rows = np.arange(len(found.option))
    order = np.argsort(found.option, kind="stable")
    for index in np.unique(found.option):
        points, weights = footprint.area_rule_mm(found.options[index])
        matrix = field.matrix(found.centres_mm[found.option == index][:, None] + points, weights)
        means.append(matrix @ field.off_c.ravel())
        samples.append(field.samples_c @ matrix.T)
    back = np.empty_like(order)
    back[order] = rows
    mean_c, sample_c = np.concatenate(means)[back], np.concatenate(samples, axis=1)[:, back]
    centred = sample_c - sample_c.mean(axis=0)
    covariance = centred.T @ centred / len(centred)
    variance = np.diag(covariance)
    spread = np.maximum(variance[:, None] + variance - 2.0 * covariance, 0.0)
    return np.asarray((mean_c[:, None] - mean_c) ** 2 + spread)


def best_alike(
    footprint: Footprint, found: Candidates, difference_c2: FloatArray, groups: Sequence[Sequence[int]]
) -> list[int]:
    """Return one candidate for each group of options: near the target, alike, none overlapping another.

    Notes
    -----
    The cost of a set is the mean of its expected squares plus the mean expected squared difference of its
    pairs. Sets grow from each of the best first places, the cheapest addition at a time, which for two is
    every pair of those. Where none gets full, they are packed from each corner. Returns fewer than asked
    where no more fit.
    """
    member = np.array([np.isin(found.option, group) for group in groups])
    first = np.flatnonzero(member[0])
    starts = first[np.argsort(found.cost_c[first], kind="stable")][:_STARTS]
    grown = _grow(footprint, found, difference_c2, member, starts)
    full = [one for one in grown if len(one) == len(groups)]
    sets = full or [*grown, *_packed(footprint, found, member)]
    most = max(len(one) for one in sets)
    return min((one for one in sets if len(one) == most), key=lambda one: set_cost_c2(found, difference_c2, one))


def set_cost_c2(found: Candidates, difference_c2: FloatArray, chosen: Sequence[int]) -> float:
    """Return the mean of the expected squares plus the mean expected squared difference of the pairs."""
    count = len(chosen)
    pairs = max(count * (count - 1), 1)
    together = difference_c2[np.ix_(chosen, chosen)].sum() / pairs
    return float(found.squares_c2[list(chosen)].mean() + together)


def _grow(
    footprint: Footprint, found: Candidates, difference_c2: FloatArray, member: BoolArray, starts: IntArray
) -> list[list[int]]:
    sets = [[int(start)] for start in starts]
    free = np.ones((len(starts), len(found.option)), dtype=bool)
    alive = np.arange(len(starts))
    count = len(member)
    together = np.zeros_like(free, dtype=np.float64)
    for turn in range(1, count):
        last = np.array([sets[index][-1] for index in alive], dtype=np.int64)
        free[alive] &= found.gaps_mm(footprint, last) >= GAP_MM
        together[alive] += difference_c2[last]
        cost = found.squares_c2 / count + together[alive] / (0.5 * count * (count - 1))
        cost = np.where(free[alive] & member[turn], cost, np.inf)
        best = np.argmin(cost, axis=1)
        going = np.isfinite(cost[np.arange(len(alive)), best])
        for index, one in zip(alive[going], best[going], strict=True):
            sets[index].append(int(one))
        alive = alive[going]
        if not len(alive):
            break
    return sets


def _packed(footprint: Footprint, found: Candidates, member: BoolArray) -> list[list[int]]:
    """Fill the grate from each corner, row by row and column by column."""
    sets = []
    x_mm, y_mm = found.centres_mm.T
    for sign_x in (1.0, -1.0):
        for sign_y in (1.0, -1.0):
            for keys in ((sign_x * x_mm, sign_y * y_mm), (sign_y * y_mm, sign_x * x_mm)):
                rank = np.lexsort(keys)
                free, chosen = np.ones(len(rank), dtype=bool), []
                for mine in member:
                    open_ones = rank[(free & mine)[rank]]
                    if not len(open_ones):
                        break
                    chosen.append(int(open_ones[0]))
                    free &= found.gaps_mm(footprint, open_ones[:1])[0] >= GAP_MM
                sets.append(chosen)
    return sets
