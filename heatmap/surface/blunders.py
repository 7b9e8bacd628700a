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

import numpy as np
from numpy.typing import ArrayLike

from heatmap.errors import InputError
from heatmap.surface.averaging import Problem, evaluate
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
    return tuple(judge(evidence, slips, suspects, i, enough) for i in range(len(readings.rail_c)))


def shifted(shown: FloatArray, rail_c: FloatArray, slope: float) -> Callable[[FloatArray], FloatArray]:
    """Return the straight line through each reading."""
    return lambda other: rail_c + (other - shown) * slope


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evidence:
    """All nodes at once: log posterior (j,), inverse covariance (j, n, n) and inverse covariance times values
    (j, n).

    In °C about ``centre_c``; the noise of each reading (j, n) is part of the covariance.
    """

    log_posterior: FloatArray
    inverse: FloatArray
    solved: FloatArray
    noise_c2: FloatArray
    points_mm: FloatArray
    values_c: FloatArray
    centre_c: float
    drift_c: FloatArray

    def without(self, left_out: Sequence[int]) -> FloatArray:
        """Return the log posterior of each node without the readings left out, (j,)."""
        if not left_out:
            return self.log_posterior
        index = np.array(left_out)
        block = self.inverse[:, index[:, None], index]
        solved = self.solved[:, index]
        misfit = np.einsum("ja,ja->j", solved, np.linalg.solve(block, solved[:, :, None])[:, :, 0])
        log_determinant = np.linalg.slogdet(block)[1]
        return np.asarray(self.log_posterior + 0.5 * (misfit - log_determinant + len(index) * np.log(2 * np.pi)))

    def without_pairs(self, first: IntArray, second: IntArray) -> FloatArray:
        """Return :meth:`without` for many pairs of readings at once, (j, pairs)."""
        one, other = self.solved[:, first], self.solved[:, second]
        a, b = self.inverse[:, first, first], self.inverse[:, second, second]
        c = self.inverse[:, first, second]
        determinant = a * b - c * c
        misfit = (b * one**2 - 2.0 * c * one * other + a * other**2) / determinant
        change = 0.5 * (misfit - np.log(determinant) + 2.0 * np.log(2 * np.pi))
        return np.asarray(self.log_posterior[:, None] + change)

    def expected(self, reading: int, left_out: Sequence[int]) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return weight, mean and variance (noise excluded) per node of a reading that is among those left
        out."""
        index = np.array(left_out)
        at = list(left_out).index(reading)
        block = np.linalg.inv(self.inverse[:, index[:, None], index])
        move = np.einsum("jb,jb->j", block[:, at], self.solved[:, index])
        log = self.without(left_out)
        weight = np.exp(log - log.max())
        variance = np.maximum(block[:, at, at] - self.noise_c2[:, reading], 0.0)
        return weight / weight.sum(), self.values_c[reading] - move, variance


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
    whiten = 1.0 / np.sqrt(noise)
    logs, inverses, solved, noises = [], [], [], []
    levels = coarse_levels(scale, claimed)
    kernels = coarse_kernels(readings.extent_mm, trends.seams_mm, trends.seam_axis)
    candidates = [(kernel, std, log_prior) for kernel, log_prior in kernels for std in trends.sets[list(SUSPECT_SETS)]]
    for nodes in evaluate(problem, candidates, levels):
        weights = nodes.inverse_variance
        inverse = (nodes.vectors * weights[:, None, :]) @ nodes.vectors.T
        if drift.shape[1]:
            pulled = (nodes.vectors @ (weights[:, :, None] * nodes.rotated_drift)) @ np.swapaxes(
                nodes.drift_factor, 1, 2
            )
            inverse = inverse - pulled @ np.swapaxes(pulled, 1, 2)
        inverse = inverse * whiten[:, None] * whiten
        logs.append(nodes.log_posterior)
        inverses.append(inverse)
        solved.append(inverse @ problem.values_c)
        noises.append(levels.noise_ratio[:, None] ** 2 * noise)
    return Evidence(
        log_posterior=np.concatenate(logs),
        inverse=np.concatenate(inverses),
        solved=np.concatenate(solved),
        noise_c2=np.concatenate(noises),
        points_mm=problem.points_mm,
        values_c=problem.values_c,
        centre_c=centre,
        drift_c=drift @ drift_mean_c,
    )


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


def log_mean_exp_weights(log: FloatArray) -> float:
    """Return the logarithm of a sum of exponentials."""
    top = float(log.max())
    return top + float(np.log(np.exp(log - top).sum()))


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
    none = log_mean_exp_weights(evidence.log_posterior)
    single = np.array([log_mean_exp_weights(evidence.without([i])) + broad[i] for i in range(n)])
    best: tuple[float, frozenset[int]] = (none, frozenset())
    top = int(np.argmax(single))
    best = max(best, (float(single[top]), frozenset([top])), key=lambda item: item[0])
    doubtful = np.sort(np.argsort(-single)[:MANY])
    if n > 1:
        first, second = (doubtful[index] for index in np.triu_indices(len(doubtful), 1))
        log = evidence.without_pairs(first, second)
        highest = log.max(axis=0)
        pairs = highest + np.log(np.exp(log - highest).sum(axis=0)) + broad[first] + broad[second]
        top = int(np.argmax(pairs))
        pair = frozenset([int(first[top]), int(second[top])])
        best = max(best, (float(pairs[top]), pair), key=lambda item: item[0])
    suspects = best[1]
    most = max(2, n // 4)
    while True:
        options = [suspects ^ {i} for i in range(n)]
        options = [option for option in options if len(option) <= most]
        values = [log_mean_exp_weights(evidence.without(sorted(o))) + sum(broad[i] for i in o) for o in options]
        at = int(np.argmax(values))
        if values[at] <= best[0] + 1e-9:
            return suspects
        best, suspects = (values[at], options[at]), options[at]


def judge(evidence: Evidence, slips: Slips, suspects: frozenset[int], reading: int, enough: bool) -> Judged:
    """Weigh one reading as a blunder against the others that are none."""
    left_out = sorted(suspects | {reading})
    others = sorted(suspects - {reading})
    weight, means, variances = evidence.expected(reading, left_out)
    mean = float(weight @ means)
    std = float(np.sqrt(weight @ (variances + (means - mean) ** 2)))
    noise = float(weight @ evidence.noise_c2[:, reading])
    expected_c = mean + evidence.centre_c + float(evidence.drift_c[reading])
    total = float(np.hypot(std, np.sqrt(noise)))
    log_clean = log_mean_exp_weights(evidence.without(others))
    log_rest = log_mean_exp_weights(evidence.without(left_out))
    local = LOCAL_CHANCE_AT_CORNER if widest_gap(evidence.points_mm, reading) > CORNER_ANGLE else LOCAL_CHANCE
    wide = variances + evidence.noise_c2[:, reading] + LOCAL_STD_C**2
    away = evidence.values_c[reading] - means
    density = float(weight @ (np.exp(-0.5 * away**2 / wide) / np.sqrt(2.0 * np.pi * wide)))
    log_clean = float(np.logaddexp(np.log1p(-local) + log_clean, np.log(local * density + 1e-300) + log_rest))
    odds_broad = (1.0 - SLIP_SHARE) * np.exp(np.clip(log_rest + log_broad(evidence)[reading] - log_clean, -700, 700))
    # Slips need not be tried for a reading that is where it should be.
    doubtful = abs(float(slips.rail_c[reading]) - expected_c) > DOUBTFUL_FROM * total
    best, slip_density = (
        best_slip(slips, reading, expected_c, float(np.hypot(total, SLIP_SLACK_C))) if doubtful else (None, 0.0)
    )
    odds = BLUNDER_CHANCE / (1.0 - BLUNDER_CHANCE)
    odds_slip = SLIP_SHARE * odds * slip_density * np.exp(np.clip(log_rest - log_clean, -700, 700))
    chance = float((odds_broad + odds_slip) / (1.0 + odds_broad + odds_slip)) if enough else 0.0
    suspect = chance >= SUSPECT_FROM
    at = np.where(np.arange(len(slips.shown)) == reading, expected_c, slips.rail_c)
    shown_expected = float(slips.back(at)[reading])
    slip, reason, meant = "", "", None
    if suspect:
        by_hand = best is not None and odds_slip > odds_broad
        slip, reason, meant = explain(slips, reading, shown_expected, best if by_hand else None)
    return Judged(
        suspect=suspect,
        chance=chance,
        reason=reason,
        slip=slip,
        meant_shown=meant,
        expected_c=expected_c,
        expected_std_c=std,
        expected_shown=shown_expected,
    )


def widest_gap(points_mm: FloatArray, reading: int) -> float:
    """Return the widest sector [rad] seen from one place in which there is no other."""
    away = points_mm - points_mm[reading]
    away = away[np.any(away != 0.0, axis=1)]
    angles = np.sort(np.arctan2(away[:, 1], away[:, 0]))
    return float(np.max(np.diff(np.append(angles, angles[0] + 2.0 * np.pi))))


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
