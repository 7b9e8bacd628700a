"""What an infrared gun alone cannot know about a grate, as a grid of cases with weights.

Three things move every reading together: the mean emissivity of the rail tops, how much hotter or colder than
the rail the valley between the rails looks, and what the rails mirror. Their effects are far from linear
where the emissivity is low, so they are not propagated by derivatives: every combination on a small grid is a
*case*, each reading is corrected in every case, and the cases carry weights that contact, patch and valley
readings sharpen.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, permutations

import numpy as np
from numpy.polynomial.hermite_e import hermegauss
from numpy.typing import NDArray

from heatmap.errors import ReadingError
from heatmap.grill.grill import Grill
from heatmap.physics.emissivity import oiled
from heatmap.physics.grey_body import emitted_and_reflected, measured_radiance
from heatmap.physics.planck import band_radiance, band_radiance_slope, band_temperature
from heatmap.physics.spot import rail_share_statistics, spot_diameter
from heatmap.units import c_from_k, k_from_c

FloatArray = NDArray[np.float64]

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
#: A valley far colder than its rail sends out next to nothing; these floors only keep the formulas in their
#: range.
COLDEST_VALLEY_K, COLDEST_SHOWN_K = 200.0, 150.0
_TABLE_STEP_C = 20.0
_MOST_NEWTON_STEPS = 6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Unknowns:
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
    def before_any_pin(cls, grill: Grill, surface: str = "dry") -> Unknowns:
        """Return the cases and their weights before any contact, patch or valley reading has spoken."""
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


@dataclass(frozen=True, kw_only=True, eq=False)
class GunView:
    """What the gun would show of a rail from one distance, in every case, and the way back.

    Both sides of the measurement equation (see :mod:`heatmap.physics.grey_body`) are compared in radiance;
    the valley is taken as black, a cavity between hot walls nearly is.

    Attributes
    ----------
    unknowns : Unknowns
        Only the values of the cases matter here; their weights are used as they were before any pin.
    grill : Grill
    distance_mm : float
    """

    unknowns: Unknowns
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
        if grate.rail_top_mm >= grate.rail_pitch_mm:
            return (1.0, 0.0)
        mean, sd = self._share(grate.rail_pitch_mm - grate.rail_top_mm)
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
        own_c = self.grill.gun_own_c
        return measured_radiance(
            k_from_c(shown_c),
            setting=self.grill.gun.emissivity_setting,
            gun_k=None if own_c is None else k_from_c(own_c),
        )

    def leaving(self, rail_c: FloatArray, *, share: float | None = None) -> FloatArray:
        """Return the radiance the spot sends out for rails (1, n) or (cases, n), shape (cases, n)."""
        share = self.share[0] if share is None else share
        cases, rail_k = self.unknowns, k_from_c(rail_c)
        rail = emitted_and_reflected(
            rail_k, emissivity=cases.emissivity[:, None], reflected_k=k_from_c(cases.reflected_c)[:, None]
        )
        return rail if share == 1.0 else share * rail + (1 - share) * self._valley(band_radiance, rail_k)

    def _valley(self, law: Callable[[FloatArray], FloatArray], rail_k: FloatArray) -> FloatArray:
        """Return a law of radiation for the valleys beside rails (1, n) or (cases, n), shape (cases, n)."""
        excess_c = self.unknowns.valley_excess_c
        if rail_k.shape[0] > 1:
            return law(np.maximum(rail_k + excess_c[:, None], COLDEST_VALLEY_K))
        different_c, case = np.unique(excess_c, return_inverse=True)
        return law(np.maximum(rail_k + different_c[:, None], COLDEST_VALLEY_K))[case]

    def shown_c(self, rail_c: FloatArray, *, share: float | None = None) -> FloatArray:
        """Return what the gun shows of rails (n,), or of each case's own rails (cases, n), shape (cases,
        n)."""
        gun, own_c = self.grill.gun, self.grill.gun_own_c
        seen = self.leaving(np.atleast_2d(np.asarray(rail_c, dtype=float)), share=share)
        added = 0.0 if own_c is None else (1 - gun.emissivity_setting) * float(band_radiance(k_from_c(own_c)))
        radiance = np.maximum((seen - added) / gun.emissivity_setting, float(band_radiance(COLDEST_SHOWN_K)))
        return np.asarray(c_from_k(band_temperature(radiance)))

    @cached_property
    def _table(self) -> tuple[FloatArray, FloatArray]:
        """Rails (m,) and the logarithm of what leaves the spot at each, in every case, (cases, m)."""
        rail_c = np.arange(LOWEST_RAIL_C, HIGHEST_RAIL_C + _TABLE_STEP_C, _TABLE_STEP_C)
        return rail_c, np.log(self.leaving(rail_c[None, :]))

    def rail_c(self, shown_c: FloatArray) -> FloatArray:
        """Return the rail temperature behind what was shown (n,), in every case, shape (cases, n).

        A case that would need a rail hotter than 1100 °C or colder than −60 °C answers with that limit.

        Raises
        ------
        ReadingError
            When no rail, however cold, could show so little.
        """
        shown_c = np.asarray(shown_c, dtype=float)
        target = np.log(self.arriving(shown_c))
        grid_c, table = self._table
        self._refuse_too_little(shown_c, target)
        # One interpolation for all cases: their tables end to end, each raised above the one before.
        step = 1.0 + float(np.ptp(table))
        raised = step * np.arange(len(table))[:, None]
        wanted = np.clip(target[None, :], table[:, :1], table[:, -1:])
        rail_c = np.interp(wanted + raised, (table + raised).ravel(), np.tile(grid_c, len(table)))
        for _ in range(_MOST_NEWTON_STEPS):
            leaving, slope = self.leaving(rail_c), self._leaving_slope(rail_c)
            move = (wanted - np.log(leaving)) * leaving / slope
            rail_c = np.clip(rail_c + move, LOWEST_RAIL_C, HIGHEST_RAIL_C)
            # Convergence is quadratic: what is left after a move m is about m²/T, T some 500 K.
            if not move.size or float(np.abs(move).max()) < 0.5:
                break
        return np.asarray(rail_c)

    def _refuse_too_little(self, shown_c: FloatArray, target: FloatArray) -> None:
        coldest = float(self.unknowns.mean(self._table[1][:, :1])[0])
        if target.size and float(target.min()) < coldest:
            raise ReadingError(
                f"a reading of {shown_c.min():g} °C is less than what this rail mirrors; "
                "check the emissivity and the reflected temperature in the grill file"
            )

    def own_part(self, rail_c: FloatArray) -> float:
        """Return how much of the gun's answer to a small warming of rail and valley is the rail's, mean over the cases.

        Rails are (cases, 1); 1 on a solid plate.
        """
        rail_k = k_from_c(rail_c)
        own = self.share[0] * self.unknowns.emissivity[:, None] * band_radiance_slope(rail_k)
        return float(self.unknowns.mean(own / self._leaving_slope(rail_c))[0])

    def _leaving_slope(self, rail_c: FloatArray) -> FloatArray:
        share, rail_k = self.share[0], k_from_c(rail_c)
        slope = self.unknowns.emissivity[:, None] * band_radiance_slope(rail_k)
        if share == 1.0:
            return np.asarray(slope)
        return np.asarray(share * slope + (1 - share) * self._valley(band_radiance_slope, rail_k))

    def sensitivity(self, rail_c: FloatArray, shown_c: FloatArray) -> Sensitivity:
        """Return how the corrected rail answers to each input, at rails (cases, n) behind `shown_c` (n,)."""
        cases, (share, _), rail_k = self.unknowns, self.share, k_from_c(rail_c)
        emissivity = cases.emissivity[:, None]
        mirrored = np.asarray(band_radiance(k_from_c(cases.reflected_c)))[:, None]
        glow, glow_slope = band_radiance(rail_k), band_radiance_slope(rail_k)
        valley, valley_slope = np.zeros_like(rail_k), np.zeros_like(rail_k)
        if share < 1.0:
            valley, valley_slope = (
                self._valley(band_radiance, rail_k),
                self._valley(band_radiance_slope, rail_k),
            )
        slope = share * emissivity * glow_slope + (1 - share) * valley_slope
        arriving_slope = self.grill.gun.emissivity_setting * band_radiance_slope(k_from_c(shown_c))
        return Sensitivity(
            rail_per_shown=arriving_slope / slope,
            rail_per_share=-(emissivity * glow + (1 - emissivity) * mirrored - valley) / slope,
            rail_per_emissivity=-share * (glow - mirrored) / slope,
            rail_per_valley=-(1 - share) * valley_slope / slope,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sensitivity:
    """Derivatives of the corrected rail temperature, each (cases, n): °C per °C shown, per share, per
    emissivity, …"""

    rail_per_shown: FloatArray
    rail_per_share: FloatArray
    rail_per_emissivity: FloatArray
    rail_per_valley: FloatArray
