"""`gratemap explain`: how one reading became a rail temperature, step by step."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from cli import console
from cli.loading import Files
from cli.options import RoundNumber
from heatmap.errors import ReadingError

if TYPE_CHECKING:
    from heatmap.assessment import AssessedSpot, Assessment


def command(
    position: Annotated[str, typer.Argument(metavar="POSITION", help="A position such as B3, or the id of a reading.")],
    files: Files,
    round_number: RoundNumber = None,
) -> None:
    """Show how one reading became a rail temperature, step by step.

    \b
    Example: gratemap explain B3
    """
    from heatmap.words.explain import explained_lines, not_shot_lines

    assessment = files.assessment(round_number)
    lines = [line for assessed in _named(assessment, position) for line in explained_lines(assessment, assessed)]
    console.answer(*(lines or not_shot_lines(assessment, position.strip())))


def _named(assessment: Assessment, position: str) -> list[AssessedSpot]:
    wanted = position.strip()
    found = [
        spot
        for spot in assessment.spots
        if spot.spot.reading.position.casefold() == wanted.casefold() or str(spot.spot.reading.id) == wanted
    ]
    if not found and wanted.isdigit():
        ids = [spot.spot.reading.id for spot in assessment.spots]
        raise ReadingError(
            f"round {assessment.round.number} has no reading {wanted}; "
            f"its readings are {min(ids)} to {max(ids)}, and a position such as B3 can be named too"
        )
    return found
