"""What an infrared gun alone cannot know about a grate: nuisance parameters, on a grid of cases with weights; and what
the gun shows of a rail and a valley in each of them, and the way back.

Three things move every reading together: the mean emissivity of the rail tops, how much hotter or colder than
the rail the valley between the rails looks, and what the rails mirror. Their effects are far from linear
where the emissivity is low, so they are not propagated by derivatives: every combination on a small grid is a
*case*, each reading is corrected in every case, and the cases carry weights that reference pairs sharpen.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple, Self

import numpy as np
from numpy.polynomial.hermite_e import hermegauss

from heatmap.correct import tuning
from heatmap.correct.tuning import HIGHEST_RAIL_C, LOWEST_RAIL_C
from heatmap.grill.grill import Grill, Gun
from heatmap.physics.finishes import oiled
from heatmap.physics.grey_body import measured_radiance, shown_from_radiance
from heatmap.physics.groove import groove_emissivity
from heatmap.physics.planck import band_radiance, band_radiance_and_slope
from heatmap.physics.spot import rail_share_statistics, spot_diameter
from heatmap.units import ArrayLike, FloatArray, c_from_k, k_from_c

#: The rail moves by less than 10 °C from one node to the next: about twice the standard uncertainty of the
#: sharpest contact reading, below which the trapezoidal rule of a normal distribution is good to a part in a
#: hundred.
_VALLEY_STEP_C = 15.0
#: Two nodes have the mean and the spread of what is mirrored; five also reach ±2.9 standard deviations, so that a
#: bright surface, which shows little else, has a case for every reading.
_REFLECTED_NODES, _REFLECTED_NODES_BRIGHT = 2, 5
_BRIGHT = 0.5
_COLDEST_MIRRORED_C = -120.0

#: A valley far colder than its rail sends out next to nothing; these floors only keep the formulas in their
#: range.
COLDEST_VALLEY_K, COLDEST_SHOWN_K = 200.0, 150.0
_TABLE_STEP_C = 20.0
_MOST_NEWTON_STEPS = 6

_VALUES = ("emissivity", "valley_emissivity", "valley_excess_c", "reflected_c")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NuisanceGrid:
    """A grid of cases over what all readings share.

    Attributes
    ----------
    emissivity, valley_emissivity, valley_excess_c, reflected_c : ndarray, shape (cases,), or (1,) for all alike
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
    def of(cls, grill: Grill, surface: str = "dry") -> Self:
        """Return the cases and their weights before any reference pair has spoken."""
        mean, sd = grill.grate.rail_emissivity, grill.grate.rail_emissivity_sd
        if surface == "oiled":
            mean, sd = oiled(mean, sd)
        rail_part = grill.grate.rail_top_mm / grill.grate.rail_pitch_mm
        tops = _bounded_normal(mean, sd, 31 if rail_part >= 1.0 else 15 if rail_part > 0.5 else 7)
        valley_emissivity, valleys = _valley(grill, tops[0])
        nodes = _REFLECTED_NODES if mean >= _BRIGHT else _REFLECTED_NODES_BRIGHT
        deviates, likely = hermegauss(nodes)
        mirrored_c = grill.surroundings.reflected_c + grill.surroundings.reflected_sd_c * deviates
        # Every combination: which of its emissivities, valley levels and mirrored temperatures a case has.
        top, valley, mirror = np.indices([tops[0].size, valleys[0].size, nodes]).reshape(3, -1)
        weight = tops[1][top] * valleys[1][valley] * likely[mirror]
        return cls(
            emissivity=tops[0][top],
            valley_emissivity=valley_emissivity[top],
            valley_excess_c=valleys[0][valley],
            reflected_c=np.maximum(mirrored_c, _COLDEST_MIRRORED_C)[mirror],
            weight=weight / weight.sum(),
        )

    def mean(self, values: FloatArray) -> FloatArray:
        """Return the weighted mean over the cases; `values` has shape (cases, …)."""
        return np.asarray(np.tensordot(self.weight, values, axes=1))

    @property
    def best(self) -> Self:
        """The best estimate of each parameter, as a grid of one case."""
        means = {name: np.array([self.mean(getattr(self, name))]) for name in _VALUES}
        return replace(self, **means, weight=np.ones(1))

    def only(self, *kept: str) -> Self:
        """Return the cases with these parameters as uncertain as they are and the others at their best estimates."""
        return replace(self.best, weight=self.weight, **{name: getattr(self, name) for name in kept})


def _valley(grill: Grill, rail_emissivity: FloatArray) -> tuple[FloatArray, tuple[FloatArray, FloatArray]]:
    """Return the emissivity of the valley as a whole, its walls as those of the rails' tops; and nodes and weights of
    how much hotter than the rail it looks.
    """
    grate = grill.grate
    between_mm = grate.rail_pitch_mm - grate.rail_top_mm
    if between_mm <= 0.0:
        return np.ones_like(rail_emissivity), (np.zeros(1), np.ones(1))
    coals = any(burner.control in ("none", "vents") for burner in grill.burners)
    mean, sd = tuning.COALS_EXCESS_C if coals else tuning.VALLEY_EXCESS_C
    steps = 2 * int(np.ceil(3.0 * sd / _VALLEY_STEP_C))
    nodes = np.linspace(mean - 3.0 * sd, mean + 3.0 * sd, steps + 1)
    excess = nodes, _normal_weights(nodes, mean, sd)
    if grill.valley == "open":
        return np.full_like(rail_emissivity, tuning.OPEN_VALLEY_EMISSIVITY), excess
    return groove_emissivity(rail_emissivity, grate.rail_height_mm / between_mm), excess


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


class Sensitivity(NamedTuple):
    """Derivatives of the corrected rail temperature, each (cases, n): °C per °C shown, per share, per
    emissivity of the rail's top, per °C of valley."""

    rail_per_shown: FloatArray
    rail_per_share: FloatArray
    rail_per_emissivity: FloatArray
    rail_per_valley: FloatArray


@dataclass(frozen=True, eq=False)
class GunView:
    """What the gun would show of a rail from one distance, in every case, and the way back.

    Both sides of the measurement equation (see :mod:`heatmap.physics.grey_body`) are compared in radiance.

    Attributes
    ----------
    nuisance : NuisanceGrid
        Only the values of the cases matter here, not their weights.
    grill : Grill
    distance_mm : float
    """

    nuisance: NuisanceGrid
    grill: Grill
    distance_mm: float

    @property
    def spot_mm(self) -> float:
        """Diameter of the spot at this distance."""
        gun = self.grill.gun
        return float(spot_diameter(self.distance_mm, gun.distance_to_spot, gun.smallest_spot_mm))

    @cached_property
    def share(self) -> tuple[float, float]:
        """Mean and shot-to-shot standard deviation of the share of the spot that is rail top."""
        return self._share(self.grill.grate.rail_top_mm)

    @cached_property
    def valley_shot_share(self) -> tuple[float, float]:
        """The same for a shot aimed at the middle of a valley."""
        grate = self.grill.grate
        between_mm = grate.rail_pitch_mm - grate.rail_top_mm
        if between_mm <= 0.0:
            return self.share
        mean, sd = self._share(between_mm)
        return 1.0 - mean, sd

    def _share(self, strip_mm: float) -> tuple[float, float]:
        grate, gun = self.grill.grate, self.grill.gun
        if grate.rail_top_mm >= grate.rail_pitch_mm:
            return (1.0, 0.0)
        aim_sd_mm = gun.aim_sd_mm * self.distance_mm / gun.distance_mm
        mean, sd = rail_share_statistics(self.spot_mm, strip_mm, grate.rail_pitch_mm, aim_sd_mm)
        return float(mean), float(sd)

    def arriving(self, shown_c: FloatArray) -> FloatArray:
        """Return the radiance the gun says arrived when it shows `shown_c`, same shape [W m⁻² sr⁻¹]."""
        return measured_radiance(k_from_c(shown_c), setting=self.grill.gun.emissivity_setting, gun_k=self._gun_k)

    @property
    def _gun_k(self) -> float | None:
        own_c = self.grill.gun_own_c
        return None if own_c is None else k_from_c(own_c)

    def leaving(self, rail_c: FloatArray, *, share: float | None = None) -> FloatArray:
        """Return the radiance the spot sends out for rails (1, n) or (cases, n), shape (cases, n)."""
        share, (top, valley) = self.share[0] if share is None else share, self._sent_out(k_from_c(rail_c))[0]
        return share * top + (1.0 - share) * valley

    @cached_property
    def _mirrored(self) -> FloatArray:
        return np.asarray(band_radiance(k_from_c(self.nuisance.reflected_c)))[:, None]

    def _sent_out(self, rail_k: FloatArray) -> tuple[tuple[FloatArray, FloatArray], tuple[FloatArray, FloatArray]]:
        """Return what rail tops and valleys send out for rails (1, n) or (cases, n), and how much more for 1 K more of
        both.
        """
        cases = self.nuisance
        valley_k = np.maximum(rail_k + cases.valley_excess_c[:, None], COLDEST_VALLEY_K)
        sent, slopes = [], []
        for emissivity, kelvin in ((cases.emissivity, rail_k), (cases.valley_emissivity, valley_k)):
            glow, slope = band_radiance_and_slope(kelvin)
            sent.append(emissivity[:, None] * glow + (1.0 - emissivity[:, None]) * self._mirrored)
            slopes.append(emissivity[:, None] * slope)
        return (sent[0], sent[1]), (slopes[0], slopes[1])

    def shown_c(self, rail_c: FloatArray, *, share: float | None = None) -> FloatArray:
        """Return what the gun shows of rails (n,), or of each case's own rails (cases, n), shape (cases,
        n)."""
        seen = self.leaving(np.atleast_2d(np.asarray(rail_c, dtype=float)), share=share)
        seen = np.maximum(seen, self.arriving(c_from_k(np.array(COLDEST_SHOWN_K))))
        shown_k = shown_from_radiance(seen, setting=self.grill.gun.emissivity_setting, gun_k=self._gun_k)
        return np.asarray(c_from_k(shown_k))

    @cached_property
    def _table(self) -> tuple[FloatArray, FloatArray]:
        """Rails (m,) and the logarithm of what leaves the spot at each, in every case, (cases, m)."""
        rail_c = np.arange(LOWEST_RAIL_C, HIGHEST_RAIL_C + _TABLE_STEP_C, _TABLE_STEP_C)
        return rail_c, np.log(self.leaving(rail_c[None, :]))

    def rail_c(self, shown_c: FloatArray) -> FloatArray:
        """Return the rail temperature behind what was shown (n,), in every case, shape (cases, n).

        A case that would need a rail hotter than 1100 °C or colder than −60 °C answers with that limit.
        """
        share, target = self.share[0], np.log(self.arriving(np.asarray(shown_c, dtype=float)))
        grid_c, table = self._table
        # One interpolation for all cases: their tables end to end, each raised above the one before.
        step = 1.0 + float(np.ptp(table))
        raised = step * np.arange(len(table))[:, None]
        wanted = np.clip(target[None, :], table[:, :1], table[:, -1:])
        rail_c = np.interp(wanted + raised, (table + raised).ravel(), np.tile(grid_c, len(table)))
        for _ in range(_MOST_NEWTON_STEPS):
            (top, valley), slopes = self._sent_out(k_from_c(rail_c))
            leaving = share * top + (1.0 - share) * valley
            move = (wanted - np.log(leaving)) * leaving / (share * slopes[0] + (1.0 - share) * slopes[1])
            rail_c = np.clip(rail_c + move, LOWEST_RAIL_C, HIGHEST_RAIL_C)
            # Convergence is quadratic: what is left after a move m is about m²/T, T some 500 K.
            if not move.size or float(np.abs(move).max()) < 0.2:
                break
        return np.asarray(rail_c)

    def sensitivity(self, rail_c: FloatArray, shown_c: FloatArray) -> Sensitivity:
        """Return how the corrected rail answers to each input, at rails (cases, n) behind `shown_c` (n,)."""
        share, emissivity = self.share[0], self.nuisance.emissivity[:, None]
        (top, valley), (top_slope, valley_slope) = self._sent_out(k_from_c(rail_c))
        slope = share * top_slope + (1.0 - share) * valley_slope
        arriving_slope = self.grill.gun.emissivity_setting * band_radiance_and_slope(k_from_c(shown_c))[1]
        return Sensitivity(
            rail_per_shown=arriving_slope / slope,
            rail_per_share=(valley - top) / slope,
            rail_per_emissivity=-share * (top - self._mirrored) / emissivity / slope,
            rail_per_valley=share * top_slope / slope - 1.0,
        )


def gun_limit_c(gun: Gun, shown_c: FloatArray) -> FloatArray:
    """Return the limit of the gun's own calibration error where it shows this: the larger of degrees and percent."""
    return np.maximum(gun.accuracy_c, 0.01 * gun.accuracy_percent * np.abs(shown_c))


def repeatability_c(gun: Gun, shown_c: ArrayLike) -> FloatArray:
    """Return the standard deviation of one shot where the gun shows this, display step and all."""
    std_c = np.hypot(0.01 * gun.repeatability_percent * np.abs(shown_c), gun.display_step_c / np.sqrt(12.0))
    return np.asarray(std_c)
