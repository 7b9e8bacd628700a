"""The page one keeps: everything about a round on one self-contained HTML page.

Nothing is fetched: pictures are data in the page, and a content security policy in its head forbids the rest.
"""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from heatmap.assessment import Assessment
from heatmap.decisions.decision import Decision, rails_under
from heatmap.decisions.placement import Placement
from heatmap.report.template import rendered
from heatmap.sear import Food, SearedPiece, SearPlan
from heatmap.units import percent, percent_range
from heatmap.verdict.chances import Extreme
from heatmap.verdict.regions import region_name
from heatmap.words import cautions
from heatmap.words.burners import burner_lines, why
from heatmap.words.compare import compare_sentence
from heatmap.words.decision import place_words
from heatmap.words.history import history_sentence
from heatmap.words.map import band_sentence, drift_sentence, map_answer, remedies, shape_sentence, tilt_sentence
from heatmap.words.phrases import MARKS, made_sentence, seen_text, signed
from heatmap.words.place import centre_numbers, place_answer
from heatmap.words.sear import assumption_sentences, given_sentence, how_long_text, roasts_sentence, seared_sentence
from heatmap.words.taking import marks_text

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from heatmap.verdict.comparison import Comparison
    from heatmap.verdict.history import RoundLine


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sections:
    """What a report can hold besides the map; what is missing is left out.

    Attributes
    ----------
    decision, then : Decision
        What to do now, and what an old map called for in its time.
    comparison : Comparison, optional
        With an earlier round; adds before and after.
    places : Placement, optional
        Where to set the food down.
    food : Food, optional
        What is seared; its seconds are those of the decision.
    history : sequence of RoundLine
        Those that have a map; told when there are three rounds or more; two are told apart better by `comparison`.
    """

    decision: Decision
    then: Decision
    comparison: Comparison | None = None
    places: Placement | None = None
    food: Food | None = None
    history: Sequence[RoundLine] = ()
    sears: Sequence[SearedPiece] = ()


def report_html(assessment: Assessment, sections: Sections, *, made_at: datetime, version: str) -> str:
    """Return a report as one HTML page that needs nothing else, told when it was made and by which version."""
    told, pictures = _told_and_drawn(assessment, sections)
    tools = (percent, percent_range, signed, place_words, centre_numbers)
    first, _, rest = map_answer(assessment).partition("; ")
    return rendered(
        "page.html.j2",
        **{tool.__name__: tool for tool in tools},
        assessment=assessment,
        display=assessment.grill.display,
        round_line=_round_line(assessment, made_at),
        answer=first,
        answer_rest=rest[:1].upper() + rest[1:],
        band=band_sentence(assessment),
        facts=_facts(assessment),
        remedies=remedies(assessment),
        marks=MARKS,
        advice=burner_lines(assessment, sections.decision, sections.then),
        advice_why=why(assessment, sections.then),
        sections=sections,
        diary=_diary(assessment, sections),
        pictures=pictures,
        told=told,
        cautions=_cautions(sections.decision.plan),
        made_line=made_sentence(version, _when(made_at)),
    )


def _diary(assessment: Assessment, sections: Sections) -> list[str]:
    """Return what was noted and seared, oldest first."""
    notes = [f"Round {one.number}: {noted.note}" for one in assessment.rounds for noted in one.notes]
    return notes + [seared_sentence(piece, assessment.grill.display) for piece in sections.sears]


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


def _facts(assessment: Assessment) -> list[tuple[str, str]]:
    display, even = assessment.grill.display, assessment.evenness

    def place(extreme: Extreme) -> str:
        where = region_name(extreme.x_mm, extreme.y_mm, assessment.grill.grate)
        return f"{display.temperature_text(extreme.compared_c)}, {where}"

    likely = percent_range(even.share_in_band_low, even.share_in_band_high)
    facts = [
        ("In band", f"{percent(even.share_in_band)} of the area, likely {likely}"),
        ("Spread", f"{display.difference_text(even.p95_minus_p5_c)} from the 5th to the 95th percentile of the area"),
        ("Hottest", place(even.hottest)),
        ("Coldest", place(even.coldest)),
        ("Tilt", tilt_sentence(assessment).removeprefix("Tilt: ").rstrip(".")),
    ]
    more = (("Shape", shape_sentence(assessment)), ("Drift", drift_sentence(assessment)))
    return facts + [(name, sentence.rstrip(".")) for name, sentence in more if sentence]


def _told_and_drawn(assessment: Assessment, sections: Sections) -> tuple[dict[str, Any], dict[str, dict[str, Any]]]:
    """Return the sentences of the sections, said elsewhere too, and their pictures."""
    from heatmap.pictures import difference_map, expected_map, heat_map

    display = assessment.grill.display
    told: dict[str, Any] = {}
    drawn = {"map": _picture(heat_map(assessment, title=""), "Heat map seen from above", map_answer(assessment))}
    if sections.then.changes:
        lines = burner_lines(assessment, sections.decision, sections.then)
        figure = expected_map(assessment, sections.then, title="")
        drawn["advice"] = _picture(figure, "The map now and the map expected after", " ".join(lines))
    if sections.places is not None:
        told["places"] = place_answer(assessment, sections.places)
        figure = heat_map(assessment, title="", placement=sections.places)
        drawn["places"] = _picture(figure, "Heat map with the places outlined", told["places"])
    plan, place = sections.decision.plan, sections.decision.place
    if sections.food is not None and plan is not None and place is not None:
        rails = rails_under(assessment, place)
        told["sear"] = how_long_text(plan)
        told["given"] = given_sentence(sections.food, rails, "", display)
        told["roasts"] = roasts_sentence(plan, display)
        told["assumed"] = assumption_sentences(sections.food, rails)
    if sections.comparison is not None:
        told["comparison"] = compare_sentence(sections.comparison)
        since = f"Map of what changed from round {sections.comparison.before.round.number}"
        drawn["comparison"] = _picture(difference_map(sections.comparison, title=""), since, told["comparison"])
    if len(sections.history) > 2:
        told["history"] = history_sentence(sections.history)
    return told, drawn


def _picture(figure: Figure, what: str, told: str) -> dict[str, Any]:
    """Return a picture as data for the page, its text for those who cannot see it, and its width over its height."""
    from heatmap.pictures import picture_bytes

    encoded = base64.b64encode(picture_bytes(figure, ".svg")).decode("ascii")
    width, height = (round(100 * size) for size in figure.get_size_inches())
    source = f"data:image/svg+xml;base64,{encoded}"
    return {"source": source, "text": seen_text(what, told), "width": width, "height": height}


def _cautions(plan: SearPlan | None) -> list[str]:
    of_food = () if plan is None else plan.cautions
    return list(dict.fromkeys((*of_food, *cautions.AT_THE_GRILL, *cautions.WITH_THE_GUN)))
