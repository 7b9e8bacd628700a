"""What the gun and the surface probe make of a make-believe grate: radiance of rail and valley, and their errors."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from heatmap.grill.grill import Grill
from heatmap.physics.grey_body import emitted_and_reflected, shown_from_radiance
from heatmap.physics.planck import band_radiance
from heatmap.units import FloatArray, c_from_k, k_from_c


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GunView:
    """How the gun sees this grate.

    Attributes
    ----------
    emissivity : float
        True mean emissivity of the rail tops in the gun's band.
    patches : ndarray (rows, columns)
        What patchy seasoning adds to it, cell by cell.
    patch_emissivity : float
        That of the reference patch.
    valley_emissivity : float
        Effective emissivity of what is seen between rails; a cavity, so near 1.
    valley_excess_c : float
        How much hotter than a rail in the middle of the band the covers over the burners are where these give their
        nominal heat.
    valley_base_c : float
        How much hotter than these covers the valley looks (a cold floor between them: negative).
    reflected_c : float
        What the rails mirror.
    gain_percent : float
        The gun's calibration error in percent of the °C reading.
    repeatability_percent, aim_sd_mm : float
        Standard deviations of one shot.
    rail_phase_mm : float
        Middle of the first rail from the grate's edge.
    """

    emissivity: float
    patches: FloatArray
    patch_emissivity: float
    valley_emissivity: float
    valley_excess_c: float
    valley_base_c: float
    reflected_c: float
    gain_percent: float
    repeatability_percent: float
    aim_sd_mm: float
    rail_phase_mm: float

    def shown_c(
        self, grill: Grill, rail_c: FloatArray, patch: FloatArray, heat: FloatArray, share: FloatArray
    ) -> FloatArray:
        """Return what the gun shows for spots (n,), before repeatability and display.

        `patch` is what the seasoning adds to the emissivity there, `heat` the heat from below over its nominal mean,
        `share` the share of the spot that falls on rail tops.
        """
        emissivity = np.clip(self.emissivity + patch, 0.05, 0.99)
        mirror_k = k_from_c(self.reflected_c)
        rail = emitted_and_reflected(k_from_c(rail_c), emissivity=emissivity, reflected_k=mirror_k)
        valley = self.valley_emissivity * band_radiance(self._valley_k(grill, rail_c, heat))
        valley = valley + (1.0 - self.valley_emissivity) * band_radiance(mirror_k)
        own_c = grill.gun_own_c
        shown_k = shown_from_radiance(
            share * rail + (1.0 - share) * valley,
            setting=grill.gun.emissivity_setting,
            gun_k=None if own_c is None else k_from_c(own_c),
        )
        return np.asarray(c_from_k(shown_k) * (1.0 + self.gain_percent / 100.0))

    def _valley_k(self, grill: Grill, rail_c: FloatArray, heat: FloatArray) -> FloatArray:
        """Return the temperature seen between rails: covers that hand their heat to the rails by radiation.

        What they hand over is as the difference of the fourth powers (net radiation between two surfaces, Incropera et
        al., Fundamentals of Heat and Mass Transfer, chapter 13, from memory).
        """
        nominal_k, rail_k = k_from_c(grill.target.middle_c), k_from_c(rail_c)
        handed_over_k4 = heat * ((nominal_k + self.valley_excess_c) ** 4 - nominal_k**4)
        return np.asarray((rail_k**4 + handed_over_k4) ** 0.25 + self.valley_base_c)


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeView:
    """How the surface probe reads: its fixed error, its tendency to read low on a narrow rail, its scatter (all °C)."""

    offset_c: float
    reads_low_c: float
    scatter_sd_c: float

    def shown_c(self, rail_c: float, random: np.random.Generator) -> float:
        """Return one contact reading; how low it reads varies with how well it is held (exponential)."""
        low = random.exponential(self.reads_low_c) if self.reads_low_c > 0 else 0.0
        return rail_c + self.offset_c - low + random.normal(0.0, self.scatter_sd_c)
