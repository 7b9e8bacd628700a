"""What is said of the whole agrees with every mark below it: a thousand drawn surfaces."""

from __future__ import annotations

import re
from types import SimpleNamespace

import numpy as np
import pytest

from heatmap.assessment import Assessment, Cells
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, TargetBand
from heatmap.verdict.chances import evenness
from heatmap.verdict.chances import named as verdict
from heatmap.verdict.regions import part_name, parts_of_grate
from heatmap.words.map import map_answer, tilt_sentence
from heatmap.words.regions import Headline, regions

GRILL = Grill(grate=Grate(width_mm=600.0, depth_mm=450.0), target=TargetBand(low_c=288.0, high_c=316.0), units="si")
CELLS = Cells(GRILL, 50.8)
POINTS = CELLS.points_mm
SIDES = ("right", "left")
ALL_PARTS = [part_name(row, column) for row in (2, 1, 0) for column in range(3)]
LABELS_MM = np.array([GRILL.point_mm(label) for label in GRILL.labels])


def drawn(seed: int) -> Assessment:
    """Return what the words read of an assessment: a bumpy surface with a tilt, an own part and a level."""
    random = np.random.default_rng(seed)
    scale = random.uniform(80.0, 300.0)
    centres = random.uniform([0.0, 0.0], [600.0, 450.0], size=(6, 2))
    heights = random.normal(0.0, random.choice([3.0, 10.0, 25.0]), size=6)
    slope = random.normal(0.0, random.choice([0.0, 0.02, 0.08]), size=2)
    base, own = 302.0 + random.normal(0.0, 15.0), random.choice([1.0, 4.0, 10.0])
    level = random.choice([1e-6, 4.5, 20.0])

    def mean_c(points: np.ndarray) -> np.ndarray:
        far = np.hypot(*(points[:, None] - centres).transpose(2, 0, 1)) / scale
        return base + np.exp(-0.5 * far**2) @ heights + (points - [300.0, 225.0]) @ slope

    bumps = np.exp(-0.5 * (np.hypot(*(POINTS[:, None] - centres).transpose(2, 0, 1)) / scale) ** 2)
    spread = bumps / np.linalg.norm(bumps, axis=1, keepdims=True)
    samples = mean_c(POINTS) + own * random.normal(size=(60, 6)) @ spread.T
    inside = CELLS.inside.ravel()
    even = evenness(
        POINTS[inside],
        mean_c(POINTS)[inside],
        mean_c(POINTS)[inside],
        samples[:, inside],
        level * random.normal(size=60),
        288.0,
        316.0,
    )
    labels_c, std_c = mean_c(LABELS_MM), np.full(len(LABELS_MM), np.hypot(own, level))
    return SimpleNamespace(  # type: ignore[return-value]
        grill=GRILL,
        labels_mm=LABELS_MM,
        words_at_labels=verdict(labels_c, std_c, 288.0, 316.0),
        zone=inside,
        zone_parts=parts_of_grate(GRILL.grate, POINTS[inside]),
        wide_cells=CELLS,
        samples_c=samples,
        level_std_c=level,
        band_c=(288.0, 316.0),
        level_hides_all=2 * 1.2816 * level > 316.0 - 288.0,
        evenness=even,
        at=lambda points: (mean_c(points), np.full(len(points), np.hypot(own, level))),
    )


@pytest.mark.parametrize("first", range(0, 1000, 100))
def test_headline_tilt_and_marks_never_contradict(first: int) -> None:
    marks = parts_of_grate(GRILL.grate, LABELS_MM)
    for seed in range(first, first + 100):
        made = drawn(seed)
        mean_c, std_c = made.at(LABELS_MM)
        word, leaning = verdict(mean_c, std_c, 288.0, 316.0)
        found, answer, tilt = Headline(made), map_answer(made), tilt_sentence(made)
        for name, parts, other in (
            ("too hot", found.chances["too hot"], "too cold"),
            ("too cold", found.chances["too cold"], "too hot"),
        ):
            named = np.any([np.zeros(len(GRILL.labels), bool), *(marks[part] for part in parts)], axis=0)
            assert not (leaning[named] == other).any(), f"{seed}: {answer}"
            assert not (word[named] == "in band").any(), f"{seed}: {answer}"
            # Every sure mark is spoken of: in a part that is named, or by itself.
            sure = {GRILL.labels[index] for index in np.flatnonzero(word == name)}
            assert sure == {GRILL.labels[at] for at in np.flatnonzero((word == name) & named)} | set(found.sure[name])
            assert bool(sure) <= (name in answer.lower()), f"{seed}: {answer}"
        if answer.startswith("In band"):
            assert (leaning == "in band").all(), f"{seed}: {answer}"
        if re.match("Mostly|In band", answer):
            assert not np.isin(word, ("too hot", "too cold")).any(), f"{seed}: {answer}"
        hot, cold = found.chances["too hot"], found.chances["too cold"]
        right, left = (sum(side in part for part in hot) - sum(side in part for part in cold) for side in SIDES)
        if "right is" in tilt:
            assert right >= left, f"{seed}: {answer} {tilt}"
        if "left is" in tilt:
            assert right <= left, f"{seed}: {answer} {tilt}"


def test_a_drawn_surface_is_of_every_kind() -> None:
    """Else the test above would hold for want of something to contradict."""
    starts = {map_answer(drawn(seed)).split(" ")[0] for seed in range(100)}
    assert {"Too", "In", "Mostly", "Partly", "Cannot"} <= starts


@pytest.mark.parametrize(
    ("rows", "alone", "said"),
    [
        # as seen: the back row first
        ("111 111 111", True, ["everywhere"]),
        ("111 111 011", True, ["everywhere but the front left"]),
        ("111 110 110", True, ["everywhere but the centre right and the front right"]),
        ("111 111 011", False, ["the middle", "the right", "the middle from side to side", "the back"]),
        ("001 001 001", True, ["the right"]),
        ("000 001 000", True, ["the centre right"]),  # one part of a side is not called as the whole of it
        ("010 000 100", True, ["the back centre", "the front left"]),
        ("000 010 000", True, ["the centre"]),
        ("000 000 000", True, []),
    ],
)
def test_parts_are_called_by_what_they_are(rows: str, alone: bool, said: list[str]) -> None:
    parts = [part_name(2 - row, at) for row, marks in enumerate(rows.split()) for at in range(3) if marks[at] == "1"]
    assert regions(parts, ALL_PARTS, alone=alone) == said


def test_a_small_zone_is_told_by_its_own_parts() -> None:
    counts = ["back left", "centre left", "front left"]
    assert regions(counts[:2], counts) == ["the middle from side to side", "the back"]
