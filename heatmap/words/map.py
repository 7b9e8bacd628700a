"""What the map means: the answer, its limits, and what would make it surer."""

from __future__ import annotations

import math

from heatmap.assessment import AssessedSpot, Assessment
from heatmap.correct import PAIRS, Calibration, close_up_mm, tells_valley
from heatmap.grate_model.round_map import age_minutes, is_recheck
from heatmap.grill.grill import Grill, Point
from heatmap.units import STDS_95, Display, percent, percent_range
from heatmap.verdict.chances import Word
from heatmap.words.grill import zone_text
from heatmap.words.phrases import joined
from heatmap.words.regions import regions

#: From this share in band on, the grate as a whole is called in band.
MOSTLY = 0.8
#: So many positions are named one by one.
MOST_LABELS = 4
#: So many standard deviations on either side hold the 80 % from which on a verdict is sure (chances.SURE).
_STDS_80 = 1.2816
#: What was taken beside the gun on the rail, as a sentence begins.
_REFERENCE_NAMES = {"contact": "Contact reading", "valley": "Valley shot", "patch": "Patch shot"}


def share_sentence(assessment: Assessment) -> str:
    """Say how much of the grate is in band, with its limits."""
    even = assessment.evenness
    # The mean of a lopsided distribution may lie beyond its limits, which reads like a slip.
    low, high = min(even.share_in_band_low, even.share_in_band), max(even.share_in_band_high, even.share_in_band)
    likely = percent_range(low, high)
    return f"{percent(even.share_in_band)} of {zone_text(assessment.grill)} is in band (likely {likely})"


def map_answer(assessment: Assessment) -> str:
    """Say in one or two sentences what the map means."""
    display = Display(assessment.grill.units)
    even = assessment.evenness
    hot, cold = _where(assessment, "too hot"), _where(assessment, "too cold")
    complaints = [f"too hot {hot}" if hot else "", f"too cold {cold}" if cold else ""]
    trouble = ", ".join(filter(None, complaints))
    if trouble:
        verdict = trouble[0].upper() + trouble[1:]
    elif in_band(assessment):
        verdict = "In band"
    elif level_hides_all(assessment):
        verdict = f"Cannot tell: the level is known only to ±{display.margin_text(assessment.level_std_c)}"
    else:
        verdict = "Partly in band, the rest unsure"
    spread = f"spread {display.difference_text(even.p95_minus_p5_c)}"
    return f"{verdict}; {share_sentence(assessment)}, {spread}."


def _where(assessment: Assessment, word: Word) -> str:
    """Say at which parts of the grate this word holds; where it holds of no whole part, at or near which positions."""
    parts = regions(assessment, word)
    if parts:
        return parts if parts == "everywhere" else f"at {parts}"
    flagged = [one.spot.reading for one in assessment.spots if one.word == word and not one.suspect]
    at = sorted({one.position for one in flagged if one.position})
    near = sorted({_nearest_label(assessment.grill, one.point_mm) for one in flagged if not one.position} - set(at))
    if len(at) + len(near) > MOST_LABELS:
        return f"{'at' if not near else 'at or near'} {len(at) + len(near)} positions"
    return " and ".join(f"{how} {joined(labels)}" for how, labels in (("at", at), ("near", near)) if labels)


def _nearest_label(grill: Grill, point_mm: Point) -> str:
    """Return the position a place is nearest to."""
    return min(grill.labels, key=lambda label: math.dist(grill.point_mm(label), point_mm))


def in_band(assessment: Assessment) -> bool:
    """Tell whether the grate as a whole is called in band."""
    return assessment.evenness.share_in_band >= MOSTLY


def level_hides_all(assessment: Assessment) -> bool:
    """Tell whether the level alone is so uncertain that no place could be called in band, not even its middle."""
    low_c, high_c = assessment.band_c
    return 2 * _STDS_80 * assessment.level_std_c > high_c - low_c


def band_sentence(assessment: Assessment) -> str:
    """Say once which numbers the band is in and what it is on the other side of the gun."""
    display = Display(assessment.grill.units)
    low, high = (display.temperature(value) for value in assessment.band_c)
    rail_low, rail_high = (display.temperature(value) for value in assessment.band_rail_c)
    if assessment.grill.target.numbers == "rail":
        return f"Numbers are rail temperatures; band {low:.0f}-{high:.0f} {display.degrees}."
    spread = display.margin(assessment.shared_std_c)
    return (
        f"Numbers are what your gun shows; {low:.0f}-{high:.0f} on your gun is about "
        f"{rail_low:.0f}-{rail_high:.0f} {display.degrees} on the rail (±{spread:.0f})."
    )


def tilt_sentence(assessment: Assessment) -> str:
    """Say which way the grate leans, where that is more than noise."""
    display = Display(assessment.grill.units)
    parts = []
    for tilt, positive, negative in (
        (assessment.evenness.right_minus_left_c, "right", "left"),
        (assessment.evenness.back_minus_front_c, "back", "front"),
    ):
        if abs(tilt.difference_c) > STDS_95 * tilt.std_c:
            hotter = positive if tilt.difference_c > 0 else negative
            colder = negative if tilt.difference_c > 0 else positive
            parts.append(f"the {hotter} is {display.difference_text(abs(tilt.difference_c))} hotter than the {colder}")
    return f"Tilt: {' and '.join(parts)}." if parts else "Tilt: none that is more than noise."


def drift_sentence(assessment: Assessment) -> str:
    """Say how fast the grate was warming or cooling, where that can be told."""
    drift, display = assessment.round_map.drift, Display(assessment.grill.units)
    if drift is None or abs(drift.per_minute_c) < 2 * drift.per_minute_std_c:
        return ""
    direction = "Rising" if drift.per_minute_c > 0 else "Falling"
    return f"{direction} {display.difference_text(abs(drift.per_minute_c))} a minute while you shot."


def shape_sentence(assessment: Assessment) -> str:
    """Say which earlier round a re-check took its shape from, or that few shots have none; empty for a full round."""
    full = assessment.shape_from
    if full is None and is_recheck(assessment.grill, assessment.round):
        places = len({reading.point_mm for reading in assessment.round.with_aim("rail")})
        return f"Only {places} positions were shot, with no full round to lean on: a rough map of its own."
    if full is None:
        return ""
    minutes = age_minutes(full.taken_at, assessment.round.taken_at)
    age = "" if minutes is None else f", {_minutes_text(minutes)} before"
    return f"A re-check: the shape is that of round {full.number}{age}; only level and tilt are from the new shots."


def disagreement_sentence(calibration: Calibration, shared_std_c: float) -> str:
    """Say that contact readings contradict one another, by how much, and what was done; empty where none do."""
    found = calibration.disagreement
    if found is None:
        return ""
    display = Display(calibration.grill.units)
    readings = (found.lower.reading, found.upper.reading)
    shown = " and ".join(
        f"{display.temperature(one.shown_c or 0.0):.0f} at {one.position or 'a spot'}" for one in readings
    )
    numbers = " and ".join(str(one.id) for one in readings)
    return (
        f"Contact readings disagree: {shown} (readings {numbers}) are {display.difference_text(found.apart_c)} apart. "
        f"Both count, so the rail is known only to ±{display.margin_text(shared_std_c)}; "
        "take another, or withdraw the wrong one."
    )


def _minutes_text(minutes: float) -> str:
    """Return a time in minutes, or in hours or days where those are read more easily."""
    if minutes < 120:
        return f"{minutes:.0f} min"
    return f"{minutes / 60:.0f} h" if minutes < 48 * 60 else f"{minutes / 1440:.0f} days"


def remedies(assessment: Assessment) -> list[str]:
    """Name what would make the answer surer, most useful first."""
    lines = [disagreement_sentence(assessment.calibration, assessment.shared_std_c)]
    known = any(pair.reading.aim == "contact" and pair.believed for pair in assessment.calibration.reference_pairs)
    if assessment.grill.target.numbers == "rail" and not known and level_hides_all(assessment):
        lines.append("One contact reading (a surface probe held on a rail) would pin the level of every round.")
        lines.append(_close_up_sentence(assessment))
    for assessed in assessment.spots:
        if assessed.suspect:
            reading = assessed.spot.reading
            why = left_out_text(assessed, Display(assessment.grill.units))
            lines.append(f"Left out {reading.position or 'a spot'} (reading {reading.id}): {why}")
    for pair in assessment.calibration.reference_pairs:
        if not pair.believed:
            what, where = _REFERENCE_NAMES[pair.reading.aim], pair.reading.position or "a spot"
            lines.append(f"{what} at {where} (number {pair.reading.id}) cannot be and was left out; take it again.")
    return [line for line in lines if line]


def _close_up_sentence(assessment: Assessment) -> str:
    """Say what the gun alone can do for the level; empty where it cannot, or pairs enough have been shot."""
    grill = assessment.grill
    near_mm, display = close_up_mm(grill), Display(grill.units)
    paired = [pair.reading for pair in assessment.calibration.reference_pairs if pair.partners]
    pairs = sum(tells_valley(grill, reading.distance_mm) for reading in paired)
    left = min(PAIRS, len(grill.labels)) - pairs
    if near_mm is None or left <= 0:
        return ""
    if pairs:
        return f"Shots from close up at {left} more positions (gratemap take --close-up) would tell more of it."
    return (
        "Without a probe one round with gratemap take --close-up (two more shots at each position, from "
        f"{display.length_text(near_mm)}) tells much of it. Glove on, hand to the side."
    )


def full_answer(assessment: Assessment) -> list[str]:
    """Return everything the terminal says under the map, line by line."""
    lines = [
        map_answer(assessment),
        shape_sentence(assessment),
        tilt_sentence(assessment),
        drift_sentence(assessment),
        band_sentence(assessment),
    ]
    return [line for line in lines if line] + remedies(assessment)


def left_out_text(assessed: AssessedSpot, display: Display) -> str:
    """Say why a reading is not believed; nothing for one that is."""
    if assessed.expected_shown_c is None:
        return ""
    return f"about {display.temperature_text(assessed.expected_shown_c)} is expected there by all others."
