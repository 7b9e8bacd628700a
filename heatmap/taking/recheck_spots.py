"""Where to shoot just before the sear: a few positions where the food goes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from heatmap.assessment import Assessment
from heatmap.verdict.chances import chance_arrays

#: A re-check is three to five shots.
SHOTS = 5


def recheck_labels(
    assessment: Assessment, place_mm: tuple[float, float] | None = None, count: int = SHOTS
) -> tuple[str, ...]:
    """Return the positions around the place where the food goes, nearest first.

    Parameters
    ----------
    assessment : Assessment
        Of the last full round.
    place_mm : (x, y), optional
        Where the food goes; the part of the grate that is likeliest in band when not given.
    count : int
        How many.

    Returns
    -------
    tuple of str
        Never all in one line where the grid has more than one row and column, so that they also say how it leans.
    """
    grill = assessment.grill
    points_mm = np.array([grill.point_mm(label) for label in grill.labels])
    here = np.asarray(place_mm if place_mm is not None else _likeliest_place(assessment, points_mm))
    order = np.argsort(np.hypot(*(points_mm - here).T), kind="stable").tolist()
    chosen = order[: min(count, len(order))]
    others = [index for index in order if index not in chosen]
    for other in others:
        if not _in_one_line(points_mm[chosen]):
            break
        if not _in_one_line(points_mm[[*chosen[:-1], other]]):
            chosen[-1] = other
    return tuple(grill.labels[index] for index in chosen)


def _likeliest_place(assessment: Assessment, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the position that together with its neighbours is likeliest in band."""
    mean_c, std_c = assessment.at(points_mm)
    in_band = chance_arrays(mean_c, std_c, *assessment.band_c)[1]
    gaps = np.hypot(*(points_mm[:, None] - points_mm[None]).transpose(2, 0, 1))
    reach = 1.2 * np.min(gaps + np.where(np.eye(len(gaps), dtype=bool), np.inf, 0.0)) if len(gaps) > 1 else 1.0
    weight = np.exp(-((gaps / reach) ** 2))
    in_zone = assessment.grill.in_zone(points_mm)
    best = int(np.argmax(weight @ in_band / weight.sum(axis=1) + 2.0 * in_zone))
    return np.asarray(points_mm[best])


def _in_one_line(points_mm: NDArray[np.float64] | Sequence[Sequence[float]]) -> bool:
    points = np.asarray(points_mm)
    return bool(np.linalg.matrix_rank(points - points.mean(axis=0), tol=1.0) < 2)
