"""`gratemap sear`: seconds a turn from the mapped rails, and the correction after a test piece."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Annotated

import typer

from cli import console, loading
from cli.deciding import decide_now
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
    food_on,
    sides_of,
    target_from,
    turns_from,
    wanted_from,
)
from cli.food_questions import ask_food
from cli.lesson import (
    Outcome,
    Peak,
    Tested,
    TestedDoneness,
    TestedRail,
    TestedStart,
    TestedThickness,
    TestPiece,
    asked_sear,
    keep_piece,
    learned,
)
from cli.options import GRILL_FILE, READINGS_FILE, AsJson, GrillFile, ReadingsFile, RoundNumber, SkipBad, Why
from cli.output import Force, Output, picture_of, save_picture
from cli.sear_curves import sear_curves
from heatmap.errors import InputError


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
    outcome: Outcome = None,
    tested_doneness: TestedDoneness = None,
    tested_rail: TestedRail = None,
    tested_thickness: TestedThickness = None,
    tested_start: TestedStart = None,
    why: Why = False,
    grill: GrillFile = GRILL_FILE,
    readings: ReadingsFile = READINGS_FILE,
    round_number: RoundNumber = None,
    clock: Annotated[
        bool, typer.Option("--clock", help="Count the turns down in big letters; space starts each.")
    ] = False,
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
    from heatmap.decisions.decision import rails_under
    from heatmap.decisions.placement import find_places
    from heatmap.grill.toml import load_grill
    from heatmap.report.documents import decision_document, sear_document
    from heatmap.sear import Rails, SearedPiece
    from heatmap.words.decision import decision_sentence
    from heatmap.words.sear import sear_lines, sear_why_lines

    described = load_grill(grill)
    if target is None and not as_json:
        described = ask_food(grill) or described
    target_c, turns = target_from(described, target), turns_from(described, turns)
    if target_c is None:
        raise InputError("say which peak of the centre you want, for example: --target 137; it is never assumed")
    food = food_from(described, thickness, start, cooker, meat)
    sides = sides_of(flip_every_turn)
    piece = TestPiece.like(
        thickness, start, tested, peak, tested_doneness, tested_rail, tested_thickness, tested_start, outcome
    )
    assessment, place = None, None
    if rail is None:
        assessment = loading.assessment(grill, readings, round_number, skip_bad=skip_bad)
        place = find_places(assessment, wanted_from(described, size, heading, same_place=same_place)).best
        rails = rails_under(assessment, place, fresh=not same_place)
    else:
        stated = Rails.of(described, described.temperature(rail))
        crossed = len(wanted_from(described, size, heading).headings) > 1
        rails = replace(stated, crossed=crossed, fresh=not same_place)
    asked, lesson = asked_sear(
        described, rails, readings, piece, food, cooker, turns=turns, sides=sides, target_c=target_c
    )
    plan = asked.plan(rails)
    decision, rail_from = None, ""
    if assessment is not None and place is not None:
        from heatmap.words.where import where

        decision = decide_now(assessment, readings, food_on(described, size, heading), asked)
        rail_from = f"{where(described, *place.centre_mm)} (round {assessment.round.number})"
    seared = piece.seared(described, turns, target_c)
    if seared is not None:
        under_c = rails.rail_c if seared.rail_c is None else seared.rail_c
        seared = replace(seared, taken_at=datetime.now(UTC), rail_c=under_c, place=rail_from)
        keep_piece(readings, described, seared)
    if picture is not None:
        from heatmap.pictures import sensitivity

        lines = sear_curves(food, rails, turns, sides, target_c, asked.beliefs)
        save_picture(sensitivity(lines, rails, (plan.seconds_low, plan.seconds_high)), picture)
    if as_json:
        document = sear_document(described, food, rails, plan, lesson, rail_from)
        if assessment is not None and decision is not None:
            document["decision"] = decision_document(assessment, decision)
        console.answer_json(document)
        return
    first = "" if assessment is None or decision is None else decision_sentence(assessment, decision)
    more = sear_why_lines(described, food, rails, rail_from, plan)
    console.answer_brief(sear_lines(first, described, food, plan, lesson), 6, more, why=why)
    if clock:
        from cli.sear_clock import sear_clock, turns_of

        on = SearedPiece(
            turns_s=(plan.seconds_per_turn,) * turns,
            place=rail_from,
            start_c=food.start_centre_c,
            thickness_mm=food.thickness_mm,
            rail_c=rails.rail_c,
            wanted_c=target_c,
        )
        headings = wanted_from(described, size, heading).headings
        to_come = turns_of(plan.seconds_per_turn, turns, headings, sides)

        def learn(one: SearedPiece) -> object:
            return learned(described, rails, one, cooker, meat, sides, target_c)

        sear_clock(to_come, readings, described, on, learn)
