"""What contact, patch and valley readings teach about the gun on this surface: the level, known once for all rounds.

A reference pair compares something independent with what the infrared gun says at the same place. In every case of
:class:`~heatmap.correct.gun_view.NuisanceGrid` the difference has an expected value and, over all pairs, a covariance:
what pairs have in common (the probe, the day, the place, the model of what a spot takes in) is told once, however often
it is heard. Bayes' rule moves the weights of the cases, and the calibration error of the gun (one number, normal) is
updated exactly inside each case.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple, TypeAlias

import numpy as np

from heatmap.correct import tuning
from heatmap.correct.gun_view import GunView, NuisanceGrid, Sensitivity, gun_limit_c, repeatability_c
from heatmap.grill.grill import Grill
from heatmap.readings.reading import Reading
from heatmap.units import FloatArray

#: The standard deviation of a pair that is not believed [°C]: it tells nothing.
_ANYTHING_C = 1e12
#: The noise of the pairs is that of the cases which they leave: so many times they are weighed to find it.
_NOISE_PASSES = 3

Compared: TypeAlias = "dict[str, FloatArray | float]"
#: The gun's view from a distance [mm], None for the usual one.
ViewFrom: TypeAlias = Callable[[float | None], GunView]


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


class Disagreement(NamedTuple):
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


def probe_std_c(grill: Grill) -> float:
    """Return the probe's standard uncertainty: its limit over √3, and its one-sided error taken as
    exponential."""
    return float(np.hypot(grill.probe.accuracy_c / np.sqrt(3.0), grill.probe.reads_low_c))


class Evidence:
    """What is known after n pairs were held against what each case expects of them from the grill file alone.

    Attributes
    ----------
    weight, gun_mean : ndarray (cases,)
        Of each case, and the gun's own error in it.
    gun_variance : float
        What is left of that.
    pairs : tuple of ReferencePair
        With which of them are believed.
    disagreement : Disagreement or None
    prior : ndarray (cases,)
        Weights before any pair.
    residual_c : ndarray (cases, n)
        Pair minus expectation, before anything is known of the gun's own error.
    gun_c : ndarray (cases, n)
        What one standard uncertainty of that error adds to it.
    noise_c : ndarray (parts, cases, n)
        Standard deviations, with a sign, of what else adds to it: what each pair has alone; one probe; the model of
        what a spot takes in; one other day; seasoning and valley of a place, and how a hand aims there.
    alike : ndarray (parts, n, n)
        How far each of these is the same for two pairs.
    """

    def __init__(self, grid: NuisanceGrid, view_from: ViewFrom, pairs: Sequence[ReferencePair]) -> None:
        """Compare each pair with what is expected of it."""
        compared = [_compared(pair, view_from) for pair in pairs]

        def each(name: str) -> FloatArray:
            nothing = np.zeros((len(grid.weight), 1))
            return np.concatenate([nothing + one.get(name, 0.0) for one in compared], axis=1)

        readings = [pair.reading for pair in pairs]
        places = np.array([one.point_mm for one in readings])
        apart_mm = np.linalg.norm(places[:, None] - places[None, :], axis=-1)
        near = np.exp(-0.5 * (apart_mm / tuning.PLACE_REACH_MM) ** 2)
        itself, everywhere = np.eye(len(pairs)), np.ones_like(near)
        same_aim = _alike([(one.aim, one.distance_mm) for one in readings])
        alike = {
            "alone": itself,
            "probe": everywhere,
            "share": everywhere,
            "day": _alike([one.session for one in readings]),
            "patchy": near,
            "valley": near,
            "aim": near * (tuning.AIM_REPEATS * same_aim + (1.0 - tuning.AIM_REPEATS) * itself),
        }
        self.prior, self.residual_c, self.gun_c = grid.weight, each("residual"), each("gun")
        self.noise_c, self.alike = np.stack([each(name) for name in alike]), np.stack(list(alike.values()))
        self._learn(pairs)

    def _learn(self, pairs: Sequence[ReferencePair]) -> None:
        """Hear every pair that can be believed.

        Left out are what is not possible, and pairs from close up that go with none of the others: a number mistyped.
        Contact readings that disagree by more than their uncertainty count for less: the square of the Birge
        ratio (R. T. Birge, Physical Review 40, 207, 1932) widens each of them before the final pass.
        """
        variance = np.diag(self._noise_c2(self.prior, self.noise_c)) + self.prior @ self.gun_c**2
        off = _standardised(self.prior[:, None], self.residual_c, variance)  # from all that was thought possible
        believed, near = off <= tuning.BELIEVABLE, np.array([pair.partners > 0 for pair in pairs])
        alone, *others = self.noise_c
        while True:
            noise_c = np.stack([np.where(believed, alone, _ANYTHING_C), *others])
            odd = np.where(believed & near, self._hear(noise_c), 0.0)
            if (believed & near).sum() <= tuning.OTHER_PAIRS or odd.max() <= tuning.BELIEVABLE:
                break
            believed[np.argmax(odd)] = False
        self.pairs = tuple(replace(pair, believed=bool(one)) for pair, one in zip(pairs, believed, strict=True))
        self.disagreement: Disagreement | None = None
        contacts = np.flatnonzero(believed & [pair.reading.aim == "contact" for pair in pairs])
        if contacts.size > 1:
            levels_c = self.weight @ (self.residual_c - self.gun_c * self.gun_mean[:, None])[:, contacts]
            noise_c2 = self._noise_c2(self.weight, noise_c)[np.ix_(contacts, contacts)]
            lower, upper = int(np.argmin(levels_c)), int(np.argmax(levels_c))
            apart_c = float(levels_c[upper] - levels_c[lower])
            apart_std_c = math.sqrt(noise_c2[lower, lower] + noise_c2[upper, upper] - 2.0 * noise_c2[lower, upper])
            if apart_c > farthest_by_chance(contacts.size) * apart_std_c:
                self.disagreement = Disagreement(self.pairs[contacts[lower]], self.pairs[contacts[upper]], apart_c)
            noise_c[..., contacts] *= math.sqrt(max(1.0, _birge_squared(levels_c, noise_c2)))
            self._hear(noise_c)

    def _noise_c2(self, weight: FloatArray, noise_c: FloatArray) -> FloatArray:
        """Return the covariance of the residuals without the gun's own error, (n, n), mean over the cases."""
        both = np.swapaxes(noise_c * weight[:, None], 1, 2) @ noise_c
        return np.asarray((both * self.alike).sum(axis=0))

    def _hear(self, noise_c: FloatArray) -> FloatArray:
        """Weigh the cases and, inside each, the gun's own error: Bayes' rule for all pairs at once. Return how far each
        pair is from what all others say, in standard deviations, (n,).

        The noise is the same in every case, its mean over them: a case must not win because the pairs happen to scatter
        as little as it says, which hangs on how true the aim in the grill file is.

        Who goes with the others is told by leaving one out in closed form (C. E. Rasmussen, C. K. I. Williams, Gaussian
        Processes for Machine Learning, 2006, equations 5.10 to 5.12), inside each case and in its weight.
        """
        self.weight = self.prior
        for _ in range(_NOISE_PASSES):
            gun_c = self.weight @ self.gun_c
            inverse = np.linalg.inv(self._noise_c2(self.weight, noise_c) + np.outer(gun_c, gun_c))
            toward = self.residual_c @ inverse
            self.weight = _updated(self.prior, -0.5 * np.sum(toward * self.residual_c, axis=1))
        self.gun_mean, self.gun_variance = toward @ gun_c, float(1.0 - gun_c @ inverse @ gun_c)
        variance = 1.0 / np.diag(inverse)
        without = _updated(self.weight[:, None], 0.5 * toward**2 * variance)
        return _standardised(without, toward * variance, variance)


def _updated(weight: FloatArray, log_likelihood: FloatArray) -> FloatArray:
    """Return weights of cases after something was heard, adding up to one over them."""
    log_weight = np.log(np.maximum(weight, 1e-300)) + log_likelihood
    updated = np.exp(log_weight - log_weight.max(axis=0))
    return np.asarray(updated / updated.sum(axis=0))


def _standardised(weight: FloatArray, residual: FloatArray, variance: FloatArray) -> FloatArray:
    """Return |mean| over standard deviation of residuals (cases, n), (n,)."""
    mean = np.sum(weight * residual, axis=0)
    spread = np.sum(weight * ((residual - mean) ** 2 + variance), axis=0)
    return np.asarray(np.abs(mean) / np.sqrt(np.maximum(spread, 1e-18)))


def _alike(values: Sequence[object]) -> FloatArray:
    return np.array([[one == other for other in values] for one in values], dtype=float)


def _birge_squared(levels_c: FloatArray, noise_c2: FloatArray) -> float:
    """Return χ² of readings of one level over its degrees of freedom."""
    precision = np.linalg.inv(noise_c2)
    level_c = precision.sum(axis=0) @ levels_c / precision.sum()
    off_c = levels_c - level_c
    return float(off_c @ precision @ off_c) / (len(levels_c) - 1)


def farthest_by_chance(count: int) -> float:
    """Return how far apart the farthest of so many equal readings are in 5 % of cases, in deviations of a difference.

    A fit, good to 0.02 from 2 to 12, to the upper 5 % point of the studentized range over √2 (E. S. Pearson and H. O.
    Hartley, Biometrika Tables for Statisticians I, table 29; from memory, checked against scipy.stats).
    """
    return 1.96 + 0.957 * math.log(count / 2.0) - 0.130 * math.log(count / 2.0) ** 2


def _compared(pair: ReferencePair, view_from: ViewFrom) -> Compared:
    """Compare a pair with the rail that each case sees in what the gun shows at its place.

    What a pair says is told by name, each (cases, 1) or a number: "residual", and standard deviations with a sign (see
    :class:`Evidence`).
    """
    told_c = pair.reading.shown_c
    assert told_c is not None
    shown_c, taken = np.array([pair.infrared_c]), view_from(pair.reading.distance_mm)
    view = taken if pair.partners else view_from(None)
    rail_c = view.rail_c(shown_c)
    beside = view.sensitivity(rail_c, shown_c)
    compare = {"contact": _contact, "patch": _patch, "valley": _valley}[pair.reading.aim]
    return compare(pair, told_c, taken, rail_c, beside)


def _contact(pair: ReferencePair, told_c: float, view: GunView, rail_c: FloatArray, beside: Sensitivity) -> Compared:
    """Compare the rail by the probe, its habit of reading low allowed for, with the rail by the gun."""
    probe, per_shown = view.grill.probe, beside.rail_per_shown
    return {
        "residual": told_c + probe.reads_low_c - rail_c,
        "alone": np.hypot(per_shown * pair.infrared_std_c, probe.reads_low_c),
        "gun": -per_shown * gun_limit_c(view.grill.gun, np.array([pair.infrared_c])) / math.sqrt(3.0),
        "probe": probe.accuracy_c / math.sqrt(3.0),
        "day": 0.0 if pair.same_session else per_shown * view.grill.target.day_sd_c,
        "patchy": beside.rail_per_emissivity * view.grill.grate.emissivity_patch_sd,
        "valley": beside.rail_per_valley * tuning.VALLEY_PLACE_SD_C,
    }


def _patch(pair: ReferencePair, told_c: float, view: GunView, rail_c: FloatArray, beside: Sensitivity) -> Compared:
    """Compare the rail by the patch, whose emissivity is known, with the rail beside it."""
    patch, shown_c = view.grill.patch, np.array([told_c])
    emissivity = np.full_like(view.nuisance.emissivity, patch.emissivity)
    view = replace(view, nuisance=replace(view.nuisance, emissivity=emissivity))
    by_patch_c = view.rail_c(shown_c)
    side = view.sensitivity(by_patch_c, shown_c)
    alone = (
        (side.rail_per_emissivity * patch.emissivity_sd) ** 2
        + (side.rail_per_shown * repeatability_c(view.grill.gun, told_c)) ** 2
        + (beside.rail_per_shown * pair.infrared_std_c) ** 2
    )
    return {
        "residual": by_patch_c - rail_c,
        "alone": np.sqrt(alone),
        "patchy": beside.rail_per_emissivity * view.grill.grate.emissivity_patch_sd,
        "valley": (beside.rail_per_valley - side.rail_per_valley) * tuning.VALLEY_PLACE_SD_C,
        "aim": side.rail_per_share * view.share[1],
    }


def _valley(pair: ReferencePair, told_c: float, view: GunView, rail_c: FloatArray, beside: Sensitivity) -> Compared:
    """Compare a shot into the valley with what each case says it should show.

    Where rail shot and valley shot see nearly the same share of rail, every case predicts nearly the same and
    the weights hardly move: such a shot says nothing.
    """
    gun, (share, share_sd) = view.grill.gun, view.valley_shot_share
    per_share = -beside.rail_per_share / beside.rail_per_shown  # of what is shown, valley shot or rail shot
    compared: Compared = {
        "residual": told_c - view.shown_c(rail_c, share=share),
        "share": per_share * tuning.SHARE_MODEL_SD,
    }
    alone = repeatability_c(gun, told_c) ** 2 + (beside.rail_per_shown * pair.infrared_std_c) ** 2
    aim, valley = (per_share * share_sd) ** 2, (1.0 - share) + np.zeros_like(per_share)
    if pair.partners:
        # Rail shot and valley shot see the same piece of valley: if it is hotter than the mean, both show more.
        alone += repeatability_c(gun, pair.infrared_c) ** 2 / pair.partners
        aim += (beside.rail_per_share * view.share[1]) ** 2 / pair.partners
        valley += beside.rail_per_valley
        compared["patchy"] = beside.rail_per_emissivity * view.grill.grate.emissivity_patch_sd
    return compared | {"alone": np.sqrt(alone), "aim": np.sqrt(aim), "valley": valley * tuning.VALLEY_PLACE_SD_C}
