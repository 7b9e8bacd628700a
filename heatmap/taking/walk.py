"""The walk over the positions: in which order they are shot."""

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
    when = np.arange(len(chosen) + 1) - 0.5 * len(chosen)
    lean = np.hypot(*(when[:-1] @ offsets_mm[chosen] + when[-1] * offsets_mm[candidates]).T)
    return int(candidates[np.argmin(np.round(lean, 3))])
