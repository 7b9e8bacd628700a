"""`gratemap sear`: seconds a turn from the mapped rails, and the correction after a test piece."""

from dataclasses import replace
from typing import Literal

from cli import console, options
from cli.food import FoodSaid, ask_food
from cli.loading import Files
from cli.options import flag, option


def command(
    *,
    food: FoodSaid,
    same_place: bool = flag("Every turn on the same rails, not on fresh ones."),
    rail: float | None = option("TEMPERATURE", "True rail temperature, instead of the one from the map."),
    tested: str | None = option("S[,S…]", "Seconds of each turn of a test piece: 60, or 60,60,70,70."),
    peak: float | None = option("TEMPERATURE", "Highest centre measured in the test piece."),
    outcome: Literal["under", "right", "over"] | None = option(
        "under|right|over", "Without a probe: how the test piece came out.", case_sensitive=False
    ),
    why: bool = options.why(),
    files: Files,
    round_number: int | None = options.round_number(),
    clock: bool = flag("Count the turns down in big letters; space starts each."),
    as_json: bool = options.as_json(),
) -> None:
    """Say how many seconds each turn lasts.

    The rails come from the map, at the best place; a test piece makes the seconds yours.

    \b
    Example: gratemap sear --target 137
    """
    from cli.lesson import keep_piece, piece_on, taught, test_piece
    from heatmap.decisions.decision import rails_under
    from heatmap.decisions.placement import Wanted, find_places
    from heatmap.grill.toml import load_grill
    from heatmap.report.documents import decision_document, sear_document
    from heatmap.sear import Rails, plan_on
    from heatmap.words.decision import decision_sentence
    from heatmap.words.regions import where
    from heatmap.words.sear import sear_lines, sear_why_lines, turns_text

    if food.target is None and not as_json:
        ask_food(files.grill)
    if rail is None:
        assessment = files.assessment(round_number, food=food)
        described, outline = assessment.grill, Wanted.of(assessment.grill)
        place = find_places(assessment, outline).best
        rails = rails_under(assessment, place, fresh=not same_place)
        rail_from = f"{where(described, *place.centre_mm)} (round {assessment.round.number})"
    else:
        assessment, rail_from = None, ""
        described = food.over(load_grill(files.grill))
        outline = Wanted.of(described)
        stated = Rails.of(described, described.temperature(rail))
        rails = replace(stated, crossed=len(outline.headings) > 1, fresh=not same_place)
    piece = test_piece(described, rails, tested, peak, outcome)
    lesson = taught(described, rails, files.readings, piece)
    plan = plan_on(described, rails, lesson and lesson.beliefs)
    first, decided = "", {}
    if assessment is not None:
        decision = files.decision(assessment, taught=lambda _: lesson)
        first = decision_sentence(assessment, decision)
        decided = {"decision": decision_document(described, decision, first)}
    if piece is not None:
        keep_piece(files.readings, described, replace(piece, place=rail_from))
    document = sear_document(described, rails, plan, lesson, rail_from) | decided if as_json else None
    lines = sear_lines(first, described, plan, lesson)
    console.reply(document or lines, 6, sear_why_lines(described, rails, rail_from, plan) if why else None)
    if clock and not as_json:
        from cli.sear_clock import sear_clock

        on = replace(piece_on(described, rails, (plan.seconds_per_turn,) * plan.turns), place=rail_from)
        to_come = turns_text(plan.turns, outline.headings, described.piece.sides or "")
        sear_clock(to_come, files.readings, described, rails, on)
