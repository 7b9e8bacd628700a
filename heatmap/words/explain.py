"""How one reading became a rail temperature, step by step; and what a position comes to, in three lines."""

import numpy as np

from heatmap.assessment import AssessedSpot, Assessment
from heatmap.correct import Calibration, Step, Telling, Trail, tells_valley
from heatmap.grill.grate import Point
from heatmap.units import Display, percent
from heatmap.verdict.chances import chances
from heatmap.verdict.tuning import SURE
from heatmap.words.gun import cannot_tell_sentence
from heatmap.words.map import disagreement_sentence, left_out_text


def explained_lines(assessment: Assessment, assessed: AssessedSpot) -> list[str]:
    """Explain one reading."""
    display, reading = assessment.grill.display, assessed.spot.reading
    where = f"{reading.position or 'a spot'}, {reading.aim} (reading {reading.id}, round {reading.round})"
    if assessed.spot.rail_c is None:
        what = f"A {reading.aim} reading says nothing of the rail by itself; it pins what the gun cannot know."
        if reading.aim == "valley" and not tells_valley(assessment.grill, reading.distance_mm):
            what = "It tells little: from so far the spot takes in rail and valley alike."
        return [where, f"  {what}"]
    calibration = assessment.log.calibrations(assessment.round)[reading.surface]
    shown = Trail(reading, calibration)
    lines = [where]
    lines += [
        f"  {display.temperature_text(step.after_c):>8}  {_step(step, reading.aim, display)}" for step in shown.steps
    ]
    if reading.aim == "rail":
        view = calibration.view(reading.distance_mm)
        across = f"The spot is {display.length_text(view.spot_mm)} across"
        lines.append(f"  {across}; {percent(view.share[0])} of it is rail top.")
        why = cannot_tell_sentence(Telling(shown.spot, calibration), assessment.grill)
        lines += [f"  The rail cannot be told from this. {why}"] if why else []
    lines += _budget(assessment, assessed, display)
    for kind, parts in (("own", shown.own), ("shared", shown.shared)):
        for source, std_c in sorted(parts.items(), key=lambda part: -part[1]):
            lines.append(f"    {kind:6s} ±{display.margin(std_c):5.1f} {display.degrees}  {source}")
    return lines + _level_from(calibration)


#: What was read, or undone, at each step of the trail.
_STEPS = {
    "reading": "{aim} reading",
    "probe": "a probe on a narrow rail reads low",
    "shown": "the gun showed",
    "gun": "its own error taken out, by the readings it was compared with",
    "setting": "its setting of {size:g} undone",
    "valley": "the valley taken out: {share} of the spot, taken as {excess} than the rail",
    "emissivity": "reflection and emissivity {size:.2f} undone",
}


def _step(step: Step, aim: str, display: Display) -> str:
    """Say what was read, or undone."""
    excess = f"{display.difference_text(abs(step.excess_c))} {'hotter' if step.excess_c >= 0 else 'colder'}"
    return _STEPS[step.what].format(aim=aim, size=step.size, share=percent(step.size), excess=excess)


def not_shot_lines(assessment: Assessment, position: str) -> list[str]:
    """Say what the map says of a place nobody shot."""
    first, *rest = three_lines(assessment, position)
    shot = dict.fromkeys(one.position or f"reading {one.id}" for one in assessment.round.with_aim("rail"))
    return [first, *(f"  {line}" for line in rest), f"  Shot in round {assessment.round.number}: {', '.join(shot)}."]


def _budget(assessment: Assessment, assessed: AssessedSpot, display: Display) -> list[str]:
    spot = assessed.spot
    assert spot.rail_c is not None and assessed.compared_c is not None
    lines = [f"  {rail_sentence(display, spot.rail_c, spot.own_std_c or 0.0, spot.shared_std_c or 0.0)}"]
    if assessment.grill.target.numbers == "shown":
        compared = display.temperature_text(assessed.compared_c)
        lines.append(f"  Held against the band as {compared}, as your gun shows it.")
    if assessed.suspect:
        lines.append(f"  Left out of the map: {left_out_text(assessed, display)}")
    elif assessed.word is not None:
        lines.append(f"  {map_sentence(assessment, spot.reading.point_mm)}")
    return lines


def _level_from(calibration: Calibration) -> list[str]:
    pairs = [pair for pair in calibration.reference_pairs if pair.believed]
    if not pairs:
        return ["  No contact reading yet: the shared part comes from the grill file alone."]
    kinds = ", ".join(sorted({pair.reading.aim for pair in pairs}))
    disagree = disagreement_sentence(calibration)
    return [
        *([f"  {disagree}"] if disagree else []),
        f"  The shared part was pinned by {len(pairs)} reading{'s' if len(pairs) > 1 else ''} ({kinds}); they tie its "
        "sources together, which add up to less than each alone.",
    ]


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
    first = f"{label} was not shot in round {assessment.round.number}; the map between the shots says:"
    if there:
        last = (believed or there)[-1]
        left_out = f"; left out, {left_out_text(last, display)}" if last.suspect else "."
        first = f"{label}: the gun showed {display.temperature_text(last.spot.reading.shown_c or 0.0)}{left_out}"
    rail_c, own_std_c = (float(one[0]) for one in assessment.surface.predict(np.array([point_mm])))
    if believed:
        rail_c, own_std_c = believed[-1].spot.rail_c or 0.0, believed[-1].spot.own_std_c or 0.0
    rail = rail_sentence(display, rail_c, own_std_c, assessment.shared_std_c)
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
