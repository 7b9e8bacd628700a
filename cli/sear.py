"""`gratemap sear`: seconds a turn from the mapped rails, and the correction after a test piece."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cli import console, loading
from cli.food import (
    Cooker,
    FlipEveryTurn,
    Heading,
    KindOfMeat,
    SamePlace,
    Size,
    Start,
    Target,
    Thickness,
    Turns,
    food_from,
    sides_of,
    target_from,
    turns_from,
    wanted_from,
)
from cli.food_questions import ask_food
from cli.lesson import Peak, Tested, TestedDoneness, TestedRail, TestedStart, TestedThickness, TestPiece
from cli.options import GRILL_FILE, READINGS_FILE, AsJson, GrillFile, ReadingsFile, RoundNumber, SkipBad
from cli.output import Force, Output, picture_of, save_picture
from cli.sear_curves import sear_curves
from heatmap.errors import InputError

if TYPE_CHECKING:
    from heatmap.sear import Rails


def command(
    target: Target = None,
    thickness: Thickness = None,
    start: Start = None,
    cooker: Cooker = None,
    turns: Turns = None,
    flip_every_turn: FlipEveryTurn = False,
    meat: KindOfMeat = "whole cut",
    size: Size = "",
    heading: Heading = "",
    same_place: SamePlace = False,
    rail: Annotated[
        float | None,
        typer.Option("--rail", metavar="TEMPERATURE", help="True rail temperature, instead of the one from the map."),
    ] = None,
    tested: Tested = None,
    peak: Peak = None,
    tested_doneness: TestedDoneness = None,
    tested_rail: TestedRail = None,
    tested_thickness: TestedThickness = None,
    tested_start: TestedStart = None,
    grill: GrillFile = GRILL_FILE,
    readings: ReadingsFile = READINGS_FILE,
    round_number: RoundNumber = None,
    picture: Annotated[Output | None, picture_of("seconds against rail temperature")] = None,
    force: Force = False,
    as_json: AsJson = False,
    skip_bad: SkipBad = False,
) -> None:
    """Say how many seconds each turn lasts.

    The rails come from the map, at the best place; a test piece makes the seconds yours.

    \b
    Example: gratemap sear --target 137
    """
    from heatmap.grill.toml import load_grill
    from heatmap.report.documents import sear_document
    from heatmap.sear import Rails, plan_sear
    from heatmap.words.sear import sear_lines

    described = load_grill(grill)
    if target is None and not as_json:
        described = ask_food(grill) or described
    target_c, turns = target_from(described, target), turns_from(described, turns)
    if target_c is None:
        raise InputError("say which peak of the centre you want, for example: --target 137; it is never assumed")
    food = food_from(described, thickness, start, cooker, meat)
    sides = sides_of(flip_every_turn)
    warning = ""
    if rail is None:
        rails, warning = _mapped_rails(grill, readings, round_number, size, heading, same_place, skip_bad)
    else:
        stated = Rails.of(described, described.temperature(rail))
        crossed = len(wanted_from(described, size, heading).headings) > 1
        rails = replace(stated, crossed=crossed, fresh=not same_place)
    piece = TestPiece.like(thickness, start, tested, peak, tested_doneness, tested_rail, tested_thickness, tested_start)
    lesson = piece.lesson(described, rails, cooker, meat, sides)
    beliefs = None if lesson is None else lesson.beliefs
    plan = plan_sear(food, rails, target_centre_c=target_c, turns=turns, sides=sides, beliefs=beliefs)
    if warning:
        console.talk(warning)
    if picture is not None:
        from heatmap.pictures import sensitivity

        lines = sear_curves(food, rails, turns, sides, target_c, beliefs)
        save_picture(sensitivity(lines, rails, (plan.seconds_low, plan.seconds_high)), picture)
    if as_json:
        console.answer_json(sear_document(described, rails, plan, lesson))
        return
    for line in sear_lines(described, food, rails, plan, lesson):
        console.answer(line)


def _mapped_rails(
    grill: Path, readings: Path, round_number: int | None, size: str, heading: str, same_place: bool, skip_bad: bool
) -> tuple[Rails, str]:
    """Return the rails at the best place of the map, and what is to be said of a map too old to be believed."""
    from heatmap.decisions.placement import find_places
    from heatmap.decisions.ready import age_warning, rails_under

    assessment = loading.assessment(grill, readings, round_number, skip_bad=skip_bad)
    wanted = wanted_from(assessment.grill, size, heading, same_place=same_place)
    rails = rails_under(assessment, find_places(assessment, wanted).best, fresh=not same_place)
    return rails, age_warning(assessment, datetime.now().astimezone())
