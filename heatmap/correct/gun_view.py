"""What the gun shows of a rail and a valley from one distance, in every case of what is not known, and the way back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from heatmap.correct.nuisance import HIGHEST_RAIL_C, LOWEST_RAIL_C, NuisanceGrid
from heatmap.errors import ReadingError
from heatmap.grill.grill import Grill
from heatmap.physics.grey_body import emitted_and_reflected, measured_radiance
from heatmap.physics.planck import band_radiance, band_radiance_slope, band_temperature
from heatmap.physics.spot import rail_share_statistics, spot_diameter
from heatmap.units import FloatArray, c_from_k, k_from_c

#: A valley far colder than its rail sends out next to nothing; these floors only keep the formulas in their
#: range.
COLDEST_VALLEY_K, COLDEST_SHOWN_K = 200.0, 150.0
_TABLE_STEP_C = 20.0
_MOST_NEWTON_STEPS = 6


@dataclass(frozen=True, kw_only=True, eq=False)
class GunView:
    """What the gun would show of a rail from one distance, in every case, and the way back.

    Both sides of the measurement equation (see :mod:`heatmap.physics.grey_body`) are compared in radiance;
    the valley is taken as black, a cavity between hot walls nearly is.

    Attributes
    ----------
    nuisance : NuisanceGrid
        Only the values of the cases matter here; their weights are used as they were before any reference pair.
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
        cases, rail_k = self.nuisance, k_from_c(rail_c)
        rail = emitted_and_reflected(
            rail_k, emissivity=cases.emissivity[:, None], reflected_k=k_from_c(cases.reflected_c)[:, None]
        )
        return rail if share == 1.0 else share * rail + (1 - share) * self._valley(band_radiance, rail_k)

    def _valley(self, law: Callable[[FloatArray], FloatArray], rail_k: FloatArray) -> FloatArray:
        """Return a law of radiation for the valleys beside rails (1, n) or (cases, n), shape (cases, n)."""
        excess_c = self.nuisance.valley_excess_c
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
        coldest = float(self.nuisance.mean(self._table[1][:, :1])[0])
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
        own = self.share[0] * self.nuisance.emissivity[:, None] * band_radiance_slope(rail_k)
        return float(self.nuisance.mean(own / self._leaving_slope(rail_c))[0])

    def _leaving_slope(self, rail_c: FloatArray) -> FloatArray:
        share, rail_k = self.share[0], k_from_c(rail_c)
        slope = self.nuisance.emissivity[:, None] * band_radiance_slope(rail_k)
        if share == 1.0:
            return np.asarray(slope)
        return np.asarray(share * slope + (1 - share) * self._valley(band_radiance_slope, rail_k))

    def sensitivity(self, rail_c: FloatArray, shown_c: FloatArray) -> Sensitivity:
        """Return how the corrected rail answers to each input, at rails (cases, n) behind `shown_c` (n,)."""
        cases, (share, _), rail_k = self.nuisance, self.share, k_from_c(rail_c)
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
