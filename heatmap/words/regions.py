"""Where on the grate, as a cook says it: "the back and the front left", in keeping with the marks; and a place in the
grate's own names, as a hand can find it: "on B2, a hand towards B3"."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from heatmap.assessment import Assessment
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
    chances : mapping
        By "too hot" and "too cold", of each part the chance that its mean is so where that may be said; else 0: arrays
        of shape (3, 3), front row first.
    counts : ndarray of bool, shape (3, 3)
        Parts that hold something of what should be in band.
    sure, leaning : mapping
        Positions outside the parts named, by word: those that are sure, those that only lean that way.
    """

    chances: Mapping[str, FloatArray]
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
        chances = {name: np.zeros((3, 3)) for name in ("too hot", "too cold")}
        counts = np.zeros((3, 3), dtype=bool)
        for part in itertools.product(range(3), range(3)):
            cells, marks = ((row == part[0]) & (column == part[1]) for row, column in (of_cells, at))
            counts[part] = cells.any()
            if not counts[part]:
                continue
            mean = samples_c[:, cells].mean(axis=1)
            for (name, found), outside_c in zip(chances.items(), (mean - high_c, low_c - mean), strict=True):
                leans = leaning[marks] == name
                agrees = (leans | (leaning[marks] == "in band")).all() and not (word[marks] == "in band").any()
                if agrees and (not marks.any() or leans.mean() >= 0.5):
                    chance = normal_cumulative(outside_c / std).mean()
                    found[part] = chance if chance >= SURE else 0.0
        named = {name: found[at] > 0 for name, found in chances.items()}
        return cls(
            chances=chances,
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
    labels, points_mm = grill.labels, np.array([grill.point_mm(label) for label in grill.labels])
    apart_mm = np.hypot(*(points_mm - [x_mm, y_mm]).T)
    at, far_mm = int(np.argmin(apart_mm)), float(apart_mm.min())
    if far_mm < _ON_MM:
        return f"on {labels[at]}"
    off_mm, to_mm = np.array([x_mm, y_mm]) - points_mm[at], points_mm - points_mm[at]
    length_mm, along_mm = np.hypot(*to_mm.T), to_mm @ off_mm / far_mm
    # The position beside, straight on or across, in whose direction the centre lies.
    beside = [one for one in range(len(labels)) if one != at and along_mm[one] > _ALIGNED * length_mm[one]]
    if beside:
        to = min(beside, key=lambda one: length_mm[one] ** 2 / along_mm[one])
        towards = labels[to]
        if far_mm > _BETWEEN * length_mm[to]:
            return f"between {joined(sorted([labels[at], towards]))}"
    else:
        axis = int(np.argmax(np.abs(off_mm)))
        towards = f"the {_EDGES[axis][int(off_mm[axis] > 0)]} edge"
    return f"on {labels[at]}, {'two fingers' if far_mm < _HAND_MM else 'a hand'} towards {towards}"
