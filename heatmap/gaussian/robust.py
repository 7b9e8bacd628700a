"""Readings that may be blunders: a mixture, decided by what all others say.

Every reading is good or, with a small chance, a blunder that may be anywhere near: its noise is then wider by so much.
By how much calling a reading a blunder, or good again, changes the evidence follows exactly from the inverse of the
covariance; so it does for two at once, and it must be asked for two: blunders side by side excuse each other. The
change that gains most is made, all is fitted again, and so on until none gains; the evidence pays for each blunder by
its chance.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from heatmap.gaussian.averaging import Average
from heatmap.units import BoolArray, FloatArray


def fit_robustly(
    fit: Callable[[FloatArray], Average],
    noise_variance: FloatArray,
    trusted: BoolArray,
    *,
    chance: float,
    std: float,
) -> tuple[Average, FloatArray]:
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
    while True:
        average = fit(noise_variance + np.where(blunder, std**2, 0.0))
        gain = _log_gain(average, blunder, chance, std)
        stays = 1.0 / (1.0 + np.exp(np.minimum(np.diag(gain), 700.0)))
        best = np.unravel_index(int(np.argmax(gain)), gain.shape)
        if gain[best] <= 0.0 or blunder.tobytes() in seen:
            if (blunder & trusted).any():
                average = fit(noise_variance + np.where(blunder & ~trusted, std**2, 0.0))
            return average, np.where(trusted, 0.0, np.where(blunder, stays, 1.0 - stays))
        seen.add(blunder.tobytes())
        blunder[list(set(best))] ^= True


def _log_gain(average: Average, blunder: BoolArray, chance: float, std: float) -> FloatArray:
    """Return by how much calling readings i and j the other thing changes the log of evidence and chance, (n, n); on
    the diagonal i alone.

    What is added to the noise of readings S changes the covariance by a diagonal D on S. With Q = K⁻¹ and a = Q y the
    evidence changes by -½ log det(I + D Q) + ½ a' (D⁻¹ + Q)⁻¹ a, all on S: Rasmussen and Williams (2006), equations
    A.9 and A.10.
    """
    inverse = np.stack([(part.basis * part.precision) @ part.basis.T for part in average.parts])  # (k, n, n)
    residual = np.stack([part.residual for part in average.parts])
    sign = np.where(blunder, -1.0, 1.0)
    added = sign * std**2
    pull = (inverse @ residual[:, :, None])[:, :, 0]
    one = 1.0 + added * np.diagonal(inverse, axis1=1, axis2=2)
    square = added * pull**2
    cross = np.outer(added, added) * inverse
    determinant = one[:, :, None] * one[:, None, :] - cross * inverse
    mixed = square[:, :, None] * one[:, None, :]
    misfit = mixed + mixed.swapaxes(1, 2) - 2.0 * pull[:, :, None] * pull[:, None, :] * cross
    alone = np.arange(len(sign))
    determinant[:, alone, alone], misfit[:, alone, alone] = one, square
    gain = 0.5 * (misfit / determinant - np.log(determinant))
    peak = gain.max(axis=0)
    gain = peak + np.log(np.tensordot(average.weights, np.exp(gain - peak), axes=1))
    log_odds = sign * np.log(chance / (1.0 - chance))
    prior = log_odds + log_odds[:, None]
    prior[alone, alone] = log_odds
    return np.asarray(gain + prior)
