"""`gratemap next`: which positions to shoot next, because the answer hangs on them."""

from __future__ import annotations

from typing import Annotated

import typer

from cli import console, loading
from cli.options import GRILL_FILE, READINGS_FILE, AsJson, GrillFile, ReadingsFile, RoundNumber, SkipBad


def command(
    count: Annotated[int, typer.Option("--count", metavar="N", min=1, help="How many, best first.")] = 3,
    grill: GrillFile = GRILL_FILE,
    readings: ReadingsFile = READINGS_FILE,
    round_number: RoundNumber = None,
    as_json: AsJson = False,
    skip_bad: SkipBad = False,
) -> None:
    """Say which positions to shoot next: those where one more reading is expected to change the answer most.

    \b
    Example: gratemap next --count 5
    """
    from heatmap.assessment import assess, choose_round
    from heatmap.decisions.next_spots import HARDLY, first_spots, next_spots
    from heatmap.errors import MapError

    described, rounds = loading.load(grill, readings, skip_bad=skip_bad)
    try:
        spots = next_spots(assess(described, rounds, round_number), count)
    except MapError:
        # Too few readings for a map are the case this command is asked most about.
        shot = [one.position for one in choose_round(rounds, round_number).with_aim("rail")] if rounds else []
        spots = first_spots(described, shot, count)
    if as_json:
        from heatmap.report.documents import next_document

        console.answer_json(next_document(described, spots))
        return
    for spot in spots:
        console.answer(f"{spot.position:4s} {spot.why}")
    if spots and spots[0].gain is not None and sum(spot.gain or 0.0 for spot in spots) < HARDLY:
        console.answer("More shots would hardly change the answer.")
