"""Whether a reading tells anything of the rail: how much of it is the rail's own, and how far the truth may be."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from heatmap.correct.calibration import Calibration
from heatmap.correct.spot import Spot
from heatmap.correct.tuning import (
    HIGHEST_RAIL_C,
    LEAST_OWN_PART,
    LOWEST_EMISSIVITY,
    LOWEST_RAIL_C,
    MOST_AT_ENDS,
    MOST_HALF_RANGE_C,
)
from heatmap.units import STDS_95


@dataclass(frozen=True, slots=True, kw_only=True)
class Telling:
    """What a reading tells of the rail, before or after contact readings.

    Attributes
    ----------
    own_part : float
        Share of the gun's answer to a small warming of rail and valley that is the rail's own glow.
    low_c, high_c : float
        95 % of the chance lies between; at :data:`LOWEST_RAIL_C` or :data:`HIGHEST_RAIL_C`: beyond.
    cut_off : bool
        Whether the range ends only where no more is looked at: rails hotter than any, finishes brighter than any.
    compared : bool
        Whether a contact reading has told what the gun alone cannot.
    """

    own_part: float
    low_c: float
    high_c: float
    cut_off: bool
    compared: bool

    @property
    def is_answer(self) -> bool:
        """Whether the number is worth giving."""
        narrow = self.high_c - self.low_c <= 2.0 * MOST_HALF_RANGE_C
        own = self.compared or self.own_part >= LEAST_OWN_PART
        return own and narrow and not self.cut_off


def telling(spot: Spot, calibration: Calibration) -> Telling:
    """Return what a rail reading tells of the rail.

    Parameters
    ----------
    spot : Spot
        Of a rail reading, as `calibration` corrects it.
    calibration : Calibration

    Returns
    -------
    Telling
        Limits from the weighted cases, with what each leaves open by itself added in the square.
    """
    assert spot.reading.shown_c is not None and spot.own_std_c is not None
    weight, shown_c = calibration.nuisance.weight, np.array([spot.reading.shown_c])
    corrected = calibration.correct(shown_c, spot.reading.distance_mm)
    raw_c, cases_c = corrected.raw_c[:, 0], corrected.cases_c[:, 0]
    at_ends = float(weight[(raw_c >= HIGHEST_RAIL_C - 1.0) | (raw_c <= LOWEST_RAIL_C + 1.0)].sum())
    order = np.argsort(cases_c)
    chance = np.cumsum(weight[order]) - 0.5 * weight[order]
    low_c, middle_c, high_c = np.interp([0.025, 0.5, 0.975], chance, cases_c[order])
    alone_c = STDS_95 * float(np.hypot(spot.own_std_c, corrected.gun_std_c[0]))
    grate = calibration.grill.grate
    compared = any(pair.believed and pair.reading.aim == "contact" for pair in calibration.reference_pairs)
    by_emissivity = grate.rail_emissivity - STDS_95 * grate.rail_emissivity_sd < LOWEST_EMISSIVITY
    return Telling(
        own_part=1.0 + float(calibration.nuisance.mean(corrected.sensitivity.rail_per_valley)[0]),
        low_c=max(float(middle_c - np.hypot(middle_c - low_c, alone_c)), LOWEST_RAIL_C),
        high_c=min(float(middle_c + np.hypot(high_c - middle_c, alone_c)), HIGHEST_RAIL_C),
        cut_off=at_ends > MOST_AT_ENDS or (by_emissivity and corrected.view.share[0] >= 1.0 and not compared),
        compared=compared,
    )
