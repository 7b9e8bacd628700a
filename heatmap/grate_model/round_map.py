"""The map of one round: its spots corrected, blunders set aside, drift taken out, one surface fitted."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from heatmap.correct import Calibration, Spot, correct_readings
from heatmap.errors import MapError
from heatmap.grill.grill import Grill
from heatmap.readings.reading import INSISTED, Reading, Round
from heatmap.surface import RecheckSurface, Surface, find_suspects, fit_surface, recheck_surface
from heatmap.surface.blunders import SUSPECT_FROM
from heatmap.surface.recheck import ODD_CHANCE
from heatmap.units import FloatArray, f_from_c

#: Prior standard deviation of warming or cooling during a round, °C a minute: a grate still preheating rises
#: by some 5 °C a minute, a settled one by none (common practice, no source).
DRIFT_STD_C_PER_MIN = 2.5
#: A grate that soaked under a closed lid loses about 10, 19 and 27 °F in the first 30, 60 and 90 s after it
#: is lifted (common practice, no source): an exponential with these two constants goes through all three.
LID_DROP_C, LID_TIME_S = 100.0 / 1.8, 285.0
#: How much the drop differs from grill to grill, as a share of itself. Assumed: from nearly none to nearly twice as
#: much.
LID_DROP_SHARE_STD = 0.4
#: Warming or cooling as during the round is believed for no longer than this before and after. Assumed: a grate's own
#: time of settling is about as long (common practice, no source), and a rise that fast cannot last longer.
MOST_DRIFT_MIN = 10.0
#: A re-check is three to five shots (common practice, no source).
MOST_RECHECK_PLACES = 5
#: Three places not in one line are the fewest that tell a level and a lean.
FEWEST_PLACES = 3
#: From lifting the lid to the first shot: to set it aside, take up the gun and aim. Assumed.
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
    shape_from : Round or None
        The full round a re-check took its shape from; None for a map of its own.
    """

    round: Round
    spots: tuple[Spot, ...]
    suspects: Mapping[int, str]
    surface: Surface
    drift: Drift | None
    shape_from: Round | None = None

    @property
    def kept_spots(self) -> tuple[Spot, ...]:
        """The rail readings the map is made of, in order."""
        return tuple(
            spot for index, spot in enumerate(self.spots) if spot.reading.aim == "rail" and index not in self.suspects
        )

    @property
    def hardly_counted(self) -> tuple[Spot, ...]:
        """Shots of a re-check that are in the map, but more likely off alone than not: they count little."""
        if not isinstance(self.surface, RecheckSurface):
            return ()
        return tuple(spot for spot, odd in zip(self.kept_spots, self.surface.odd, strict=True) if odd > 0.5)


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
    _check_enough(one, spots, rail)
    suspects = {} if keep_suspects else _suspects(grill, one, spots, rail, calibrations)
    kept = [index for index in rail if index not in suspects]
    surface = _fit(grill, one, [spots[index] for index in kept], method)
    return RoundMap(round=one, spots=spots, suspects=suspects, surface=surface, drift=_drift(one, surface))


def is_recheck(grill: Grill, one: Round) -> bool:
    """Tell whether a round is only a few shots: at most five places, and fewer than half of the positions."""
    places = {reading.point_mm for reading in one.with_aim("rail")}
    return 0 < len(places) <= MOST_RECHECK_PLACES and 2 * len(places) < len(grill.labels)


def same_marks(one: Round, other: Round) -> bool:
    """Tell whether no burner is known to have been turned between two rounds."""
    return all(other.settings.get(name, mark) == mark for name, mark in one.settings.items())


def map_recheck(
    base: RoundMap, one: Round, calibrations: Mapping[str, Calibration], *, keep_suspects: bool = False
) -> RoundMap:
    """Move the map of the last full round to where a re-check says it is.

    Parameters
    ----------
    base : RoundMap
        Map of the full round, corrected with the same calibrations.
    one : Round
        The re-check; one rail reading is enough.
    calibrations, keep_suspects
        As for :func:`map_round`.

    Returns
    -------
    RoundMap
        With `shape_from` set to the full round.
    """
    spots = correct_round(one.readings, calibrations)
    rail = [index for index, spot in enumerate(spots) if spot.reading.aim == "rail"]
    chance = 0.0 if keep_suspects else ODD_CHANCE
    surface = _recheck_surface(base, one, [spots[index] for index in rail], chance)
    suspects: dict[int, str] = {}
    worst = int(np.argmax(surface.odd))
    others = rail[:worst] + rail[worst + 1 :]
    if surface.odd[worst] >= SUSPECT_FROM and len(others) >= 2:
        without = _recheck_surface(base, one, [spots[index] for index in others], chance)
        if without.odd.max() < SUSPECT_FROM:
            suspects = {rail[worst]: "does not go with the last full round and the other shots"}
            surface = without
    return RoundMap(
        round=one,
        spots=spots,
        suspects=suspects,
        surface=surface,
        drift=_drift(one, surface),
        shape_from=base.round,
    )


def _recheck_surface(base: RoundMap, one: Round, rail: list[Spot], odd_chance: float) -> RecheckSurface:
    base_design, _, _ = drift_design(base.round, [spot.reading for spot in base.kept_spots])
    points_mm, rail_c, shot_std_c, more = _surface_arguments(base.surface.extent_mm, one, rail)
    return recheck_surface(
        base.surface,
        points_mm,
        rail_c,
        shot_std_c,
        minutes=age_minutes(base.round.taken_at, one.taken_at),
        base_drift_c=None if base_design is None else base_design @ base.surface.drift_mean_c,
        odd_chance=np.array([0.0 if _insisted(spot) else odd_chance for spot in rail]),
        **{name: more[name] for name in ("place_std_c", "drift", "drift_mean_c", "drift_std_c")},
    )


def _insisted(spot: Spot) -> bool:
    return spot.reading.note.startswith(INSISTED)


def _check_enough(one: Round, spots: tuple[Spot, ...], rail: list[int]) -> None:
    """Raise unless the rail readings span an area."""
    places = {spots[index].reading.point_mm for index in rail}
    count = len(places)
    if count < FEWEST_PLACES:
        raise MapError(
            f"round {one.number} has rail readings at {count} place{'' if count == 1 else 's'}; "
            "a map needs at least 3, not all in one line, and 8 or more to be worth reading"
        )
    if not _is_area(places):
        raise MapError(
            f"round {one.number} has all its rail readings in one line; "
            "a map needs an area: shoot at least one place to the side of it"
        )


def spans_area(one: Round) -> bool:
    """Tell whether the rail readings of a round span an area, as a map of its own needs."""
    places = {reading.point_mm for reading in one.with_aim("rail")}
    return len(places) >= FEWEST_PLACES and _is_area(places)


def _is_area(places: Iterable[tuple[float, float]]) -> bool:
    points_mm = np.array(sorted(places))
    widths = np.linalg.svd(points_mm - points_mm.mean(axis=0), compute_uv=False)
    return bool(widths[1] > 1e-6 * widths[0])


def _fit(grill: Grill, one: Round, spots: list[Spot], method: str) -> Surface:
    points_mm, rail_c, shot_std_c, more = _surface_arguments(grill.grate.extent_mm, one, spots)
    seams_mm, seam_axis = grill.grate.seams_mm, grill.grate.seam_axis
    return fit_surface(points_mm, rail_c, shot_std_c, method=method, seams_mm=seams_mm, seam_axis=seam_axis, **more)


def _surface_arguments(
    extent_mm: tuple[float, float], one: Round, spots: list[Spot]
) -> tuple[FloatArray, FloatArray, FloatArray, dict[str, Any]]:
    design, mean, std = drift_design(one, [spot.reading for spot in spots])
    more = {
        "extent_mm": extent_mm,
        "place_std_c": np.array([spot.place_std_c for spot in spots]),
        "drift": design,
        "drift_mean_c": mean,
        "drift_std_c": std,
    }
    return (
        np.array([spot.reading.point_mm for spot in spots]),
        np.array([spot.rail_c for spot in spots]),
        np.array([spot.shot_std_c for spot in spots]),
        more,
    )


def _suspects(
    grill: Grill,
    one: Round,
    spots: tuple[Spot, ...],
    rail: list[int],
    calibrations: Mapping[str, Calibration],
) -> dict[int, str]:
    """Return the readings that cannot be, with the reason; one the cook insisted on is never among them."""
    of_rail = [spots[index] for index in rail]
    points_mm, rail_c, shot_std_c, more = _surface_arguments(grill.grate.extent_mm, one, of_rail)
    shown_c = np.array([spot.reading.shown_c for spot in of_rail])
    shown = np.asarray(f_from_c(shown_c)) if grill.units == "us" else shown_c
    whole = bool(np.all(np.abs(shown - np.round(shown)) < 1e-6))
    judged = find_suspects(
        points_mm,
        rail_c,
        shot_std_c,
        shown=np.round(shown, 0 if whole else 1),
        rail_from_shown=_rail_from_shown(grill, of_rail, calibrations),
        decimals=0 if whole else 1,
        seams_mm=grill.grate.seams_mm,
        seam_axis=grill.grate.seam_axis,
        **more,
    )
    return {
        index: verdict.reason
        for index, spot, verdict in zip(rail, of_rail, judged, strict=True)
        if verdict.suspect and not _insisted(spot)
    }


def _rail_from_shown(
    grill: Grill, spots: list[Spot], calibrations: Mapping[str, Calibration]
) -> Callable[[FloatArray], FloatArray]:
    """Return how the rails would change had the gun shown other numbers, in the grill's units.

    The curve of the usual distance is laid through each reading as it was corrected: exact for what was
    shown, quick and close enough for what might have been.
    """
    states = [spot.reading.surface for spot in spots]
    curves = {state: _curve_in(grill, calibrations[state]) for state in set(states)}
    mine = {state: np.array([other == state for other in states]) for state in curves}

    def laid_through(numbers: FloatArray) -> FloatArray:
        if len(curves) == 1:
            return np.asarray(np.interp(numbers, *curves[states[0]]))
        result = np.empty(len(states))
        for state, (shown, rail_c) in curves.items():
            result[mine[state]] = np.interp(numbers[mine[state]], shown, rail_c)
        return result

    shown_c = np.array([spot.reading.shown_c for spot in spots])
    offset_c = np.array([spot.rail_c for spot in spots])
    offset_c = offset_c - laid_through(np.asarray(f_from_c(shown_c)) if grill.units == "us" else shown_c)
    return lambda numbers: laid_through(numbers) + offset_c


def _curve_in(grill: Grill, calibration: Calibration) -> tuple[FloatArray, FloatArray]:
    """Return the curve from shown to rail with what is shown in the grill's units, going on straight at both
    ends."""
    shown_c, rail_c = calibration.curve_c
    far_c = np.array([-1e4, 1e4])
    shown_c = np.concatenate([shown_c[:1] + far_c[0], shown_c, shown_c[-1:] + far_c[1]])
    rail_c = np.concatenate([rail_c[:1] + far_c[0], rail_c, rail_c[-1:] + far_c[1]])
    return (np.asarray(f_from_c(shown_c)) if grill.units == "us" else shown_c), rail_c


def drift_design(
    one: Round, readings: list[Reading]
) -> tuple[NDArray[np.float64] | None, FloatArray | None, FloatArray | None]:
    """Return how each reading moves with warming and with the lid, and the prior mean and spread of both.

    The columns are zero at the round's median time, which is the time the surface stands for. Without a time
    on every reading there is nothing to go by, and all three are None.
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


def drift_at(round_map: RoundMap, when: datetime | None, point_mm: tuple[float, float]) -> tuple[float, float]:
    """Return how far a place had moved from the surface at another time near the round, and the spread [°C].

    The surface at a place is its readings freed of drift, so surface and drift err against each other: what
    counts for the spread is the time from the nearest of those readings, not from the middle of the round.
    """
    one, drift = round_map.round, round_map.drift
    if drift is None or when is None or one.taken_at is None:
        return 0.0, 0.0
    readings = [spot.reading for spot in round_map.kept_spots if spot.reading.taken_at is not None]
    x_mm, y_mm = point_mm

    def nearness(reading: Reading) -> tuple[float, float]:
        assert reading.taken_at is not None
        distance_mm = float(np.hypot(reading.x_mm - x_mm, reading.y_mm - y_mm))
        return round(distance_mm), abs((reading.taken_at - when).total_seconds())

    nearest = min(readings, key=nearness).taken_at
    assert nearest is not None
    most_s = 60.0 * MOST_DRIFT_MIN
    seconds = [min(max((time - one.taken_at).total_seconds(), -most_s), most_s) for time in (when, nearest)]
    since_s = seconds[0] - seconds[1]
    moved_c = drift.per_minute_c * seconds[0] / 60.0
    std_c = drift.per_minute_std_c * abs(since_s) / 60.0
    if round_map.surface.drift_mean_c.size > 1:
        at_pin, at_reading, at_middle = _lid_loss_c(one, np.array([*seconds, 0.0]))
        moved_c += float(round_map.surface.drift_mean_c[1] * (at_pin - at_middle))
        std_c = float(np.hypot(std_c, round_map.surface.drift_std_c[1] * (at_pin - at_reading)))
    return moved_c, std_c


def age_minutes(earlier: datetime | None, later: datetime | None) -> float | None:
    """Return the minutes between two times, or None where one is not known."""
    if earlier is None or later is None:
        return None
    return (later - earlier).total_seconds() / 60.0
