"""What an infrared gun alone cannot know about a grate: nuisance parameters, on a grid of cases with weights.

Three things move every reading together: the mean emissivity of the rail tops, how much hotter or colder than
the rail the valley between the rails looks, and what the rails mirror. Their effects are far from linear
where the emissivity is low, so they are not propagated by derivatives: every combination on a small grid is a
*case*, each reading is corrected in every case, and the cases carry weights that reference pairs sharpen.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.polynomial.hermite_e import hermegauss

from heatmap.correct import tuning
from heatmap.grill.grill import Grill
from heatmap.physics.finishes import oiled
from heatmap.physics.groove import groove_emissivity
from heatmap.units import FloatArray

#: The rail moves by less than 10 °C from one node to the next: about twice the standard uncertainty of the
#: sharpest contact reading, below which the trapezoidal rule of a normal distribution is good to a part in a
#: hundred.
_VALLEY_STEP_C = 15.0
#: Two nodes have the mean and the spread of what is mirrored; five also reach ±2.9 standard deviations, so that a
#: bright surface, which shows little else, has a case for every reading.
_REFLECTED_NODES, _REFLECTED_NODES_BRIGHT = 2, 5
_BRIGHT = 0.5
_COLDEST_MIRRORED_C = -120.0

_VALUES = ("emissivity", "valley_emissivity", "valley_excess_c", "reflected_c")
Parameter = Literal["emissivity", "valley_excess_c", "reflected_c"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NuisanceGrid:
    """A grid of cases over what all readings share.

    Attributes
    ----------
    emissivity, valley_emissivity, valley_excess_c, reflected_c : ndarray, shape (cases,)
        Of the rail tops; of the valley as a whole; its temperature over the rail's; what both mirror.
    weight : ndarray, shape (cases,)
        Adds up to one.
    """

    emissivity: FloatArray
    valley_emissivity: FloatArray
    valley_excess_c: FloatArray
    reflected_c: FloatArray
    weight: FloatArray

    @classmethod
    def of(cls, grill: Grill, surface: str = "dry") -> NuisanceGrid:
        """Return the cases and their weights before any reference pair has spoken."""
        mean, sd = grill.grate.rail_emissivity, grill.grate.rail_emissivity_sd
        if surface == "oiled":
            mean, sd = oiled(mean, sd)
        emissivities, valleys = _valley_or_not(grill)
        tops = _bounded_normal(mean, sd, emissivities)
        nodes = _REFLECTED_NODES if mean >= _BRIGHT else _REFLECTED_NODES_BRIGHT
        mirrored = _hermite(grill.surroundings.reflected_c, grill.surroundings.reflected_sd_c, nodes)
        # Every combination: which of its emissivities, valley levels and mirrored temperatures a case has.
        top, valley, mirror = np.indices([tops[0].size, valleys[0].size, mirrored[0].size]).reshape(3, -1)
        weight = tops[1][top] * valleys[1][valley] * mirrored[1][mirror]
        return cls(
            emissivity=tops[0][top],
            valley_emissivity=_valley_emissivity(grill, tops[0])[top],
            valley_excess_c=valleys[0][valley],
            reflected_c=np.maximum(mirrored[0], _COLDEST_MIRRORED_C)[mirror],
            weight=weight / weight.sum(),
        )

    def mean(self, values: FloatArray) -> FloatArray:
        """Return the weighted mean over the cases; `values` has shape (cases, …)."""
        return np.asarray(np.tensordot(self.weight, values, axes=1))

    @property
    def best(self) -> NuisanceGrid:
        """The best estimate of each parameter, as a grid of one case."""
        means = {name: np.array([self.mean(getattr(self, name))]) for name in _VALUES}
        return NuisanceGrid(**means, weight=np.ones(1))

    def only(self, parameter: Parameter) -> NuisanceGrid:
        """Return the cases with this parameter as uncertain as it is and the others at their best estimates."""
        kept = ("emissivity", "valley_emissivity") if parameter == "emissivity" else (parameter,)
        best = self.best
        fixed = {name: np.full_like(self.weight, getattr(best, name)[0]) for name in _VALUES if name not in kept}
        return replace(self, **fixed)


def _valley_or_not(grill: Grill) -> tuple[int, tuple[FloatArray, FloatArray]]:
    """Return how many emissivities to try, more where more of the spot is rail, and the valley's nodes and
    weights."""
    rail_part = grill.grate.rail_top_mm / grill.grate.rail_pitch_mm
    if rail_part >= 1.0:
        return 31, (np.zeros(1), np.ones(1))
    coals = any(burner.control in ("none", "vents") for burner in grill.burners)
    mean, sd = tuning.COALS_EXCESS_C if coals else tuning.VALLEY_EXCESS_C
    steps = 2 * int(np.ceil(3.0 * sd / _VALLEY_STEP_C))
    nodes = np.linspace(mean - 3.0 * sd, mean + 3.0 * sd, steps + 1)
    return (7 if rail_part <= 0.5 else 15), (nodes, _normal_weights(nodes, mean, sd))


def _valley_emissivity(grill: Grill, rail_emissivity: FloatArray) -> FloatArray:
    """Return the emissivity of the valley as a whole, its walls as those of the rails' tops."""
    grate = grill.grate
    between_mm = grate.rail_pitch_mm - grate.rail_top_mm
    if between_mm <= 0.0:
        return np.ones_like(rail_emissivity)
    if grill.valley == "open":
        return np.full_like(rail_emissivity, tuning.OPEN_VALLEY_EMISSIVITY)
    return groove_emissivity(rail_emissivity, grate.rail_height_mm / between_mm)


def _normal_weights(nodes: FloatArray, mean: float, sd: float) -> FloatArray:
    exponents = -0.5 * ((nodes - mean) / sd) ** 2
    weights = np.exp(exponents - exponents.max())
    weights[[0, -1]] *= 0.5  # the trapezoidal rule
    return np.asarray(weights / weights.sum(), dtype=float)


def _bounded_normal(mean: float, sd: float, count: int) -> tuple[FloatArray, FloatArray]:
    """Return nodes and weights of an emissivity; one node when it has no spread.

    A normal distribution cut off at its bounds and moved until its mean is the one stated: the emissivity of a grill
    file is the best estimate of it.
    """
    if sd == 0.0:
        return np.array([mean]), np.ones(1)
    low, high = min(tuning.LOWEST_EMISSIVITY, 0.5 * mean), max(tuning.HIGHEST_EMISSIVITY, 0.5 * (1.0 + mean))
    nodes = np.linspace(max(low, mean - 3.0 * sd), min(high, mean + 3.0 * sd), count)
    weights, centre = _normal_weights(nodes, mean, sd), mean
    for _ in range(30):  # Newton's method: the mean moves with the centre by variance over sd²
        off = float(weights @ nodes) - mean
        if abs(off) < 1e-12:
            break
        variance = float(weights @ (nodes - mean) ** 2) - off**2
        centre -= min(max(off * sd**2 / max(variance, 1e-12), -2.0 * sd), 2.0 * sd)
        weights = _normal_weights(nodes, centre, sd)
    return nodes, weights


def _hermite(mean: float, sd: float, count: int) -> tuple[FloatArray, FloatArray]:
    if sd == 0.0:
        return np.array([mean]), np.ones(1)
    nodes, weights = hermegauss(count)
    return mean + sd * nodes, weights / weights.sum()
