"""What the cook says of the food, shared by `place`, `sear`, `ready` and `report`."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from cli.options import flag, option
from heatmap.errors import GrillError, InputError

if TYPE_CHECKING:
    from heatmap.grill.grill import Grill

#: What finds the best heading, instead of a clock.
ANY_HEADING = "any"


@dataclass(frozen=True, slots=True, kw_only=True)
class FoodSaid:
    """What a command was told of the food, in the units of the grill file; what it was not told is as in that file.

    Each field is an option (:func:`cli.options.with_options`), and most are a key of the file's table [food].
    """

    target: float | None = option("TEMPERATURE", "Peak of its centre after the rest; else the grill file's.")
    thickness: float | None = option("LENGTH", "Its thickness; else the grill file's, 1.25 in or 32 mm.")
    start: float | None = option("TEMPERATURE", "Its centre before the sear; else the grill file's, 110 °F or 43 °C.")
    cooker: str | None = option(
        "TEMPERATURE", "Low oven it comes out of, or none; else the grill file's, 275 °F or 135 °C."
    )
    turns: int | None = option(
        "N", "How often it is set down, on fresh rails; else the grill file's, or 4 (in place: 1)."
    )
    flip_every_turn: bool = flag("Other side down at every turn, not one side and then the other.")
    meat: str | None = option("KIND", '"whole cut", "ground", or "tenderised or injected".')
    size: str = option(
        "LENGTHxWIDTH", "Its size, length along the heading; it then counts, not the zone. Else the grill file's.", ""
    )
    heading: str = option(
        "CLOCK[,CLOCK]",
        "Where it points, by the clock, 12 straight away from you; two for crossed marks, any for the best; "
        "else the grill file's, or 2,10.",
        "",
    )

    def over(self, grill: Grill) -> Grill:
        """Return the grill with what was said in the place of what its file has of the food.

        Raises
        ------
        InputError
            Naming the option, what was said and what is allowed.
        """
        from heatmap.decisions.placement import read_headings, read_size
        from heatmap.grill.grill import Food
        from heatmap.grill.schema import keys_of, told

        cooker: Any = self.cooker
        with contextlib.suppress(TypeError, ValueError):
            cooker = float(cooker)
        said = {
            "size": list(read_size(self.size)) if self.size else None,
            "turns": self.turns,
            "thickness": self.thickness,
            "start": self.start,
            "target": self.target,
            "cooker": cooker,
            "meat": self.meat,
            "sides": "ABAB" if self.flip_every_turn else None,
        }
        keys = keys_of(Food)
        food: dict[str, Any] = {}
        try:
            for name, value in said.items():
                if value is not None:
                    food[keys[name].attribute] = keys[name].read(f"--{name}", value, grill.units)
        except GrillError as fault:
            raise InputError(told(fault, grill.units)) from None
        if self.heading:
            any_will_do = self.heading.strip().casefold() == ANY_HEADING
            food["headings"] = () if any_will_do else read_headings(self.heading)
        return replace(grill, food=replace(grill.food, **food))
