"""What can be done about a grate whose heat has no knob: move the coals or turn a panel.

Which place to use meanwhile says :mod:`heatmap.decide.placement`, so that no two answers name different ones.
"""

from __future__ import annotations

import numpy as np

from heatmap.grill.grill import Grill
from heatmap.units import BoolArray, FloatArray, f_difference_from_c
from heatmap.verdict.regions import parts_of_grate

#: A part must differ from another by this much [°C] to be worth moving coals for; below it lies the noise.
WORTH_MOVING_C = 12.0


def advise_without_knobs(
    grill: Grill, mean_c: FloatArray, draws_c: FloatArray, cells_mm: FloatArray, inside: BoolArray
) -> str:
    """Return what to do, in words.

    Parameters
    ----------
    grill : Grill
    mean_c : ndarray (m,)
        Expected surface in the numbers of the band.
    draws_c : ndarray (count, inside cells)
        Joint samples of it inside the rim.
    cells_mm : ndarray (m, 2)
    inside : ndarray (m,) of bool
    """
    sentences = [
        _level(grill, mean_c[inside]),
        _move(grill, draws_c, cells_mm[inside]),
        _panel(grill, mean_c, cells_mm, inside),
    ]
    return " ".join(filter(None, sentences)) or "No part is far from the others: leave the heat alone."


def _level(grill: Grill, celsius: FloatArray) -> str:
    off = float(celsius.mean()) - grill.target.middle_c
    half = 0.5 * (grill.target.high_c - grill.target.low_c)
    if abs(off) <= half:
        return ""
    far = _difference(grill, abs(off))
    if off > 0:
        return f"On the whole it is {far} too hot: spread the coals thinner, close the air a little, or wait."
    return f"On the whole it is {far} too cold: add or heap up coals, or open the air."


def _move(grill: Grill, draws_c: FloatArray, cells_mm: FloatArray) -> str:
    means = {
        name: draws_c[:, cells].mean(axis=1) for name, cells in parts_of_grate(grill, cells_mm).items() if cells.any()
    }
    hot, cold = (pick(means, key=lambda name: float(means[name].mean())) for pick in (max, min))
    difference = means[hot] - means[cold]
    if float(difference.mean()) < WORTH_MOVING_C or float(np.mean(difference > 0.0)) < 0.8:
        return ""
    far = _difference(grill, float(difference.mean()))
    return f"Move heat from the {hot} towards the {cold}: the {hot} is {far} hotter."


def _panel(grill: Grill, mean_c: FloatArray, cells_mm: FloatArray, inside: BoolArray) -> str:
    """Find the panel with the steepest lean along its rails."""
    if not grill.grate.seams_mm:
        return ""
    lengthwise = grill.grate.rails == "front-to-back"
    across, along = cells_mm.T if lengthwise else cells_mm.T[::-1]
    edges = [0.0, *sorted(grill.grate.seams_mm), np.inf]
    found = []
    for number, (low, high) in enumerate(zip(edges, edges[1:], strict=False), start=1):
        cells = inside & (across >= low) & (across < high)
        if cells.any():
            far = along > np.median(along[cells])
            lean = float(mean_c[cells & far].mean() - mean_c[cells & ~far].mean())
            found.append((abs(lean), number))
    lean, number = max(found, default=(0.0, 0))
    if lean < WORTH_MOVING_C:
        return ""
    side = "from the left" if lengthwise else "from the front"
    return (
        f"Panel {number} {side} is {_difference(grill, lean)} hotter at one end: turn it end for end and shoot again; "
        "if the pattern travels with it, it is the panel and not the heat."
    )


def _difference(grill: Grill, celsius: float) -> str:
    return f"{f_difference_from_c(celsius):.0f} °F" if grill.units == "us" else f"{celsius:.0f} °C"
