"""The page one keeps: everything about a round on one self-contained HTML page.

Nothing is fetched: pictures are data in the page, and a content security policy in its head forbids the rest. Every
text goes through the template engine's escaping; a note or a name stays text.
"""

from __future__ import annotations

import base64
import math
from collections.abc import Mapping, Sequence
from datetime import datetime
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from heatmap.assessment import AssessedSpot, Assessment
from heatmap.decide.placement import Place, Placement, heading_text
from heatmap.grill.quantities import Units
from heatmap.report.sections import SearSection
from heatmap.sear import Sensitivity
from heatmap.units import Display, percent, percent_range
from heatmap.verdict.chances import Extreme
from heatmap.words import cautions
from heatmap.words.burners import advice_lines
from heatmap.words.compare import compare_lines
from heatmap.words.map import band_sentence, drift_sentence, map_answer, remedies, shape_sentence, tilt_sentence
from heatmap.words.phrases import signed
from heatmap.words.place import centre_numbers, place_answer, unlikely_sentence
from heatmap.words.regions import region_name
from heatmap.words.sear import given_sentence

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from heatmap.pictures import EvennessPoint
    from heatmap.verdict.comparison import Comparison

Values = dict[str, Any]


def report_html(
    assessment: Assessment,
    *,
    comparison: Comparison | None = None,
    advice: bool = True,
    places: Placement | None = None,
    sear: SearSection | None = None,
    history: Sequence[EvennessPoint] = (),
    made_at: datetime | None = None,
    version: str = "",
) -> str:
    """Return a report as one HTML page that needs nothing else.

    Parameters
    ----------
    assessment : Assessment
    comparison : Comparison, optional
        An earlier round; adds before and after.
    advice : bool
        Whether to say what to turn, with the map expected after it.
    places : Placement, optional
        Where to set the food down.
    sear : SearSection, optional
    history : sequence of EvennessPoint
        Drawn when there are three rounds or more; two are told apart better by `comparison`.
    made_at : datetime, optional
        When the report was made.
    version : str
        Of this software.

    Returns
    -------
    str
    """
    from jinja2 import Environment, StrictUndefined

    engine = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True, finalize=_unbroken
    )
    template = engine.from_string(files("heatmap.report").joinpath("page.html.j2").read_text(encoding="utf-8"))
    return template.render(
        **_head(assessment, made_at, version),
        comparison=_comparison(comparison, assessment),
        advice=_advice(assessment) if advice else None,
        places=_places(assessment, places),
        sear=_sear(assessment, sear),
        history=_history(assessment, history),
        spots=[_spot_row(spot, assessment) for spot in assessment.spots],
        notes=[_note(spot) for spot in assessment.spots if spot.spot.reading.note],
        assumed=assessment.grill.assumed,
        cautions=_cautions(sear),
    )


def _unbroken(value: Any) -> Any:
    """Keep a number and its unit on one line."""
    return value.replace(" %", "\u00a0%").replace(" °", "\u00a0°") if isinstance(value, str) else value


def _head(assessment: Assessment, made_at: datetime | None, version: str) -> Values:
    from heatmap.pictures import MARKS, heat_map

    answer = map_answer(assessment)
    first, _, rest = answer.partition("; ")
    display = Display(assessment.grill.units)
    return {
        "title": assessment.grill.name or "Grate map",
        "round_line": _round_line(assessment, made_at),
        "answer": first,
        "answer_rest": rest[:1].upper() + rest[1:],
        "band": band_sentence(assessment),
        "map": _picture(heat_map(assessment, title=""), f"Heat map seen from above. {answer}"),
        "facts": _facts(assessment),
        "remedies": remedies(assessment),
        "marks": {word: mark.glyph for word, mark in MARKS.items()},
        "degrees": display.degrees,
        "made_line": _made_line(made_at, version),
    }


def _round_line(assessment: Assessment, made_at: datetime | None) -> str:
    one = assessment.round
    parts = [f"Round {one.number}"]
    taken = ""
    if one.taken_at is not None:
        taken = _when(one.taken_at.astimezone(made_at.tzinfo) if made_at and made_at.tzinfo else one.taken_at)
    # A session is mostly named by its day, which the time begins with.
    parts += [part for part in ("" if taken.startswith(one.session) else one.session, taken) if part]
    known = [burner for burner in assessment.grill.burners if burner.name in one.settings]
    marks = [f"{burner.name} {burner.mark_text(one.settings[burner.name])}" for burner in known]
    if marks:
        parts.append("marks: " + ", ".join(marks))
    return " · ".join(parts)


def _when(moment: datetime) -> str:
    return moment.strftime("%Y-%m-%d %H:%M %z").strip()


def _made_line(made_at: datetime | None, version: str) -> str:
    by = f"gratemap {version}".strip()
    return f"Made by {by}, {_when(made_at)}." if made_at else f"Made by {by}."


def _facts(assessment: Assessment) -> list[tuple[str, str]]:
    display, even = Display(assessment.grill.units), assessment.evenness

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


def _picture(figure: Figure, text: str) -> Values:
    """Return a picture as data for the page, its text for those who cannot see it, and its width over its height."""
    from heatmap.pictures import svg_bytes

    encoded = base64.b64encode(svg_bytes(figure)).decode("ascii")
    width, height = (round(100 * size) for size in figure.get_size_inches())
    return {"source": f"data:image/svg+xml;base64,{encoded}", "text": text, "width": width, "height": height}


def _comparison(comparison: Comparison | None, after: Assessment) -> Values | None:
    if comparison is None:
        return None
    from heatmap.pictures import difference_map

    before, display, answer = comparison.before, Display(after.grill.units), compare_lines(comparison)[0]
    figure = difference_map(comparison, title="")
    return {
        "answer": answer,
        "picture": _picture(figure, f"Map of what changed from round {before.round.number}. {answer}"),
        "rows": [
            (
                str(one.round.number),
                percent(one.evenness.share_in_band),
                percent_range(one.evenness.share_in_band_low, one.evenness.share_in_band_high),
                display.difference_text(one.evenness.p95_minus_p5_c),
            )
            for one in (before, after)
        ],
    }


def _advice(assessment: Assessment) -> Values | None:
    lines = advice_lines(assessment)
    if not lines:
        return None
    knobs = any(burner.control != "none" for burner in assessment.grill.burners)
    title = "What to turn" if knobs else "What to do about the heat"
    if not assessment.advice.changes:
        return {"title": title, "lines": lines, "bold": 1, "picture": None}
    from heatmap.pictures import expected_map

    figure = expected_map(assessment, title="")
    text = "The map now and the map expected after. " + " ".join(lines)
    changes = len(assessment.advice.changes)
    return {"title": title, "lines": lines, "bold": changes, "picture": _picture(figure, text)}


def _places(assessment: Assessment, placement: Placement | None) -> Values | None:
    if placement is None:
        return None
    from heatmap.pictures import heat_map, outlines_of

    answer = place_answer(assessment, placement)
    figure = heat_map(assessment, title="", places=outlines_of(placement))
    return {
        "answer": answer,
        "unlikely": unlikely_sentence(assessment, placement),
        "lengths": Display(assessment.grill.units).lengths,
        "rows": [_place_row(assessment, number, place) for number, place in enumerate(placement.places, 1)],
        "picture": _picture(figure, f"Heat map with the places outlined. {answer}"),
    }


def _place_row(assessment: Assessment, number: int, place: Place) -> Values:
    display = Display(assessment.grill.units)
    label = f"turn {place.turn}" if place.turn else f"piece {place.piece}" if place.piece else str(number)
    again = "" if place.fresh else ", rails used again"
    from_left, from_front = centre_numbers(place, display)
    return {
        "where": f"{label}, {region_name(place.x_mm, place.y_mm, assessment.grill.grate)}{again}",
        "from_left": from_left,
        "from_front": from_front,
        "headings": heading_text(place.headings),
        "mean": f"{display.temperature(place.mean_c):.0f} ±{display.margin(place.mean_std_c):.0f}",
        "within": f"{display.difference(place.std_within_c):.0f}",
        "chance": percent(place.chance_in_band),
    }


def _sear(assessment: Assessment, sear: SearSection | None) -> Values | None:
    if sear is None:
        return None
    plan, display = sear.plan, Display(assessment.grill.units)
    answer = f"{plan.seconds_per_turn:.0f} s a turn, {plan.turns} turns"
    return {
        "answer": answer,
        "warning": plan.warning,
        "likely": f"It may really take {plan.seconds_low:.0f} to {plan.seconds_high:.0f} s.",
        "given": given_sentence(sear.food, sear.rails, display),
        "cautions": list(plan.cautions),
        "pull": display.temperature_text(plan.pull_centre_c),
        "peak": display.temperature_text(plan.peak_centre_c),
        "peak_limits": f"{display.temperature(plan.peak_low_c):.0f} to {display.temperature_text(plan.peak_high_c)}",
        "rows": [_sensitivity_row(one, display) for one in plan.sensitivities],
        "assumptions": list(plan.assumptions),
        "picture": _sear_picture(sear, assessment.grill.units, answer) if sear.lines else None,
    }


def _sear_picture(sear: SearSection, units: Units, answer: str) -> Values:
    from heatmap.pictures import sensitivity

    std_c = math.hypot(sear.rails.own_std_c, sear.rails.shared_std_c)
    figure = sensitivity(
        sear.lines,
        rail_now_c=sear.rails.rail_c,
        rail_std_c=std_c or None,
        seconds_range=(sear.plan.seconds_low, sear.plan.seconds_high),
        units=units,
        title="",
    )
    return _picture(figure, f"Seconds per turn against rail temperature. {answer}.")


def _sensitivity_row(one: Sensitivity, display: Display) -> tuple[str, str, str]:
    step = display.difference_text(one.step) if one.unit == "°C" else display.length_text(one.step)
    more, less = {"thickness": ("thicker", "thinner")}.get(one.of, ("hotter", "cooler"))
    what = {"rails": "Rails", "thickness": "Food", "start": "Start"}.get(one.of, one.of)
    return (f"{what} {step} {more} / {less}", f"{signed(one.more_s)} s", f"{signed(one.less_s)} s")


def _history(assessment: Assessment, points: Sequence[EvennessPoint]) -> Values | None:
    if len(points) < 3:
        return None
    from heatmap.pictures import evenness_history

    first, last = points[0], points[-1]
    text = (
        f"From round {first.label} to round {last.label}: in band {percent(first.share)}, then {percent(last.share)}."
    )
    figure = evenness_history(points, units=assessment.grill.units, title="")
    return _picture(figure, text)


def _spot_row(assessed: AssessedSpot, assessment: Assessment) -> Mapping[str, str]:
    display, spot = Display(assessment.grill.units), assessed.spot
    reading = spot.reading

    def temperature(celsius: float | None) -> str:
        return "–" if celsius is None else f"{display.temperature(celsius):.0f}"

    def limits(std_c: float | None) -> str:
        return "–" if std_c is None else f"±{display.margin(std_c):.0f}"

    x, y = (f"{display.length(value):.3g}" for value in reading.point_mm)
    return {
        "position": reading.position or f"{x}, {y} {display.lengths}",
        "aim": "" if reading.aim == "rail" else reading.aim,
        "shown": temperature(reading.shown_c),
        "rail": temperature(spot.rail_c),
        "own": limits(spot.own_std_c),
        "shared": limits(spot.shared_std_c),
        "word": "left out" if assessed.suspect else (assessed.word or "–"),
        "mark": "suspect" if assessed.suspect else (assessed.word or ""),
    }


def _note(assessed: AssessedSpot) -> tuple[str, str]:
    reading = assessed.spot.reading
    return (reading.position or f"reading {reading.id}", reading.note)


def _cautions(sear: SearSection | None) -> list[str]:
    food = tuple(sear.plan.cautions) if sear is not None else ()
    return list(dict.fromkeys((*food, *cautions.AT_THE_GRILL, *cautions.WITH_THE_GUN)))
