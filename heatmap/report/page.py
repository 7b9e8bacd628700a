"""The page one keeps: everything about a round on one self-contained HTML page.

Nothing is fetched: pictures are data in the page, and a content security policy in its head forbids the rest.
"""

import base64
from collections.abc import Sequence
from datetime import datetime
from importlib.resources import files
from typing import Any

from jinja2 import Environment, StrictUndefined
from matplotlib.figure import Figure

import heatmap.words.history
from heatmap.assessment import Assessment
from heatmap.decisions.decision import Decision, rails_under
from heatmap.decisions.placement import Placement
from heatmap.pictures import difference_map, expected_map, heat_map, picture_bytes
from heatmap.sear import SearedPiece
from heatmap.units import percent, percent_range
from heatmap.verdict.comparison import Comparison
from heatmap.verdict.history import RoundLine
from heatmap.verdict.regions import region_name
from heatmap.words.burners import burner_lines
from heatmap.words.compare import compare_sentence
from heatmap.words.map import map_answer
from heatmap.words.place import place_answer
from heatmap.words.sear import all_cautions, seared_sentence
from heatmap.words.taking import marks_text


def report_html(
    assessment: Assessment,
    *,
    decision: Decision,
    then: Decision,
    comparison: Comparison | None = None,
    places: Placement | None = None,
    history: Sequence[RoundLine] = (),
    sears: Sequence[SearedPiece] = (),
    made_at: datetime,
    version: str,
) -> str:
    """Return a report as one HTML page that needs nothing else; what is missing is left out.

    Parameters
    ----------
    assessment : Assessment
    decision, then : Decision
        What to do now, and what an old map called for in its time.
    comparison : Comparison, optional
        With an earlier round; adds before and after.
    places : Placement, optional
        Where to set the food down.
    history : sequence of RoundLine
        Those that have a map; told when there are three rounds or more; two are told apart better by `comparison`.
    sears : sequence of SearedPiece
    made_at : datetime
    version : str
    """
    first, _, rest = map_answer(assessment).partition("; ")
    notes = [f"Round {one.number}: {noted.note}" for one in assessment.rounds for noted in one.notes]
    advice = burner_lines(assessment, decision, then)
    seen, best = "Heat map seen from above", ""
    if places is not None:
        seen, best = f"{seen}, with the best places outlined", f" {place_answer(assessment, places)}"
    figure = heat_map(assessment, title="", placement=places)
    pictures = {"map": _picture(figure, seen, f"{map_answer(assessment)}{best}")}
    if then.changes:
        figure = expected_map(assessment, then, title="")
        pictures["advice"] = _picture(figure, "The map now and the map expected after", " ".join(advice))
    if comparison is not None:
        since = f"Map of what changed from round {comparison.before.round.number}"
        figure = difference_map(comparison, title="")
        pictures["comparison"] = _picture(figure, since, compare_sentence(comparison))
    # Every text goes through the template engine's escaping: a note or a name stays text.
    engine = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True, finalize=_unbroken
    )
    template = files("heatmap.report").joinpath("page.html.j2").read_text(encoding="utf-8")
    return engine.from_string(template).render(
        words=heatmap.words,
        **{tool.__name__: tool for tool in (percent, percent_range, rails_under, region_name)},
        assessment=assessment,
        decision=decision,
        then=then,
        comparison=comparison,
        places=places,
        history=history,
        answer=first,
        answer_rest=rest[:1].upper() + rest[1:],
        advice=advice,
        round_line=_round_line(assessment, made_at),
        diary=[*notes, *(seared_sentence(piece, assessment.grill.display) for piece in sears)],
        pictures=pictures,
        cautions=all_cautions(assessment.grill, decision.plan),
        made=_when(made_at),
        version=version,
    )


def _unbroken(value: Any) -> Any:
    """Keep a number and its unit on one line."""
    return value.replace(" %", "\u00a0%").replace(" °", "\u00a0°") if isinstance(value, str) else value


def _round_line(assessment: Assessment, made_at: datetime) -> str:
    one, grill = assessment.round, assessment.grill
    taken = "" if one.taken_at is None else _when(one.taken_at.astimezone(made_at.tzinfo))
    # A session is mostly named by its day, which the time begins with.
    parts = [f"Round {one.number}", "" if taken.startswith(one.session) else one.session, taken]
    known = {burner.name: one.settings[burner.name] for burner in grill.burners if burner.name in one.settings}
    if known:
        parts.append(f"marks: {marks_text(grill, known)}")
    return " · ".join(filter(None, parts))


def _when(moment: datetime) -> str:
    return moment.strftime("%Y-%m-%d %H:%M %z").strip()


def _picture(figure: Figure, what: str, told: str) -> dict[str, Any]:
    """Return a picture as data for the page, its text for those who cannot see it, and its width over its height."""
    encoded = base64.b64encode(picture_bytes(figure, ".svg")).decode("ascii")
    width, height = (round(100 * size) for size in figure.get_size_inches())
    source = f"data:image/svg+xml;base64,{encoded}"
    return {"source": source, "text": f"{what}. {told}", "width": width, "height": height}
