"""What contact, patch and valley readings teach about the gun on this surface: the level, pinned once.

A pin compares something independent with what the infrared gun says at the same place. In every case of
:class:`~heatmap.correct.unknowns.Unknowns` the difference has an expected value; Bayes' rule moves the weights of the
cases, and the calibration error of the gun (one number, normal) is updated exactly inside each case.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from heatmap.correct.unknowns import VALLEY_PLACE_SD_C, GunView, Unknowns
from heatmap.grill import Grill
from heatmap.readings import Reading

FloatArray = NDArray[np.float64]

#: A contact reading farther than this many standard deviations from what is possible is not believed.
_BELIEVABLE = 4.0
_CURVE_SHOWN_C = np.linspace(-20.0, 700.0, 73)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pin:
    """A contact, patch or valley reading beside what the infrared gun says of the rail at the same place.

    Attributes
    ----------
    reading : Reading
    infrared_c, infrared_std_c : float
        What the gun, at its usual distance, shows of the rail there, and the standard deviation of that.
    same_session : bool
        False when it was taken on another day than the round in question.
    believed : bool
        False when it cannot be and was left out.
    """

    reading: Reading
    infrared_c: float
    infrared_std_c: float
    same_session: bool = True
    believed: bool = True


@dataclass(frozen=True, kw_only=True, eq=False)
class Calibration:
    """Everything known about how this gun reads this surface.

    Attributes
    ----------
    grill : Grill
    surface : {"dry", "oiled"}
    unknowns : Unknowns
    gun_mean, gun_variance : ndarray, shape (cases,)
        Calibration error of the gun in units of its standard uncertainty, in each case.
    pins : tuple of Pin
    """

    grill: Grill
    surface: Literal["dry", "oiled"]
    unknowns: Unknowns
    gun_mean: FloatArray
    gun_variance: FloatArray
    pins: tuple[Pin, ...] = ()
    _views: dict[float, GunView] = field(default_factory=dict, repr=False)

    def view(self, distance_mm: float | None = None) -> GunView:
        """Return the gun's view from a distance, by default the usual one."""
        distance = self.grill.gun.distance_mm if distance_mm is None else distance_mm
        if distance not in self._views:
            self._views[distance] = GunView(unknowns=self.unknowns, grill=self.grill, distance_mm=distance)
        return self._views[distance]

    def gun_std_c(self, shown_c: FloatArray) -> FloatArray:
        """Return the standard uncertainty of the gun's calibration: the accuracy limit over √3 (JCGM 100, 4.3.7)."""
        gun = self.grill.gun
        limit = np.maximum(gun.accuracy_c, 0.01 * gun.accuracy_percent * np.abs(shown_c))
        return np.asarray(limit / np.sqrt(3.0))

    def cases_c(self, shown_c: FloatArray, view: GunView) -> tuple[FloatArray, FloatArray]:
        """Return the rail temperature in each case and what gun calibration adds to its variance, each (cases, n)."""
        rail_c = view.rail_c(shown_c)
        return self.with_gun(rail_c, view.sensitivity(rail_c).rail_per_shown, shown_c)

    def with_gun(
        self, rail_c: FloatArray, rail_per_shown: FloatArray, shown_c: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Take the gun's calibration error out of rails (cases, n); return them and the variance it leaves."""
        effect = rail_per_shown * self.gun_std_c(shown_c)[None, :]
        return rail_c - effect * self.gun_mean[:, None], effect**2 * self.gun_variance[:, None]

    def moments(self, cases_c: FloatArray, variance: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return mean and shared standard deviation over the cases, each (n,)."""
        mean = self.unknowns.mean(cases_c)
        second = self.unknowns.mean((cases_c - mean[None, :]) ** 2 + variance)
        return mean, np.sqrt(np.maximum(second, 0.0))

    def rail_c(self, shown_c: FloatArray, distance_mm: float | None = None) -> tuple[FloatArray, FloatArray]:
        """Return rail temperature and its shared standard deviation for what the gun shows, each (n,)."""
        return self.moments(*self.cases_c(np.asarray(shown_c, dtype=float), self.view(distance_mm)))

    @cached_property
    def _curve(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        view = self.view()
        low = float(self.unknowns.mean(view.shown_c(np.array([-60.0])))[0])
        shown_c = _CURVE_SHOWN_C[_CURVE_SHOWN_C > low + 1.0]
        rail_c, shared_std_c = self.rail_c(shown_c)
        return shown_c, np.maximum.accumulate(rail_c), shared_std_c

    def shown_from_rail_c(self, rail_c: FloatArray) -> FloatArray:
        """Return what this gun would show of a rail from its usual distance."""
        shown_c, curve_c, _ = self._curve
        rail_c = np.asarray(rail_c, dtype=float)
        return np.asarray(np.interp(rail_c, curve_c, shown_c))

    def compared_c(self, rail_c: FloatArray) -> FloatArray:
        """Return rails in the numbers of the target band: as this gun shows them, or as they are."""
        return self.shown_from_rail_c(rail_c) if self.grill.target.numbers == "shown" else np.asarray(rail_c)

    def rail_from_compared_c(self, compared_c: FloatArray) -> FloatArray:
        """Return the rails behind numbers like those of the target band."""
        if self.grill.target.numbers == "rail":
            return np.asarray(compared_c, dtype=float)
        shown_c, curve_c, _ = self._curve
        return np.asarray(np.interp(np.asarray(compared_c, dtype=float), shown_c, curve_c))

    def compared_slope(self, rail_c: float) -> float:
        """Return how much a number held against the band moves for one degree of rail."""
        if self.grill.target.numbers == "rail":
            return 1.0
        ends = self.shown_from_rail_c(np.array([rail_c - 15.0, rail_c + 15.0]))
        return max(float(ends[1] - ends[0]) / 30.0, 1e-3)

    def shared_std_c(self, rail_c: float) -> float:
        """Return the shared standard deviation of a rail near `rail_c`."""
        _, curve_c, shared_std_c = self._curve
        return float(np.interp(rail_c, curve_c, shared_std_c))

    def level_std_c(self, rail_c: float) -> float:
        """Return the standard deviation that all compared numbers have in common: day to day, or the shared part."""
        if self.grill.target.numbers == "shown":
            return self.grill.target.day_sd_c
        return self.shared_std_c(rail_c)


def before_any_pin(grill: Grill, surface: Literal["dry", "oiled"] = "dry") -> Calibration:
    """Return what is known from the grill file alone."""
    unknowns = Unknowns.before_any_pin(grill, surface)
    cases = unknowns.weight.size
    return Calibration(
        grill=grill, surface=surface, unknowns=unknowns, gun_mean=np.zeros(cases), gun_variance=np.ones(cases)
    )


def calibrate(grill: Grill, pins: Sequence[Pin], surface: Literal["dry", "oiled"] = "dry") -> Calibration:
    """Return what is known after every pin has spoken.

    Pins that disagree by more than their uncertainty count for less: the square of the Birge ratio (R. T. Birge,
    Physical Review 40, 207, 1932) widens every contact pin before the final pass.
    """
    if not pins:
        return before_any_pin(grill, surface)
    pins = _believed(grill, pins, surface)
    widened = 1.0
    contacts = [pin for pin in pins if pin.believed and pin.reading.aim == "contact"]
    if len(contacts) > 1:
        widened = max(1.0, _birge_squared(_update(grill, pins, surface, 1.0), contacts))
    return _update(grill, pins, surface, widened)


def _believed(grill: Grill, pins: Sequence[Pin], surface: Literal["dry", "oiled"]) -> tuple[Pin, ...]:
    start = before_any_pin(grill, surface)
    judged = []
    for pin in pins:
        believed = True
        if pin.reading.aim == "contact":
            cases_c, gun_variance, noise_variance = _contact_parts(start, pin)
            mean, std = start.moments(cases_c[:, None], gun_variance[:, None])
            residual = _probe_c(grill, pin) - float(mean[0])
            believed = abs(residual) <= _BELIEVABLE * float(np.sqrt(std[0] ** 2 + start.unknowns.mean(noise_variance)))
        judged.append(replace(pin, believed=believed))
    return tuple(judged)


def _update(
    grill: Grill, pins: Sequence[Pin], surface: Literal["dry", "oiled"], contact_widening: float
) -> Calibration:
    known = before_any_pin(grill, surface)
    for pin in pins:
        if not pin.believed:
            continue
        if pin.reading.aim == "contact":
            known = _learn_contact(known, pin, contact_widening)
        elif pin.reading.aim == "patch":
            known = _reweighted(known, *_patch_residual(known, pin))
        elif pin.reading.aim == "valley":
            known = _reweighted(known, *_valley_residual(known, pin))
    return replace(known, pins=tuple(pins), _views={})


def _probe_c(grill: Grill, pin: Pin) -> float:
    """Return what the rail is by the probe, its habit of reading low allowed for."""
    assert pin.reading.shown_c is not None
    return pin.reading.shown_c + grill.probe.reads_low_c


def probe_std_c(grill: Grill) -> float:
    """Return the probe's standard uncertainty: its limit over √3, and its one-sided error taken as exponential."""
    return float(np.hypot(grill.probe.accuracy_c / np.sqrt(3.0), grill.probe.reads_low_c))


def _contact_parts(known: Calibration, pin: Pin) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return, per case, the rail by infrared, its variance from the gun, and the variance of the comparison."""
    view = known.view()
    shown_c = np.array([pin.infrared_c])
    raw_c = view.rail_c(shown_c)
    slope = view.sensitivity(raw_c).rail_per_shown
    rail_c, gun_variance = known.with_gun(raw_c, slope, shown_c)
    day_c = 0.0 if pin.same_session else known.grill.target.day_sd_c
    noise = (slope[:, 0] * np.hypot(pin.infrared_std_c, day_c)) ** 2 + probe_std_c(known.grill) ** 2
    return rail_c[:, 0], gun_variance[:, 0], noise


def _learn_contact(known: Calibration, pin: Pin, widening: float) -> Calibration:
    rail_c, _, noise = _contact_parts(known, pin)
    noise = noise * widening
    view, shown_c = known.view(), np.array([pin.infrared_c])
    slope = view.sensitivity(view.rail_c(shown_c)).rail_per_shown[:, 0]
    effect = -slope * known.gun_std_c(shown_c)[0]
    residual = _probe_c(known.grill, pin) - rail_c
    variance = effect**2 * known.gun_variance + noise
    gain = known.gun_variance * effect / variance
    return replace(
        _reweighted(known, residual, variance),
        gun_mean=known.gun_mean + gain * residual,
        gun_variance=known.gun_variance * (1.0 - gain * effect),
    )


def _reweighted(known: Calibration, residual: FloatArray, variance: FloatArray) -> Calibration:
    log_weight = np.log(np.maximum(known.unknowns.weight, 1e-300))
    log_weight += -0.5 * (residual**2 / variance + np.log(variance))
    weight = np.exp(log_weight - log_weight.max())
    return replace(known, unknowns=replace(known.unknowns, weight=weight / weight.sum()), _views={})


def _patch_residual(known: Calibration, pin: Pin) -> tuple[FloatArray, FloatArray]:
    """Compare the rail by the patch, whose emissivity is known, with the rail beside it."""
    grill, view = known.grill, known.view()
    assert pin.reading.shown_c is not None
    cases = known.unknowns
    patched = replace(cases, emissivity=np.full_like(cases.emissivity, grill.patch.emissivity))
    patch_view = GunView(unknowns=patched, grill=grill, distance_mm=pin.reading.distance_mm or grill.gun.distance_mm)
    by_patch = patch_view.rail_c(np.array([pin.reading.shown_c]))
    by_rail = view.rail_c(np.array([pin.infrared_c]))
    patch_side, rail_side = patch_view.sensitivity(by_patch), view.sensitivity(by_rail)
    variance = (
        (patch_side.rail_per_emissivity * grill.patch.emissivity_sd) ** 2
        + (patch_side.rail_per_share * patch_view.share[1]) ** 2
        + (patch_side.rail_per_shown * _repeatability_c(grill, pin.reading.shown_c)) ** 2
        + (rail_side.rail_per_shown * pin.infrared_std_c) ** 2
    )
    return (by_patch - by_rail)[:, 0], variance[:, 0]


def _valley_residual(known: Calibration, pin: Pin) -> tuple[FloatArray, FloatArray]:
    """Compare a shot into the valley with what each case says it should show.

    Where rail shot and valley shot see nearly the same share of rail, every case predicts nearly the same and the
    weights hardly move: such a shot says nothing.
    """
    grill, view = known.grill, known.view()
    assert pin.reading.shown_c is not None
    valley_view = known.view(pin.reading.distance_mm)
    share, share_sd = valley_view.valley_shot_share
    rail_c = view.rail_c(np.array([pin.infrared_c]))
    side = view.sensitivity(rail_c)
    at_share = [_shown_at(valley_view, rail_c, share + step) for step in (-0.02, 0.0, 0.02)]
    per_share = (at_share[2] - at_share[0]) / 0.04
    variance = (
        (per_share * share_sd) ** 2
        + ((1 - share) * VALLEY_PLACE_SD_C) ** 2
        + _repeatability_c(grill, pin.reading.shown_c) ** 2
        + (side.rail_per_shown[:, 0] * pin.infrared_std_c) ** 2
    )
    return pin.reading.shown_c - at_share[1], variance


def _shown_at(view: GunView, rail_c: FloatArray, share: float) -> FloatArray:
    """Return what is shown, per case, of a rail of its own (cases, 1) at a given share, shape (cases,)."""
    return view.shown_of_each(rail_c, share=min(max(share, 0.0), 1.0))[:, 0]


def _repeatability_c(grill: Grill, shown_c: float) -> float:
    gun = grill.gun
    return float(np.hypot(0.01 * gun.repeatability_percent * abs(shown_c), gun.display_step_c / np.sqrt(12.0)))


def _birge_squared(known: Calibration, contacts: Sequence[Pin]) -> float:
    chi_squared = 0.0
    for pin in contacts:
        rail_c, _, noise = _contact_parts(known, pin)
        residual = _probe_c(known.grill, pin) - float(known.unknowns.mean(rail_c))
        chi_squared += residual**2 / float(known.unknowns.mean(noise))
    return chi_squared / (len(contacts) - 1)
