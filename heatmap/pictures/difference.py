"""The difference of two rounds, with its own uncertainty: what changed, and where that is more than noise."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from heatmap.pictures.field import Field, Place, fill, fitting, hatch_unsure
from heatmap.pictures.grate import (
    Panel,
    draw_burners,
    draw_rails,
    draw_rim_and_seams,
    grate_size,
    named_in_front,
    place_panel,
    room_above,
    room_below,
)
from heatmap.pictures.heat_map import WIDTH_IN, write_below
from heatmap.pictures.legend import Key, keys_in_lines, steps_height, write_keys, write_steps
from heatmap.pictures.ramp import INK, difference_steps
from heatmap.pictures.sheet import NUMBER, TEXT, Sheet, heading, heading_height, house_style, line_height
from heatmap.units import STDS_95, Display, percent
from heatmap.verdict.comparison import Comparison
from heatmap.words.phrases import signed

FloatArray = NDArray[np.float64]

_NAMES = (("", "cooler than before"), ("", "same"), ("", "hotter than before"))


def difference_map(found: Comparison, *, title: str | None = None, width_in: float = WIDTH_IN) -> Figure:
    """Draw what changed between two rounds, hatched where it is not clearly more than noise.

    What both rounds have in common (the gun, the mean emissivity, the patchiness of a place) cancels, as in the words
    of the comparison.

    Parameters
    ----------
    found : Comparison
    title : str, optional
    width_in : float

    Returns
    -------
    matplotlib.figure.Figure
    """
    after, cells = found.after, found.cells
    grill, display = after.grill, Display(after.grill.units)
    clear = np.abs(found.difference_c) > STDS_95 * found.difference_std_c
    shown = np.asarray(display.difference(found.difference_c))  # type: ignore[arg-type]
    with house_style():
        lines = heading(_answer(found, clear) if title is None else title)
        keys = keys_in_lines([Key(what="hatched", text="not clearly more than noise")] if not clear.all() else [])
        below = room_below(ruler=True, names=bool(named_in_front(grill)))
        _, height = grate_size(grill, 1.0)
        total = heading_height(lines) + room_above() + height + below + steps_height()
        sheet = Sheet(width_in=width_in, height=total + line_height(TEXT) * len(keys) + 0.03)
        panel = place_panel(sheet, grill, x=0.0, y=sheet.lines(lines), room=1.0)
        steps = difference_steps(float(np.max(np.abs(shown))))
        fill(panel, Field.from_cells(cells, shown, grill.grate.extent_mm), steps)
        sigmas = np.abs(found.difference_c) / found.difference_std_c
        hatch_unsure(panel, Field.from_cells(cells, sigmas, grill.grate.extent_mm), STDS_95)
        draw_rails(panel, grill)
        draw_burners(panel, grill)
        draw_rim_and_seams(panel, grill)
        _write_numbers(panel, found, shown)
        y = write_below(panel, after, ruler=True)
        y = write_steps(sheet, steps, y, names=_NAMES, unit=display.degrees, sign="+")
        write_keys(sheet, keys, y)
        return sheet.figure


def _answer(found: Comparison, clear: NDArray[np.bool_]) -> str:
    display = Display(found.after.grill.units)
    word = "hotter" if found.mean_change_c > 0 else "cooler"
    level = f"{display.difference_text(abs(found.mean_change_c))} {word} on average"
    rounds = f"Round {found.after.round.number} against round {found.before.round.number}: {level}"
    share = float(np.mean(clear[found.cells.inside]))
    return f"{rounds}; {percent(share)} of the grate changed by clearly more than noise."


def _write_numbers(panel: Panel, found: Comparison, shown: FloatArray) -> None:
    """Write the difference at every position."""
    grill, cells = found.after.grill, found.cells
    places = [Place(x_mm=x, y_mm=y, word="", number=0.0) for x, y in map(grill.point_mm, grill.labels)]
    shrink, numbered = fitting(places, panel, letters=4)
    for place, written in zip(places, numbered, strict=True):
        if not written:
            continue
        column = int(np.argmin(np.abs(cells.x_mm - place.x_mm)))
        row = int(np.argmin(np.abs(cells.y_mm - place.y_mm)))
        panel.axes.text(
            place.x_mm,
            place.y_mm,
            signed(shown[row, column]),
            fontsize=panel.sheet.points(NUMBER) * shrink,
            fontweight="bold",
            color=INK,
            ha="center",
            va="center",
            zorder=9,
            path_effects=panel.sheet.halo(0.55),
            gid="number",
        )
