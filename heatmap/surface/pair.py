"""Two rounds over one grate, fitted together: what they have in common, and what changed.

Two maps fitted one by one do not know that they are of the same grate. Here both are one Gaussian process::

    before = common(x) - ½ change(x),   after = common(x) + ½ change(x)

with trends and a Matérn field each for what is common and for the change. What a place has of its own in both
rounds (patchy finish, local valley) is one number for both readings there, so it cancels from the change.
Length scales, signal, the size of the change beside the signal, and the noise are averaged over by how well they
explain the readings.

References
----------
C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning (MIT Press 2006), equations 2.22 to 2.24
(prediction), 2.30 (marginal likelihood). Samples by Matheron's rule, as in :mod:`heatmap.surface.gaussian_process`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from heatmap.surface.gaussian_process import prior_samples
from heatmap.surface.kernel import Kernel, lines_of
from heatmap.surface.places import gather_places
from heatmap.surface.priors import CLAIMED_SPREAD, SIGNAL_CENTRE, SIGNAL_SPREAD, length_log_prior
from heatmap.surface.trends import Trends
from heatmap.surface.types import FloatArray, IntArray

#: Length scales as shares of the sides, signal as a multiple of the readings' spread, noise of what is claimed. The
#: priors are those of a single map (:mod:`heatmap.surface.priors`), the grids coarser since there are more of them.
_LENGTHS = np.geomspace(0.15, 1.6, 4)
_SIGNALS = np.geomspace(0.4, 2.5, 3)
_NOISES = np.exp(np.array([-0.5, 0.0, 0.5, 1.0]))
#: Size of the change beside that of the common field: anything from a breath of wind to another pattern altogether.
_CHANGES = np.geomspace(0.05, 1.5, 5)
CHANGE_CENTRE, CHANGE_SPREAD = 0.3, 1.0
#: Samples are drawn from this many combinations, picked by weight.
_COMBINATIONS = 32
#: Readings this close to exact [°C] would make matrices ill-conditioned; far below any display step.
_SMALLEST_STD_C = 0.05
#: More places than this in both rounds together are thinned out: each map alone is then as sure as it gets.
MOST_READINGS = 240


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PairSide:
    """The readings of one of the two rounds.

    Attributes
    ----------
    points_mm : ndarray, shape (n, 2)
    values_c : ndarray, shape (n,)
    shot_std_c, place_std_c : ndarray, shape (n,)
        Own standard deviation that is new with every shot, and the one that stays with the place.
    drift : ndarray, shape (n, p)
        Nuisance effects; the surface is where all are 0.
    drift_mean_c, drift_std_c : ndarray, shape (p,)
        Prior of their coefficients.
    """

    points_mm: FloatArray
    values_c: FloatArray
    shot_std_c: FloatArray
    place_std_c: FloatArray
    drift: FloatArray
    drift_mean_c: FloatArray
    drift_std_c: FloatArray

    @property
    def freed_c(self) -> FloatArray:
        """Values freed of the drift that is expected."""
        return self.values_c - self.drift @ self.drift_mean_c


def pair_samples(
    before: PairSide,
    after: PairSide,
    points_mm: FloatArray,
    trends: Trends,
    *,
    same_places: bool,
    count: int,
    rng: np.random.Generator,
) -> tuple[FloatArray, FloatArray]:
    """Return joint samples of the surface before and after.

    Parameters
    ----------
    before, after : PairSide
    points_mm : ndarray, shape (m, 2)
        Where [mm].
    trends : Trends
        Of the grate, with its seams.
    same_places : bool
        Whether what a place has of its own is the same in both rounds (the same state of the surface).
    count : int
    rng : numpy.random.Generator

    Returns
    -------
    before_c, after_c : ndarray, shape (count, m)
    """
    posed = _Posed.of(_thinned(before), _thinned(after), trends, same_places)
    nodes = list(posed.nodes())
    log = np.concatenate([node.log_weight for node in nodes])
    weight = np.exp(log - log.max())
    picked = _systematic(weight / weight.sum(), _COMBINATIONS, rng)
    size = len(nodes[0].log_weight)
    shares = np.bincount(np.arange(count) % len(picked), minlength=len(picked))
    before_c, after_c = [], []
    for index, share in zip(picked, shares, strict=True):
        if share:
            one, two = posed.draw(nodes[index // size], int(index % size), points_mm, int(share), rng)
            before_c.append(one)
            after_c.append(two)
    order = rng.permutation(count)
    return np.concatenate(before_c)[order], np.concatenate(after_c)[order]


def _thinned(side: PairSide) -> PairSide:
    """Leave out readings, evenly, until no more than half of what can be handled is left."""
    n = len(side.values_c)
    if n <= MOST_READINGS // 2:
        return side
    kept = np.unique(np.linspace(0, n - 1, MOST_READINGS // 2).round().astype(int))
    names = ("points_mm", "values_c", "shot_std_c", "place_std_c", "drift")
    arrays = {name: getattr(side, name)[kept] for name in names}
    return PairSide(**arrays, drift_mean_c=side.drift_mean_c, drift_std_c=side.drift_std_c)


def _systematic(weight: FloatArray, count: int, rng: np.random.Generator) -> IntArray:
    steps = (np.arange(count) + rng.random()) / count
    return np.minimum(np.searchsorted(np.cumsum(weight), steps), len(weight) - 1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Node:
    """One kernel with every combination of signal, change and noise."""

    kernel: Kernel
    common: FloatArray  # (n, n) correlation of the common field
    log_weight: FloatArray  # (combinations,)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Posed:
    """The readings of both rounds and everything about them that hangs on no kernel."""

    trends: Trends
    points_mm: FloatArray
    values_c: FloatArray
    side: FloatArray  # (n,) −½ before, +½ after
    columns: FloatArray  # (n, p)
    scale_c: float
    centre_c: float
    shot_std_c: FloatArray
    place_std_c: FloatArray
    place: IntArray
    drift: FloatArray  # (n, q), scaled by the standard deviation of the coefficients
    levels: FloatArray  # (combinations, 3): signal, change, noise
    log_prior: FloatArray

    @classmethod
    def of(cls, before: PairSide, after: PairSide, trends: Trends, same_places: bool) -> _Posed:
        points = np.concatenate([before.points_mm, after.points_mm])
        first, second = len(before.values_c), len(after.values_c)
        side = np.repeat([-0.5, 0.5], [first, second])
        values = np.concatenate([before.freed_c, after.freed_c])
        place = gather_places(points).place_of_reading
        if not same_places:
            place = place + (side > 0) * (int(place.max()) + 1)
        drift = np.zeros((len(values), before.drift.shape[1] + after.drift.shape[1]))
        drift[:first, : before.drift.shape[1]] = before.drift * before.drift_std_c
        drift[first:, before.drift.shape[1] :] = after.drift * after.drift_std_c
        spread = np.sqrt(np.mean([np.var(before.freed_c), np.var(after.freed_c)]))
        grids = np.meshgrid(_SIGNALS, _CHANGES, _NOISES, indexing="ij")
        levels = np.stack([grid.ravel() for grid in grids], axis=1)
        logs = np.log(levels / [SIGNAL_CENTRE, CHANGE_CENTRE, 1.0]) / [SIGNAL_SPREAD, CHANGE_SPREAD, CLAIMED_SPREAD]
        return cls(
            trends=trends,
            points_mm=points,
            values_c=values - values.mean(),
            side=side,
            columns=trends.columns(points),
            # However equal the numbers shown: no change is better known than one shot allows.
            scale_c=max(float(spread), float(np.median([*before.shot_std_c, *after.shot_std_c])), 0.1),
            centre_c=float(values.mean()),
            shot_std_c=np.maximum(np.concatenate([before.shot_std_c, after.shot_std_c]), _SMALLEST_STD_C),
            place_std_c=np.concatenate([before.place_std_c, after.place_std_c]),
            place=place,
            drift=drift,
            levels=levels,
            log_prior=-0.5 * np.sum(logs**2, axis=1),
        )

    def trend_stds(self, change: float) -> tuple[FloatArray, FloatArray]:
        """Return the standard deviations of the trend coefficients of the common field and of the change [°C]."""
        common = self.trends.std * self.scale_c
        changed = common * change
        changed[0] = common[0]  # the level may have moved however little the shape did
        return common, changed

    def noise(self) -> FloatArray:
        """Return the covariance of the own errors as claimed, (n, n)."""
        same = self.place[:, None] == self.place[None, :]
        return np.asarray(np.diag(self.shot_std_c**2) + same * np.outer(self.place_std_c, self.place_std_c))

    def covariances(self, common: FloatArray, levels: FloatArray) -> FloatArray:
        """Return the covariance of the readings for each combination of levels, (combinations, n, n)."""
        both, noise = np.outer(self.side, self.side), self.noise()
        fixed = self.drift @ self.drift.T
        result = np.empty((len(levels), *common.shape))
        for at, (signal, change, ratio) in enumerate(levels):
            own, changed = self.trend_stds(change)
            field = (signal * self.scale_c) ** 2 * common
            result[at] = field * (1.0 + change**2 * both) + (self.columns * own**2) @ self.columns.T + fixed
            result[at] += both * ((self.columns * changed**2) @ self.columns.T) + ratio**2 * noise
        return result

    def nodes(self) -> Iterator[_Node]:
        """Weigh every combination of kernel and levels by how well it explains the readings."""
        for along_x in _LENGTHS:
            for along_y in _LENGTHS:
                width, depth = self.trends.extent_mm
                kernel = Kernel(
                    length_mm=(float(along_x * width), float(along_y * depth)),
                    seams_mm=self.trends.seams_mm,
                    seam_axis=self.trends.seam_axis,
                )
                common = kernel(self.points_mm, self.points_mm)
                factor = np.linalg.cholesky(self.covariances(common, self.levels))
                white = np.linalg.solve(factor, np.broadcast_to(self.values_c[:, None], (len(factor), len(common), 1)))
                log = -0.5 * np.sum(white[:, :, 0] ** 2, axis=1)
                log -= np.sum(np.log(np.diagonal(factor, axis1=1, axis2=2)), axis=1)
                prior = length_log_prior(np.array([along_x, along_y]))
                yield _Node(kernel=kernel, common=common, log_weight=log + self.log_prior + prior)

    def draw(
        self, node: _Node, at: int, points_mm: FloatArray, count: int, rng: np.random.Generator
    ) -> tuple[FloatArray, FloatArray]:
        """Return joint samples before and after for one combination: from the prior, moved by the readings."""
        signal, change, ratio = self.levels[at]
        own, changed = self.trend_stds(change)
        size_c = signal * self.scale_c
        n = len(self.values_c)
        columns = self.trends.columns(points_mm)
        both = np.concatenate([self.columns, columns])
        lines = lines_of(np.concatenate([self.points_mm, points_mm]))

        def prior(field_c: float, stds: FloatArray) -> FloatArray:
            fields = field_c * prior_samples(node.kernel, lines, count, rng)
            trend: FloatArray = (stds * rng.standard_normal((count, len(stds)))) @ both.T
            return fields + trend

        common, moved = prior(size_c, own), prior(size_c * change, changed)
        readings = common[:, :n] + self.side * moved[:, :n]
        readings += rng.standard_normal((count, self.drift.shape[1])) @ self.drift.T
        readings += ratio * self.shot_std_c * rng.standard_normal((count, n))
        readings += ratio * self.place_std_c * rng.standard_normal((count, int(self.place.max()) + 1))[:, self.place]
        factor = cho_factor(self.covariances(node.common, self.levels[at : at + 1])[0], lower=True)
        pull = cho_solve(factor, (self.values_c - readings).T)
        cross = node.kernel(points_mm, self.points_mm)
        of_common = size_c**2 * cross + (columns * own**2) @ self.columns.T
        of_change = (size_c * change) ** 2 * cross + (columns * changed**2) @ self.columns.T
        centre = common[:, n:] + (of_common @ pull).T + self.centre_c
        half = 0.5 * (moved[:, n:] + ((of_change * self.side) @ pull).T)
        return centre - half, centre + half
