"""How a session ends: the verdict, and the marks the next round begins with."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from cli import console
from heatmap.errors import MapError

if TYPE_CHECKING:
    from heatmap.assessment import Assessment
    from heatmap.grill.grill import Grill
    from heatmap.readings.reading import Round
    from heatmap.taking.session import Session

#: A round of more readings than this is not mapped on the spot: weighing all against one another takes too long.
MOST_ON_THE_SPOT = 600


def final_answer(grill: Grill, rounds: tuple[Round, ...], session: Session, as_json: bool) -> Assessment | None:
    """Print the map and the verdict of the round; None when there is no map.

    Raises
    ------
    MapError
        With `as_json`, when there is no map.
    """
    from heatmap.assessment import assess

    count = len(session.readings)
    rounds = tuple(one for one in rounds if one.readings)
    try:
        if count > MOST_ON_THE_SPOT:
            raise MapError(f"round {session.number} has {count} readings, too many to map here; gratemap map does")
        if not count:
            raise MapError(f"round {session.number} has no readings")
        assessment = assess(grill, rounds, session.number)
    except MapError as error:
        if as_json:
            raise
        console.talk(f"No map yet: {error}")
        return None
    if as_json:
        from heatmap.report.documents import map_document

        console.answer_json(map_document(assessment))
    else:
        from cli.map import show

        show(assessment)
        _advice(assessment)
    return assessment


def _advice(assessment: Assessment) -> None:
    """Print what to turn, where there are knobs."""
    if not any(burner.control != "none" for burner in assessment.grill.burners):
        return
    from cli.burners import show_advice

    console.answer()
    show_advice(assessment)


def advised_marks(assessment: Assessment | None, marks: Mapping[str, float]) -> dict[str, float]:
    """Return the marks for the next round: changed where there is advice worth following, else as they are."""
    if assessment is None or not assessment.grill.complete_settings(marks) or not marks:
        return dict(marks)
    from heatmap.decisions.burner_advice import advise

    advice = advise(assessment)
    return {**marks, **advice.settings} if advice.worth_it else dict(marks)
