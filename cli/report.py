"""`gratemap report`: everything on one page that needs nothing else."""

import contextlib
from datetime import datetime

from cli import console, options
from cli.food import FoodSaid
from cli.loading import Files, of_its_time
from cli.output import REPORT, Output, output_of
from heatmap.errors import MapError

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

    import cli.drawing  # noqa: F401 - before the page that holds pictures
    from cli.lesson import sears_of
    from heatmap.decisions.placement import Wanted, find_places
    from heatmap.report.page import report_html
    from heatmap.verdict.comparison import compare
    from heatmap.verdict.history import history

    assessment = files.assessment(round_number, food=food)
    described = assessment.grill
    decision = files.decision(assessment)
    # With the full round before, where there is one; later rounds may have taught of the gun.
    until = [one for one in assessment.rounds if one.number <= assessment.round.number]
    compared = None
    with contextlib.suppress(MapError):
        compared = compare(described, until, assessed=assessment if len(until) == len(assessment.rounds) else None)
    lines = history(described, assessment.rounds, MOST_ROUNDS, assessment)
    page = report_html(
        assessment,
        decision=decision,
        then=of_its_time(assessment, decision),
        comparison=compared if compared and compared.after.round.number == assessment.round.number else None,
        history=[line for line in lines if line.even is not None],
        places=find_places(assessment, Wanted.of(described)),
        sears=sears_of(files.readings, described),
        made_at=datetime.now().astimezone(),
        version=version("gratemap"),
    )
    assert output is not None
    output.save(page)
    console.answer(f"Report: {output.path}")
