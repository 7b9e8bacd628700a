"""The difference of two rounds, with its own uncertainty: what changed, and where that is more than noise."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from heatmap.pictures.field import Field, Place, draw_places, fill, hatch_unsure
from heatmap.pictures.grate import draw_metal, place_grate, write_front
from heatmap.pictures.legend import write_keys, write_steps
from heatmap.pictures.ramp import difference_steps
from heatmap.pictures.sheet import blank_sheet
from heatmap.units import STDS_95, FloatArray
from heatmap.verdict.comparison import Comparison
from heatmap.words.phrases import signed
from heatmap.words.pictures import difference_title

_NAMES = ("cooler than before", "same", "hotter than before")


def difference_map(found: Comparison, *, title: str | None = None) -> Figure:
    """Draw what changed between two rounds, hatched where it is not clearly more than noise.

    What both rounds have in common (the gun, the mean emissivity, the patchiness of a place) cancels, as in the words
    of the comparison.
    """
    grill, display = found.after.grill, found.after.grill.display
    sigmas = np.abs(found.difference_c) / found.difference_std_c
    shown = np.asarray(display.difference(found.difference_c))  # type: ignore[arg-type]
    steps = difference_steps(float(np.max(np.abs(shown))))
    with blank_sheet(difference_title(found, sigmas > STDS_95) if title is None else title) as sheet:
        panel = place_grate(sheet, grill)
        fill(panel, Field.over(found.cells, shown), steps)
        hatch_unsure(panel, Field.over(found.cells, sigmas), STDS_95)
        draw_metal(panel)
        draw_places(panel, _numbers(found, shown))
        write_front(panel, found.after.round.settings)
        write_steps(sheet, steps, _NAMES, display.degrees, sign="+")
        write_keys(sheet, [("hatched", "not clearly more than noise")] if (sigmas < STDS_95).any() else [])
    return sheet.figure


def _numbers(found: Comparison, shown: FloatArray) -> list[Place]:
    """Return the difference at every position."""
    grill, cells = found.after.grill, found.cells
    places = []
    for x_mm, y_mm in map(grill.point_mm, grill.labels):
        row, column = np.argmin(np.abs(cells.y_mm - y_mm)), np.argmin(np.abs(cells.x_mm - x_mm))
        places.append(Place(x_mm=x_mm, y_mm=y_mm, word="", text=signed(shown[row, column])))
    return places
