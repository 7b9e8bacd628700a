"""The answers in plain words, in the units and the numbers of the cook."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from heatmap.assessment import Assessment
from heatmap.grill import Grate, Grill
from heatmap.units import Display

if TYPE_CHECKING:
    from heatmap.compare import BurnerOutcome, Comparison
    from heatmap.placement import Place, Placement
    from heatmap.sear import Food, Lesson, Rails, SearPlan, Sensitivity

#: A third of the grate is called too hot or too cold when at least this share of its cells is.
_PART_OF_REGION = 0.5
#: Less than this lost since the lid was lifted is not worth a sentence, °C.
_LID_WORTH_SAYING_C = 5.0
_ACROSS, _AWAY = ("left", "middle", "right"), ("front", "centre", "back")


def region_name(x_mm: float, y_mm: float, grate: Grate) -> str:
    """Return the ninth of the grate a point lies in, as a cook calls it: "front left", "back centre", "centre"."""
    column = min(max(int(3 * x_mm / grate.width_mm), 0), 2)
    row = min(max(int(3 * y_mm / grate.depth_mm), 0), 2)
    return _ninth(row, column)


def _ninth(row: int, column: int) -> str:
    if row == 1:
        return "centre" if column == 1 else _ACROSS[column]
    return f"{_AWAY[row]} centre" if column == 1 else f"{_AWAY[row]} {_ACROSS[column]}"


def _ninths(assessment: Assessment, word: str) -> NDArray[np.bool_]:
    """Return which of the 3 × 3 parts, front row first, are mostly of this word."""
    cells, grate = assessment.cells, assessment.grill.grate
    column = np.minimum((3 * cells.x_mm / grate.width_mm).astype(int), 2)
    row = np.minimum((3 * cells.y_mm / grate.depth_mm).astype(int), 2)
    flagged = (assessment.words == word) & cells.inside
    result = np.zeros((3, 3), dtype=bool)
    for i in range(3):
        for j in range(3):
            part = np.outer(row == i, column == j) & cells.inside
            result[i, j] = bool(part.any()) and float(np.mean(flagged[part])) >= _PART_OF_REGION
    return result


def regions(assessment: Assessment, word: str) -> str:
    """Say where the grate is of this word: "the right", "the back and the front left", or nothing."""
    parts = _ninths(assessment, word)
    if parts.all():
        return "everywhere"
    names: list[str] = []
    left = parts.copy()
    for column in range(3):
        if parts[:, column].all():
            names.append(f"the {_ACROSS[column]}")
            left[:, column] = False
    for row in range(3):
        if parts[row].all() and left[row].any():
            names.append("the middle from side to side" if row == 1 else f"the {_AWAY[row]}")
            left[row] = False
    names += [f"the {_ninth(row, column)}" for row in (2, 1, 0) for column in range(3) if left[row, column]]
    return joined(names)


def joined(names: Sequence[str]) -> str:
    """Join names as people do: "a, b and c"."""
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1] if names else "")))


def percent(share: float) -> str:
    """Return a share in whole percent."""
    return f"{100 * share:.0f} %"


def share_sentence(assessment: Assessment) -> str:
    """Say how much of the grate is in band, with its limits."""
    even = assessment.evenness
    low, high = 100 * even.share_in_band_low, 100 * even.share_in_band_high
    return f"{percent(even.share_in_band)} of the grate is in band (likely {low:.0f} to {high:.0f} %)"


def map_answer(assessment: Assessment) -> str:
    """Say in one or two sentences what the map means."""
    display = Display(assessment.grill.units)
    even = assessment.evenness
    hot, cold = regions(assessment, "too hot"), regions(assessment, "too cold")
    complaints = [f"too hot {_at(hot)}" if hot else "", f"too cold {_at(cold)}" if cold else ""]
    trouble = ", ".join(filter(None, complaints))
    if trouble:
        verdict = trouble[0].upper() + trouble[1:]
    elif even.share_in_band >= 0.8:
        verdict = "In band"
    elif level_hides_all(assessment):
        verdict = f"Cannot tell: the level is known only to ±{display.difference_text(1.96 * assessment.level_std_c)}"
    else:
        verdict = "Partly in band, the rest unsure"
    spread = f"spread {display.difference_text(even.p95_minus_p5_c)}"
    return f"{verdict}; {share_sentence(assessment)}, {spread}."


def _at(where: str) -> str:
    return where if where == "everywhere" else f"at {where}"


def level_hides_all(assessment: Assessment) -> bool:
    """Tell whether the level alone is so uncertain that no place could be called in band."""
    low_c, high_c = assessment.band_c
    return 2 * 1.2816 * assessment.level_std_c > high_c - low_c


def band_sentence(assessment: Assessment) -> str:
    """Say once which numbers the band is in and what it is on the other side of the gun."""
    display = Display(assessment.grill.units)
    low, high = (display.temperature(value) for value in assessment.band_c)
    rail_low, rail_high = (display.temperature(value) for value in assessment.band_rail_c)
    if assessment.grill.target.numbers == "rail":
        return f"Numbers are rail temperatures; band {low:.0f}-{high:.0f} {display.degrees}."
    spread = display.difference(1.96 * assessment.shared_std_c)
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
        if abs(tilt.difference_c) > 1.96 * tilt.std_c:
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


def remedies(assessment: Assessment) -> list[str]:
    """Name what would make the answer surer, most useful first."""
    lines = []
    pinned = any(pin.reading.aim == "contact" and pin.believed for pin in assessment.calibration.pins)
    if assessment.grill.target.numbers == "rail" and not pinned and level_hides_all(assessment):
        lines.append("One contact reading (a surface probe held on a rail) would pin the level of every round.")
    for assessed in assessment.spots:
        if assessed.suspect:
            reading = assessed.spot.reading
            lines.append(f"Left out {reading.position or 'a spot'} (reading {reading.id}): {assessed.suspect}")
    for pin in assessment.calibration.pins:
        if not pin.believed:
            lines.append(f"Contact reading {pin.reading.id} cannot be and was left out; take it again.")
    return lines


def full_answer(assessment: Assessment) -> list[str]:
    """Return everything the terminal says under the map, line by line."""
    lines = [map_answer(assessment), tilt_sentence(assessment), drift_sentence(assessment), band_sentence(assessment)]
    return [line for line in lines if line] + remedies(assessment)


def advice_lines(assessment: Assessment) -> list[str]:
    """Say what to turn, what will come of it and how long that takes."""
    advice, grill = assessment.advice, assessment.grill
    display = Display(grill.units)
    lines = []
    for change in advice.changes:
        burner = grill.burner(change.burner)
        start, end = burner.mark_text(change.from_mark), burner.mark_text(change.to_mark)
        lines.append(f"Turn {change.burner} from {start} to {end}.")
    if advice.why:
        lines.append(advice.why)
    drift = assessment.round_map.drift
    if drift is not None and abs(drift.since_lid_c) > _LID_WORTH_SAYING_C:
        cooled = display.difference_text(-drift.since_lid_c)
        lines.append(f"That is with the lid closed again, when the grate comes back by some {cooled}.")
    if advice.changes:
        now, then = advice.now, advice.expected
        lines.append(
            f"Expected after {advice.wait_min:.0f} min: {percent(then.share_in_band)} of the grate in band "
            f"(likely {100 * then.share_in_band_low:.0f} to {100 * then.share_in_band_high:.0f} %; now "
            f"{percent(now.share_in_band)}), spread {display.difference_text(then.p95_minus_p5_c)} "
            f"(now {display.difference_text(now.p95_minus_p5_c)}). Then shoot a new round."
        )
    return lines


_COUNTS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight")


def place_answer(assessment: Assessment, placement: Placement) -> str:
    """Say in a sentence where to set the food down, and how far ahead that is."""
    from heatmap.placement.plan import EQUAL_SHARE

    display, wanted = Display(assessment.grill.units), placement.wanted
    names = [_place_name(assessment, place) for place in placement.places]
    if wanted.pieces > 1:
        return _pieces_answer(placement, names, display)
    if wanted.turns > 1:
        return _turns_answer(placement, names)
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
        return f"All {turns} turns at the {names[0]}; let the rails come back before each turn."
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
    if placement.over_rim:
        lines.append("The food does not fit inside the rim; it lies over the edge, which the map knows least.")
    if level_hides_all(assessment):
        lines.append(
            f"The level is known only to ±{display.difference_text(1.96 * assessment.level_std_c)}; "
            "one contact reading would tell which place is nearest to the target."
        )
    return [*lines, band_sentence(assessment)]


def _place_label(placement: Placement, place: Place, number: int) -> str:
    if place.turn is not None:
        return f"turn {place.turn}"
    if place.piece is None:
        return str(number)
    return "counts" if place.piece == 1 else "test" if placement.wanted.pieces == 2 else f"piece {place.piece}"


def _place_words(assessment: Assessment, place: Place, display: Display) -> str:
    from heatmap.placement.footprint import heading_text

    digits = 1 if display.units == "us" else 0
    x, y = (f"{display.length(value):.{digits}f}" for value in (place.x_mm, place.y_mm))
    return (
        f"{_place_name(assessment, place)}, {x} {display.lengths} from the left, {y} from the front, "
        f"heading {heading_text(place.headings)}. "
        f"Mean {display.temperature(place.mean_c):.0f} ±{display.difference_text(1.96 * place.mean_std_c)}, "
        f"spread {display.difference_text(place.std_within_c)}; "
        f"{display.difference_text(place.rms_from_target_c)} off target; "
        f"all in band {percent(place.chance_in_band)} likely"
    )


def sear_lines(grill: Grill, food: Food, rails: Rails, plan: SearPlan, lesson: Lesson | None) -> list[str]:
    """Say how long each turn lasts, what to expect, what it hangs on, and the cautions."""
    display = Display(grill.units)
    lines = [
        f"{plan.seconds_per_turn:.0f} s a turn, {plan.turns} turns "
        f"(what it may really take: {plan.seconds_low:.0f} to {plan.seconds_high:.0f} s).",
        f"Pull with the centre near {display.temperature_text(plan.pull_centre_c)}; it peaks near "
        f"{display.temperature_text(plan.peak_centre_c)} after {plan.rest_s / 60:.0f} min of rest "
        f"(likely {display.temperature(plan.peak_low_c):.0f} to {display.temperature(plan.peak_high_c):.0f}).",
        f"Rails {display.temperature_text(rails.rail_c)}, food {display.length_text(food.thickness_mm)} thick, "
        f"{display.temperature_text(food.start_centre_c)} at its centre.",
    ]
    if lesson is not None:
        lines.insert(1, lesson.verdict)
    elif plan.seconds_high > 1.5 * plan.seconds_low:
        lines.append("A test piece would narrow this: gratemap sear --tested 60,60,60,60 --peak T.")
    lines += [_worth(item, display) for item in plan.sensitivities]
    crust = plan.crust
    lines.append(
        f"Crust: {display.length_text(crust.on_rail_mm)} dried on the rail marks, "
        f"{display.length_text(crust.between_mm)} between; browning heat for {crust.browning_s:.0f} s on the marks."
    )
    wait = plan.recovery
    lines.append(
        f"One turn cools the rails by about {display.difference_text(wait.drop_c)}; they need some "
        f"{wait.wait_low_s / 60:.0f} to {wait.wait_high_s / 60:.0f} min to come back, so use fresh rails."
    )
    lines += [f"Assumed: {sentence}" for sentence in plan.assumptions]
    return lines + [f"Caution: {sentence}" for sentence in plan.cautions]


def _worth(item: Sensitivity, display: Display) -> str:
    step = display.difference_text(item.step) if item.unit == "°C" else display.length_text(item.step)
    more = {"rails": "hotter rails", "thickness": "thicker food", "start": "warmer start"}[item.of]
    less = {"rails": "colder", "thickness": "thinner", "start": "colder"}[item.of]
    return f"{step} {more}: {item.more_s:+.0f} s a turn; {less}: {item.less_s:+.0f} s."


def compare_lines(found: Comparison) -> list[str]:
    """Say whether the second round is more even, what each knob did, and what makes the two unlike."""
    before, after = found.before.evenness, found.after.evenness
    display = Display(found.after.grill.units)
    first, second = display.difference(before.p95_minus_p5_c), display.difference(after.p95_minus_p5_c)
    low, high = (
        display.difference(value) for value in (found.spread_change_low_c, found.spread_change_high_c)
    )
    numbers = f"spread {first:.0f} {display.degrees} before, {second:.0f} after"
    by = f"the true change is likely {_signed(low)} to {_signed(high)}"
    if found.answer == "cannot tell":
        likely = f"{_chance(found.chance_better)} that it is more even"
        verdict = f"Cannot tell: {numbers}; {likely}; {by} {display.degrees}."
    else:
        chance = found.chance_better if found.answer == "more even" else 1.0 - found.chance_better
        verdict = f"{found.answer.capitalize()}: {numbers}; {_chance(chance)} that this is true, not noise."
    mean_c, std_c = found.mean_change_c, found.mean_change_std_c
    lines = [verdict, f"In band: {percent(before.share_in_band)} before, {percent(after.share_in_band)} after."]
    level = f"{_signed(display.difference(mean_c))} {display.degrees} (±{display.difference(1.96 * std_c):.0f})"
    lines.append(f"The whole grate changed by {level} on average{_most_change(found)}.")
    lines += [_outcome_line(outcome, display) for outcome in found.burners]
    return lines + _unlike(found)


def _chance(chance: float) -> str:
    """Return a chance in whole percent that never claims certainty."""
    return f"{min(max(round(100 * chance), 1), 99)} % likely"


def _signed(number: float) -> str:
    whole = round(number)
    return f"{whole:+d}".replace("-", "−") if whole else "0"


def _most_change(found: Comparison) -> str:
    """Name where the grate changed most against its mean change, where that is more than noise."""
    display, cells = Display(found.after.grill.units), found.cells
    off = np.where(cells.inside, found.difference_c - found.mean_change_c, 0.0)
    row, column = np.unravel_index(int(np.argmax(np.abs(off))), off.shape)
    if abs(off[row, column]) < 1.96 * found.difference_std_c[row, column]:
        return ""
    where = region_name(float(cells.x_mm[column]), float(cells.y_mm[row]), found.after.grill.grate)
    change = _signed(display.difference(float(found.difference_c[row, column])))
    return f", most unlike that at the {where}: {change}"


def _outcome_line(outcome: BurnerOutcome, display: Display) -> str:
    """Say what was expected near a burner, what came, and whether the two agree."""
    expected, came = (
        f"{_signed(display.difference(mean_c))} ± {display.difference(1.96 * std_c):.0f}"
        for mean_c, std_c in (
            (outcome.expected_c, outcome.expected_std_c),
            (outcome.came_c, outcome.came_std_c),
        )
    )
    apart_c = outcome.came_c - outcome.expected_c
    if abs(apart_c) <= 1.96 * float(np.hypot(outcome.expected_std_c, outcome.came_std_c)):
        word = "as expected"
    elif outcome.came_c * outcome.expected_c < 0:
        word = "the other way"
    else:
        word = "more than expected" if abs(outcome.came_c) > abs(outcome.expected_c) else "less than expected"
    knob = f"{outcome.burner} {outcome.from_mark:g} to {outcome.to_mark:g}"
    return f"{knob}: near it {expected} {display.degrees} expected, {came} came: {word}."


def _unlike(found: Comparison) -> list[str]:
    """Say what else than the knobs was not the same in both rounds."""
    before, after = found.before, found.after
    lines = []
    if "session" in found.differs:
        names = f"{before.round.session or 'no name'} and {after.round.session or 'no name'}"
        lines.append(f"Two sessions ({names}): the level differs from day to day, so trust the spread, not the level.")
    if "lid" in found.differs:
        lines.append(
            f"The lid was {before.round.lid} before and {after.round.lid} after: part of the change is the lid's."
        )
    if "surface" in found.differs:
        lines.append(
            f"The rails were {before.round.surface} before and {after.round.surface} after: "
            "oil changes what the gun sees, so part of the change may be only that."
        )
    if found.same_marks:
        lines.append("No knob was turned between them: what changed is wind, warming or noise.")
    for one in (before, after):
        if one.shape_from is not None:
            lines.append(
                f"Round {one.round.number} is a re-check on the shape of round {one.shape_from.number}; "
                "a few shots say little about evenness."
            )
    return lines
