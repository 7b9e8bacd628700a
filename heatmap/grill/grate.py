"""The grate: its outline, its rails, and where its labelled positions lie."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from heatmap.errors import GrillError
from heatmap.grill.schema import Section, key
from heatmap.physics.finishes import find_finish
from heatmap.units import ArrayLike, FloatArray

#: Standard deviation of an emissivity given without one: that of the built-in finishes in daily use
#: (assumed).
USUAL_EMISSIVITY_SD = 0.05
Point = tuple[float, float]
NO_METAL_BRIGHTER = "no metal is brighter; for common finishes see: gratemap manual physics"
#: At every inch and a half of a 24 by 18 in grate there are fewer; what to shoot next weighs each against all others.
MOST_POSITIONS = 300
#: Some 72 by 36 in, larger than any grate one cook stands at (common practice, no source); its cells are all weighed
#: against one another, and four times as many take gigabytes.
LARGEST_M2 = 1.7
#: On a round grate positions of the rows and columns lie within so many radii, before they are spread to the margin: it
#: makes 12 of 4 × 4, 20 of 6 × 4, 21 of 5 × 5 and 24 of 6 × 6, each a round figure. Every row and column keeps one.
_DISC = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class Grate(Section, table="grate"):
    """The grate: its outline, its rails and what they are made of.

    Attributes
    ----------
    shape : {"rectangle", "round"}
        Of a round grate the width and the depth are both its diameter.
    width_mm, depth_mm : float
        Left to right, front to back.
    surface : {"rails", "plate"}
        A plate is solid: whatever is said of rails, its top takes in all of it.
    valley : {"floor", "open"} or None
        What lies between the rails: a closed floor, or open to the fire; None where nobody said
        (:attr:`Grill.valley` then tells the usual).
    rails : {"front-to-back", "left-to-right"}
        The way the rails run.
    rail_pitch_mm, rail_top_mm, rail_height_mm : float
        Centre to centre; width of the top the food touches; height.
    finish : str
        A name from :data:`heatmap.physics.finishes.FINISHES`; used where `emissivity` is not given.
    emissivity, emissivity_sd : float or None
        Emissivity of the rail tops in the gun's band and its standard deviation.
    emissivity_patch_sd : float
        Standard deviation of the emissivity from place to place.
    rim_mm : float
        Edge left out of shares and spreads.
    seams_mm : tuple of float
        Where separate panels meet: x when the rails run front to back, else y.
    """

    shape: Literal["rectangle", "round"] = key(
        default="rectangle", comment='"rectangle", or "round": width is the diameter'
    )
    width_mm: float = key("length", 50.0, 5000.0, comment="left to right")
    depth_mm: float = key("length", 50.0, 5000.0, comment="front to back")
    surface: Literal["rails", "plate"] = key(default="rails", comment='"rails", or "plate": solid')
    valley: Literal["floor", "open"] | None = key(
        default=None, comment='between the rails: closed, or "open" to the fire'
    )
    rails: Literal["front-to-back", "left-to-right"] = key(default="front-to-back", comment="or the other way")
    rail_pitch_mm: float = key("length", 1.0, 200.0, default=0.75 * 25.4, comment="rails from centre to centre")
    rail_top_mm: float = key("length", 0.2, 200.0, default=0.25 * 25.4, comment="width of the top the food touches")
    rail_height_mm: float = key("length", 0.0, 200.0, default=0.5 * 25.4)
    finish: str = key(default="cast iron, seasoned")
    emissivity: float | None = key("number", 0.01, 1.0, default=None, reason=NO_METAL_BRIGHTER)
    emissivity_sd: float | None = key("number", 0.0, 0.5, default=None)
    emissivity_patch_sd: float = key("number", 0.0, 0.5, default=0.03, comment="from place to place")
    rim_mm: float = key("length", 0.0, 1000.0, default=25.4, comment="edge left out of shares and spreads")
    seams_mm: tuple[float, ...] = key(
        "length",
        0.0,
        5000.0,
        low_open=True,
        many=True,
        default=(),
        reason="each is one more unknown of the map",
        comment="where separate panels meet",
    )

    def __post_init__(self) -> None:
        if self.surface == "plate":
            object.__setattr__(self, "rail_top_mm", self.rail_pitch_mm)
        Section.__post_init__(self)

    def faults(self) -> Iterator[GrillError]:
        """Yield what does not fit together."""
        if self.shape == "round" and not math.isclose(self.width_mm, self.depth_mm, rel_tol=1e-6):
            yield GrillError("grate.depth is not grate.width, the diameter of a round grate; leave depth out")
        most_mm = 1e6 * LARGEST_M2 / min(self.extent_mm)
        if max(self.extent_mm) > most_mm:
            longer = "width" if self.width_mm >= self.depth_mm else "depth"
            yield self.too_large(longer, most_mm, "or it is larger than any grate: describe the part you cook on")
        side_mm, across_mm = min(self.extent_mm), self.extent_mm["xy".index(self.seam_axis)]
        if self.rail_top_mm > self.rail_pitch_mm * (1 + 1e-9):  # equal after rounding of inches is a solid plate
            yield self.too_large("rail_top", self.rail_pitch_mm, "grate.rail_pitch from centre to centre")
        if 2 * self.rim_mm >= side_mm:
            yield self.too_large("rim", 0.5 * side_mm, "half the shorter side")
        for seam_mm in self.seams_mm:
            if seam_mm >= across_mm:
                yield self.too_large("seams", across_mm, "the size of the grate across the rails", seam_mm)
        if self.emissivity is None:
            try:
                find_finish(self.finish)
            except GrillError as fault:
                yield fault

    @property
    def extent_mm(self) -> Point:
        """(width, depth) in mm."""
        return (self.width_mm, self.depth_mm)

    @property
    def is_round(self) -> bool:
        """Whether it is a disc."""
        return self.shape == "round"

    def edge_distance_mm(self, points_mm: ArrayLike) -> FloatArray:
        """Return how far inside the edge points (m, 2) lie, (m,); negative off the grate."""
        import numpy as np

        points, extent = np.asarray(points_mm, dtype=float).reshape(-1, 2), np.array(self.extent_mm)
        if self.is_round:
            return np.asarray(0.5 * extent[0] - np.hypot(*(points - 0.5 * extent).T))
        return np.asarray(np.minimum(points, extent - points).min(axis=1))

    @property
    def rail_emissivity(self) -> float:
        """Mean emissivity of the rail tops, given or from the finish."""
        return find_finish(self.finish).emissivity if self.emissivity is None else self.emissivity

    @property
    def rail_emissivity_sd(self) -> float:
        """Standard deviation of :attr:`rail_emissivity`."""
        if self.emissivity_sd is not None:
            return self.emissivity_sd
        return find_finish(self.finish).emissivity_sd if self.emissivity is None else USUAL_EMISSIVITY_SD

    @property
    def seam_axis(self) -> Literal["x", "y"]:
        """The coordinate that changes when a seam is crossed."""
        return "x" if self.rails == "front-to-back" else "y"

    def cells_mm(self, step_mm: float) -> tuple[FloatArray, FloatArray]:
        """Return the cell centres along x (m,) and y (k,) of a regular division into about `step_mm`
        cells."""
        import numpy as np

        counts = [max(2, round(size_mm / step_mm)) for size_mm in self.extent_mm]
        x_mm, y_mm = ((np.arange(n) + 0.5) * (mm / n) for n, mm in zip(counts, self.extent_mm, strict=True))
        return np.asarray(x_mm, dtype=float), np.asarray(y_mm, dtype=float)


@dataclass(frozen=True, slots=True, kw_only=True)
class Positions(Section, table="positions"):
    """The labelled positions: rows lettered from the back (A), columns numbered from the left (1).

    On a round grate those of the rows and columns that would lie off the disc are left out.
    """

    rows: int = key("count", 1, 26, default=3)
    columns: int = key("count", 1, 99, default=4)
    margin_mm: float = key("length", 0.0, 2000.0, default=2.5 * 25.4, comment="from the edge to the outermost position")

    def faults(self) -> Iterator[GrillError]:
        """Yield what does not fit together."""
        if self.rows * self.columns > MOST_POSITIONS:
            count = f"positions.rows times columns is {self.rows * self.columns}"
            why = "every position is weighed against all others to say which to shoot next"
            yield GrillError(f"{count}; it must be at most {MOST_POSITIONS}: {why}")


@lru_cache(maxsize=64)
def places_mm(grate: Grate, positions: Positions) -> Mapping[str, Point]:
    """Return where every position lies, by label."""
    rows, columns, margin = positions.rows, positions.columns, positions.margin_mm
    cells = [(row, column) for row in range(rows) for column in range(columns)]
    if not grate.is_round:
        x_mm = [_spread(column, columns, margin, grate.width_mm) for column in range(columns)]
        y_mm = [_spread(rows - 1 - row, rows, margin, grate.depth_mm) for row in range(rows)]
        return {label_of(row, column): (x_mm[column], y_mm[row]) for row, column in cells}
    u = [(2 * column + 1 - columns) / columns for column in range(columns)]
    v = [(rows - 1 - 2 * row) / rows for row in range(rows)]
    most = max(_DISC, math.hypot(max(u), min(map(abs, v))), math.hypot(max(v), min(map(abs, u)))) + 1e-9
    kept = [(row, column) for row, column in cells if math.hypot(u[column], v[row]) <= most]
    radius = 0.5 * grate.width_mm
    scale = (radius - margin) / max(max(math.hypot(u[column], v[row]) for row, column in kept), 1e-9)
    return {label_of(row, column): (radius + scale * u[column], radius + scale * v[row]) for row, column in kept}


def _spread(index: int, count: int, margin_mm: float, size_mm: float) -> float:
    if count == 1:
        return 0.5 * size_mm
    return margin_mm + index * (size_mm - 2 * margin_mm) / (count - 1)


def label_of(row: int, column: int) -> str:
    """Return the label of a position: the back row is A, the leftmost column 1."""
    return f"{chr(65 + row)}{column + 1}"
