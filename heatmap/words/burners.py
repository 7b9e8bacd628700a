"""What to turn, what will come of it and how long that takes."""

from __future__ import annotations

import numpy as np

from heatmap.assessment import Assessment
from heatmap.decisions.burner_advice import BurnerAdvice, Learned, advise, best_band, missing_marks
from heatmap.decisions.without_knobs import ByHand
from heatmap.units import Display, percent, percent_range
from heatmap.verdict.regions import parts_of_grate
from heatmap.words.place import usual_place_sentence

#: Less than this lost since the lid was lifted is not worth a sentence, °C.
_LID_WORTH_SAYING_C = 5.0


def why(assessment: Assessment) -> str:
    """Say why this is the advice and, where there is no knob to turn, which place to use meanwhile."""
    grill, missing = assessment.grill, missing_marks(assessment)
    if missing:
        return (
            f"The mark of {', '.join(missing)} is not known for round {assessment.round.number}; "
            "give the marks with the readings (knob_NAME) to be told what to turn."
        )
    if any(burner.control != "none" for burner in grill.burners):
        return _reason(assessment, advise(assessment))
    return " ".join(filter(None, (by_hand_sentence(assessment), usual_place_sentence(assessment))))


def _reason(assessment: Assessment, advice: BurnerAdvice) -> str:
    """Say in a sentence or two why knobs are to be turned or left, and what remains."""
    display, remains, unknown = (
        Display(assessment.grill.units),
        _remains(assessment, advice),
        _level_unknown(assessment),
    )
    margin = f"±{display.margin_text(assessment.level_std_c)}"
    if not advice.reachable and unknown:
        return (
            f"Whether these knobs reach the band cannot be told: the level is known only to {margin}; take one contact "
            f"reading first. As far as is known, {remains}."
        )
    if not advice.reachable:
        (low_c, high_c), inside = assessment.band_c, assessment.wide_cells.inside.ravel()
        best_low_c, best_high_c, share = best_band(high_c - low_c, advice.expected_mean_c[inside])
        band = f"{display.temperature(best_low_c):.0f}-{display.temperature_text(best_high_c)}"
        turned = any(one.changes for one in advice.learned)
        guess = "" if turned else " By a guess from where the burners lie: turn one and shoot again to know."
        return (
            f"These knobs cannot reach the band: {remains}. The best they give is {band} on {percent(share)} "
            f"of the area.{guess}"
        )
    if not advice.worth_it and unknown:
        return (
            f"Leave the knobs for now: the level is known only to {margin}, so no change is sure to help; take one "
            "contact reading first."
        )
    if not advice.worth_it:
        remains = f"{remains[0].upper()}{remains[1:]}"
        return f"Leave the knobs: no change is expected to bring more than the noise. {remains}."
    gain = advice.expected.share_in_band - advice.now.share_in_band
    if gain < 0.005:
        return f"Expected to bring the grate nearer to the band; {remains}."
    return f"Expected to bring {percent(gain)} more of the area into the band; {remains}."


def _level_unknown(assessment: Assessment) -> bool:
    low_c, high_c = assessment.band_c
    return 2.0 * assessment.level_std_c > high_c - low_c


def _remains(assessment: Assessment, advice: BurnerAdvice) -> str:
    """Name the part that stays farthest out of the band."""
    (low_c, high_c), inside = assessment.band_c, assessment.wide_cells.inside.ravel()
    expected_c = advice.expected_mean_c
    off_c = np.minimum(expected_c - low_c, 0.0) + np.maximum(expected_c - high_c, 0.0)
    worst_c, name = 0.0, ""
    for part, cells in parts_of_grate(assessment.grill, advice.cells_mm).items():
        mean_c = float(off_c[cells & inside].mean()) if (cells & inside).any() else 0.0
        if abs(mean_c) > abs(worst_c):
            worst_c, name = mean_c, part
    if abs(worst_c) < 1.0:
        return "all of the grate is expected in the band or within a degree or two of it"
    return f"the {name} stays too {'cold' if worst_c < 0 else 'hot'}"


def by_hand_sentence(assessment: Assessment) -> str:
    """Say what can be done about heat that has no knob."""
    found, display, said = ByHand.of(assessment), Display(assessment.grill.units), []
    if found.off_c > 0:
        far = display.difference_text(found.off_c)
        said.append(f"On the whole it is {far} too hot: spread the coals thinner, close the air a little, or wait.")
    if found.off_c < 0:
        far = display.difference_text(-found.off_c)
        said.append(f"On the whole it is {far} too cold: add or heap up coals, or open the air.")
    if found.move is not None:
        hot, cold, far = found.move.from_part, found.move.to_part, display.difference_text(found.move.hotter_c)
        said.append(f"Move heat from the {hot} towards the {cold}: the {hot} is {far} hotter.")
    if found.panel is not None:
        side = "from the left" if assessment.grill.grate.rails == "front-to-back" else "from the front"
        said.append(
            f"Panel {found.panel.number} {side} is {display.difference_text(found.panel.hotter_c)} hotter at one end: "
            "turn it end for end and shoot again; if the pattern travels with it, it is the panel and not the heat."
        )
    if not said:
        said.append("No part is far from the others: leave the heat alone.")
    if _level_unknown(assessment):
        margin = display.margin_text(assessment.level_std_c)
        said.append(f"The level is known only to ±{margin}; take one contact reading.")
    return " ".join(said)


def learned_line(one: Learned, display: Display) -> str:
    """Say how much the region of a burner answers to a mark, and from how many changes that is known."""
    slope, margin = display.difference(one.slope_c), display.difference_text(2.0 * one.slope_std_c)
    source = (
        f"learned from {one.changes} change{'s'[: one.changes > 1]}"
        if one.changes
        else "not turned yet, a guess from where it lies"
    )
    return f"{one.burner}: {slope:.0f} ± {margin} per mark near it; {source}"


def advice_lines(assessment: Assessment) -> list[str]:
    """Say what to turn, what will come of it and how long that takes."""
    advice, grill = advise(assessment), assessment.grill
    display = Display(grill.units)
    lines = []
    for change in advice.changes:
        burner = grill.burner(change.burner)
        start, end = burner.mark_text(change.from_mark), burner.mark_text(change.to_mark)
        lines.append(f"Turn {change.burner} from {start} to {end}.")
    lines += filter(None, [why(assessment)])
    drift = assessment.round_map.drift
    if drift is not None and abs(drift.since_lid_c) > _LID_WORTH_SAYING_C:
        cooled = display.difference_text(-drift.since_lid_c)
        lines.append(f"That is with the lid closed again, when the grate comes back by some {cooled}.")
    if advice.changes:
        now, then = advice.now, advice.expected
        lines.append(
            f"Expected after {advice.wait_min:.0f} min: {percent(then.share_in_band)} of the grate in band "
            f"(likely {percent_range(then.share_in_band_low, then.share_in_band_high)}; left alone "
            f"{percent(now.share_in_band)}), spread {display.difference_text(then.p95_minus_p5_c)} "
            f"(left alone {display.difference_text(now.p95_minus_p5_c)}). Then shoot a new round."
        )
    return lines
