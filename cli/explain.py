"""`gratemap explain`: how one reading became a rail temperature, step by step."""

from typing import Annotated

import typer

from cli import console, options
from cli.loading import Files
from heatmap.errors import ReadingError


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
    wanted = position.strip().casefold()
    shots = [(one, one.spot.reading) for one in assessment.spots]
    named = [one for one, reading in shots if wanted in (reading.position.casefold(), str(reading.id))]
    if not named and wanted.isdigit():
        ids = [reading.id for _, reading in shots]
        raise ReadingError(
            f"round {assessment.round.number} has no reading {wanted}; "
            f"its readings are {min(ids)} to {max(ids)}, and a position such as B3 can be named too"
        )
    lines = [line for one in named for line in explained_lines(assessment, one)]
    console.answer(*(lines or not_shot_lines(assessment, position.strip())))
