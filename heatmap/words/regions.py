"""Where on the grate, as a cook says it: "the back and the front left", in keeping with the marks; and a place in the
grate's own names, as a hand can find it: "on B2, a hand towards B3"."""

import math
from collections.abc import Collection, Sequence

import numpy as np

from heatmap.assessment import Assessment
from heatmap.grill.grill import Grill
from heatmap.verdict.chances import normal_cumulative
from heatmap.verdict.regions import part_name, parts_of_grate
from heatmap.verdict.tuning import SURE
from heatmap.words.phrases import joined

#: The parts of whole columns and of whole rows, by what these are called.
_COLUMNS, _ROWS = ("left", "middle", "right"), ("front", "middle from side to side", "back")
_WHOLE = {
    **{name: {part_name(row, at) for row in range(3)} for at, name in enumerate(_COLUMNS)},
    **{name: {part_name(at, column) for column in range(3)} for at, name in enumerate(_ROWS)},
}


class Headline:
    """What may be said of whole parts and of single positions so that it agrees with the marks.

    Attributes
    ----------
    chances : mapping
        By "too hot" and "too cold", of each part of which that may be said the chance that its mean is so.
    counts : tuple of str
        Parts that hold something of what should be in band, back row first.
    sure, leaning : mapping
        Positions outside the parts named, by word: those that are sure, those that only lean that way.
    """

    def __init__(self, assessment: Assessment) -> None:
        """Read it off a map: the mean of a part is surer than any one place of it, but must agree with its marks."""
        grill, (low_c, high_c) = assessment.grill, assessment.band_c
        word, leaning = assessment.words_at_labels
        samples_c, std = assessment.samples_c[:, assessment.zone], max(assessment.level_std_c, 1e-9)
        labels, nowhere = np.array(grill.labels), np.zeros(len(grill.labels), dtype=bool)
        marks_of, parts = parts_of_grate(grill.grate, assessment.labels_mm), assessment.zone_parts
        self.counts = tuple(parts)
        self.chances: dict[str, dict[str, float]] = {"too hot": {}, "too cold": {}}
        named = dict.fromkeys(self.chances, nowhere)
        for part, cells in parts.items():
            marks, mean = marks_of.get(part, nowhere), samples_c[:, cells].mean(axis=1)
            for name, outside_c in zip(self.chances, (mean - high_c, low_c - mean), strict=True):
                leans = leaning[marks] == name
                agrees = (leans | (leaning[marks] == "in band")).all() and not (word[marks] == "in band").any()
                chance = float(normal_cumulative(outside_c / std).mean())
                if agrees and (not marks.any() or leans.mean() >= 0.5) and chance >= SURE:
                    self.chances[name][part], named[name] = chance, named[name] | marks
        self.sure = {name: labels[(word == name) & ~marks].tolist() for name, marks in named.items()}
        leans_only = {name: (leaning == name) & (word != name) & ~marks for name, marks in named.items()}
        self.leaning = {name: labels[marks].tolist() for name, marks in leans_only.items()}


def regions(parts: Collection[str], counts: Sequence[str], *, alone: bool = True) -> list[str]:
    """Say which of the parts that count these are: "the right", "the back" and "the front left", "everywhere", none.

    Where most are meant, and nothing else is to be named `alone`, those that are not: "everywhere but the front left".
    """
    others = [part for part in counts if part not in parts]
    if not others:
        return ["everywhere"]
    if alone and len(others) <= 2 < len(counts) / 2:
        return [f"everywhere but {joined([f'the {part}' for part in others])}"]
    names, left = [], [part for part in counts if part in parts]
    for name, whole in _WHOLE.items():
        if whole.intersection(left) and not whole.intersection(others):
            names.append(name)
            left = [part for part in left if part not in whole]
    return [f"the {name}" for name in (*names, *left)]


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
