"""What to turn, what will come of it and how long that takes."""

from __future__ import annotations

from heatmap.assessment import Assessment
from heatmap.decide.burner_advice import advise
from heatmap.units import Display, percent, percent_range
from heatmap.words.place import usual_place_sentence

#: Less than this lost since the lid was lifted is not worth a sentence, °C.
_LID_WORTH_SAYING_C = 5.0


def why(assessment: Assessment) -> str:
    """Say why this is the advice and, where there is no knob to turn, which place to use meanwhile."""
    knobs = any(burner.control != "none" for burner in assessment.grill.burners)
    place = "" if knobs else usual_place_sentence(assessment)
    return " ".join(filter(None, (advise(assessment).why, place)))


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
