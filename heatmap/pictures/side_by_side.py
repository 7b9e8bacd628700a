"""Two maps on one sheet: now and after a burner change, or the map and the truth of a make-believe grill."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from heatmap.assessment import Assessment, Cells
from heatmap.errors import InputError
from heatmap.pictures.grate import Panel, grate_size, place_panel, room_above, room_below, write_labels
from heatmap.pictures.heat_map import STEP_NAMES, WIDTH_IN, Layer, draw_compared, steps_of
from heatmap.pictures.legend import Key, keys_in_lines, steps_height, write_keys, write_steps
from heatmap.pictures.sheet import SMALL, TEXT, Sheet, heading, heading_height, house_style, line_height
from heatmap.units import Display
from heatmap.words.burners import advice_lines
from heatmap.words.regions import region_name

FloatArray = NDArray[np.float64]
_GAP = 0.01


def expected_map(assessment: Assessment, *, title: str | None = None, width_in: float = WIDTH_IN) -> Figure:
    """Draw the map expected after the advised change of marks beside the present one.

    The expected map is hatched as if it were known as well as the present one, which is the least doubt it can have.

    Parameters
    ----------
    assessment : Assessment
        Its advice is drawn; without a change both maps are alike.
    title : str, optional
        What to turn; said from the advice when left out. Empty: no heading.
    width_in : float
        Width of the picture [in].

    Returns
    -------
    matplotlib.figure.Figure
    """
    advice = assessment.advice
    cells, expected_c = _on_grid(np.asarray(advice.cells_mm), np.asarray(advice.expected_mean_c))
    _, std_c = assessment.at(cells.points_mm)
    turns = len(advice.changes)
    said = advice_lines(assessment)
    if title is None:
        title = " ".join(said[:turns]) or "Nothing to turn"
    now = Layer(assessment.cells, assessment.compared_c, assessment.compared_std_c)
    then = Layer(cells, expected_c, std_c.reshape(expected_c.shape))
    return _two_maps(assessment, (("now", now), ("expected after", then)), title, said[turns:], width_in=width_in)


def _on_grid(cells_mm: FloatArray, values: FloatArray) -> tuple[Cells, FloatArray]:
    """Put values at the points of a full grid, in any order, into rows and columns."""
    x_mm, y_mm = np.unique(cells_mm[:, 0]), np.unique(cells_mm[:, 1])
    if x_mm.size * y_mm.size != values.size:
        raise InputError(f"{values.size} cells of advice do not fill a grid of {x_mm.size} by {y_mm.size}")
    order = np.lexsort((cells_mm[:, 0], cells_mm[:, 1]))
    shape = (y_mm.size, x_mm.size)
    return Cells(x_mm=x_mm, y_mm=y_mm, inside=np.ones(shape, dtype=bool)), values[order].reshape(shape)


def truth_beside_map(
    assessment: Assessment, truth_c: FloatArray, *, title: str | None = None, width_in: float = WIDTH_IN
) -> Figure:
    """Draw what the readings said beside the truth of a make-believe grill.

    Parameters
    ----------
    assessment : Assessment
    truth_c : ndarray, shape (rows, columns)
        The truth at each cell of the assessment, in the numbers of the band [°C].
    title : str, optional
    width_in : float

    Returns
    -------
    matplotlib.figure.Figure
    """
    truth_c = _like_cells(assessment, truth_c)
    title = _miss_text(assessment, truth_c) if title is None else title
    return _two_maps(
        assessment,
        (
            ("your map", Layer(assessment.cells, assessment.compared_c, assessment.compared_std_c)),
            ("the truth while you shot", Layer(assessment.cells, truth_c, None)),
        ),
        title,
        (),
        width_in=width_in,
    )


def _like_cells(assessment: Assessment, values: FloatArray) -> FloatArray:
    values = np.asarray(values, dtype=float)
    if values.shape != assessment.cells.inside.shape:
        raise InputError(
            f"a map of shape {values.shape} beside one of shape {assessment.cells.inside.shape}; they must be alike"
        )
    return values


def _miss_text(assessment: Assessment, truth_c: FloatArray) -> str:
    display, cells = Display(assessment.grill.units), assessment.cells
    miss_c = np.where(cells.inside, assessment.compared_c - truth_c, 0.0)
    row, column = np.unravel_index(int(np.argmax(np.abs(miss_c))), miss_c.shape)
    where = region_name(float(cells.x_mm[column]), float(cells.y_mm[row]), assessment.grill.grate)
    typical_c = float(np.sqrt(np.mean(miss_c[cells.inside] ** 2)))
    worst_c = float(miss_c[row, column])
    side = "too high" if worst_c > 0 else "too low"
    return (
        f"Over the grate your map is off by {display.difference_text(typical_c)} (root mean square); at worst "
        f"{display.difference_text(abs(worst_c))} {side}, at the {where}."
    )


def _two_maps(
    assessment: Assessment,
    maps: Sequence[tuple[str, Layer]],
    title: str,
    below_title: Sequence[str],
    *,
    width_in: float,
) -> Figure:
    grill = assessment.grill
    with house_style():
        lines = heading(title, below_title)
        room = 0.5 - 0.5 * _GAP
        _, height = grate_size(grill, room)
        keys = keys_in_lines([Key(what="hatched", text="unsure: no word is 80 % likely")])
        below = room_below(ruler=False, names=False)
        total = heading_height(lines) + line_height(TEXT) + room_above() + height + below + steps_height()
        sheet = Sheet(width_in=width_in, height=total + line_height(TEXT) * len(keys) + 0.03)
        top = sheet.lines(lines) + 0.006
        y = top
        for index, (name, layer) in enumerate(maps):
            panel = place_panel(sheet, grill, x=index * (room + _GAP), y=top + line_height(TEXT), room=room)
            middle = panel.left + 0.5 * grill.grate.width_mm / panel.mm
            sheet.text(middle, top, name, bold=True, ha="center", gid="panel name")
            draw_compared(panel, assessment, layer, np.empty((0, 2)), names=False)
            y = _label_panel(panel, assessment)
        unit = Display(grill.units).degrees
        y = write_steps(sheet, steps_of(assessment), y, names=STEP_NAMES, unit=unit)
        write_keys(sheet, keys, y)
        return sheet.figure


def _label_panel(panel: Panel, assessment: Assessment) -> float:
    y = write_labels(panel, assessment.grill, ruler=False)
    middle = panel.left + 0.5 * assessment.grill.grate.width_mm / panel.mm
    panel.sheet.text(middle, y, "YOU", size=SMALL, bold=True, ha="center")
    return y + line_height(SMALL) + 0.006
