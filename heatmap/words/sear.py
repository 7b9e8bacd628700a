"""How long each turn lasts, what to expect of it, and what it hangs on."""

import math
from collections.abc import Sequence

from heatmap.decisions.placement import heading_text
from heatmap.grill.grill import Grill
from heatmap.sear import Lesson, Rails, SearedPiece, SearPlan
from heatmap.sear.plan import TOLD_STEPS
from heatmap.sear.runs import sides_of
from heatmap.units import Display
from heatmap.words.cautions import AT_THE_GRILL, for_food, in_short
from heatmap.words.phrases import signed

SPACE_STARTS = "Space starts it, q ends."

THEN = "Then {following}. Space when that is sooner."

SECONDS_OVER = "seconds over. Space when it is done."

HOW_DID_IT_COME_OUT = "How did it come out? Its peak, or under, right, over; Enter: only the seconds; n: nothing:"

HOW_TO_SAY_IT = "a temperature, under, right, over, n, or only Enter"

ASSUMPTIONS = (
    "A moist face stays at 100 °C (212 °F) while water leaves it; more heat than the meat takes dries a "
    "crust. So hotter rails buy crust rather than a hotter centre.",
    "Only the rail tops touch; between them the face is heated by radiation and hot gas.",
    "The food comes straight from the cooker, lies flat, is not pressed, and rests in the open on a rack "
    "until its centre peaks.",
    "Three seconds pass between turns, and every turn lands on rails that have recovered.",
    "Heat through the edges is left out; it matters for pieces less than about three times as wide as thick.",
)
KEPT_IN = "Kept in {file}: nobody needs to type it again."
LEFT_OUT = "A row of the file of sears is left out: {why}."
NO_PEAK = "No seconds: the grill file does not say which peak you want (target under [food])."
SAME_RAILS = "Three seconds pass between turns, and the food goes back on the same rails, still cooled by it."
WARMED_EVENLY = "No cooker was given, so the food is taken to be as warm at its faces as at its centre."


def sear_lines(first: str, grill: Grill, plan: SearPlan, lesson: Lesson | None) -> list[str]:
    """Say what to do, how long each turn lasts, what to expect, and the caution that is about this piece."""
    display = grill.display
    lines = [
        first,
        f"{plan.seconds_per_turn:.0f} s a turn, {plan.turns} turns ({plan.seconds_low:.0f} to "
        f"{plan.seconds_high:.0f}); pull at {display.temperature(plan.pull_centre_c):.0f}, peak "
        f"{display.temperature_text(plan.peak_centre_c)}.",
        in_short(grill.piece.meat or "", plan.peak_centre_c, display),
        roasts_sentence(plan, display),
        "" if lesson is None else lesson_sentence(lesson, display),
    ]
    if lesson is None and plan.seconds_high > 1.5 * plan.seconds_low:
        lines.append("A test piece would narrow this: gratemap sear --tested 60 --peak T.")
    return [line for line in lines if line]


def sear_why_lines(grill: Grill, rails: Rails, place: str, plan: SearPlan) -> list[str]:
    """Say what the seconds hang on, the crust, the rails, what is assumed and every caution."""
    display = grill.display
    return [
        given_sentence(grill, rails, place),
        f"The peak is likely {display.temperature(plan.peak_low_c):.0f} to "
        f"{display.temperature_text(plan.peak_high_c)}, after {plan.rest_s / 60:.0f} min of rest.",
        *(_worth(of, *seconds, display) for of, seconds in plan.worth.items()),
        f"Crust: {_depth_text(plan.crust_on_rail_mm, display)} dried on the rail marks, "
        f"{_depth_text(plan.crust_between_mm, display)} between; "
        f"browning heat for {plan.browning_s:.0f} s on the marks.",
        _recovery_sentence(plan, rails, display),
        *(f"Assumed: {sentence}" for sentence in assumption_sentences(grill, rails)),
        *(f"Caution: {sentence}" for sentence in food_cautions(grill, plan)),
    ]


def food_cautions(grill: Grill, plan: SearPlan | None) -> tuple[str, ...]:
    """Return the cautions about the food of a sear, the most pressing first; none where there is no sear."""
    return () if plan is None else for_food(grill.piece.meat or "", plan.peak_centre_c)


def all_cautions(grill: Grill, plan: SearPlan | None = None) -> list[str]:
    """Return the cautions about the food of a sear first, then those of the gun and the grill."""
    return [*food_cautions(grill, plan), *AT_THE_GRILL]


def assumption_sentences(grill: Grill, rails: Rails) -> tuple[str, ...]:
    """Say what the seconds take for granted."""
    sentences = list(ASSUMPTIONS)
    if not rails.fresh:
        sentences[3] = SAME_RAILS
    if grill.piece.cooker_c == "none":
        sentences.append(WARMED_EVENLY)
    return tuple(sentences)


def roasts_sentence(plan: SearPlan, display: Display) -> str:
    """Say where few turns on the rails do not suit the piece, since they would have to last too long; else nothing."""
    if not plan.roasts:
        return ""
    depth = f"{display.length(plan.crust_on_rail_mm):.1g} {display.lengths}"
    return (
        f"Few turns on the rails do not suit this piece: {plan.seconds_per_turn / 60.0:.0f} min a turn dry {depth} of "
        f"it. Bring it nearer to {display.temperature_text(plan.peak_centre_c)} first, or cut it thinner."
    )


def lesson_sentence(lesson: Lesson, display: Display) -> str:
    """Say what a test piece taught."""
    left = f"{100.0 * lesson.spread_left:.0f} % of the spread"
    if lesson.outcome is not None:
        way = "fewer" if lesson.outcome == "over" else "more"
        how_many = f"{way} seconds; how many it cannot tell, the peak by a probe would."
        return f"The test piece came out {lesson.outcome}: {how_many}"
    if lesson.unexplained_c:
        way = "above" if lesson.unexplained_c > 0.0 else "below"
        return (
            f"The test piece peaked {display.difference_text(abs(lesson.unexplained_c))} {way} what any conductance "
            "and all else that is not known can explain: check the probe, the start, the thickness and the seconds "
            "before you trust the new ones."
        )
    if not lesson.determined:
        return (
            "The test piece cannot settle the seconds: what it showed is as uncertain as what was known before it, "
            f"and leaves {left}. A probe reading of the peak would help."
        )
    return f"The test piece leaves {left} that was there before it."


def _depth_text(depth_mm: float, display: Display) -> str:
    """Return a depth of crust as finely as it can be known: a hundredth of an inch, a tenth of a millimetre."""
    depth, digits = display.length(depth_mm), 2 if display.units == "us" else 1
    return f"{depth:.{digits}f} {display.lengths}" if depth >= 0.5 * 10.0**-digits else "nothing"


def turns_text(count: int, headings: Sequence[float], sides: str) -> list[str]:
    """Say what is done for each turn: both headings on each face, the face turned over as the sides say."""
    faces = sides_of(count, sides)
    told = []
    for at, face in enumerate(faces):
        how = "set it down" if at == 0 else "turn it over" if face != faces[at - 1] else "turn it round"
        if headings:
            how += f", heading {heading_text((headings[faces[:at].count(face) % len(headings)],))}"
        told.append(how)
    return told


def seared_sentence(piece: SearedPiece, display: Display) -> str:
    """Say what was done with a piece, and how it came out."""
    when = "" if piece.taken_at is None else f"{piece.taken_at.astimezone():%Y-%m-%d %H:%M} "
    where = f" {piece.place}" if piece.place else ""
    came = [] if piece.peak_c is None else [f"peaked at {display.temperature_text(piece.peak_c)}"]
    came += [piece.outcome] if piece.outcome else []
    seconds = " ".join(f"{one:g}" for one in piece.turns_s)
    return f"{when}seared{where}, {seconds} s: {', '.join(came) or 'how it came out is not known'}."


def given_sentence(grill: Grill, rails: Rails, place: str = "") -> str:
    """Say what the seconds were computed for; `place` is where the rails are, in words."""
    display, piece = grill.display, grill.piece
    assert piece.thickness_mm is not None and piece.start_c is not None
    std_c = math.hypot(rails.own_std_c, rails.shared_std_c)
    margin = f" ±{display.margin(std_c):.0f}" if std_c > 0 else ""
    return (
        f"Rails {display.temperature(rails.rail_c):.0f}{margin} {display.degrees}{place and f' {place}'}; "
        f"food {display.length_text(piece.thickness_mm)} thick, "
        f"{display.temperature_text(piece.start_c)} at its centre."
    )


def _recovery_sentence(plan: SearPlan, rails: Rails, display: Display) -> str:
    """Say how far a turn cools the rails, how long they need, and what that means for the next turn."""
    low_s, high_s = rails.recovery_s(plan.rail_drop_c)
    so = "so use fresh rails" if rails.fresh else "the seconds are for going straight back on them"
    return (
        f"One turn cools the rails by about {display.difference_text(plan.rail_drop_c)}; they need some "
        f"{low_s / 60:.0f} to {high_s / 60:.0f} min to come back, {so}."
    )


def step_text(of: str, display: Display) -> str:
    """Return the step of a thing whose worth in seconds is told."""
    return (display.length_text if of == "thickness" else display.difference_text)(TOLD_STEPS[of])


def _worth(of: str, more_s: float, less_s: float, display: Display) -> str:
    more = {"rails": "hotter rails", "thickness": "thicker food", "start": "warmer start"}[of]
    less = {"rails": "colder", "thickness": "thinner", "start": "colder"}[of]
    return f"{step_text(of, display)} {more}: {signed(more_s)} s a turn; {less}: {signed(less_s)} s."


def done_sentence(seconds: Sequence[float]) -> str:
    """Say how long each turn was."""
    return f"Done: {' '.join(f'{one:g}' for one in seconds)} s."
