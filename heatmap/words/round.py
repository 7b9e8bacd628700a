"""A round at a glance, as it grows, and what one position of it comes to, where there is room for three lines."""

from __future__ import annotations

import numpy as np

from heatmap.assessment import AssessedSpot, Assessment
from heatmap.decisions.tuning import HARDLY
from heatmap.grill.grate import Point
from heatmap.grill.grill import Grill
from heatmap.taking.preheat import Rise
from heatmap.taking.running import RunningMap
from heatmap.units import Display, percent
from heatmap.verdict.chances import chances
from heatmap.verdict.tuning import SURE
from heatmap.words.map import disagreement_sentence, left_out_text
from heatmap.words.next import HARDLY_CHANGES, why_text
from heatmap.words.phrases import joined


def round_heading(number: int, shot: int, count: int, lid: str) -> str:
    """Say which round this is and how far it has got."""
    return f"Round {number}, {shot} of {count} shot, lid {lid}"


def three_lines(assessment: Assessment, position: str) -> list[str]:
    """Say what a position comes to: what the gun showed, the rail, and how it stands to the band.

    Raises
    ------
    ReadingError
        When there is no such position.
    """
    grill, display = assessment.grill, assessment.grill.display
    label, point_mm = grill.label(position), grill.point_mm(position)
    there = [one for one in assessment.spots if one.spot.reading.position == label and one.spot.reading.aim == "rail"]
    believed = [one for one in there if not one.suspect and one.spot.rail_c is not None]
    if not there:
        first = f"{label} was not shot in round {assessment.round.number}; the map between the shots says:"
    else:
        first = _shown(label, (believed or there)[-1], display)
    if believed:
        rail_c, own_std_c = believed[-1].spot.rail_c, believed[-1].spot.own_std_c
    else:
        rail_c, own_std_c = (float(one[0]) for one in assessment.surface.predict(np.array([point_mm])))
    assert rail_c is not None
    rail = rail_sentence(display, rail_c, own_std_c or 0.0, assessment.shared_std_c)
    return [first, rail, map_sentence(assessment, point_mm)]


def rail_sentence(display: Display, rail_c: float, own_std_c: float, shared_std_c: float) -> str:
    """Say how warm the rail is, and how surely."""
    return (
        f"Rail {display.temperature_text(rail_c)}: ±{display.margin(own_std_c):.0f} by itself, "
        f"±{display.margin(shared_std_c):.0f} shared by all readings (95 %)."
    )


def map_sentence(assessment: Assessment, point_mm: Point) -> str:
    """Say what the map makes of a place: what it leans to where it is not sure."""
    compared_c, std_c = (float(one[0]) for one in assessment.at(np.array([point_mm])))
    here = chances(compared_c, std_c, *assessment.band_c)
    likeliest = max(here, key=lambda word: here[word])
    called = likeliest if here[likeliest] >= SURE else f"perhaps {likeliest}"
    return (
        f"The map here: {assessment.grill.display.temperature_text(compared_c)} in the band's numbers, "
        f"{called}, {percent(here['in band'])} likely in band."
    )


def _shown(label: str, one: AssessedSpot, display: Display) -> str:
    shown_c = one.spot.reading.shown_c
    assert shown_c is not None
    left_out = f"; left out, {left_out_text(one, display)}" if one.suspect else "."
    return f"{label}: the gun showed {display.temperature_text(shown_c)}{left_out}"


#: So many positions are named one by one.
_MOST_LABELS = 8


def so_far_sentence(running: RunningMap) -> str:
    """Say which positions are in band so far, and which are not."""
    count = sum(map(bool, running.words))
    leaning = len(running.labelled("in band", sure=False))
    perhaps = f", {leaning} more perhaps" if leaning else ""
    parts = [f"in band {len(running.labelled('in band'))} of {count}{perhaps}"]
    for word in ("too hot", "too cold"):
        for labels, how in ((running.labelled(word), word), (running.labelled(word, sure=False), f"perhaps {word}")):
            if labels:
                parts.append(f"{how} {_listed(labels)}")
    return f"So far: {'; '.join(parts)}."


def _listed(labels: tuple[str, ...]) -> str:
    more = f" and {len(labels) - _MOST_LABELS} more" if len(labels) > _MOST_LABELS else ""
    return f"{' '.join(labels[:_MOST_LABELS])}{more}"


def contradiction_sentence(running: RunningMap) -> str:
    """Say that contact readings contradict one another, while the probe is still at hand; else nothing."""
    found, number = running.calibration.disagreement, running.round_map.round.number
    if found is None or number not in (found.lower.reading.round, found.upper.reading.round):
        return ""  # of an earlier round the answer at the end tells it
    return disagreement_sentence(running.calibration)


def least_sure_sentence(running: RunningMap) -> str:
    """Say where the map is least sure, or that more shots would hardly change the answer."""
    if running.is_enough:
        return f"{HARDLY_CHANGES.removesuffix('.')}: done (*) ends the round."
    best = running.next
    hangs = f" Most hangs on {best.position}: {why_text(best)}." if best.gain > 0.1 * HARDLY else ""
    return f"Least sure at {joined(list(running.least_sure))}.{hangs}"


def rise_sentence(found: Rise | None, grill: Grill, *, preheating: bool) -> str:
    """Say how fast the grate rises, where that is worth saying."""
    display = grill.display
    if found is None:
        return "How fast it rises shows when both are shot again." if preheating else ""
    rate = f"{abs(display.difference(found.per_minute_c)):.0f} {display.degrees} a minute"
    if found.is_rising:
        return f"Rising {rate}, hold on." if preheating else f"Rising {rate}, hold on: a map now would soon be old."
    if not preheating:
        return ""
    if found.is_steady:
        return f"Nearly steady: {rate}."
    if found.per_minute_c < -2.0 * found.std_c:
        return f"Falling {rate}, hold on."
    return f"Changing by about {rate}, give or take {display.margin(found.std_c):.0f}; shoot on."
