"""Seconds a turn against rail temperature, for the picture of `sear` and of the report."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from heatmap.pictures import SearLine
    from heatmap.sear import Beliefs, Food, Rails

#: So far on either side of the rails as they are, °C, and at so many points, the line is drawn.
REACH_C, POINTS = 45.0, 5
#: Beside the cook's own piece one thinner and one thicker by this is drawn, mm: an eighth of an inch.
THICKER_MM = 3.175


def sear_curves(
    food: Food, rails: Rails, turns: int, sides: str, target_centre_c: float, beliefs: Beliefs | None = None
) -> list[SearLine]:
    """Compute seconds against rail temperature, for this piece and for an eighth of an inch less and more.

    `beliefs` is what a test piece has taught.
    """
    import numpy as np

    from heatmap.errors import InputError
    from heatmap.pictures import SearLine
    from heatmap.sear import seconds_over_rails
    from heatmap.sear.runs import sides_of
    from heatmap.units import Display

    rail_c = rails.rail_c + np.linspace(-REACH_C, REACH_C, POINTS)
    thickness_mm = []
    for thicker_mm in (-THICKER_MM, 0.0, THICKER_MM):
        with suppress(InputError):  # too thin or too thick for a sear
            thickness_mm.append(replace(food, thickness_mm=food.thickness_mm + thicker_mm).thickness_mm)
    seconds = seconds_over_rails(
        food,
        rails,
        rail_c,
        thickness_mm,
        target_centre_c=target_centre_c,
        faces=sides_of(turns, sides),
        beliefs=beliefs,
    )
    text = Display(food.units).length_text
    return [
        SearLine(label=text(each), rail_c=rail_c, seconds=line, main=each == food.thickness_mm)
        for each, line in zip(thickness_mm, seconds, strict=True)
    ]
