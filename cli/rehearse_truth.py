"""The truth of a make-believe grill, and how it is shown beside the map in the end."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from cli import console
from cli.output import Output, save_picture
from heatmap.units import FloatArray

if TYPE_CHECKING:
    from heatmap.assessment import Assessment
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
    from heatmap.assessment import Cells

    return Truth(
        at_positions_c=rehearsal.compared_now_c([grill.point_mm(label) for label in grill.labels]),
        at_cells_c=rehearsal.compared_now_c(Cells.of(grill).points_mm),
    )


def show_truth(rehearsal: RehearsalGrill, assessment: Assessment, truth: Truth, picture: Output | None) -> None:
    """Show the truth beside the map, and what the best marks would have given."""
    console.answer("")
    for line in truth_table(assessment, truth.at_positions_c):
        console.answer(line)
    for line in _reached(rehearsal, assessment, truth):
        console.answer(line)
    if picture is not None:
        from heatmap.pictures import truth_beside_map

        shape = assessment.cells.inside.shape
        save_picture(truth_beside_map(assessment, truth.at_cells_c.reshape(shape)), picture)


def _reached(rehearsal: RehearsalGrill, assessment: Assessment, truth: Truth) -> Iterator[str]:
    import numpy as np

    from heatmap.units import percent

    (low_c, high_c), inside = assessment.band_c, assessment.cells.inside.ravel()
    in_band = (truth.at_cells_c >= low_c) & (truth.at_cells_c <= high_c)
    yield (
        f"While you shot: your map said {percent(assessment.evenness.share_in_band)} in band, and truly it was "
        f"{percent(float(np.mean(in_band[inside])))}."
    )
    start, now = rehearsal.share_in_band(rehearsal.start), rehearsal.share_in_band(rehearsal.held)
    console.talk("Looking for the best these knobs can do ...")
    marks, best = rehearsal.best_reachable()
    grill = assessment.grill
    named = ", ".join(f"{name} {grill.burner(name).mark_text(float(mark))}" for name, mark in marks.items())
    yield (
        f"Once settled, in the day's usual wind, truly in band: {percent(start)} at the marks it began with, "
        f"{percent(now)} at yours; the best these knobs can do is {percent(best)} ({named})."
    )


def truth_table(assessment: Assessment, truth_c: FloatArray) -> list[str]:
    """Return the map and the truth at every position, and how far apart they are."""
    import numpy as np

    from cli.table import framed
    from heatmap.units import STDS_95, Display
    from heatmap.verdict.chances import words

    grill, display = assessment.grill, Display(assessment.grill.units)
    points = np.array([grill.point_mm(label) for label in grill.labels])
    mean_c, std_c = assessment.at(points)
    verdicts = [str(word) for word in words(truth_c, np.zeros_like(truth_c), *assessment.band_c)]
    texts = [
        f"{display.temperature(float(mapped)):.0f} {display.temperature(float(true)):.0f} {console.mark(word)}"
        for mapped, true, word in zip(mean_c, truth_c, verdicts, strict=True)
    ]
    off_c = mean_c - truth_c
    typical = display.difference_text(float(np.sqrt(np.mean(off_c**2))))
    within = int(np.sum(np.abs(off_c) <= STDS_95 * std_c))
    return [
        f"Make-believe: your map of round {assessment.round.number}, then the truth while you shot and its mark",
        *framed(grill, texts, verdicts),
        f"At the positions your map is off by {typical} (root mean square); "
        f"the truth is within its ± at {within} of {len(off_c)}.",
    ]
