"""The map of one round: its spots corrected, blunders set aside, drift taken out, one surface fitted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from heatmap.correct import Calibration, Spot, correct_readings
from heatmap.correct.unknowns import FloatArray
from heatmap.errors import MapError
from heatmap.grill import Grill
from heatmap.readings import Reading, Round
from heatmap.surface import Surface, fit_surface

#: Prior standard deviation of warming or cooling during a round, °C a minute: a grate still preheating rises by some
#: 5 °C a minute, a settled one by none (common practice, no source).
DRIFT_STD_C_PER_MIN = 2.5
#: A grate that soaked under a closed lid loses about 10, 19 and 27 °F in the first 30, 60 and 90 s after it is lifted
#: (common practice, no source): an exponential with these two constants goes through all three.
LID_DROP_C, LID_TIME_S = 100.0 / 1.8, 285.0
#: How much the drop differs from grill to grill, as a share of itself.
LID_DROP_SHARE_STD = 0.4
#: From lifting the lid to the first shot.
LID_TO_FIRST_SHOT_S = 8.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Drift:
    """How the whole grate moved during the round: warming, and cooling since the lid was lifted.

    Attributes
    ----------
    per_minute_c, per_minute_std_c : float
        Warming (positive) or cooling, °C a minute, besides the cooling that follows the lid.
    since_lid_c : float
        What had been lost by the round's median time because the lid was lifted, °C; 0 for an open lid.
    """

    per_minute_c: float
    per_minute_std_c: float
    since_lid_c: float


@dataclass(frozen=True, kw_only=True, eq=False)
class RoundMap:
    """One round turned into a surface.

    Attributes
    ----------
    round : Round
    spots : tuple of Spot
        One for each reading, in order.
    suspects : mapping
        Index into `spots` to the reason it is not believed.
    surface : Surface
        Rail temperature at the round's median time.
    drift : Drift or None
        None without times.
    """

    round: Round
    spots: tuple[Spot, ...]
    suspects: Mapping[int, str]
    surface: Surface
    drift: Drift | None


def correct_round(readings: tuple[Reading, ...], calibrations: Mapping[str, Calibration]) -> tuple[Spot, ...]:
    """Correct readings, dry and oiled ones each with their own calibration, and keep their order."""
    spots: dict[int, Spot] = {}
    for surface, calibration in calibrations.items():
        indices = [index for index, reading in enumerate(readings) if reading.surface == surface]
        corrected = correct_readings([readings[index] for index in indices], calibration)
        spots.update(zip(indices, corrected, strict=True))
    return tuple(spots[index] for index in range(len(readings)))


def map_round(
    grill: Grill,
    one: Round,
    calibrations: Mapping[str, Calibration],
    *,
    method: str = "gaussian process",
    keep_suspects: bool = False,
) -> RoundMap:
    """Fit the surface of one round.

    Parameters
    ----------
    grill : Grill
    one : Round
    calibrations : mapping
        Calibration for "dry" and, where the round has oiled readings, for "oiled".
    method : str
        One of :data:`heatmap.surface.METHODS`.
    keep_suspects : bool
        Let readings that cannot be into the map all the same.

    Returns
    -------
    RoundMap

    Raises
    ------
    MapError
        When there are too few rail readings, or all of them in one line.
    """
    spots = correct_round(one.readings, calibrations)
    rail = [index for index, spot in enumerate(spots) if spot.reading.aim == "rail"]
    suspects = {} if keep_suspects else _suspects(grill, spots, rail)
    kept = [index for index in rail if index not in suspects]
    _check_enough(one, spots, kept)
    surface = _fit(grill, one, [spots[index] for index in kept], method)
    return RoundMap(round=one, spots=spots, suspects=suspects, surface=surface, drift=_drift(one, surface))


def _check_enough(one: Round, spots: tuple[Spot, ...], kept: list[int]) -> None:
    places = {spots[index].reading.point_mm for index in kept}
    if len(places) < 3:
        raise MapError(
            f"round {one.number} has rail readings at {len(places)} place{'' if len(places) == 1 else 's'}; "
            "a map needs at least 3, not all in one line, and 8 or more to be worth reading"
        )


def _fit(grill: Grill, one: Round, spots: list[Spot], method: str) -> Surface:
    design, mean, std = drift_design(one, [spot.reading for spot in spots])
    return fit_surface(
        np.array([spot.reading.point_mm for spot in spots]),
        np.array([spot.rail_c for spot in spots]),
        np.array([spot.shot_std_c for spot in spots]),
        extent_mm=grill.grate.extent_mm,
        method=method,
        place_std_c=np.array([spot.place_std_c for spot in spots]),
        drift=design,
        drift_mean_c=mean,
        drift_std_c=std,
        seams_mm=grill.grate.seams_mm,
        seam_axis=grill.grate.seam_axis,
    )


def drift_design(
    one: Round, readings: list[Reading]
) -> tuple[NDArray[np.float64] | None, FloatArray | None, FloatArray | None]:
    """Return how each reading moves with warming and with the lid, and the prior mean and spread of both.

    The columns are zero at the round's median time, which is the time the surface stands for. Without a time on every
    reading there is nothing to go by, and all three are None.
    """
    middle = one.taken_at
    times = [reading.taken_at for reading in readings]
    if middle is None or not all(times):
        return None, None, None
    seconds = np.array([(time - middle).total_seconds() for time in times if time is not None])
    if np.ptp(seconds) == 0.0:
        return None, None, None
    columns, mean, std = [seconds / 60.0], [0.0], [DRIFT_STD_C_PER_MIN]
    if one.lid == "closed":
        columns.append(_lid_loss_c(one, seconds) - _lid_loss_c(one, np.zeros(1)))
        mean.append(1.0)
        std.append(LID_DROP_SHARE_STD)
    return np.column_stack(columns), np.array(mean), np.array(std)


def _lid_loss_c(one: Round, seconds: FloatArray) -> FloatArray:
    """Return what the grate has lost (negative) since the lid was lifted, at seconds from the median time."""
    first = min(reading.taken_at for reading in one.readings if reading.taken_at is not None)
    assert one.taken_at is not None
    since_lid = seconds + (one.taken_at - first).total_seconds() + LID_TO_FIRST_SHOT_S
    return -LID_DROP_C * (1.0 - np.exp(-np.maximum(since_lid, 0.0) / LID_TIME_S))


def _drift(one: Round, surface: Surface) -> Drift | None:
    if surface.drift_mean_c.size == 0:
        return None
    with_lid = surface.drift_mean_c.size > 1
    since_lid_c = float(surface.drift_mean_c[1] * _lid_loss_c(one, np.zeros(1))[0]) if with_lid else 0.0
    return Drift(
        per_minute_c=float(surface.drift_mean_c[0]),
        per_minute_std_c=float(surface.drift_std_c[0]),
        since_lid_c=since_lid_c,
    )


def _suspects(grill: Grill, spots: tuple[Spot, ...], rail: list[int]) -> dict[int, str]:
    return {}


def newest_first(rounds: tuple[Round, ...]) -> list[Round]:
    """Return rounds by number, the newest first."""
    return sorted(rounds, key=lambda one: -one.number)


def age_minutes(earlier: datetime | None, later: datetime | None) -> float | None:
    """Return the minutes between two times, or None where one is not known."""
    if earlier is None or later is None:
        return None
    return (later - earlier).total_seconds() / 60.0
