"""How one reading became a rail temperature, step by step."""

from __future__ import annotations

from heatmap.assessment import AssessedSpot, Assessment
from heatmap.correct import Calibration, telling, tells_valley, trail
from heatmap.units import Display, percent
from heatmap.words.gun import cannot_tell_sentence
from heatmap.words.map import disagreement_sentence, left_out_text
from heatmap.words.round import map_sentence, rail_sentence, three_lines


def explained_lines(assessment: Assessment, assessed: AssessedSpot) -> list[str]:
    """Explain one reading."""
    display, reading = assessment.grill.display, assessed.spot.reading
    where = f"{reading.position or 'a spot'}, {reading.aim} (reading {reading.id}, round {reading.round})"
    if assessed.spot.rail_c is None:
        what = f"A {reading.aim} reading says nothing of the rail by itself; it pins what the gun cannot know."
        if reading.aim == "valley" and not tells_valley(assessment.grill, reading.distance_mm):
            what = "It tells little: from so far the spot takes in rail and valley alike."
        return [where, f"  {what}"]
    calibration = assessment.calibrations[reading.surface]
    shown = trail(reading, calibration)
    lines = [where]
    for step in shown.steps:
        what = step.what
        if step.difference_c is not None:
            direction = "hotter" if step.difference_c >= 0 else "colder"
            what = what.format(difference=f"{display.difference_text(abs(step.difference_c))} {direction}")
        lines.append(f"  {display.temperature_text(step.after_c):>8}  {what}")
    if reading.aim == "rail":
        lines.append(
            f"  The spot is {display.length_text(shown.spot_mm)} across; {percent(shown.rail_share)} of it is rail top."
        )
        why = cannot_tell_sentence(telling(shown.spot, calibration), assessment.grill)
        lines += [f"  The rail cannot be told from this. {why}"] if why else []
    lines += _budget(assessment, assessed, display)
    for item in sorted(shown.contributions, key=lambda one: (one.kind, -one.std_c)):
        lines.append(f"    {item.kind:6s} ±{display.margin(item.std_c):5.1f} {display.degrees}  {item.source}")
    return lines + _level_from(calibration)


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
