"""What the surface means: too cold, in band, too hot or unsure, here and over the whole grate; how even it
is."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, replace
from statistics import median
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from heatmap.units import FloatArray
from heatmap.verdict.tuning import SURE

Word = Literal["too cold", "in band", "too hot", "unsure"]
#: What a place can be called, unsure apart, from below the band to above it.
NAMED: tuple[Word, ...] = ("too cold", "in band", "too hot")


def named(
    mean_c: FloatArray, std_c: FloatArray, low_c: float, high_c: float
) -> tuple[NDArray[np.str_], NDArray[np.str_]]:
    """Return the word for each element of arrays of any one shape, and the likeliest of the three, sure or not."""
    parts = np.array(chance_arrays(mean_c, std_c, low_c, high_c))
    leaning = np.array(NAMED)[np.argmax(parts, axis=0)]
    return np.where(parts.max(axis=0) >= SURE, leaning, "unsure"), leaning


def chances(mean_c: float, std_c: float, low_c: float, high_c: float) -> dict[Word, float]:
    """Return the chances that a normal number is below, in and above the band, by word; they add up to one."""
    return dict(zip(NAMED, map(float, chance_arrays(np.array(mean_c), np.array(std_c), low_c, high_c)), strict=True))


def chance_arrays(
    mean_c: FloatArray, std_c: FloatArray, low_c: float, high_c: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the chances below, in and above the band for arrays of any one shape."""
    std_c = np.maximum(std_c, 1e-9)
    below = normal_cumulative((low_c - mean_c) / std_c)
    above = normal_cumulative((mean_c - high_c) / std_c)
    return below, np.clip(1.0 - below - above, 0.0, 1.0), above


#: So many deviates to each standard deviation are tabled, as far as the normal distribution function is not 0 or 1; the
#: function there.
_FINE, _FARTHEST = 256, 9
_TABLED = np.arange(-_FARTHEST * _FINE, _FARTHEST * _FINE + 1) / _FINE
_BELOW = np.array([0.5 * math.erfc(-math.sqrt(0.5) * one) for one in _TABLED.tolist()])
_DENSITY = np.exp(-0.5 * _TABLED**2) / math.sqrt(2.0 * math.pi)


def normal_cumulative(deviates: FloatArray) -> FloatArray:
    """Return the normal distribution function, within 1e-12 (nan for nan), since scipy.special takes long to import.

    Taylor's series about the nearest of a table of the standard library's.
    """
    within = np.clip(np.asarray(deviates, dtype=float), -_FARTHEST, _FARTHEST)
    nearest = np.rint((np.nan_to_num(within) + _FARTHEST) * _FINE).astype(np.int64)
    at, density = _TABLED[nearest], _DENSITY[nearest]
    off = within - at
    return np.asarray(_BELOW[nearest] + density * off * (1.0 - off * (at / 2.0 - off * (at**2 - 1.0) / 6.0)))


def chance_of_more(before: NDArray[np.floating], after: NDArray[np.floating]) -> float:
    """Return how likely a number rises, from joint samples of it before and after (count,); ties count as half."""
    return float(np.mean(after > before) + 0.5 * np.mean(after == before))


class Extreme(NamedTuple):
    """The hottest or the coldest place: where, how hot the rail is, and the number held against the band."""

    x_mm: float
    y_mm: float
    rail_c: float
    compared_c: float


class Tilt(NamedTuple):
    """How much hotter one side is than the other, across the grate inside its rim."""

    difference_c: float
    std_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """How much of the grate is in band and how far apart it is, now or as expected.

    Attributes
    ----------
    share_in_band, share_in_band_low, share_in_band_high : float
        Share of the area in band: mean, 5th and 95th percentile over joint samples.
    p95_minus_p5_c : float
        Spread over the area: median over joint samples of the surface.
    """

    share_in_band: float
    share_in_band_low: float
    share_in_band_high: float
    p95_minus_p5_c: float

    def with_share(self, share: float) -> Outlook:
        """Return the same with another share, its limits no narrower and about it."""
        share = min(max(share, 0.0), 1.0)
        low, high = min(self.share_in_band_low, share), max(self.share_in_band_high, share)
        return replace(self, share_in_band=share, share_in_band_low=low, share_in_band_high=high)


@dataclass(frozen=True, slots=True, kw_only=True)
class Evenness(Outlook):
    """How even the grate is inside its rim, in the numbers held against the band.

    Attributes
    ----------
    std_c : float
        Spread over the area, as `p95_minus_p5_c`.
    hottest, coldest : Extreme
    right_minus_left_c, back_minus_front_c : Tilt
    """

    std_c: float
    hottest: Extreme
    coldest: Extreme
    right_minus_left_c: Tilt
    back_minus_front_c: Tilt


def evenness(
    points_mm: FloatArray,
    rail_c: FloatArray,
    compared_c: FloatArray,
    samples_c: FloatArray,
    level_offsets_c: FloatArray,
    low_c: float,
    high_c: float,
    *,
    sample_points_mm: FloatArray | None = None,
) -> Evenness:
    """Say how even a surface is.

    Parameters
    ----------
    points_mm : ndarray, shape (m, 2)
        Centres of equal cells inside the rim.
    rail_c, compared_c : ndarray, shape (m,)
        Mean surface there: the rail, and the number held against the band.
    samples_c : ndarray, shape (count, k)
        Joint samples of the surface, in compared numbers.
    level_offsets_c : ndarray, shape (count,)
        One draw for each sample of what moves all cells together.
    low_c, high_c : float
        The band.
    sample_points_mm : ndarray, shape (k, 2), optional
        Where the samples are, when they are at wider cells of the same area; `points_mm` when left out.

    Returns
    -------
    Evenness
    """
    at_mm = points_mm if sample_points_mm is None else sample_points_mm
    extent = np.ptp(points_mm, axis=0)
    rise_c, rise_std_c = extent * (_slopes(points_mm) @ compared_c), extent * (samples_c @ _slopes(at_mm).T).std(axis=0)
    right, back = map(Tilt, rise_c.tolist(), rise_std_c.tolist())
    told = np.column_stack([points_mm, rail_c, compared_c])
    return Evenness(
        **asdict(outlook(samples_c, low_c, high_c, level_offsets_c)),
        std_c=median(np.std(samples_c, axis=1).tolist()),
        hottest=Extreme(*told[np.argmax(compared_c)].tolist()),
        coldest=Extreme(*told[np.argmin(compared_c)].tolist()),
        right_minus_left_c=right,
        back_minus_front_c=back,
    )


def outlook(samples_c: FloatArray, low_c: float, high_c: float, level_offsets_c: FloatArray | float = 0.0) -> Outlook:
    """Say how much of equal cells is in band, and how far apart they are, from joint samples of them (count, k) and one
    draw for each of what moves all cells together, (count,).
    """
    levelled = samples_c + np.reshape(level_offsets_c, (-1, 1))
    share = np.mean((levelled >= low_c) & (levelled <= high_c), axis=1)
    low, high = quantiles(share, 0.05, 0.95).tolist()
    return Outlook(
        share_in_band=float(np.mean(share)),
        share_in_band_low=low,
        share_in_band_high=high,
        p95_minus_p5_c=median(spreads_c(samples_c).tolist()),
    )


def spreads_c(samples_c: FloatArray) -> FloatArray:
    """Return the 95th minus the 5th percentile over the cells of each sample, (count,)."""
    return np.diff(quantiles(samples_c, 0.05, 0.95))[:, 0]


def quantiles(values: FloatArray, *shares: float) -> FloatArray:
    """Return quantiles of the last axis at k shares, (…, k), on straight lines between values.

    As np.quantile, which would load np.ma for it: a twentieth of the time of a whole map.
    """
    ordered, at = np.sort(values, axis=-1), np.array(shares) * (values.shape[-1] - 1)
    below, above = np.floor(at).astype(np.int64), np.ceil(at).astype(np.int64)
    return np.asarray(ordered[..., below] + (at - below) * (ordered[..., above] - ordered[..., below]))


def _slopes(points_mm: FloatArray) -> FloatArray:
    """Return what turns values at points (m, 2) into the slopes of their least-squares plane, (2, m)."""
    return np.asarray(np.linalg.pinv(points_mm - points_mm.mean(axis=0)))
