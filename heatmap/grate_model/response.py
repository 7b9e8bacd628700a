"""How each place of the grate answers to each knob, as far as geometry and a heat balance tell it before any change.

Heat from the burners adds up; temperature does not, because the losses grow faster than the temperature. So all
learning is done on a *heat scale*: the loss of the grate at a temperature, in °C of the middle of the band
(:class:`HeatScale`). On it the surface is linear in what the burners give::

    heat(x) = base(x) + Σ_b [ a_b(x) (f_b + o) + c_b(x) bend(f_b) ]

with f_b the opening of burner b (0 lowest steady flame, 1 fully open) and o what the lowest flame gives. The field a_b
is a weighted sum of patterns that follow from where the burner lies: a narrow one, a wide one, a share that goes
everywhere, and one that leans to one end. The second term lets a knob open fast first or last. The weights are what is
not known; their prior is below. Burners may lie mirrored or turned against what the grill file says, as a slip while
telling it would have it.
"""

from collections.abc import Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass
from enum import Enum
from functools import lru_cache
from typing import Self

import numpy as np

from heatmap.gaussian import lower_triangle
from heatmap.grill.burner import Burner, along_line
from heatmap.grill.grate import Grate, Point
from heatmap.grill.grill import Grill
from heatmap.physics.planck import STEFAN_BOLTZMANN
from heatmap.units import FloatArray, Number, inside_value, k_from_c

#: Loss of a grate: convection of both faces 20 W/(m² K), radiation of 0.9 of a black face. Free and light forced
#: convection of gases 2 to 25 and 25 to 250 W/(m² K), oxidised iron 0.64 to 0.78 before grooves (Incropera et al.,
#: Fundamentals of Heat and Mass Transfer, table 1.1 and appendix A, from memory). Only the curvature matters here.
CONVECTION_W_M2K, EMISSIVITY_AREA = 20.0, 0.9

#: Heat of the lowest steady flame over that fully open; gas valves turn down 1:2 to 1:8 (common practice, no source).
#: Settled with BEND_MEAN and OWN_STRENGTH_SD on make-believe grills, seeds 0-89 and 700-789: before, with 0.2, 0 and
#: 0.3, a first turn brought 77 % of what the best would and a second 89; now 79 and 91. Seeds 1840-1979, not chosen
#: on: 77 and 87, now 78 and 89. A strength of 0.45 is as good, and notices fewer marks written down wrong.
LOWEST_SHARE = 0.15
#: Standard deviation of the logarithm of a burner's strength against what one map says: common to all burners, and each
#: for itself. The rise per mark of a first map overstates the slope by 1.4 to 2.9 (trials), a third either way.
COMMON_STRENGTH_SD, OWN_STRENGTH_SD = 0.35, 0.35
#: The same, and that of its bend, of a burner that is set in degrees: a thermostat keeps to them. Assumed.
SETPOINT_SD = 0.1
#: The wide pattern of a burner reaches so many times as far as its narrow one; assumed.
WIDE_TIMES = 2.0
#: Prior shares of the narrow pattern, the wide one and the heat that goes everywhere; and how loosely they are held.
SHAPE = np.array([0.40, 0.35, 0.25])
SHAPE_LOOSENESS = 0.35
#: Standard deviation of how much more one end of a burner gives than the other, over its mean.
LEAN_SD = 0.2
#: By how much the exponent of a knob is less than one, as most valves open fast first, and its standard deviation:
#: valves differ by about a square root to a square (common practice, no source). With a deviation of 0.5 the second
#: turn on make-believe grills (seeds 0-89 and 700-789) brought 90 % of what the best would instead of 89, and a mark
#: written down wrong was noticed on 17 of 60 instead of 21.
BEND_MEAN, BEND_SD = 0.2, 0.35
#: Weights per burner: narrow, wide, everywhere, lean, bend.
PER_BURNER = 5
#: Lines whose corners are no farther than this from each other's lie alike [mm].
ALIKE_MM = 25.4

Lines = tuple[tuple[Point, ...], ...]


class Layout(Enum):
    """How the burners lie, against what the grill file says: what takes a point from where it is told to where it is;
    from the middle of the grate, over half of its sides.
    """

    AS_TOLD = ((1.0, 0.0), (0.0, 1.0))
    LEFT_TO_RIGHT = ((-1.0, 0.0), (0.0, 1.0))
    FRONT_TO_BACK = ((1.0, 0.0), (0.0, -1.0))
    HALF_TURN = ((-1.0, 0.0), (0.0, -1.0))
    QUARTER_TURN = ((0.0, -1.0), (1.0, 0.0))
    QUARTER_TURN_BACK = ((0.0, 1.0), (-1.0, 0.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatScale:
    """Temperature [°C] to lost heat in °C at the middle of the band, and back."""

    air_c: float
    middle_c: float

    def heat(self, celsius: FloatArray) -> FloatArray:
        """Return the loss at these temperatures; rises by 1 per °C at the middle of the band, 0 in air."""
        air_k, kelvin = k_from_c(self.air_c), celsius + 273.15
        convective = CONVECTION_W_M2K * (celsius - self.air_c)
        radiative = EMISSIVITY_AREA * STEFAN_BOLTZMANN * (kelvin**4 - air_k**4)
        return np.asarray((convective + radiative) / _more_lost(self.middle_c))

    def celsius_per_heat(self, heat: FloatArray) -> FloatArray:
        """Return by how many °C the temperature rises per unit of loss."""
        return _more_lost(self.middle_c) / _more_lost(self.celsius(heat))

    def celsius(self, heat: FloatArray) -> FloatArray:
        """Return the temperature of a loss, by table (error below 0.01 °C)."""
        return np.interp(heat, *_table(self))


def _more_lost(celsius: Number) -> Number:
    """Return how much more is lost per degree at these temperatures [W/(m² K)]."""
    return CONVECTION_W_M2K + 4.0 * EMISSIVITY_AREA * STEFAN_BOLTZMANN * k_from_c(celsius) ** 3


@lru_cache(maxsize=4)
def _table(scale: HeatScale) -> tuple[FloatArray, FloatArray]:
    """Return losses, rising, and their temperatures."""
    celsius = np.linspace(-150.0, 1500.0, 3301)
    return scale.heat(celsius), celsius


class Response:
    """Patterns of every burner that can be set, and the prior of their weights before any change has been seen.

    Attributes
    ----------
    grate : Grate
    burners : tuple of Burner
        Those with a knob, a setpoint or vents.
    layout, lines_mm : Layout, tuple of tuple of (x, y)
        How they are taken to lie: the corners of the line of each.
    reach_mm : float
        Of the narrow pattern.
    strengths : ndarray (burners,)
        Prior mean of the sum of a burner's first three weights.
    offset : float
        Opening that stands for the heat of the lowest flame.
    weight_mean : ndarray (burners × PER_BURNER,)
    weight_cov, weight_factor : ndarray, square
        Prior covariance of the weights, and its triangle of Cholesky.

    Notes
    -----
    If all heat comes from the burners and the lowest flame gives :data:`LOWEST_SHARE` of the full one, the mean rises
    by mean_heat / (f + s bend(f) + low / (1 − low)) from the lowest to full.
    """

    def __init__(self, grill: Grill, mean_heat: float, openings: FloatArray, reach_mm: float) -> None:
        """Believe what geometry and a heat balance tell of one reach, by the mean of the newest round on the heat scale
        and the opening of each burner in it, (burners,).
        """
        self.grate, self.burners, self.reach_mm = grill.grate, grill.settable, reach_mm
        self.layout, self.lines_mm = Layout.AS_TOLD, tuple(burner.points_mm for burner in self.burners)
        told = np.array([burner.control == "setpoint" for burner in self.burners], dtype=bool)
        bends = np.where(told, 0.0, BEND_MEAN)
        opened = float(np.mean(openings + bends * bend(openings))) if self.burners else 0.0
        by_heat = mean_heat / (opened + LOWEST_SHARE / (1.0 - LOWEST_SHARE))
        spans_c = [inside_value(burner.high - burner.low, "difference", grill.units) for burner in self.burners]
        self.strengths = np.where(told, spans_c, by_heat)
        self.offset = mean_heat / float(self.strengths.mean()) - opened if self.burners else 0.0
        own_sd, common_sd, bend_sd = np.where(told, SETPOINT_SD, [[OWN_STRENGTH_SD], [COMMON_STRENGTH_SD], [BEND_SD]])
        shape = np.append(SHAPE, [0.0, 0.0])  # no lean is expected, and a bend apart
        mean, square = np.outer(self.strengths, shape), np.outer(shape, shape)
        self.weight_mean = np.column_stack([mean[:, :4], self.strengths * bends]).ravel()
        each = own_sd[:, None, None] ** 2 * square + SHAPE_LOOSENESS * (np.diag(shape) - square)
        each[:, 3, 3], each[:, 4, 4] = LEAN_SD**2, bend_sd**2
        at, common = np.arange(len(self.burners)), (common_sd[:, None] * mean).ravel()
        own = np.zeros((*mean.shape, *mean.shape))
        own[at, :, at] = self.strengths[:, None, None] ** 2 * each
        self.weight_cov = own.reshape(mean.size, mean.size) + np.outer(common, common)
        # It changes little with the covariance; eigenvectors of burners that are alike do not, and samples with them.
        self.weight_factor = lower_triangle(self.weight_cov)

    def laid(self, layout: Layout, lines_mm: Lines) -> Self:
        """Return the response of the same burners in another layout."""
        other = copy(self)
        other.layout, other.lines_mm = layout, lines_mm
        return other

    def openings(self, settings: Mapping[str, float]) -> FloatArray:
        """Return the opening of each burner at these marks, shape (burners,)."""
        return np.array([burner.fraction(settings[burner.name]) for burner in self.burners])

    def patterns(self, points_mm: FloatArray) -> FloatArray:
        """Return the patterns at points (n, 2), shape (burners, PER_BURNER, n)."""
        if not self.burners:
            return np.zeros((0, PER_BURNER, len(points_mm)))
        each = [pattern(self.grate, line_mm, self.reach_mm, points_mm.tobytes()) for line_mm in self.lines_mm]
        return np.stack(each) / len(each)

    def design(self, patterns: FloatArray, openings: FloatArray) -> FloatArray:
        """Return what each weight adds at n sites, (n, burners × PER_BURNER).

        By the patterns there (burners, PER_BURNER, n) and how far the burners are open (n, burners).
        """
        factors = np.stack([*[openings + self.offset] * (PER_BURNER - 1), bend(openings)], axis=-1)
        return np.asarray((np.moveaxis(patterns, -1, 0) * factors).reshape(len(openings), -1))


def bend(openings: FloatArray) -> FloatArray:
    """Return −f ln f: by how much f^(1 − s), the heat of a valve that opens fast first, exceeds f, per small s."""
    return -np.asarray(openings * np.log(np.maximum(openings, 1e-12)))


@lru_cache(maxsize=256)  # of the same few places, whichever rounds are asked about
def pattern(grate: Grate, line_mm: tuple[Point, ...], reach_mm: float, places_mm: bytes) -> FloatArray:
    """Return where the heat of a burner along a line lands at n places (n, 2), as bytes, shape (PER_BURNER, n).

    Narrow, wide, everywhere, leaning and mixed; over the grate all but leaning have mean 1.
    """
    places = np.frombuffer(places_mm).reshape(-1, 2)
    everywhere = np.ones(len(places))
    narrow, wide, leaning = everywhere, everywhere, 0.0 * everywhere
    if line_mm:
        narrow_mean, wide_mean = _means(grate, line_mm, reach_mm)
        glow, wide_glow, along = _glows(places, line_mm, reach_mm)
        narrow, wide = glow.mean(axis=1) / narrow_mean, wide_glow.mean(axis=1) / wide_mean
        leaning = glow @ along / len(along) / narrow_mean
    return np.stack([narrow, wide, everywhere, leaning, SHAPE[0] * narrow + SHAPE[1] * wide + SHAPE[2]])


@lru_cache(maxsize=128)
def _means(grate: Grate, line_mm: tuple[Point, ...], reach_mm: float) -> tuple[float, float]:
    """Return the means over the grate of a line's heat, narrow and wide."""
    x_mm, y_mm = grate.cells_mm(2 * 25.4)
    cells = np.column_stack([axis.ravel() for axis in np.meshgrid(x_mm, y_mm)])
    narrow, wide, _ = _glows(cells[grate.edge_distance_mm(cells) >= 0.0], line_mm, reach_mm)
    return float(narrow.mean()), float(wide.mean())


def _glows(
    places_mm: FloatArray, line_mm: tuple[Point, ...], reach_mm: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the heat at n places of k small sources along a line, narrow and wide, (n, k) each, and how far along they
    are, (k,).

    Of a source a height, the reach, below a plane: inverse square and cosine law.
    """
    ports_mm, along = _ports(line_mm)
    square = sum(np.subtract.outer(places_mm[:, axis], ports_mm[:, axis]) ** 2 for axis in (0, 1))
    near, far = (1.0 + square / reach**2 for reach in (reach_mm, WIDE_TIMES * reach_mm))
    return 1.0 / (near * np.sqrt(near)), 1.0 / (far * np.sqrt(far)), along


def _ports(points_mm: tuple[Point, ...], count: int = 16) -> tuple[FloatArray, FloatArray]:
    """Return points evenly along a burner's line, and how far along they are from −1 to 1 (a ring: left to right)."""
    ports = along_line(points_mm, count)
    if np.allclose(points_mm[0], points_mm[-1]):
        off = ports[:, 0] - ports[:, 0].mean()
        return ports, off / max(float(np.abs(off).max()), 1e-9)
    return ports, 2.0 * (np.arange(count) + 0.5) / count - 1.0


def other_lines(grate: Grate, burners: Sequence[Burner]) -> Iterator[tuple[Layout, Lines]]:
    """Yield the layouts that differ from the one told and from one another, and the corners of the burners' lines in
    each.
    """
    told = tuple(burner.points_mm for burner in burners)
    seen = [told]
    for layout in Layout:
        lines = tuple(_moved(grate, points, np.array(layout.value)) for points in told)
        if not any(all(map(_alike, lines, other)) for other in seen):
            seen.append(lines)
            yield layout, lines


def _moved(grate: Grate, points_mm: tuple[Point, ...], move: FloatArray) -> tuple[Point, ...]:
    half = 0.5 * np.array(grate.extent_mm)
    moved = ((np.reshape(points_mm, (-1, 2)) / half - 1.0) @ move.T + 1.0) * half
    return tuple((float(x), float(y)) for x, y in moved)


def _alike(one: tuple[Point, ...], two: tuple[Point, ...]) -> bool:
    """Tell whether a burner's line lies where another does, whichever end it begins at."""
    apart = np.hypot(*(np.reshape(one, (-1, 1, 2)) - np.reshape(two, (1, -1, 2))).T)
    return not apart.size or float(max(apart.min(axis=0).max(), apart.min(axis=1).max())) <= ALIKE_MM
