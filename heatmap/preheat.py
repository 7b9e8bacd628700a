"""Is the grate still heating up? Told from positions that were shot more than once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from heatmap.grill import Gun
from heatmap.readings import Reading
from heatmap.units import c_difference_from_f

#: A grate that rises by less than this a minute is steady enough to be mapped, °C a minute: over the two minutes of a
#: round that is 6 °F, no more than one shot scatters. Assumed.
STEADY_C_PER_MIN = float(c_difference_from_f(3.0))
#: Shots within this time say nothing of a rise.
SHORTEST_S = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Rise:
    """How fast the shown temperature rises.

    Attributes
    ----------
    per_minute_c, std_c : float
        Negative when it falls, °C a minute; its standard deviation.
    positions : tuple of str
        Those that were shot more than once.
    """

    per_minute_c: float
    std_c: float
    positions: tuple[str, ...]

    @property
    def is_rising(self) -> bool:
        """Whether it certainly rises faster than a map allows."""
        return self.per_minute_c - self.std_c > STEADY_C_PER_MIN

    @property
    def is_steady(self) -> bool:
        """Whether a map can be taken: the rise is small, and known to be."""
        return abs(self.per_minute_c) <= STEADY_C_PER_MIN and self.std_c <= STEADY_C_PER_MIN


def rise(readings: Sequence[Reading], gun: Gun, newest: int = 3) -> Rise | None:
    """Return how fast the grate rises, from the newest shots at each position that was shot more than once.

    Parameters
    ----------
    readings : sequence of Reading
        Those with times count.
    gun : Gun
        Its repeatability and display step say how much two shots scatter.
    newest : int
        How many of the latest shots at a position are used; a rise slows down, so old shots mislead.

    Returns
    -------
    Rise or None
        None when nothing was shot twice at least five seconds apart.

    Notes
    -----
    One slope through the shots of all positions, each position with its own level, by least squares.
    """
    shots: dict[str, list[tuple[float, float]]] = defaultdict(list)
    for reading in readings:
        if reading.aim == "rail" and reading.taken_at is not None and reading.shown_c is not None and reading.position:
            shots[reading.position].append((reading.taken_at.timestamp() / 60.0, reading.shown_c))
    repeated = {label: np.array(pairs[-newest:]) for label, pairs in shots.items() if len(pairs) > 1}
    minutes = [pairs[:, 0] - pairs[:, 0].mean() for pairs in repeated.values()]
    if not minutes or max(np.ptp(when) for when in minutes) < SHORTEST_S / 60.0:
        return None
    values = [pairs[:, 1] - pairs[:, 1].mean() for pairs in repeated.values()]
    lever = float(sum(when @ when for when in minutes))
    slope = float(sum(when @ value for when, value in zip(minutes, values, strict=True))) / lever
    level_c = float(np.mean(np.concatenate([pairs[:, 1] for pairs in repeated.values()])))
    scatter_c = float(np.hypot(0.01 * gun.repeatability_percent * abs(level_c), gun.display_step_c / np.sqrt(12.0)))
    return Rise(per_minute_c=slope, std_c=scatter_c / float(np.sqrt(lever)), positions=tuple(repeated))
