"""Whether the second round is more even than the first, and what else was not the same."""

import numpy as np

from heatmap.grate_model.round_map import same_marks
from heatmap.grill.grill import Grill
from heatmap.units import STDS_95, BoolArray, Display, percent
from heatmap.verdict.comparison import BurnerOutcome, Comparison
from heatmap.words.phrases import signed

#: What came is "as expected" within this share of it, or within so much [°C]: half of it, or what one shot scatters.
_CLOSE, _CLOSE_C = 0.5, 5.0
#: What is said of two rounds that differ in this.
_DIFFERS = {
    "session": "Two sessions ({before} and {after}): the level differs from day to day, so trust the spread, "
    "not the level.",
    "lid": "The lid was {before} before and {after} after: part of the change is the lid's.",
    "surface": "The rails were {before} before and {after} after: oil changes what the gun sees, so part of the "
    "change may be only that.",
}


def compare_lines(found: Comparison) -> list[str]:
    """Say whether the second round is more even, what makes the two unlike, and what each knob did."""
    display = found.after.grill.display
    mean_c, std_c = found.mean_change_c, found.mean_change_std_c
    shares = (percent(one.evenness.share_in_band) for one in (found.before, found.after))
    level = f"{signed(display.difference(mean_c))} ±{display.margin_text(std_c)}"
    return [
        compare_sentence(found),
        f"In band {' before, '.join(shares)} after; the grate as a whole {level}.",
        *_unlike(found),
        *(_outcome_line(outcome, found.after.grill, display) for outcome in found.burners),
    ]


def compare_why_lines(found: Comparison) -> list[str]:
    """Say by how much the spread truly changed, and what was expected of each knob."""
    display = found.after.grill.display
    low, high = (signed(display.difference(one)) for one in (found.spread_change_low_c, found.spread_change_high_c))
    lines = [f"The true change of the spread is likely {low} to {high} {display.degrees}."]
    for one in found.burners:
        expected = f"{signed(display.difference(one.expected_c))} ±{display.margin(one.expected_std_c):.0f}"
        came = f"{signed(display.difference(one.came_c))} ±{display.margin_text(one.came_std_c)}"
        lines.append(f"{one.burner}: near it {expected} expected, {came} came.")
    return lines


def compare_sentence(found: Comparison) -> str:
    """Say the one answer with its chance, and whether a knob can have done it."""
    before, after, display = found.before.evenness, found.after.evenness, found.after.grill.display
    first, second = display.difference(before.p95_minus_p5_c), display.difference(after.p95_minus_p5_c)
    numbers = f"spread {first:.0f} {display.degrees} before, {second:.0f} after"
    if found.answer == "cannot tell":
        return f"Cannot tell: {numbers}; {_chance(found.chance_better)} that it is more even."
    chance = found.chance_better if found.answer == "more even" else 1.0 - found.chance_better
    by = ", with no knob turned: wind or warming" if same_marks(found.before.round, found.after.round) else ""
    return f"{found.answer.capitalize()}: {numbers} ({_chance(chance)}){by}."


def _chance(chance: float) -> str:
    """Return a chance in whole percent that never claims certainty."""
    return f"{min(max(round(100 * chance), 1), 99)} % likely"


def _outcome_line(outcome: BurnerOutcome, grill: Grill, display: Display) -> str:
    """Say what came near a burner, and whether that was expected."""
    came = f"{signed(display.difference(outcome.came_c))} {display.degrees}"
    expected = f"{signed(display.difference(outcome.expected_c))} expected"
    apart_c = abs(outcome.came_c - outcome.expected_c)
    sure = apart_c > STDS_95 * float(np.hypot(outcome.expected_std_c, outcome.came_std_c))
    if apart_c <= max(_CLOSE_C, _CLOSE * abs(outcome.expected_c)):
        word = "as expected"
    elif not sure:
        word = f"{expected}, too unsure to tell why"
    elif outcome.came_c * outcome.expected_c < 0:
        word = f"the other way, {expected}"
    else:
        word = f"{'more' if abs(outcome.came_c) > abs(outcome.expected_c) else 'less'} than the {expected}"
    old, new = (grill.burner(outcome.burner).mark_text(mark) for mark in (outcome.from_mark, outcome.to_mark))
    return f"{outcome.burner} {old} to {new}: {came} near it, {word}."


def _unlike(found: Comparison) -> list[str]:
    """Say what else than the knobs was not the same in both rounds."""
    lines = []
    for what in found.differs:
        before, after = (getattr(one.round, what) or "no name" for one in (found.before, found.after))
        lines.append(_DIFFERS[what].format(before=before, after=after))
    for one in (found.before, found.after):
        if one.shape_from is not None:
            lines.append(
                f"Round {one.round.number} is a re-check on the shape of round {one.shape_from.number}; "
                "a few shots say little about evenness."
            )
    return lines


def difference_title(found: Comparison, clear: BoolArray) -> str:
    """Say what changed between two rounds, and of how much of the grate that is `clear` of noise."""
    display = found.after.grill.display
    word = "hotter" if found.mean_change_c > 0 else "cooler"
    level = f"{display.difference_text(abs(found.mean_change_c))} {word} on average"
    rounds = f"Round {found.after.round.number} against round {found.before.round.number}: {level}"
    share = float(np.mean(clear[found.cells.inside]))
    return f"{rounds}; {percent(share)} of the grate changed by clearly more than noise."
