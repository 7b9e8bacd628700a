"""Readings that may be blunders: a mixture, decided by what all others say.

Every reading is good or, with a small chance, a blunder that may be anywhere near: its noise is then wider by so much.
By how much calling a reading a blunder, or good again, changes the evidence follows exactly from the inverse of the
covariance; so it does for two at once, and it must be asked for two: blunders side by side excuse each other. The
change that gains most is made, all is fitted again, and so on until none gains; the evidence pays for each blunder by
its chance.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatmap.gaussian.averaging import Average

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Blunders:
    """How likely a reading is a blunder before it is held against the others, and how far off one is (a standard
    deviation).
    """

    chance: float
    std: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Robust:
    """A fit and the chance of each reading's being a blunder, the others being what they are held for, (n,)."""

    average: Average
    blunder_chance: FloatArray

    @property
    def blunder(self) -> NDArray[np.bool_]:
        """Which readings count as blunders, (n,)."""
        return self.blunder_chance > 0.5


def fit_robustly(
    fit: Callable[[FloatArray], Average],
    values: FloatArray,
    noise_variance: FloatArray,
    blunders: Blunders,
    trusted: NDArray[np.bool_],
) -> Robust:
    """Fit, hold blunders loosely, and fit again until no change of one reading or two makes it more likely.

    Parameters
    ----------
    fit : callable
        Noise variances (n,) to a fit of the values.
    values, noise_variance : ndarray (n,)
    blunders : Blunders
    trusted : ndarray (n,) of bool
        Readings that are no blunders whatever the others say.
    """
    blunder = np.zeros(len(values), dtype=bool)
    seen: set[bytes] = set()
    while True:
        average = fit(noise_variance + np.where(blunder, blunders.std**2, 0.0))
        gain = np.where(trusted | trusted[:, None], -np.inf, _log_gain(average, blunder, blunders))
        stays = 1.0 / (1.0 + np.exp(np.minimum(np.diag(gain), 700.0)))
        best = np.unravel_index(int(np.argmax(gain)), gain.shape)
        if gain[best] <= 0.0 or blunder.tobytes() in seen:
            return Robust(average=average, blunder_chance=np.where(blunder, stays, 1.0 - stays))
        seen.add(blunder.tobytes())
        blunder[list(set(best))] ^= True


def _log_gain(average: Average, blunder: NDArray[np.bool_], blunders: Blunders) -> FloatArray:
    """Return by how much calling readings i and j the other thing changes the log of evidence and chance, (n, n); on
    the diagonal i alone.

    What is added to the noise of readings S changes the covariance by a diagonal D on S. With Q = K⁻¹ and a = Q y the
    evidence changes by -½ log det(I + D Q) + ½ a' (D⁻¹ + Q)⁻¹ a, all on S: Rasmussen and Williams (2006), equations
    A.9 and A.10.
    """
    sign = np.where(blunder, -1.0, 1.0)
    alone = np.eye(len(blunder), dtype=bool)
    gains = []
    for part in average.parts:
        for level, precision in zip(part.levels.noise, part.precision, strict=True):
            inverse = (part.basis * precision) @ part.basis.T
            pull = inverse @ part.residual
            added = sign * (level * blunders.std) ** 2
            one = 1.0 + added * np.diag(inverse)
            square = added * pull**2
            cross = np.outer(added, added) * inverse
            determinant = np.where(alone, one, np.outer(one, one) - cross * inverse)
            apart = np.outer(square, one) + np.outer(one, square) - 2.0 * np.outer(pull, pull) * cross
            misfit = np.where(alone, square, apart)
            gains.append(0.5 * (misfit / determinant - np.log(determinant)))
    log_odds = sign * np.log(blunders.chance / (1.0 - blunders.chance))
    prior = np.where(alone, log_odds, log_odds + log_odds[:, None])
    peak = np.max(gains, axis=0)
    return np.asarray(
        prior + peak + np.log(np.tensordot(np.concatenate(average.weights), np.exp(gains - peak), axes=1))
    )
