"""`gratemap report`: everything on one page that needs nothing else."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Annotated

from cli import console, loading
from cli.deciding import decide_now, of_its_time
from cli.food import (
    Cooker,
    FlipEveryTurn,
    Heading,
    KindOfMeat,
    Size,
    Start,
    Target,
    Thickness,
    Turns,
    food_from,
    food_on,
    sides_of,
    target_from,
    turns_from,
    wanted_from,
)
from cli.lesson import (
    Peak,
    Tested,
    TestedDoneness,
    TestedRail,
    TestedStart,
    TestedThickness,
    TestPiece,
    asked_sear,
    sears_of,
)
from cli.options import GRILL_FILE, READINGS_FILE, GrillFile, ReadingsFile, RoundNumber, SkipBad
from cli.output import REPORT, Force, Output, output_of
from cli.sear_curves import sear_curves
from heatmap.errors import MapError

if TYPE_CHECKING:
    from heatmap.assessment import Assessment
    from heatmap.decisions.placement import Placement
    from heatmap.verdict.comparison import Comparison

#: Rounds in the picture of how evenness went.
MOST_ROUNDS = 12


def command(
    output: Annotated[
        Output | None, output_of("--output", REPORT, "Where to write it.", usual="gratemap-report.html")
    ] = None,
    target: Target = None,
    thickness: Thickness = None,
    start: Start = None,
    cooker: Cooker = None,
    turns: Turns = None,
    flip_every_turn: FlipEveryTurn = False,
    meat: KindOfMeat = "whole cut",
    size: Size = "",
    heading: Heading = "",
    tested: Tested = None,
    peak: Peak = None,
    tested_doneness: TestedDoneness = None,
    tested_rail: TestedRail = None,
    tested_thickness: TestedThickness = None,
    tested_start: TestedStart = None,
    grill: GrillFile = GRILL_FILE,
    readings: ReadingsFile = READINGS_FILE,
    round_number: RoundNumber = None,
    force: Force = False,
    skip_bad: SkipBad = False,
) -> None:
    """Write everything on one HTML page.

    It needs no internet, opens on a phone and prints on two sheets.

    \b
    Example: gratemap report --target 137
    """
    from importlib.metadata import version

    from heatmap.decisions.decision import rails_under
    from heatmap.decisions.placement import find_places
    from heatmap.report.page import SearSection, Sections, report_html
    from heatmap.verdict.history import history

    assessment = loading.assessment(grill, readings, round_number, skip_bad=skip_bad)
    described = assessment.grill
    placement: Placement = find_places(assessment, wanted_from(described, size, heading))
    piece = TestPiece.like(thickness, start, tested, peak, tested_doneness, tested_rail, tested_thickness, tested_start)
    section, asked = None, None
    target_c, turns = target_from(described, target), turns_from(described, turns)
    if target_c is not None:
        food = food_from(described, thickness, start, cooker, meat)
        rails = rails_under(assessment, placement.best)
        sides = sides_of(flip_every_turn)
        asked, _ = asked_sear(
            described, rails, readings, piece, food, cooker, turns=turns, sides=sides, target_c=target_c
        )
        lines = sear_curves(food, rails, turns, sides, target_c, asked.beliefs)
        section = SearSection(plan=asked.plan(rails), food=food, rails=rails, lines=lines)
    else:
        piece.needs_target()
    assessed = {assessment.round.number: assessment}
    decision = decide_now(assessment, readings, food_on(described, size, heading), asked)
    sections = Sections(
        decision=decision,
        then=of_its_time(assessment, decision, food_on(described, size, heading)),
        comparison=_comparison(assessment, assessed),
        history=[
            line for line in history(described, assessment.rounds, MOST_ROUNDS, assessed) if line.share is not None
        ],
        places=placement,
        sear=section,
        sears=sears_of(readings, described),
    )
    page = report_html(assessment, sections, made_at=datetime.now().astimezone(), version=version("gratemap"))
    assert output is not None
    output.save(page)
    console.answer(f"Report: {output.path}")


def _comparison(assessment: Assessment, assessed: dict[int, Assessment]) -> Comparison | None:
    """Compare with the full round before, or return None where there is none; what is assessed for it is kept."""
    from heatmap.verdict.comparison import compare

    until = [one for one in assessment.rounds if one.number <= assessment.round.number]
    known = assessed if len(until) == len(assessment.rounds) else {}  # later rounds may teach of the gun
    try:
        found = compare(assessment.grill, until, assessed=known)
    except MapError:
        return None
    if found.after.round.number != assessment.round.number:
        return None
    return found
