"""`gratemap next`: which positions to shoot next, because the answer hangs on them."""

from cli import console, options
from cli.loading import Files
from cli.options import option


def command(
    *,
    count: int = option("N", "How many, best first.", 3, min=1),
    files: Files,
    round_number: int | None = options.round_number(),
    as_json: bool = options.as_json(),
) -> None:
    """Say which positions to shoot next: those where one more reading is expected to change the answer most.

    \b
    Example: gratemap next --count 5
    """
    from heatmap.assessment import assess, choose_round
    from heatmap.decisions.decision import Decision
    from heatmap.decisions.next_spots import first_labels, next_spots
    from heatmap.errors import MapError
    from heatmap.grate_model.round_map import spans_area
    from heatmap.report.documents import next_document
    from heatmap.words.decision import FIRST_WHY, decision_sentence, next_lines, shoot_sentence, why_text

    described, rounds = files.load()
    try:
        assessment = assess(described, rounds, round_number)
    except MapError:
        # Too few readings for a map are the case this command is asked most about.
        if rounds and spans_area(choose_round(rounds, round_number)):
            raise
        shot = [one.position for one in choose_round(rounds, round_number).with_aim("rail")] if rounds else []
        labels = first_labels(described, shot, count)
        whys = dict.fromkeys(labels, FIRST_WHY)
        lines = [shoot_sentence(Decision(do="shoot", shoot_for="no map", positions=labels))]
    else:
        decision = files.decision(assessment)
        spots = next_spots(assessment, count, decision.positions)
        whys = {spot.position: why_text(spot) for spot in spots}
        lines = next_lines(decision_sentence(assessment, decision), decision, spots)
    console.reply(next_document(described, whys) if as_json else lines)
