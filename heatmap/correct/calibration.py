"""What contact, patch and valley readings teach about the gun on this surface: the level, known once for all rounds.

A reference pair compares something independent with what the infrared gun says at the same place. In every case of
:class:`~heatmap.correct.nuisance.NuisanceGrid` the difference has an expected value; Bayes' rule moves the
weights of the cases, and the calibration error of the gun (one number, normal) is updated exactly inside each
case.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal

import numpy as np

from heatmap.correct.gun_view import GunView, Sensitivity
from heatmap.correct.nuisance import VALLEY_PLACE_SD_C, NuisanceGrid
from heatmap.grill.grill import Grill
from heatmap.readings.reading import Reading
from heatmap.units import FloatArray

#: A reading farther than this many standard deviations from what is possible is not believed.
_BELIEVABLE = 4.0
#: So many other pairs from close up are needed to call one odd. Assumed.
_OTHER_PAIRS = 3
#: Pairs closer than this are at one place: a hand's breadth.
SAME_PLACE_MM = 80.0
#: Where the way from shown to rail is worked out; straight lines between are good to 0.01 °C.
_CURVE_SHOWN_C = np.linspace(-30.0, 720.0, 31)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferencePair:
    """A contact, patch or valley reading beside what the infrared gun says of the rail at the same place.

    Attributes
    ----------
    reading : Reading
    infrared_c, infrared_std_c : float
        What the gun shows of the rail there, from its usual distance, and the standard deviation of that.
    partners : int
        Where not 0: that is the mean of so many rail shots at the valley shot's very place and from its distance, into
        the same piece of valley; their own noise comes on top of the standard deviation.
    same_session : bool
        False when it was taken on another day than the round in question.
    believed : bool
        False when it cannot be and was left out.
    """

    reading: Reading
    infrared_c: float
    infrared_std_c: float
    partners: int = 0
    same_session: bool = True
    believed: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Disagreement:
    """Two contact readings that cannot both be right.

    Attributes
    ----------
    lower, upper : ReferencePair
        The two farthest apart.
    apart_c : float
        By how much more they differ than the gun saw their places differ, °C of rail.
    """

    lower: ReferencePair
    upper: ReferencePair
    apart_c: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Calibration:
    """Everything known about how this gun reads this surface.

    Attributes
    ----------
    grill : Grill
    surface : {"dry", "oiled"}
    nuisance : NuisanceGrid
    gun_mean, gun_variance : ndarray, shape (cases,)
        Calibration error of the gun in units of its standard uncertainty, in each case.
    reference_pairs : tuple of ReferencePair
    disagreement : Disagreement or None
        Where contact readings contradict one another; what they taught is widened for it.
    """

    grill: Grill
    surface: Literal["dry", "oiled"]
    nuisance: NuisanceGrid
    gun_mean: FloatArray
    gun_variance: FloatArray
    reference_pairs: tuple[ReferencePair, ...] = ()
    disagreement: Disagreement | None = None
    _views: dict[float, GunView] = field(default_factory=dict, repr=False)

    def view(self, distance_mm: float | None = None) -> GunView:
        """Return the gun's view from a distance, by default the usual one."""
        distance = self.grill.gun.distance_mm if distance_mm is None else distance_mm
        if distance not in self._views:
            self._views[distance] = GunView(nuisance=self.nuisance, grill=self.grill, distance_mm=distance)
        return self._views[distance]

    def gun_std_c(self, shown_c: FloatArray) -> FloatArray:
        """Return the standard uncertainty of the gun's calibration: the accuracy limit over √3 (JCGM 100,
        4.3.7)."""
        gun = self.grill.gun
        limit = np.maximum(gun.accuracy_c, 0.01 * gun.accuracy_percent * np.abs(shown_c))
        return np.asarray(limit / np.sqrt(3.0))

    def cases_c(self, shown_c: FloatArray, view: GunView) -> tuple[FloatArray, FloatArray]:
        """Return the rail temperature in each case and what gun calibration adds to its variance, each
        (cases, n)."""
        rail_c = view.rail_c(shown_c)
        return self.with_gun(rail_c, view.sensitivity(rail_c, shown_c).rail_per_shown, shown_c)

    def with_gun(
        self, rail_c: FloatArray, rail_per_shown: FloatArray, shown_c: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Take the gun's calibration error out of rails (cases, n); return them and the variance it
        leaves."""
        effect = rail_per_shown * self.gun_std_c(shown_c)[None, :]
        return rail_c - effect * self.gun_mean[:, None], effect**2 * self.gun_variance[:, None]

    def moments(self, cases_c: FloatArray, variance: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return mean and shared standard deviation over the cases, each (n,)."""
        mean = self.nuisance.mean(cases_c)
        second = self.nuisance.mean((cases_c - mean[None, :]) ** 2 + variance)
        return mean, np.sqrt(np.maximum(second, 0.0))

    def rail_c(self, shown_c: FloatArray, distance_mm: float | None = None) -> tuple[FloatArray, FloatArray]:
        """Return rail temperature and its shared standard deviation for what the gun shows, each (n,)."""
        return self.moments(*self.cases_c(np.asarray(shown_c, dtype=float), self.view(distance_mm)))

    @cached_property
    def _curve(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        view = self.view()
        low = float(self.nuisance.mean(view.shown_c(np.array([-60.0])))[0])
        shown_c = _CURVE_SHOWN_C[_CURVE_SHOWN_C > low + 1.0]
        rail_c, shared_std_c = self.rail_c(shown_c)
        return shown_c, np.maximum.accumulate(rail_c), shared_std_c

    def shown_from_rail_c(self, rail_c: FloatArray) -> FloatArray:
        """Return what this gun would show of a rail from its usual distance."""
        shown_c, curve_c, _ = self._curve
        rail_c = np.asarray(rail_c, dtype=float)
        return np.asarray(np.interp(rail_c, curve_c, shown_c))

    @property
    def curve_c(self) -> tuple[FloatArray, FloatArray]:
        """What is shown from the usual distance, rising, and the rail behind it, (m,) each."""
        shown_c, rail_c, _ = self._curve
        return shown_c, rail_c

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
        """Return the standard deviation that all compared numbers have in common: day to day, or the shared
        part."""
        if self.grill.target.numbers == "shown":
            return self.grill.target.day_sd_c
        return self.shared_std_c(rail_c)


def calibrate(
    grill: Grill, pairs: Sequence[ReferencePair] = (), surface: Literal["dry", "oiled"] = "dry"
) -> Calibration:
    """Return what is known of the gun from the grill file and after every reference pair has spoken.

    Contact readings that disagree by more than their uncertainty count for less: the square of the Birge
    ratio (R. T. Birge, Physical Review 40, 207, 1932) widens each of them before the final pass.
    """
    nuisance = NuisanceGrid.of(grill, surface)
    cases = nuisance.weight.size
    start = Calibration(
        grill=grill, surface=surface, nuisance=nuisance, gun_mean=np.zeros(cases), gun_variance=np.ones(cases)
    )
    if not pairs:
        return start
    heard = [_Evidence.of(pair, start) for pair in pairs]
    believed = _without_odd_pairs(start, [one for one in heard if one.is_believable(start)])
    pairs = tuple(replace(one.pair, believed=any(one is other for other in believed)) for one in heard)
    known = _learn(start, believed, 1.0)
    contacts = [one for one in believed if one.pair.reading.aim == "contact"]
    if len(contacts) > 1:
        widening = _birge_squared(known, contacts, believed)
        if widening > 1.0:
            known = _learn(start, believed, widening)
    return replace(known, reference_pairs=pairs, disagreement=_disagreement(known, contacts))


def probe_std_c(grill: Grill) -> float:
    """Return the probe's standard uncertainty: its limit over √3, and its one-sided error taken as
    exponential."""
    return float(np.hypot(grill.probe.accuracy_c / np.sqrt(3.0), grill.probe.reads_low_c))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Evidence:
    """One pair against what each case expects: residual = pair − expectation, (cases,) each.

    Attributes
    ----------
    pair : ReferencePair
    residual_c, variance_c2 : ndarray
        Before anything is known of the gun's calibration error; the variance is that of this pair alone.
    gun_effect_c : ndarray
        How the expectation moves for one standard uncertainty of the gun's calibration.
    day_c2, probe_c2, place_c2 : ndarray or float
        Variances that pairs of one other session, all contact readings with one probe, and pairs at one place
        have in common. A valley over a burner or a patch of seasoning reaches over a hand's breadth and
        passes into the map around it: a pair knows its own place better than the rest of the grate.
    """

    pair: ReferencePair
    residual_c: FloatArray
    variance_c2: FloatArray
    gun_effect_c: FloatArray
    day_c2: FloatArray
    probe_c2: float
    place_c2: FloatArray

    @classmethod
    def of(cls, pair: ReferencePair, start: Calibration) -> _Evidence:
        """Compare a pair with what is expected from the grill file alone."""
        view, shown_c = start.view(pair.reading.distance_mm if pair.partners else None), np.array([pair.infrared_c])
        rail_c = view.rail_c(shown_c)
        side = view.sensitivity(rail_c, shown_c)
        per_shown = side.rail_per_shown
        compare = {"contact": _compare_contact, "patch": _compare_patch, "valley": _compare_valley}[pair.reading.aim]
        residual, variance = compare(start, pair, rail_c, per_shown)
        contact = pair.reading.aim == "contact"
        day = np.zeros_like(residual)
        if contact and not pair.same_session:
            day = (per_shown[:, 0] * start.grill.target.day_sd_c) ** 2
        return cls(
            pair=pair,
            residual_c=residual,
            variance_c2=variance,
            gun_effect_c=-per_shown[:, 0] * start.gun_std_c(shown_c)[0] * contact,
            day_c2=day,
            probe_c2=start.grill.probe.accuracy_c**2 / 3.0 * contact,
            place_c2=_place_c2(side, start, pair),
        )

    def noise_c2(self, together: Sequence[_Evidence], widening: float) -> FloatArray:
        """Return its variance when heard together with others.

        What k pairs have in common counts k times for each, so that all of them together cannot get below it.
        """
        contact = self.pair.reading.aim == "contact"
        contacts = [one for one in together if one.pair.reading.aim == "contact"]
        same_day = [one for one in contacts if one.pair.reading.session == self.pair.reading.session]
        here = [one for one in together if one.pair.reading.aim == self.pair.reading.aim and one.is_beside(self)]
        total = self.variance_c2 + len(same_day) * self.day_c2 + len(contacts) * self.probe_c2
        total = total + len(here) * self.place_c2
        return total * (widening if contact else 1.0)

    def is_beside(self, other: _Evidence) -> bool:
        """Tell whether two pairs are at one place."""
        mine, theirs = self.pair.reading, other.pair.reading
        return bool(np.hypot(mine.x_mm - theirs.x_mm, mine.y_mm - theirs.y_mm) < SAME_PLACE_MM)

    def is_believable(self, start: Calibration) -> bool:
        """Tell whether anything thought possible before comes near it."""
        return self.strangeness(start) <= _BELIEVABLE

    def strangeness(self, known: Calibration) -> float:
        """Return how far it is from what is expected, in standard deviations."""
        mean = float(known.nuisance.mean(self.residual_c))
        spread = (self.residual_c - mean) ** 2 + self.gun_effect_c**2 + self.noise_c2([self], 1.0)
        return abs(mean) / max(float(np.sqrt(known.nuisance.mean(spread))), 1e-9)


def _place_c2(side: Sensitivity, start: Calibration, pair: ReferencePair) -> FloatArray:
    """Return the variance, per case, of what the pair's place has of its own.

    A valley shot beside a rail shot at one place sees the same piece of valley: if that is hotter than the mean, both
    show more, and only the difference of their shares of it is left. With the rail read off a map the two are apart,
    and the shot brings its own.
    """
    patchy = (side.rail_per_emissivity[:, 0] * start.grill.grate.emissivity_patch_sd) ** 2
    per_valley = side.rail_per_valley[:, 0]
    if pair.reading.aim == "contact":
        return np.asarray(patchy + (per_valley * VALLEY_PLACE_SD_C) ** 2)
    if pair.reading.aim == "patch":
        return np.asarray(patchy)
    if not pair.partners:
        return np.zeros_like(patchy)
    seen = 1.0 - start.view(pair.reading.distance_mm).valley_shot_share[0]
    return np.asarray(patchy + ((seen + per_valley) * VALLEY_PLACE_SD_C) ** 2)


def _learn(start: Calibration, heard: Sequence[_Evidence], widening: float) -> Calibration:
    """Update the weights of the cases and, inside each, the gun's calibration error: Bayes' rule, pair by
    pair."""
    log_weight = np.log(np.maximum(start.nuisance.weight, 1e-300))
    gun_mean, gun_variance = start.gun_mean, start.gun_variance
    for one in heard:
        residual = one.residual_c - one.gun_effect_c * gun_mean
        variance = one.gun_effect_c**2 * gun_variance + one.noise_c2(heard, widening)
        log_weight = log_weight - 0.5 * (residual**2 / variance + np.log(variance))
        gain = gun_variance * one.gun_effect_c / variance
        gun_mean, gun_variance = gun_mean + gain * residual, gun_variance * (1.0 - gain * one.gun_effect_c)
    weight = np.exp(log_weight - log_weight.max())
    nuisance = replace(start.nuisance, weight=weight / weight.sum())
    return replace(start, nuisance=nuisance, gun_mean=gun_mean, gun_variance=gun_variance)


def _without_odd_pairs(start: Calibration, heard: Sequence[_Evidence]) -> Sequence[_Evidence]:
    """Return what was heard without pairs from close up that go with none of the others: a number mistyped."""
    pairs = [one for one in heard if one.pair.partners]
    if len(pairs) <= _OTHER_PAIRS:
        return heard
    others = [[other for other in heard if other is not one] for one in pairs]
    strangeness = [one.strangeness(_learn(start, rest, 1.0)) for one, rest in zip(pairs, others, strict=True)]
    worst = int(np.argmax(strangeness))
    return heard if strangeness[worst] <= _BELIEVABLE else _without_odd_pairs(start, others[worst])


def _birge_squared(known: Calibration, contacts: Sequence[_Evidence], heard: Sequence[_Evidence]) -> float:
    chi_squared = 0.0
    for one in contacts:
        residual = float(known.nuisance.mean(one.residual_c - one.gun_effect_c * known.gun_mean))
        chi_squared += residual**2 / float(known.nuisance.mean(one.noise_c2(heard, 1.0)))
    return chi_squared / (len(contacts) - 1)


def _disagreement(known: Calibration, contacts: Sequence[_Evidence]) -> Disagreement | None:
    """Return the two contact readings farthest apart, where that is more than chance makes of so many.

    What one probe reads wrong everywhere cancels between two, and what a place has of its own between two there.
    """
    if len(contacts) < 2:
        return None
    levels_c = [float(known.nuisance.mean(one.residual_c - one.gun_effect_c * known.gun_mean)) for one in contacts]
    lower, upper = (contacts[int(pick(levels_c))] for pick in (np.argmin, np.argmax))
    variance = lower.variance_c2 + upper.variance_c2
    if not lower.is_beside(upper):
        variance = variance + lower.place_c2 + upper.place_c2
    if lower.pair.reading.session != upper.pair.reading.session:
        variance = variance + lower.day_c2 + upper.day_c2
    apart_c = max(levels_c) - min(levels_c)
    if apart_c <= farthest_by_chance(len(contacts)) * float(np.sqrt(known.nuisance.mean(variance))):
        return None
    return Disagreement(lower=lower.pair, upper=upper.pair, apart_c=apart_c)


def farthest_by_chance(count: int) -> float:
    """Return how far apart the farthest of so many equally good readings are in 5 % of cases, in standard deviations of
    a difference.

    A fit, good to 0.02 from 2 to 12, to the upper 5 % point of the studentized range with infinite degrees of freedom
    over √2: 1.96 for two, 3.27 for twelve (E. S. Pearson and H. O. Hartley, Biometrika Tables for Statisticians I,
    table 29; from memory, checked against scipy.stats.studentized_range).
    """
    return 1.96 + 0.957 * math.log(count / 2.0) - 0.130 * math.log(count / 2.0) ** 2


def _compare_contact(
    start: Calibration, pair: ReferencePair, rail_c: FloatArray, per_shown: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Compare the rail by the probe, its habit of reading low allowed for, with the rail by the gun."""
    assert pair.reading.shown_c is not None
    probe = start.grill.probe
    residual = pair.reading.shown_c + probe.reads_low_c - rail_c[:, 0]
    return residual, (per_shown[:, 0] * pair.infrared_std_c) ** 2 + probe.reads_low_c**2


def _compare_patch(
    start: Calibration, pair: ReferencePair, rail_c: FloatArray, per_shown: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Compare the rail by the patch, whose emissivity is known, with the rail beside it."""
    grill, cases = start.grill, start.nuisance
    assert pair.reading.shown_c is not None
    patched = replace(cases, emissivity=np.full_like(cases.emissivity, grill.patch.emissivity))
    view = GunView(nuisance=patched, grill=grill, distance_mm=pair.reading.distance_mm or grill.gun.distance_mm)
    shown_c = np.array([pair.reading.shown_c])
    by_patch = view.rail_c(shown_c)
    side = view.sensitivity(by_patch, shown_c)
    variance = (
        (side.rail_per_emissivity * grill.patch.emissivity_sd) ** 2
        + (side.rail_per_share * view.share[1]) ** 2
        + (side.rail_per_shown * _repeatability_c(grill, pair.reading.shown_c)) ** 2
        + (per_shown * pair.infrared_std_c) ** 2
    )
    return (by_patch - rail_c)[:, 0], variance[:, 0]


def _compare_valley(
    start: Calibration, pair: ReferencePair, rail_c: FloatArray, per_shown: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Compare a shot into the valley with what each case says it should show.

    Where rail shot and valley shot see nearly the same share of rail, every case predicts nearly the same and
    the weights hardly move: such a shot says nothing.
    """
    grill, view = start.grill, start.view(pair.reading.distance_mm)
    assert pair.reading.shown_c is not None
    share, share_sd = view.valley_shot_share
    fewer, here, more = (
        view.shown_c(rail_c, share=min(max(share + step, 0.0), 1.0))[:, 0] for step in (-0.02, 0.0, 0.02)
    )
    variance = (
        ((more - fewer) / 0.04 * share_sd) ** 2
        + _repeatability_c(grill, pair.reading.shown_c) ** 2
        + (per_shown[:, 0] * pair.infrared_std_c) ** 2
    )
    if pair.partners:
        at = start.view(pair.reading.distance_mm)
        side = at.sensitivity(rail_c, np.array([pair.infrared_c]))
        lottery_c2 = (side.rail_per_share[:, 0] * at.share[1]) ** 2
        variance += (lottery_c2 + _repeatability_c(grill, pair.infrared_c) ** 2) / pair.partners
    else:
        variance += ((1 - share) * VALLEY_PLACE_SD_C) ** 2
    return pair.reading.shown_c - here, variance


def _repeatability_c(grill: Grill, shown_c: float) -> float:
    gun = grill.gun
    return float(np.hypot(0.01 * gun.repeatability_percent * abs(shown_c), gun.display_step_c / np.sqrt(12.0)))
