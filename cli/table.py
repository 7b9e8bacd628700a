"""The grate as a table of positions, seen from above: BACK above, YOU below."""

from __future__ import annotations

from collections.abc import Sequence
from typing import IO, TYPE_CHECKING

from cli import console
from heatmap.units import Display

if TYPE_CHECKING:
    from heatmap.assessment import Assessment
    from heatmap.grill.grill import Grill


def grate_table(assessment: Assessment) -> list[str]:
    """Return the lines of the table: at each position the last number believed, and its mark.

    A number in brackets was not shot: it comes from the map.
    """
    import numpy as np

    from heatmap.verdict.chances import leanings, words

    grill = assessment.grill
    display = Display(grill.units)
    shot: dict[str, float] = {}
    slips: dict[str, float] = {}
    for assessed in assessment.spots:
        position = assessed.spot.reading.position
        if assessed.spot.reading.aim == "rail" and position and assessed.compared_c is not None:
            heard = slips if assessed.suspect else shot
            heard[position] = display.temperature(assessed.compared_c)
    suspect, shot = slips.keys() - shot.keys(), slips | shot
    points = np.array([grill.point_mm(label) for label in grill.labels])
    mean_c, std_c = assessment.at(points)
    texts, styles = [], []
    sure = words(mean_c, std_c, *assessment.band_c) != "unsure"
    likeliest = leanings(mean_c, std_c, *assessment.band_c)
    in_zone = grill.in_zone(points)
    for index, (label, surface_c) in enumerate(zip(grill.labels, mean_c, strict=True)):
        number = f"{shot[label]:.0f}" if label in shot else f"({display.temperature(surface_c):.0f})"
        style = "suspect" if label in suspect else str(likeliest[index]) if in_zone[index] else ""
        texts.append(f"{number} {console.mark(style, sure=bool(sure[index])) if style else ' '}")
        styles.append(style)
    return framed(grill, texts, styles)


def framed(grill: Grill, texts: Sequence[str], styles: Sequence[str], stream: IO[str] | None = None) -> list[str]:
    """Lay cells out, one for each position, under column numbers, beside row letters, between BACK and YOU.

    Fits 80 columns; where a round grate has no position the table is empty.
    """
    columns = grill.positions.columns
    cell_of = {label: (text, style) for label, text, style in zip(grill.labels, texts, styles, strict=True)}
    width = max(min(max(map(len, texts), default=1) + 2, 76 // columns), max(map(len, texts), default=1) + 1)
    middle = 4 + width * columns // 2
    lines = [f"{'BACK':>{middle + 2}}", "    " + "".join(f"{column + 1:^{width}}" for column in range(columns))]
    for row, labels in enumerate(grill.grid):
        cells = []
        for label in labels:
            text, style = cell_of.get(label, ("", ""))
            cells.append(console.coloured(f"{text:^{width}}", style, stream))
        lines.append(f"  {chr(65 + row)} " + "".join(cells).rstrip())
    return [*lines, f"{'YOU':>{middle + 1}}"]
