"""Two maps on one sheet: now and after a burner change, or the map and the truth of a make-believe grill."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from heatmap.assess import Assessment
from heatmap.errors import InputError
from heatmap.pictures.grate import Panel, grate_size, place_panel, room_above, room_below, write_labels
from heatmap.pictures.heat_map import STEP_NAMES, WIDTH_IN, draw_compared, steps_of
from heatmap.pictures.legend import Key, keys_in_lines, steps_height, write_keys, write_steps
from heatmap.pictures.sheet import SMALL, TEXT, Sheet, heading, heading_height, house_style, line_height
from heatmap.report.sentences import percent, region_name
from heatmap.units import Display
from heatmap.verdict import chance_arrays

FloatArray = NDArray[np.float64]
_GAP = 0.01


def expected_map(
    assessment: Assessment,
    expected_mean_c: FloatArray,
    changes: str,
    *,
    expected_std_c: FloatArray | None = None,
    title: str | None = None,
    width_in: float = WIDTH_IN,
) -> Figure:
    """Draw the map expected after a burner change beside the present one.

    Parameters
    ----------
    assessment : Assessment
    expected_mean_c : ndarray, shape (rows, columns)
        Expected rail temperature of each cell of the assessment [°C].
    changes : str
        What is turned, such as "left 4 → 5".
    expected_std_c : ndarray, shape (rows, columns), optional
        Own standard deviation of the expected rails [°C]; unsure cells are hatched where it is given.
    title : str, optional
    width_in : float

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    InputError
        When the arrays do not have the shape of the assessment's cells.
    """
    expected_mean_c = _like_cells(assessment, expected_mean_c)
    calibration = assessment.calibration
    compared_c = np.asarray(calibration.compared_c(expected_mean_c.ravel())).reshape(expected_mean_c.shape)
    std_c = None
    if expected_std_c is not None:
        slope = calibration.compared_slope(float(np.mean(expected_mean_c)))
        std_c = np.hypot(_like_cells(assessment, expected_std_c) * slope, assessment.level_std_c)
    if title is None:
        spread_c = assessment.compared_std_c if std_c is None else std_c
        title = f"{changes}; {_share_text(assessment, compared_c, spread_c)}"
    return _two_maps(
        assessment,
        (("now", assessment.compared_c, assessment.compared_std_c), ("expected after", compared_c, std_c)),
        title,
        width_in=width_in,
    )


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
        (("your map", assessment.compared_c, assessment.compared_std_c), ("the truth", truth_c, None)),
        title,
        width_in=width_in,
    )


def _like_cells(assessment: Assessment, values: FloatArray) -> FloatArray:
    values = np.asarray(values, dtype=float)
    if values.shape != assessment.cells.inside.shape:
        raise InputError(
            f"a map of shape {values.shape} beside one of shape {assessment.cells.inside.shape}; they must be alike"
        )
    return values


def _share_text(assessment: Assessment, after_c: FloatArray, after_std_c: FloatArray) -> str:
    """Say how much of the grate is in band now and, as the mean over what may be, after the change."""
    inside = assessment.cells.inside
    _, in_band, _ = chance_arrays(after_c[inside], after_std_c[inside], *assessment.band_c)
    now = percent(assessment.evenness.share_in_band)
    return f"{now} of the grate in band now, about {percent(float(np.mean(in_band)))} expected after."


def _miss_text(assessment: Assessment, truth_c: FloatArray) -> str:
    display, cells = Display(assessment.grill.units), assessment.cells
    miss_c = np.where(cells.inside, assessment.compared_c - truth_c, 0.0)
    row, column = np.unravel_index(int(np.argmax(np.abs(miss_c))), miss_c.shape)
    where = region_name(float(cells.x_mm[column]), float(cells.y_mm[row]), assessment.grill.grate)
    typical_c = float(np.sqrt(np.mean(miss_c[cells.inside] ** 2)))
    worst_c = float(miss_c[row, column])
    side = "too high" if worst_c > 0 else "too low"
    return (
        f"Your map is off by {display.difference_text(typical_c)} (root mean square); at worst "
        f"{display.difference_text(abs(worst_c))} {side}, at the {where}."
    )


def _two_maps(
    assessment: Assessment,
    maps: Sequence[tuple[str, FloatArray, FloatArray | None]],
    title: str,
    *,
    width_in: float,
) -> Figure:
    grill = assessment.grill
    with house_style():
        lines = heading(title)
        room = 0.5 - 0.5 * _GAP
        _, height = grate_size(grill, room)
        keys = keys_in_lines([Key(what="hatched", text="unsure: no word is 80 % likely")])
        below = room_below(ruler=False, names=False)
        total = heading_height(lines) + line_height(TEXT) + room_above() + height + below + steps_height()
        sheet = Sheet(width_in=width_in, height=total + line_height(TEXT) * len(keys) + 0.03)
        top = sheet.lines(lines) + 0.006
        y = top
        for index, (name, compared_c, std_c) in enumerate(maps):
            panel = place_panel(sheet, grill, x=index * (room + _GAP), y=top + line_height(TEXT), room=room)
            middle = panel.left + 0.5 * grill.grate.width_mm / panel.mm
            sheet.text(middle, top, name, bold=True, ha="center", gid="panel name")
            draw_compared(panel, assessment, compared_c, std_c, np.empty((0, 2)), names=False)
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
