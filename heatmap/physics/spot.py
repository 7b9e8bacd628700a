"""How large the gun's spot is, and how much of it falls on the tops of the rails.

Only the direction across the rails matters: rails are stripes of width ``rail_top`` repeating every
``rail_pitch``, the spot is a round disc that weighs all its area alike. Lengths in any one unit, the same in
and out. Everything broadcasts.

What follows for tops of a third of the pitch (¼ in every ¾ in) and a spot landing anywhere: the mean share on
the tops is 1/3 at every distance, but from shot to shot it varies by ±0.21 (standard deviation) with a spot
of 2/3 of the pitch (½ in), ±0.072 at 1 pitch, ±0.009 at 1.22 pitches, ±0.028 at 1.33 (1 in) and ±0.038 at
1.4: it is within ±0.03 from 1.12 to 1.34 pitches. The steadiest spot, about 1.22 pitches, is nearly the same
for any width of the tops: there the first zero of the disc's Fourier transform [2]_ falls on the rail pitch.

A real gun sees some 10 % of its signal from around the spot it is sold for [1]_; that part blurs the picture
further and is not modelled.

References
----------
.. [1] Plain geometry of circle and stripe. That the distance-to-spot ratio is quoted for about 90 % of the
   energy: ASTM E1256, ASTM E2758 (from memory).
.. [2] 2 J₁(z)/z with first zero z = 3.8317: M. Abramowitz, I. A. Stegun, Handbook of Mathematical Functions
   (1964), table 9.5; M. Born, E. Wolf, Principles of Optics, section 8.5.2.
"""

from math import ceil, pi

import numpy as np

from heatmap.errors import InputError
from heatmap.physics.checks import above_zero, not_negative
from heatmap.units import ArrayLike, FloatArray

# The range advised, in pitches, around the spot that sees the same share wherever it lands (but for the finer overtones
# of the pattern): the first zero of J₁ over π [2], 1.22.
SHORTEST_ADVISED_IN_PITCHES = 1.0
LONGEST_ADVISED_IN_PITCHES = 1.4

# Phases across one pitch in the statistics, an even number; the share bends at the edges, where 720 points leave 1e-6.
_PHASES = 720
# Aim errors, in pitches: below the first every shot meets the middle, beyond the second it lands anywhere (the wrapped
# normal density is level to 2 exp(−2π²) = 5e-9).
_PERFECT_AIM, _ANY_AIM = 1e-4, 1.0
_NEIGHBOURS = 6  # pitches away that such an aim still reaches


def _pattern(rail_top: ArrayLike, rail_pitch: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return width and pitch of the rail tops, or say what is wrong with them."""
    top, pitch = above_zero(rail_top, "the width of the rail top"), above_zero(rail_pitch, "the rail pitch")
    if np.any(top > pitch):
        raise InputError("the rail top is wider than the rail pitch; the pitch is from centre to centre.")
    return top, pitch


def spot_diameter(distance: ArrayLike, ratio: ArrayLike, smallest: ArrayLike = 0.0) -> FloatArray:
    """Return how wide the gun's spot is at a distance, in any unit of length.

    `ratio` is distance to spot, 12 for a gun marked 12:1; the spot never gets smaller than `smallest`, however close.
    What is out of range raises InputError.

    Examples
    --------
    >>> float(spot_diameter(18.0, 12.0)), float(spot_diameter(3.0, 12.0, 0.5))
    (1.5, 0.5)
    """
    far, per_spot = above_zero(distance, "the distance"), above_zero(ratio, "the distance-to-spot ratio")
    return np.maximum(far / per_spot, not_negative(smallest, "the smallest spot"))


def _share_left_of(cut: FloatArray) -> FloatArray:
    """Return the share of a disc of radius 1 left of a straight cut at this distance from its middle."""
    inside = np.minimum(np.maximum(cut, -1.0), 1.0)
    return np.asarray(0.5 + (np.arcsin(inside) + inside * np.sqrt(1.0 - inside * inside)) / pi)


def rail_share(
    centre_offset: ArrayLike, spot_diameter: ArrayLike, rail_top: ArrayLike, rail_pitch: ArrayLike
) -> FloatArray:
    """Return the share of a round spot that falls on the tops of the rails [1], exactly.

    Parameters
    ----------
    centre_offset : array_like
        Middle of the spot from the middle line of any rail, across the rails.
    spot_diameter, rail_top, rail_pitch : array_like
        Width of the spot, of the tops, and their distance from centre to centre.

    Raises
    ------
    InputError
        If a length is not above 0, the offset is not finite, or the tops are wider than the pitch.

    Notes
    -----
    The share of a disc left of a cut at x radii is ½ + (asin x + x√(1 − x²))/π; a rail is the difference of two cuts;
    all rails under the spot are added.

    Examples
    --------
    A 1 in spot centred on a ¼ in rail sees 31.5 % of rail:

    >>> round(float(rail_share(0.0, 1.0, 0.25, 2.0)), 4)
    0.315
    """
    spot = above_zero(spot_diameter, "the spot diameter")
    top, pitch = _pattern(rail_top, rail_pitch)
    offset = np.asarray(centre_offset, dtype=np.float64)
    if not np.isfinite(offset).all():
        raise InputError("the middle of the spot must be a finite distance from a rail.")
    offset = offset - pitch * np.round(offset / pitch)  # within half a pitch of the rail called 0
    radius = 0.5 * spot
    farthest = ceil(float(np.max((radius + 0.5 * (top + pitch)) / pitch)) - 1e-12)
    offset, half, pitch, radius = (each[..., None] for each in (offset, 0.5 * top, pitch, radius))
    middle = pitch * np.arange(-farthest, farthest + 1) - offset
    on_each = _share_left_of((middle + half) / radius) - _share_left_of((middle - half) / radius)
    share: FloatArray = np.minimum(np.maximum(on_each.sum(axis=-1), 0.0), 1.0)[()]
    return share


def rail_share_statistics(
    spot_diameter: ArrayLike, rail_top: ArrayLike, rail_pitch: ArrayLike, aim_sd: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Return mean and standard deviation of the share of the spot that falls on rail tops, from shot to shot [1].

    The cook aims at the middle of a rail and misses it, across the rails, by a normal error.

    Parameters
    ----------
    spot_diameter, rail_top, rail_pitch : array_like
        As in :func:`rail_share`.
    aim_sd : array_like
        Standard deviation of the aim across the rails; 0 is a perfect aim, infinity a spot that may land
        anywhere: then the mean is rail_top / rail_pitch, exactly.

    Raises
    ------
    InputError
        If a length is not above 0, aim_sd is below 0, or the tops are wider than the pitch.

    Notes
    -----
    :func:`rail_share` over the phase within one pitch, weighed with the wrapped normal density; within 1e-5 of the
    exact integral.

    Examples
    --------
    >>> mean, std = rail_share_statistics([0.5, 1.0], 0.25, 0.75, np.inf)
    >>> std.round(3).tolist()
    [0.212, 0.028]
    """
    spot = above_zero(spot_diameter, "the spot diameter")
    top, pitch = _pattern(rail_top, rail_pitch)
    aim = np.asarray(aim_sd, dtype=np.float64)
    if not (aim >= 0.0).all():
        raise InputError("the standard deviation of the aim must be 0 or more.")
    spot, top, pitch, aim = np.broadcast_arrays(spot, top, pitch, aim)
    offset, weight = _aim_points((aim / pitch)[..., None])
    column = (values[..., None] for values in (spot / pitch, top / pitch, np.ones_like(pitch)))
    share = rail_share(offset, *column)
    mean = np.sum(weight * share, axis=-1)
    std = np.sqrt(np.maximum(np.sum(weight * (share - mean[..., None]) ** 2, axis=-1), 0.0))
    return np.where(np.isinf(aim), top / pitch, mean)[()], std[()]


def _aim_points(aim: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return how far off shots land, in pitches from the rail aimed at, and their weights (…, offsets); aim is (…, 1).

    To the left of a rail is as to the right of it: one offset stands for both, but for its middle and half a pitch.
    """
    offset = np.arange(_PHASES // 2 + 1) / _PHASES
    from_rails = np.add.outer(np.arange(-_NEIGHBOURS, _NEIGHBOURS + 1), offset)
    deviates = from_rails / np.clip(aim[..., None], _PERFECT_AIM, _ANY_AIM)
    weight = np.exp(-0.5 * deviates**2).sum(axis=-2)
    weight[..., 1:-1] *= 2.0
    return offset, weight / weight.sum(axis=-1, keepdims=True)


def best_distance(
    ratio: float,
    smallest: float,
    rail_top: float,
    rail_pitch: float,
    aim_sd: float,
    aim_distance: float,
) -> float:
    """Return how far from the rails to hold the gun so that every shot catches the same share of rail.

    Close up each shot is a lottery between rail and valley. The steady distance is where the spot spans about
    one pitch to 1.4; within that range this is the distance with the least spread from shot to shot. If even the
    smallest spot is wider, it is the farthest distance that still has it: farther only blurs the map.

    Parameters
    ----------
    ratio, smallest : float
        As in :func:`spot_diameter`.
    rail_top, rail_pitch : float
        As in :func:`rail_share`.
    aim_sd : float
        Standard deviation of the aim across the rails at aim_distance, growing with the distance. Infinity is a spot
        that may land anywhere.
    aim_distance : float
        Where aim_sd holds.

    Raises
    ------
    InputError
        If a length or the ratio is not above 0, or the tops are wider than the pitch.

    Examples
    --------
    >>> round(best_distance(12.0, 0.5, 0.25, 0.75, np.inf, 12.0), 1)
    10.9
    """
    top, pitch = (float(value) for value in _pattern(rail_top, rail_pitch))
    per_spot = float(above_zero(ratio, "the distance-to-spot ratio"))
    nearest = max(smallest, SHORTEST_ADVISED_IN_PITCHES * pitch)
    spots = np.linspace(nearest, max(nearest, LONGEST_ADVISED_IN_PITCHES * pitch), 201)
    distances = spots * per_spot
    aim = aim_sd * distances / float(above_zero(aim_distance, "the distance of the aim error"))
    _, spread = rail_share_statistics(spots, top, pitch, aim)
    return float(distances[np.argmin(spread)])
