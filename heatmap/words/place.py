"""Where to set the food down, and how far ahead of the others that place is."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from heatmap.assessment import Assessment
from heatmap.units import Display, percent
from heatmap.verdict.chances import SURE, chances
from heatmap.words.map import band_sentence, level_hides_all
from heatmap.words.phrases import joined
from heatmap.words.regions import region_name

if TYPE_CHECKING:
    from heatmap.decisions.placement import Place, Placement

_COUNTS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight")


def place_answer(assessment: Assessment, placement: Placement) -> str:
    """Say in a sentence or two where to set the food down, and how far ahead that is."""
    display, wanted = Display(assessment.grill.units), placement.wanted
    names = [_place_name(assessment, place) for place in placement.places]
    out = _out_of_band(assessment, placement.best)
    if wanted.pieces > 1:
        return f"{out} {_pieces_answer(placement, names, display)}".strip()
    if wanted.turns > 1:
        return f"{out} {_turns_answer(placement, names)}".strip()
    return out or _single_answer(assessment, placement, names, display)


def usual_place_sentence(assessment: Assessment) -> str:
    """Say where the usual piece lies best as the grate is, as `place` does; nothing where it does not fit."""
    from heatmap.decisions.placement import Wanted, find_places
    from heatmap.errors import InputError

    wanted, display = Wanted.usual(assessment.grill.units), Display(assessment.grill.units)
    try:
        placement = find_places(assessment, wanted)
    except InputError:
        return ""
    names = [f"the {_place_name(assessment, place)}" for place in placement.places[: placement.equally_good]]
    where = "anywhere" if placement.anywhere else f"at {joined(list(dict.fromkeys(names)), 'or')}"
    return f"As it is now, a piece of {wanted.footprint.size_text(display)} lies best {where} (gratemap place)."


def _out_of_band(assessment: Assessment, best: Place) -> str:
    """Say that no place is in band, where the mean of even the best is not, and what comes first; else nothing."""
    (low_c, high_c), grill, display = assessment.band_c, assessment.grill, Display(assessment.grill.units)
    if low_c <= best.mean_c <= high_c:
        return ""
    sure = chances(best.mean_c, best.mean_std_c, low_c, high_c).in_band <= 1.0 - SURE
    off_c, way = (low_c - best.mean_c, "cold") if best.mean_c < low_c else (best.mean_c - high_c, "hot")
    off = display.difference_text(off_c) if display.difference(off_c) >= 0.5 else f"less than 1 {display.degrees}"
    first = "The burners come" if any(one.control != "none" for one in grill.burners) else "The heat comes"
    return (
        f"{'No' if sure else 'Probably no'} place is in band; the best is the {_place_name(assessment, best)}, "
        f"{off} too {way}. {first} first: gratemap burners."
    )


def _single_answer(assessment: Assessment, placement: Placement, names: Sequence[str], display: Display) -> str:
    from heatmap.decisions.placement.plan import EQUAL_SHARE

    first, lead_c = names[0][0].upper() + names[0][1:], placement.lead_c
    if placement.anywhere:
        equal = display.difference_text(EQUAL_SHARE * (assessment.band_c[1] - assessment.band_c[0]))
        return f"Anywhere is equally good, within {equal}; take the {names[0]}."
    if lead_c is None:
        return f"{first}; there is no room for another place beside it."
    if placement.equally_good > 1:
        count = _COUNTS[placement.equally_good].capitalize()
        where = joined(list(dict.fromkeys(names[: placement.equally_good])))
        answer = f"{count} places are equally good: {where}."
        return f"As far as can be told, {answer[0].lower()}{answer[1:]}" if level_hides_all(assessment) else answer
    if placement.lead_is_sure:
        return f"{first}, better than any other by {display.difference_text(lead_c)}."
    chance = percent(placement.lead_chance or 0.0)
    return f"{first} looks best, by {display.difference_text(lead_c)}, but that is not sure ({chance} likely)."


def _place_name(assessment: Assessment, place: Place) -> str:
    return region_name(place.x_mm, place.y_mm, assessment.grill.grate)


def _pieces_answer(placement: Placement, names: Sequence[str], display: Display) -> str:
    count = _COUNTS[len(names)].capitalize()
    alike = display.difference_text(placement.alike_c or 0.0)
    others = "the test piece" if len(names) == 2 else "the others"
    return (
        f"{count} places as alike as can be, to about {alike}: the piece that counts at the {names[0]}, "
        f"{others} at the {joined(list(dict.fromkeys(names[1:])))}."
    )


def _turns_answer(placement: Placement, names: Sequence[str]) -> str:
    turns = placement.wanted.turns
    if placement.wanted.same_place:
        return (
            f"All {turns} turns at the {names[0]}: every turn cools its rails. "
            "How far, and for how long, tells: gratemap sear --same-place"
        )
    if placement.fresh_count == turns:
        alike = list(dict.fromkeys(names))
        return f"Fresh rails for each of the {turns} turns: {joined(alike)}."
    fit = "place fits" if placement.fresh_count == 1 else "places fit"
    later = joined([str(place.turn) for place in placement.places if not place.fresh])
    which = "turn" if turns - placement.fresh_count == 1 else "turns"
    return (
        f"Only {_COUNTS[placement.fresh_count]} {fit} without overlap; {which} {later} must use rails again, "
        "once they have come back."
    )


def unlikely_sentence(assessment: Assessment, placement: Placement) -> str:
    """Say that no place is likely to have all of the food in band, where the answer does not say so; else nothing."""
    if placement.is_in_band or _out_of_band(assessment, placement.best):
        return ""
    return (
        f"No place is likely to have all of the food in band ({percent(placement.best.chance_in_band)} at the best); "
        "gratemap burners says what may help."
    )


def place_lines(assessment: Assessment, placement: Placement) -> list[str]:
    """Return everything the terminal says of the places, line by line."""
    display = Display(assessment.grill.units)
    lines = [place_answer(assessment, placement)]
    labels: dict[tuple[float, float, tuple[float, ...]], list[str]] = {}
    words: dict[tuple[float, float, tuple[float, ...]], str] = {}
    for number, place in enumerate(placement.places, 1):
        key = (place.x_mm, place.y_mm, place.headings)
        labels.setdefault(key, []).append(_place_label(placement, place, number))
        words.setdefault(key, _place_words(assessment, place, display))
    lines += [f"  {joined(label)}: {words[key]}" for key, label in labels.items()]
    lines += filter(None, [unlikely_sentence(assessment, placement)])
    if placement.over_zone:
        lines.append("The food does not fit inside the zone; it lies over its edge.")
    if placement.over_rim:
        lines.append("The food does not fit inside the rim; it lies over the edge, which the map knows least.")
    if level_hides_all(assessment):
        lines.append(
            f"The level is known only to ±{display.margin_text(assessment.level_std_c)}; "
            "one contact reading would tell which place is nearest to the target."
        )
    return [*lines, band_sentence(assessment)]


def _place_label(placement: Placement, place: Place, number: int) -> str:
    if place.turn is not None:
        return f"turn {place.turn}"
    if place.piece is None:
        return str(number)
    return "counts" if place.piece == 1 else "test" if placement.wanted.pieces == 2 else f"piece {place.piece}"


def place_text(assessment: Assessment, place: Place) -> str:
    """Return which place it is: "front left, 5.3 in from the left, 4.2 from the front"."""
    display = Display(assessment.grill.units)
    x, y = centre_numbers(place, display)
    return f"{_place_name(assessment, place)}, {x} {display.lengths} from the left, {y} from the front"


def centre_numbers(place: Place, display: Display) -> tuple[str, str]:
    """Return how far its centre is from the left and from the front, to the tenth of an inch or the millimetre."""
    digits = 1 if display.units == "us" else 0
    return f"{display.length(place.x_mm):.{digits}f}", f"{display.length(place.y_mm):.{digits}f}"


def _place_words(assessment: Assessment, place: Place, display: Display) -> str:
    from heatmap.decisions.placement.footprint import heading_text

    return (
        f"{place_text(assessment, place)}, heading {heading_text(place.headings)}. "
        f"Mean {display.temperature(place.mean_c):.0f} ±{display.margin_text(place.mean_std_c)}, "
        f"spread {display.difference_text(place.std_within_c)}; "
        f"{display.difference_text(place.rms_from_target_c)} off target; "
        f"all in band {percent(place.chance_in_band)} likely"
    )
