"""The places found for the food, as outlines to draw on the map."""

from __future__ import annotations

from typing import TYPE_CHECKING

from heatmap.pictures.grate import Outline

if TYPE_CHECKING:
    from heatmap.decide.placement import Place, Placement


def outlines_of(placement: Placement) -> list[Outline]:
    """Return the outlines worth drawing: of single places the best and those as good, else one for each piece or turn.

    Each is labelled with its number, or with its turn.
    """
    food, several = placement.wanted.footprint, placement.wanted.turns > 1
    return [
        Outline(
            x_mm=place.x_mm,
            y_mm=place.y_mm,
            length_mm=food.length_mm,
            width_mm=food.width_mm,
            headings=place.headings,
            shape=food.shape,
            label=str(place.turn if several else number),
        )
        for number, place in enumerate(_drawn(placement), 1)
    ]


def _drawn(placement: Placement) -> list[Place]:
    if placement.wanted.pieces > 1 or placement.wanted.turns > 1:
        return [place for place in placement.places if place.fresh]
    return list(placement.places[: placement.equally_good])
