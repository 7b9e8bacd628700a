"""What the cook says of a test piece, and the sear that follows from it: the same for every command."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from cli import console
from heatmap.errors import HeatmapError, InputError
from heatmap.grill.grill import Grill
from heatmap.readings.sears import append_sear, read_sears, sears_beside
from heatmap.sear import Food, Lesson, Rails, SearedPiece, learn_from_test
from heatmap.sear.lesson import Outcome
from heatmap.words.sear import KEPT_IN, LEFT_OUT

#: So many of the newest pieces are learned from. Assumed: more of one day tell the same again.
MOST_PIECES = 4


def test_piece(
    grill: Grill, rails: Rails, tested: str | None, peak: float | None, outcome: Outcome | None
) -> SearedPiece | None:
    """Return the test piece as it was said, seared on these rails, or None where there was none.

    Raises
    ------
    InputError
        When only half of what is needed was said.
    """
    if tested is None and peak is None and outcome is None:
        return None
    if tested is None:
        raise InputError("say how long the test piece was on as well, for example: --tested 60")
    if (peak is None) is (outcome is None):
        raise InputError("say what came of the test piece: --peak with a temperature, or --outcome under|right|over")
    try:
        seconds = tuple(float(part) for part in tested.split(","))
    except ValueError:
        raise InputError(f'--tested is "{tested}"; write seconds, such as 60, or 60,60,70,70') from None
    turns_s = seconds * (grill.piece.turns or 1) if len(seconds) == 1 else seconds
    peak_c = None if peak is None else grill.temperature(peak)
    return replace(piece_on(grill, rails, turns_s), peak_c=peak_c, outcome=outcome)


def piece_on(grill: Grill, rails: Rails, turns_s: tuple[float, ...]) -> SearedPiece:
    """Describe a piece that is seared now on these rails for so long; what came of it is not known yet."""
    return SearedPiece(taken_at=datetime.now(UTC), turns_s=turns_s).with_food(grill.piece, rails.rail_c)


def learned(grill: Grill, rails: Rails, piece: SearedPiece, before: Lesson | None = None) -> Lesson | None:
    """Return what a piece teaches after a lesson before it; that lesson where nothing came of the piece.

    What was not said of the piece is as for the food that is asked about; its rails are as they are now.

    Raises
    ------
    InputError
        When it cannot be as it was said.
    """
    own: dict[str, Any] = {"thickness_mm": piece.thickness_mm, "start_centre_c": piece.start_c}
    on = replace(Food.of(grill), **{name: value for name, value in own.items() if value is not None})
    under = rails if piece.rail_c is None else replace(rails, rail_c=piece.rail_c)
    wanted_c = grill.food.target_c if piece.wanted_c is None else piece.wanted_c
    outcome = piece.outcome if piece.peak_c is None else None
    peak_c = wanted_c if outcome else piece.peak_c
    if peak_c is None:
        return before
    sides, known = grill.piece.sides or "AABB", None if before is None else before.beliefs
    return learn_from_test(
        on, under, tested_seconds=piece.turns_s, peak_c=peak_c, outcome=outcome, sides=sides, beliefs=known
    )


def taught(grill: Grill, rails: Rails, readings: Path, piece: SearedPiece | None = None) -> Lesson | None:
    """Return the lesson of the test pieces that are kept and of the one that is told, where there are any."""
    lesson = None
    for one in pieces_of_the_day(readings, grill, piece):
        try:
            lesson = learned(grill, rails, one, lesson)
        except InputError as error:
            if one is piece:
                raise
            console.talk(LEFT_OUT.format(why=error))  # nobody mends a file at a hot grill
    return lesson


def sears_of(readings: Path, grill: Grill) -> tuple[SearedPiece, ...]:
    """Return every piece in the file of sears beside the readings."""
    return () if str(readings) == "-" else read_sears(sears_beside(readings), grill)


def pieces_of_the_day(readings: Path, grill: Grill, said: SearedPiece | None) -> list[SearedPiece]:
    """Return the pieces of one day that something came of, each once: the file of sears, then what is said now.

    The day is that of what is said, also where it stands in the file already; else the newest.
    """
    pieces: list[SearedPiece] = []
    for one in (*sears_of(readings, grill), *filter(None, [said])):
        if one.teaches and not any(one.same_as(other) for other in pieces):
            pieces.append(one)
    told = [one for one in pieces if said is not None and one.same_as(said)]
    return [one for one in pieces if one.day == (told or pieces)[-1].day][-MOST_PIECES:]


def keep_piece(readings: Path, grill: Grill, piece: SearedPiece) -> None:
    """Write a test piece down beside the readings, once, and say so."""
    path = sears_beside(readings)
    try:
        if str(readings) != "-" and not any(one.same_as(piece) for one in sears_of(readings, grill)):
            append_sear(path, grill, piece)
            console.talk(KEPT_IN.format(file=path))
    except HeatmapError as error:
        console.talk(f"Not kept: {error}")
