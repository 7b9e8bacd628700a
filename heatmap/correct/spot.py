"""One reading corrected to one spot, and the trail that shows how."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from heatmap.correct.calibration import Calibration, probe_std_c
from heatmap.correct.nuisance import VALLEY_PLACE_SD_C
from heatmap.physics.planck import band_radiance, band_temperature
from heatmap.readings.reading import Reading
from heatmap.units import FloatArray, c_from_k, k_from_c, percent


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
    rail_c: float | None
    shot_std_c: float | None
    place_std_c: float | None
    shared_std_c: float | None

    @property
    def own_std_c(self) -> float | None:
        """Standard deviation of this reading alone, °C."""
        if self.shot_std_c is None or self.place_std_c is None:
            return None
        return float(np.hypot(self.shot_std_c, self.place_std_c))


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of the trail: what was done and the temperature after it.

    `what` may hold `{difference}`, to be filled with `difference_c` in the reader's units.
    """

    what: str
    after_c: float
    difference_c: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Contribution:
    """One named source of uncertainty and the standard deviation it brings to the rail temperature."""

    source: str
    kind: Literal["own", "shared"]
    std_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Trail:
    """How one reading became a rail temperature.

    Attributes
    ----------
    spot : Spot
    steps : tuple of Step
    contributions : tuple of Contribution
    spot_mm : float
        Diameter of the gun's spot.
    rail_share : float
        Mean share of the spot that is rail top.
    """

    spot: Spot
    steps: tuple[Step, ...]
    contributions: tuple[Contribution, ...]
    spot_mm: float
    rail_share: float


def correct_readings(readings: Sequence[Reading], calibration: Calibration) -> tuple[Spot, ...]:
    """Turn readings into spots, in order.

    Parameters
    ----------
    readings : sequence of Reading
        Of one surface state, that of `calibration`.
    calibration : Calibration

    Returns
    -------
    tuple of Spot

    Raises
    ------
    ReadingError
        When a reading is less than what its rail mirrors.

    Notes
    -----
    Own parts are combined as the root sum of squares of sensitivity times standard uncertainty (JCGM
    100:2008, 5.1.2), in every case and then averaged in the square; the shared part is the
    spread over the cases.
    """
    spots: dict[int, Spot] = {}
    by_distance: dict[float | None, list[int]] = {}
    for index, reading in enumerate(readings):
        if reading.aim == "rail":
            by_distance.setdefault(reading.distance_mm, []).append(index)
        elif reading.aim == "contact":
            spots[index] = _contact_spot(reading, calibration)
        else:
            spots[index] = Spot(reading=reading, rail_c=None, shot_std_c=None, place_std_c=None, shared_std_c=None)
    for distance_mm, indices in by_distance.items():
        corrected = _rail_spots([readings[index] for index in indices], calibration, distance_mm)
        spots.update(zip(indices, corrected, strict=True))
    return tuple(spots[index] for index in range(len(readings)))


def _contact_spot(reading: Reading, calibration: Calibration) -> Spot:
    assert reading.shown_c is not None
    probe = calibration.grill.probe
    return Spot(
        reading=reading,
        rail_c=reading.shown_c + probe.reads_low_c,
        shot_std_c=probe_std_c(calibration.grill),
        place_std_c=0.0,
        shared_std_c=0.0,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Parts:
    """Everything about n readings from one distance: means over the cases, (n,) each."""

    cases_c: FloatArray
    rail_c: FloatArray
    shared_std_c: FloatArray
    gun_std_c: FloatArray
    own: dict[str, FloatArray]


_SHOT_SOURCES = ("repeatability of the gun", "display step", "aim: rail or valley in the spot")
_PLACE_SOURCES = ("patchy finish", "valley, from place to place")


def _parts(shown_c: FloatArray, calibration: Calibration, distance_mm: float | None) -> _Parts:
    gun, grate = calibration.grill.gun, calibration.grill.grate
    view = calibration.view(distance_mm)
    raw_c = view.rail_c(shown_c)
    side = view.sensitivity(raw_c, shown_c)
    cases_c, gun_variance = calibration.with_gun(raw_c, side.rail_per_shown, shown_c)
    rail_c, shared_std_c = calibration.moments(cases_c, gun_variance)

    def root_mean_square(effect: FloatArray) -> FloatArray:
        return np.sqrt(calibration.nuisance.mean(effect**2))

    per_shown = root_mean_square(side.rail_per_shown)
    own = {
        _SHOT_SOURCES[0]: per_shown * 0.01 * gun.repeatability_percent * np.abs(shown_c),
        _SHOT_SOURCES[1]: per_shown * gun.display_step_c / np.sqrt(12.0),
        _SHOT_SOURCES[2]: root_mean_square(side.rail_per_share) * view.share[1],
        _PLACE_SOURCES[0]: root_mean_square(side.rail_per_emissivity) * grate.emissivity_patch_sd,
        _PLACE_SOURCES[1]: root_mean_square(side.rail_per_valley) * VALLEY_PLACE_SD_C,
    }
    return _Parts(
        cases_c=cases_c,
        rail_c=rail_c,
        shared_std_c=shared_std_c,
        gun_std_c=np.sqrt(calibration.nuisance.mean(gun_variance)),
        own=own,
    )


def _rail_spots(readings: Sequence[Reading], calibration: Calibration, distance_mm: float | None) -> list[Spot]:
    shown_c = np.array([reading.shown_c for reading in readings], dtype=float)
    parts = _parts(shown_c, calibration, distance_mm)
    shot = np.sqrt(sum(parts.own[name] ** 2 for name in _SHOT_SOURCES))
    place = np.sqrt(sum(parts.own[name] ** 2 for name in _PLACE_SOURCES))
    return [
        Spot(
            reading=reading,
            rail_c=float(parts.rail_c[index]),
            shot_std_c=float(shot[index]),
            place_std_c=float(place[index]),
            shared_std_c=float(parts.shared_std_c[index]),
        )
        for index, reading in enumerate(readings)
    ]


def trail(reading: Reading, calibration: Calibration) -> Trail:
    """Show, step by step, how a rail or contact reading becomes a rail temperature.

    The steps undo the setting, the valley share, the reflection and the emissivity with the most likely
    values; the last one averages over what is not known, and takes in what contact readings taught.
    """
    spot = correct_readings([reading], calibration)[0]
    view = calibration.view(reading.distance_mm)
    assert reading.shown_c is not None
    if reading.aim != "rail" or spot.rail_c is None:
        return Trail(spot=spot, steps=_probe_steps(spot), contributions=(), spot_mm=view.spot_mm, rail_share=1.0)
    shown_c = np.array([reading.shown_c])
    parts = _parts(shown_c, calibration, reading.distance_mm)
    sources = calibration.nuisance.spread_by_source(parts.cases_c[:, 0])
    shared = zip(
        (
            "emissivity of the finish",
            "valley between the rails",
            "what the rails mirror",
            "accuracy of the gun",
        ),
        (*sources, float(parts.gun_std_c[0])),
        strict=True,
    )
    contributions = [Contribution(source=name, kind="own", std_c=float(std[0])) for name, std in parts.own.items()]
    contributions += [Contribution(source=name, kind="shared", std_c=std) for name, std in shared]
    return Trail(
        spot=spot,
        steps=(
            *_steps(reading, calibration),
            Step(what="averaged over what is not known", after_c=spot.rail_c),
        ),
        contributions=tuple(contributions),
        spot_mm=view.spot_mm,
        rail_share=view.share[0],
    )


def _probe_steps(spot: Spot) -> tuple[Step, ...]:
    assert spot.reading.shown_c is not None
    steps = [Step(what=f"{spot.reading.aim} reading", after_c=spot.reading.shown_c)]
    if spot.rail_c is not None:
        steps.append(Step(what="a probe on a narrow rail reads low", after_c=spot.rail_c))
    return tuple(steps)


def _steps(reading: Reading, calibration: Calibration) -> tuple[Step, ...]:
    assert reading.shown_c is not None
    grill, cases = calibration.grill, calibration.nuisance
    view = calibration.view(reading.distance_mm)
    share, setting = view.share[0], grill.gun.emissivity_setting
    emissivity, valley_c = float(cases.mean(cases.emissivity)), float(cases.mean(cases.valley_excess_c))
    mirrored = float(band_radiance(k_from_c(float(cases.mean(cases.reflected_c)))))
    added = 0.0 if grill.gun_own_c is None else (1 - setting) * float(band_radiance(k_from_c(grill.gun_own_c)))
    arriving = setting * float(band_radiance(k_from_c(reading.shown_c))) + added

    def leaving(rail_c: FloatArray) -> FloatArray:
        rail_k = k_from_c(rail_c)
        own = share * (emissivity * band_radiance(rail_k) + (1 - emissivity) * mirrored)
        return np.asarray(own + (1 - share) * band_radiance(np.maximum(rail_k + valley_c, 200.0)))

    grid_c = np.linspace(-60.0, 1100.0, 4641)
    rail_c = float(np.interp(arriving, leaving(grid_c), grid_c))
    valley = (1 - share) * float(band_radiance(max(k_from_c(rail_c + valley_c), 200.0)))
    rail_only = (arriving - valley) / share
    valley_step = Step(
        what=f"the valley taken out: {percent(1 - share)} of the spot, taken as {{difference}} than the rail",
        after_c=_black_c(rail_only),
        difference_c=valley_c,
    )
    return (
        Step(what="the gun showed", after_c=reading.shown_c),
        Step(what=f"its setting of {setting:g} undone", after_c=_black_c(arriving)),
        *((valley_step,) if share < 1.0 else ()),
        Step(what=f"reflection and emissivity {emissivity:.2f} undone", after_c=rail_c),
    )


def _black_c(radiance: float) -> float:
    return float(c_from_k(float(band_temperature(max(radiance, 1e-3)))))
