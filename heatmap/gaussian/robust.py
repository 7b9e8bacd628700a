"""Readings that may be blunders: a mixture, decided by leave-one-out.

Every reading is good or, with a small chance, a blunder that may be anywhere near: its noise is then wider by so much.
By how much calling one reading a blunder changes the evidence follows from what all others say of it, exactly. So the
reading that gains most is called one, all is fitted again, and so on until none gains; the evidence pays for each by
the chance of a blunder.
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
    """A fit and the chance of each reading's being a blunder, (n,)."""

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
    """Fit, hold blunders loosely, and fit again until no further reading is one.

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
        noise = noise_variance + np.where(blunder, blunders.std**2, 0.0)
        average = fit(noise)
        chance = np.where(trusted, 0.0, _blunder_chance(average, values, noise, noise_variance, blunders))
        gains = np.where(blunder, 1.0 - chance, chance)
        worst = int(np.argmax(gains))
        if gains[worst] <= 0.5 or blunder.tobytes() in seen:
            return Robust(average=average, blunder_chance=chance)
        seen.add(blunder.tobytes())
        blunder[worst] = ~blunder[worst]


def _blunder_chance(
    average: Average, values: FloatArray, noise: FloatArray, noise_variance: FloatArray, blunders: Blunders
) -> FloatArray:
    """Return the chance of each reading's being a blunder, from what all others say of it."""
    mean, variance, weight = average.left_out_nodes()
    levels = np.concatenate([part.levels.noise for part in average.parts])[:, None] ** 2
    surface = variance - levels * noise  # of the noise-free value, of which the reading itself has said nothing
    good, wide = (
        (weight * _normal_density(values - mean, surface + levels * variances)).sum(axis=0)
        for variances in (noise_variance, noise_variance + blunders.std**2)
    )
    odds = blunders.chance / (1.0 - blunders.chance) * wide / np.maximum(good, 1e-300)
    return np.asarray(odds / (1.0 + odds))


def _normal_density(off: FloatArray, variance: FloatArray) -> FloatArray:
    variance = np.maximum(variance, 1e-12)
    return np.asarray(np.exp(-0.5 * off**2 / variance) / np.sqrt(2.0 * np.pi * variance))
