"""What is hidden from the cook of a make-believe grill: its burners and losses, and what gun and probe make of it.

Origin of the ranges: [H] a handbook value (Incropera et al., Fundamentals of Heat and Mass Transfer, appendix A and
chapters 1, 9 and 12, from memory); [C] common practice, no source; [S] follows from the sizes given beside it.
"""

import math
from typing import Literal

import numpy as np

from heatmap.grill.burner import along_line
from heatmap.grill.grate import Grate, Point
from heatmap.grill.grill import Grill
from heatmap.physics.grey_body import emitted_and_reflected, shown_from_radiance
from heatmap.synthetic.heat_balance import Plate, Surroundings
from heatmap.units import ArrayLike, FloatArray, c_from_k, k_from_c

#: Points a burner line is cut into; ports of real burners are 10 to 20 mm apart (common practice, no source).
PORTS = 40


class GunView:
    """How the gun sees this grate; drawn at random.

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

    def __init__(self, random: np.random.Generator, grill: Grill, plate: Plate) -> None:
        """Draw it for a grate."""
        gun, grate = grill.gun, grill.grate
        # With a third of the spot on rails, a valley 40 to 125 K hotter adds 50 to 150 °F to what the gun shows, over
        # hot burners and on some grills [C]; so many of them that half of the maps of a gun alone are off by 26 °F or
        # more.
        hot = random.random() < 0.12
        patch = random.spawn(1)[0]
        self.emissivity = min(max(random.normal(grate.rail_emissivity, 0.5 * grate.rail_emissivity_sd), 0.5), 0.98)
        seasoning = np.random.default_rng(int(random.integers(2**32)))
        self.patches = _patches(seasoning, plate, random.uniform(0.2, 1.0) * grate.emissivity_patch_sd)
        self.patch_emissivity = min(max(patch.normal(grill.patch.emissivity, grill.patch.emissivity_sd), 0.5), 0.99)
        self.valley_emissivity = random.uniform(0.92, 0.99)
        self.valley_excess_c = random.uniform(40.0, 90.0) if hot else random.uniform(5.0, 25.0)
        self.valley_base_c = random.normal(0.0, 4.0)
        self.reflected_c = grill.surroundings.reflected_c + random.normal(0.0, grill.surroundings.reflected_sd_c)
        self.gain_percent = random.uniform(-1.0, 1.0) * gun.accuracy_percent
        self.repeatability_percent, self.aim_sd_mm = gun.repeatability_percent, gun.aim_sd_mm
        self.rail_phase_mm = random.uniform(0.0, grate.rail_pitch_mm)

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
        # Covers hand their heat to the rails by radiation: as the difference of the fourth powers (net radiation
        # between two surfaces, Incropera et al., Fundamentals of Heat and Mass Transfer, chapter 13, from memory).
        nominal_k = k_from_c(grill.target.middle_c)
        handed_over_k4 = heat * ((nominal_k + self.valley_excess_c) ** 4 - nominal_k**4)
        valley_k = (k_from_c(rail_c) ** 4 + handed_over_k4) ** 0.25 + self.valley_base_c
        valley = emitted_and_reflected(valley_k, emissivity=self.valley_emissivity, reflected_k=mirror_k)
        seen = share * rail + (1.0 - share) * valley
        gun_k = None if grill.gun_own_c is None else k_from_c(grill.gun_own_c)
        shown_k = shown_from_radiance(seen, setting=grill.gun.emissivity_setting, gun_k=gun_k)
        return np.asarray(c_from_k(shown_k) * (1.0 + self.gain_percent / 100.0))


Lid = Literal["open", "closed"]


class Hidden:
    """Everything about a make-believe grill that its cook cannot know; drawn at random.

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

    def __init__(self, random: np.random.Generator, grill: Grill, cell_mm: float) -> None:
        """Draw it for a grill as its cook describes it, the plate in cells about so wide.

        Its burners hold the mean of the grate mid-band with every knob at an opening that is drawn too.
        """
        self.plate = plate = _plate(random, grill.grate, cell_mm)
        height = random.uniform(90.0, 160.0)  # grate above the ports, mm; bars between them spread the heat further [C]
        gas, to_back = random.uniform(0.25, 0.6), random.uniform(-0.1, 0.25)  # [C]
        burners = [_burner(random, burner.points_mm, plate, height, gas, to_back) for burner in grill.burners]
        self.patterns, self.lowest_share, self.knob_curve = map(np.array, zip(*burners, strict=True))
        self.habit: Lid = "closed" if random.random() < 0.5 else "open"
        self.bars_lag_s = random.uniform(50.0, 130.0)  # steel bars 1 to 2 mm thick, or stones [C]
        self.convection_top_w_m2k = random.uniform(6.0, 16.0)  # free convection 2-25 W/m²K, light wind on top [H]
        self.convection_below_w_m2k = random.uniform(6.0, 12.0)
        self.emissivity_area_top = random.uniform(0.65, 0.9)  # oxidised iron 0.6-0.8, more with grooves [H]
        self.emissivity_area_below = random.uniform(0.0, 0.25)  # the firebox below is nearly as hot [C]
        self.lid_keeps = random.uniform(0.34, 0.5)  # makes the 10, 19, 27 °F in 30, 60, 90 s after lifting it [C]
        self.wind = random.normal(0.0, 0.15), random.normal(0.0, 0.15)
        self.wind_round_sd = random.uniform(0.02, 0.07)
        self.air_c = grill.surroundings.air_c + random.normal(0.0, 4.0)
        self.hand_miss_sd = 0.012  # a tenth of a mark on a knob from 1 to 10 [C]
        self.seconds_per_shot, self.seconds_per_contact = random.uniform(4.0, 8.0), random.uniform(15.0, 30.0)
        self.blunder_chance = 0.01
        self.gun = GunView(random, grill, plate)
        self.probe_offset_c = random.uniform(-1.0, 1.0) * grill.probe.accuracy_c
        self.probe_reads_low_c = grill.probe.reads_low_c * random.uniform(0.5, 1.5)
        self.probe_scatter_sd_c = 0.6
        middle_k = np.full((plate.rows, plate.columns), k_from_c(grill.target.middle_c))
        self.nominal_w_m2 = float(self.surroundings(self.habit).loss_w_m2(middle_k).mean())
        self.full_output_w_m2 = self.nominal_w_m2 / float(self.heat_shares(random.uniform(0.3, 0.7)).mean())

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
        convection = top + self.convection_below_w_m2k
        radiating = kept * self.emissivity_area_top + self.emissivity_area_below
        return Surroundings(air_k=k_from_c(self.air_c), convection_w_m2k=convection, emissivity_area=radiating)


def _plate(random: np.random.Generator, grate: Grate, cell_mm: float) -> Plate:
    """Draw the metal: iron at 50 or stainless steel at 17 W/(m K), rails of the size described, and what ties them."""
    conductivity = float(random.choice([50.0, 17.0], p=[0.75, 0.25]))  # W/(m K) [H]
    thickness = grate.rail_top_mm * grate.rail_height_mm / grate.rail_pitch_mm / 1000.0  # m [S]
    along = conductivity * thickness * random.uniform(0.8, 1.3)
    across = along * random.uniform(0.1, 0.35)  # cross bars only [C]
    # Density × specific heat of iron 7300 × 500, of steel 7900 × 510: both near 3.8e6 J/(m³ K) [H]; rails taper and
    # cross bars add [C].
    capacity = 3.8e6 * thickness * random.uniform(0.75, 1.1)
    lengthwise = grate.rails == "front-to-back"
    return Plate(
        width_mm=grate.width_mm,
        depth_mm=grate.depth_mm,
        columns=max(4, round(grate.width_mm / cell_mm)),
        rows=max(4, round(grate.depth_mm / cell_mm)),
        conductance_x_w_k=across if lengthwise else along,
        conductance_y_w_k=along if lengthwise else across,
        heat_capacity_j_m2k=capacity,
    )


def _burner(
    random: np.random.Generator, points_mm: tuple[Point, ...], plate: Plate, height_mm: float, gas: float, back: float
) -> tuple[FloatArray, float, float]:
    """Draw a burner: its pattern, the heat of its lowest flame, and its knob's curve, as :class:`Hidden` has them.

    It is stronger or weaker than its neighbours, uneven along its line, at times partly clogged.

    The flame heats a place at distance r along the grate with h³/(r² + h²)^(3/2), the inverse square and cosine law of
    a small source below a plane; a share of the heat, `gas`, rises everywhere with the hot gas of the firebox, and by
    `back` more of that at the back edge than in the middle (vents at the back draw it there).
    """
    along = np.linspace(-1.0, 1.0, PORTS)
    ports = 1.0 + random.normal(0.0, 0.1) * along + random.normal(0.0, 0.08) * np.cos(np.pi * along)
    if random.random() < 0.25:  # spiders, rust and fat close ports [C]
        start, length = random.uniform(-1.0, 0.8), random.uniform(0.2, 0.6)
        ports = np.where((along >= start) & (along <= start + length), ports * random.uniform(0.3, 0.8), ports)
    ports = np.maximum(ports, 0.05)
    cells = plate.cells_mm
    square = ((cells[:, None, :] - along_line(points_mm, PORTS)[None, :, :]) ** 2).sum(axis=2)
    kernel = (1.0 + square / height_mm**2) ** -1.5
    direct = kernel @ ports / kernel.sum(axis=1).mean()
    risen = 1.0 + back * (2.0 * cells[:, 1] / plate.depth_mm - 1.0)
    mixed = (1.0 - gas) * direct + gas * risen * ports.mean()
    strength = math.exp(random.normal(0.0, 0.25))  # makers' tolerances, hoses, regulators [C]
    lowest_share = random.uniform(0.12, 0.35)  # turn-down of gas valves about 1:3 to 1:8 [C]
    knob_curve = math.exp(random.normal(-0.1, 0.35))  # valves open fast at first, most of them [C]
    return (strength * mixed).reshape(plate.rows, plate.columns), lowest_share, knob_curve


def _patches(random: np.random.Generator, plate: Plate, sd: float) -> FloatArray:
    """Draw patchy seasoning: half of its variance over a hand's breadth, half from place to place."""
    from scipy.ndimage import gaussian_filter

    shape = (plate.rows, plate.columns)
    reach = [60.0 / (plate.depth_mm / plate.rows), 60.0 / (plate.width_mm / plate.columns)]
    smooth = gaussian_filter(random.normal(size=shape), reach, mode="reflect")
    fine = random.normal(size=shape)
    mixed = smooth / smooth.std() + fine / fine.std()
    return np.asarray(sd * math.sqrt(0.5) * mixed)
