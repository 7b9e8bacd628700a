"""What one reading tells of the rail, and why it may tell nothing."""

from __future__ import annotations

from heatmap.correct import Telling
from heatmap.correct.tuning import HIGHEST_RAIL_C, LEAST_OWN_PART
from heatmap.grill.grill import Grill
from heatmap.units import STDS_95, percent


def cannot_tell_sentence(told: Telling, grill: Grill) -> str:
    """Say why a reading tells nothing of the rail, and between what that may be; empty where it tells."""
    if told.is_answer:
        return ""
    display = grill.display
    emissivity = emissivity_text(grill)
    beyond = told.cut_off or told.high_c >= HIGHEST_RAIL_C
    between = (
        f"between {display.temperature(told.low_c):.0f} and "
        f"{'more than ' if beyond else ''}{display.temperature_text(told.high_c)} (95 %)"
    )
    if told.own_part < LEAST_OWN_PART:
        return (
            f"At an emissivity of {emissivity} only {percent(told.own_part)} of what the gun answers to is the rail's "
            "own glow; the rest is the valley between the rails. Only if the valley is about as hot as such valleys "
            f"usually are, the rail is {between}."
        )
    return (
        f"With an emissivity of {emissivity} it may be anything {between}: so little of what the gun sees is the "
        "surface's own glow that the rest, what the metal mirrors, decides."
    )


def emissivity_text(grill: Grill) -> str:
    """Return the emissivity taken, with its 95 %."""
    return f"{grill.grate.rail_emissivity:.2f} ± {STDS_95 * grill.grate.rail_emissivity_sd:.2f}"
