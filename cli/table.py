"""The grate as a table of positions, seen from above: BACK above, YOU below."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import IO

import heatmap
from cli import console

#: Room for a number in brackets and its mark: as wide from the first shot on as later, so that nothing jumps.
_CELL = 7


def grate_table(
    grill: heatmap.Grill,
    assessment: heatmap.Assessment | None,
    shots: Iterable[heatmap.Reading] = (),
    stream: IO[str] | None = None,
) -> list[str]:
    """Return the lines of the table: at each position the last number believed, and its mark.

    A number in brackets was not shot: it comes from the map. Of a round that is being taken, for stderr, there are
    only the numbers of its shots until there is a map.
    """
    display, slips = grill.display, set[str]()
    shown_c = {one.position: one.shown_c for one in shots if one.aim == "rail" and one.shown_c is not None}
    if assessment is not None:
        (mapped_c, _), (words, leanings) = assessment.at_labels, assessment.words_at_labels
        believed_c, slips = _last_believed(assessment)
        shown_c |= believed_c
    texts, styles = [], []
    for index, label in enumerate(grill.labels):
        number, style = f"{display.temperature(shown_c[label]):.0f}" if label in shown_c else ".", ""
        if assessment is not None:
            number = number if label in shown_c else f"({display.temperature(float(mapped_c[index])):.0f})"
            style = "suspect" if label in slips else str(leanings[index])
            number += f" {console.mark(style, stream, sure=style == words[index]) if style else ' '}"
        texts.append(number if stream is None else f"{number:^{_CELL}}")
        styles.append(style)
    return framed(grill, texts, styles, stream)


def _last_believed(assessment: heatmap.Assessment) -> tuple[dict[str, float], set[str]]:
    """Return the last number at each position, one that the map does not leave out where there is one, and where there
    is none.
    """
    believed: dict[str, float] = {}
    slips: dict[str, float] = {}
    for one in assessment.spots:
        reading = one.spot.reading
        if reading.aim == "rail" and reading.position and one.compared_c is not None:
            (slips if one.suspect else believed)[reading.position] = one.compared_c
    return slips | believed, slips.keys() - believed.keys()


def framed(
    grill: heatmap.Grill, texts: Sequence[str], styles: Sequence[str], stream: IO[str] | None = None
) -> list[str]:
    """Lay cells out, one for each position, under column numbers, beside row letters, between BACK and YOU.

    Fits 80 columns; where a round grate has no position the table is empty.
    """
    columns = grill.positions.columns
    longest = max(map(len, texts), default=1)
    width = max(min(longest + 2, 76 // columns), longest + 1)
    cells = [console.coloured(f"{text:^{width}}", style, stream) for text, style in zip(texts, styles, strict=True)]
    cell_at = dict(zip(grill.labels, cells, strict=True))
    middle = 4 + width * columns // 2
    lines = [f"{'BACK':>{middle + 2}}", "    " + "".join(f"{column + 1:^{width}}" for column in range(columns))]
    for row, labels in enumerate(grill.grid):
        lines.append(f"  {chr(65 + row)} " + "".join(cell_at.get(label, " " * width) for label in labels).rstrip())
    return [*lines, f"{'YOU':>{middle + 1}}"]
