"""What can be done about a grate whose heat has no knob: move the coals or turn a panel.

Which place to use meanwhile says :mod:`heatmap.decisions.placement`, so that no two answers name different ones.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from heatmap.assessment import Assessment
from heatmap.decisions.tuning import WORTH_MOVING_C
from heatmap.grill.grate import Grate
from heatmap.units import BoolArray, FloatArray
from heatmap.verdict.regions import parts_of_grate
from heatmap.verdict.tuning import SURE


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveHeat:
    """From which part of the grate to which, and how much hotter the one is than the other [°C]."""

    from_part: str
    to_part: str
    hotter_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnPanel:
    """Which panel, counted from the left or the front from 1, and how much hotter one end of it is [°C]."""

    number: int
    hotter_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeHeat:
    """More or less heat by hand: how far the whole is off the middle of the band [°C]."""

    off_c: float


ByHand = ChangeHeat | MoveHeat | TurnPanel


def by_hand(assessment: Assessment) -> tuple[ChangeHeat | None, MoveHeat | None, TurnPanel | None]:
    """Return what hands can do about the heat of a map: of the whole, where its mean is outside the band; from one part
    to another; of one panel.
    """
    cells_mm, inside = assessment.wide_cells.points_mm, assessment.wide_cells.inside.ravel()
    mean_c, grill = assessment.at(cells_mm)[0], assessment.grill
    low_c, high_c = assessment.band_c
    level_c = float(mean_c[inside].mean())
    means = {
        name: assessment.samples_c[:, cells & inside].mean(axis=1)
        for name, cells in parts_of_grate(grill.grate, cells_mm).items()
        if (cells & inside).any()
    }
    in_band = low_c <= level_c <= high_c
    change = None if in_band else ChangeHeat(off_c=level_c - grill.target.middle_c)
    return change, _move(means), _panel(grill.grate, mean_c, cells_mm, inside)


def _move(means_c: dict[str, FloatArray]) -> MoveHeat | None:
    """Find the hottest and the coldest part by joint samples of their means."""
    hot, cold = (pick(means_c, key=lambda name: float(means_c[name].mean())) for pick in (max, min))
    hotter_c = means_c[hot] - means_c[cold]
    if float(hotter_c.mean()) < WORTH_MOVING_C or float(np.mean(hotter_c > 0.0)) < SURE:
        return None
    return MoveHeat(from_part=hot, to_part=cold, hotter_c=float(hotter_c.mean()))


def _panel(grate: Grate, mean_c: FloatArray, cells_mm: FloatArray, inside: BoolArray) -> TurnPanel | None:
    """Find the panel with the steepest lean along its rails."""
    if not grate.seams_mm:
        return None
    across, along = cells_mm.T if grate.rails == "front-to-back" else cells_mm.T[::-1]
    edges = [0.0, *sorted(grate.seams_mm), np.inf]
    found = []
    for number, (low, high) in enumerate(zip(edges, edges[1:], strict=False), start=1):
        cells = inside & (across >= low) & (across < high)
        if cells.any():
            far = along > np.median(along[cells])
            lean = float(mean_c[cells & far].mean() - mean_c[cells & ~far].mean())
            found.append((abs(lean), number))
    lean, number = max(found, default=(0.0, 0))
    return None if lean < WORTH_MOVING_C else TurnPanel(number=number, hotter_c=lean)
