"""The truth of a make-believe grill, and how it is shown beside the map in the end."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from cli import console
from cli.output import Output, save_picture
from cli.table import framed
from heatmap.assessment import Assessment, Cells
from heatmap.units import Display, FloatArray
from heatmap.verdict.chances import words
from heatmap.words.pictures import positions_truth_sentence, reached_sentence, truly_in_band_sentence
from heatmap.words.taking import marks_text

if TYPE_CHECKING:
    from heatmap.grill.grill import Grill
    from heatmap.synthetic import RehearsalGrill


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Truth:
    """What was truly held against the band at one moment, in °C: the rail, or what this gun shows of it but for luck.

    Attributes
    ----------
    at_positions_c : array, one for each position
    at_cells_c : array, one for each cell of the map
    """

    at_positions_c: FloatArray
    at_cells_c: FloatArray


def truth_now(rehearsal: RehearsalGrill, grill: Grill) -> Truth:
    """Return the truth as it is now, in the numbers of the band."""
    return Truth(
        at_positions_c=rehearsal.compared_now_c([grill.point_mm(label) for label in grill.labels]),
        at_cells_c=rehearsal.compared_now_c(Cells.of(grill).points_mm),
    )


def show_truth(rehearsal: RehearsalGrill, assessment: Assessment, truth: Truth, picture: Output | None) -> None:
    """Show the truth beside the map, and what the best marks would have given."""
    console.answer("", *truth_table(assessment, truth.at_positions_c))
    for line in _reached(rehearsal, assessment, truth):
        console.answer(line)
    if picture is not None:
        from heatmap.pictures import truth_beside_map

        shape = assessment.cells.inside.shape
        save_picture(truth_beside_map(assessment, truth.at_cells_c.reshape(shape)), picture)


def _reached(rehearsal: RehearsalGrill, assessment: Assessment, truth: Truth) -> Iterator[str]:
    (low_c, high_c), inside = assessment.band_c, assessment.cells.inside.ravel()
    in_band = (truth.at_cells_c >= low_c) & (truth.at_cells_c <= high_c)
    yield truly_in_band_sentence(assessment.evenness.share_in_band, float(np.mean(in_band[inside])))
    start, now = rehearsal.share_in_band(rehearsal.start), rehearsal.share_in_band(rehearsal.held)
    console.talk("Looking for the best these knobs can do ...")
    marks, best = rehearsal.best_reachable()
    yield reached_sentence(start, now, best, marks_text(assessment.grill, marks))


def truth_table(assessment: Assessment, truth_c: FloatArray) -> list[str]:
    """Return the map and the truth at every position, and how far apart they are."""
    grill, display = assessment.grill, Display(assessment.grill.units)
    points = np.array([grill.point_mm(label) for label in grill.labels])
    mean_c, std_c = assessment.at(points)
    verdicts = [str(word) for word in words(truth_c, np.zeros_like(truth_c), *assessment.band_c)]
    texts = [
        f"{display.temperature(float(mapped)):.0f} {display.temperature(float(true)):.0f} {console.mark(word)}"
        for mapped, true, word in zip(mean_c, truth_c, verdicts, strict=True)
    ]
    return [
        f"Make-believe: your map of round {assessment.round.number}, then the truth while you shot and its mark",
        *framed(grill, texts, verdicts),
        positions_truth_sentence(mean_c - truth_c, std_c, display),
    ]
