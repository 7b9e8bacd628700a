"""What a report can hold besides the map: plain values, filled in by whoever has them; what is missing is left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from heatmap.sear import Food, Rails, SearPlan

if TYPE_CHECKING:
    from heatmap.pictures import SearLine


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SearSection:
    """The sear: its plan, what it was made for, and lines of seconds against rail temperature for the picture.

    Attributes
    ----------
    plan : SearPlan
    food : Food
    rails : Rails
    lines : sequence of SearLine
        May be empty: then there is no picture.
    """

    plan: SearPlan
    food: Food
    rails: Rails
    lines: Sequence[SearLine] = ()
