"""Where to set the food down, and how far ahead of the others that place is."""

from collections.abc import Sequence

from heatmap.assessment import Assessment
from heatmap.decisions.decision import Decision
from heatmap.decisions.placement import Place, Placement
from heatmap.decisions.tuning import EQUAL_SHARE
from heatmap.units import Display, percent
from heatmap.verdict.chances import chances
from heatmap.verdict.tuning import SURE
from heatmap.words.burners import WORTH_SAYING_C
from heatmap.words.decision import decision_sentence, place_words
from heatmap.words.map import band_sentence
from heatmap.words.phrases import joined, signed
from heatmap.words.regions import where

_COUNTS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight")


def place_answer(assessment: Assessment, placement: Placement) -> str:
    """Say in a sentence or two where to set the food down, and how far ahead that is."""
    display, wanted = assessment.grill.display, placement.wanted
    names = [where(assessment.grill, *place.centre_mm) for place in placement.places]
    out = _out_of_band(assessment, placement.best)
    if wanted.turns > 1:
        return f"{out} {_turns_answer(placement, names)}".strip()
    return out or _single_answer(assessment, placement, names, display)


def _out_of_band(assessment: Assessment, best: Place) -> str:
    """Say that no place is in band, where the mean of even the best is not, and what comes first; else nothing."""
    (low_c, high_c), display = assessment.band_c, assessment.grill.display
    if low_c <= best.mean_c <= high_c:
        return ""
    sure = chances(best.mean_c, best.mean_std_c, low_c, high_c)["in band"] <= 1.0 - SURE
    off_c, way = (low_c - best.mean_c, "cold") if best.mean_c < low_c else (best.mean_c - high_c, "hot")
    off = display.difference_text(off_c) if display.difference(off_c) >= 0.5 else f"less than 1 {display.degrees}"
    return (
        f"{'No' if sure else 'Probably no'} place is in band; the best is "
        f"{where(assessment.grill, *best.centre_mm)}, {off} too {way}."
    )


def _single_answer(assessment: Assessment, placement: Placement, names: Sequence[str], display: Display) -> str:
    first, lead_c = names[0][0].upper() + names[0][1:], placement.lead_c
    if placement.anywhere:
        equal = display.difference_text(EQUAL_SHARE * (assessment.band_c[1] - assessment.band_c[0]))
        return f"Anywhere is equally good, within {equal}; best {names[0]}."
    if lead_c is None:
        return f"{first}; there is no room for another place beside it."
    if placement.equally_good > 1:
        count = _COUNTS[placement.equally_good].capitalize()
        answer = f"{count} places are equally good: {'; '.join(names[: placement.equally_good])}."
        return f"As far as can be told, {answer[0].lower()}{answer[1:]}" if assessment.level_hides_all else answer
    by, chance = display.difference_text(lead_c), placement.lead_chance or 0.0
    if chance >= SURE:
        return f"{first}, better than any other by {by}."
    return f"{first} looks best, by {by}, but that is not sure ({percent(chance)} likely)."


def _turns_answer(placement: Placement, names: Sequence[str]) -> str:
    later = [str(turn) for turn, place in enumerate(placement.places, 1) if not place.fresh]
    if not later:
        return f"Fresh rails for each of the {len(names)} turns: {'; '.join(dict.fromkeys(names))}."
    fresh = len(names) - len(later)
    fit, which = "place fits" if fresh == 1 else "places fit", "turn" if len(later) == 1 else "turns"
    return (
        f"Only {_COUNTS[fresh]} {fit} without overlap; {which} {joined(later)} must use rails again, "
        "once they have come back."
    )


def place_lines(assessment: Assessment, placement: Placement, decision: Decision) -> list[str]:
    """Say what to do, and where the food would lie, best first or turn by turn."""
    labels: dict[str, list[str]] = {}  # turns on the same rails are told together
    grill = assessment.grill
    for number, place in enumerate(placement.places, 1):
        chance = f"{percent(place.chance_fits)} likely to fit, {grill.display.temperature_text(place.mean_c)}"
        labels.setdefault(f"{place_words(grill, place)}: {chance}", []).append(_label(placement, number))
    lines = [f"{joined(label)}: {told}" for told, label in labels.items()]
    return [decision_sentence(assessment, decision), *lines]


def place_why_lines(assessment: Assessment, placement: Placement) -> list[str]:
    """Say how far ahead the best place is, the numbers of each, and what they rest on."""
    display = assessment.grill.display
    lines = [place_answer(assessment, placement)]
    for number, place in enumerate(placement.places, 1):
        x, y = centre_numbers(place, display)
        lines.append(
            f"  {_label(placement, number)}: {x} {display.lengths} from the left, {y} from the front; "
            f"mean {display.temperature(place.mean_c):.0f} ±{display.margin_text(place.mean_std_c)}, "
            f"spread {display.difference_text(place.std_within_c)}; "
            f"{display.difference_text(place.rms_from_target_c)} from the middle of the band; "
            f"all of it in band {percent(place.chance_in_band)} likely"
        )
    if placement.over_zone:
        lines.append("The food does not fit inside the zone; it lies over its edge.")
    if placement.over_rim:
        lines.append("The food does not fit inside the rim; it lies over the edge, which the map knows least.")
    if abs(assessment.to_come_c) > WORTH_SAYING_C:
        by = signed(display.difference(assessment.to_come_c))
        lines.append(f"Means are of the grate once settled, the lid closed again: {by} {display.degrees} on the map.")
    return [*lines, band_sentence(assessment)]


def _label(placement: Placement, number: int) -> str:
    return f"turn {number}" if placement.wanted.turns > 1 else str(number)


def centre_numbers(place: Place, display: Display) -> tuple[str, str]:
    """Return how far its centre is from the left and from the front, to the tenth of an inch or the millimetre."""
    digits = 1 if display.units == "us" else 0
    return f"{display.length(place.x_mm):.{digits}f}", f"{display.length(place.y_mm):.{digits}f}"
