"""What to turn, what will come of it and how long that takes."""

import numpy as np

from heatmap.assessment import Assessment
from heatmap.decisions.burner_advice import Learned, advise, settled_mean_c
from heatmap.decisions.decision import Decision
from heatmap.units import Display, FloatArray, percent, percent_range
from heatmap.words.decision import decision_sentence, remedy_sentence
from heatmap.words.grill import zone_text

#: Less than this lost since the lid was lifted, or still to come, is not worth a sentence, °C.
WORTH_SAYING_C = 5.0


def burner_lines(assessment: Assessment, decision: Decision, then: Decision) -> list[str]:
    """Say what to do, and what will come of turning; `then` is what an old map called for in its time."""
    lines = [decision_sentence(assessment, decision)]
    if then is not decision:
        sentence = decision_sentence(assessment, then)
        lines.append(f"When it was shot: {sentence[0].lower()}{sentence[1:]}")
    if then.do == "turn":
        lines += _expected_lines(assessment, then)
    if then.do == "stuck":
        lines += [remedy_sentence(assessment.grill, one) for one in then.remedies[1:]]
    return lines


def _expected_lines(assessment: Assessment, decision: Decision) -> list[str]:
    """Say what is expected of the change that is advised, for the food where it was judged by that, and the grate."""
    assert decision.advice is not None
    now, later, display = assessment.evenness, decision.advice.expected, assessment.grill.display
    food = ""
    if decision.chance_after is not None:
        food = f"{percent(decision.chance_after)} likely to fit, now {percent(decision.chance or 0.0)}; "
    lines = [
        f"Expected: {food}{percent(later.share_in_band)} of {zone_text(assessment.grill)} in band (likely "
        f"{percent_range(later.share_in_band_low, later.share_in_band_high)}), now {percent(now.share_in_band)}."
    ]
    if abs(since_lid_c := assessment.surface.lid_drop_c()) > WORTH_SAYING_C:
        cooled = display.difference_text(-since_lid_c)
        lines.append(f"That is with the lid closed again, when the grate comes back by some {cooled}.")
    return lines


def why_lines(assessment: Assessment, then: Decision) -> list[str]:
    """Say why this is the advice, and what is known of each burner."""
    display, advice = assessment.grill.display, then.advice or advise(assessment)
    now, later = (display.difference_text(one.p95_minus_p5_c) for one in (assessment.evenness, advice.expected))
    spread = [f"Spread {now} now, {later} expected."] if then.advice else []
    reason = filter(None, [why(assessment, then)])
    return [*reason, *spread, *(f"  {learned_line(one, display)}" for one in advice.learned)]


def why(assessment: Assessment, then: Decision) -> str:
    """Say what the turn brings, and which part it leaves, or the knobs as they are; nothing where the decision does."""
    advice, chance = then.advice, then.chance or 0.0
    if advice is None and (then.do != "stuck" or then.limit in ("level", "marks", "no knobs")):
        return ""
    remains = _remains(assessment, settled_mean_c(assessment, then.settings))
    if advice is None:
        by_guess = then.limit == "reach" and not any(one.changes for one in advise(assessment).learned)
        guess = " By a guess from where the burners lie: turn one and shoot again to know." if by_guess else ""
        return f"{remains[0].upper()}{remains[1:]}.{guess}"
    gain = advice.expected.share_in_band - assessment.evenness.share_in_band
    brings = f"{percent(gain)} more of the area into the band" if gain >= 0.005 else "the grate nearer to the band"
    if then.chance_after is not None and then.chance_after > chance:
        brings = f"the food's chance to fit from {percent(chance)} to {percent(then.chance_after)}"
    return f"Expected to bring {brings}; {remains}."


def _remains(assessment: Assessment, expected_c: FloatArray) -> str:
    """Name the part that stays farthest out of the band."""
    low_c, high_c = assessment.band_c
    off_c = np.minimum(expected_c - low_c, 0.0) + np.maximum(expected_c - high_c, 0.0)
    means_c = {part: float(off_c[assessment.zone][cells].mean()) for part, cells in assessment.zone_parts.items()}
    worst_c, name = max(((mean_c, part) for part, mean_c in means_c.items()), key=lambda one: abs(one[0]))
    if abs(worst_c) < 1.0:
        return "all of the grate is expected in the band or within a degree or two of it"
    return f"the {name} is left too {'cold' if worst_c < 0 else 'hot'}"


def learned_line(one: Learned, display: Display) -> str:
    """Say how much the region of a burner answers to a mark, and from how many changes that is known."""
    slope, margin = display.difference(one.slope_c), display.difference_text(2.0 * one.slope_std_c)
    learned = f"learned from {one.changes} change{'s'[: one.changes > 1]}"
    source = learned if one.changes else "not turned yet, a guess from where it lies"
    return f"{one.burner}: {slope:.0f} ± {margin} per mark near it; {source}"
