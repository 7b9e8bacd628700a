"""The difference of two rounds, with its own uncertainty: what changed, and where that is more than noise."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from heatmap.assessment import Assessment
from heatmap.errors import InputError
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
from heatmap.units import Display, percent

FloatArray = NDArray[np.float64]

#: A difference is clearly more than noise when it is this many standard deviations: the two-sided 95 % of a normal.
CLEARLY = 1.959964
_NAMES = (("", "cooler than before"), ("", "same"), ("", "hotter than before"))


def difference_of(before: Assessment, after: Assessment) -> tuple[FloatArray, FloatArray]:
    """Return after minus before and its standard deviation at each cell, in compared numbers [°C].

    What all readings of one day have in common cancels within a session; between two sessions the day-to-day part
    of both remains.

    Raises
    ------
    InputError
        When the two are not of the same grate.
    """
    if before.grill.grate.extent_mm != after.grill.grate.extent_mm:
        raise InputError("two rounds on grates of different size cannot be subtracted; use one grill file for both")
    variance = before.compared_own_std_c**2 + after.compared_own_std_c**2
    if before.round.session != after.round.session:
        variance = variance + 2.0 * after.grill.target.day_sd_c**2
    return after.compared_c - before.compared_c, np.sqrt(variance)


def difference_map(
    before: Assessment, after: Assessment, *, title: str | None = None, width_in: float = WIDTH_IN
) -> Figure:
    """Draw what changed between two rounds, hatched where it is not clearly more than noise.

    Parameters
    ----------
    before, after : Assessment
        Of the same grill.
    title : str, optional
    width_in : float

    Returns
    -------
    matplotlib.figure.Figure
    """
    grill, display = after.grill, Display(after.grill.units)
    difference_c, std_c = difference_of(before, after)
    clear = np.abs(difference_c) > CLEARLY * std_c
    shown = np.asarray(display.difference(difference_c))  # type: ignore[arg-type]
    with house_style():
        lines = heading(_answer(before, after, difference_c, clear) if title is None else title)
        keys = keys_in_lines([Key(what="hatched", text="not clearly more than noise")] if not clear.all() else [])
        below = room_below(ruler=True, names=bool(named_in_front(grill)))
        _, height = grate_size(grill, 1.0)
        total = heading_height(lines) + room_above() + height + below + steps_height()
        sheet = Sheet(width_in=width_in, height=total + line_height(TEXT) * len(keys) + 0.03)
        panel = place_panel(sheet, grill, x=0.0, y=sheet.lines(lines), room=1.0)
        steps = difference_steps(float(np.max(np.abs(shown))))
        fill(panel, Field.from_cells(after.cells, shown, grill.grate.extent_mm), steps)
        sigmas = Field.from_cells(after.cells, np.abs(difference_c) / std_c, grill.grate.extent_mm)
        hatch_unsure(panel, sigmas, CLEARLY)
        draw_rails(panel, grill)
        draw_burners(panel, grill)
        draw_rim_and_seams(panel, grill)
        _write_numbers(panel, after, shown)
        y = write_below(panel, after, ruler=True)
        y = write_steps(sheet, steps, y, names=_NAMES, unit=display.degrees, sign="+")
        write_keys(sheet, keys, y)
        return sheet.figure


def _answer(before: Assessment, after: Assessment, difference_c: FloatArray, clear: NDArray[np.bool_]) -> str:
    inside = after.cells.inside
    display = Display(after.grill.units)
    mean_c = float(np.mean(difference_c[inside]))
    share = float(np.mean(clear[inside]))
    word = "hotter" if mean_c > 0 else "cooler"
    level = f"{display.difference_text(abs(mean_c))} {word} on average"
    rounds = f"Round {after.round.number} against round {before.round.number}: {level}"
    return f"{rounds}; {percent(share)} of the grate changed by clearly more than noise."


def signed(number: float) -> str:
    """Return a difference as people write it: +5, −5, 0."""
    whole = round(float(number))
    return f"{whole:+d}".replace("-", "−") if whole else "0"


def _write_numbers(panel: Panel, after: Assessment, shown: FloatArray) -> None:
    """Write the difference at every position."""
    grill = after.grill
    places = [Place(x_mm=x, y_mm=y, word="", number=0.0) for x, y in map(grill.point_mm, grill.labels)]
    shrink, numbered = fitting(places, panel, letters=4)
    for place, written in zip(places, numbered, strict=True):
        if not written:
            continue
        column = int(np.argmin(np.abs(after.cells.x_mm - place.x_mm)))
        row = int(np.argmin(np.abs(after.cells.y_mm - place.y_mm)))
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
