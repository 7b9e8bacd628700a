"""Where to shoot just before the sear: a few positions where the food goes."""

import numpy as np

from heatmap.assessment import Assessment
from heatmap.gaussian import in_one_line
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
        Where the food goes; the position that is likeliest in band when not given.
    count : int
        How many.

    Returns
    -------
    tuple of str
        Never all in one line where the grid has more than one row and column, so that they also say how it leans.
    """
    grill = assessment.grill
    points_mm = assessment.labels_mm
    if place_mm is None:
        in_band = chance_arrays(*assessment.at_labels, *assessment.band_c)[1]
        place_mm = points_mm[int(np.argmax(in_band + 2.0 * grill.in_zone(points_mm)))]
    order = np.argsort(np.hypot(*(points_mm - np.asarray(place_mm)).T), kind="stable").tolist()
    first, others = order[: count - 1], order[count - 1 :]
    last = next(([other] for other in others if not in_one_line(points_mm[[*first, other]])), others[:1])
    return tuple(grill.labels[index] for index in (*first, *last))
