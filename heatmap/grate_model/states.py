"""What burner advice needs of one round: its spots in the numbers of the band, and the marks it was taken at."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from heatmap.errors import MapError

Array = NDArray[np.float64]
Group = tuple[str, str, str]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RoundState:
    """The spots of one round, as settled under its marks, in the numbers of the band.

    Attributes
    ----------
    points_mm : ndarray (n, 2)
    compared_c : ndarray (n,)
        Drift since the lid was lifted given back; blunders left out.
    shot_std_c : ndarray (n,)
        Own standard deviation that is new with every shot.
    place_std_c : ndarray (n,)
        Own standard deviation that repeats at one place have in common, in every round.
    settings : mapping
        Mark of each burner.
    shared_std_c : float
        Standard deviation of what moves every reading of every round together.
    unsettled_std_c : float
        How far the grate as a whole may still be from its steady state; 0 when it had settled.
    session, lid, surface : str
    taken_at : datetime or None
    rate_c_min : float or None
        Change of the whole surface while it was shot [°C/min], where times told it.
    number : int
        Number of the round.
    """

    points_mm: Array
    compared_c: Array
    shot_std_c: Array
    place_std_c: Array
    settings: Mapping[str, float]
    shared_std_c: float = 0.0
    unsettled_std_c: float = 0.0
    session: str = ""
    lid: Literal["open", "closed"] = "open"
    surface: Literal["dry", "oiled"] = "dry"
    taken_at: datetime | None = None
    rate_c_min: float | None = None
    number: int = 1

    def __post_init__(self) -> None:
        for name in ("points_mm", "compared_c", "shot_std_c", "place_std_c"):
            values = np.array(getattr(self, name), dtype=np.float64)
            values.flags.writeable = False
            object.__setattr__(self, name, values)
        count = len(self.compared_c)
        shapes = [self.points_mm.shape == (count, 2), self.shot_std_c.shape == self.place_std_c.shape == (count,)]
        if not all(shapes) or count == 0:
            raise MapError(f"burner advice: round {self.number} needs one place and two spreads for every spot")
        numbers = (self.points_mm, self.compared_c, self.shot_std_c, self.place_std_c)
        if not all(np.isfinite(values).all() for values in numbers):
            raise MapError(f"burner advice: a spot of round {self.number} is not finite")
        object.__setattr__(self, "settings", MappingProxyType(dict(self.settings)))

    @property
    def group(self) -> Group:
        """Session, lid and surface: rounds that share them share their level."""
        return (self.session, self.lid, self.surface)
