"""Learn the response from rounds: one Bayesian linear regression over every map taken at known marks.

On the heat scale (:mod:`heatmap.burners.response`) every round says::

    map_k(x) = base(x) + design_k(x) · weights + group_k(x) + wind_k(x) + own error_k(x)

`base` is the surface at the marks of the newest round; `weights` are those of the response; `group` is what another
session, another state of the lid or an oiled surface adds (level, tilts and bends, loosely held, so that only *changes*
within such a group teach); `wind` is a small smooth field drawn anew each round. Everything is Gaussian, so the
posterior is one linear solve. It is written in the points of a coarse lattice and carried to every cell at the end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve

from heatmap.burners.response import PER_BURNER, HeatScale, Response, prior_response
from heatmap.burners.states import MapState
from heatmap.grill import Grill

Array = NDArray[np.float64]

#: Rounds looked back at; older ones have little left to say and cost time.
NEWEST_ROUNDS = 40
#: Standard deviations of wind from round to round [°C]: level, each tilt at the edge, and a smooth field. A change of
#: convection by a tenth moves a grate by about 5 °C (heat balance of the rehearsal grill).
WIND_LEVEL_C, WIND_TILT_C, WIND_FIELD_C = 5.0, 3.0, 3.0
#: Drift of everything else with every round passed [°C per round, added in squares]: gas pressure, fat, ash.
AGEING_C = 2.0
#: What another session, lid or surface may add: level, tilts, bends [°C].
GROUP_C = np.array([40.0, 15.0, 15.0, 8.0, 8.0, 8.0])
#: Share of the own variance of a map that comes again in every round: patchy seasoning at the same places.
LASTING_SHARE = 0.3
#: Prior of the base: level and smooth field [°C]; wide, so that the maps decide.
BASE_LEVEL_C, BASE_FIELD_C = 300.0, 60.0
#: Length over which smooth fields vary, as a share of the grate.
FIELD_LENGTH = 0.35
_LATTICE = (6, 5)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Learned:
    """The joint posterior of the surface and of the response.

    Attributes
    ----------
    response : Response
    scale : HeatScale
    reference : ndarray (burners,)
        Openings of the newest round; `base` is the surface there.
    base_mean : ndarray (m,)
        Heat scale.
    to_cells : ndarray (m, points)
        Carries deviations at the lattice points to every cell.
    mean : ndarray (points + weights,)
        Deviation of the base at the lattice points from base_mean, then the weights.
    cov : ndarray, square
    lasting : ndarray (count, m)
        Samples of the own error that comes again in every round, heat scale.
    shared_std : float
        What moves everything together, heat scale.
    changes : tuple of int
        How many changes of each burner have been seen.
    surprise : float
        Mean square of what the maps differ from the fit, in expected squares; 1 when all is as assumed.
    """

    response: Response
    scale: HeatScale
    reference: Array
    base_mean: Array
    to_cells: Array
    mean: Array
    cov: Array
    lasting: Array
    shared_std: float
    changes: tuple[int, ...]
    surprise: float

    @property
    def points(self) -> int:
        """How many lattice points there are."""
        return self.to_cells.shape[1]

    @property
    def weight_mean(self) -> Array:
        """Posterior mean of the weights."""
        return self.mean[self.points :]

    def draw(self, count: int, random: np.random.Generator) -> tuple[Array, Array]:
        """Return joint samples of the base (count, m) and of the weights (count, weights)."""
        factor = np.linalg.cholesky(self.cov + 1e-9 * np.trace(self.cov) / len(self.cov) * np.eye(len(self.cov)))
        drawn = self.mean + random.normal(size=(count, len(self.mean))) @ factor.T
        base = self.base_mean + drawn[:, : self.points] @ self.to_cells.T
        base += self.lasting[np.arange(count) % len(self.lasting)]
        base += self.shared_std * random.normal(size=(count, 1))
        return base, drawn[:, self.points :]


def teaching_rounds(grill: Grill, states: Sequence[MapState]) -> tuple[MapState, ...]:
    """Return the rounds that can teach: marks of every burner known, the newest ones, in order."""
    known = [state for state in states if grill.complete_settings(state.settings)]
    return tuple(known[-NEWEST_ROUNDS:])


def learn(grill: Grill, states: Sequence[MapState]) -> Learned:
    """Return what all rounds together say of the surface and of the response.

    Parameters
    ----------
    grill : Grill
        With at least one burner that can be set.
    states : sequence of MapState
        In order of time; the newest is the one advice is wanted for, its marks known.
    """
    rounds = teaching_rounds(grill, states)
    newest = rounds[-1]
    scale = HeatScale(air_c=grill.surroundings.air_c, middle_c=grill.target.middle_c)
    names = [burner.name for burner in grill.burners if burner.control != "none"]
    opening = {name: grill.burner(name).fraction(newest.settings[name]) for name in names}
    base_mean = scale.heat(newest.mean_c)
    response = prior_response(grill, newest.cells_mm, max(float(base_mean.mean()), 20.0), opening)
    lattice = _Lattice.over(newest.cells_mm)
    regression = _Regression(response, lattice, newest, scale, base_mean)
    for age, state in enumerate(reversed(rounds)):
        regression.add(state, age)
    mean, cov, surprise = regression.solve()
    lasting = np.sqrt(LASTING_SHARE) * (scale.heat(newest.draws_c) - base_mean)
    return Learned(
        response=response,
        scale=scale,
        reference=regression.reference,
        base_mean=base_mean,
        to_cells=lattice.to_cells,
        mean=mean,
        cov=cov,
        lasting=lasting - lasting.mean(axis=0),
        shared_std=newest.shared_std_c,
        changes=_count_changes(response, rounds),
        surprise=surprise,
    )


def _count_changes(response: Response, rounds: Sequence[MapState]) -> tuple[int, ...]:
    pairs = [(one, two) for one, two in zip(rounds, rounds[1:], strict=False) if one.group == two.group]
    return tuple(
        sum(one.settings[burner.name] != two.settings[burner.name] for one, two in pairs) for burner in response.burners
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Lattice:
    """Cells that stand for the surface in the regression, and how a smooth field runs between them."""

    cells: NDArray[np.intp]
    unit: Array  # (points, 2), −1 to 1 over the grate
    smooth: Array  # (points, points) correlation
    to_cells: Array  # (m, points)

    @classmethod
    def over(cls, cells_mm: Array) -> _Lattice:
        low, high = cells_mm.min(axis=0), cells_mm.max(axis=0)
        unit = 2.0 * (cells_mm - low) / np.maximum(high - low, 1e-9) - 1.0
        shares = [(np.arange(count) + 0.5) / count * 2.0 - 1.0 for count in _LATTICE]
        wanted = np.column_stack([axis.ravel() for axis in np.meshgrid(*shares)])
        cells = np.unique(((unit[None, :, :] - wanted[:, None, :]) ** 2).sum(axis=2).argmin(axis=1))
        smooth = _correlation(unit[cells], unit[cells])
        ridge = smooth + 1e-4 * np.eye(len(cells))
        to_cells = np.linalg.solve(ridge, _correlation(unit[cells], unit)).T
        return cls(cells=cells, unit=unit[cells], smooth=smooth, to_cells=to_cells)

    def bends(self) -> Array:
        """Return level, tilts and bends at the points, (points, 6)."""
        x, y = self.unit.T
        return np.column_stack([np.ones_like(x), x, y, x * y, x * x - 1 / 3, y * y - 1 / 3])


def _correlation(one: Array, two: Array) -> Array:
    square = ((one[:, None, :] - two[None, :, :]) ** 2).sum(axis=2)
    return np.asarray(np.exp(-0.5 * square / (2.0 * FIELD_LENGTH) ** 2))


class _Regression:
    """Gathers the rounds of one regression, then solves it."""

    def __init__(
        self, response: Response, lattice: _Lattice, newest: MapState, scale: HeatScale, base_mean: Array
    ) -> None:
        self.response, self.lattice, self.newest, self.scale = response, lattice, newest, scale
        self.base = base_mean[lattice.cells]
        self.reference = response.openings(dict(newest.settings))
        self.rows: list[tuple[Array, Array, Array, tuple[str, str, str]]] = []

    def add(self, state: MapState, age: int) -> None:
        """Take in one round that many rounds old."""
        cells = self.lattice.cells
        seen = self.scale.heat(state.mean_c[cells]) - self.base
        openings = self.response.openings(dict(state.settings))
        design = self.response.design(openings, self.reference, cells)
        drawn = self.scale.heat(state.draws_c[:, cells])
        own = (1.0 - LASTING_SHARE) * np.atleast_2d(np.cov(drawn.T))
        self.rows.append((seen, design, own + self._between_rounds(state, age), state.group))

    def _between_rounds(self, state: MapState, age: int) -> Array:
        level = WIND_LEVEL_C**2 + AGEING_C**2 * age + state.unsettled_std_c**2
        x, y = self.lattice.unit.T
        tilt = WIND_TILT_C**2 * (np.outer(x, x) + np.outer(y, y))
        field = (WIND_FIELD_C**2 + 0.25 * state.unsettled_std_c**2) * self.lattice.smooth
        return np.asarray(level + tilt + field + 1.0 * np.eye(len(x)))  # 1 °C²: the map is no better than that

    def solve(self) -> tuple[Array, Array, float]:
        """Return mean and covariance of base and weights, and how surprising the rounds are."""
        points, weights = len(self.lattice.cells), len(self.response.weight_mean)
        groups = [group for group in dict.fromkeys(row[3] for row in self.rows) if group != self.newest.group]
        bends = self.lattice.bends()
        size = points + weights + bends.shape[1] * len(groups)
        prior_mean, prior_cov = np.zeros(size), np.zeros((size, size))
        prior_cov[:points, :points] = BASE_LEVEL_C**2 + BASE_FIELD_C**2 * self.lattice.smooth + np.eye(points)
        prior_mean[points : points + weights] = self.response.weight_mean
        prior_cov[points : points + weights, points : points + weights] = self.response.weight_cov
        for at in range(len(groups)):
            start = points + weights + at * bends.shape[1]
            where = np.arange(start, start + bends.shape[1])
            prior_cov[where, where] = GROUP_C**2
        blocks = []
        for seen, design, noise, group in self.rows:
            block = np.zeros((points, size))
            block[:, :points] = np.eye(points)
            block[:, points : points + weights] = design
            if group in groups:
                start = points + weights + groups.index(group) * bends.shape[1]
                block[:, start : start + bends.shape[1]] = bends
            blocks.append((seen, block, noise))
        mean, cov, surprise = _posterior(prior_mean, prior_cov, blocks)
        keep = points + weights
        widened = cov[:keep, :keep] * max(1.0, surprise)
        return mean[:keep], widened, surprise


def _posterior(
    prior_mean: Array, prior_cov: Array, blocks: Sequence[tuple[Array, Array, Array]]
) -> tuple[Array, Array, float]:
    """Return the Gaussian posterior of a linear model and the mean square of its whitened residuals.

    Bayesian linear regression, C. M. Bishop, Pattern Recognition and Machine Learning (2006), equations 3.50, 3.51.
    """
    size = len(prior_mean)
    prior = cho_factor(prior_cov + 1e-8 * np.eye(size), lower=True)
    precision = cho_solve(prior, np.eye(size))
    right = precision @ prior_mean
    factors = []
    for seen, design, noise in blocks:
        factor = np.linalg.cholesky(noise)
        whitened, target = np.linalg.solve(factor, design), np.linalg.solve(factor, seen)
        precision = precision + whitened.T @ whitened
        right = right + whitened.T @ target
        factors.append((whitened, target))
    solved = cho_factor(precision, lower=True)
    mean = cho_solve(solved, right)
    cov = cho_solve(solved, np.eye(size))
    left = [target - whitened @ mean for whitened, target in factors]
    # Of the first round nothing is left over: the base fits it. A round more is a round of freedom more.
    freedom = max(sum(len(part) for part in left) - len(left[0]), 1)
    surprise = float(sum(part @ part for part in left)) / freedom
    return mean, 0.5 * (cov + cov.T), surprise if len(left) > 1 else 1.0


def burner_slopes(learned: Learned, burner: int) -> tuple[float, float]:
    """Return by how much a burner's own region rises per mark at the marks of the newest round, and its std [°C].

    The region is the third of the cells its narrow pattern heats most.
    """
    response = learned.response
    pattern = response.patterns[burner, 0]
    region = np.flatnonzero(pattern >= np.quantile(pattern, 2.0 / 3.0))
    fractions = learned.reference.copy()
    fractions[burner] += 1e-3
    design = response.design(fractions, learned.reference, region).mean(axis=0) * 1e3
    knob = response.burners[burner]
    here = float(learned.base_mean[region].mean())
    per_heat = float(np.diff(learned.scale.celsius(np.array([here - 0.5, here + 0.5])))[0])
    per_mark = per_heat / (knob.high - knob.low)
    weights = learned.cov[learned.points :, learned.points :]
    return float(design @ learned.weight_mean) * per_mark, float(np.sqrt(design @ weights @ design)) * per_mark


__all__ = ["PER_BURNER", "Learned", "burner_slopes", "learn", "teaching_rounds"]
