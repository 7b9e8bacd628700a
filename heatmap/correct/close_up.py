"""How to tell rail and valley apart with the gun alone: from so near that the spot fits between two rails."""

from __future__ import annotations

from heatmap.correct.calibration import calibrate
from heatmap.correct.tuning import LEAST_APART, NEAR_SI_MM, NEAR_US_MM
from heatmap.grill.grill import Grill


def close_up_mm(grill: Grill) -> float | None:
    """Return from how far [mm] a rail shot and a valley shot at one place tell how hot the valley is.

    None where the spot of this gun cannot be made small enough for these rails, or there is no valley.
    """
    near_mm = NEAR_US_MM if grill.units == "us" else NEAR_SI_MM
    return near_mm if tells_valley(grill, near_mm) else None


def tells_valley(grill: Grill, distance_mm: float | None) -> bool:
    """Tell whether a spot from a distance [mm], None for the usual one, takes in rail and valley differently enough."""
    view = calibrate(grill).view(distance_mm)
    return view.share[0] - view.valley_shot_share[0] >= LEAST_APART
