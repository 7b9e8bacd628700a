"""`gratemap place`: where to set the food down, at which heading."""

from dataclasses import replace

from cli import console, options
from cli.food import FoodSaid, ask_food
from cli.loading import Files
from cli.output import Asked


def command(*, food: FoodSaid, files: Files, round_number: int | None = options.round_number(), asked: Asked) -> None:
    """Say where to set the food down; with --heading any, at which heading as well.

    The picture is the map with the places outlined.

    \b
    Example: gratemap place --size 7.5x5 --heading 2,10
    """
    from heatmap.decisions.placement import Wanted, find_places
    from heatmap.decisions.tuning import AT_LEAST
    from heatmap.report.documents import place_document
    from heatmap.words.place import place_answer, place_lines, place_why_lines

    if not (food.size or food.heading or asked.as_json):
        ask_food(files.grill)
    assessment = files.assessment(round_number, food=food)
    wanted = replace(Wanted.of(assessment.grill), turns=food.turns or 1)
    placement = find_places(assessment, wanted)
    decision = files.decision(assessment)
    title = place_answer(assessment, placement)
    asked.save_picture(lambda drawing: drawing.heat_map(assessment, title=title, placement=placement))
    told = (place_document if asked.as_json else place_lines)(assessment, placement, decision)
    most = max(5, 2 + wanted.turns)  # every turn that was asked for is told
    console.reply(told, most, place_why_lines(assessment, placement) if asked.why else None)
    asked.exit_unless(placement.best.chance_fits >= AT_LEAST)
