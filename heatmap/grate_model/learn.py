"""Learn the response from rounds: one Gaussian process over the spots of every round taken at known marks.

On the heat scale (:mod:`heatmap.grate_model.response`) every spot says::

    spot = weights · design(x, marks) + base(x) + group(x) + wind(x) + place + own error

The weights are those of the response. `base` is what the burners' geometry does not explain: smooth, and the same in
every round. `group` is what another session, another state of the lid or an oiled surface adds: level, tilts and bends,
loosely held, so that of such rounds only their *changes* teach. `wind` is a small smooth field drawn anew each round.
`place` is patchy seasoning, the same whenever a place is shot again. All are Gaussian, so the joint posterior of
surface and response is one linear solve. How far a burner reaches is not linear, nor how much spots scatter from round
to round beyond what shots and wind explain: a few of each are tried, and each pair counts by its evidence.

References
----------
.. [1] C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for Machine Learning (2006), equations 2.22 to 2.24 (the
   posterior), 2.30 (the evidence), 2.41 and 2.42 (explicit basis functions with a Gaussian prior), 5.10 to 5.12 (leave
   one out).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve

from heatmap.grate_model.response import REACHES_MM, HeatScale, Response, design, prior_response, settable_burners
from heatmap.grate_model.states import Group, RoundState
from heatmap.grill.grill import Burner, Grill

Array = NDArray[np.float64]

#: Rounds looked back at; older ones have little left to say and cost time.
NEWEST_ROUNDS = 24
#: Standard deviations of wind from round to round [°C]: level, each tilt at the edge, and a smooth field. A change of
#: convection by a tenth moves a grate by about 5 °C (heat balance of the rehearsal grill).
WIND_LEVEL_C, WIND_TILT_C, WIND_FIELD_C = 6.0, 3.0, 3.0
#: Drift of the level with every round passed [°C, a random walk]: gas pressure, fat, ash.
AGEING_C = 1.0
#: What another session, lid or surface may add: level, tilts, bends [°C].
GROUP_C = np.array([40.0, 15.0, 15.0, 8.0, 8.0, 8.0])
#: What the burners' geometry leaves unexplained: level, tilts, bends, a smooth field and a finer one [°C].
BASE_C = np.array([70.0, 12.0, 12.0, 8.0, 8.0, 8.0])
BASE_FIELD_C, BASE_FINE_C = 8.0, 3.0
#: Lengths over which smooth fields and finer ones vary, as shares of half the grate.
FIELD_LENGTH, FINE_LENGTH = 0.7, 0.3
#: How much spots scatter from round to round beyond what shots and wind explain [°C], and how likely each is held
#: before any reading: a plume that wanders, a valley the spot catches, a knob that sticks. Without it rounds that
#: disagree bend the surface where nothing was shot. Assumed.
SCATTERS_C = ((0.0, 0.50), (4.0, 0.25), (8.0, 0.19), (14.0, 0.06))
#: How uncertain the heat of the lowest flame is, as an opening, for each burner.
OFFSET_SD = 0.35
#: A spot this many standard deviations from what all others say is held to be worth little.
_ODD, _ODD_WIDER = 3.5, 5.0
#: A reach that counts less than this is left out.
_LEAST_WEIGHT = 0.03


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fields:
    """Joint samples of the surface and of what each burner adds, on the heat scale.

    Attributes
    ----------
    base : ndarray (count, m)
        The surface under the newest marks.
    linear, bend : ndarray (burners, count, m)
        What a burner adds per opening f, and per f(1 − f).
    """

    base: Array
    linear: Array
    bend: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """The joint posterior of surface and response for one reach of the burners and one scatter.

    Attributes
    ----------
    response : Response
    log_weight : float
        Evidence and prior.
    surprise : float
        Mean square of how the spots differ from what was expected of them, in expected squares; 1 when all is as
        assumed. The posterior is widened by it.
    """

    response: Response
    reference: Array
    log_weight: float
    surprise: float
    _spots: _Spots
    _factor: tuple[Array, bool]
    _answer: Array

    def joint(self, points_mm: Array) -> tuple[Array, Array]:
        """Return mean and covariance of the surface at points (m, 2) under the newest marks, then of the weights."""
        prior_mean, prior_cov, cross = self._spots.joint_prior(points_mm, self.reference)
        cov = prior_cov - cross @ cho_solve(self._factor, cross.T)
        return prior_mean + cross @ self._answer, max(1.0, self.surprise) * 0.5 * (cov + cov.T)

    def mean(self, points_mm: Array, openings: Array) -> Array:
        """Return the expected surface at points under these openings, (m,)."""
        prior_mean, _, cross = self._spots.joint_prior(points_mm, self.reference, mean_only=True)
        mean = prior_mean + cross @ self._answer
        moved = self.response.factors(openings) - self.response.factors(self.reference)
        rows = design(self.response.patterns(points_mm), moved)
        return np.asarray(mean[: len(points_mm)] + rows @ mean[len(points_mm) :])

    def draw(self, points_mm: Array, half: int, random: np.random.Generator, width: float = 1.0) -> Fields:
        """Return twice `half` samples, `width` times as wide as the posterior, in pairs mirrored about its mean."""
        mean, cov = self.joint(points_mm)
        factor = np.linalg.cholesky(cov + 1e-6 * np.diag(cov).max() * np.eye(len(cov)))
        off = width * random.normal(size=(half, len(mean))) @ factor.T
        drawn = np.concatenate([mean + off, mean - off])
        patterns = self.response.patterns(points_mm)
        weights = drawn[:, len(points_mm) :].reshape(len(drawn), *patterns.shape[:2]).swapaxes(0, 1)
        linear, bend = weights[:, :, :-1] @ patterns[:, :-1], weights[:, :, -1:] @ patterns[:, -1:]
        return Fields(base=drawn[:, : len(points_mm)], linear=linear, bend=bend)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Learned:
    """What is known of surface and response, averaged over how far the burners reach and how much spots scatter.

    Attributes
    ----------
    burners : tuple of Burner
        Those that can be set.
    scale : HeatScale
    reference : ndarray (burners,)
        Openings of the newest round.
    fits : tuple of Fit
    weights : ndarray (fits,)
        How much each counts; adds up to one.
    shared_std : float
        What moves everything together [°C].
    changes : tuple of int
        How many changes of each burner have been seen.
    """

    burners: tuple[Burner, ...]
    scale: HeatScale
    reference: Array
    fits: tuple[Fit, ...]
    weights: Array
    shared_std: float
    changes: tuple[int, ...]

    def mean(self, points_mm: Array, openings: Array | None = None) -> Array:
        """Return the expected surface at points (m, 2), heat scale, under openings or the newest marks."""
        openings = self.reference if openings is None else openings
        means = [fit.mean(points_mm, openings) for fit in self.fits]
        return np.asarray(self.weights @ np.stack(means))

    def near(self, burner: int, points_mm: Array) -> NDArray[np.bool_]:
        """Return the third of these points that a burner heats most, (m,)."""
        narrow = self.fits[0].response.patterns(points_mm)[burner, 0]
        return np.asarray(narrow >= np.quantile(narrow, 2.0 / 3.0))

    def mean_change(self, points_mm: Array, openings: Array) -> tuple[float, float]:
        """Return by how much the mean of these points moves from the newest marks to openings, and its std."""
        mean = square = 0.0
        for fit, weight in zip(self.fits, self.weights, strict=True):
            moved = fit.response.factors(openings) - fit.response.factors(self.reference)
            row = design(fit.response.patterns(points_mm), moved).mean(axis=0)
            known, cov = fit.joint(points_mm[:1])
            change = float(row @ known[1:])
            mean += weight * change
            square += weight * (change**2 + float(row @ cov[1:, 1:] @ row))
        return mean, float(np.sqrt(max(square - mean**2, 0.0)))

    def draw(self, points_mm: Array, count: int, random: np.random.Generator, width: float = 1.0) -> Fields:
        """Return about `count` joint samples at points (m, 2), own uncertainty only, from each fit as it counts.

        Each fit's samples are `width` times as wide as its posterior; what the fits differ by stays.
        """
        halves = np.maximum(np.round(0.5 * count * self.weights).astype(int), 1)
        parts = [fit.draw(points_mm, half, random, width) for fit, half in zip(self.fits, halves, strict=True)]
        base = np.concatenate([part.base for part in parts])
        return Fields(
            base=base,
            linear=np.concatenate([part.linear for part in parts], axis=1),
            bend=np.concatenate([part.bend for part in parts], axis=1),
        )


def mirrored_normal(count: int, random: np.random.Generator) -> Array:
    """Return standard normal numbers (count, 1) whose mean is exactly 0, in random order."""
    half = random.normal(size=(count + 1) // 2)
    return np.asarray(random.permutation(np.concatenate([half, -half])[:count])[:, None])


def teaching_rounds(grill: Grill, states: Sequence[RoundState]) -> tuple[RoundState, ...]:
    """Return the rounds that can teach: marks of every burner known, the newest ones, in order."""
    known = [state for state in states if grill.complete_settings(state.settings)]
    return tuple(known[-NEWEST_ROUNDS:])


def learn(grill: Grill, states: Sequence[RoundState]) -> Learned:
    """Return what all rounds together say of the surface and of the response.

    Parameters
    ----------
    grill : Grill
        With at least one burner that can be set.
    states : sequence of RoundState
        In order of time; the newest is the one advice is wanted for, its marks known.
    """
    rounds = teaching_rounds(grill, states)
    newest = rounds[-1]
    scale = HeatScale(air_c=grill.surroundings.air_c, middle_c=grill.target.middle_c)
    opening = np.array([burner.fraction(newest.settings[burner.name]) for burner in settable_burners(grill)])
    mean_heat = max(float(scale.heat(newest.compared_c).mean()), 20.0)
    fits: list[Fit] = []
    for reach_mm, prior in REACHES_MM:
        response = prior_response(grill, mean_heat, opening, reach_mm)
        spots = _Spots.of(grill, response, scale, rounds)
        fits += _fit_each_scatter(spots, response.openings(newest.settings), prior)
    counted, weights = _weigh(fits)
    return Learned(
        burners=fits[0].response.burners,
        scale=scale,
        reference=fits[0].reference,
        fits=counted,
        weights=weights,
        shared_std=newest.shared_std_c,
        changes=_count_changes(fits[0].response, rounds),
    )


def _weigh(fits: Sequence[Fit]) -> tuple[tuple[Fit, ...], Array]:
    """Return the fits that count, and how much."""
    logs = np.array([fit.log_weight for fit in fits])
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    kept = weights >= _LEAST_WEIGHT
    return tuple(fit for fit, keep in zip(fits, kept, strict=True) if keep), weights[kept] / weights[kept].sum()


def _fit_each_scatter(spots: _Spots, reference: Array, prior: float) -> list[Fit]:
    """Solve for the spots, once for each scatter."""
    cov = spots.covariance()
    return [
        _fit(spots, cov + scatter_c**2 * np.eye(len(cov)), reference, math.log(prior * likely))
        for scatter_c, likely in SCATTERS_C
    ]


def _fit(spots: _Spots, cov: Array, reference: Array, log_prior: float) -> Fit:
    """Solve for the spots, once more with odd ones held loosely if there are any."""
    off = spots.heat - spots.design @ spots.response.weight_mean
    noise = np.zeros(len(off))
    for _ in range(3):
        factor = cho_factor(cov + np.diag(noise), lower=True)
        answer = cho_solve(factor, off)
        inverse = np.diag(cho_solve(factor, np.eye(len(off))))
        odd = np.abs(answer / np.sqrt(inverse)) > _ODD  # leave one out, [1] equation 5.12
        if (noise[odd] > 0).all():
            break
        noise[odd] = (_ODD_WIDER * spots.std[odd] + 20.0) ** 2
    misfit = float(off @ answer)
    return Fit(
        response=spots.response,
        reference=reference,
        log_weight=log_prior - 0.5 * misfit - float(np.log(np.diag(factor[0])).sum()),
        surprise=misfit / len(off),
        _spots=spots,
        _factor=factor,
        _answer=answer,
    )


def _count_changes(response: Response, rounds: Sequence[RoundState]) -> tuple[int, ...]:
    pairs = [(one, two) for one, two in zip(rounds, rounds[1:], strict=False) if one.group == two.group]
    names = [burner.name for burner in response.burners]
    return tuple(sum(bool(one.settings[name] != two.settings[name]) for one, two in pairs) for name in names)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Spots:
    """Every spot of every round, and the prior covariance between them."""

    response: Response
    extent_mm: tuple[float, float]
    unit: Array  # (n, 2), −1 to 1 over the grate
    heat: Array  # (n,)
    std: Array  # (n,) own, new with every shot
    place: Array  # (n,) own, the same at one place
    design: Array  # (n, weights)
    mixed: Array  # (n, burners): the mixed patterns, which the heat of the lowest flame goes with
    number: NDArray[np.intp]  # (n,) which round, 0 the newest
    group: NDArray[np.intp]  # (n,) which group, 0 that of the newest
    unsettled: Array  # (rounds,)

    @classmethod
    def of(cls, grill: Grill, response: Response, scale: HeatScale, rounds: Sequence[RoundState]) -> _Spots:
        rounds = list(reversed(rounds))
        groups: dict[Group, int] = {}
        for one in rounds:
            groups.setdefault(one.group, len(groups))
        points = np.concatenate([one.points_mm for one in rounds])
        compared = np.concatenate([one.compared_c for one in rounds])
        number = np.repeat(np.arange(len(rounds)), [len(one.compared_c) for one in rounds])
        steepness = scale.heat(compared + 0.5) - scale.heat(compared - 0.5)
        patterns = response.patterns(points)
        factors = [response.factors(response.openings(one.settings)) for one in rounds]
        rows = [design(patterns[:, :, number == at], factor) for at, factor in enumerate(factors)]
        return cls(
            response=response,
            extent_mm=grill.grate.extent_mm,
            unit=_unit(points, grill.grate.extent_mm),
            heat=scale.heat(compared),
            std=np.concatenate([one.shot_std_c for one in rounds]) * steepness,
            place=np.concatenate([one.place_std_c for one in rounds]) * steepness,
            design=np.concatenate(rows),
            mixed=patterns[:, -1].T,
            number=number,
            group=np.array([groups[one.group] for one in rounds])[number],
            unsettled=np.array([one.unsettled_std_c for one in rounds]),
        )

    def covariance(self) -> Array:
        """Return the prior covariance of the spots, all sources, (n, n)."""
        response = self.response
        cov = self.design @ response.weight_cov @ self.design.T + self._base(self.unit, self.mixed)
        cov += (self.group[:, None] == self.group[None, :]) * (self.group > 0) * _bends(self.unit, self.unit, GROUP_C)
        same = self.number[:, None] == self.number[None, :]
        level = WIND_LEVEL_C**2 + self.unsettled[self.number] ** 2
        tilt = WIND_TILT_C**2 * (self.unit @ self.unit.T)
        field = WIND_FIELD_C**2 * _near(self.unit, self.unit, FIELD_LENGTH)
        cov += same * (level + tilt + field)
        cov += AGEING_C**2 * np.minimum.outer(self.number, self.number)
        cov += np.outer(self.place, self.place) * _same_place(self.unit)
        return np.asarray(cov + np.diag(self.std**2 + 0.25))  # 0.5 °C: no spot is better known

    def joint_prior(self, points_mm: Array, openings: Array, mean_only: bool = False) -> tuple[Array, Array, Array]:
        """Return prior mean and covariance of surface at points and weights, and the covariance with the spots."""
        response, unit = self.response, _unit(points_mm, self.extent_mm)
        patterns = response.patterns(points_mm)
        rows = design(patterns, response.factors(openings))
        mixed = patterns[:, -1].T
        weights = response.weight_cov
        mean = np.concatenate([rows @ response.weight_mean, response.weight_mean])
        base = self._base(unit, mixed, self.unit, self.mixed)
        cross = np.concatenate([rows @ weights @ self.design.T + base, weights @ self.design.T])
        if mean_only:
            return mean, np.empty((0, 0)), cross
        both = rows @ weights
        surface = both @ rows.T + self._base(unit, mixed)
        return mean, np.block([[surface, both], [both.T, weights]]), cross

    def _base(self, one: Array, mixed: Array, two: Array | None = None, other: Array | None = None) -> Array:
        two, other = (one, mixed) if two is None or other is None else (two, other)
        smooth = BASE_FIELD_C**2 * _near(one, two, FIELD_LENGTH) + BASE_FINE_C**2 * _near(one, two, FINE_LENGTH)
        lowest = (mixed * (OFFSET_SD * self.response.strengths) ** 2) @ other.T
        return np.asarray(_bends(one, two, BASE_C) + smooth + lowest)


def _unit(points_mm: Array, extent_mm: tuple[float, float]) -> Array:
    return np.asarray(2.0 * points_mm / np.array(extent_mm) - 1.0)


def _bends(one: Array, two: Array, size: Array) -> Array:
    """Return the covariance of a level, two tilts and three bends of these standard deviations."""
    rows = [
        np.column_stack([np.ones(len(unit)), unit, unit[:, 0] * unit[:, 1], unit**2 - 1.0 / 3.0]) for unit in (one, two)
    ]
    return np.asarray((rows[0] * size**2) @ rows[1].T)


def _near(one: Array, two: Array, length: float) -> Array:
    square = ((one[:, None, :] - two[None, :, :]) ** 2).sum(axis=2)
    return np.asarray(np.exp(-0.5 * square / length**2))


def _same_place(unit: Array) -> NDArray[np.bool_]:
    square = ((unit[:, None, :] - unit[None, :, :]) ** 2).sum(axis=2)
    return np.asarray(square < 1e-6)


def burner_slopes(grill: Grill, learned: Learned) -> tuple[tuple[float, float], ...]:
    """Return by how much the third of the grate nearest to each burner rises per mark now, and its std [°C]."""
    x_mm, y_mm = grill.grate.cells_mm(2 * 25.4)
    cells = np.column_stack([axis.ravel() for axis in np.meshgrid(x_mm, y_mm)])
    slopes = []
    for at, knob in enumerate(learned.burners):
        region = cells[learned.near(at, cells)]
        more = learned.reference.copy()
        more[at] += 1e-3
        change, std = learned.mean_change(region, more)
        here = float(learned.mean(region).mean())
        around = learned.scale.celsius(np.array([here - 0.5, here + 0.5]))
        per_mark = float(around[1] - around[0]) * 1e3 / (knob.high - knob.low)
        slopes.append((change * per_mark, std * per_mark))
    return tuple(slopes)
