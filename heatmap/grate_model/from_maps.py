"""From the map of a round to what burner advice needs of it: its spots as settled, in the numbers of the band."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from heatmap.correct import Calibration
from heatmap.grate_model.round_map import LID_DROP_SHARE_STD, RoundMap, drift_design
from heatmap.grate_model.settling import USUAL_MIN
from heatmap.grate_model.states import RoundState

Array = NDArray[np.float64]

#: Warming is believed when it is this many of its standard deviations from zero.
_CLEAR_DRIFT = 2.0


def round_state(round_map: RoundMap, calibration: Calibration) -> RoundState:
    """Return the spots of a round as they settle under its marks, in the numbers of the band.

    Parameters
    ----------
    round_map : RoundMap
    calibration : Calibration
        The newest there is; the same for every round.

    Notes
    -----
    Drift within the round is taken out, and what was lost since the lid was lifted is given back. Clear warming (its
    size over twice its standard deviation) makes the surface unsettled by what is left at the usual pace of a grate; it
    is not run forward, so that a noisy slope cannot throw the level.
    """
    one, drift = round_map.round, round_map.drift
    spots = [
        spot
        for index, spot in enumerate(round_map.spots)
        if spot.reading.aim == "rail" and spot.rail_c is not None and index not in round_map.suspects
    ]
    rail = np.array([spot.rail_c for spot in spots], dtype=np.float64)
    given_back, unsettled, rate = 0.0, 0.0, None
    if drift is not None:
        columns, _, _ = drift_design(one, [spot.reading for spot in spots])
        if columns is not None:
            rail = rail - columns @ round_map.surface.drift_mean_c
        given_back, rate = -drift.since_lid_c, drift.per_minute_c
        unsettled = _unsettled_c(drift.per_minute_c, drift.per_minute_std_c)
        unsettled = math.hypot(unsettled, LID_DROP_SHARE_STD * drift.since_lid_c)
    slope = calibration.compared_slope(float(rail.mean()))
    return RoundState(
        points_mm=np.array([spot.reading.point_mm for spot in spots]),
        compared_c=calibration.compared_c(rail + given_back),
        shot_std_c=slope * np.array([spot.shot_std_c for spot in spots], dtype=np.float64),
        place_std_c=slope * np.array([spot.place_std_c for spot in spots], dtype=np.float64),
        settings=one.settings,
        shared_std_c=calibration.level_std_c(float(rail.mean())),
        unsettled_std_c=unsettled,
        session=one.session,
        lid=one.lid,
        surface=one.surface,
        taken_at=one.taken_at,
        rate_c_min=rate,
        number=one.number,
    )


def _unsettled_c(rate_c_min: float, std_c_min: float) -> float:
    """Return how far a surface that warms at this rate has still to go [°C], or 0 when the rate is not clear."""
    if abs(rate_c_min) < _CLEAR_DRIFT * std_c_min:
        return 0.0
    return abs(rate_c_min) * USUAL_MIN / math.log(10.0)
