"""Where on the grate, as a cook says it: "the back and the front left", in keeping with the marks; and a place in the
grate's own names, as a hand can find it: "on B2, a hand towards B3"."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from heatmap.assessment import Assessment
from heatmap.grill.grate import Point
from heatmap.grill.grill import Grill
from heatmap.units import BoolArray, FloatArray
from heatmap.verdict.chances import normal_cumulative
from heatmap.verdict.regions import ninth_of, part_name
from heatmap.verdict.tuning import SURE
from heatmap.words.phrases import joined

#: What whole columns and whole rows are called.
_COLUMNS, _ROWS = ("left", "middle", "right"), ("front", "middle from side to side", "back")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Headline:
    """What may be said of whole parts and of single positions so that it agrees with the marks.

    Attributes
    ----------
    hot, cold : ndarray, shape (3, 3)
        Of each part, front row first, the chance that its mean is too hot or too cold where that may be said; else 0.
    counts : ndarray of bool, shape (3, 3)
        Parts that hold something of what should be in band.
    sure, leaning : mapping
        Positions outside the parts named, by word: those that are sure, those that only lean that way.
    """

    hot: FloatArray
    cold: FloatArray
    counts: BoolArray
    sure: Mapping[str, list[str]]
    leaning: Mapping[str, list[str]]

    @classmethod
    def of(cls, assessment: Assessment) -> Headline:
        """Read it off a map: the mean of a part is surer than any one place of it, but must agree with its marks."""
        grill, (low_c, high_c) = assessment.grill, assessment.band_c
        word, leaning = assessment.words_at_labels
        at = ninth_of(assessment.labels_mm, grill.grate)
        of_cells = ninth_of(assessment.wide_cells.inside_points_mm, grill.grate)
        samples_c, std = assessment.samples_c[:, assessment.zone], max(assessment.level_std_c, 1e-9)
        hot, cold, counts = np.zeros((3, 3)), np.zeros((3, 3)), np.zeros((3, 3), dtype=bool)
        for part in itertools.product(range(3), range(3)):
            cells, marks = ((row == part[0]) & (column == part[1]) for row, column in (of_cells, at))
            counts[part] = cells.any()
            if not counts[part]:
                continue
            mean = samples_c[:, cells].mean(axis=1)
            for found, name, outside_c in ((hot, "too hot", mean - high_c), (cold, "too cold", low_c - mean)):
                leans = leaning[marks] == name
                agrees = (leans | (leaning[marks] == "in band")).all() and not (word[marks] == "in band").any()
                if agrees and (not marks.any() or leans.mean() >= 0.5):
                    chance = normal_cumulative(outside_c / std).mean()
                    found[part] = chance if chance >= SURE else 0.0
        named = {"too hot": hot[at] > 0, "too cold": cold[at] > 0}
        return cls(
            hot=hot,
            cold=cold,
            counts=counts,
            sure={name: _labels(grill, (word == name) & ~named[name]) for name in named},
            leaning={name: _labels(grill, (leaning == name) & (word != name) & ~named[name]) for name in named},
        )


def _labels(grill: Grill, chosen: BoolArray) -> list[str]:
    return [label for label, here in zip(grill.labels, chosen, strict=True) if here]


def regions(parts: BoolArray, counts: BoolArray, *, alone: bool = True) -> list[str]:
    """Say which parts these are: "the right", "the back" and "the front left", "everywhere", none.

    Where most are meant, and nothing else is to be named `alone`, those that are not: "everywhere but the front left".
    """
    others = counts & ~parts
    if not others.any():
        return ["everywhere"]
    if alone and others.sum() <= 2 < counts.sum() / 2:
        return [f"everywhere but {joined(_parts(others))}"]
    names: list[str] = []
    left = parts.copy()
    for whole, there, rest, called in ((parts.T, counts.T, left.T, _COLUMNS), (parts, counts, left, _ROWS)):
        for at, name in enumerate(called):
            if rest[at].any() and whole[at, there[at]].all():
                names.append(f"the {name}")
                rest[at] = False
    return names + _parts(left)


def _parts(parts: BoolArray) -> list[str]:
    return [f"the {part_name(row, column)}" for row in (2, 1, 0) for column in range(3) if parts[row, column]]


#: Nearer to a position than this it is "on" it, mm: no hand sets food down better than to an inch (assumed).
_ON_MM = 25.4
#: Nearer than this it is two fingers, else a hand, mm; their breadths are about 40 and 100 (from memory).
_HAND_MM = 65.0
#: From this part of the way on it is "between".
_BETWEEN = 0.4
#: Cosine of how far the way to a neighbour may lie off the way to the centre: half of what lies between straight and
#: across.
_ALIGNED = math.cos(math.radians(30.0))
_EDGES = (("left", "right"), ("front", "back"))


def where(grill: Grill, x_mm: float, y_mm: float) -> str:
    """Say where a centre lies: "on B2", "on B2, a hand towards C3", "between B2 and B3"."""
    here = min(grill.labels, key=lambda label: math.dist(grill.point_mm(label), (x_mm, y_mm)))
    at = grill.point_mm(here)
    off_mm = (x_mm - at[0], y_mm - at[1])
    far_mm = math.hypot(*off_mm)
    if far_mm < _ON_MM:
        return f"on {here}"
    beside = _neighbour(grill, here, off_mm)
    if beside is None:
        axis = 0 if abs(off_mm[0]) > abs(off_mm[1]) else 1
        beside = f"the {_EDGES[axis][off_mm[axis] > 0]} edge"
    elif far_mm > _BETWEEN * math.dist(at, grill.point_mm(beside)):
        return f"between {joined(sorted([here, beside]))}"
    return f"on {here}, {'two fingers' if far_mm < _HAND_MM else 'a hand'} towards {beside}"


def _neighbour(grill: Grill, here: str, off_mm: Point) -> str | None:
    """Return the position beside, straight on or across, in whose direction an offset points; None where none is."""
    at = grill.point_mm(here)
    found = []
    for label in grill.labels:
        to_mm = [there - mine for there, mine in zip(grill.point_mm(label), at, strict=True)]
        length_mm = math.hypot(*to_mm)
        along = sum(one * other for one, other in zip(to_mm, off_mm, strict=True)) / math.hypot(*off_mm)
        if length_mm > 0 and along > _ALIGNED * length_mm:
            found.append((length_mm / along * length_mm, label))
    return min(found, default=(0.0, None))[1]
