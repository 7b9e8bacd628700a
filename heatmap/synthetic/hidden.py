"""What is hidden from the cook of a make-believe grill: its burners and losses, and what gun and probe make of it."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from heatmap.grill.grill import Grill
from heatmap.physics.grey_body import emitted_and_reflected, shown_from_radiance
from heatmap.physics.planck import band_radiance
from heatmap.synthetic.heat_balance import Plate, Surroundings
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


Lid = Literal["open", "closed"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hidden:
    """Everything about a make-believe grill that its cook cannot know.

    Attributes
    ----------
    plate : Plate
    patterns : ndarray (burners, rows, columns)
        How the heat of each burner is spread over the plate: mean 1 for an average burner with clean ports.
    lowest_share, knob_curve : ndarray (burners,)
        Heat of the lowest steady flame over that fully open; exponent γ: heat above the lowest flame grows with the
        opening to this power.
    full_output_w_m2 : float
        Heat into the grate with every clean burner fully open, mean over the grate.
    nominal_w_m2 : float
        Heat into the grate that holds the middle of the band.
    bars_lag_s : float
        Time constant with which the covers over the burners (bars, stones) follow the flame.
    convection_top_w_m2k, convection_below_w_m2k : float
        In still air.
    emissivity_area_top, emissivity_area_below : float
        Total emissivity times area that radiates per area of grate.
    lid_keeps : float
        Share of the losses of the upper face that a closed lid keeps.
    wind : (float, float)
        How much more convection at the right than at the left edge, and at the back than at the front, as a share.
    wind_round_sd : float
        Standard deviation of convection and of its tilt from round to round, as a share.
    air_c : float
        True air temperature.
    habit : {"open", "closed"}
        The lid while the grate soaks.
    hand_miss_sd : float
        Standard deviation of the mark really set around the mark meant, as a share of the knob's way.
    seconds_per_shot, seconds_per_contact : float
    blunder_chance : float
        Chance that a shot is written down wrong or taken at the wrong place.
    gun : GunView
    probe_offset_c, probe_reads_low_c, probe_scatter_sd_c : float
        Fixed error of the surface probe, its tendency to read low on a narrow rail, its scatter.
    """

    plate: Plate
    patterns: FloatArray
    lowest_share: FloatArray
    knob_curve: FloatArray
    full_output_w_m2: float
    nominal_w_m2: float
    bars_lag_s: float
    convection_top_w_m2k: float
    convection_below_w_m2k: float
    emissivity_area_top: float
    emissivity_area_below: float
    lid_keeps: float
    wind: tuple[float, float]
    wind_round_sd: float
    air_c: float
    habit: Lid
    hand_miss_sd: float
    seconds_per_shot: float
    seconds_per_contact: float
    blunder_chance: float
    gun: GunView
    probe_offset_c: float
    probe_reads_low_c: float
    probe_scatter_sd_c: float

    def heat_shares(self, openings: ArrayLike) -> FloatArray:
        """Return the heat of each burner over that fully open, at openings from 0 (lowest flame) to 1, (burners,)."""
        opened = np.clip(openings, 0.0, 1.0)
        return np.asarray(self.lowest_share + (1.0 - self.lowest_share) * opened**self.knob_curve)

    def touched_c(self, rail_c: float, random: np.random.Generator) -> float:
        """Return one contact reading; how low it reads varies with how well the probe is held (exponential)."""
        low_c = random.exponential(self.probe_reads_low_c) if self.probe_reads_low_c > 0 else 0.0
        return rail_c + self.probe_offset_c - low_c + random.normal(0.0, self.probe_scatter_sd_c)

    def surroundings(self, lid: Lid, gust: float = 0.0, tilt: tuple[float, float] = (0.0, 0.0)) -> Surroundings:
        """Return what the plate loses its heat to, under a lid and a wind."""
        kept = 1.0 - self.lid_keeps if lid == "closed" else 1.0
        plate, wind = self.plate, np.add(self.wind, tilt)
        across = 2.0 * plate.cells_mm / (plate.width_mm, plate.depth_mm) - 1.0
        slope = 0.5 * (across @ wind).reshape(plate.rows, plate.columns)
        top = kept * self.convection_top_w_m2k * (1.0 + gust) * np.maximum(1.0 + slope, 0.1)
        return Surroundings(
            air_k=k_from_c(self.air_c),
            convection_w_m2k=top + self.convection_below_w_m2k,
            emissivity_area=kept * self.emissivity_area_top + self.emissivity_area_below,
        )
