"""A piece that was seared, what came of it, and what that teaches about the next."""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Literal, Self

import numpy as np

from heatmap.errors import InputError
from heatmap.grill.grill import Food as FoodSaid
from heatmap.sear.food import Food
from heatmap.sear.limits import check_limits
from heatmap.sear.rails import Rails
from heatmap.sear.runs import REACH, Beliefs, as_believed, effective_conductance, one_std, run, sides_of
from heatmap.sear.tuning import IMPOSSIBLE, LITTLE, UNEXPLAINED
from heatmap.units import Display, FloatArray, Units, quantity_text

#: What a cook without a probe says of a test piece.
Outcome = Literal["under", "right", "over"]
OUTCOMES: tuple[Outcome, ...] = ("under", "right", "over")

PROBE_SD_C = 1.1  # 2 °F: a pen thermometer and finding the coldest place; common practice, no source
#: What is forecast after an outcome lies on the side that was seen by at least this [°C], found in so many steps.
_SEEN_C, _SEEN_STEPS = 0.1, 8
SHORTEST_S, LONGEST_S = 1.0, 3600.0  # of one turn of a test piece: less is a slip of the hand, more no sear. Assumed
#: Rows once told two digits after the point [°F or °C, in or mm]; hundredths of an inch are the coarsest.
_ROUNDING = 0.15
WORD_SD_C = 2.8  # 5 °F: cooks' charts differ by that much in what a word such as right means


@dataclass(frozen=True, slots=True, kw_only=True)
class SearedPiece:
    """One piece that was seared, and what came of it.

    Attributes
    ----------
    taken_at : datetime or None
        UTC.
    place : str
        Where it lay, in words.
    turns_s : tuple of float
        Length of each turn.
    start_c, thickness_mm, peak_c : float or None
        Centre when it went on; thickness; highest centre measured in its rest.
    outcome : {"under", "right", "over"} or None
        Held against the centre that was wanted, where nobody had a probe.
    rail_c, wanted_c : float or None
        The rail under it and the centre wanted.
    note : str
    key : str
        What a phone named it by, so that one sent twice is kept once.
    """

    taken_at: datetime | None = None
    place: str = ""
    turns_s: tuple[float, ...]
    start_c: float | None = None
    thickness_mm: float | None = None
    peak_c: float | None = None
    outcome: Outcome | None = None
    rail_c: float | None = None
    wanted_c: float | None = None
    note: str = ""
    key: str = ""

    @property
    def teaches(self) -> bool:
        """Whether anything came of it that is known."""
        return self.peak_c is not None or self.outcome is not None

    @property
    def day(self) -> date | None:
        """The day it was seared, here; None where that is not told."""
        return None if self.taken_at is None else self.taken_at.astimezone().date()

    def with_food(self, said: FoodSaid, rail_c: float | None) -> Self:
        """Return it with what is said of the food, on rails as hot as this."""
        return replace(
            self, rail_c=rail_c, start_c=said.start_c, thickness_mm=said.thickness_mm, wanted_c=said.target_c
        )

    def same_as(self, other: Self) -> bool:
        """Whether both tell of one piece: done alike, come out alike, on one day, as far as what is written tells.

        What one of them does not say is no difference. Neither is rail nor place: told once more, a piece without
        them is given those of now.
        """
        turns = zip(self.turns_s, other.turns_s, strict=False)
        numbers = [(self.start_c, other.start_c), (self.thickness_mm, other.thickness_mm), *turns]
        numbers.append((self.peak_c, other.peak_c))
        if self.outcome is not None:  # held against the centre that was wanted
            numbers.append((self.wanted_c, other.wanted_c))
        came = self.outcome == other.outcome and (self.peak_c is None) == (other.peak_c is None)
        one_day = None in (self.day, other.day) or self.day == other.day
        counted = len(self.turns_s) == len(other.turns_s)
        alike = all(one is None or two is None or abs(one - two) <= _ROUNDING for one, two in numbers)
        return came and one_day and counted and alike


@dataclass(frozen=True, slots=True, kw_only=True)
class Lesson:
    """What a test piece taught.

    Attributes
    ----------
    beliefs : Beliefs
        For :func:`heatmap.sear.plan_sear` of the piece that counts.
    effective_conductance_w_m2k : float
        Between grate and outer face, mean over the face, after the test.
    spread_left : float
        Spread of the forecast after the test over that before, what is the piece's own left out; 0 to 1.
    determined : bool
        Whether the test piece settles the seconds of the next.
    unexplained_c : float
        How far the peak lay above what was expected, or below it [°C], where nothing that is not known explains it;
        else 0.
    outcome : {"under", "over"} or None
        What was said of it where no peak was.
    """

    beliefs: Beliefs
    effective_conductance_w_m2k: float
    spread_left: float
    determined: bool
    unexplained_c: float = 0.0
    outcome: Outcome | None = None


def learn_from_test(
    food: Food,
    rails: Rails,
    *,
    tested_seconds: tuple[float, ...],
    peak_c: float,
    outcome: Outcome | None = None,
    sides: str = "AABB",
    beliefs: Beliefs | None = None,
) -> Lesson:
    """Take in what came of a test piece: one area-averaged conductance, and what else all pieces share.

    Parameters
    ----------
    food, rails : Food, Rails
        The test piece and the rails it lay on; not those of the piece that counts.
    tested_seconds : tuple of float
        Length of each of its turns [s].
    peak_c : float
        Highest centre measured in its rest [°C]; with an outcome the one that was wanted.
    outcome : {"under", "right", "over"}, optional
        What was said of it, held against that peak, where none was measured.
    sides : str
        ``"AABB"`` or ``"ABAB"``.
    beliefs : Beliefs, optional
        What earlier test pieces taught.

    Returns
    -------
    Lesson
        New beliefs and whether they settle the matter.

    Raises
    ------
    InputError
        For seconds not above zero, a peak that is not above the start, and one that such a piece cannot reach.

    Notes
    -----
    All unknowns of :data:`heatmap.sear.runs.UNKNOWNS` are normal in their deviates. The forecast is made linear
    about the best estimate and solved again there, an iterated Kalman update: K = C g/(gᵀ C g + σ²), with
    σ² the probe's variance and what is the test piece's own (its rail, thickness and start). What the
    pieces share, such as a rail error common to both, therefore cancels to the extent that it acts alike on
    both.

    "Right" is a peak as wanted, as far as an eye can tell. "Under" says only that the peak lies below: a normal
    forecast m ± s cut off at the wanted T has the mean m - s h and the variance s² (1 - a h - h²), with
    a = (T - m)/s and h = φ(a)/Φ(a) [2]_, and the unknowns follow as far as they move the peak. So the peak expected
    of the same seconds never rises after "under", nor falls after "over", and lies on the side that was seen.

    References
    ----------
    .. [1] B. M. Bell and F. W. Cathey, "The iterated Kalman filter update as a Gauss-Newton method", *IEEE
       Transactions on Automatic Control* 38 (1993), 294-297.
    .. [2] N. L. Johnson, S. Kotz, N. Balakrishnan, Continuous Univariate Distributions, vol. 1 (1994), section 13.10,
       from memory.
    """
    check_test_piece(tested_seconds, peak_c, start_c=food.start_centre_c, rail_c=rails.rail_c, units=food.units)
    known = beliefs or Beliefs()
    linear = _forecast(food, rails, known, tested_seconds, sides, PROBE_SD_C if outcome is None else WORD_SD_C)
    side = {"under": 1.0, "over": -1.0}.get(outcome or "", 0.0)
    expected, slopes, noise = linear(np.zeros(len(known.mean)))
    first_off = (peak_c - expected) / _spread(slopes, noise)
    if abs(first_off) > IMPOSSIBLE and side * first_off <= 0.0:
        raise _impossible(food, tested_seconds, peak_c, expected, _spread(slopes, noise))
    unexplained_c = peak_c - expected if not side and abs(first_off) > UNEXPLAINED else 0.0
    moved, share = _moved(peak_c - expected, slopes, noise, side)
    expected, slopes, noise = linear(moved)  # about the best estimate, and solved again there
    moved, share = _moved(peak_c - expected + float(slopes @ moved), slopes, noise, side)
    if side:
        for _ in range(_SEEN_STEPS):  # the cook saw it: the same seconds do not do
            expected, slopes, noise = linear(moved)
            if side * (expected - peak_c) <= 0.0:
                break
            moved = moved - slopes * (expected - peak_c + side * _SEEN_C) / max(float(slopes @ slopes), 1e-9)
    known_part = share * np.outer(slopes, slopes) / _spread(slopes, noise) ** 2
    left = float(np.sqrt(max(1.0 - np.trace(known_part), 0.0)))
    covariance = known.directions @ (np.eye(len(moved)) - known_part) @ known.directions.T
    learned = Beliefs(mean=known.mean + known.directions @ moved, covariance=0.5 * (covariance + covariance.T))
    return Lesson(
        beliefs=learned,
        effective_conductance_w_m2k=effective_conductance(rails, learned),
        spread_left=left,
        determined=left <= LITTLE and not unexplained_c,
        unexplained_c=unexplained_c,
        outcome=outcome if side else None,
    )


def _spread(slopes: FloatArray, noise: float) -> float:
    return float(np.sqrt(slopes @ slopes + noise**2))


def _moved(off_c: float, slopes: FloatArray, noise: float, side: float) -> tuple[FloatArray, float]:
    """Return where a peak so far off moves the unknowns, and which share it takes off the variance along the slopes.

    `side` is 0 for a peak that was seen, 1 where it only lies below, -1 above.
    """
    spread = _spread(slopes, noise)
    if not side:
        return slopes * off_c / spread**2, 1.0
    off = side * off_c / spread
    hazard = math.exp(-0.5 * off**2) / math.sqrt(2.0 * math.pi) / (0.5 * math.erfc(-off / math.sqrt(2.0)))
    return -side * hazard / spread * slopes, min(max(hazard * (off + hazard), 0.0), 1.0)


def _forecast(
    food: Food, rails: Rails, known: Beliefs, tested_seconds: tuple[float, ...], sides: str, seen_sd_c: float
) -> Callable[[FloatArray], tuple[float, FloatArray, float]]:
    """Return what forecasts the peak that is seen, about any point along the directions of what is believed."""
    faces, usual, spread = sides_of(len(tested_seconds), sides), as_believed(known), one_std(food, rails, known)
    around = np.concatenate([np.zeros((1, len(usual))), spread, -spread])

    def linear(moved: FloatArray) -> tuple[float, FloatArray, float]:
        """Return the peak at a point, its slope along each direction, and the deviation of what is not shared."""
        here = usual + np.append(moved, np.zeros(3)) @ spread
        peak, *moved_peaks = run(food, rails, here + around, tested_seconds, faces).peak_centre_c
        up, down = np.split(np.array(moved_peaks), 2)
        slopes, own = np.split(0.5 * (up - down), [len(moved)])
        return float(peak), slopes, float(np.sqrt(seen_sd_c**2 + own @ own))

    return linear


def check_test_piece(
    seconds: tuple[float, ...], peak_c: float | None, *, start_c: float | None, rail_c: float | None, units: Units
) -> None:
    """Refuse turns that cannot have been, and a peak no piece has had, as far as its start and its rails are known.

    Raises
    ------
    InputError
        One line: what, and what is allowed.
    """
    if not seconds:
        raise InputError("no seconds were given; give one number for every turn, such as 60,60,60,60")
    for turn, value in enumerate(seconds, start=1):
        if not SHORTEST_S <= value <= LONGEST_S:
            raise InputError(f"turn {turn} lasts {value:g} s; it must be from {SHORTEST_S:g} to {LONGEST_S:g} s")
    if peak_c is None:
        return
    if rail_c is not None and peak_c >= rail_c:
        peak, rail = (quantity_text(celsius, "temperature", units) for celsius in (peak_c, rail_c))
        raise InputError(
            f"the peak of the test piece is {peak}, as hot as the rails under it, {rail}: was that a rail?"
        )
    check_limits("the peak of the test piece", peak_c, units, start_c=start_c)


def _impossible(
    food: Food, seconds: tuple[float, ...], peak_c: float, expected_c: float, spread_c: float
) -> InputError:
    """Return what is said to a peak that no such piece comes near, whatever is not known of it."""
    display = Display(food.units)
    low, high = (display.temperature(expected_c + sign * REACH * spread_c) for sign in (-1.0, 1.0))
    turns = ",".join(f"{one:g}" for one in seconds)
    return InputError(
        f"a test piece cannot have peaked at {display.temperature_text(peak_c)} after turns of {turns} s: about "
        f"{display.temperature_text(expected_c)} is expected ({low:.0f} to {high:.0f}); check the probe, the seconds, "
        "the start and the thickness"
    )
