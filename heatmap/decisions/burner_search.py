"""Find the settable marks that bring the most area into the band, over joint samples of surface and response."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from copy import copy

import numpy as np
from numpy.typing import NDArray

from heatmap.assessment import Assessment
from heatmap.decisions.tuning import FARTHEST_WIDTHS, LEVEL_WEIGHED, NEARNESS, OWN_WEIGHED, WORTH_A_TURN
from heatmap.grate_model.response import bend
from heatmap.units import FloatArray
from heatmap.verdict.chances import chance_of_more

#: Which of its possible marks each burner stands at.
Places = tuple[int, ...]

#: Joint samples searched over, and those the numbers told in the end are from: as many as a second allows.
DRAWS, FRESH_DRAWS = 48, 200
#: Cells looked at, likewise.
CELLS = 100
#: Marks that differ by less are the same: steps of a tenth are no round binary numbers.
SAME_MARK = 1e-6
#: Rounds of the climb, it takes two to four; by so many marks two knobs are turned at once.
_CLIMBS, _STEPS = 6, 3


class Draws:
    """Joint samples of the settled surface at some cells, of what each burner adds, and of the level; heat scale.

    Attributes
    ----------
    burners : tuple of Burner
    now : tuple of float
        Their marks in the newest round.
    base : ndarray (count, m)
        The surface under the newest marks.
    effects : ndarray (burners, 2, count, m)
        What a burner adds per opening f, and per bend of f.
    level : ndarray (count, 1)
        What moves everything together.
    band : tuple of float
    celsius_per_heat : float
        At mid-band.
    near : ndarray (burners, m) of bool
        The third of the cells that each burner heats most.
    """

    def __init__(self, assessment: Assessment, cells_mm: FloatArray, random: np.random.Generator) -> None:
        """Draw them at cells (m, 2) from the model of all rounds."""
        model, marks = assessment.model, assessment.round.settings
        self.burners, reference = model.response.burners, model.response.openings(marks)
        self.now = tuple(float(marks[burner.name]) for burner in self.burners)
        others = [_two_others(opening) for opening in reference]
        asked = np.tile(reference, (1 + 2 * len(self.burners), 1))
        for at, pair in enumerate(others):
            asked[[1 + 2 * at, 2 + 2 * at], at] = pair
        half = (DRAWS + FRESH_DRAWS) // 2
        drawn = model.settled(asked).heat_sample(cells_mm, 2 * half, random).reshape(2 * half, len(asked), -1)
        self.base: FloatArray = drawn[:, 0]
        rises = (drawn[:, 1:] - self.base[:, None]).reshape(2 * half, len(self.burners), 2, -1)
        by = [np.linalg.inv(from_reference(np.array(pair), one)) for pair, one in zip(others, reference, strict=True)]
        self.effects: FloatArray = np.einsum("bjp,cbjm->bpcm", by, rises)
        band = model.scale.heat(np.array(assessment.band_rail_c))
        self.band = (float(band[0]), float(band[1]))
        self.celsius_per_heat = float(model.scale.celsius_per_heat(np.array([band.mean()]))[0])
        level_c = assessment.level_std_c / assessment.calibration.compared_slope(float(assessment.mean_c.mean()))
        # Standard normal numbers whose mean is exactly 0, in random order.
        one_way = random.normal(size=half)
        either_way = random.permutation(np.concatenate([one_way, -one_way]))[:, None]
        self.level: FloatArray = level_c / self.celsius_per_heat * either_way
        narrow = model.response.patterns(cells_mm)[:, 0]
        self.near = narrow >= np.quantile(narrow, 2.0 / 3.0, axis=1)[:, None]

    def for_search(self) -> Draws:
        """Return the weighed samples that are searched over."""
        return self._only(slice(0, DRAWS)).weighed()

    def unseen(self) -> Draws:
        """Return the samples that the search does not see, so that the told share is not a lucky one."""
        return self._only(slice(DRAWS, None))

    def weighed(self) -> Draws:
        """Return samples as wide as a decision weighs them."""

        def narrowed(draws: FloatArray) -> FloatArray:
            mean = draws.mean(axis=-2, keepdims=True)
            return np.asarray(mean + OWN_WEIGHED * (draws - mean))

        base, effects = narrowed(self.base), narrowed(self.effects)
        return self._holding(base=base, effects=effects, level=LEVEL_WEIGHED * self.level)

    def _only(self, kept: slice) -> Draws:
        return self._holding(base=self.base[kept], effects=self.effects[:, :, kept], level=self.level[kept])

    def _holding(self, **samples: FloatArray) -> Draws:
        """Return the same with other samples."""
        other = copy(self)
        vars(other).update(samples)
        return other

    def heat(self, marks: Sequence[float]) -> FloatArray:
        """Return samples of the surface under marks, (count, m)."""
        added = [self.added(at, np.array([mark]))[0] for at, mark in enumerate(marks)]
        return np.asarray(self.base + self.level + sum(added))

    def added(self, burner: int, marks: FloatArray) -> FloatArray:
        """Return what one burner adds against the newest round at k of its marks, (k, count, m)."""
        knob = self.burners[burner]
        more = from_reference(knob.fraction(marks), knob.fraction(self.now[burner]))
        return np.tensordot(more.T, self.effects[burner], axes=1)

    def merits(self, heat: NDArray[np.floating]) -> NDArray[np.floating]:
        """Return of each sample of surfaces (…, count, m) its share in band, less a little for how far off it is, in
        widths of the band.
        """
        low, high = self.band
        middle, half = 0.5 * (low + high), 0.5 * (high - low)
        off = np.abs(heat - np.float32(middle)) - np.float32(half)
        far = np.clip(off, 0.0, np.float32(2.0 * half * FARTHEST_WIDTHS)).mean(axis=-1) / (2.0 * half)
        return np.asarray((off <= 0.0).mean(axis=-1) - NEARNESS * far)

    def shares(self, marks: Sequence[float]) -> FloatArray:
        """Return the share in band of each sample."""
        heat = self.heat(marks)
        return np.asarray(((heat >= self.band[0]) & (heat <= self.band[1])).mean(axis=1))

    def chance_better(self, now: Sequence[float], then: Sequence[float]) -> float:
        """Return how likely the share rises, with the shared level at its mean: no further round would tell it."""
        settled = self._holding(level=np.zeros_like(self.level))
        return chance_of_more(settled.shares(now), settled.shares(then))

    def slope_per_mark(self, burner: int) -> FloatArray:
        """Return by how much the third of the grate nearest to a burner rises per mark now, (count,) [°C]."""
        knob, near = self.burners[burner], self.near[burner]
        ends = np.clip(self.now[burner] + np.array([-0.5, 0.5]), knob.low, knob.high)
        less, more = self.added(burner, ends)[:, :, near].mean(axis=2)
        return np.asarray((more - less) / (ends[1] - ends[0]) * self.celsius_per_heat)


def a_few(items: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return about :data:`CELLS` of the items, evenly picked."""
    return np.asarray(items[np.unique(np.linspace(0, len(items) - 1, CELLS).round().astype(int))])


class Search:
    """A climb over joint samples of the surface under any marks.

    Attributes
    ----------
    draws : Draws
    marks : list of ndarray
        Every mark a hand can set and the one it stands at now, per burner.
    now : tuple of int
        Where each burner stands.
    """

    def __init__(self, draws: Draws, limits: Sequence[tuple[float, float]] = ()) -> None:
        """Lay out what each burner adds at each of its marks, or at those within limits."""
        self.draws, self.base = draws, (draws.base + draws.level).astype(np.float32)
        self.marks = [_with(burner.settable, mark) for burner, mark in zip(draws.burners, draws.now, strict=True)]
        for at, (lowest, highest) in enumerate(limits):
            within = (self.marks[at] >= lowest - SAME_MARK) & (self.marks[at] <= highest + SAME_MARK)
            self.marks[at] = self.marks[at][within]
        self.now: Places = tuple(int(np.argmin(np.abs(m - s))) for m, s in zip(self.marks, draws.now, strict=True))
        self.tables = [draws.added(at, marks).astype(np.float32) for at, marks in enumerate(self.marks)]

    def marks_at(self, places: Places) -> tuple[float, ...]:
        """Return the marks."""
        return tuple(float(marks[place]) for marks, place in zip(self.marks, places, strict=True))

    def surface(self, places: Places, leave_out: Sequence[int] = ()) -> NDArray[np.float32]:
        """Return samples of the surface, (draws, cells), without what some burners were turned."""
        heat = self.base.copy()
        for burner, place in enumerate(places):
            if burner not in leave_out and place != self.now[burner]:
                heat += self.tables[burner][place]
        return heat

    def merit(self, heat: NDArray[np.float32]) -> NDArray[np.float32]:
        """Return the value of surfaces (…, draws, cells): expected share in band, and a little for being near."""
        return np.asarray(self.draws.merits(heat).mean(axis=-1), dtype=np.float32)

    def value(self, places: Places) -> float:
        """Return the merit less the price of the turns."""
        turns = sum(place != now for place, now in zip(places, self.now, strict=True))
        return float(self.merit(self.surface(places))) - WORTH_A_TURN * turns

    def best(self) -> Places:
        """Turn one knob at a time to its best mark, then two at once by a few, until nothing helps."""
        best = self.now
        for _ in range(_CLIMBS):
            before = best
            for burner in range(len(self.marks)):
                best = self._one_knob(best, burner)
            if best == before and (best := self._two_knobs(best)) == before:
                break
        return best

    def _one_knob(self, places: Places, burner: int) -> Places:
        merits = self.merit(self.surface(places, [burner]) + self.tables[burner]).astype(np.float64)
        merits -= WORTH_A_TURN * (np.arange(len(merits)) != self.now[burner])
        best = int(np.argmax(merits))
        if merits[best] <= merits[places[burner]] + 1e-6:
            return places
        return (*places[:burner], best, *places[burner + 1 :])

    def _two_knobs(self, places: Places) -> Places:
        found = [places]
        for pair in itertools.combinations(range(len(places)), 2):
            near = [slice(max(places[at] - _STEPS, 0), places[at] + _STEPS + 1) for at in pair]
            first, second = (self.tables[at][marks] for at, marks in zip(pair, near, strict=True))
            merits = self.merit(self.surface(places, pair) + first[:, None] + second)
            by = np.unravel_index(np.argmax(merits), merits.shape)
            moved = {at: marks.start + int(step) for at, marks, step in zip(pair, near, by, strict=True)}
            found.append(tuple(moved.get(at, place) for at, place in enumerate(places)))
        best = max(found, key=self.value)
        return best if self.value(best) > self.value(places) + 1e-6 else places


def _with(settable: Sequence[float], mark: float) -> FloatArray:
    """Return the settable marks and this one, in order."""
    known = min(abs(other - mark) for other in settable) < SAME_MARK
    return np.array(settable if known else sorted((*settable, mark)))


def _two_others(opening: float) -> tuple[float, float]:
    """Return two openings well apart from this one and from each other."""
    return (0.0, 1.0) if 0.25 < opening < 0.75 else (0.5, 1.0 if opening <= 0.25 else 0.0)


def from_reference(openings: FloatArray, reference: FloatArray | float) -> FloatArray:
    """Return by how much f and its bend differ from those of a reference opening at k openings, (2, k)."""
    return np.stack([openings - reference, bend(openings) - bend(np.asarray(reference))])
