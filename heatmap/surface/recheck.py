"""A re-check: the shape of the last full round, aged, with level and tilt from a few new shots.

Three to five shots just before the sear cannot tell a shape, but they can tell that the whole grate has
moved. With the surface f₀ of the last full round, the surface now is

    f = f₀ + level + tilt · (u, v) + ageing,

with normal priors for the level and for the tilt, and for the ageing a Gaussian process whose standard
deviation grows with the minutes that have passed. Conditioning on the new shots is exact for the mean and
covariance of f₀.

One of the shots may be odd. Each is given a chance of being off by itself, and what is reported is the mean and the
variance of the mixture over "none is" and "this one is", weighed by how well each explains all the shots (G. E. P. Box
and G. C. Tiao, A Bayesian approach to some outlier problems, Biometrika 55, 1968, 119-129). So a shot that the others
do not bear out moves the map little, and two that agree move it as they should.

What a place has of its own (patchy finish, local valley) it still has: where a new shot falls on a place of
the full round, the old reading there tells part of it, so that old and new are compared like with like.

References
----------
C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning (MIT Press 2006), equations
2.22 to 2.24.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from heatmap.errors import InputError
from heatmap.surface.fitting import check_drift
from heatmap.surface.gaussian_process import prior_samples
from heatmap.surface.kernel import Kernel, lines_of
from heatmap.surface.places import SAME_PLACE_MM, Readings, check_points, check_readings
from heatmap.surface.surface import Surface
from heatmap.surface.types import FloatArray

#: How far the whole grate may have moved since the full round, °C, wide, for lids are lifted and grease burns; and how
#: much from edge to middle: with the knobs as they were it is the wind that leans a grate, by some 3 °C from round to
#: round (heatmap.grate_model.learn.WIND_TILT_C), with room for a lid held ajar (common practice, no source).
LEVEL_STD_C, TILT_STD_C = 50.0, 4.0
#: A shot among so few may be off alone, by so much (standard deviation): half in the gap, a flare under it, the wrong
#: spot. Assumed; it must not turn the whole map.
ODD_CHANCE, ODD_STD_C = 0.05, 40.0
#: Ageing of the shape: standard deviation after one minute, growing with the root of time as a random walk
#: does, up to the greatest (common practice, no source). Its length scale is a share of each side.
AGE_STD_C, MOST_AGE_STD_C = 1.0, 12.0
AGE_LENGTH_SHARE = 0.4
#: No shot is taken as better than this [°C], so that matrices stay well conditioned; far below any display
#: step.
SMALLEST_STD_C = 0.01
#: Minutes taken where no times are known.
UNKNOWN_AGE_MIN = 30.0


def age_std_c(minutes: float | None) -> float:
    """Return how far the shape may have changed anywhere after so many minutes [°C]."""
    elapsed = UNKNOWN_AGE_MIN if minutes is None else max(minutes, 0.0)
    return min(AGE_STD_C * math.sqrt(elapsed), MOST_AGE_STD_C)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Case:
    """None of the n shots is odd, or one is.

    Attributes
    ----------
    weight : float
        How likely, all shots known; those of all cases sum to 1.
    odd_std_c : array, (n,)
        What the odd shot may be off by: 0 for the others [°C].
    inverse : array, (n, n)
        Inverse of the covariance of the shots in this case [1/°C²].
    solved : array, (n,)
        `inverse` times what the shots differ from the expected.
    """

    weight: float
    odd_std_c: FloatArray
    inverse: FloatArray
    solved: FloatArray


def weighed_cases(inverse: FloatArray, differs_c: FloatArray, odd_chance: FloatArray) -> tuple[Case, ...]:
    """Return the cases "no shot is odd" and "this one is", by Bayes' rule.

    With the covariance S of the shots and v = ODD_STD_C², the covariance of a case is S + v e e' for the unit vector e
    of its odd shot: the formula of Sherman and Morrison gives inverse and determinant.
    """
    n = len(differs_c)
    solved = inverse @ differs_c
    found = [(0.0, np.zeros(n), inverse, solved)]
    for index in np.flatnonzero(odd_chance > 0.0):
        column = inverse[:, index]
        grown = 1.0 + ODD_STD_C**2 * column[index]
        gain = ODD_STD_C**2 / grown
        prior = np.log(odd_chance[index] / (1.0 - odd_chance[index]))
        log_odds = float(prior + 0.5 * (gain * solved[index] ** 2 - np.log(grown)))
        without = inverse - gain * np.outer(column, column)
        found.append((log_odds, ODD_STD_C * (np.arange(n) == index), without, solved - gain * solved[index] * column))
    likely = np.exp(np.array([one[0] for one in found]) - max(one[0] for one in found))
    return tuple(
        Case(weight=float(weight), odd_std_c=odd, inverse=inverse_, solved=solved_)
        for weight, (_, odd, inverse_, solved_) in zip(likely / likely.sum(), found, strict=True)
    )


def mixed(cases: tuple[Case, ...]) -> tuple[FloatArray, FloatArray]:
    """Return what stands for solved (n,) and for the inverse (n, n) in mean and variance of the mixture.

    The mean is linear in `solved`. The variance is the mean one and that of the means: with weights w, inverses A and
    solved s, prior − c (Σ w A − Σ w (s − s̄)(s − s̄)') c'.
    """
    weights = np.array([case.weight for case in cases])
    solved = np.array([case.solved for case in cases])
    pull = weights @ solved
    off = solved - pull
    known = np.einsum("h,hij->ij", weights, np.array([case.inverse for case in cases]))
    return pull, known - (weights[:, None] * off).T @ off


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RecheckSurface(Surface):
    """The surface of the last full round, moved by n new shots; made by :func:`recheck_surface`.

    Attributes
    ----------
    base : Surface
        The surface of the full round.
    age_std_c : float
        Standard deviation of what may have changed in its shape [°C].
    values_c : array, (n,)
        The shots, freed of expected drift and of what old readings at their places explain [°C].
    new_share : array, (n,)
        What is left of the full round's surface in each of `values_c`.
    noise_c2 : array, (n, n)
        Covariance of `values_c` for a given surface [°C²].
    inverse : array, (n, n)
        Inverse of the covariance of `values_c`, none being odd [1/°C²].
    solved : array, (n,)
        `inverse` times what `values_c` differ from the expected.
    cases : tuple of Case
        None of the shots is odd, or this one is.
    """

    method: str
    readings: Readings
    drift_mean_c: FloatArray
    drift_std_c: FloatArray
    base: Surface
    age_std_c: float
    values_c: FloatArray
    new_share: FloatArray
    noise_c2: FloatArray
    inverse: FloatArray
    solved: FloatArray
    cases: tuple[Case, ...]

    @property
    def odd(self) -> FloatArray:
        """The chance of each shot being off by itself, all shots known, (n,)."""
        weights = np.array([case.weight for case in self.cases])
        return np.asarray(weights @ (np.array([case.odd_std_c for case in self.cases]) > 0.0))

    def predict(self, points_mm: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return mean and standard deviation of the surface now at points (m, 2), each (m,) [°C]."""
        points = check_points(points_mm)
        base_mean, base_std = self.base.predict(points)
        cross = self._cross(points)
        prior = base_std**2 + self._moved_variance(points)
        pull, known = mixed(self.cases)
        variance = prior - np.einsum("ij,jk,ik->i", cross, known, cross)
        return base_mean + cross @ pull, np.sqrt(np.maximum(variance, 0.0))

    def covariance(self, points_a_mm: ArrayLike, points_b_mm: ArrayLike) -> FloatArray:
        """Return the covariance of the surface now between two sets of points, (a, b) [°C²]."""
        a, b = check_points(points_a_mm, "points_a_mm"), check_points(points_b_mm, "points_b_mm")
        prior = self.base.covariance(a, b) + self._moved(a, b)
        return prior - self._cross(a) @ mixed(self.cases)[1] @ self._cross(b).T

    def sample(self, points_mm: ArrayLike, count: int, rng: np.random.Generator) -> FloatArray:
        """Return joint samples of the surface now, (count, m) [°C].

        Matheron's rule, as for the surface of a full round: a random surface and random shots at it, moved by
        what the true shots differ from the random ones.
        """
        points = check_points(points_mm)
        shots = self.readings.points_mm
        everywhere = np.concatenate([points, shots])
        before = self.base.sample(everywhere, count, rng)
        after = self._moved_samples(everywhere, count, rng)
        m = len(points)
        noise = rng.standard_normal((count, len(shots))) @ np.linalg.cholesky(self.noise_c2).T
        which = rng.choice(len(self.cases), count, p=[case.weight for case in self.cases])
        odd_c = np.array([case.odd_std_c for case in self.cases])[which]
        noise = noise + odd_c * rng.standard_normal((count, len(shots)))
        unseen = self.values_c - (self.new_share * before[:, m:] + after[:, m:] + noise)
        inverses = np.array([case.inverse for case in self.cases])[which]
        pulled = np.einsum("sj,sjk->sk", unseen, inverses) @ self._cross(points).T
        return np.asarray(before[:, :m] + after[:, :m] + pulled)

    def leave_one_out(self) -> tuple[FloatArray, FloatArray]:
        """Return what the full round and the other shots say about each shot, noise-free, each (n,) [°C].

        Rasmussen and Williams, equations 5.10 to 5.12.
        """
        diagonal = np.diag(self.inverse)
        variance = 1.0 / diagonal - np.diag(self.noise_c2)
        return self.rail_c - self.solved / diagonal, np.sqrt(np.maximum(variance, 0.0))

    def _moved_samples(self, points: FloatArray, count: int, rng: np.random.Generator) -> FloatArray:
        basis = level_and_tilt(points, self.extent_mm)
        ageing = prior_samples(age_kernel(self.extent_mm), lines_of(points), count, rng)
        return np.asarray(rng.standard_normal((count, basis.shape[1])) @ basis.T + self.age_std_c * ageing)

    def _moved(self, a: FloatArray, b: FloatArray) -> FloatArray:
        return moved_covariance(a, b, self.extent_mm, self.age_std_c)

    def _moved_variance(self, points: FloatArray) -> FloatArray:
        variance = (level_and_tilt(points, self.extent_mm) ** 2).sum(axis=1) + self.age_std_c**2
        return np.asarray(variance)

    def _cross(self, points: FloatArray) -> FloatArray:
        """Return the covariance of the surface now at points with `values_c`, (m, n)."""
        shots = self.readings.points_mm
        return self.new_share * self.base.covariance(points, shots) + self._moved(points, shots)


def level_and_tilt(points_mm: FloatArray, extent_mm: tuple[float, float]) -> FloatArray:
    """Return level and tilt at points, each times its standard deviation, (m, 3) [°C]."""
    width, depth = extent_mm
    u, v = 2.0 * points_mm[:, 0] / width - 1.0, 2.0 * points_mm[:, 1] / depth - 1.0
    return np.stack([np.full_like(u, LEVEL_STD_C), TILT_STD_C * u, TILT_STD_C * v], axis=1)


def age_kernel(extent_mm: tuple[float, float]) -> Kernel:
    """Return how alike two places age."""
    return Kernel(length_mm=(AGE_LENGTH_SHARE * extent_mm[0], AGE_LENGTH_SHARE * extent_mm[1]))


def moved_covariance(a: FloatArray, b: FloatArray, extent_mm: tuple[float, float], age_c: float) -> FloatArray:
    """Return the prior covariance of what has moved since the full round, (a, b) [°C²]."""
    basis = level_and_tilt(a, extent_mm) @ level_and_tilt(b, extent_mm).T
    return np.asarray(basis + age_c**2 * age_kernel(extent_mm)(a, b))


def recheck_surface(
    base: Surface,
    points_mm: ArrayLike,
    rail_c: ArrayLike,
    own_std_c: ArrayLike,
    *,
    minutes: float | None,
    place_std_c: ArrayLike = 0.0,
    base_drift_c: ArrayLike | None = None,
    drift: ArrayLike | None = None,
    drift_std_c: ArrayLike | None = None,
    drift_mean_c: ArrayLike | None = None,
    odd_chance: ArrayLike = 0.0,
) -> RecheckSurface:
    """Move the surface of a full round to where a few new shots say it is.

    Parameters
    ----------
    base : Surface
        Of the last full round, its readings corrected as the new ones are.
    points_mm : array_like, (n, 2)
        Where the new shots were taken [mm].
    rail_c : array_like, (n,)
        The new shots [°C].
    own_std_c, place_std_c : float or array_like, (n,)
        As for :func:`heatmap.surface.fit_surface` [°C].
    minutes : float or None
        Time since the full round; None: not known, taken as half an hour.
    base_drift_c : array_like, (k,), optional
        Drift of each reading of the full round against its surface [°C].
    drift, drift_std_c, drift_mean_c
        As for :func:`heatmap.surface.fit_surface`, for the new shots.
    odd_chance : float or array_like, (n,)
        Chance of a shot being off by itself, like :data:`ODD_CHANCE`; 0 takes it at its word.

    Returns
    -------
    RecheckSurface

    Raises
    ------
    InputError
        For shapes and values that cannot be, or no shots at all.
    """
    readings = check_readings(points_mm, rail_c, own_std_c, place_std_c, base.extent_mm)
    count = len(readings.rail_c)
    if count == 0:
        raise InputError("a re-check needs at least one shot.")
    columns, prior_mean, prior_std = check_drift(drift, drift_mean_c, drift_std_c, readings)
    share, old_c, place_c2 = _old_places(base, readings, base_drift_c)
    same = _same_place(readings.points_mm, readings.points_mm)
    assert readings.own_std_c is not None
    shot_c2 = np.maximum(readings.own_std_c, SMALLEST_STD_C) ** 2
    noise = np.diag(shot_c2) + same * np.sqrt(place_c2[:, None] * place_c2)
    noise = noise + (columns * prior_std) @ (columns * prior_std).T
    values = readings.rail_c - columns @ prior_mean - share * old_c
    points, new_share, age = readings.points_mm, 1.0 - share, age_std_c(minutes)
    prior = new_share[:, None] * base.covariance(points, points) * new_share
    prior = prior + moved_covariance(points, points, base.extent_mm, age)
    inverse = np.asarray(np.linalg.inv(prior + noise), dtype=np.float64)
    chances = np.broadcast_to(np.asarray(odd_chance, dtype=np.float64), values.shape)
    cases = weighed_cases(inverse, values - new_share * base.predict(points)[0], chances)
    pull, known = mixed(cases)
    return RecheckSurface(
        method="re-check",
        readings=readings,
        drift_mean_c=prior_mean + prior_std**2 * (columns.T @ pull),
        drift_std_c=prior_std * np.sqrt(1.0 - prior_std**2 * np.einsum("ip,ij,jp->p", columns, known, columns)),
        base=base,
        age_std_c=age,
        values_c=values,
        new_share=new_share,
        noise_c2=noise,
        inverse=inverse,
        solved=cases[0].solved,
        cases=cases,
    )


def _same_place(a: FloatArray, b: FloatArray) -> FloatArray:
    """Return 1 where two points are one place, else 0, (a, b)."""
    near = np.abs(a[:, None, :] - b[None, :, :]).max(axis=2) <= SAME_PLACE_MM
    return np.asarray(near, dtype=np.float64)


def _old_places(
    base: Surface, readings: Readings, base_drift_c: ArrayLike | None
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return for each new shot how far old readings at its place explain what that place has of its own.

    An old reading is surface + place + shot. Given the surface f₀, the place's own part has mean ρ (old − f₀)
    and variance ρ times that of the old shots' mean, with ρ the place's share of the variance of their sum.
    Returned are ρ, the old readings' mean (0 where there is none) and the variance of the place's own part,
    each (n,).
    """
    old = base.readings
    drift = np.zeros(len(old.rail_c)) if base_drift_c is None else np.asarray(base_drift_c, dtype=np.float64)
    shot = np.zeros(len(old.rail_c)) if old.own_std_c is None else old.own_std_c
    information = 1.0 / np.maximum(shot, SMALLEST_STD_C) ** 2
    match = _same_place(readings.points_mm, old.points_mm)
    total = match @ information
    seen = total > 0.0
    safe = np.where(seen, total, 1.0)
    mean = (match @ (information * (old.rail_c - drift))) / safe
    place = readings.place_std_c**2
    share = np.where(seen, place / (place + 1.0 / safe), 0.0)
    return share, np.where(seen, mean, 0.0), np.where(seen, share / safe, place)
