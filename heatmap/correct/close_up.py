"""How to tell rail and valley apart with the gun alone: from so near that the spot fits between two rails."""

from __future__ import annotations

from heatmap.correct.calibration import calibrate
from heatmap.grill.grill import Grill
from heatmap.units import mm_from_in

#: As near as a gloved hand holds a gun over a hot grate for a moment (assumed): 4 in, or 100 mm.
NEAR_US_MM, NEAR_SI_MM = mm_from_in(4.0), 100.0
#: The shares of rail in the two shots must differ by this, or so many pairs say too little. Assumed.
LEAST_APART = 0.2
#: So many pairs, or one at each position where there are fewer, bring what pairs can; more are not asked
#: (:data:`heatmap.grate_model.reference_pairs.MOST_PAIRS`).
PAIRS = 12


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
