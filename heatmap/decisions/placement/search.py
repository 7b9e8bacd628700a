"""The search: every centre and heading in reach is scored on the surface as placement sees it; the best are picked,
kept apart.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from copy import copy

import numpy as np

from heatmap.assessment import Assessment
from heatmap.decisions.placement.footprint import Headings, Room
from heatmap.decisions.tuning import GAP_MM, HALF_HOUR_WORTH_C, TURNED_WORTH_C
from heatmap.units import MM_PER_INCH, BoolArray, FloatArray, IntArray
from heatmap.verdict.chances import normal_cumulative

#: The centre (2,) of food laid down, and its headings.
Laid = tuple[FloatArray, Headings]

#: Headings tried when it is free: every half hour of half the clock, plainest first; the rest is the same.
FREE_HEADINGS = (12.0, 1.0, 11.0, 2.0, 10.0, 3.0, 12.5, 11.5, 1.5, 10.5, 2.5, 9.5)
#: Centres are this close, or as close as these many allow.
FINEST_STEP_MM, MOST_CENTRES = 6.35, 1600
#: Sets are built from each of the best this many first places.
_STARTS = 48


class TargetField:
    """Numbers held against the band, as differences from what settles in its middle, on cells of an inch.

    Attributes
    ----------
    assessment : Assessment
    square_c2 : ndarray, shape (rows * columns,)
        Expected square of the difference: that of the mean, and the own variance.
    samples_c : ndarray, shape (count, rows * columns)
        Joint samples, less the target, without the level.
    """

    def __init__(self, assessment: Assessment, compared_c: FloatArray | None = None) -> None:
        """Take the mean of the map at all wide cells (m,), or another one that has settled."""
        target_c = assessment.grill.target.middle_c
        mean_c, own_std_c = assessment.surface.predict(assessment.wide_sites)
        if compared_c is None:
            compared_c = assessment.calibration.compared_c(mean_c)
            target_c -= assessment.to_come_c
        self.assessment, self.samples_c = assessment, assessment.samples_c - target_c
        self.square_c2 = (compared_c - target_c) ** 2 + (own_std_c * assessment.compared_slope) ** 2

    @property
    def half_band_c(self) -> float:
        """From the target to either limit."""
        return self.assessment.grill.target.high_c - self.assessment.grill.target.middle_c

    def at(self, values: FloatArray, points_mm: FloatArray) -> FloatArray:
        """Return values of all cells (…, rows * columns) at points (…, 2), bilinear between centres."""
        cells = self.assessment.wide_cells
        left, right, to_right = _between(cells.x_mm, points_mm[..., 0])
        front, back, to_back = _between(cells.y_mm, points_mm[..., 1])
        columns = len(cells.x_mm)
        rows, sides = ((front, 1 - to_back), (back, to_back)), ((left, 1 - to_right), (right, to_right))
        corners = itertools.product(rows, sides)
        parts = (values[..., row * columns + side] * (along * across) for (row, along), (side, across) in corners)
        return np.asarray(sum(parts))

    def sampled(self, points_mm: FloatArray) -> FloatArray:
        """Return the samples at points (q, 2), shape (count, q)."""
        return self.at(self.samples_c, points_mm)

    def chance_in_band(self, sampled_c: FloatArray) -> float:
        """Return the chance that all points of samples (count, q) are in band, exact over the level."""
        low, high = sampled_c.min(axis=1), sampled_c.max(axis=1)
        level_c = max(self.assessment.level_std_c, 1e-9)
        below_top = normal_cumulative((self.half_band_c - high) / level_c)
        chance = below_top - normal_cumulative((-self.half_band_c - low) / level_c)
        return float(np.mean(np.maximum(chance, 0.0)))


def _between(lines_mm: FloatArray, at_mm: FloatArray) -> tuple[IntArray, IntArray, FloatArray]:
    """Return the lines on both sides of coordinates and how far across they lie; end gaps go on outwards."""
    place = (at_mm - lines_mm[0]) / (lines_mm[1] - lines_mm[0])
    low = np.clip(np.floor(place).astype(np.int64), 0, len(lines_mm) - 2)
    return low, low + 1, place - low


class Candidates:
    """A lattice of centres for every option of headings the food may take, with their scores.

    Attributes
    ----------
    room : Room
    options : tuple of headings
    option : ndarray, shape (n,)
        Index into `options`.
    centres_mm : ndarray, shape (n, 2)
    squares_c2 : ndarray, shape (n,)
        Expected mean squared difference from the target over the footprint, without the level.
    """

    def __init__(self, room: Room, field: TargetField, options: Sequence[Headings], most: int) -> None:
        """Score as fine a lattice as so many centres for each option allow."""
        centres, scores = [], []
        for headings in options:
            low, high = room.centres_mm(headings)
            width, depth = np.maximum(high - low, 0.0)
            step_mm = max(FINEST_STEP_MM, float(np.sqrt(width * depth / most)), float(max(width, depth) / most))
            lattice = room.lattice_mm(headings, step_mm)
            centres.append(lattice)
            points, weights = room.footprint.area_rule_mm(headings, lattice[:, None])
            scores.append(field.at(field.square_c2, points) @ weights)
        self.room, self.options = room, tuple(options)
        self.option: IntArray = np.repeat(np.arange(len(options)), [len(one) for one in centres])
        self.centres_mm, self.squares_c2 = np.concatenate(centres), np.concatenate(scores)

    @property
    def by_cost(self) -> IntArray:
        """All of them, in order of the root of their squares and what their heading must gain."""
        return np.argsort(np.sqrt(self.squares_c2) + np.array([*map(_odd_c, self.options)])[self.option], kind="stable")

    def best_of_each_inch(self) -> Candidates:
        """Return those with the cheapest heading in each square inch of the grate."""
        order = self.by_cost
        _, first = np.unique(np.floor(self.centres_mm[order] / MM_PER_INCH), axis=0, return_index=True)
        best, kept = copy(self), np.sort(order[first])
        best.option, best.centres_mm, best.squares_c2 = self.option[kept], self.centres_mm[kept], self.squares_c2[kept]
        return best

    def laid(self, index: int) -> Laid:
        """Return where one lies."""
        return self.centres_mm[index], self.options[self.option[index]]

    def clear_of(self, centre_mm: FloatArray, headings: Headings) -> BoolArray:
        """Tell which of all do not come too near to food laid at a place, (n,)."""
        result, gaps_mm = np.empty(len(self.option), dtype=bool), self.room.footprint.gaps_mm
        for index, own in enumerate(self.options):
            these = self.option == index
            result[these] = gaps_mm(self.centres_mm[these] - centre_mm, headings, own) >= GAP_MM
        return result

    def best_set(self, groups: Sequence[Sequence[Headings]]) -> list[int]:
        """Return one candidate for each group of headings: near the target, none overlapping another.

        Notes
        -----
        Sets are filled in order of cost, from each of the best first places, and packed from each corner; the fullest
        counts, then the mean of the expected squares. It has fewer than were asked for where no more fit.
        """
        member = [np.isin(self.option, [self.options.index(headings) for headings in group]) for group in groups]
        by_cost = np.argsort(self.squares_c2, kind="stable")
        orders = [np.insert(by_cost, 0, start) for start in by_cost[member[0][by_cost]][:_STARTS]]
        x_mm, y_mm = self.centres_mm.T
        for x, y in itertools.product((x_mm, -x_mm), (y_mm, -y_mm)):
            orders += [np.lexsort((x, y)), np.lexsort((y, x))]
        sets = [self.filled(member, order) for order in orders]
        return min(sets, key=lambda one: (-len(one), float(self.squares_c2[one].mean())))

    def filled(self, member: Sequence[BoolArray], order: IntArray) -> list[int]:
        """Take for each group, by its members (n,), the first candidate in order that overlaps none before it."""
        free, chosen = np.ones(len(self.option), dtype=bool), []
        for mine in member:
            left = order[(free & mine)[order]]
            if not len(left):
                break
            chosen.append(int(left[0]))
            free &= self.clear_of(*self.laid(left[0]))
        return chosen


def _odd_c(headings: Headings) -> float:
    """Return what a heading must gain against the plainest."""
    return 0.0 if headings == (12.0,) else TURNED_WORTH_C if headings[0] % 1.0 == 0.0 else HALF_HOUR_WORTH_C
