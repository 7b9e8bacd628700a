"""Where it is too hot or too cold, as a cook says it: "the back and the front left", in keeping with the marks."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from heatmap.assessment import Assessment
from heatmap.grill.grill import Grill
from heatmap.units import BoolArray, FloatArray
from heatmap.verdict.chances import leanings, normal_cumulative, words
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
        labels_mm = np.array([grill.point_mm(label) for label in grill.labels])
        mean_c, std_c = assessment.at(labels_mm)
        asked = grill.in_zone(labels_mm)
        word = np.where(asked, words(mean_c, std_c, low_c, high_c), "")
        leaning = np.where(asked, leanings(mean_c, std_c, low_c, high_c), "")
        at = ninth_of(labels_mm, grill.grate)
        of_cells = ninth_of(assessment.zone_points_mm, grill.grate)
        samples_c, std = assessment.samples_c[:, assessment.zone], max(assessment.level_std_c, 1e-9)
        hot, cold, counts = np.zeros((3, 3)), np.zeros((3, 3)), np.zeros((3, 3), dtype=bool)
        for part in itertools.product(range(3), range(3)):
            cells, marks = ((row == part[0]) & (column == part[1]) for row, column in (of_cells, at))
            counts[part] = cells.any()
            if not counts[part]:
                continue
            mean = samples_c[:, cells].mean(axis=1)
            for found, name, chance in (
                (hot, "too hot", normal_cumulative((mean - high_c) / std).mean()),
                (cold, "too cold", normal_cumulative((low_c - mean) / std).mean()),
            ):
                agrees = bool(np.isin(leaning[marks], (name, "in band")).all()) and not (word[marks] == "in band").any()
                if chance >= SURE and agrees and (not marks.any() or (leaning[marks] == name).mean() >= 0.5):
                    found[part] = chance
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
    for column in range(3):
        if counts[:, column].any() and parts[counts[:, column], column].all():
            names.append(f"the {_COLUMNS[column]}")
            left[:, column] = False
    for row in range(3):
        if counts[row].any() and parts[row, counts[row]].all() and left[row].any():
            names.append(f"the {_ROWS[row]}")
            left[row] = False
    return names + _parts(left)


def _parts(parts: BoolArray) -> list[str]:
    return [f"the {part_name(row, column)}" for row in (2, 1, 0) for column in range(3) if parts[row, column]]
