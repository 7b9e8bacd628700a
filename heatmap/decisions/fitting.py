"""Does it fit: the chance that enough of a footprint, or of the zone, lies in the band."""

import math
from statistics import NormalDist

import numpy as np

from heatmap.assessment import Assessment
from heatmap.decisions.tuning import WIND_C, ZONE_SHARE
from heatmap.units import BoolArray, FloatArray

#: What moves everything together is taken at so many even quantiles: where it alone decides, a chance is off by up to
#: one over so many.
LEVELS = 41


def share_chance(
    samples_c: FloatArray,
    weights: FloatArray,
    level_std_c: float,
    band_c: tuple[float, float],
    least_share: float,
    levels: int = LEVELS,
) -> float:
    """Return the chance, over the level and joint samples, that at least a share lies in the band.

    Parameters
    ----------
    samples_c : ndarray, shape (count, m)
        Joint samples of the compared number at places that stand for the area, without the level.
    weights : ndarray, shape (m,)
        Parts of the area; they add up to one.
    level_std_c : float
        What moves all places together; the wind of the minutes to come is added to it.
    band_c : (float, float)
    least_share : float
    levels : int
        Quantiles of the level that are tried.
    """
    low_c, high_c = band_c
    std_c = math.hypot(level_std_c, WIND_C)
    fits = [
        ((samples_c >= low_c - moved_c) & (samples_c <= high_c - moved_c)) @ weights >= least_share - 1e-9
        for moved_c in (std_c * NormalDist().inv_cdf((index + 0.5) / levels) for index in range(levels))
    ]
    return float(np.mean(fits))


def zone_chance(assessment: Assessment, cells: BoolArray) -> float:
    """Return the chance that enough of these of the wide cells, (m,), lies in the band."""
    samples_c = assessment.samples_c[:, cells]
    weights = np.full(samples_c.shape[1], 1.0 / samples_c.shape[1])
    return share_chance(samples_c, weights, assessment.level_std_c, assessment.settling_band_c, ZONE_SHARE)
