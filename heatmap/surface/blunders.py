"""Find the readings that cannot be: a slip of the hand, a shot through the gap, the wrong spot, the last
number again.

Each reading is judged by what the others say, with every hyper-parameter averaged over as for the map. For a
set S of readings taken as blunders the rest has evidence p(y without S | hyper-parameters), which follows
from the evidence and the inverse covariance of all readings in closed form. All single readings and all pairs
are weighed, so that two blunders cannot hide each other, and further ones one at a time. A blunder has its
own distribution: a slip of the hand from a number the others expect, or something broad (gap, wrong spot).

References
----------
C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning (MIT Press 2006), equations
5.10 to 5.12, for sets instead of single readings. G. E. P. Box and G. C. Tiao, A Bayesian approach to some
outlier problems, Biometrika 55 (1968) 119-129 (weights of sets of outliers).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from heatmap.errors import InputError
from heatmap.surface.averaging import MOST_NUMBERS, Candidate, Levels, Problem, evaluate, inverse_variances
from heatmap.surface.digits import Meant, meant_numbers
from heatmap.surface.fitting import SMALLEST_DRIFT_STD_C, SMALLEST_NOISE, check_axis, check_drift, check_seams
from heatmap.surface.places import Readings, check_readings, gather_places, numbers
from heatmap.surface.priors import coarse_kernels, coarse_levels
from heatmap.surface.trends import SUSPECT_SETS, Trends
from heatmap.surface.types import FloatArray, IntArray

BLUNDER_CHANCE = 0.02
"""Chance of any one reading being a blunder, before looking: about one in a long round. Assumed."""
SLIP_SHARE = 0.4
"""Share of blunders that are slips of the hand. Assumed."""
SLIP_SLACK_C = 5.0
"""The number meant may miss what the others say by this much more [°C]: about ten steps of a display."""
BROAD_SCALE_C = 100.0
"""Half-width of the (Cauchy) distribution of the other blunders about the middle of the round [°C]: shots
through the gap are off by 30 to 170 °C, common practice, no source."""
LOCAL_CHANCE, LOCAL_CHANCE_AT_CORNER, LOCAL_STD_C = 0.001, 0.05, 20.0
"""Chance that a place really is hot or cold by itself, seen by no other shot, and by how much [°C]. More likely in a
corner, which the others see from one side only: a cold corner is the commonest fault of a grate (common practice, no
source). A good reading thrown out there would hide it."""
CORNER_ANGLE = np.deg2rad(220.0)
"""A place with no other in a sector this wide is a corner: about 270 degrees for one, 180 along a side."""
SUSPECT_FROM = 0.9
"""A reading is called suspect from this chance on: a false alarm costs a good reading."""
DOUBTFUL_FROM = 2.0
"""A reading closer than this many standard deviations to what the others say cannot become suspect."""
SMALLEST_SCALE_C = 1.0
MANY = 40
"""With more readings than this only pairs among this many most doubtful ones are weighed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What the other readings say about one reading.

    Attributes
    ----------
    suspect : bool
        Whether it is so unlikely that the cook should look again.
    chance : float
        Chance of being a blunder, 0 to 1.
    reason : str
        In plain words with a question mark, for a suspect; otherwise empty.
    slip : str
        "a dropped digit", "a doubled digit", "two digits swapped", "a wrong digit", "the last number again",
        "other"; empty if not suspect.
    meant_shown : float or None
        The number that would fit, for a slip of the hand [display unit].
    expected_c, expected_std_c : float
        What the other readings that are not suspect say, and the standard deviation of the noise-free surface
        [°C].
    expected_shown : float
        The same as the gun would show it [display unit].
    """

    suspect: bool
    chance: float
    reason: str
    slip: str
    meant_shown: float | None
    expected_c: float
    expected_std_c: float
    expected_shown: float


def find_suspects(
    points_mm: ArrayLike,
    rail_c: ArrayLike,
    own_std_c: ArrayLike | None,
    *,
    extent_mm: tuple[float, float],
    shown: ArrayLike | None = None,
    rail_from_shown: Callable[[FloatArray], FloatArray] | None = None,
    decimals: int = 0,
    place_std_c: ArrayLike = 0.0,
    drift: ArrayLike | None = None,
    drift_std_c: ArrayLike | None = None,
    drift_mean_c: ArrayLike | None = None,
    seams_mm: Sequence[float] = (),
    seam_axis: str = "x",
) -> tuple[Judged, ...]:
    """Judge each reading by what the others say.

    Parameters
    ----------
    points_mm, rail_c, own_std_c, extent_mm, place_std_c, drift, drift_std_c, drift_mean_c, seams_mm,
    seam_axis
        As for :func:`heatmap.surface.fit_surface`, in the order the readings were taken.
    shown : array_like, (n,), optional
        The numbers as the gun showed them, in the unit the cook reads; ``rail_c`` if not given. Slips of the
        hand are looked for in these.
    rail_from_shown : callable, optional
        Takes n shown numbers, one for each reading in order, and returns the n temperatures ``rail_c`` [°C]
        that the correction of each reading would make of them. Must rise with the number shown. If not given,
        ``shown`` is taken as being in the unit in which it and ``rail_c`` lie on a straight line: °F if
        ``shown`` is given, else °C.
    decimals : int
        Digits after the point that the cook reads.

    Returns
    -------
    tuple of Judged
        One per reading, in order. With fewer than five places nothing is suspect: there is nobody to ask.

    Raises
    ------
    InputError, MapError
        As :func:`heatmap.surface.fit_surface`.
    """
    readings = check_readings(points_mm, rail_c, own_std_c, place_std_c, extent_mm)
    places = gather_places(readings.points_mm)
    numbers_shown = readings.rail_c if shown is None else numbers(shown, "shown")
    if numbers_shown.shape != readings.rail_c.shape:
        raise InputError(f"shown has shape {numbers_shown.shape}; give one number per reading.")
    convert = rail_from_shown or shifted(numbers_shown, readings.rail_c, 1.0 if shown is None else 1.0 / 1.8)
    columns, mean, std = check_drift(drift, drift_mean_c, drift_std_c, readings)
    trends = Trends(extent_mm=readings.extent_mm, seams_mm=check_seams(seams_mm), seam_axis=check_axis(seam_axis))
    evidence = gather_evidence(readings, columns, mean, std, trends)
    enough = len(places.count) >= 5
    slips = Slips(shown=numbers_shown, rail_c=readings.rail_c, convert=convert, decimals=decimals)
    suspects = search(evidence, slips) if enough else frozenset()
    return judge(evidence, slips, suspects, enough)


def shifted(shown: FloatArray, rail_c: FloatArray, slope: float) -> Callable[[FloatArray], FloatArray]:
    """Return the straight line through each reading."""
    return lambda other: rail_c + (other - shown) * slope


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Precision:
    """The inverse covariance of n readings by some kernels and trends (k) at every level (l), never written out.

    It is B W B' - sum of P P' with B ``basis`` (k, n, n), W ``weights`` (k, l, n) and P ``pulled`` (q, k, l, n), what
    the drift takes.
    """

    basis: FloatArray
    weights: FloatArray
    pulled: FloatArray

    @property
    def diagonal(self) -> FloatArray:
        """Its diagonal, (k * l, n)."""
        whole = self.weights @ np.swapaxes(self.basis**2, 1, 2) - (self.pulled**2).sum(axis=0)
        return np.asarray(whole.reshape(-1, whole.shape[2]))

    def times(self, rotated: FloatArray, values: FloatArray) -> FloatArray:
        """Return its product with values (n,), which are (k, n) in the basis, (k * l, n)."""
        whole = (self.weights * rotated[:, None, :]) @ np.swapaxes(self.basis, 1, 2)
        whole = whole - (self.pulled * (self.pulled @ values)[..., None]).sum(axis=0)
        return np.asarray(whole.reshape(-1, whole.shape[2]))

    def elements(self, rows: IntArray, columns: IntArray) -> FloatArray:
        """Return some of its elements, each by its row and column, (k * l, a)."""
        whole = self.weights @ np.swapaxes(self.basis[:, rows] * self.basis[:, columns], 1, 2)
        for pulled in self.pulled:
            whole -= pulled[..., rows] * pulled[..., columns]
        return np.asarray(whole.reshape(-1, len(rows)))

    def block(self, rows: IntArray, columns: IntArray) -> FloatArray:
        """Return some of its rows and columns, (k * l, a, b)."""
        right = np.swapaxes(self.basis[:, columns], 1, 2)[:, None]
        whole = (self.basis[:, None, rows] * self.weights[:, :, None, :]) @ right
        for pulled in self.pulled:
            whole -= pulled[..., rows, None] * pulled[..., None, columns]
        return np.asarray(whole.reshape(-1, len(rows), len(columns)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rest:
    """The readings but for some: log posterior (j,) of each node by them, and for each reading the diagonal of their
    inverse covariance and that times their values, (j, n), which mean nothing for those left out."""

    log_posterior: FloatArray
    diagonal: FloatArray
    solved: FloatArray

    @property
    def without_one_more(self) -> FloatArray:
        """Log posterior of each node with each of the readings left out as well, (j, n)."""
        gain = self.solved**2 / self.diagonal - np.log(self.diagonal) + np.log(2 * np.pi)
        return np.asarray(self.log_posterior[:, None] + 0.5 * gain)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evidence:
    """All nodes at once: log posterior (j,), the inverse covariance of the readings, its diagonal and it times the
    values, (j, n).

    In °C about ``centre_c``; the noise of each reading (j, n) is part of the covariance.
    """

    log_posterior: FloatArray
    precisions: tuple[Precision, ...]
    diagonal: FloatArray
    solved: FloatArray
    noise_c2: FloatArray
    points_mm: FloatArray
    values_c: FloatArray
    centre_c: float
    drift_c: FloatArray

    def block(self, rows: Sequence[int] | IntArray, columns: Sequence[int] | IntArray) -> FloatArray:
        """Return some rows and columns of the inverse covariance of all readings, (j, a, b)."""
        index = np.asarray(rows, dtype=np.int64), np.asarray(columns, dtype=np.int64)
        return np.concatenate([precision.block(*index) for precision in self.precisions])

    def without(self, left_out: Sequence[int]) -> FloatArray:
        """Return the log posterior of each node without the readings left out, (j,)."""
        if not left_out:
            return self.log_posterior
        block, solved = self.block(left_out, left_out), self.solved[:, list(left_out)]
        misfit = (solved * np.linalg.solve(block, solved[:, :, None])[:, :, 0]).sum(axis=1)
        log_determinant = np.linalg.slogdet(block)[1]
        return np.asarray(self.log_posterior + 0.5 * (misfit - log_determinant + len(left_out) * np.log(2 * np.pi)))

    def rest(self, left_out: Sequence[int]) -> Rest:
        """Return what the others say by themselves."""
        if not left_out:
            return Rest(log_posterior=self.log_posterior, diagonal=self.diagonal, solved=self.solved)
        index = list(left_out)
        cross = self.block(index, range(len(self.values_c)))
        taken = np.linalg.solve(cross[:, :, index], cross)
        diagonal = self.diagonal - (cross * taken).sum(axis=1)
        diagonal[:, index] = 1.0
        solved = self.solved - (self.solved[:, None, index] @ taken)[:, 0]
        return Rest(log_posterior=self.without(index), diagonal=diagonal, solved=solved)

    def without_pairs(self, among: IntArray) -> tuple[IntArray, IntArray, FloatArray]:
        """Return all pairs of some readings, first and second, and the log posterior without each, (j, pairs)."""
        one, other = np.triu_indices(len(among), 1)
        c = np.concatenate([precision.elements(among[one], among[other]) for precision in self.precisions])
        diagonal, solved = self.diagonal[:, among], self.solved[:, among]
        a, b, first, second = diagonal[:, one], diagonal[:, other], solved[:, one], solved[:, other]
        determinant = a * b - c * c
        # Everything in place: there are many pairs.
        misfit = b * first
        misfit -= 2.0 * c * second
        misfit *= first
        misfit += a * second**2
        misfit /= determinant
        misfit -= np.log(determinant, out=determinant)
        misfit *= 0.5
        misfit += self.log_posterior[:, None] + np.log(2 * np.pi)
        return among[one], among[other], misfit

    def expected(self, reading: int, left_out: Sequence[int]) -> tuple[FloatArray, FloatArray]:
        """Return mean and variance (noise excluded) per node of a reading that is among those left out, (j,) each."""
        at = list(left_out).index(reading)
        column = np.linalg.inv(self.block(left_out, left_out))[:, at]
        move = (column * self.solved[:, list(left_out)]).sum(axis=1)
        variance = np.maximum(column[:, at] - self.noise_c2[:, reading], 0.0)
        return self.values_c[reading] - move, variance


def gather_evidence(
    readings: Readings,
    drift: FloatArray,
    drift_mean_c: FloatArray,
    drift_std_c: FloatArray,
    trends: Trends,
) -> Evidence:
    """Evaluate a coarse grid of hyper-parameters on readings as they are, repeats not merged."""
    values = readings.rail_c - drift @ drift_mean_c
    centre = float(np.median(values))
    # 1.4826 makes the median absolute deviation the standard deviation of a normal distribution.
    scale = max(1.4826 * float(np.median(np.abs(values - centre))), SMALLEST_SCALE_C)
    claimed = readings.own_std_c is not None
    own = readings.own_std_c if readings.own_std_c is not None else np.full(len(values), 0.1 * scale)
    noise = np.maximum(own**2 + readings.place_std_c**2, (SMALLEST_NOISE * scale) ** 2)
    problem = Problem(
        points_mm=readings.points_mm,
        values_c=values - centre,
        noise_c2=noise,
        trend=trends.columns(readings.points_mm),
        drift=drift,
        drift_precision=np.diag(1.0 / np.maximum(drift_std_c, SMALLEST_DRIFT_STD_C) ** 2),
        contrast_count=0,
        contrast_square=0.0,
        contrast_drift=np.zeros(drift.shape[1]),
        contrast_gram=np.zeros((drift.shape[1], drift.shape[1])),
    )
    levels, kernels = coarse_levels(scale, claimed), _kernels(readings.extent_mm, trends.seams_mm, trends.seam_axis)
    candidates = [(kernel, std, log_prior) for kernel, log_prior in kernels for std in trends.sets[list(SUSPECT_SETS)]]
    step = max(1, MOST_NUMBERS // len(values) ** 2)
    blocks = [_weigh(problem, candidates[at : at + step], levels) for at in range(0, len(candidates), step)]
    logs, precisions, diagonals, solved = zip(*blocks, strict=True)
    return Evidence(
        log_posterior=np.concatenate(logs),
        precisions=precisions,
        diagonal=np.concatenate(diagonals),
        solved=np.concatenate(solved),
        noise_c2=np.tile(levels.noise_ratio**2, len(candidates))[:, None] * noise,
        points_mm=problem.points_mm,
        values_c=problem.values_c,
        centre_c=centre,
        drift_c=drift @ drift_mean_c,
    )


#: The same few kernels serve every round on a grate.
_kernels = lru_cache(maxsize=8)(coarse_kernels)


def _weigh(
    problem: Problem, candidates: Sequence[Candidate], levels: Levels
) -> tuple[FloatArray, Precision, FloatArray, FloatArray]:
    """Return log posterior (j,) and inverse covariance of all nodes of some candidates, its diagonal and it times the
    values, (j, n)."""
    nodes = evaluate(problem, candidates, levels)
    basis = nodes.vectors / np.sqrt(problem.noise_c2)[:, None]
    weights = inverse_variances(levels, nodes.eigenvalues)
    of_drift = np.moveaxis(nodes.drift_factor @ np.swapaxes(nodes.rotated_drift, 1, 2)[:, None], 2, 0)
    precision = Precision(basis=basis, weights=weights, pulled=(weights * of_drift) @ np.swapaxes(basis, 1, 2))
    solved = precision.times(nodes.rotated_values, problem.values_c)
    return nodes.log_posterior.ravel(), precision, precision.diagonal, solved


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Slips:
    """The numbers as read, and how to turn another number into a temperature."""

    shown: FloatArray
    rail_c: FloatArray
    convert: Callable[[FloatArray], FloatArray]
    decimals: int

    def one(self, reading: int, number: float) -> float:
        """Return the temperature [°C] one reading would have meant with another number."""
        other = self.shown.copy()
        other[reading] = number
        return float(self.convert(other)[reading])

    def width_c(self, reading: int, number: float) -> float:
        """Return how many °C one step of the display is worth."""
        step = 10.0**-self.decimals
        return abs(self.one(reading, number + step) - self.one(reading, number))

    def back(self, expected_c: FloatArray) -> FloatArray:
        """Return the numbers the gun would show for temperatures, (n,), by secant steps."""
        number = self.shown.copy()
        for _ in range(8):
            here = self.convert(number)
            slope = self.convert(number + 1.0) - here
            number = number + np.clip((expected_c - here) / np.where(slope > 0, slope, 1.0), -2000.0, 2000.0)
        return number


def log_total(log: FloatArray) -> FloatArray:
    """Return the logarithm of the sum over all nodes of exponentials, (j, …) to (…)."""
    top = log.max(axis=0)
    return np.asarray(top + np.log(np.exp(log - top).sum(axis=0)))


def log_broad(evidence: Evidence) -> FloatArray:
    """Return the log density of each reading as a blunder of the broad kind, times its odds, (n,)."""
    odds = BLUNDER_CHANCE / (1.0 - BLUNDER_CHANCE)
    density = 1.0 / (np.pi * BROAD_SCALE_C * (1.0 + (evidence.values_c / BROAD_SCALE_C) ** 2))
    return np.log(odds * density)


def search(evidence: Evidence, slips: Slips) -> frozenset[int]:
    """Return the likeliest set of blunders: the best of none, one and two, then one more or less at a
    time."""
    broad = log_broad(evidence)
    n = len(broad)
    single = log_total(evidence.rest([]).without_one_more) + broad
    best: tuple[float, frozenset[int]] = (float(log_total(evidence.log_posterior)), frozenset())
    top = int(np.argmax(single))
    best = max(best, (float(single[top]), frozenset([top])), key=lambda item: item[0])
    if n > 1:
        first, second, log = evidence.without_pairs(np.sort(np.argsort(-single)[:MANY]))
        pairs = log_total(log) + broad[first] + broad[second]
        top = int(np.argmax(pairs))
        pair = frozenset([int(first[top]), int(second[top])])
        best = max(best, (float(pairs[top]), pair), key=lambda item: item[0])
    while True:
        values = one_changed(evidence, broad, best[1]) if best[1] else single
        at = int(np.argmax(values))
        if values[at] <= best[0] + 1e-9:
            return best[1]
        best = float(values[at]), best[1] ^ {at}


def one_changed(evidence: Evidence, broad: FloatArray, suspects: frozenset[int]) -> FloatArray:
    """Return the log evidence of the set with each reading in turn put in or taken out, (n,); -inf for too many."""
    inside = sorted(suspects)
    values = np.asarray(log_total(evidence.rest(inside).without_one_more) + broad + broad[inside].sum())
    if len(inside) >= max(2, len(broad) // 4):
        values[:] = -np.inf
    for i in inside:
        others = [other for other in inside if other != i]
        values[i] = log_total(evidence.without(others)) + broad[others].sum()
    return values


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hearsay:
    """What all readings that are not suspect say about each reading, itself left out: per node the weight, mean and
    variance without noise (j, n); over all nodes the log evidence without it and the other suspects, and with it,
    (n,)."""

    weight: FloatArray
    mean: FloatArray
    variance: FloatArray
    log_rest: FloatArray
    log_clean: FloatArray

    @classmethod
    def of(cls, evidence: Evidence, suspects: frozenset[int]) -> Hearsay:
        """Ask the others about each reading."""
        left_out = sorted(suspects)
        rest = evidence.rest(left_out)
        log, mean = rest.without_one_more, evidence.values_c - rest.solved / rest.diagonal
        variance = np.maximum(1.0 / rest.diagonal - evidence.noise_c2, 0.0)
        log_clean = np.full(len(evidence.values_c), log_total(rest.log_posterior))
        for i in left_out:
            log[:, i] = rest.log_posterior
            mean[:, i], variance[:, i] = evidence.expected(i, left_out)
            log_clean[i] = log_total(evidence.without([other for other in left_out if other != i]))
        log_rest = log_total(log)
        weight = np.exp(log - log_rest)
        return cls(weight=weight, mean=mean, variance=variance, log_rest=log_rest, log_clean=log_clean)


def judge(evidence: Evidence, slips: Slips, suspects: frozenset[int], enough: bool) -> tuple[Judged, ...]:
    """Weigh each reading as a blunder against the others that are none."""
    said = Hearsay.of(evidence, suspects)
    mean = (said.weight * said.mean).sum(axis=0)
    std = np.sqrt((said.weight * (said.variance + (said.mean - mean) ** 2)).sum(axis=0))
    expected_c = mean + evidence.centre_c + evidence.drift_c
    total = np.hypot(std, np.sqrt((said.weight * evidence.noise_c2).sum(axis=0)))
    local = np.where(widest_gaps(evidence.points_mm) > CORNER_ANGLE, LOCAL_CHANCE_AT_CORNER, LOCAL_CHANCE)
    wide = said.variance + evidence.noise_c2 + LOCAL_STD_C**2
    away = evidence.values_c - said.mean
    density = (said.weight * np.exp(-0.5 * away**2 / wide) / np.sqrt(2.0 * np.pi * wide)).sum(axis=0)
    log_clean = np.logaddexp(np.log1p(-local) + said.log_clean, np.log(local * density + 1e-300) + said.log_rest)
    blunder = np.exp(np.clip(said.log_rest - log_clean, -700, 700))
    odds_broad = (1.0 - SLIP_SHARE) * np.exp(np.clip(said.log_rest + log_broad(evidence) - log_clean, -700, 700))
    back = slips.back(expected_c)
    # Slips need not be tried for a reading that is where it should be.
    doubtful = np.abs(slips.rail_c - expected_c) > DOUBTFUL_FROM * total
    judged = []
    for i in range(len(mean)):
        best, slip_density = (
            best_slip(slips, i, float(expected_c[i]), float(np.hypot(total[i], SLIP_SLACK_C)))
            if doubtful[i]
            else (None, 0.0)
        )
        odds_slip = float(SLIP_SHARE * BLUNDER_CHANCE / (1.0 - BLUNDER_CHANCE) * slip_density * blunder[i])
        odds = float(odds_broad[i]) + odds_slip
        chance = odds / (1.0 + odds) if enough else 0.0
        slip, reason, meant = "", "", None
        if chance >= SUSPECT_FROM:
            by_hand = best is not None and odds_slip > odds_broad[i]
            slip, reason, meant = explain(slips, i, float(back[i]), best if by_hand else None)
        judged.append(
            Judged(
                suspect=chance >= SUSPECT_FROM,
                chance=chance,
                reason=reason,
                slip=slip,
                meant_shown=meant,
                expected_c=float(expected_c[i]),
                expected_std_c=float(std[i]),
                expected_shown=float(back[i]),
            )
        )
    return tuple(judged)


def widest_gaps(points_mm: FloatArray) -> FloatArray:
    """Return for each place the widest sector [rad] seen from it in which there is no other, (n,)."""
    x, y = (points_mm[None, :, axis] - points_mm[:, None, axis] for axis in (0, 1))
    angles = np.arctan2(y, x)
    here = (x == 0.0) & (y == 0.0)
    # A reading at the same place is in no direction: it takes that of another.
    some = angles.max(axis=1, where=~here, initial=-np.inf)
    angles = np.sort(np.where(here, some[:, None], angles), axis=1)
    around = angles[:, :1] + 2.0 * np.pi - angles[:, -1:]
    return np.asarray(np.concatenate([np.diff(angles, axis=1), around], axis=1).max(axis=1))


def best_slip(slips: Slips, reading: int, expected_c: float, std_c: float) -> tuple[Meant | None, float]:
    """Return the likeliest slip of the hand and the density [1/°C] of the reading if it is one."""
    best, best_term, total = None, 0.0, 0.0
    for meant in meant_numbers(float(slips.shown[reading]), slips.decimals):
        away = (slips.one(reading, meant.number) - expected_c) / std_c
        if abs(away) > 6.0:
            continue
        width = slips.width_c(reading, meant.number)
        term = np.exp(-0.5 * away**2) / (np.sqrt(2 * np.pi) * std_c) * width * meant.chance / 4.0
        total += term
        if term > best_term:
            best, best_term = meant, term
    return best, total / max(slips.width_c(reading, float(slips.shown[reading])), 1e-9)


def explain(slips: Slips, reading: int, expected_shown: float, meant: Meant | None) -> tuple[str, str, float | None]:
    """Return slip, reason in plain words, and the number that would fit."""
    shown = slips.shown[reading]
    if meant is not None:
        return meant.slip, f"{meant.slip}? {meant.number:.{slips.decimals}f} would fit", meant.number
    if reading > 0 and shown == slips.shown[reading - 1]:
        return "the last number again", "the same number as the shot before: was it read again?", None
    off = shown - expected_shown
    way = "high" if off > 0 else "low"
    return (
        "other",
        f"about {abs(off):.0f} too {way} for its place: a shot through the gap, or the wrong spot?",
        None,
    )
