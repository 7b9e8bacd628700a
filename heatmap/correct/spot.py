"""One reading corrected to one spot, the trail that shows how, and whether it tells anything of the rail."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from heatmap.correct import tuning
from heatmap.correct.calibration import Calibration, Corrected
from heatmap.correct.evidence import probe_std_c
from heatmap.correct.gun_view import gun_limit_c, repeatability_c
from heatmap.errors import ReadingError
from heatmap.grill.grill import Grill
from heatmap.physics.planck import band_temperature
from heatmap.readings.reading import Reading
from heatmap.units import STDS_95, Display, FloatArray, c_from_k

#: A gun shows a few hundred different numbers in a round. More than this, as a program may send, are read off a rule
#: with these steps [°C]: what is bent in between is below a thousandth of a degree.
MOST_DIFFERENT, STEP_C = 1000, 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """What one reading says the rail is.

    Attributes
    ----------
    reading : Reading
    rail_c : float or None
        None for valley and patch readings, which say nothing of the rail by themselves.
    shot_std_c : float or None
        Own standard deviation that is new with every shot: repeatability, display step, aim.
    place_std_c : float or None
        Own standard deviation that repeats at one place have in common: patchy finish, local valley.
    shared_std_c : float or None
        Standard deviation common to all readings with this gun on this surface.
    """

    reading: Reading
    rail_c: float | None = None
    shot_std_c: float | None = None
    place_std_c: float | None = None
    shared_std_c: float | None = None

    @property
    def own_std_c(self) -> float | None:
        """Standard deviation of this reading alone, °C."""
        if self.shot_std_c is None or self.place_std_c is None:
            return None
        return float(np.hypot(self.shot_std_c, self.place_std_c))


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of the trail: what was read or undone and the temperature after it.

    `size` is the setting, the share of the valley in the spot or the emissivity; a valley is taken as `excess_c` hotter
    than the rail.
    """

    what: Literal["reading", "probe", "shown", "gun", "setting", "valley", "emissivity"]
    after_c: float
    size: float = 0.0
    excess_c: float = 0.0


class BelowMirroredError(ReadingError):
    """A reading is less than what its rails show by what they mirror alone, at least `least_c`."""

    def __init__(self, text: str, least_c: float) -> None:
        self.least_c = least_c
        super().__init__(text)


def correct_readings(readings: Sequence[Reading], calibration: Calibration) -> tuple[Spot, ...]:
    """Turn readings of one surface state, that of `calibration`, into spots, in order.

    Own parts are combined as the root sum of squares of sensitivity times standard uncertainty (JCGM 100:2008, 5.1.2),
    in every case and then averaged in the square; the shared part is the spread over the cases.

    Raises
    ------
    BelowMirroredError
        When a reading is less than what its rail mirrors in every case.
    """
    shot: dict[float | None, list[Reading]] = {}
    for reading in readings:
        if reading.aim == "rail":
            shot.setdefault(reading.distance_mm, []).append(reading)
    of_rail = [spot for distance_mm, some in shot.items() for spot in _rail_spots(some, calibration, distance_mm)]
    spot_of = {id(spot.reading): spot for spot in of_rail}
    return tuple(spot_of.get(id(reading)) or _other_spot(reading, calibration.grill) for reading in readings)


def _other_spot(reading: Reading, grill: Grill) -> Spot:
    if reading.aim != "contact" or reading.shown_c is None:
        return Spot(reading=reading)
    rail_c, std_c = reading.shown_c + grill.probe.reads_low_c, probe_std_c(grill)
    return Spot(reading=reading, rail_c=rail_c, shot_std_c=std_c, place_std_c=0.0, shared_std_c=0.0)


#: What of the cases is not known where one source of uncertainty is looked at by itself.
_SHARED_SOURCES = {
    "emissivity of the finish": ("emissivity", "valley_emissivity"),
    "valley between the rails": ("valley_excess_c",),
    "what the rails mirror": ("reflected_c",),
}


def _own_std_c(
    shown_c: FloatArray, corrected: Corrected, calibration: Calibration
) -> tuple[dict[str, FloatArray], ...]:
    """Return each own part of n readings, by its source, (n,) each: new with every shot; the same at one place."""
    gun, grate, side = calibration.grill.gun, calibration.grill.grate, corrected.sensitivity

    def root_mean_square(effect: FloatArray) -> FloatArray:
        return np.sqrt(calibration.nuisance.mean(effect**2))

    per_shown = root_mean_square(side.rail_per_shown)
    return {
        "repeatability of the gun": per_shown * 0.01 * gun.repeatability_percent * np.abs(shown_c),
        "display step": per_shown * gun.display_step_c / np.sqrt(12.0),
        "aim: rail or valley in the spot": root_mean_square(side.rail_per_share) * corrected.view.share[1],
    }, {
        "patchy finish": root_mean_square(side.rail_per_emissivity) * grate.emissivity_patch_sd,
        "valley, from place to place": root_mean_square(side.rail_per_valley) * tuning.VALLEY_PLACE_SD_C,
    }


def _rail_spots(readings: Sequence[Reading], calibration: Calibration, distance_mm: float | None) -> list[Spot]:
    shown_c = np.array([reading.shown_c for reading in readings], dtype=float)
    _refuse_impossible(readings, shown_c, calibration, distance_mm)
    asked_c = np.array(sorted(set(shown_c.tolist())))  # np.unique loads np.ma for it, which costs more
    if len(asked_c) > MOST_DIFFERENT:
        asked_c = np.linspace(asked_c[0], asked_c[-1], int(np.ceil(np.ptp(asked_c) / STEP_C)) + 1)
    corrected = calibration.correct(asked_c, distance_mm)
    own = _own_std_c(asked_c, corrected, calibration)
    shot, place = (np.sqrt(sum(std**2 for std in part.values())) for part in own)
    columns = [
        np.interp(shown_c, asked_c, each).tolist() for each in (corrected.rail_c, shot, place, corrected.shared_std_c)
    ]
    return [
        Spot(reading=reading, rail_c=rail_c, shot_std_c=shot_c, place_std_c=place_c, shared_std_c=shared_c)
        for reading, rail_c, shot_c, place_c, shared_c in zip(readings, *columns, strict=True)
    ]


def _refuse_impossible(
    readings: Sequence[Reading], shown_c: FloatArray, calibration: Calibration, distance_mm: float | None
) -> None:
    """Refuse a reading below the least that any case allows, with the gun as wrong as it may be."""
    gun = calibration.grill.gun
    # Of the coldest rail: what is mirrored alone.
    least_c = float(calibration.view(distance_mm).shown_c(np.array([tuning.LOWEST_RAIL_C])).min())
    highest_c = shown_c + gun_limit_c(gun, shown_c) + 3.0 * repeatability_c(gun, shown_c)
    if not (highest_c < least_c).any():
        return
    first = int(np.argmax(highest_c < least_c))
    reading, display = readings[first], Display(calibration.grill.units)
    raise BelowMirroredError(
        f"reading {reading.id}{f' at {reading.position}' if reading.position else ''} shows "
        f"{display.temperature_text(shown_c[first])}, and by what they mirror alone these rails show at least "
        f"{display.temperature_text(least_c)}; check the number, and the emissivity and the reflected "
        "temperature in the grill file",
        least_c,
    )


class Trail:
    """How one rail or contact reading becomes a rail temperature.

    Attributes
    ----------
    spot : Spot
    steps : list of Step
        The setting, the valley share, the reflection and the emissivity undone at their best estimates.
    own, shared : dict
        The standard deviation that each source of uncertainty brings to the rail, of this reading alone and of all;
        nothing where no gun was used.
    """

    def __init__(self, reading: Reading, calibration: Calibration) -> None:
        """Follow it by what is known of the gun."""
        (self.spot,) = correct_readings([reading], calibration)
        rail_c = self.spot.rail_c
        assert reading.shown_c is not None
        self.own: dict[str, float] = {}
        self.shared: dict[str, float] = {}
        if reading.aim != "rail" or rail_c is None:
            self.steps = [Step(what="reading", after_c=reading.shown_c)]
            if rail_c is not None:
                self.steps.append(Step(what="probe", after_c=rail_c))
            return
        nuisance, shown_c = calibration.nuisance, np.array([reading.shown_c])
        corrected = calibration.correct(shown_c, reading.distance_mm)
        faultless_c = shown_c - calibration.gun_error_c(shown_c)
        for part in _own_std_c(shown_c, corrected, calibration):
            self.own |= {source: float(std_c[0]) for source, std_c in part.items()}
        for source, uncertain in _SHARED_SOURCES.items():  # the others at their best estimates
            cases_c = calibration.view(reading.distance_mm, nuisance.only(*uncertain)).rail_c(faultless_c)[:, 0]
            self.shared[source] = float(np.sqrt(nuisance.mean((cases_c - rail_c) ** 2)))
        self.shared["accuracy of the gun"] = float(corrected.gun_std_c[0])
        best, setting = nuisance.best, calibration.grill.gun.emissivity_setting
        view = calibration.view(reading.distance_mm, best)
        share, arriving = view.share[0], float(view.arriving(faultless_c)[0])
        self.steps = [Step(what="shown", after_c=reading.shown_c)]
        if abs(faultless_c[0] - reading.shown_c) > 0.05:
            self.steps.append(Step(what="gun", after_c=float(faultless_c[0])))
        self.steps.append(Step(what="setting", after_c=_black_c(arriving), size=setting))
        if share < 1.0:
            rail_only = (arriving - (1 - share) * float(view.leaving(np.array([[rail_c]]), share=0.0)[0, 0])) / share
            excess_c = float(best.valley_excess_c[0])
            self.steps.append(Step(what="valley", after_c=_black_c(rail_only), size=1 - share, excess_c=excess_c))
        self.steps.append(Step(what="emissivity", after_c=rail_c, size=float(best.emissivity[0])))


def _black_c(radiance: float) -> float:
    return float(c_from_k(float(band_temperature(max(radiance, 1e-3)))))


class Telling:
    """What a rail reading tells of the rail, before or after contact readings.

    The limits are from the weighted cases, with what each leaves open by itself added in the square.

    Attributes
    ----------
    own_part : float
        Share of the gun's answer to a small warming of rail and valley that is the rail's own glow.
    low_c, high_c : float
        95 % of the chance lies between; at :data:`LOWEST_RAIL_C` or :data:`HIGHEST_RAIL_C`: beyond.
    cut_off : bool
        Whether the range ends only where no more is looked at: rails hotter than any, finishes brighter than any.
    compared : bool
        Whether a contact reading has told what the gun alone cannot.
    is_answer : bool
        Whether the number is worth giving.
    """

    def __init__(self, spot: Spot, calibration: Calibration) -> None:
        """Tell it of a spot as `calibration` corrects it."""
        assert spot.reading.shown_c is not None and spot.own_std_c is not None
        grate, weight = calibration.grill.grate, calibration.nuisance.weight
        corrected = calibration.correct(np.array([spot.reading.shown_c]), spot.reading.distance_mm)
        raw_c, cases_c = corrected.raw_c[:, 0], corrected.cases_c[:, 0]
        at_ends = float(weight[(raw_c >= tuning.HIGHEST_RAIL_C - 1.0) | (raw_c <= tuning.LOWEST_RAIL_C + 1.0)].sum())
        order = np.argsort(cases_c)
        chance = np.cumsum(weight[order]) - 0.5 * weight[order]
        low_c, middle_c, high_c = np.interp([0.025, 0.5, 0.975], chance, cases_c[order])
        alone_c = STDS_95 * float(np.hypot(spot.own_std_c, corrected.gun_std_c[0]))
        by_emissivity = grate.rail_emissivity - STDS_95 * grate.rail_emissivity_sd < tuning.LOWEST_EMISSIVITY
        bare = by_emissivity and corrected.view.share[0] >= 1.0
        self.own_part = 1.0 + float(calibration.nuisance.mean(corrected.sensitivity.rail_per_valley)[0])
        self.low_c = max(float(middle_c - np.hypot(middle_c - low_c, alone_c)), tuning.LOWEST_RAIL_C)
        self.high_c = min(float(middle_c + np.hypot(high_c - middle_c, alone_c)), tuning.HIGHEST_RAIL_C)
        self.compared = any(pair.believed and pair.reading.aim == "contact" for pair in calibration.reference_pairs)
        self.cut_off = at_ends > tuning.MOST_AT_ENDS or (bare and not self.compared)
        narrow = self.high_c - self.low_c <= 2.0 * tuning.MOST_HALF_RANGE_C
        own = self.compared or self.own_part >= tuning.LEAST_OWN_PART
        self.is_answer = own and narrow and not self.cut_off
