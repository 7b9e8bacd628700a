"""`gratemap explain`: how one reading became a rail temperature, step by step."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from cli import console, loading
from cli.options import GRILL_FILE, READINGS_FILE, GrillFile, ReadingsFile, RoundNumber, SkipBad
from heatmap.errors import ReadingError
from heatmap.units import Display, percent

if TYPE_CHECKING:
    from heatmap.assessment import AssessedSpot, Assessment
    from heatmap.correct import Calibration


def command(
    position: Annotated[str, typer.Argument(metavar="POSITION", help="A position such as B3, or the id of a reading.")],
    grill: GrillFile = GRILL_FILE,
    readings: ReadingsFile = READINGS_FILE,
    round_number: RoundNumber = None,
    skip_bad: SkipBad = False,
) -> None:
    """Show how one reading became a rail temperature, step by step.

    \b
    Example: gratemap explain B3
    """
    assessment = loading.assessment(grill, readings, round_number, skip_bad=skip_bad)
    found = _named(assessment, position)
    for assessed in found:
        for line in explanation(assessment, assessed):
            console.answer(line)
    if not found:
        for line in not_shot(assessment, position.strip()):
            console.answer(line)


def _named(assessment: Assessment, position: str) -> list[AssessedSpot]:
    wanted = position.strip()
    found = [
        spot
        for spot in assessment.spots
        if spot.spot.reading.position.casefold() == wanted.casefold() or str(spot.spot.reading.id) == wanted
    ]
    if not found and wanted.isdigit():
        ids = [spot.spot.reading.id for spot in assessment.spots]
        raise ReadingError(
            f"round {assessment.round.number} has no reading {wanted}; "
            f"its readings are {min(ids)} to {max(ids)}, and a position such as B3 can be named too"
        )
    return found


def not_shot(assessment: Assessment, position: str) -> list[str]:
    """Return the lines that say what the map says of a position nobody shot.

    Raises
    ------
    ReadingError
        When there is no such position.
    """
    import numpy as np

    from heatmap.readings.written import locate
    from heatmap.verdict.chances import chances

    grill, number = assessment.grill, assessment.round.number
    display = Display(grill.units)
    label, point_mm = locate(position, grill)
    points_mm = np.array([point_mm])
    compared_c, std_c = (float(one[0]) for one in assessment.at(points_mm))
    rail_c, own_std_c = (float(one[0]) for one in assessment.surface.predict(points_mm))
    here = chances(compared_c, std_c, *assessment.band_c)
    shot = dict.fromkeys(one.position or f"reading {one.id}" for one in assessment.round.with_aim("rail"))
    lines = [
        f"{label} was not shot in round {number}; this is what the map between the shots says of it.",
        f"  Rail {display.temperature_text(rail_c)}: ±{display.margin(own_std_c):.0f} of this place, "
        f"±{display.margin(assessment.shared_std_c):.0f} shared by all (95 %).",
    ]
    if grill.target.numbers == "shown":
        lines.append(f"  Held against the band as {display.temperature_text(compared_c)}, as your gun shows it.")
    return [
        *lines,
        f"  The map calls this place {here.word}; chance to be in band {percent(here.in_band)}.",
        f"  Shot in round {number}: {', '.join(shot)}.",
    ]


def explanation(assessment: Assessment, assessed: AssessedSpot) -> list[str]:
    """Return the lines that explain one reading."""
    from heatmap.correct import telling, tells_valley, trail
    from heatmap.words.reading import cannot_tell_sentence

    display, reading = Display(assessment.grill.units), assessed.spot.reading
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


def _budget(assessment: Assessment, assessed: AssessedSpot, display: Display) -> list[str]:
    own_c, shared_c = assessed.spot.own_std_c or 0.0, assessed.spot.shared_std_c or 0.0
    assert assessed.spot.rail_c is not None and assessed.compared_c is not None
    lines = [
        f"  Rail {display.temperature_text(assessed.spot.rail_c)}: "
        f"±{display.margin(own_c):.0f} this reading alone, "
        f"±{display.margin(shared_c):.0f} shared by all readings (95 %)."
    ]
    if assessment.grill.target.numbers == "shown":
        lines.append(
            f"  Held against the band as {display.temperature_text(assessed.compared_c)}, as your gun shows it."
        )
    if assessed.suspect:
        from heatmap.words.map import left_out_text

        lines.append(f"  Left out of the map: {left_out_text(assessed, display)}")
    elif assessed.word is not None and assessed.chance_in_band is not None:
        chance = percent(assessed.chance_in_band)
        lines.append(f"  The map calls this place {assessed.word}; chance to be in band {chance}.")
    return lines


def _level_from(calibration: Calibration) -> list[str]:
    from heatmap.words.map import disagreement_sentence

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
