"""`gratemap explain`: how one reading became a rail temperature, step by step."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from cli import console, options
from cli.loading import Files
from heatmap.errors import ReadingError

if TYPE_CHECKING:
    from heatmap.assessment import AssessedSpot, Assessment


def command(
    position: Annotated[str, typer.Argument(metavar="POSITION", help="A position such as B3, or the id of a reading.")],
    files: Files,
    round_number: int | None = options.round_number(),
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
    wanted, readings = position.strip().casefold(), [one.spot.reading for one in assessment.spots]
    names = [(one.position.casefold(), str(one.id)) for one in readings]
    found = [spot for spot, its_names in zip(assessment.spots, names, strict=True) if wanted in its_names]
    if not found and wanted.isdigit():
        ids = [one.id for one in readings]
        raise ReadingError(
            f"round {assessment.round.number} has no reading {wanted}; "
            f"its readings are {min(ids)} to {max(ids)}, and a position such as B3 can be named too"
        )
    return found
