"""Is the grate still heating up? Told from positions that were shot more than once."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from heatmap.grill.grill import Gun
from heatmap.readings.reading import Reading
from heatmap.taking.tuning import SHORTEST_S, STEADY_C_PER_MIN, WINDOW_S


@dataclass(frozen=True, slots=True, kw_only=True)
class Rise:
    """How fast the shown temperature rises.

    Attributes
    ----------
    per_minute_c, std_c : float
        Negative when it falls, °C a minute; its standard deviation.
    """

    per_minute_c: float
    std_c: float

    @property
    def is_rising(self) -> bool:
        """Whether it certainly rises faster than a map allows."""
        return self.per_minute_c - self.std_c > STEADY_C_PER_MIN

    @property
    def is_steady(self) -> bool:
        """Whether a map can be taken: the rise is small, and known to be."""
        return abs(self.per_minute_c) <= STEADY_C_PER_MIN and self.std_c <= STEADY_C_PER_MIN


def rise(readings: Sequence[Reading], gun: Gun) -> Rise | None:
    """Return how fast the grate rises, from the latest shots at positions that were shot more than once.

    Parameters
    ----------
    readings : sequence of Reading
        Those with times count.
    gun : Gun
        Its repeatability and display step say how much two shots scatter.

    Returns
    -------
    Rise or None
        None when nothing was shot twice at least five seconds apart.

    Notes
    -----
    One slope through the shots of all positions, each position with its own level, by least squares.
    """
    shots: dict[str, list[tuple[float, float]]] = defaultdict(list)
    timed = [one for one in readings if one.aim == "rail" and one.taken_at and one.shown_c is not None and one.position]
    latest = max((one.taken_at.timestamp() for one in timed if one.taken_at), default=0.0)
    for one in timed:
        if one.taken_at is not None and one.shown_c is not None and latest - one.taken_at.timestamp() <= WINDOW_S:
            shots[one.position].append((one.taken_at.timestamp() / 60.0, one.shown_c))
    repeated = {label: np.array(pairs) for label, pairs in shots.items() if len(pairs) > 1}
    minutes = [pairs[:, 0] - pairs[:, 0].mean() for pairs in repeated.values()]
    if not minutes or max(np.ptp(when) for when in minutes) < SHORTEST_S / 60.0:
        return None
    values = [pairs[:, 1] - pairs[:, 1].mean() for pairs in repeated.values()]
    lever = float(sum(when @ when for when in minutes))
    slope = float(sum(when @ value for when, value in zip(minutes, values, strict=True))) / lever
    level_c = float(np.mean(np.concatenate([pairs[:, 1] for pairs in repeated.values()])))
    scatter_c = float(np.hypot(0.01 * gun.repeatability_percent * abs(level_c), gun.display_step_c / np.sqrt(12.0)))
    return Rise(per_minute_c=slope, std_c=scatter_c / float(np.sqrt(lever)))
