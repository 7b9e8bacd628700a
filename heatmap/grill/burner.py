"""A source of heat under the grate: where it lies, and the marks of its control."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Literal

from heatmap.errors import GrillError
from heatmap.grill.grate import Point
from heatmap.grill.schema import Section, key
from heatmap.units import FloatArray, Number

#: No hand sets a dial finer than this between its ends; whoever looks for the best marks tries them all.
MOST_STEPS = 2000
#: Marks are numbers on a dial, or degrees of a thermostat.
FARTHEST_MARK = 5000.0
_mark = partial(key, "number", -FARTHEST_MARK, FARTHEST_MARK, reason="no dial goes farther")
Control = Literal["knob", "setpoint", "vents", "none"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Burner(Section, table="burner"):
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

    name: str = key()
    control: Control = key(
        default="knob", comment='"knob", "setpoint", "vents" or "none" (coals that can only be moved)'
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
        elif not span <= self.step * MOST_STEPS <= MOST_STEPS * span * (1 + 1e-9):
            limits = (
                f"from {self.low:g} to {self.high:g} it must be at least {span / MOST_STEPS:g} and at most {span:g}"
            )
            yield GrillError(f"{self.prefix()}step is {self.step:g}; {limits}")
        if len(self.marks) == 1 or len({mark.casefold() for mark in self.marks}) != len(self.marks):
            marks = ", ".join(self.marks)
            yield GrillError(f"{self.prefix()}marks are {marks}; they must be two or more different names")

    @staticmethod
    def ring(centre_mm: Point, radius_mm: float) -> tuple[Point, ...]:
        """Return a ring as a closed polygon of 24 sides."""
        (x_mm, y_mm), angles = centre_mm, [2.0 * math.pi / 24.0 * corner for corner in range(25)]
        return tuple((x_mm + radius_mm * math.cos(angle), y_mm + radius_mm * math.sin(angle)) for angle in angles)

    @property
    def settable(self) -> tuple[float, ...]:
        """Every mark a hand can set, from low to high."""
        count = math.ceil((self.high - self.low) / self.step - 1e-9)
        return (*(self.low + self.step * at for at in range(count)), self.high)

    def fraction(self, mark: Number) -> Number:
        """Return how far open a mark is: 0 at the lowest steady flame, 1 fully open."""
        return (mark - self.low) / (self.high - self.low)

    def mark_text(self, mark: float) -> str:
        """Return a mark as the cook calls it."""
        named = zip(self.marks, self.settable, strict=False)  # of a dial with numbers none
        return min(named, key=lambda one: abs(one[1] - mark), default=(f"{mark:g}", mark))[0]

    @property
    def marks_text(self) -> str:
        """Which marks it has, in words."""
        if any(":" in name for name in self.marks):
            return f"it goes from {self.marks[0]} to {self.marks[-1]}"
        names = f" or {', '.join(self.marks)}" if self.marks else ""
        return f"it goes from {self.low:g} to {self.high:g}{names}"

    @property
    def named(self) -> dict[str, float]:
        """Its marks by their names in small letters; 7 stands for 7:00."""
        named = dict(zip(map(str.casefold, self.marks), self.settable, strict=bool(self.marks)))
        return {name.removesuffix(":00"): mark for name, mark in named.items()} | named


def along_line(points_mm: Sequence[Point], count: int) -> FloatArray:
    """Return so many points evenly spaced along a line of corners, shape (count, 2)."""
    import numpy as np

    corners = np.asarray(points_mm, dtype=np.float64)
    walked = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))])
    wanted = (np.arange(count) + 0.5) / count * walked[-1]
    return np.column_stack([np.interp(wanted, walked, corners[:, axis]) for axis in (0, 1)])


def burner_key(name: str) -> str:
    """Return a burner's name as columns and comparisons use it."""
    return "_".join(name.casefold().split())
