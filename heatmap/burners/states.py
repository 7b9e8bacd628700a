"""What burner advice needs to know of one round: the map, how sure it is, and the marks it was taken at."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from heatmap.errors import MapError

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MapState:
    """The surface of one round, as settled under the marks of that round, in the numbers of the band.

    Attributes
    ----------
    cells_mm : ndarray (m, 2)
        Centres of the cells; the same in every round that is compared.
    mean_c : ndarray (m,)
        Expected steady surface.
    draws_c : ndarray (count, m)
        Joint samples of it, own uncertainty only.
    settings : mapping
        Mark of each burner.
    shared_std_c : float
        Standard deviation of what moves every reading of every round together.
    unsettled_std_c : float
        How far the grate may still be from its steady state; 0 when it had settled.
    session, lid, surface : str
    taken_at : datetime or None
    rate_c_min : float or None
        Mean change of the surface while it was shot [°C/min], where times told it.
    number : int
        Number of the round.
    """

    cells_mm: Array
    mean_c: Array
    draws_c: Array
    settings: Mapping[str, float]
    shared_std_c: float = 0.0
    unsettled_std_c: float = 0.0
    session: str = ""
    lid: Literal["open", "closed"] = "open"
    surface: Literal["dry", "oiled"] = "dry"
    taken_at: datetime | None = None
    rate_c_min: float | None = None
    number: int = 1
    _group: tuple[str, str, str] = field(init=False, default=("", "", ""))

    def __post_init__(self) -> None:
        for name in ("cells_mm", "mean_c", "draws_c"):
            values = np.array(getattr(self, name), dtype=np.float64)
            values.flags.writeable = False
            object.__setattr__(self, name, values)
        count = len(self.mean_c)
        if self.cells_mm.shape != (count, 2) or self.draws_c.ndim != 2 or self.draws_c.shape[1] != count:
            raise MapError("burner advice: cells, mean and draws of a map do not belong together")
        if not (np.isfinite(self.mean_c).all() and np.isfinite(self.draws_c).all()):
            raise MapError("burner advice: the map holds numbers that are not finite")
        object.__setattr__(self, "settings", MappingProxyType(dict(self.settings)))
        object.__setattr__(self, "_group", (self.session, self.lid, self.surface))

    @property
    def group(self) -> tuple[str, str, str]:
        """Session, lid and surface: rounds that share them share their level."""
        return self._group
