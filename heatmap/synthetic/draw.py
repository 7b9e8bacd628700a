"""Draw a make-believe grill at random, as varied as grills are.

Origin of the ranges: [H] a handbook value (Incropera et al., Fundamentals of Heat and Mass Transfer, appendix A and
chapters 1, 9 and 12, from memory); [C] common practice, no source; [S] follows from the sizes given beside it.
"""

import math
from dataclasses import replace

import numpy as np

from heatmap.grill.burner import Burner, along_line
from heatmap.grill.grate import Grate, Point, Positions
from heatmap.grill.grill import Grill, TargetBand
from heatmap.synthetic.heat_balance import Plate
from heatmap.synthetic.hidden import GunView, Hidden, Lid
from heatmap.synthetic.make_believe import RehearsalGrill
from heatmap.units import FloatArray, c_difference_from_f, c_from_f, k_from_c, mm_from_in

#: Cells of the truth are about this wide; halving it moves no temperature by more than 2 K (tested).
CELL_MM = 25.4
#: Points a burner line is cut into; ports of real burners are 10 to 20 mm apart (common practice, no source).
PORTS = 40


def draw_grill(seed: int, *, numbers: str = "rail", cell_mm: float = CELL_MM) -> RehearsalGrill:
    """Draw a make-believe grill; the same seed gives the same grill and, used alike, the same readings.

    `numbers` is what the target band means, "rail" or "shown"; `cell_mm` the width of a cell of the truth.
    """
    random = np.random.default_rng([seed, 20240601])
    grill = _described(random, numbers)
    hidden = _hidden(random, grill, cell_mm)
    start = _start_marks(random, grill)
    return RehearsalGrill(grill=grill, hidden=hidden, start=start, random=np.random.default_rng([seed, 7]))


def _described(random: np.random.Generator, numbers: str) -> Grill:
    """Draw what the cook knows."""
    width, depth = (mm_from_in(float(random.choice(sizes))) for sizes in ([20, 24, 28, 32], [16, 18, 20]))
    burners = _burners(random, width, depth)
    columns = 5 if width > mm_from_in(29.0) else 4
    middle = c_from_f(float(random.uniform(500.0, 640.0)))  # searing of steaks [C]
    half = c_difference_from_f(25.0)  # the usual 50 °F wide band [C]
    return Grill(
        name="make-believe",
        grate=Grate(
            width_mm=width, depth_mm=depth, rails="front-to-back" if random.random() < 0.7 else "left-to-right"
        ),
        positions=Positions(columns=columns),
        burners=burners,
        target=TargetBand(low_c=middle - half, high_c=middle + half, numbers="rail" if numbers == "rail" else "shown"),
    )


def _burners(random: np.random.Generator, width: float, depth: float) -> tuple[Burner, ...]:
    """Draw tubes front to back (most), tubes left to right, or two rings."""
    kind = random.choice(["tubes", "across", "rings"], p=[0.7, 0.2, 0.1])
    inset = mm_from_in(1.5)
    if kind == "tubes":
        count = int(random.choice([3, 4]) if width < mm_from_in(26.0) else random.choice([4, 5]))
        places = (np.arange(count) + 0.5) / count * width
        lines: list[tuple[Point, ...]] = [((float(x), inset), (float(x), depth - inset)) for x in places]
        names = ("left", "middle", "right") if count == 3 else tuple("abcde"[:count])
    elif kind == "across":
        count = int(random.choice([2, 3], p=[0.3, 0.7]))
        places = (np.arange(count) + 0.5) / count * depth
        lines = [((inset, float(y)), (width - inset, float(y))) for y in places]
        names = ("front", "back") if count == 2 else ("front", "middle", "back")
    else:
        radius = 0.18 * width
        lines = [Burner.ring((place * width, 0.5 * depth), radius) for place in (0.26, 0.74)]
        names = ("left", "right")
    return tuple(Burner(name=name, points_mm=tuple(line)) for name, line in zip(names, lines, strict=True))


def _hidden(random: np.random.Generator, grill: Grill, cell_mm: float) -> Hidden:
    """Draw the truth."""
    plate = _plate(random, grill.grate, cell_mm)
    height = random.uniform(90.0, 160.0)  # grate above the ports, mm; bars between them spread the heat further [C]
    gas, to_back = random.uniform(0.25, 0.6), random.uniform(-0.1, 0.25)  # [C]
    burners = [_burner(random, burner.points_mm, plate, height, gas, to_back) for burner in grill.burners]
    patterns, lowest_share, knob_curve = map(np.array, zip(*burners, strict=True))
    habit: Lid = "closed" if random.random() < 0.5 else "open"
    hidden = Hidden(
        plate=plate,
        patterns=patterns,
        lowest_share=lowest_share,
        knob_curve=knob_curve,
        full_output_w_m2=1.0,
        nominal_w_m2=1.0,
        bars_lag_s=random.uniform(50.0, 130.0),  # steel bars 1 to 2 mm thick, or stones [C]
        convection_top_w_m2k=random.uniform(6.0, 16.0),  # free convection 2-25 W/m²K, light wind on top [H]
        convection_below_w_m2k=random.uniform(6.0, 12.0),
        emissivity_area_top=random.uniform(0.65, 0.9),  # oxidised iron 0.6-0.8, more with grooves [H]
        emissivity_area_below=random.uniform(0.0, 0.25),  # the firebox below is nearly as hot [C]
        lid_keeps=random.uniform(0.34, 0.5),  # makes the 10, 19, 27 °F in 30, 60, 90 s after lifting it [C]
        wind=(random.normal(0.0, 0.15), random.normal(0.0, 0.15)),
        wind_round_sd=random.uniform(0.02, 0.07),
        air_c=grill.surroundings.air_c + random.normal(0.0, 4.0),
        habit=habit,
        hand_miss_sd=0.012,  # a tenth of a mark on a knob from 1 to 10 [C]
        seconds_per_shot=random.uniform(4.0, 8.0),
        seconds_per_contact=random.uniform(15.0, 30.0),
        blunder_chance=0.01,
        gun=_gun_view(random, grill, plate),
        probe_offset_c=random.uniform(-1.0, 1.0) * grill.probe.accuracy_c,
        probe_reads_low_c=grill.probe.reads_low_c * random.uniform(0.5, 1.5),
        probe_scatter_sd_c=0.6,
    )
    return _scaled(hidden, grill, opening=random.uniform(0.3, 0.7))


def _scaled(hidden: Hidden, grill: Grill, opening: float) -> Hidden:
    """Give the burners the heat that holds the mean of the grate mid-band with every knob at this opening."""
    middle_k = np.full((hidden.plate.rows, hidden.plate.columns), k_from_c(grill.target.middle_c))
    lost = float(hidden.surroundings(hidden.habit).loss_w_m2(middle_k).mean())
    share = float(hidden.heat_shares(opening).mean())
    return replace(hidden, full_output_w_m2=lost / share, nominal_w_m2=lost)


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


def _gun_view(random: np.random.Generator, grill: Grill, plate: Plate) -> GunView:
    """Draw how the gun sees this grate."""
    gun, grate = grill.gun, grill.grate
    # With a third of the spot on rails, a valley 40 to 125 K hotter adds 50 to 150 °F to what the gun shows, over hot
    # burners and on some grills [C]; so many of them that half of the maps of a gun alone are off by 26 °F or more.
    hot = random.random() < 0.12
    patch = random.spawn(1)[0]
    return GunView(
        emissivity=float(np.clip(random.normal(grate.rail_emissivity, 0.5 * grate.rail_emissivity_sd), 0.5, 0.98)),
        patches=_patches(
            np.random.default_rng(int(random.integers(2**32))),
            plate,
            random.uniform(0.2, 1.0) * grate.emissivity_patch_sd,
        ),
        patch_emissivity=float(np.clip(patch.normal(grill.patch.emissivity, grill.patch.emissivity_sd), 0.5, 0.99)),
        valley_emissivity=random.uniform(0.92, 0.99),
        valley_excess_c=random.uniform(40.0, 90.0) if hot else random.uniform(5.0, 25.0),
        valley_base_c=random.normal(0.0, 4.0),
        reflected_c=grill.surroundings.reflected_c + random.normal(0.0, grill.surroundings.reflected_sd_c),
        gain_percent=random.uniform(-1.0, 1.0) * gun.accuracy_percent,
        repeatability_percent=gun.repeatability_percent,
        aim_sd_mm=gun.aim_sd_mm,
        rail_phase_mm=random.uniform(0.0, grate.rail_pitch_mm),
    )


def _patches(random: np.random.Generator, plate: Plate, sd: float) -> FloatArray:
    """Draw patchy seasoning: half of its variance over a hand's breadth, half from place to place."""
    from scipy.ndimage import gaussian_filter

    shape = (plate.rows, plate.columns)
    reach = [60.0 / (plate.depth_mm / plate.rows), 60.0 / (plate.width_mm / plate.columns)]
    smooth = gaussian_filter(random.normal(size=shape), reach, mode="reflect")
    fine = random.normal(size=shape)
    mixed = smooth / smooth.std() + fine / fine.std()
    return np.asarray(sd * math.sqrt(0.5) * mixed)


def _start_marks(random: np.random.Generator, grill: Grill) -> dict[str, float]:
    """Draw the marks the cook begins with: all alike, near half open."""
    opening = random.uniform(0.3, 0.7)
    return {
        burner.name: float(min(burner.settable, key=lambda mark: abs(burner.fraction(mark) - opening)))
        for burner in grill.burners
    }
