"""Readings that may be blunders: a mixture, decided by what all others say.

Every reading is good or, with a small chance, a blunder that may be anywhere near: its noise is then wider by so much.
By how much calling a reading a blunder, or good again, changes the evidence follows exactly from the inverse of the
covariance; so it does for two at once, and it must be asked for two: blunders side by side excuse each other. The
change that gains most is made, all is fitted again, and so on until none gains; the evidence pays for each blunder by
its chance.
"""

from collections.abc import Callable

import numpy as np

from heatmap.gaussian.averaging import Average
from heatmap.gaussian.conditioner import P
from heatmap.units import BoolArray, FloatArray, IntArray


def fit_robustly(
    fit: Callable[[FloatArray], Average[P]],
    noise_variance: FloatArray,
    trusted: BoolArray,
    *,
    chance: float,
    std: float,
) -> tuple[Average[P], FloatArray]:
    """Fit, hold blunders loosely, and fit again until no change of one reading or two makes it more likely.

    Trusted readings that the others contradict accuse nobody: the others are judged as if these were blunders, and then
    they are believed.

    Parameters
    ----------
    fit : callable
        Noise variances (n,) to a fit of the values.
    noise_variance : ndarray (n,)
    trusted : ndarray (n,) of bool
        Readings that are believed whatever the others say.
    chance, std : float
        How likely a reading is a blunder before it is held against the others, and how far off one is (a standard
        deviation).

    Returns
    -------
    average : Average
    blunder_chance : ndarray (n,)
        The chance of each reading's being a blunder, the others being what they are held for.
    """
    blunder = np.zeros(len(noise_variance), dtype=bool)
    seen: set[bytes] = set()
    first, second = np.triu_indices(len(noise_variance))
    alone = first == second
    while True:
        average = fit(noise_variance + np.where(blunder, std**2, 0.0))
        gain = _log_gain(average, blunder, chance, std, first, second)
        stays = 1.0 / (1.0 + np.exp(np.minimum(gain[alone], 700.0)))
        best = int(np.argmax(gain))
        if gain[best] <= 0.0 or blunder.tobytes() in seen:
            if (blunder & trusted).any():
                average = fit(noise_variance + np.where(blunder & ~trusted, std**2, 0.0))
            return average, np.where(trusted, 0.0, np.where(blunder, stays, 1.0 - stays))
        seen.add(blunder.tobytes())
        blunder[[first[best], second[best]]] = ~blunder[[first[best], second[best]]]


def _log_gain(
    average: Average[P], blunder: BoolArray, chance: float, std: float, first: IntArray, second: IntArray
) -> FloatArray:
    """Return by how much calling two readings the other thing changes the log of evidence and chance, for pairs of them
    (p,); where both are the same, that one alone.

    What is added to the noise of readings S changes the covariance by a diagonal D on S. With Q = K⁻¹ and a = Q y the
    evidence changes by -½ log det(I + D Q) + ½ a' (D⁻¹ + Q)⁻¹ a, all on S: Rasmussen and Williams (2006), equations
    A.9 and A.10.
    """
    alone, gains = first == second, []
    sign = np.where(blunder, -1.0, 1.0)
    added = sign * std**2
    for part in average.parts:
        inverse = part.basis @ part.basis.T
        pull, between = inverse @ part.residual, inverse[first, second]
        one, square = 1.0 + added * np.diag(inverse), added * pull**2
        cross = added[first] * added[second] * between
        determinant = one[first] * one[second] - cross * between
        misfit = square[first] * one[second] + one[first] * square[second]
        misfit -= 2.0 * pull[first] * pull[second] * cross
        determinant[alone], misfit[alone] = one, square
        gains.append(0.5 * (misfit / determinant - np.log(determinant)))
    peak = np.max(gains, axis=0)
    gain = peak + np.log(average.weights @ np.exp(gains - peak))
    log_odds = sign * np.log(chance / (1.0 - chance))
    return np.asarray(gain + np.where(alone, log_odds[first], log_odds[first] + log_odds[second]))
