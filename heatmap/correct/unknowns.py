"""What an infrared gun alone cannot know about a grate, as a grid of cases with weights.

Three things move every reading together: the mean emissivity of the rail tops, how much hotter or colder than the
rail the valley between the rails looks, and what the rails mirror. Their effects are far from linear where the
emissivity is low, so they are not propagated by derivatives: every combination on a small grid is a *case*, each
reading is corrected in every case, and the cases carry weights that contact, patch and valley readings sharpen.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.polynomial.hermite_e import hermegauss
from numpy.typing import NDArray

from heatmap.errors import ReadingError
from heatmap.grill import Grill
from heatmap.physics.emissivity import oiled
from heatmap.physics.planck import band_radiance, band_radiance_slope, band_temperature
from heatmap.physics.spot import rail_share_statistics, spot_diameter
from heatmap.units import k_from_c

FloatArray = NDArray[np.float64]

#: How much hotter than the rail the valley looks to the gun, and how much that varies from place to place, °C. Burner
#: covers and coals look hotter, the bare floor of the firebox colder (common practice, no source); wide on purpose.
VALLEY_EXCESS_MEAN_C, VALLEY_EXCESS_SD_C = 15.0, 45.0
#: Glowing coals lie open to the gun between the rails (common practice, no source).
COALS_EXCESS_MEAN_C, COALS_EXCESS_SD_C = 100.0, 100.0
VALLEY_PLACE_SD_C = 8.0

#: Emissivity of an opaque surface stays inside these; no real finish reaches either end.
LOWEST_EMISSIVITY, HIGHEST_EMISSIVITY = 0.03, 0.99
_EMISSIVITY_NODES, _VALLEY_NODES, _REFLECTED_NODES = 11, 13, 3
_GRID_LOW_C, _GRID_HIGH_C, _GRID_STEP_C = -60.0, 1100.0, 20.0


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
        solid = grill.grate.rail_top_mm >= grill.grate.rail_pitch_mm
        coals = any(burner.control in ("none", "vents") for burner in grill.burners)
        valley_mean, valley_sd = (
            (COALS_EXCESS_MEAN_C, COALS_EXCESS_SD_C) if coals else (VALLEY_EXCESS_MEAN_C, VALLEY_EXCESS_SD_C)
        )
        axes = (
            _truncated_normal(mean, sd, LOWEST_EMISSIVITY, HIGHEST_EMISSIVITY, _EMISSIVITY_NODES),
            (np.zeros(1), np.ones(1))
            if solid
            else _truncated_normal(valley_mean, valley_sd, -np.inf, np.inf, _VALLEY_NODES),
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
        """Return the standard deviation that emissivity, valley and reflection each bring to `values` (cases,)."""
        cube, weight = values.reshape(self.shape), self.weight.reshape(self.shape)
        mean = float(np.sum(weight * cube))
        parts = []
        for axis in range(3):
            others = tuple(other for other in range(3) if other != axis)
            marginal = weight.sum(axis=others)
            conditional = (weight * cube).sum(axis=others) / np.maximum(marginal, 1e-300)
            parts.append(float(np.sqrt(np.sum(marginal * (conditional - mean) ** 2))))
        return (parts[0], parts[1], parts[2])


def _truncated_normal(mean: float, sd: float, low: float, high: float, count: int) -> tuple[FloatArray, FloatArray]:
    """Return nodes and weights of a normal distribution kept inside its bounds; one node when it has no spread."""
    if sd == 0.0:
        return np.array([mean]), np.ones(1)
    nodes = np.linspace(max(low, mean - 2.8 * sd), min(high, mean + 2.8 * sd), count)
    weights = np.exp(-0.5 * ((nodes - mean) / sd) ** 2)
    return nodes, weights / weights.sum()


def _hermite(mean: float, sd: float) -> tuple[FloatArray, FloatArray]:
    if sd == 0.0:
        return np.array([mean]), np.ones(1)
    nodes, weights = hermegauss(_REFLECTED_NODES)
    return mean + sd * nodes, weights / weights.sum()


@dataclass(frozen=True, kw_only=True, eq=False)
class GunView:
    """What the gun would show of a rail from one distance, in every case, and the way back.

    Attributes
    ----------
    unknowns : Unknowns
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
        mean, sd = self._share(grate.rail_pitch_mm - grate.rail_top_mm)
        return 1.0 - mean, sd

    def _share(self, strip_mm: float) -> tuple[float, float]:
        grate, gun = self.grill.grate, self.grill.gun
        if grate.rail_top_mm >= grate.rail_pitch_mm:
            return (1.0, 0.0) if strip_mm > 0 else (0.0, 0.0)
        aim_sd_mm = gun.aim_sd_mm * self.distance_mm / gun.distance_mm
        mean, sd = rail_share_statistics(self.spot_mm, strip_mm, grate.rail_pitch_mm, aim_sd_mm)
        return float(mean), float(sd)

    def shown_c(self, rail_c: FloatArray, *, share: float | None = None) -> FloatArray:
        """Return what the gun shows of rails at `rail_c` (n,) in every case, shape (cases, n)."""
        share = self.share[0] if share is None else share
        cases = self.unknowns
        rail_k = k_from_c(np.asarray(rail_c, dtype=float))
        seen = share * (
            cases.emissivity[:, None] * band_radiance(rail_k)[None, :]
            + ((1 - cases.emissivity) * band_radiance(k_from_c(cases.reflected_c)))[:, None]
        )
        if share < 1.0:
            seen = seen + (1 - share) * self._valley_radiance(rail_k)
        return self._shown_from_radiance(seen)

    def _valley_radiance(self, rail_k: FloatArray) -> FloatArray:
        excess, index = np.unique(self.unknowns.valley_excess_c, return_inverse=True)
        valley_k = np.maximum(rail_k[None, :] + excess[:, None], 200.0)
        return np.asarray(band_radiance(valley_k))[index]

    def _shown_from_radiance(self, seen: FloatArray) -> FloatArray:
        gun, own_c = self.grill.gun, self.grill.gun_own_c
        added = 0.0
        if own_c is not None:
            added = (1 - gun.emissivity_setting) * float(band_radiance(k_from_c(own_c)))
        floor = float(band_radiance(150.0))
        radiance = np.maximum((seen - added) / gun.emissivity_setting, floor)
        return np.asarray(band_temperature(radiance)) - 273.15

    @cached_property
    def _curve(self) -> tuple[FloatArray, FloatArray]:
        rail_c = np.arange(_GRID_LOW_C, _GRID_HIGH_C + _GRID_STEP_C, _GRID_STEP_C)
        return rail_c, self.shown_c(rail_c)

    def rail_c(self, shown_c: FloatArray) -> FloatArray:
        """Return the rail temperature behind what was shown (n,), in every case, shape (cases, n).

        Raises
        ------
        ReadingError
            When no rail, however cold, could show so little.
        """
        grid_c, curve_c = self._curve
        shown_c = np.asarray(shown_c, dtype=float)
        if shown_c.size and float(shown_c.min()) < float(self.unknowns.mean(curve_c[:, :1])[0]):
            raise ReadingError(
                f"a reading of {shown_c.min():g} °C is less than what this rail mirrors; "
                "check the emissivity and the reflected temperature in the grill file"
            )
        rail_c = np.empty((curve_c.shape[0], shown_c.size))
        for case, curve in enumerate(curve_c):
            rail_c[case] = np.interp(shown_c, curve, grid_c)
        for _ in range(2):  # Newton steps take the table's linear interpolation to well under 0.01 °C
            rail_c -= (self.shown_of_each(rail_c) - shown_c[None, :]) * self.sensitivity(rail_c).rail_per_shown
        return rail_c

    def shown_of_each(self, rail_c: FloatArray, *, share: float | None = None) -> FloatArray:
        """Like :meth:`shown_c`, but with rails of its own for every case, (cases, n) to (cases, n)."""
        cases = self.unknowns
        share = self.share[0] if share is None else share
        rail_k = k_from_c(rail_c)
        mirrored = (1 - cases.emissivity) * band_radiance(k_from_c(cases.reflected_c))
        seen = share * (cases.emissivity[:, None] * band_radiance(rail_k) + mirrored[:, None])
        if share < 1.0:
            seen = seen + (1 - share) * band_radiance(np.maximum(rail_k + cases.valley_excess_c[:, None], 200.0))
        return self._shown_from_radiance(np.asarray(seen))

    def sensitivity(self, rail_c: FloatArray) -> Sensitivity:
        """Return how the corrected rail temperature answers to each input, at rails (cases, n) of each case."""
        cases, (share, _) = self.unknowns, self.share
        rail_k = k_from_c(rail_c)
        emissivity = cases.emissivity[:, None]
        mirrored = np.asarray(band_radiance(k_from_c(cases.reflected_c)))[:, None]
        rail_radiance, rail_slope = band_radiance(rail_k), band_radiance_slope(rail_k)
        slope = share * emissivity * rail_slope
        valley_radiance = valley_slope = np.zeros_like(rail_k)
        if share < 1.0:
            valley_k = np.maximum(rail_k + cases.valley_excess_c[:, None], 200.0)
            valley_radiance, valley_slope = band_radiance(valley_k), band_radiance_slope(valley_k)
            slope = slope + (1 - share) * valley_slope
        leaving = emissivity * rail_radiance + (1 - emissivity) * mirrored
        shown_slope = band_radiance_slope(k_from_c(self.shown_of_each(rail_c)))
        return Sensitivity(
            rail_per_shown=self.grill.gun.emissivity_setting * shown_slope / slope,
            rail_per_share=-(leaving - valley_radiance) / slope,
            rail_per_emissivity=-share * (rail_radiance - mirrored) / slope,
            rail_per_valley=-(1 - share) * valley_slope / slope,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sensitivity:
    """Derivatives of the corrected rail temperature, each (cases, n): °C per °C shown, per share, per emissivity, …"""

    rail_per_shown: FloatArray
    rail_per_share: FloatArray
    rail_per_emissivity: FloatArray
    rail_per_valley: FloatArray
