"""One kernel, one signal level, one noise level: the Gaussian process of the textbooks, nothing averaged.

The map averages over many of these. Here is one by itself, through the same code, so that it can be held against
printed examples and other programs.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from heatmap.surface.averaging import Levels, Problem, evaluate, mixture
from heatmap.surface.gaussian_process import GaussianSurface
from heatmap.surface.kernel import Correlation
from heatmap.surface.places import check_readings, gather_places
from heatmap.surface.trends import TREND_SETS, Trends


def fixed_surface(
    points_mm: ArrayLike,
    rail_c: ArrayLike,
    own_std_c: ArrayLike,
    *,
    extent_mm: tuple[float, float],
    kernel: Correlation,
    signal_std_c: float,
    trend_std: Sequence[float] = (0.0,) * len(TREND_SETS[0]),
) -> tuple[GaussianSurface, float]:
    """Return the surface for one kernel and fixed levels, and its log marginal likelihood.

    Parameters
    ----------
    points_mm, rail_c, extent_mm
        As for :func:`heatmap.surface.fit_surface`, one reading per place.
    own_std_c : float or array_like, (n,)
        Noise of each reading, above 0 [°C].
    kernel : Correlation
        Correlation between any two places.
    signal_std_c : float
        Standard deviation of the surface [°C].
    trend_std : sequence of float
        Prior standard deviations of level, two tilts, three of the bowl and two of the rim, in units of the signal;
        all 0 for a process about 0.

    Returns
    -------
    surface : GaussianSurface
    log_marginal_likelihood : float

    References
    ----------
    C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning (MIT Press 2006), algorithm 2.1.
    """
    readings = check_readings(points_mm, rail_c, own_std_c, 0.0, extent_mm)
    places = gather_places(readings.points_mm)
    order = np.argsort(places.place_of_reading)
    noise = np.asarray(readings.own_std_c)[order] ** 2
    trends = Trends(extent_mm=readings.extent_mm)
    problem = Problem(
        points_mm=places.points_mm,
        values_c=readings.rail_c[order],
        noise_c2=noise,
        trend=trends.columns(places.points_mm),
        drift=np.zeros((len(noise), 0)),
        drift_precision=np.zeros((0, 0)),
        contrast_count=0,
        contrast_square=0.0,
        contrast_drift=np.zeros(0),
        contrast_gram=np.zeros((0, 0)),
    )
    levels = Levels(signal_c2=np.array([signal_std_c**2]), noise_ratio=np.ones(1), log_prior=np.zeros(1))
    nodes = evaluate(problem, [(kernel, np.array(trend_std), 0.0)], levels)
    surface = GaussianSurface(
        method="gaussian process",
        readings=readings,
        places=places,
        problem=problem,
        parts=tuple(mixture(problem, nodes)),
        trends=trends,
        centre_c=0.0,
        drift=np.zeros((len(noise), 0)),
        drift_mean_c=np.zeros(0),
        drift_std_c=np.zeros(0),
        noise_shape_c=np.sqrt(noise),
    )
    constant = -0.5 * float(np.log(noise).sum()) - 0.5 * len(noise) * np.log(2.0 * np.pi)
    return surface, float(nodes.log_posterior[0, 0]) + constant
