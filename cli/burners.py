"""`gratemap burners`: which knob to which mark, what to expect of it, and how long to wait."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from cli import console, loading
from cli.exit_codes import ExitCode
from cli.options import (
    GRILL_FILE,
    READINGS_FILE,
    AsJson,
    Check,
    GrillFile,
    ReadingsFile,
    RoundNumber,
    SkipBad,
)
from cli.output import Force, Output, picture_of, save_picture

if TYPE_CHECKING:
    from heatmap.assessment import Assessment


def command(
    why: Annotated[bool, typer.Option("--why", help="Also say what has been learned of each burner.")] = False,
    grill: GrillFile = GRILL_FILE,
    readings: ReadingsFile = READINGS_FILE,
    round_number: RoundNumber = None,
    picture: Annotated[Output | None, picture_of("the expected map")] = None,
    force: Force = False,
    as_json: AsJson = False,
    skip_bad: SkipBad = False,
    check: Check = False,
) -> None:
    """Say which knob to turn to which mark.

    It tells what to expect and how long to wait; without knobs, what else to do.

    \b
    Example: gratemap burners --why
    """
    assessment = loading.assessment(grill, readings, round_number, skip_bad=skip_bad)
    if picture is not None:
        from heatmap.pictures import expected_map

        save_picture(expected_map(assessment), picture)
    if as_json:
        from heatmap.report.documents import burners_document

        console.answer_json(burners_document(assessment))
    else:
        show_advice(assessment, why=why)
    if check:
        from heatmap.decisions.burner_advice import advise

        if not advise(assessment).worth_it:
            raise typer.Exit(ExitCode.ANSWER_IS_NO)


def show_advice(assessment: Assessment, *, why: bool = False) -> None:
    """Print the advice."""
    from heatmap.words.burners import advice_lines

    for line in advice_lines(assessment):
        console.answer(line)
    if why:
        from heatmap.decisions.burner_advice import advise
        from heatmap.units import Display
        from heatmap.words.burners import learned_line

        for one in advise(assessment).learned:
            console.answer(f"  {learned_line(one, Display(assessment.grill.units))}")
