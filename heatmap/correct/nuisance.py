"""What an infrared gun alone cannot know about a grate, as a grid of cases with weights.

Three things move every reading together: the mean emissivity of the rail tops, how much hotter or colder than
the rail the valley between the rails looks, and what the rails mirror. Their effects are far from linear
where the emissivity is low, so they are not propagated by derivatives: every combination on a small grid is a
*case*, each reading is corrected in every case, and the cases carry weights that contact, patch and valley
readings sharpen.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, permutations

import numpy as np
from numpy.polynomial.hermite_e import hermegauss

from heatmap.grill.grill import Grill
from heatmap.physics.emissivity import oiled
from heatmap.units import FloatArray

#: How much hotter than the rail the valley looks to the gun, and how much that varies from place to place,
#: °C. Burner covers and coals look hotter, the bare floor of the firebox colder (common practice, no source);
#: wide on purpose.
VALLEY_EXCESS_MEAN_C, VALLEY_EXCESS_SD_C = 15.0, 45.0
#: Glowing coals lie open to the gun between the rails (common practice, no source).
COALS_EXCESS_MEAN_C, COALS_EXCESS_SD_C = 100.0, 100.0
#: How much the valley's excess differs from place to place on one grate, °C (common practice, no source).
VALLEY_PLACE_SD_C = 8.0

#: Emissivity of an opaque surface stays inside these; no real finish reaches either end.
LOWEST_EMISSIVITY, HIGHEST_EMISSIVITY = 0.03, 0.99
#: The rail moves by less than 10 °C from one node to the next: about twice the standard uncertainty of the
#: sharpest contact reading, below which the trapezoidal rule of a normal distribution is good to a part in a
#: hundred.
_VALLEY_STEP_C = 15.0
_REFLECTED_NODES = 2

#: Rails are looked for between these: no cooking grate is colder or hotter, and iron melts at some 1150 °C (a
#: limit, not a guess; it bounds cases of very low emissivity).
LOWEST_RAIL_C, HIGHEST_RAIL_C = -60.0, 1100.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NuisanceGrid:
    """A grid of cases over what all readings share.

    Attributes
    ----------
    emissivity, valley_excess_c, reflected_c : ndarray, shape (cases,)
    weight : ndarray, shape (cases,)
        Adds up to one.
    shape : tuple of int
        How many emissivities, valley levels and reflected temperatures the flat cases come from.
    """

    emissivity: FloatArray
    valley_excess_c: FloatArray
    reflected_c: FloatArray
    weight: FloatArray
    shape: tuple[int, int, int]

    @classmethod
    def of(cls, grill: Grill, surface: str = "dry") -> NuisanceGrid:
        """Return the cases and their weights before any reference pair has spoken."""
        mean, sd = grill.grate.rail_emissivity, grill.grate.rail_emissivity_sd
        if surface == "oiled":
            mean, sd = oiled(mean, sd)
        emissivities, valleys = _valley_or_not(grill)
        axes = (
            _truncated_normal(mean, sd, LOWEST_EMISSIVITY, HIGHEST_EMISSIVITY, emissivities),
            valleys,
            _hermite(grill.surroundings.reflected_c, grill.surroundings.reflected_sd_c),
        )
        values = np.meshgrid(*(axis[0] for axis in axes), indexing="ij")
        weights = np.meshgrid(*(axis[1] for axis in axes), indexing="ij")
        weight = (weights[0] * weights[1] * weights[2]).ravel()
        return cls(
            emissivity=values[0].ravel(),
            valley_excess_c=values[1].ravel(),
            reflected_c=values[2].ravel(),
            weight=weight / weight.sum(),
            shape=(axes[0][0].size, axes[1][0].size, axes[2][0].size),
        )

    def mean(self, values: FloatArray) -> FloatArray:
        """Return the weighted mean over the cases; `values` has shape (cases, …)."""
        return np.asarray(np.tensordot(self.weight, values, axes=1))

    def spread_by_source(self, values: FloatArray) -> tuple[float, float, float]:
        """Return the standard deviation that emissivity, valley and reflection each bring to `values`
        (cases,).

        Their squares add up to the variance of `values`, also once a contact reading has tied the three
        together.

        Notes
        -----
        Shapley effects: each source's variance explained, averaged over all orders of learning the sources
        (A. B. Owen, Sobol' indices and Shapley value, SIAM/ASA Journal on Uncertainty Quantification 2,
        245-251, 2014).
        """
        explained = {
            known: self._explained(values, known) for count in range(4) for known in combinations(range(3), count)
        }
        shares = np.zeros(3)
        for order in permutations(range(3)):
            for place, source in enumerate(order):
                before, after = tuple(sorted(order[:place])), tuple(sorted(order[: place + 1]))
                shares[source] += (explained[after] - explained[before]) / 6.0
        emissivity, valley, reflected = np.sqrt(np.maximum(shares, 0.0))
        return (float(emissivity), float(valley), float(reflected))

    def _explained(self, values: FloatArray, known: tuple[int, ...]) -> float:
        """Return the variance of the mean of `values` given the sources in `known`."""
        cube, weight = values.reshape(self.shape), self.weight.reshape(self.shape)
        unknown = tuple(axis for axis in range(3) if axis not in known)
        marginal = weight.sum(axis=unknown)
        conditional = (weight * cube).sum(axis=unknown) / np.maximum(marginal, 1e-300)
        return float(np.sum(marginal * (conditional - np.sum(weight * cube)) ** 2))


def _valley_or_not(grill: Grill) -> tuple[int, tuple[FloatArray, FloatArray]]:
    """Return how many emissivities to try, more where more of the spot is rail, and the valley's nodes and
    weights."""
    rail_part = grill.grate.rail_top_mm / grill.grate.rail_pitch_mm
    if rail_part >= 1.0:
        return 31, (np.zeros(1), np.ones(1))
    coals = any(burner.control in ("none", "vents") for burner in grill.burners)
    mean, sd = (COALS_EXCESS_MEAN_C, COALS_EXCESS_SD_C) if coals else (VALLEY_EXCESS_MEAN_C, VALLEY_EXCESS_SD_C)
    steps = 2 * int(np.ceil(3.0 * sd / _VALLEY_STEP_C))
    return (7 if rail_part <= 0.5 else 15), _truncated_normal(mean, sd, -np.inf, np.inf, steps + 1)


def _truncated_normal(mean: float, sd: float, low: float, high: float, count: int) -> tuple[FloatArray, FloatArray]:
    """Return nodes and weights of a normal distribution kept inside its bounds; one node when it has no
    spread.

    A mean outside the bounds, which somebody must have measured, moves the bound out to itself.
    """
    if sd == 0.0:
        return np.array([mean]), np.ones(1)
    nodes = np.linspace(max(min(low, mean), mean - 3.0 * sd), min(max(high, mean), mean + 3.0 * sd), count)
    weights = np.exp(-0.5 * ((nodes - mean) / sd) ** 2)
    weights[[0, -1]] *= 0.5  # the trapezoidal rule
    return nodes, weights / weights.sum()


def _hermite(mean: float, sd: float) -> tuple[FloatArray, FloatArray]:
    if sd == 0.0:
        return np.array([mean]), np.ones(1)
    nodes, weights = hermegauss(_REFLECTED_NODES)
    return mean + sd * nodes, weights / weights.sum()
