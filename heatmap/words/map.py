"""What the map means: the answer, its limits, and what would make it surer."""

from heatmap.assessment import AssessedSpot, Assessment
from heatmap.correct import Calibration
from heatmap.decisions.decision import Decision
from heatmap.decisions.remedies import Remedy, close_ups
from heatmap.grate_model.response import Layout
from heatmap.grate_model.round_map import age_minutes, is_recheck
from heatmap.grill.grill import Grill
from heatmap.units import STDS_95, Display, percent, percent_range
from heatmap.verdict.oddities import Oddity
from heatmap.words.decision import age_text, decision_sentence, remedy_sentence
from heatmap.words.grill import zone_text
from heatmap.words.phrases import joined
from heatmap.words.regions import Headline, regions

#: From this share in band on, the grate as a whole is called in band.
MOSTLY = 0.8
#: So many positions are named one by one.
MOST_LABELS = 4
#: How the burners lie against what the grill file says.
_LAID = {
    Layout.LEFT_TO_RIGHT: "mirrored left to right",
    Layout.FRONT_TO_BACK: "mirrored front to back",
    Layout.HALF_TURN: "turned by half",
    Layout.QUARTER_TURN: "turned by a quarter",
    Layout.QUARTER_TURN_BACK: "turned by a quarter",
}
#: What was taken beside the gun on the rail, as a sentence begins.
_REFERENCE_NAMES = {"contact": "Contact reading", "valley": "Valley shot", "patch": "Patch shot"}


def share_sentence(assessment: Assessment) -> str:
    """Say how much of the grate is in band, with its limits, and how far apart its parts are."""
    even = assessment.evenness
    # The mean of a lopsided distribution may lie beyond its limits, which reads like a slip.
    low, high = min(even.share_in_band_low, even.share_in_band), max(even.share_in_band_high, even.share_in_band)
    likely = percent_range(low, high)
    spread = assessment.grill.display.difference_text(even.p95_minus_p5_c)
    return f"{percent(even.share_in_band)} of {zone_text(assessment.grill)} in band ({likely}), spread {spread}."


def map_answer(assessment: Assessment) -> str:
    """Say in one or two sentences what the map means."""
    return f"{_verdict(assessment)}; {share_sentence(assessment)}"


def _verdict(assessment: Assessment) -> str:
    """Say where it is too hot or too cold; else how far it is in band, and what may not be."""
    found = Headline(assessment)
    trouble = ", ".join(f"{word} {where}" for word in found.chances if (where := _where(found, word)))
    if trouble:
        return trouble[0].upper() + trouble[1:]
    perhaps = ", ".join(f"perhaps {word} at {joined(_few(labels))}" for word, labels in found.leaning.items() if labels)
    if in_band(assessment):
        return f"Mostly in band, {perhaps}" if perhaps else "In band"
    if assessment.level_hides_all:
        margin = assessment.grill.display.margin_text(assessment.level_std_c)
        return f"Cannot tell: the level is known only to ±{margin}"
    return f"Partly in band, {perhaps or 'the rest unsure'}"


def _where(found: Headline, word: str) -> str:
    """Say which parts are so, with the least of their chances, and which positions besides; or nothing."""
    chances, besides = found.chances[word], _few(found.sure[word])
    if not chances:
        return f"at {joined(besides)}" if besides else ""
    parts = joined(regions(chances, found.counts, alone=not besides))
    told = f"{'' if parts.startswith('everywhere') else 'at '}{parts} ({percent(min(chances.values()))})"
    return joined([told, *besides])


def _few(labels: list[str]) -> list[str]:
    return [f"{len(labels)} positions"] if len(labels) > MOST_LABELS else labels


def in_band(assessment: Assessment) -> bool:
    """Tell whether the grate as a whole is called in band."""
    return assessment.evenness.share_in_band >= MOSTLY


def band_sentence(assessment: Assessment) -> str:
    """Say once which numbers the band is in and what it is on the other side of the gun."""
    display = assessment.grill.display
    band, on_rail = (display.range_text(*limits_c) for limits_c in (assessment.band_c, assessment.band_rail_c))
    if assessment.grill.target.numbers == "rail":
        return f"Numbers are rail temperatures; band {band} {display.degrees}."
    spread = display.margin(assessment.shared_std_c)
    return (
        f"Numbers are what your gun shows; {band} on your gun is about {on_rail} {display.degrees} on the rail "
        f"(±{spread:.0f})."
    )


def tilt_sentence(assessment: Assessment) -> str:
    """Say which way the grate leans, where that is more than noise."""
    display, chances = assessment.grill.display, Headline(assessment).chances
    parts = []
    for tilt, sides in (
        (assessment.evenness.right_minus_left_c, ("right", "left")),
        (assessment.evenness.back_minus_front_c, ("back", "front")),
    ):
        # What the headline says of the sides goes before a plane through all of it.
        hot, cold = (sum((sides[0] in part) - (sides[1] in part) for part in found) for found in chances.values())
        against = (hot - cold) * tilt.difference_c < 0
        if abs(tilt.difference_c) > STDS_95 * tilt.std_c and not against:
            hotter, colder = sides if tilt.difference_c > 0 else sides[::-1]
            parts.append(f"the {hotter} is {display.difference_text(abs(tilt.difference_c))} hotter than the {colder}")
    return f"Tilt: {' and '.join(parts)}." if parts else "Tilt: none that is more than noise."


def drift_sentence(assessment: Assessment) -> str:
    """Say how fast the grate was warming or cooling, where that can be told."""
    drift = assessment.surface.drift_c_per_min()
    if drift is None or abs(drift[0]) < 2 * drift[1]:
        return ""
    direction = "Rising" if drift[0] > 0 else "Falling"
    return f"{direction} {assessment.grill.display.difference_text(abs(drift[0]))} a minute while you shot."


def shape_sentence(assessment: Assessment) -> str:
    """Say which earlier round a re-check took its shape from, or that few shots have none; empty for a full round."""
    full = assessment.shape_from
    if full is None and is_recheck(assessment.grill, assessment.round):
        places = len({reading.point_mm for reading in assessment.round.with_aim("rail")})
        return f"Only {places} positions were shot, with no full round to lean on: a rough map of its own."
    if full is None:
        return ""
    minutes = age_minutes(full.taken_at, assessment.round.taken_at)
    age = "" if minutes is None else f", {age_text(minutes)} before"
    return f"A re-check: the shape is that of round {full.number}{age}; only level and tilt are from the new shots."


def disagreement_sentence(calibration: Calibration) -> str:
    """Say that contact readings contradict one another, by how much, and what to do; empty where none do."""
    found = calibration.disagreement
    if found is None:
        return ""
    display = calibration.grill.display
    readings = (found.lower.reading, found.upper.reading)
    shown = ", ".join(
        f"{display.temperature(one.shown_c or 0.0):.0f} at {one.position or 'a spot'}" for one in readings
    )
    return f"Contact readings disagree by {display.difference_text(found.apart_c)}: {shown}; take another."


def level_lines(assessment: Assessment) -> list[str]:
    """Say what would pin the level, where it is not known; and that contact readings contradict one another."""
    found = [disagreement_sentence(assessment.calibration)]
    known = any(pair.reading.aim == "contact" and pair.believed for pair in assessment.calibration.reference_pairs)
    if assessment.grill.target.numbers == "rail" and not known and assessment.level_hides_all:
        helps: tuple[Remedy | None, ...] = ("contact reading", close_ups(assessment))
        found += [remedy_sentence(assessment.grill, one) for one in helps if one]
    return list(filter(None, found))


def left_out_lines(assessment: Assessment) -> list[str]:
    """Say which readings are not believed, and what was expected there, in one line for all shots; which marks; and how
    the burners seem to lie.
    """
    display = assessment.grill.display
    shots = [
        f"{one.spot.reading.position or 'a spot'} (reading {one.spot.reading.id}), about "
        f"{display.temperature(one.expected_shown_c):.0f} expected"
        for one in assessment.spots
        if one.expected_shown_c is not None
    ]
    lines = [f"Left out {'; '.join(shots)}."] if shots else []
    for pair in assessment.calibration.reference_pairs:
        if not pair.believed:
            what, where = _REFERENCE_NAMES[pair.reading.aim], pair.reading.position or "a spot"
            lines.append(f"{what} at {where} (number {pair.reading.id}) cannot be and was left out; take it again.")
    for number in assessment.model.contradicted:
        lines.append(f"Round {number} does not fit its marks: was a knob written down wrong? It counts for little.")
    layout = assessment.model.layout
    if layout is not Layout.AS_TOLD:
        lines.append(f"Your burners seem to lie {_LAID[layout]}: check [[burner]] in grill.toml.")
    return lines


def map_lines(assessment: Assessment, decision: Decision) -> list[str]:
    """Say what to do, what was not believed, and what the map means."""
    first = [decision_sentence(assessment, decision), disagreement_sentence(assessment.calibration)]
    headline = f"{_verdict(assessment)}; {percent(assessment.evenness.share_in_band)} in band."
    return [*filter(None, first), *left_out_lines(assessment), headline]


def map_why_lines(assessment: Assessment) -> list[str]:
    """Say the rest: which way it leans, how it moved, what the numbers are, and what would make them surer."""
    lines = [
        share_sentence(assessment),
        shape_sentence(assessment),
        tilt_sentence(assessment),
        drift_sentence(assessment),
        band_sentence(assessment),
        *level_lines(assessment),
    ]
    return [line for line in lines if line]


def left_out_text(assessed: AssessedSpot, display: Display) -> str:
    """Say why a reading is not believed; nothing for one that is."""
    if assessed.expected_shown_c is None:
        return ""
    return f"about {display.temperature_text(assessed.expected_shown_c)} is expected there by all others."


def oddity_sentence(oddity: Oddity, number: int, grill: Grill) -> str:
    """Say what is odd about the round of this number, and what to look at."""
    display, readings = grill.display, oddity.readings
    shown_c = [one.shown_c for one in readings if one.shown_c is not None]
    match oddity.kind:
        case "other unit":
            shown = display.range_text(min(shown_c), max(shown_c))
            other = "°C" if display.units == "us" else "°F"
            return (
                f"Round {number}: is it in {other}? {shown} {display.degrees} is far from your band, "
                f"{shown} {other} would be in it. Then write {other[1]} behind each number, or set the gun."
            )
        case "all alike":
            shown = display.temperature_text(shown_c[0])
            return f"Round {number}: all {len(readings)} shots show {shown}: does the gun hold its number?"
        case "said again":
            place = readings[0].position or "x, y"
            return (
                f"Round {number}: {len(readings)} rows say what others say, the first at {place} "
                f"(reading {readings[0].id}): pasted twice? Each counts as a shot."
            )
        case "yet to come":
            when, latest = max((one.taken_at, one.id) for one in readings if one.taken_at is not None)
            rows = "one reading is" if len(readings) == 1 else f"{len(readings)} readings are"
            return (
                f"Round {number}: {rows} of a day to come, {when.astimezone():%Y-%m-%d} (reading {latest}): "
                "look at taken_at."
            )
        case "low setting":
            return (
                f"The gun's emissivity setting is {grill.gun.emissivity_setting:g} in the grill file, far below any "
                "grate's: is it what the gun says? Every number hangs on it."
            )
