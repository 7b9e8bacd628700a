"""Whether the second round is more even than the first, and what else was not the same."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from heatmap.units import STDS_95, Display, percent
from heatmap.words.phrases import signed
from heatmap.words.regions import region_name

if TYPE_CHECKING:
    from heatmap.verdict.comparison import BurnerOutcome, Comparison


def compare_lines(found: Comparison) -> list[str]:
    """Say whether the second round is more even, what each knob did, and what makes the two unlike."""
    before, after = found.before.evenness, found.after.evenness
    display = Display(found.after.grill.units)
    first, second = display.difference(before.p95_minus_p5_c), display.difference(after.p95_minus_p5_c)
    low, high = (display.difference(value) for value in (found.spread_change_low_c, found.spread_change_high_c))
    numbers = f"spread {first:.0f} {display.degrees} before, {second:.0f} after"
    by = f"the true change is likely {signed(low)} to {signed(high)}"
    if found.answer == "cannot tell":
        likely = f"{_chance(found.chance_better)} that it is more even"
        verdict = f"Cannot tell: {numbers}; {likely}; {by} {display.degrees}."
    else:
        chance = found.chance_better if found.answer == "more even" else 1.0 - found.chance_better
        verdict = f"{found.answer.capitalize()}: {numbers}; {_chance(chance)} that this is true, not noise."
    mean_c, std_c = found.mean_change_c, found.mean_change_std_c
    lines = [verdict, f"In band: {percent(before.share_in_band)} before, {percent(after.share_in_band)} after."]
    level = f"{signed(display.difference(mean_c))} {display.degrees} (±{display.margin(std_c):.0f})"
    lines.append(f"The whole grate changed by {level} on average{_most_change(found)}.")
    lines += [_outcome_line(outcome, display) for outcome in found.burners]
    return lines + _unlike(found)


def _chance(chance: float) -> str:
    """Return a chance in whole percent that never claims certainty."""
    return f"{min(max(round(100 * chance), 1), 99)} % likely"


def _most_change(found: Comparison) -> str:
    """Name where the grate changed most against its mean change, where that is more than noise."""
    display, cells = Display(found.after.grill.units), found.cells
    off = np.where(cells.inside, found.difference_c - found.mean_change_c, 0.0)
    row, column = np.unravel_index(int(np.argmax(np.abs(off))), off.shape)
    if abs(off[row, column]) < STDS_95 * found.difference_std_c[row, column]:
        return ""
    where = region_name(float(cells.x_mm[column]), float(cells.y_mm[row]), found.after.grill.grate)
    change = signed(display.difference(float(found.difference_c[row, column])))
    return f", most unlike that at the {where}: {change}"


def _outcome_line(outcome: BurnerOutcome, display: Display) -> str:
    """Say what was expected near a burner, what came, and whether the two agree."""
    expected, came = (
        f"{signed(display.difference(mean_c))} ± {display.margin(std_c):.0f}"
        for mean_c, std_c in (
            (outcome.expected_c, outcome.expected_std_c),
            (outcome.came_c, outcome.came_std_c),
        )
    )
    apart_c = outcome.came_c - outcome.expected_c
    if abs(apart_c) <= STDS_95 * float(np.hypot(outcome.expected_std_c, outcome.came_std_c)):
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
