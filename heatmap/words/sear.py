"""How long each turn lasts, what to expect of it, and what it hangs on."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from heatmap.grill.grill import Grill
from heatmap.units import Display
from heatmap.words.cautions import in_short
from heatmap.words.phrases import signed

if TYPE_CHECKING:
    from heatmap.sear import Food, Lesson, Rails, SearedPiece, SearPlan, Sensitivity


def sear_lines(first: str, grill: Grill, food: Food, plan: SearPlan, lesson: Lesson | None) -> list[str]:
    """Say what to do, how long each turn lasts, what to expect, and the caution that is about this piece."""
    display = Display(grill.units)
    lines = [
        first,
        f"{plan.seconds_per_turn:.0f} s a turn, {plan.turns} turns ({plan.seconds_low:.0f} to "
        f"{plan.seconds_high:.0f}); pull at {display.temperature(plan.pull_centre_c):.0f}, peak "
        f"{display.temperature_text(plan.peak_centre_c)}.",
        in_short(food.kind, plan.peak_centre_c, display),
        plan.warning,
        "" if lesson is None else lesson.verdict,
    ]
    if lesson is None and plan.seconds_high > 1.5 * plan.seconds_low:
        lines.append("A test piece would narrow this: gratemap sear --tested 60,60,60,60 --peak T.")
    return [line for line in lines if line]


def sear_why_lines(grill: Grill, food: Food, rails: Rails, place: str, plan: SearPlan) -> list[str]:
    """Say what the seconds hang on, the crust, the rails, what is assumed and every caution."""
    display, crust = Display(grill.units), plan.crust
    return [
        given_sentence(food, rails, place, display),
        f"The peak is likely {display.temperature(plan.peak_low_c):.0f} to "
        f"{display.temperature_text(plan.peak_high_c)}, after {plan.rest_s / 60:.0f} min of rest.",
        *(_worth(item, display) for item in plan.sensitivities),
        f"Crust: {_depth_text(crust.on_rail_mm, display)} dried on the rail marks, "
        f"{_depth_text(crust.between_mm, display)} between; browning heat for {crust.browning_s:.0f} s on the marks.",
        _recovery_sentence(plan, rails, display),
        *(f"Assumed: {sentence}" for sentence in plan.assumptions),
        *(f"Caution: {sentence}" for sentence in plan.cautions),
    ]


def how_long_text(plan: SearPlan) -> str:
    """Say in short how long, and how often."""
    return f"{plan.seconds_per_turn:.0f} s a turn, {plan.turns} turns"


def _depth_text(depth_mm: float, display: Display) -> str:
    """Return a depth of crust as finely as it can be known: a hundredth of an inch, a tenth of a millimetre."""
    depth, digits = display.length(depth_mm), 2 if display.units == "us" else 1
    return f"{depth:.{digits}f} {display.lengths}" if depth >= 0.5 * 10.0**-digits else "nothing"


def turns_text(count: int, headings: Sequence[float], sides: str) -> list[str]:
    """Say what is done for each turn: both headings on each face, the face turned over as the sides say."""
    from heatmap.decisions.placement.footprint import heading_text
    from heatmap.sear.runs import sides_of

    faces = sides_of(count, sides)
    told = []
    seen = {"A": 0, "B": 0}
    for at, face in enumerate(faces):
        how = "set it down" if at == 0 else "turn it over" if face != faces[at - 1] else "turn it round"
        if headings:
            how += f", heading {heading_text((headings[seen[face] % len(headings)],))}"
        seen[face] += 1
        told.append(how)
    return told


def seared_sentence(piece: SearedPiece, display: Display) -> str:
    """Say what was done with a piece, and how it came out."""
    when = "" if piece.taken_at is None else f"{piece.taken_at.astimezone():%Y-%m-%d %H:%M} "
    where = f" {piece.place}" if piece.place else ""
    came = [] if piece.peak_c is None else [f"peaked at {display.temperature_text(piece.peak_c)}"]
    came += [piece.outcome] if piece.outcome else []
    came += [f"looked {piece.looked}"] if piece.looked else []
    seconds = " ".join(f"{one:g}" for one in piece.turns_s)
    return f"{when}seared{where}, {seconds} s: {', '.join(came) or 'how it came out is not known'}."


def given_sentence(food: Food, rails: Rails, place: str, display: Display) -> str:
    """Say what the seconds were computed for; `place` is where the rails are, in words."""
    std_c = math.hypot(rails.own_std_c, rails.shared_std_c)
    margin = f" ±{display.margin(std_c):.0f}" if std_c > 0 else ""
    return (
        f"Rails {display.temperature(rails.rail_c):.0f}{margin} {display.degrees}{place and f' {place}'}; "
        f"food {display.length_text(food.thickness_mm)} thick, "
        f"{display.temperature_text(food.start_centre_c)} at its centre."
    )


def _recovery_sentence(plan: SearPlan, rails: Rails, display: Display) -> str:
    """Say how far a turn cools the rails, how long they need, and what that means for the next turn."""
    wait = plan.recovery
    so = "so use fresh rails" if rails.fresh else "the seconds are for going straight back on them"
    return (
        f"One turn cools the rails by about {display.difference_text(wait.drop_c)}; they need some "
        f"{wait.wait_low_s / 60:.0f} to {wait.wait_high_s / 60:.0f} min to come back, {so}."
    )


def _worth(item: Sensitivity, display: Display) -> str:
    step = display.difference_text(item.step) if item.unit == "°C" else display.length_text(item.step)
    more = {"rails": "hotter rails", "thickness": "thicker food", "start": "warmer start"}[item.of]
    less = {"rails": "colder", "thickness": "thinner", "start": "colder"}[item.of]
    return f"{step} {more}: {signed(item.more_s)} s a turn; {less}: {signed(item.less_s)} s."
