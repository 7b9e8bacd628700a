"""The heat below a make-believe grate: burners with unequal ports, crooked knobs, heat that arrives late."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from heatmap.grill.grill import Point
from heatmap.synthetic.heat_balance import Plate
from heatmap.units import FloatArray

#: Points a burner line is cut into; ports of real burners are 10 to 20 mm apart (common practice, no source).
PORTS = 40


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HiddenBurner:
    """What a burner really does, which no cook can see.

    Attributes
    ----------
    name : str
    points_mm : tuple of (x, y)
        The line its ports lie on.
    ports : ndarray (PORTS,)
        Output of each piece of the line, 1 for a clean one.
    strength : float
        Heat fully open over that of the average burner.
    lowest_share : float
        Heat of the lowest steady flame over that fully open.
    knob_curve : float
        Exponent γ: heat above the lowest flame grows with the opening to this power.
    height_mm : float
        Height of the grate above the ports; the flame heats a place at distance r along the grate with
        h³/(r² + h²)^(3/2), the inverse square and cosine law of a small source below a plane.
    hot_gas_share : float
        Share of the heat that rises everywhere with the hot gas of the firebox.
    hot_gas_to_back : float
        How much more of that reaches the back edge than the middle (vents at the back draw it there).
    """

    name: str
    points_mm: tuple[Point, ...]
    ports: FloatArray
    strength: float
    lowest_share: float
    knob_curve: float
    height_mm: float
    hot_gas_share: float
    hot_gas_to_back: float

    def heat_share(self, opening: float) -> float:
        """Return the heat over that fully open, at an opening from 0 (lowest flame) to 1."""
        opened = float(np.clip(opening, 0.0, 1.0))
        return float(self.lowest_share + (1.0 - self.lowest_share) * opened**self.knob_curve)

    def pattern(self, plate: Plate) -> FloatArray:
        """Return how its heat is spread over the plate, mean 1 for clean ports and strength 1, (rows, columns)."""
        cells = plate.cells_mm
        ports = along_line(self.points_mm, PORTS)
        square = ((cells[:, None, :] - ports[None, :, :]) ** 2).sum(axis=2)
        kernel = (1.0 + square / self.height_mm**2) ** -1.5
        direct = kernel @ self.ports / kernel.sum(axis=1).mean()
        gas = 1.0 + self.hot_gas_to_back * (2.0 * cells[:, 1] / plate.depth_mm - 1.0)
        mixed = (1.0 - self.hot_gas_share) * direct + self.hot_gas_share * gas * self.ports.mean()
        return np.asarray(self.strength * mixed, dtype=np.float64).reshape(plate.rows, plate.columns)


def along_line(points_mm: tuple[Point, ...], count: int) -> FloatArray:
    """Return `count` points evenly spaced along a line of corners, shape (count, 2)."""
    corners = np.asarray(points_mm, dtype=np.float64)
    if len(corners) == 1:
        return np.repeat(corners, count, axis=0)
    lengths = np.hypot(*np.diff(corners, axis=0).T)
    walked = np.concatenate([[0.0], np.cumsum(lengths)])
    wanted = (np.arange(count) + 0.5) / count * walked[-1]
    return np.column_stack([np.interp(wanted, walked, corners[:, axis]) for axis in (0, 1)])
