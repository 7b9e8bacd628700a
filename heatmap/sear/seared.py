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
    looked : str
        A word for its doneness.
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
    looked: str = ""
    note: str = ""
    key: str = ""

    @property
    def teaches(self) -> bool:
        """Whether anything came of it that is known."""
        return self.peak_c is not None or self.outcome is not None or bool(self.looked)
