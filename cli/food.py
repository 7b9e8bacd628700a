"""What the cook says of the food, shared by `place`, `sear`, `ready` and `report`."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Annotated

import typer

from heatmap.errors import InputError
from heatmap.grill.quantities import inside_value

if TYPE_CHECKING:
    from heatmap.decisions.placement import Wanted
    from heatmap.grill.grill import Grill
    from heatmap.sear import Food

#: For crossed marks on both sides (common practice, no source).
USUAL_TURNS = 4
#: What finds the best heading, instead of a clock.
ANY_HEADING = "any"
#: No side of a piece of food is shorter or longer than this, in the unit of the grill file; a size outside was meant in
#: another unit. Assumed.
SIDES = {"us": (1.0, 40.0), "si": (25.0, 1000.0)}
#: A 1.25 in piece from a 275 °F cooker, at about 110 °F inside (common practice, no source).
_USUAL = {"us": (1.25, 110.0, 275.0), "si": (32.0, 43.0, 135.0)}


@dataclass(frozen=True, slots=True, kw_only=True)
class FoodSaid:
    """What a command was told of the food, in the units of the grill file; what it was not told is as in that file.

    Each field is an option (:func:`cli.options.with_options`).
    """

    target: Annotated[
        float | None,
        typer.Option(metavar="TEMPERATURE", help="Peak of its centre after the rest; else the grill file's."),
    ] = None
    thickness: Annotated[
        float | None, typer.Option(metavar="LENGTH", help="Its thickness; else the grill file's, 1.25 in or 32 mm.")
    ] = None
    start: Annotated[
        float | None,
        typer.Option(metavar="TEMPERATURE", help="Its centre before the sear; else the grill file's, 110 °F or 43 °C."),
    ] = None
    cooker: Annotated[
        str | None,
        typer.Option(metavar="TEMPERATURE", help="Low oven it comes out of, or none; if not given, 275 °F or 135 °C."),
    ] = None
    turns: Annotated[
        int | None,
        typer.Option(
            metavar="N", help="How often it is set down, on fresh rails; else the grill file's, or 4 (in place: 1)."
        ),
    ] = None
    flip_every_turn: Annotated[
        bool, typer.Option("--flip-every-turn", help="Other side down at every turn, not one side and then the other.")
    ] = False
    meat: Annotated[str, typer.Option(metavar="KIND", help='"whole cut", "ground", or "tenderised or injected".')] = (
        "whole cut"
    )
    size: Annotated[
        str,
        typer.Option(
            metavar="LENGTHxWIDTH",
            help="Its size, length along the heading; it then counts, not the zone. Else the grill file's.",
        ),
    ] = ""
    heading: Annotated[
        str,
        typer.Option(
            metavar="CLOCK[,CLOCK]",
            help="Where it points, by the clock, 12 straight away from you; two for crossed marks, any for the best; "
            "else the grill file's, or 2,10.",
        ),
    ] = ""

    @property
    def sides(self) -> str:
        """Which side is down at which turn, as the sear counts them."""
        return "ABAB" if self.flip_every_turn else "AABB"

    def target_c(self, grill: Grill) -> float | None:
        """Return the peak wanted, °C; it is never assumed."""
        return grill.food.target_c if self.target is None else grill.temperature(self.target)

    def turns_on(self, grill: Grill) -> int:
        """Return how often the food is set down; as is usual for crossed marks where nobody said."""
        return (grill.food.turns or USUAL_TURNS) if self.turns is None else self.turns

    def piece(self, grill: Grill) -> Food:
        """Describe the piece; as is usual where nobody said."""
        from heatmap.sear import KINDS, Food

        usual_thickness, usual_start, usual_cooker = _USUAL[grill.units]
        if self.meat not in KINDS:
            raise InputError(f'--meat is "{self.meat}"; it must be one of: {", ".join(KINDS)}')
        told, units = grill.food, grill.units
        thickness_mm = told.thickness_mm if self.thickness is None else inside_value(self.thickness, "length", units)
        start_c = told.start_c if self.start is None else grill.temperature(self.start)
        return Food(
            thickness_mm=inside_value(usual_thickness, "length", units) if thickness_mm is None else thickness_mm,
            start_centre_c=grill.temperature(usual_start) if start_c is None else start_c,
            cooker_c=_cooker_c(grill, self.cooker, usual_cooker),
            kind=self.meat,
            units=units,
        )

    def that_counts(self, grill: Grill) -> Wanted | None:
        """Return the outline where its size or its heading was said; else None, and the whole zone counts."""
        told = self.size or self.heading or grill.food.size_mm or grill.food.headings
        return self.outline(grill) if told else None

    def outline(self, grill: Grill) -> Wanted:
        """Describe the outline the food leaves on the grate."""
        from heatmap.decisions.placement import Footprint, Wanted

        wanted = Wanted.usual(grill.units)
        if size_mm := _sides_mm(grill, self.size) if self.size else grill.food.size_mm:
            wanted = replace(wanted, footprint=Footprint(length_mm=size_mm[0], width_mm=size_mm[1]))
        headings = _headings(self.heading) if self.heading else grill.food.headings
        return wanted if headings is None else replace(wanted, headings=headings)


#: All is as the grill file has it, or as is usual.
NOTHING_SAID = FoodSaid()


def _cooker_c(grill: Grill, cooker: str | None, usual: float) -> float | None:
    if cooker is not None and cooker.strip().lower() == "none":
        return None
    try:
        return grill.temperature(usual if cooker is None else float(cooker))
    except ValueError:
        raise InputError(f'--cooker is "{cooker}"; it must be a temperature, or none') from None


def _headings(text: str) -> tuple[float, ...]:
    from heatmap.decisions.placement import read_headings

    return () if text.strip().casefold() == ANY_HEADING else read_headings(text)


def _sides_mm(grill: Grill, size: str) -> tuple[float, float]:
    """Read a size in the unit of the grill file, and refuse one that must have been meant in another."""
    from heatmap.decisions.placement import read_size

    length, width = read_size(size)
    least, most = SIDES[grill.units]
    if not (least <= length <= most and least <= width <= most):
        unit = grill.display.lengths
        raise InputError(
            f"--size {size} is {length:g} x {width:g} {unit}, the unit of the grill file; each side must be {least:g} "
            f"to {most:g} {unit}, such as --size {'7.5x5' if grill.units == 'us' else '190x125'}"
        )
    return inside_value(length, "length", grill.units), inside_value(width, "length", grill.units)
