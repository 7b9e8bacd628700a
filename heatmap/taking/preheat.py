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
    for one in readings:
        if one.aim == "rail" and one.position and one.taken_at is not None and one.shown_c is not None:
            shots[one.position].append((one.taken_at.timestamp() / 60.0, one.shown_c))
    latest = max((minute for pairs in shots.values() for minute, _ in pairs), default=0.0)
    recent = [[pair for pair in pairs if latest - pair[0] <= WINDOW_S / 60.0] for pairs in shots.values()]
    repeated = [np.array(pairs) for pairs in recent if len(pairs) > 1]
    if not repeated or max(np.ptp(pairs[:, 0]) for pairs in repeated) < SHORTEST_S / 60.0:
        return None
    minutes, off_c = np.concatenate([pairs - pairs.mean(axis=0) for pairs in repeated]).T
    lever, level_c = float(minutes @ minutes), float(np.mean(np.concatenate(repeated)[:, 1]))
    scatter_c = float(np.hypot(0.01 * gun.repeatability_percent * abs(level_c), gun.display_step_c / np.sqrt(12.0)))
    return Rise(per_minute_c=float(minutes @ off_c) / lever, std_c=scatter_c / float(np.sqrt(lever)))
