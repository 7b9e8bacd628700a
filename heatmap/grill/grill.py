"""The grill as the cook describes it: grate, positions, burners, gun, target band, surroundings.

Everything here is in mm and °C. The defaults are those of a common gas grill and a common gun: common practice, no
source, where no other is named; `gratemap grill check` prints which of them were taken.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields
from functools import lru_cache, partial
from typing import TYPE_CHECKING, ClassVar, Literal

from heatmap.errors import GrillError, ReadingError, quoted
from heatmap.grill.quantities import Units, inside_value
from heatmap.grill.schema import Section, key
from heatmap.physics.finishes import find_finish
from heatmap.units import BoolArray, FloatArray

if TYPE_CHECKING:  # the commands that only read a grill file, or draw a blank sheet, start without numpy
    from numpy.typing import ArrayLike

#: Standard deviation of an emissivity given without one: that of the built-in finishes in daily use
#: (assumed).
USUAL_EMISSIVITY_SD = 0.05

_LABEL = re.compile(r"([A-Za-z])(\d{1,3})", re.ASCII)
Point = tuple[float, float]
#: Two opposite corners, x0, y0, x1, y1.
Box = tuple[float, float, float, float]

#: No hand sets a dial finer than this between its ends; whoever looks for the best marks tries them all.
MOST_STEPS = 2000
#: Marks are numbers on a dial, or degrees of a thermostat.
FARTHEST_MARK = 5000.0
NO_METAL_BRIGHTER = "no metal is brighter; for common finishes see: gratemap manual physics"
#: At every inch and a half of a 24 by 18 in grate there are fewer; what to shoot next weighs each against all others.
MOST_POSITIONS = 300
#: Every one is one more dial to search.
MOST_BURNERS = 24
#: Some 72 by 36 in, larger than any grate one cook stands at (common practice, no source); its cells are all weighed
#: against one another, and four times as many take gigabytes.
LARGEST_M2 = 1.7


@dataclass(frozen=True, slots=True, kw_only=True)
class Grate(Section):
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

    table: ClassVar[str] = "grate"

    shape: Literal["rectangle", "round"] = key(
        words=("rectangle", "round"), default="rectangle", comment='"rectangle", or "round": width is the diameter'
    )
    width_mm: float = key("length", 50.0, 5000.0, comment="left to right")
    depth_mm: float = key("length", 50.0, 5000.0, comment="front to back")
    surface: Literal["rails", "plate"] = key(
        words=("rails", "plate"), default="rails", comment='"rails", or "plate": solid'
    )
    valley: Literal["floor", "open"] | None = key(
        words=("floor", "open"), default=None, comment='between the rails: closed, or "open" to the fire'
    )
    rails: Literal["front-to-back", "left-to-right"] = key(
        words=("front-to-back", "left-to-right"), default="front-to-back", comment="or the other way"
    )
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

        columns = max(2, round(self.width_mm / step_mm))
        rows = max(2, round(self.depth_mm / step_mm))
        x_mm = (np.arange(columns) + 0.5) * (self.width_mm / columns)
        y_mm = (np.arange(rows) + 0.5) * (self.depth_mm / rows)
        return np.asarray(x_mm, dtype=float), np.asarray(y_mm, dtype=float)


@dataclass(frozen=True, slots=True, kw_only=True)
class Positions(Section):
    """The labelled positions: rows lettered from the back (A), columns numbered from the left (1).

    On a round grate those of the rows and columns that would lie off the disc are left out.
    """

    table: ClassVar[str] = "positions"

    rows: int = key("count", 1, 26, default=3)
    columns: int = key("count", 1, 99, default=4)
    margin_mm: float = key("length", 0.0, 2000.0, default=2.5 * 25.4, comment="from the edge to the outermost position")

    def faults(self) -> Iterator[GrillError]:
        """Yield what does not fit together."""
        if self.rows * self.columns > MOST_POSITIONS:
            count = f"positions.rows times columns is {self.rows * self.columns}"
            why = "every position is weighed against all others to say which to shoot next"
            yield GrillError(f"{count}; it must be at most {MOST_POSITIONS}: {why}")


_mark = partial(key, "number", -FARTHEST_MARK, FARTHEST_MARK, reason="no dial goes farther")
Control = Literal["knob", "setpoint", "vents", "none"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Burner(Section):
    """A source of heat under the grate and the control that sets it.

    Attributes
    ----------
    name : str
    control : {"knob", "setpoint", "vents", "none"}
    points_mm : tuple of (x, y)
        Corners of the line the heat comes from (a ring is a closed polygon); may lie outside the grate; empty
        when unknown.
    low, high, step : float
        Mark of the lowest steady flame, mark fully open, finest turn a hand can set. For a setpoint they are
        temperatures in the units of the grill file.
    marks : tuple of str
        Named marks in order, evenly spaced between `low` and `high`: a step is from one to the next.
    """

    table: ClassVar[str] = "burner"

    name: str = key()
    control: Control = key(
        words=("knob", "setpoint", "vents", "none"),
        default="knob",
        comment='"knob", "setpoint", "vents" or "none" (coals that can only be moved)',
    )
    points_mm: tuple[Point, ...] = ()
    low: float = _mark(default=1.0, comment="mark of the lowest steady flame")
    high: float = _mark(default=10.0, comment="mark fully open")
    step: float = key(
        "number", 0.0, FARTHEST_MARK, low_open=True, default=0.5, comment="the finest turn a hand can set"
    )
    marks: tuple[str, ...] = key(many=True, most=60, default=(), reason="no dial has room for more")

    def __post_init__(self) -> None:
        if len(self.marks) > 1 and self.low < self.high:
            object.__setattr__(self, "step", (self.high - self.low) / (len(self.marks) - 1))
        Section.__post_init__(self)

    def prefix(self) -> str:
        """Return what stands before a key in a message."""
        return f'burner "{self.name}": '

    def faults(self) -> Iterator[GrillError]:
        """Yield what does not fit together."""
        if not self.name.strip():
            yield GrillError("burner.name is empty; give each burner a name")
            return
        if self.control == "knob" and not self.points_mm:
            yield GrillError(f"{self.prefix()}say where it lies: from and to, or centre and radius, or path")
        span = self.high - self.low
        if span <= 0:
            yield GrillError(f"{self.prefix()}low is {self.low:g} and high is {self.high:g}; low must be below high")
        elif self.step > span * (1 + 1e-9):
            why = f"it must be above 0 and at most {span:g}, high minus low"
            yield GrillError(f"{self.prefix()}step is {self.step:g}; {why}")
        elif self.step * MOST_STEPS < span:
            why = f"from {self.low:g} to {self.high:g} it must be at least {span / MOST_STEPS:g}"
            yield GrillError(f"{self.prefix()}step is {self.step:g}; {why}")
        if len(self.marks) == 1 or len({mark.casefold() for mark in self.marks}) != len(self.marks):
            marks = ", ".join(self.marks)
            yield GrillError(f"{self.prefix()}marks are {marks}; they must be two or more different names")

    @staticmethod
    def ring(centre_mm: Point, radius_mm: float) -> tuple[Point, ...]:
        """Return a ring as a closed polygon of 24 sides."""
        angles = [2.0 * math.pi / 24.0 * corner for corner in range(25)]
        return tuple(
            (centre_mm[0] + radius_mm * math.cos(angle), centre_mm[1] + radius_mm * math.sin(angle)) for angle in angles
        )

    @property
    def settable(self) -> FloatArray:
        """Every mark a hand can set, from low to high, shape (m,)."""
        import numpy as np

        return np.array(self._settable())

    def _settable(self) -> list[float]:
        count = math.ceil((self.high - self.low) / self.step - 1e-9)
        return [*(self.low + self.step * at for at in range(count)), self.high]

    def fraction(self, mark: float) -> float:
        """Return how far open a mark is: 0 at the lowest steady flame, 1 fully open."""
        return (mark - self.low) / (self.high - self.low)

    def mark_text(self, mark: float) -> str:
        """Return a mark as the cook calls it."""
        if self.marks:
            settable = self._settable()
            return self.marks[min(range(len(settable)), key=lambda at: abs(settable[at] - mark))]
        return f"{mark:g}"

    @property
    def marks_text(self) -> str:
        """Which marks it has, in words."""
        if any(":" in name for name in self.marks):
            return f"it goes from {self.marks[0]} to {self.marks[-1]}"
        names = f" or {', '.join(self.marks)}" if self.marks else ""
        return f"it goes from {self.low:g} to {self.high:g}{names}"

    def named_mark(self, text: str) -> float | None:
        """Return the mark of this name, in any case; 7 stands for 7:00; None for none."""
        plain = text.strip().casefold()
        for name, mark in zip(self.marks, self._settable(), strict=bool(self.marks)):
            if plain in (name.casefold(), name.casefold().removesuffix(":00")):
                return mark
        return None


def along_line(points_mm: Sequence[Point], count: int) -> FloatArray:
    """Return so many points evenly spaced along a line of corners, shape (count, 2)."""
    import numpy as np

    corners = np.asarray(points_mm, dtype=np.float64)
    walked = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))])
    wanted = (np.arange(count) + 0.5) / count * walked[-1]
    return np.column_stack([np.interp(wanted, walked, corners[:, axis]) for axis in (0, 1)])


@dataclass(frozen=True, slots=True, kw_only=True)
class Gun(Section):
    """The infrared gun as its data sheet and its settings describe it.

    Attributes
    ----------
    emissivity_setting : float
    distance_to_spot : float
        12 for "12:1".
    smallest_spot_mm, distance_mm, aim_sd_mm : float
        The spot never gets smaller than `smallest_spot_mm`; `distance_mm` is where it is held; `aim_sd_mm` is
        the standard deviation of the aim there.
    display_step_c, accuracy_c, accuracy_percent, repeatability_percent : float
        Accuracy is the larger of the two limits; percent are of the °C reading.
    own_temperature_c : float, "air" or "none"
        What the gun assumes is reflected; "none" for a gun that adds no reflection term.
    """

    table: ClassVar[str] = "gun"

    emissivity_setting: float = key("number", 0.01, 1.0, default=0.95, reason="no gun can be set lower or higher")
    distance_to_spot: float = key("number", 1.0, 500.0, default=12.0, comment="12 for 12:1")
    smallest_spot_mm: float = key("length", 0.1, 500.0, default=12.7, comment="never smaller than this, however close")
    distance_mm: float = key("length", 10.0, 5000.0, default=12 * 25.4, comment="how far from the rails you hold it")
    display_step_c: float = key("difference", 0.0, 20.0, default=1 / 1.8)
    accuracy_percent: float = key("number", 0.0, 20.0, default=2.0, comment="of the °C reading; the larger of the two")
    accuracy_c: float = key("difference", 0.0, 50.0, default=4 / 1.8)
    repeatability_percent: float = key("number", 0.0, 20.0, default=0.5)
    aim_sd_mm: float = key("length", 0.0, 300.0, default=0.4 * 25.4, comment="how well you aim, at that distance")
    own_temperature_c: float | Literal["air", "none"] = key(
        "temperature", -40.0, 100.0, words=("air", "none"), default="air", comment='"none": it adds no reflection'
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Probe(Section):
    """The surface probe of contact readings: its accuracy limit and its one-sided tendency to read low."""

    table: ClassVar[str] = "probe"

    accuracy_c: float = key("difference", 0.0, 50.0, default=4 / 1.8)
    reads_low_c: float = key("difference", 0.0, 100.0, default=5 / 1.8, comment="what it misses on a narrow rail")


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch(Section):
    """The reference patch: a spot of known emissivity on a rail."""

    table: ClassVar[str] = "patch"

    emissivity: float = key("number", 0.01, 1.0, default=0.95, reason=NO_METAL_BRIGHTER)
    emissivity_sd: float = key("number", 0.0, 0.5, default=0.02)


def _zones() -> dict[str, Box]:
    shares = {"half": 0.5, "third": 1.0 / 3.0, "two thirds": 2.0 / 3.0}
    named: dict[str, Box] = {"all": (0.0, 0.0, 1.0, 1.0)}
    for size, share in shares.items():
        named[f"left {size}"], named[f"right {size}"] = (0.0, 0.0, share, 1.0), (1.0 - share, 0.0, 1.0, 1.0)
        named[f"front {size}"], named[f"back {size}"] = (0.0, 0.0, 1.0, share), (0.0, 1.0 - share, 1.0, 1.0)
    return named


#: The parts of a grate that have a name, as shares of its width and depth.
ZONES = _zones()


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetBand(Section):
    """The band the rails should be in, asked for and never assumed.

    Attributes
    ----------
    low_c, high_c : float
    numbers : {"shown", "rail"}
        The band as this gun shows it, or as the rail is.
    day_sd_c : float
        Standard deviation of how what the gun shows changes from day to day.
    zone : str or (x0, y0, x1, y1)
        The part that should be in band: a name of :data:`ZONES`, or two opposite corners in mm.
    """

    table: ClassVar[str] = "target"

    low_c: float = key("temperature", -20.0, 800.0)
    high_c: float = key("temperature", -20.0, 800.0)
    numbers: Literal["shown", "rail"] = key(
        words=("shown", "rail"), default="shown", comment='as your gun shows it, or as the "rail" is'
    )
    day_sd_c: float = key("difference", 0.0, 100.0, default=8 / 1.8, comment="how much the gun differs from day to day")
    zone: str | Box = key(
        "length",
        -5000.0,
        5000.0,
        words=tuple(ZONES),
        parts=("x0", "y0", "x1", "y1"),
        default="all",
        comment='the part that should be in band: "left half", "back third", [x0, y0, x1, y1]',
    )

    def faults(self) -> Iterator[GrillError]:
        """Yield what does not fit together."""
        if self.low_c >= self.high_c:
            yield self.too_large("low", self.high_c, "target.high: the band is upside down or empty")

    @property
    def middle_c(self) -> float:
        """Middle of the band in °C."""
        return 0.5 * (self.low_c + self.high_c)


@dataclass(frozen=True, slots=True, kw_only=True)
class Food(Section):
    """What goes on, as far as it was said; nothing of it is assumed here.

    Attributes
    ----------
    size_mm : (float, float) or None
        Along the heading and across it.
    headings : tuple of float or None
        By the clock, 12 straight away from the cook; one, or two for crossed marks.
    turns : int or None
    thickness_mm, start_c, target_c : float or None
        Thickness; centre when it goes on; highest centre wanted in the rest.
    """

    table: ClassVar[str] = "food"

    size_mm: Point | None = key(
        "length", 10.0, 2000.0, parts=("along", "across"), default=None, comment="along the heading, across it"
    )
    headings: tuple[float, ...] | None = key(
        "number", 1.0, 12.99, many=True, default=None, comment="by the clock, 12 straight away from you"
    )
    turns: int | None = key("count", 1, 8, default=None)
    thickness_mm: float | None = key("length", 1.0, 300.0, default=None)
    start_c: float | None = key("temperature", -30.0, 100.0, default=None, comment="centre when it goes on")
    target_c: float | None = key("temperature", 20.0, 100.0, default=None, comment="highest centre wanted in the rest")

    def faults(self) -> Iterator[GrillError]:
        """Yield what does not fit together."""
        if self.headings is not None and not 1 <= len(self.headings) <= 2:
            yield GrillError(f"food.headings has {len(self.headings)} numbers; give one, or two for crossed marks")

    @property
    def is_told(self) -> bool:
        """Whether anything was said."""
        return any(getattr(self, item.name) is not None for item in fields(self))


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings(Section):
    """Air temperature and what the rails mirror: open sky, or a hot lid."""

    table: ClassVar[str] = "surroundings"

    air_c: float = key("temperature", -60.0, 100.0, default=(75 - 32) / 1.8)
    reflected_c: float = key("temperature", -60.0, 600.0, default=(75 - 32) / 1.8, comment="what the rails mirror")
    reflected_sd_c: float = key("difference", 0.0, 300.0, default=20 / 1.8)


@dataclass(frozen=True, slots=True, kw_only=True)
class Grill(Section):
    """Everything the cook knows about the grill before the first shot.

    `assumed` lists, in words, every default that was taken because the description is silent.
    """

    grate: Grate
    target: TargetBand
    units: Units = key(words=("us", "si"), default="us", reason="°F and inches, or °C and mm")
    name: str = key(default="")
    positions: Positions = field(default_factory=Positions)
    burners: tuple[Burner, ...] = ()
    gun: Gun = field(default_factory=Gun)
    probe: Probe = field(default_factory=Probe)
    patch: Patch = field(default_factory=Patch)
    food: Food = field(default_factory=Food)
    surroundings: Surroundings = field(default_factory=Surroundings)
    assumed: tuple[str, ...] = ()

    def faults(self) -> Iterator[GrillError]:
        """Yield what does not fit together."""
        half_mm = 0.5 * min(self.grate.extent_mm)
        if self.positions.margin_mm >= half_mm:
            yield self.positions.too_large("margin", half_mm, "half the shorter side of the grate")
        x0, y0, x1, y1 = self.zone_mm
        if not (max(x0, 0.0) < min(x1, self.grate.width_mm) and max(y0, 0.0) < min(y1, self.grate.depth_mm)):
            yield GrillError("target.zone holds nothing of the grate; give two opposite corners on it")
        if len(self.burners) > MOST_BURNERS:
            yield GrillError(f"there are {len(self.burners)} burners; at most {MOST_BURNERS} can be told apart")
        names = [burner_key(burner.name) for burner in self.burners]
        for name in dict.fromkeys(names):
            if names.count(name) > 1:
                yield GrillError(f'burner "{name}" is there twice; give each burner a name of its own')

    @property
    def valley(self) -> Literal["floor", "open"]:
        """What lies between the rails, given or as is usual for these burners."""
        return self.grate.valley or usual_valley(self.burners)

    @property
    def gun_own_c(self) -> float | None:
        """What the gun takes as reflected, °C; None for a gun that adds no reflection term."""
        own = self.gun.own_temperature_c
        if isinstance(own, str):
            return self.surroundings.air_c if own == "air" else None
        return own

    @property
    def grid(self) -> tuple[tuple[str, ...], ...]:
        """The labels by row, back row first, left to right; "" where a round grate has no position."""
        places = _places_mm(self.grate, self.positions)
        rows, columns = range(self.positions.rows), range(self.positions.columns)
        named = [[_label(row, column) for column in columns] for row in rows]
        return tuple(tuple(label if label in places else "" for label in row) for row in named)

    @property
    def labels(self) -> tuple[str, ...]:
        """Every position label, back row first, left to right: A1, A2, …"""
        return tuple(_places_mm(self.grate, self.positions))

    def label(self, text: str) -> str:
        """Return a position's label as we write it: "b03" is B3.

        Raises
        ------
        ReadingError
            When there is no such position on this grate.
        """
        found = _LABEL.fullmatch(text.strip())
        label = f"{found[1].upper()}{int(found[2])}" if found else ""
        if label not in _places_mm(self.grate, self.positions):
            raise ReadingError(f"position {quoted(label or text)} is not on this grate; {self.positions_text}")
        return label

    def point_mm(self, label: str) -> Point:
        """Return where a labelled position lies; a ReadingError where :meth:`label` raises one."""
        return _places_mm(self.grate, self.positions)[self.label(label)]

    @property
    def positions_text(self) -> str:
        """What positions there are, in words."""
        if not self.grate.is_round:
            return f"positions go from A1 (back left) to {self.labels[-1]}"
        ends = [[label for label in row if label] for row in self.grid]
        if len(ends) > 8:
            return f"positions are on the disc, rows A (back) to {self.labels[-1][0]}"
        return "positions are " + ", ".join(one[0] if len(one) == 1 else f"{one[0]} to {one[-1]}" for one in ends)

    @property
    def zone_mm(self) -> Box:
        """Two opposite corners of the part that should be in band: low x and y, then high."""
        zone, (width, depth) = self.target.zone, self.grate.extent_mm
        if isinstance(zone, str):
            x0, y0, x1, y1 = ZONES[zone]
            return (x0 * width, y0 * depth, x1 * width, y1 * depth)
        return (min(zone[0], zone[2]), min(zone[1], zone[3]), max(zone[0], zone[2]), max(zone[1], zone[3]))

    def in_zone(self, points_mm: ArrayLike) -> BoolArray:
        """Tell which points (m, 2) lie in the zone, edge included, (m,)."""
        import numpy as np

        points, box = np.asarray(points_mm, dtype=float).reshape(-1, 2), np.array(self.zone_mm)
        return np.asarray(((points >= box[:2] - 1e-6) & (points <= box[2:] + 1e-6)).all(axis=1))

    def counts(self, points_mm: ArrayLike) -> BoolArray:
        """Tell which points (m, 2) should be in band: on the grate, inside its rim, in the zone, (m,).

        Where that is none of them, the rim counts as well; where the zone holds none, all of the grate does.
        """
        edge_mm = self.grate.edge_distance_mm(points_mm)
        in_zone, inside, on = self.in_zone(points_mm), edge_mm >= self.grate.rim_mm - 1e-9, edge_mm >= -1e-9
        return next((mask for mask in (inside & in_zone, on & in_zone, inside) if mask.any()), on)

    def burner(self, name: str) -> Burner:
        """Return the burner of this name; case-free, underscores count as spaces.

        Raises
        ------
        ReadingError
            When there is no such burner.
        """
        for burner in self.burners:
            if burner_key(burner.name) == burner_key(name):
                return burner
        names = ", ".join(burner.name for burner in self.burners) or "none in the grill file"
        raise ReadingError(f'there is no burner "{name}"; burners are: {names}')

    def temperature(self, shown: float) -> float:
        """Turn a temperature the cook wrote in this grill's units into °C."""
        return inside_value(shown, "temperature", self.units)

    def complete_settings(self, settings: Mapping[str, float]) -> bool:
        """Tell whether every burner that can be set has a known mark."""
        return all(burner.name in settings for burner in self.burners if burner.control != "none")


def usual_valley(burners: Sequence[Burner]) -> Literal["floor", "open"]:
    """Return what commonly lies between the rails: open over coals, else a floor (common practice, no source)."""
    coals = bool(burners) and all(burner.control in ("vents", "none") for burner in burners)
    return "open" if coals else "floor"


#: The tables of a grill file that are there once, in its order.
SECTIONS: dict[str, type[Section]] = {
    section.table: section for section in (Grate, Positions, Gun, Probe, Patch, TargetBand, Food, Surroundings)
}


def burner_key(name: str) -> str:
    """Return a burner's name as columns and comparisons use it."""
    return "_".join(name.casefold().split())


#: On a round grate positions of the rows and columns lie within so many radii, before they are spread to the margin: it
#: makes 12 of 4 × 4, 20 of 6 × 4, 21 of 5 × 5 and 24 of 6 × 6, each a round figure. Every row and column keeps one.
_DISC = 0.95


@lru_cache(maxsize=64)
def _places_mm(grate: Grate, positions: Positions) -> Mapping[str, Point]:
    """Return where every position lies, by label."""
    rows, columns, margin = positions.rows, positions.columns, positions.margin_mm
    cells = [(row, column) for row in range(rows) for column in range(columns)]
    if not grate.is_round:
        return {
            _label(row, column): (
                _spread(column, columns, margin, grate.width_mm),
                _spread(rows - 1 - row, rows, margin, grate.depth_mm),
            )
            for row, column in cells
        }
    u = [(2 * column + 1 - columns) / columns for column in range(columns)]
    v = [(rows - 1 - 2 * row) / rows for row in range(rows)]
    most = max(_DISC, math.hypot(max(u), min(map(abs, v))), math.hypot(max(v), min(map(abs, u)))) + 1e-9
    kept = [(row, column) for row, column in cells if math.hypot(u[column], v[row]) <= most]
    radius = 0.5 * grate.width_mm
    scale = (radius - margin) / max(max(math.hypot(u[column], v[row]) for row, column in kept), 1e-9)
    return {_label(row, column): (radius + scale * u[column], radius + scale * v[row]) for row, column in kept}


def _spread(index: int, count: int, margin_mm: float, size_mm: float) -> float:
    if count == 1:
        return 0.5 * size_mm
    return margin_mm + index * (size_mm - 2 * margin_mm) / (count - 1)


def _label(row: int, column: int) -> str:
    return f"{chr(65 + row)}{column + 1}"
