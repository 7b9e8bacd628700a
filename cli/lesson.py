"""What the cook says of a test piece, shared by `sear`, `ready` and `report`."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Annotated

import typer

from cli.food import food_from
from heatmap.errors import InputError

if TYPE_CHECKING:
    from heatmap.grill.grill import Grill
    from heatmap.sear import Lesson, Rails

Tested = Annotated[
    str | None,
    typer.Option("--tested", metavar="S,S,…", help="Seconds of each turn of a test piece, such as 60,60,60,60."),
]
Peak = Annotated[
    float | None,
    typer.Option("--peak", metavar="TEMPERATURE", help="Highest centre measured in the test piece."),
]
TestedDoneness = Annotated[
    str | None,
    typer.Option("--tested-doneness", metavar="WORD", help="Without a probe, how it looks inside: rare to well."),
]
TestedRail = Annotated[
    float | None,
    typer.Option("--tested-rail", metavar="TEMPERATURE", help="True rail under the test piece, if another."),
]
TestedThickness = Annotated[
    float | None,
    typer.Option("--tested-thickness", metavar="LENGTH", help="Thickness of the test piece, if another."),
]
TestedStart = Annotated[
    float | None,
    typer.Option("--tested-start", metavar="TEMPERATURE", help="Its centre before its sear, if another."),
]


@dataclass(frozen=True, slots=True, kw_only=True)
class TestPiece:
    """What was said of a test piece: lengths and temperatures in the units of the grill file."""

    tested: str | None
    peak: float | None
    doneness: str | None
    rail: float | None
    thickness: float | None
    start: float | None

    @classmethod
    def like(
        cls,
        thickness: float | None,
        start: float | None,
        tested: str | None,
        peak: float | None,
        tested_doneness: str | None,
        tested_rail: float | None,
        tested_thickness: float | None,
        tested_start: float | None,
    ) -> TestPiece:
        """Take the options of a command; what was not said of the test piece is as for the piece that counts."""
        return cls(
            tested=tested,
            peak=peak,
            doneness=tested_doneness,
            rail=tested_rail,
            thickness=thickness if tested_thickness is None else tested_thickness,
            start=start if tested_start is None else tested_start,
        )

    def needs_target(self) -> None:
        """Refuse a test piece where no target was asked, so that it would go unheard."""
        if self.tested is not None or self.peak is not None or self.doneness is not None:
            raise InputError("say which peak of the centre you want as well, for example: --target 137")

    def lesson(self, grill: Grill, rails: Rails, cooker: str | None, meat: str, sides: str) -> Lesson | None:
        """Return what the test piece teaches, or None where there was none.

        Raises
        ------
        InputError
            When only half of what is needed was said.
        """
        from heatmap.sear import learn_from_test, peak_from_doneness

        if self.tested is None:
            if self.peak is not None or self.doneness is not None:
                raise InputError("say how long the test piece was on as well, for example: --tested 60,60,60,60")
            return None
        try:
            seconds = tuple(float(part) for part in self.tested.split(","))
        except ValueError:
            raise InputError(
                f'--tested is "{self.tested}"; write the seconds of each turn, such as 60,60,60,60'
            ) from None
        if (self.peak is None) == (self.doneness is None):
            raise InputError(
                "say what came of the test piece: --peak with a temperature, or --tested-doneness with a word"
            )
        food = food_from(grill, self.thickness, self.start, cooker, meat)
        under = rails if self.rail is None else replace(rails, rail_c=grill.temperature(self.rail))
        if self.peak is not None:
            return learn_from_test(
                food, under, tested_seconds=seconds, peak_c=grill.temperature(self.peak), sides=sides
            )
        assert self.doneness is not None
        peak_c, sd_c = peak_from_doneness(self.doneness)
        return learn_from_test(food, under, tested_seconds=seconds, peak_c=peak_c, peak_sd_c=sd_c, sides=sides)
