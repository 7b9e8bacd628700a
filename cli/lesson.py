"""What the cook says of a test piece, and the sear that follows from it: the same for every command."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cli import console
from cli.food import USUAL_TURNS, food_from
from heatmap.errors import HeatmapError, InputError

if TYPE_CHECKING:
    from heatmap.decisions.decision import Sear
    from heatmap.grill.grill import Grill
    from heatmap.sear import Food, Lesson, Rails, SearedPiece

#: So many of the newest pieces are learned from. Assumed: more of one day tell the same again.
MOST_PIECES = 4

Tested = Annotated[
    str | None,
    typer.Option("--tested", metavar="S[,S…]", help="Seconds of each turn of a test piece: 60, or 60,60,70,70."),
]
Outcome = Annotated[
    str | None,
    typer.Option("--outcome", metavar="under|right|over", help="Without a probe: how the test piece came out."),
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

    tested: str | None = None
    peak: float | None = None
    doneness: str | None = None
    outcome: str | None = None
    rail: float | None = None
    thickness: float | None = None
    start: float | None = None

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
        outcome: str | None = None,
    ) -> TestPiece:
        """Take the options of a command; what was not said of the test piece is as for the piece that counts."""
        return cls(
            tested=tested,
            peak=peak,
            doneness=tested_doneness,
            outcome=outcome,
            rail=tested_rail,
            thickness=thickness if tested_thickness is None else tested_thickness,
            start=start if tested_start is None else tested_start,
        )

    def needs_target(self) -> None:
        """Refuse a test piece where no target was asked, so that it would go unheard."""
        if any(one is not None for one in (self.tested, self.peak, self.doneness, self.outcome)):
            raise InputError("say which peak of the centre you want as well, for example: --target 137")

    def lesson(
        self,
        grill: Grill,
        rails: Rails,
        cooker: str | None,
        meat: str,
        sides: str,
        *,
        turns: int = USUAL_TURNS,
        wanted_c: float | None = None,
        kept: Sequence[SearedPiece] = (),
    ) -> Lesson | None:
        """Return what the test piece and those kept teach, each once; None where there was none.

        Raises
        ------
        InputError
            When only half of what is needed was said.
        """
        piece = self.seared(grill, turns, wanted_c)
        lesson = None if piece is None else learned(grill, rails, piece, cooker, meat, sides, wanted_c)
        for one in kept:
            if piece is not None and one.same_as(piece):
                continue
            try:
                lesson = learned(grill, rails, one, cooker, meat, sides, wanted_c, lesson)
            except InputError as error:  # nobody mends a file at a hot grill
                console.talk(f"A row of the file of sears is left out: {error}.")
        return lesson

    def seared(self, grill: Grill, turns: int = USUAL_TURNS, wanted_c: float | None = None) -> SearedPiece | None:
        """Return the test piece as it was said, or None where there was none.

        Raises
        ------
        InputError
            When only half of what is needed was said.
        """
        from heatmap.sear import OUTCOMES, SearedPiece, peak_from_doneness

        said = [one for one in (self.peak, self.doneness, self.outcome) if one is not None]
        if self.tested is None:
            if said:
                raise InputError("say how long the test piece was on as well, for example: --tested 60,60,60,60")
            return None
        if len(said) != 1:
            raise InputError(
                "say what came of the test piece: --peak with a temperature, or --outcome under|right|over"
            )
        if self.outcome is not None and self.outcome.casefold() not in OUTCOMES:
            raise InputError(f'--outcome is "{self.outcome}"; it must be under, right or over')
        if self.doneness is not None:
            peak_from_doneness(self.doneness)  # refuses a word that is none
        try:
            seconds = tuple(float(part) for part in self.tested.split(","))
        except ValueError:
            raise InputError(f'--tested is "{self.tested}"; write seconds, such as 60, or 60,60,70,70') from None
        food = food_from(grill, self.thickness, self.start, None, "whole cut")
        return SearedPiece(
            turns_s=seconds * turns if len(seconds) == 1 else seconds,
            start_c=food.start_centre_c,
            thickness_mm=food.thickness_mm,
            peak_c=None if self.peak is None else grill.temperature(self.peak),
            outcome=next((one for one in OUTCOMES if one == (self.outcome or "").casefold()), None),
            looked=self.doneness or "",
            rail_c=None if self.rail is None else grill.temperature(self.rail),
            wanted_c=wanted_c,
        )


def learned(
    grill: Grill,
    rails: Rails,
    piece: SearedPiece,
    cooker: str | None,
    meat: str,
    sides: str,
    wanted_c: float | None,
    before: Lesson | None = None,
) -> Lesson | None:
    """Return what a piece teaches after a lesson before it; that lesson where nothing came of the piece.

    A piece whose rail was not said lay on rails as they are now.

    Raises
    ------
    InputError
        When it cannot be as it was said.
    """
    from heatmap.grill.quantities import shown_value
    from heatmap.sear import learn_from_outcome, learn_from_test, peak_from_doneness

    thickness, start = (
        None if value is None else shown_value(value, kind, grill.units)  # type: ignore[arg-type]
        for value, kind in ((piece.thickness_mm, "length"), (piece.start_c, "temperature"))
    )
    food = food_from(grill, thickness, start, cooker, meat)
    under = rails if piece.rail_c is None else replace(rails, rail_c=piece.rail_c)
    known = {
        "tested_seconds": piece.turns_s,
        "sides": sides,
        "beliefs": None if before is None else before.beliefs,
    }
    wanted = piece.wanted_c if piece.wanted_c is not None else wanted_c
    if piece.peak_c is not None:
        return learn_from_test(food, under, peak_c=piece.peak_c, **known)  # type: ignore[arg-type]
    if piece.looked:
        peak_c, sd_c = peak_from_doneness(piece.looked)
        return learn_from_test(food, under, peak_c=peak_c, peak_sd_c=sd_c, **known)  # type: ignore[arg-type]
    if piece.outcome and wanted is not None:
        return learn_from_outcome(food, under, outcome=piece.outcome, wanted_c=wanted, **known)  # type: ignore[arg-type]
    return before


def asked_sear(
    grill: Grill,
    rails: Rails,
    readings: Path,
    piece: TestPiece,
    food: Food,
    cooker: str | None,
    *,
    turns: int,
    sides: str,
    target_c: float,
) -> tuple[Sear, Lesson | None]:
    """Return the sear that is asked for, knowing what the test piece teaches or those kept do, and that lesson."""
    from heatmap.decisions.decision import Sear

    kept = kept_pieces(readings, grill, today=piece.tested is not None)
    lesson = piece.lesson(grill, rails, cooker, food.kind, sides, turns=turns, wanted_c=target_c, kept=kept)
    beliefs = None if lesson is None else lesson.beliefs
    return Sear(food=food, target_centre_c=target_c, turns=turns, sides=sides, beliefs=beliefs), lesson


def sears_of(readings: Path, grill: Grill) -> tuple[SearedPiece, ...]:
    """Return every piece in the file of sears beside the readings."""
    from heatmap.readings.sears import read_sears, sears_beside

    return () if str(readings) == "-" else read_sears(sears_beside(readings), grill)


def kept_pieces(readings: Path, grill: Grill, *, today: bool = False) -> tuple[SearedPiece, ...]:
    """Return the pieces in the file of sears that something came of, each once: of its newest day, or of today."""
    pieces: list[SearedPiece] = []
    for one in sears_of(readings, grill):
        if one.teaches and not any(one.same_as(other) for other in pieces):
            pieces.append(one)
    days = [one.taken_at.astimezone().date() if one.taken_at else None for one in pieces]
    asked = datetime.now().astimezone().date() if today or not days else days[-1]
    return tuple(one for one, day in zip(pieces, days, strict=True) if day == asked)[-MOST_PIECES:]


def keep_piece(readings: Path, grill: Grill, piece: SearedPiece) -> None:
    """Write a test piece down beside the readings, once, and say so."""
    from heatmap.readings.sears import append_sear, read_sears, sears_beside

    if str(readings) == "-":
        return
    path = sears_beside(readings)
    try:
        if any(one.same_as(piece) for one in read_sears(path, grill)):
            return
        append_sear(path, grill, piece)
    except HeatmapError as error:
        console.talk(f"Not kept: {error}")
        return
    console.talk(f"Kept in {path}: nobody needs to type it again.")
