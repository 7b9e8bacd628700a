"""How a session ends: the verdict."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from cli import console
from cli.deciding import decide_now
from cli.loading import say_oddities
from heatmap.errors import MapError
from heatmap.readings.reading import group_rounds
from heatmap.words.sitting import no_map_sentence

if TYPE_CHECKING:
    from heatmap.decisions.decision import Decision
    from heatmap.readings.log import ReadingsLog
    from heatmap.taking.session import Session


def final_answer(session: Session, log: ReadingsLog, *, as_json: bool) -> Decision | None:
    """Print the map of the round and what to do now; None when there is no map.

    Raises
    ------
    MapError
        With `as_json`, when there is no map.
    """
    from heatmap.assessment import assess

    rounds = tuple(one for one in group_rounds(log.readings) if one.readings)
    try:
        if not session.readings:
            raise MapError(f"round {session.number} has no readings")
        assessment = assess(session.grill, rounds, session.number)
    except MapError as error:
        if as_json:
            raise
        console.talk(no_map_sentence(str(error)))
        return None
    say_oddities(assessment)
    decision = decide_now(assessment, Path(log.name))
    if as_json:
        from heatmap.report.documents import map_document

        console.answer_json(map_document(assessment, decision))
    else:
        from cli.map import show

        show(assessment, decision)
        if all(one.session != session.name or one.number == session.number for one in rounds):
            from heatmap.words.map import band_sentence

            console.talk(band_sentence(assessment))  # once a session
    return decision
