"""The grate as a table of positions, seen from above: BACK above, YOU below."""

from __future__ import annotations

from collections.abc import Sequence
from typing import IO, TYPE_CHECKING

from cli import console
from heatmap.units import Display

if TYPE_CHECKING:
    from heatmap.assessment import Assessment


def grate_table(assessment: Assessment, stream: IO[str] | None = None) -> list[str]:
    """Return the lines of the table: at each position the number held against the band, and its mark.

    A number in brackets was not shot: it comes from the map.
    """
    import numpy as np

    from heatmap.verdict.chances import words

    grill = assessment.grill
    display = Display(grill.units)
    shot: dict[str, list[float]] = {}
    suspect: set[str] = set()
    for assessed in assessment.spots:
        position = assessed.spot.reading.position
        if assessed.spot.reading.aim == "rail" and position and assessed.compared_c is not None:
            if assessed.suspect:
                suspect.add(position)
            shot.setdefault(position, []).append(display.temperature(assessed.compared_c))
    points = np.array([grill.point_mm(label) for label in grill.labels])
    mean_c, std_c = assessment.at(points)
    texts, styles = [], []
    verdicts = words(mean_c, std_c, *assessment.band_c)
    for label, surface_c, word in zip(grill.labels, mean_c, verdicts, strict=True):
        number = f"{np.mean(shot[label]):.0f}" if label in shot else f"({display.temperature(surface_c):.0f})"
        style = "suspect" if label in suspect else str(word)
        texts.append(f"{number} {console.mark(style, stream)}")
        styles.append(style)
    return framed(grill.positions.rows, grill.positions.columns, texts, styles, stream)


def framed(
    rows: int, columns: int, texts: Sequence[str], styles: Sequence[str], stream: IO[str] | None = None
) -> list[str]:
    """Lay cells out under column numbers, beside row letters, between BACK and YOU; fits 80 columns."""
    width = max(min(max(map(len, texts), default=1) + 2, 76 // columns), max(map(len, texts), default=1) + 1)
    middle = 4 + width * columns // 2
    lines = [f"{'BACK':>{middle + 2}}", "    " + "".join(f"{column + 1:^{width}}" for column in range(columns))]
    for row in range(rows):
        cells = []
        for column in range(columns):
            index = row * columns + column
            cells.append(console.coloured(f"{texts[index]:^{width}}", styles[index], stream))
        lines.append(f"  {chr(65 + row)} " + "".join(cells).rstrip())
    return [*lines, f"{'YOU':>{middle + 1}}"]
