"""The walk over the positions: in which order they are shot, and what is left of it."""

from collections.abc import Iterable
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from heatmap.grill.grill import Grill

Order = Literal["spread", "rows"]

#: Positions at least this share as far off as the farthest one count as good as it when the walk chooses what balances
#: it best. Assumed: on square positions one a side away from all before then counts with one a diagonal away (0.71).
_AS_FAR = 0.7


def walk_order(grill: Grill, order: Order = "spread") -> tuple[str, ...]:
    """Return every position in the order it is shot.

    Parameters
    ----------
    grill : Grill
    order : {"spread", "rows"}
        "spread": the centre, the corners, then always far from what is shot already and so that early and late
        shots lie evenly to all sides: a grate that cools while it is shot then does not look like one that leans.
        "rows": from the back, left to right.

    Returns
    -------
    tuple of str
    """
    labels = grill.labels
    if order == "rows":
        return labels
    points_mm = np.array([grill.point_mm(label) for label in labels])
    middle_mm = 0.5 * np.array(grill.grate.extent_mm)
    chosen = [int(np.argmin(np.hypot(*(points_mm - middle_mm).T)))]
    # Opposite corners follow one another, so that a steady drift cancels over each pair.
    for towards in ((-1.0, 1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, -1.0)):
        corner = int(np.argmax(np.round(points_mm @ towards, 3)))
        if corner not in chosen:
            chosen.append(corner)
    while len(chosen) < len(labels):
        chosen.append(_next_spread(points_mm - middle_mm, chosen))
    return tuple(labels[index] for index in chosen)


def _next_spread(offsets_mm: NDArray[np.float64], chosen: list[int]) -> int:
    """Return the next place: among those nearly farthest from all before, the one that keeps time and place apart."""
    left = np.array([index for index in range(len(offsets_mm)) if index not in chosen])
    gaps = offsets_mm[left][:, None, :] - offsets_mm[chosen][None, :, :]
    nearest = np.min(np.hypot(gaps[..., 0], gaps[..., 1]), axis=1)
    candidates = left[nearest >= _AS_FAR * nearest.max()]
    lean = []
    for index in candidates:
        places = offsets_mm[[*chosen, index]]
        when = np.arange(len(places)) - 0.5 * (len(places) - 1)
        lean.append(float(np.hypot(*(when @ places))))
    return int(candidates[int(np.argmin(lean))])


class Walk:
    """Which positions are still to be shot; changes as the round goes on.

    Parameters
    ----------
    order : iterable of str
        The whole walk.
    shot : iterable of str
        What of it is shot already.

    Attributes
    ----------
    left : list of str
        What is still to be shot, the next one first.
    skipped : list of str
        Left out on purpose; they come first when the walk begins again.
    passes : int
        How often the walk has been completed.
    """

    def __init__(self, order: Iterable[str], shot: Iterable[str] = ()) -> None:
        """Begin a walk, or go on with one."""
        self.order, self.skipped, self.passes = tuple(order), list[str](), 0
        done = set(shot)
        self.left = [label for label in self.order if label not in done]
        self._begin_again_when_complete()

    @property
    def next(self) -> str:
        """The position asked for."""
        return self.left[0]

    def shot(self, label: str) -> None:
        """Take a position off the walk."""
        self._take_off(label)
        self._begin_again_when_complete()

    def skip(self, *labels: str) -> None:
        """Leave positions out for now."""
        for label in labels:
            self._take_off(label)
            self.skipped = [*self.skipped, label]
            self._begin_again_when_complete()

    def ask_next(self, label: str) -> None:
        """Put a position at the front."""
        self._take_off(label)
        self.left = [label, *self.left]

    def take_back(self, label: str) -> None:
        """Ask for a position again whose reading was withdrawn."""
        if self.passes and len(self.left) == len(self.order):
            self.passes -= 1
            self.left = []
        self.ask_next(label)

    def _take_off(self, label: str) -> None:
        self.left, self.skipped = ([one for one in labels if one != label] for labels in (self.left, self.skipped))

    def _begin_again_when_complete(self) -> None:
        if not self.left:
            self.passes += 1
            self.left = [*self.skipped, *(label for label in self.order if label not in self.skipped)]
            self.skipped = []
