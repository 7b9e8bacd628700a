"""The outline of the food, an ellipse: its size, its headings by the clock, and what it overlaps."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from heatmap.errors import InputError
from heatmap.units import Display, FloatArray

#: Radial and angular nodes of the rule for a disc: exact for polynomials of degree 11.
_RADIAL, _ANGULAR = 4, 12
#: Points on the edge, where the hottest and the coldest of the contact mostly are.
_ON_EDGE = 24
#: Directions in which a gap between two outlines is looked for, 10° apart, besides the axes of both.
_GAP_DIRECTIONS = 18


@dataclass(frozen=True, slots=True, kw_only=True)
class Footprint:
    """The part of the food that lies on the grate.

    Attributes
    ----------
    length_mm, width_mm : float
        Along the heading and across it.
    """

    length_mm: float
    width_mm: float

    def __post_init__(self) -> None:
        """Refuse what is no outline."""
        for name, value in (("length", self.length_mm), ("width", self.width_mm)):
            if not 0.0 < value < math.inf:
                raise InputError(f"the {name} of the food is {value:g}; it must be above 0")

    @property
    def is_round(self) -> bool:
        """Whether every heading is the same."""
        return math.isclose(self.length_mm, self.width_mm)

    def size_text(self, display: Display) -> str:
        """Return the size in words: "7.5 x 5 in"."""
        length, width = display.length(self.length_mm), display.length(self.width_mm)
        return f"{length:.4g} x {width:.4g} {display.lengths}"

    def reach_mm(self, heading: float, directions: ArrayLike) -> FloatArray:
        """Return how far the outline reaches from its centre in unit directions (d, 2), shape (d,).

        Notes
        -----
        The support function of an ellipse: √(a² + b²), with a and b the parts of the half axes in a direction.
        """
        along, across = _axes(heading)
        towards = np.asarray(directions, dtype=np.float64)
        a = np.abs(towards @ along) * 0.5 * self.length_mm
        b = np.abs(towards @ across) * 0.5 * self.width_mm
        return np.hypot(a, b)

    def half_extent_mm(self, headings: tuple[float, ...]) -> tuple[float, float]:
        """Return how far the outlines at all headings together reach to the right and away from the cook."""
        reaches = np.array([self.reach_mm(heading, np.eye(2)) for heading in headings])
        across, away = reaches.max(axis=0)
        return float(across), float(away)

    def area_rule_mm(self, headings: tuple[float, ...]) -> tuple[FloatArray, FloatArray]:
        """Return points about the centre (n, 2) and weights (n,) that average over the area, headings alike.

        Notes
        -----
        Gauss-Legendre in the squared radius times equal angles, exact for polynomials up to degree 11 (A. H. Stroud,
        Approximate Calculation of Multiple Integrals, 1971, section 2.6, from memory). The weights add up to one.
        """
        unit, weights = _disc_rule()
        points = [self._turned(unit, heading) for heading in headings]
        return np.concatenate(points), np.tile(weights, len(headings)) / len(headings)

    def edge_mm(self, headings: tuple[float, ...]) -> FloatArray:
        """Return points on the edge, about the centre, at all headings (n, 2)."""
        angle = 2.0 * np.pi * np.arange(_ON_EDGE) / _ON_EDGE
        unit = np.column_stack([np.cos(angle), np.sin(angle)])
        return np.concatenate([self._turned(unit, heading) for heading in headings])

    def _turned(self, unit: FloatArray, heading: float) -> FloatArray:
        """Return points of the square from -1 to 1, first coordinate along the heading, at true size."""
        along, across = _axes(heading)
        scaled = 0.5 * unit * [self.length_mm, self.width_mm]
        return np.asarray(scaled[:, :1] * along + scaled[:, 1:] * across)

    def gaps_mm(self, apart_mm: ArrayLike, mine: tuple[float, ...], others: tuple[float, ...]) -> FloatArray:
        """Return the gap to the same food at centres `apart_mm` (…, 2) away, (…); negative: they overlap.

        Notes
        -----
        Two convex sets are apart exactly when a line fits between them. It is looked for in directions 10°
        apart and in the axes of both, so a gap that is found is there; one of less than 1 % of the length may
        be missed.
        """
        apart = np.asarray(apart_mm, dtype=np.float64)
        directions = _directions((*mine, *others))
        distance = np.abs(apart @ directions.T)
        least = np.full(apart.shape[:-1], np.inf)
        for own in mine:
            for other in others:
                reach = self.reach_mm(own, directions) + self.reach_mm(other, directions)
                least = np.minimum(least, (distance - reach).max(axis=-1))
        return least


def _axes(heading: float) -> tuple[FloatArray, FloatArray]:
    """Return the unit vectors along a heading and to its right; 12 o'clock is +y, 3 o'clock +x."""
    angle = math.radians(30.0 * heading)
    sine, cosine = math.sin(angle), math.cos(angle)
    return np.array([sine, cosine]), np.array([cosine, -sine])


def _directions(headings: tuple[float, ...]) -> FloatArray:
    even = np.pi * np.arange(_GAP_DIRECTIONS) / _GAP_DIRECTIONS
    rows = [np.column_stack([np.cos(even), np.sin(even)])]
    rows += [np.stack(_axes(heading)) for heading in set(headings)]
    return np.concatenate(rows)


@lru_cache(maxsize=1)
def _disc_rule() -> tuple[FloatArray, FloatArray]:
    nodes, weights = np.polynomial.legendre.leggauss(_RADIAL)
    radius = np.sqrt(0.5 * (nodes + 1.0))
    angle = 2.0 * np.pi * (np.arange(_ANGULAR) + 0.5) / _ANGULAR
    x, y = np.outer(radius, np.cos(angle)), np.outer(radius, np.sin(angle))
    return np.column_stack([x.ravel(), y.ravel()]), np.repeat(0.5 * weights, _ANGULAR) / _ANGULAR


def read_size(text: str) -> tuple[float, float]:
    """Read LENGTHxWIDTH in any one unit: "7.5x5" is (7.5, 5.0).

    Raises
    ------
    InputError
        When it cannot be read, or a side is not above 0.
    """
    number = r"([-+]?\d+(?:[.,]\d*)?|[-+]?[.,]\d+)"
    match = re.fullmatch(rf"\s*{number}\s*[xX×*]\s*{number}\s*", text)
    if match is None:
        raise InputError(f'size "{text}" cannot be read; write LENGTHxWIDTH, such as 7.5x5')
    length, width = (float(part.replace(",", ".")) for part in match.groups())
    if length <= 0 or width <= 0:
        raise InputError(f'size "{text}" is not a size; length and width must be above 0, such as 7.5x5')
    return length, width


def read_headings(text: str) -> tuple[float, ...]:
    """Read one or two headings by the clock: "12", "2,10", "1:30" or "1.5".

    Raises
    ------
    InputError
        When it cannot be read, there are more than two, or a heading is not on the clock.
    """
    parts = [part.strip() for part in text.split(",")]
    if len(parts) > 2:
        raise InputError(f'heading "{text}" has {len(parts)} parts; give one, or two for crossed marks: 2,10')
    return tuple(_read_heading(part) for part in parts)


def _read_heading(text: str) -> float:
    hours, colon, minutes = text.partition(":")
    try:
        past = float(minutes) / 60.0 if colon else 0.0
        heading = float(hours) + past
    except ValueError:
        raise InputError(
            f'heading "{text}" cannot be read; write an hour of the clock, 12 is straight away from you'
        ) from None
    if not 0.0 <= past < 1.0:
        raise InputError(f'heading "{text}" is not on the clock; minutes go from 0 to 59')
    return check_heading(heading, text)


def check_heading(heading: float, text: str = "") -> float:
    """Return a heading that is on the clock: from 1 to 12, halves such as 12.5 for half past included."""
    if not 1.0 <= heading < 13.0:
        raise InputError(
            f"a heading of {text or f'{heading:g}'} is not on the clock; it goes from 1 to 12, "
            "and 12 is straight away from you"
        )
    return heading


def heading_text(headings: tuple[float, ...]) -> str:
    """Return headings in words: "12", "1:30", "2 and 10"."""
    return " and ".join(_clock(heading) for heading in headings)


def _clock(heading: float) -> str:
    hour, minute = divmod(round(60.0 * heading), 60)
    return f"{hour}" if minute == 0 else f"{hour}:{minute:02d}"
