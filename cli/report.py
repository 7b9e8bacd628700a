"""`gratemap report`: everything on one page that needs nothing else."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from cli import console, options
from cli.food import FoodSaid
from cli.loading import Files, of_its_time
from cli.output import REPORT, Output, output_of
from heatmap.errors import MapError

if TYPE_CHECKING:
    from heatmap.assessment import Assessment
    from heatmap.verdict.comparison import Comparison

#: Rounds in the table of how evenness went.
MOST_ROUNDS = 12


def command(
    *,
    food: FoodSaid,
    output: Output | None = output_of(REPORT, "Where to write it.", usual="gratemap-report.html"),
    files: Files,
    round_number: int | None = options.round_number(),
    force: bool = options.force(),
) -> None:
    """Write everything on one HTML page.

    It needs no internet, opens on a phone and prints on two sheets.

    \b
    Example: gratemap report --target 137
    """
    from importlib.metadata import version

    from cli.lesson import sears_of
    from heatmap.decisions.placement import Wanted, find_places
    from heatmap.report.page import report_html
    from heatmap.verdict.history import history

    assessment = files.assessment(round_number, food=food)
    described = assessment.grill
    decision = files.decision(assessment)
    page = report_html(
        assessment,
        decision=decision,
        then=of_its_time(assessment, decision),
        comparison=_comparison(assessment),
        history=[
            line for line in history(described, assessment.rounds, MOST_ROUNDS, assessment) if line.share is not None
        ],
        places=find_places(assessment, Wanted.of(described)),
        sears=sears_of(files.readings, described),
        made_at=datetime.now().astimezone(),
        version=version("gratemap"),
    )
    assert output is not None
    output.save(page)
    console.answer(f"Report: {output.path}")


def _comparison(assessment: Assessment) -> Comparison | None:
    """Compare with the full round before, or return None where there is none."""
    from heatmap.verdict.comparison import compare

    until = [one for one in assessment.rounds if one.number <= assessment.round.number]
    known = assessment if len(until) == len(assessment.rounds) else None  # later rounds may teach of the gun
    try:
        found = compare(assessment.grill, until, assessed=known)
    except MapError:
        return None
    if found.after.round.number != assessment.round.number:
        return None
    return found
