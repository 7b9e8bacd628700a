"""Grills of other physics than heatmap/synthetic, so that the model is not judged on our own make-believe alone.

Not a benchmark itself: sessions.py plays them, `python tests/benchmarks/sessions.py --family NAME`. Families:

plate      a plate that conducts along its rails and badly across them, heated from tubes with uneven ports by hot gas
           (convection, narrow plumes that the draught carries off) and by the glow of the covers over them, losing by
           convection in a wind from one side and by radiation; finite differences
diffuser   the same over heat tents (odd seeds: the heat comes up along both sides of each) or a diffuser plate (even
           seeds: wide smeared patterns, beside their tubes, part of the heat round its edges)
shifted, mirrored, quarter-turn
           the plate's burners told wrongly in the grill file: 3.6 in aside, left for right, turned by a quarter
clogged    half of one burner nearly shut, a hot back wall and a cold front edge
ring       two rings, one in the other, under a round pattern with cold corners
coals      heaps that burn down each at its own pace, glowing between the rails; no knobs, no marks
stuck      one valve that does nothing: it stays where it stood (even seeds) or its burner is dead (odd seeds)

What differs from heatmap/synthetic: heat arrives by exchange with hot gas and glowing covers, not as a given flux;
plumes are Gaussian and narrower, and drift; valves saturate; all burners share a regulator that droops; the gun sees a
tenth of its signal around its spot; what lies between rails is a floor that is hotter or colder than the rail and glows
as a groove does, or an opening to the fire; seasoning, reflection, gain and its wander are drawn anew.

Settled on: family plate, seeds 0-14, mirrored and quarter-turn, seeds 0-9 (and make-believe, seeds 0-29). For
reporting, not to be looked at while choosing: these from the next seed on, and every seed of every other family.

Origin of the ranges: [H] a handbook value (Incropera et al., Fundamentals of Heat and Mass Transfer, from memory); [C]
common practice, no source; [A] assumed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta

import numpy as np
from scipy.ndimage import gaussian_filter, map_coordinates
from scipy.sparse import csc_matrix, diags, identity, kron
from scipy.sparse.linalg import splu

from heatmap.grill.burner import Burner
from heatmap.grill.grate import Grate, Point, Positions
from heatmap.grill.grill import Grill, Gun, TargetBand
from heatmap.physics.grey_body import emitted_and_reflected, shown_from_radiance
from heatmap.physics.groove import groove_emissivity
from heatmap.physics.planck import STEFAN_BOLTZMANN, band_radiance
from heatmap.physics.spot import rail_share, rail_share_statistics, spot_diameter
from heatmap.readings.reading import Aim, Reading, Round

Array = np.ndarray
FAMILIES = ("plate", "diffuser", "shifted", "mirrored", "quarter-turn", "clogged", "ring", "coals", "stuck")
INCH_MM = 25.4
CELL_MM = 20.0
ZERO_C_K = 273.15
#: How far burners are told aside in the family "shifted", mm.
SHIFT_MM = 3.6 * INCH_MM


@dataclass(kw_only=True)
class Firebox:
    """What heats the grate: shares of the heat of each burner, and where they land.

    Attributes
    ----------
    patterns : ndarray (burners, cells)
        Heat of each burner fully open; the sum of all is 1 on average over the grate.
    lowest, curve, strength : ndarray (burners,)
        Share at the lowest flame; how fast a valve saturates (0: straight); strength beside the others.
    droop : float
        What the regulator loses with all open.
    gas : float
        Share of the heat that is everywhere alike.
    held : mapping of int to float
        Burners whose valve does nothing, and the share they give.
    """

    patterns: Array
    lowest: Array
    curve: Array
    strength: Array
    droop: float
    gas: float
    held: Mapping[int, float] = field(default_factory=dict)

    def given(self, opened: Array) -> Array:
        """Return what each valve gives over that fully open, from how far open (0 to 1) each is."""
        opening = np.expm1(-self.curve * opened) / np.expm1(-self.curve)
        return self.lowest + (1.0 - self.lowest) * opening

    def shares(self, opened: Array) -> Array:
        """Return the heat of each burner over that of a usual one fully open."""
        shares = self.given(opened)
        for burner, share in self.held.items():
            shares[burner] = share
        return self.strength * shares / (1.0 + self.droop * shares.mean())

    def heat(self, shares: Array, _minutes: float) -> Array:
        """Return the heat at each cell, 1 where all burners are fully open on average."""
        direct = shares @ self.patterns
        return (1.0 - self.gas) * direct + self.gas * direct.mean()


@dataclass(kw_only=True)
class CoalBed:
    """Heaps of coals that burn down, each at its own pace, while vents hold the whole up but for a slow fall."""

    heaps: Array  # (heaps, cells)
    life_min: Array
    fall_min: float

    def shares(self, opened: Array) -> Array:
        """Return nothing: there are no knobs."""
        return opened

    def heat(self, _shares: Array, minutes: float) -> Array:
        """Return the heat at each cell."""
        bed = np.exp(-minutes / self.life_min) @ self.heaps
        return bed / bed.mean() * np.exp(-minutes / self.fall_min)


@dataclass(kw_only=True)
class Metal:
    """The grate, C ∂T/∂t = ∇·(G ∇T) + g (T_gas − T) + e σ (T_cover⁴ − T⁴) − h (T − T_air) − E σ (T⁴ − T_air⁴) + wall.

    T_gas − T_air and T_cover⁴ − T_air⁴ are in proportion to the heat at the cell. Edges insulated. Linearly implicit
    Euler steps.
    """

    conduction: csc_matrix  # (cells, cells), W/(m² K)
    capacity: float  # J/(m² K)
    gas_w_m2k: float
    gas_rise_k: float
    cover_emissivity: float
    cover_k4: float
    top_w_m2k: Array
    top_emissivity: float
    lid_keeps: float
    wall_w_m2: Array
    air_k: float

    def cover_k(self, heat: Array) -> Array:
        """Return the temperature of the covers over the burners."""
        return (self.air_k**4 + self.cover_k4 * heat) ** 0.25

    def step(self, kelvin: Array, heat: Array, seconds: float, lid: str, wind: float) -> Array:
        """Return the temperature of the cells after a step."""
        kept = 1.0 - self.lid_keeps if lid == "closed" else 1.0
        loss, glow = kept * self.top_w_m2k * (1.0 + wind), kept * self.top_emissivity * STEFAN_BOLTZMANN
        under = self.cover_emissivity * STEFAN_BOLTZMANN
        rate = (
            self.conduction @ kelvin
            + self.gas_w_m2k * (self.air_k + self.gas_rise_k * heat - kelvin)
            + under * (self.cover_k(heat) ** 4 - kelvin**4)
            - loss * (kelvin - self.air_k)
            - glow * (kelvin**4 - self.air_k**4)
            + self.wall_w_m2
        )
        slope = self.gas_w_m2k + loss + 4.0 * (under + glow) * kelvin**3
        matrix = diags(self.capacity / seconds + slope) - self.conduction
        return np.asarray(kelvin + splu(matrix.tocsc()).solve(rate))


@dataclass(kw_only=True)
class View:
    """How the gun and the probe see the grate."""

    emissivity: float
    patches: Array
    valley_emissivity: float
    valley_excess_c: float
    valley_per_heat_c: float
    valley_covers: float
    usual_heat: float
    reflected_k: float
    gain: float
    gain_wander: float
    halo: float
    phase_mm: float
    probe_off_c: float
    probe_low_c: float


@dataclass(kw_only=True)
class OtherGrill:
    """A grill to be played like heatmap.synthetic.RehearsalGrill; `valley` is what the cook sees between the rails."""

    grill: Grill
    fire: Firebox | CoalBed
    metal: Metal
    view: View
    valley: str
    habit: str
    random: np.random.Generator
    marks: dict[str, float]
    shape: tuple[int, int]
    cells_mm: Array
    seconds_per_shot: float
    lag_s: float
    wind_sd: float

    def __post_init__(self) -> None:
        self.now = datetime(2024, 7, 6, 17, 0, tzinfo=UTC)
        self._lit, self._wind, self._next_id = self.now, 0.0, 1
        self._held = dict(self.marks)
        self._delivered = self.fire.shares(self._opened())
        self._kelvin = np.full(len(self.cells_mm), self.grill.target.middle_c + ZERO_C_K)
        self._lid = self.habit
        for _ in range(60):  # long heated
            self._kelvin = self.metal.step(self._kelvin, self._heat(), 300.0, self._lid, 0.0)

    @property
    def inside(self) -> Array:
        """Which cells lie inside the rim."""
        rim, extent = self.grill.grate.rim_mm, np.array(self.grill.grate.extent_mm)
        return np.all((self.cells_mm >= rim) & (self.cells_mm <= extent - rim), axis=1)

    def turn(self, marks: Mapping[str, float]) -> None:
        """Set burners to these marks, missing them by a tenth of a mark or so [C]."""
        for burner in self.grill.burners:
            if burner.name in marks and marks[burner.name] != self.marks[burner.name]:
                self.marks[burner.name] = float(marks[burner.name])
                held = self.marks[burner.name] + self.random.normal(0.0, 0.1)
                self._held[burner.name] = float(np.clip(held, burner.low, burner.high))

    def wait(self, minutes: float) -> None:
        """Let time pass; the wind has changed."""
        self._wind = self.random.normal(0.0, self.wind_sd)
        self.view = replace(self.view, gain=self.view.gain + self.random.normal(0.0, self.view.gain_wander))
        for _ in range(30):
            self._pass(2.0 * minutes)

    def play_round(self, number: int, *, order: Sequence[str], contact_at: str | None = None) -> Round:
        """Lift the lid, shoot these positions, close it again."""
        self._lid = "open"
        readings = []
        for label in order:
            point = self.grill.point_mm(label)
            readings.append(self._shoot(number, label, point, "rail"))
            if label == contact_at:
                readings.append(self._shoot(number, label, point, "contact"))
        self._lid = self.habit
        return Round(number=number, session="evening", readings=tuple(readings))

    def truth_c(self, points_mm: Array) -> Array:
        """Return the true rail temperature at points."""
        return self._at(self._kelvin, points_mm) - ZERO_C_K

    def shown_truth_c(self, points_mm: Array) -> Array:
        """Return what this gun shows on a rail there, but for the luck of one shot and patchy seasoning."""
        grate, gun = self.grill.grate, self.grill.gun
        spot = spot_diameter(gun.distance_mm, gun.distance_to_spot, gun.smallest_spot_mm)
        near, wide = (
            rail_share_statistics(size, grate.rail_top_mm, grate.rail_pitch_mm, gun.aim_sd_mm)[0]
            for size in (spot, 2.0 * spot)
        )
        share = (1.0 - self.view.halo) * near + self.view.halo * wide
        return self._shown_c(points_mm, np.full(len(points_mm), float(share)), 0.0)

    def _opened(self) -> Array:
        burners = [burner for burner in self.grill.burners if burner.control != "none"]
        return np.array([burner.fraction(self._held[burner.name]) for burner in burners])

    def _heat(self) -> Array:
        return self.fire.heat(self._delivered, (self.now - self._lit).total_seconds() / 60.0)

    def _pass(self, seconds: float) -> None:
        wanted = self.fire.shares(self._opened())
        self._delivered = wanted + (self._delivered - wanted) * np.exp(-seconds / self.lag_s)
        self._kelvin = self.metal.step(self._kelvin, self._heat(), seconds, self._lid, self._wind)
        self.now += timedelta(seconds=seconds)

    def _at(self, values: Array, points_mm: Array) -> Array:
        grid = values.reshape(self.shape)
        scale = np.array(self.shape[::-1]) / np.array(self.grill.grate.extent_mm)
        column, row = (np.asarray(points_mm) * scale - 0.5).T
        return map_coordinates(grid, [row, column], order=1, mode="nearest")

    def _shoot(self, number: int, label: str, point: Point, aim: Aim) -> Reading:
        self._pass(20.0 if aim == "contact" else self.seconds_per_shot)
        shown_c = self._probe_c(point) if aim == "contact" else self._gun_c(point)
        reading = Reading(
            id=self._next_id,
            shown_c=(round(shown_c * 1.8 + 32.0) - 32.0) / 1.8,  # the display shows whole °F
            x_mm=point[0],
            y_mm=point[1],
            position=label,
            aim=aim,
            round=number,
            session="evening",
            taken_at=self.now,
            lid="closed" if self.habit == "closed" else "open",
            knobs=dict(self.marks),
        )
        self._next_id += 1
        return reading

    def _probe_c(self, point: Point) -> float:
        low = abs(self.random.normal(0.0, self.view.probe_low_c))
        truth_c = float(self.truth_c(np.array([point]))[0])
        return truth_c + self.view.probe_off_c - low + self.random.normal(0.0, 0.6)

    def _gun_c(self, point: Point) -> float:
        grate, gun, view = self.grill.grate, self.grill.gun, self.view
        slip = self.random.random()
        if slip < 0.007:  # at the next position [A]
            point = self.grill.point_mm(self.grill.labels[self.random.integers(len(self.grill.labels))])
        missed = self.random.normal(0.0, gun.aim_sd_mm, 2)
        axis = 0 if grate.rails == "front-to-back" else 1
        meant = np.round((point[axis] - view.phase_mm) / grate.rail_pitch_mm) * grate.rail_pitch_mm + view.phase_mm
        place = np.array([point]) + missed
        place[0, axis] = meant + missed[axis]
        spot = spot_diameter(gun.distance_mm, gun.distance_to_spot, gun.smallest_spot_mm)
        near, wide = (
            rail_share(missed[axis], size, grate.rail_top_mm, grate.rail_pitch_mm) for size in (spot, 2.0 * spot)
        )
        share = np.array([(1.0 - view.halo) * near + view.halo * wide])
        shown_c = float(self._shown_c(place, share, self._at(view.patches, place))[0])
        shown_c *= 1.0 + self.random.normal(0.0, gun.repeatability_percent) / 100.0
        if slip > 0.996:  # two digits swapped [A]
            digits = f"{round(shown_c * 1.8 + 32.0):03d}"
            shown_c = (float(digits[0] + digits[2] + digits[1]) - 32.0) / 1.8
        return shown_c

    def _shown_c(self, points_mm: Array, share: Array, patch: Array | float) -> Array:
        view, gun = self.view, self.grill.gun
        rail_k, heat = self.truth_c(points_mm) + ZERO_C_K, self._at(self._heat(), points_mm)
        emissivity = np.clip(view.emissivity + patch, 0.2, 0.99)
        rail = emitted_and_reflected(rail_k, emissivity=emissivity, reflected_k=view.reflected_k)
        covers_k4 = view.valley_covers * (self._at(self.metal.cover_k(self._heat()), points_mm) ** 4 - rail_k**4)
        between_k = (
            (rail_k**4 + covers_k4) ** 0.25
            + view.valley_excess_c
            + view.valley_per_heat_c * (heat / view.usual_heat - 1.0)
        )
        valley = view.valley_emissivity * band_radiance(between_k)
        valley = valley + (1.0 - view.valley_emissivity) * band_radiance(view.reflected_k)
        own_c = self.grill.gun_own_c
        shown_k = shown_from_radiance(
            share * rail + (1.0 - share) * valley,
            setting=gun.emissivity_setting,
            gun_k=None if own_c is None else own_c + ZERO_C_K,
        )
        return (np.asarray(shown_k) - ZERO_C_K) * (1.0 + view.gain)


def draw_other_grill(family: str, seed: int) -> OtherGrill:
    """Draw a grill of a family; the same seed gives the same grill."""
    if family not in FAMILIES:
        raise SystemExit(f"no family {family}; there are: make-believe, {', '.join(FAMILIES)}")
    random = np.random.default_rng([seed, FAMILIES.index(family), 20260101])
    grate, lines, valley = _grate(random, family)
    shape = round(grate.depth_mm / CELL_MM), round(grate.width_mm / CELL_MM)
    x_mm, y_mm = (
        (np.arange(count) + 0.5) / count * size for count, size in zip(shape[::-1], grate.extent_mm, strict=True)
    )
    cells_mm = np.column_stack([grid.ravel() for grid in np.meshgrid(x_mm, y_mm)])
    grill = _described(random, family, grate, lines)
    habit = "closed" if random.random() < 0.5 else "open"
    knobs = [burner for burner in grill.burners if burner.control != "none"]
    start = round(2.0 * random.uniform(3.5, 7.5)) / 2.0
    fire = _coal_bed(random, grate, cells_mm) if family == "coals" else _firebox(random, family, seed, lines, cells_mm)
    opened = np.array([burner.fraction(start) for burner in knobs])
    if family == "stuck":
        which = int(random.integers(len(knobs)))
        fire = replace(fire, held={which: 0.0 if seed % 2 else float(fire.given(opened)[which])})
    metal = _metal(random, family, grate, shape, cells_mm)
    usual = float(fire.heat(fire.shares(opened), 0.0).mean())
    metal = _scaled(random, metal, grill, habit, usual)
    return OtherGrill(
        grill=grill,
        fire=fire,
        metal=metal,
        view=_view(random, grill, valley, shape, usual),
        valley=valley,
        habit=habit,
        random=np.random.default_rng([seed, FAMILIES.index(family), 7]),
        marks={burner.name: start for burner in knobs},
        shape=shape,
        cells_mm=cells_mm,
        seconds_per_shot=random.uniform(4.0, 9.0),
        lag_s=random.uniform(40.0, 150.0),
        wind_sd=random.uniform(0.03, 0.1),
    )


Lines = dict[str, tuple[Point, ...]]


def _grate(random: np.random.Generator, family: str) -> tuple[Grate, Lines, str]:
    """Draw the grate, where its burners really lie, and what lies between its rails."""
    sizes = ([22.0, 24.0], [20.0, 22.0]) if family == "ring" else ([18.0, 22.0, 24.0, 28.0, 32.0], [16.0, 18.0, 20.0])
    width, depth = (float(random.choice(size)) * INCH_MM for size in sizes)
    sixteenths = int(random.integers(10, 16)), int(random.integers(3, 6))  # pitch and top as measured, in [C]
    pitch, top = (count / 16.0 * INCH_MM for count in sixteenths)
    grate = Grate(
        width_mm=width,
        depth_mm=depth,
        rails="front-to-back" if random.random() < 0.7 else "left-to-right",
        rail_pitch_mm=pitch,
        rail_top_mm=top,
        finish=str(random.choice(["cast iron, seasoned", "porcelain enamel", "carbon steel, seasoned"])),
    )
    valley = "open" if family == "coals" or random.random() < 0.3 else "floor"
    return grate, {} if family == "coals" else _lines(random, family, width, depth), valley


def _lines(random: np.random.Generator, family: str, width: float, depth: float) -> Lines:
    if family == "ring":
        centre, side = (0.5 * width, 0.5 * depth), min(width, depth)
        return {"outer": Burner.ring(centre, 0.34 * side), "inner": Burner.ring(centre, 0.13 * side)}
    inset = 1.5 * INCH_MM
    if random.random() < 0.75:
        count = int(round(width / random.uniform(5.0, 7.5) / INCH_MM))
        x_mm = (np.arange(count) + 0.5) / count * width
        return {f"burner {at + 1}": ((float(x), inset), (float(x), depth - inset)) for at, x in enumerate(x_mm)}
    count = int(random.choice([2, 3]))
    y_mm = (np.arange(count) + 0.5) / count * depth
    return {f"burner {at + 1}": ((inset, float(y)), (width - inset, float(y))) for at, y in enumerate(y_mm)}


def _described(random: np.random.Generator, family: str, grate: Grate, lines: Lines) -> Grill:
    """Draw what the cook says, which in some families is wrong."""
    middle = (random.uniform(480.0, 640.0) - 32.0) / 1.8
    told = {
        name: tuple(_told(point, family, grate, _across(points)) for point in points) for name, points in lines.items()
    }
    burners = tuple(Burner(name=name, points_mm=points) for name, points in told.items())
    return Grill(
        name=family,
        grate=grate,
        positions=Positions(rows=3, columns=5 if grate.width_mm > 29.0 * INCH_MM else 4),
        burners=burners or (Burner(name="coals", control="none"),),
        gun=Gun(),
        target=TargetBand(low_c=middle - 25.0 / 1.8, high_c=middle + 25.0 / 1.8, numbers="rail"),
    )


def _across(points: Sequence[Point]) -> int:
    """Return the axis, x or y, along which tubes lie beside each other."""
    return 0 if abs(points[0][0] - points[-1][0]) < abs(points[0][1] - points[-1][1]) else 1


def _told(point: Point, family: str, grate: Grate, axis: int) -> Point:
    """Return where the cook says that a point of a burner is."""
    extent = grate.extent_mm
    if family == "quarter-turn":
        return (1.0 - point[1] / extent[1]) * extent[0], point[0] / extent[0] * extent[1]
    moved = list(point)
    if family == "mirrored":
        moved[axis] = extent[axis] - point[axis]
    elif family == "shifted":
        moved[axis] += SHIFT_MM
    return moved[0], moved[1]


def _firebox(random: np.random.Generator, family: str, seed: int, lines: Lines, cells_mm: Array) -> Firebox:
    count = len(lines)
    spread_mm = random.uniform(45.0, 95.0) * (1.4 if family == "ring" else 1.0)  # of a plume at the grate [A]
    drift = random.normal([0.0, 10.0], 12.0)  # the draught goes up at the back [C]
    aside_mm = random.uniform(45.0, 75.0)  # from a tube to the edge of its tent [C]
    patterns, clogged = [], int(random.integers(count))
    for at, points in enumerate(lines.values()):
        places, ports = _ports(random, points)
        if family == "clogged" and at == clogged:
            half = np.arange(len(ports)) < len(ports) / 2
            ports = np.where(half if random.random() < 0.5 else ~half, random.uniform(0.05, 0.25), 1.0) * ports
        if family == "diffuser" and seed % 2:
            beside = np.zeros(2)
            beside[_across(points)] = aside_mm
            pattern = sum(
                _plumes(cells_mm, places + drift + side, ports, 0.75 * spread_mm) for side in (beside, -beside)
            )
        elif family == "diffuser":
            pattern = _plumes(cells_mm, places + drift + random.normal(0.0, 35.0, 2), ports, 2.0 * spread_mm)
            pattern = _round_the_edge(random.uniform(0.1, 0.35), pattern, cells_mm, places)
        else:
            pattern = _plumes(cells_mm, places + drift, ports, spread_mm)
        patterns.append(pattern)
    every = np.array(patterns)
    return Firebox(
        patterns=every / every.sum(axis=0).mean(),
        lowest=random.uniform(0.1, 0.35, count),  # turn-down 1:3 to 1:10 [C]
        curve=random.uniform(0.3, 3.0, count),
        strength=np.exp(random.normal(0.0, 0.2, count)),
        droop=random.uniform(0.0, 0.25),
        gas=random.uniform(0.4, 0.6) if family == "ring" else random.uniform(0.2, 0.5),
    )


def _ports(random: np.random.Generator, points: Sequence[Point]) -> tuple[Array, Array]:
    """Return places along a burner and what each gives: uneven, weaker towards its far end or its near one [C]."""
    corners = np.array(points)
    walked = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))])
    wanted = np.linspace(0.0, walked[-1], 48, endpoint=False) + walked[-1] / 96.0
    places = np.column_stack([np.interp(wanted, walked, corners[:, axis]) for axis in (0, 1)])
    fine = gaussian_filter(random.normal(0.0, 1.0, 48), 5.0)
    return places, np.maximum(1.0 + random.normal(0.0, 0.15) * np.linspace(-1, 1, 48) + 0.12 * fine / fine.std(), 0.1)


def _plumes(cells_mm: Array, places: Array, ports: Array, spread_mm: float) -> Array:
    square = ((cells_mm[:, None, :] - places[None, :, :]) ** 2).sum(axis=2)
    return np.exp(-0.5 * square / spread_mm**2) @ ports


def _round_the_edge(share: float, pattern: Array, cells_mm: Array, places: Array) -> Array:
    """Let a share of a burner's heat come up round the edge of the plate above it, nearest to the burner most."""
    extent = cells_mm.max(axis=0) + cells_mm.min(axis=0)
    edge_mm = np.minimum(cells_mm, extent - cells_mm).min(axis=1)
    far_mm = np.hypot(*(cells_mm[:, None] - places[None]).transpose(2, 0, 1)).min(axis=1)
    slot = np.exp(-edge_mm / 50.0 - far_mm / 200.0)
    return (1.0 - share) * pattern + share * slot * pattern.sum() / slot.sum()


def _coal_bed(random: np.random.Generator, grate: Grate, cells_mm: Array) -> CoalBed:
    count = int(random.integers(30, 46))
    places = random.uniform(0.0, 1.0, (count, 2)) * np.array(grate.extent_mm)
    size = np.exp(random.normal(0.0, 0.5, count))
    square = ((cells_mm[None, :, :] - places[:, None, :]) ** 2).sum(axis=2)
    bed = size[:, None] * np.exp(-0.5 * square / random.uniform(60.0, 95.0) ** 2)
    return CoalBed(
        heaps=bed,
        life_min=60.0 * np.exp(random.normal(0.0, 0.4, count)),  # [C]
        fall_min=random.uniform(300.0, 900.0),
    )


def _metal(random: np.random.Generator, family: str, grate: Grate, shape: tuple[int, int], cells_mm: Array) -> Metal:
    """Draw metal and losses; the heat is scaled afterwards."""
    thick_m = grate.rail_top_mm * grate.rail_height_mm / grate.rail_pitch_mm / 1000.0
    along = random.choice([50.0, 17.0], p=[0.75, 0.25]) * thick_m * random.uniform(0.8, 1.3)  # iron, stainless [H]
    across = along * random.uniform(0.05, 0.3)  # [C]
    in_x, in_y = (across, along) if grate.rails == "front-to-back" else (along, across)
    rows, columns = shape
    step_x, step_y = grate.width_mm / columns / 1000.0, grate.depth_mm / rows / 1000.0
    conduction = kron(identity(rows), in_x / step_x**2 * _second_differences(columns))
    conduction = conduction + kron(in_y / step_y**2 * _second_differences(rows), identity(columns))
    x, y = (2.0 * cells_mm / np.array(grate.extent_mm) - 1.0).T
    wind_x, wind_y = random.normal(0.0, 0.2, 2)
    return Metal(
        conduction=conduction.tocsc(),
        capacity=3.8e6 * thick_m * random.uniform(0.8, 1.2),  # J/(m³ K), iron and steel [H]
        gas_w_m2k=random.uniform(8.0, 18.0),  # gases, forced slowly [H]
        gas_rise_k=0.0,
        cover_emissivity=random.uniform(0.75, 0.95) if family == "coals" else random.uniform(0.3, 0.7),
        cover_k4=0.0,
        top_w_m2k=random.uniform(7.0, 16.0) * np.maximum(1.0 + 0.5 * (wind_x * x + wind_y * y), 0.2),
        top_emissivity=random.uniform(0.55, 0.85),  # oxidised iron, per area of grate [H]
        lid_keeps=random.uniform(0.35, 0.55),
        wall_w_m2=_wall(random, family, cells_mm, grate),
        air_k=ZERO_C_K + 24.0 + random.normal(0.0, 5.0),
    )


def _second_differences(count: int) -> csc_matrix:
    """Return the matrix of second differences with insulated ends."""
    middle = np.full(count, -2.0)
    middle[[0, -1]] = -1.0
    return diags([np.ones(count - 1), middle, np.ones(count - 1)], [-1, 0, 1]).tocsc()


def _wall(random: np.random.Generator, family: str, cells_mm: Array, grate: Grate) -> Array:
    """Return what the walls give to the edges, or take, W/m²; out to 60 mm or so [A]."""
    back, front = random.normal(0.0, 500.0, 2)
    if family == "clogged":
        back, front = random.uniform(1500.0, 3500.0), -random.uniform(1000.0, 3000.0)
    wall = back * np.exp((cells_mm[:, 1] - grate.depth_mm) / 60.0) + front * np.exp(-cells_mm[:, 1] / 60.0)
    if family == "ring":
        radius = np.hypot(*(cells_mm - 0.5 * np.array(grate.extent_mm)).T) / (0.5 * min(grate.extent_mm))
        wall = wall - random.uniform(500.0, 2000.0) * np.clip((radius - 0.85) / 0.4, 0.0, 1.0)
    return wall


def _scaled(random: np.random.Generator, metal: Metal, grill: Grill, habit: str, usual: float) -> Metal:
    """Give the metal the gas and the covers that hold it near the middle of the band at this heat."""
    kelvin = grill.target.middle_c + random.normal(0.0, 15.0) + ZERO_C_K
    kept = 1.0 - metal.lid_keeps if habit == "closed" else 1.0
    glow = metal.top_emissivity * STEFAN_BOLTZMANN * (kelvin**4 - metal.air_k**4)
    lost = kept * (float(metal.top_w_m2k.mean()) * (kelvin - metal.air_k) + glow)
    by_gas = random.uniform(0.2, 0.4) if grill.name == "coals" else random.uniform(0.35, 0.65)
    rise = kelvin - metal.air_k + by_gas * lost / metal.gas_w_m2k
    glowing = kelvin**4 - metal.air_k**4 + (1.0 - by_gas) * lost / metal.cover_emissivity / STEFAN_BOLTZMANN
    return replace(metal, gas_rise_k=rise / usual, cover_k4=glowing / usual)


def _view(random: np.random.Generator, grill: Grill, valley: str, shape: tuple[int, int], usual: float) -> View:
    """Draw how the gun and the probe see this grate."""
    grate = grill.grate
    half = np.sqrt(3.0) * grate.rail_emissivity_sd
    emissivity = float(np.clip(grate.rail_emissivity + random.uniform(-half, half), 0.3, 0.98))
    patches = [random.normal(size=shape) for _ in range(2)]
    patches[0] = gaussian_filter(patches[0], random.uniform(40.0, 120.0) / CELL_MM, mode="reflect")
    mixed = sum(one / one.std() for one in patches) * np.sqrt(0.5)
    groove = grate.rail_height_mm / (grate.rail_pitch_mm - grate.rail_top_mm)
    floor = valley == "floor"
    reads_low_c = 1.25 * grill.probe.reads_low_c  # the mean of a half-normal is 0.8 of its scale
    return View(
        emissivity=emissivity,
        patches=(random.uniform(0.01, 0.04) * mixed).ravel(),
        valley_emissivity=float(groove_emissivity(emissivity, groove)) if floor else random.uniform(0.85, 0.98),
        valley_excess_c=random.normal(4.0, 10.0) if floor else random.normal(0.0, 5.0),
        valley_per_heat_c=random.uniform(0.0, 25.0) if floor else 0.0,
        valley_covers=0.0 if floor else random.uniform(*((0.3, 1.0) if grill.name == "coals" else (0.02, 0.25))),
        usual_heat=usual,
        reflected_k=grill.surroundings.reflected_c + random.normal(0.0, grill.surroundings.reflected_sd_c) + ZERO_C_K,
        gain=random.uniform(-1.0, 1.0) * grill.gun.accuracy_percent / 100.0,
        gain_wander=0.0015,
        halo=random.uniform(0.05, 0.15),  # 90 % of the energy inside the spot (ASTM E1256, from memory)
        phase_mm=random.uniform(0.0, grate.rail_pitch_mm),
        probe_off_c=random.uniform(-1.0, 1.0) * grill.probe.accuracy_c,
        probe_low_c=reads_low_c * random.uniform(0.5, 1.5),
    )
