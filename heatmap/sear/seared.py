"""A piece that was seared, and what came of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from heatmap.sear.lesson import Outcome


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

    def same_as(self, other: SearedPiece) -> bool:
        """Whether both tell of one piece: done alike, come out alike, on one day, as far as what is written tells.

        What one of them does not say is no difference. Neither is rail nor place: told once more, a piece without
        them is given those of now.
        """
        numbers = [(self.start_c, other.start_c), (self.thickness_mm, other.thickness_mm)]
        numbers += list(zip(self.turns_s, other.turns_s, strict=False))
        if self.outcome is not None:  # held against the centre that was wanted
            numbers.append((self.wanted_c, other.wanted_c))
        came = self.outcome == other.outcome and _alike(self.peak_c, other.peak_c, 0.0)
        when = (self.taken_at, other.taken_at)
        one_day = None in when or len({at.astimezone().date() for at in when if at is not None}) == 1
        counted = len(self.turns_s) == len(other.turns_s)
        return came and one_day and counted and all(_alike(one, another) for one, another in numbers)


#: Rows once told two digits after the point [°F or °C, in or mm]; hundredths of an inch are the coarsest.
_ROUNDING = 0.15


def _alike(one: float | None, other: float | None, unsaid: float | None = None) -> bool:
    """Tell whether two numbers are one up to rounding; where either was not said, unless `unsaid` stands for it."""
    if one is None or other is None:
        return unsaid is None or one is other
    return abs(one - other) <= _ROUNDING
