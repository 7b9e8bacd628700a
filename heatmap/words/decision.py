"""What to do now, in one sentence, the same wherever it is said; where to shoot next, and what hangs on it."""

from collections.abc import Sequence
from datetime import datetime

from heatmap.assessment import Assessment
from heatmap.decisions import remedies as known
from heatmap.decisions.burner_advice import Change
from heatmap.decisions.decision import Decision
from heatmap.decisions.next_spots import NextSpot
from heatmap.decisions.placement import Place, heading_text
from heatmap.decisions.tuning import HARDLY
from heatmap.grill.grill import Grill
from heatmap.units import percent
from heatmap.verdict.tuning import SURE
from heatmap.words.grill import zone_text
from heatmap.words.phrases import joined
from heatmap.words.regions import where


def decision_sentence(assessment: Assessment, decision: Decision) -> str:
    """Say what to do now."""
    if decision.do == "shoot":
        return shoot_sentence(decision)
    return {"wait": _wait, "sear": _sear, "turn": _turn, "stuck": _stuck}[decision.do](assessment, decision)


#: What is said of what keeps the food or the zone out of the band, where that is not the level.
_LIMITS = {
    "marks": "What to turn cannot be told without the marks",
    "reach": "These knobs cannot reach the band",
    "no knobs": "As good as it gets without moving heat",
}
#: A headline is no longer than this, where it need not be.
_HEADLINE = 40


def headline(grill: Grill, decision: Decision) -> str:
    """Say what to do now in the fewest words, to be read at arm's length."""
    match decision.do:
        case "wait":
            return f"Wait until {decision.until:%H:%M}" if decision.until else until_words(None, decision.wait_min)
        case "shoot":
            return f"Shoot {joined(decision.positions)}" if decision.positions else "Shoot a new round"
        case "sear":
            place = decision.place
            return "Sear" if place is None else f"Sear {where(grill, *place.centre_mm)}"
        case "turn":
            turns = f"Turn {turn_words(grill, decision)}"
            return turns if len(turns) <= _HEADLINE else f"Turn {len(decision.changes)} knobs"
        case "stuck":
            return "As good as it gets"


def anyway_sentence(assessment: Assessment, decision: Decision) -> str:
    """Say the best place with its chance and its seconds, whatever is to be done first."""
    if decision.place is None:
        return f"Nothing fits on this grate. {decision_sentence(assessment, decision)}"
    best = place_words(assessment.grill, decision.place)
    return f"Best place: {best}{_seconds(decision)}; {chance_words(assessment, decision)}."


def place_words(grill: Grill, place: Place) -> str:
    """Say where and how to set food down: "on B2, a hand towards B3, heading 2 and 10"."""
    heading = f", heading {heading_text(place.headings)}" if place.headings else ""
    return f"{where(grill, *place.centre_mm)}{heading}"


def chance_words(assessment: Assessment, decision: Decision) -> str:
    """Say how likely it fits; of the zone, how much of it is in band."""
    if decision.for_food:
        return f"{percent(decision.chance or 0.0)} likely to fit"
    return f"{percent(assessment.evenness.share_in_band)} of {zone_text(assessment.grill)} in band"


def _seconds(decision: Decision) -> str:
    return "" if decision.plan is None else f", {decision.plan.seconds_per_turn:.0f} s a turn"


def _sear(assessment: Assessment, decision: Decision) -> str:
    grill, place = assessment.grill, decision.place
    rest = f"{_seconds(decision)}{'; leave the knobs' if grill.settable else ''}."
    if decision.for_food and place is not None:
        return f"Sear {place_words(grill, place)}{rest}"
    best = f", best {where(grill, *place.centre_mm)}" if place else ""
    return f"Sear: {chance_words(assessment, decision)}{best}{rest}"


def until_words(until: datetime | None, minutes: float) -> str:
    """Say how long to wait: "until 14:37 (13 min)"."""
    length = f"{max(minutes, 1.0):.0f} min"
    return f"for {length}" if until is None else f"until {until:%H:%M} ({length})"


def _wait(assessment: Assessment, decision: Decision) -> str:
    waits = decision.waits_for
    assert waits is not None
    until = f"Wait {until_words(decision.until, decision.wait_min)}"
    if waits.cause == "change":
        return f"{until}: the last turn of the knobs has not come yet; then shoot again."
    if waits.cause == "lid":
        return f"{until} with the lid closed, for it cooled; then s{_sear(assessment, decision)[1:]}"
    rate = assessment.grill.display.difference_text(abs(waits.per_minute_c))
    return f"{until}, still {waits.cause} {rate} a minute; then shoot again."


def age_text(minutes: float) -> str:
    """Return an age in minutes, or in hours or days where those are read more easily."""
    if minutes < 120:
        return f"{minutes:.0f} min"
    return f"{minutes / 60:.0f} h" if minutes < 48 * 60 else f"{minutes / 1440:.0f} days"


def shoot_sentence(decision: Decision) -> str:
    """Say which positions to shoot, and why; "Re-check" is an option of the command and a key of the page."""
    labels, age = joined(decision.positions), age_text(decision.age_min or 0.0)
    so_far = f"{percent(decision.chance or 0.0)} likely {'to fit' if decision.for_food else 'good enough'} so far"
    told = {
        "another day": f"Shoot a new round: the last is {age} old.",
        "old": f"Re-check {labels}: the map is {age} old.",
        "not settled": f"Re-check {labels}: the map is from before it had settled.",
        "unshot": f"Shoot {labels} too: nobody has, and the map hangs on it.",
        "no map": f"Shoot {labels}: too few readings for a map yet.",
    }
    return told.get(decision.shoot_for, f"Re-check {labels}: that may settle it, {so_far}.")


def turn_words(grill: Grill, decision: Decision) -> str:
    """Say which knobs go to which marks: "left to 6.5 and right to 4"."""
    turns = (f"{one.burner} to {grill.burner(one.burner).mark_text(one.to_mark)}" for one in decision.changes)
    return joined(list(turns))


def change_text(grill: Grill, change: Change) -> str:
    """Say what is done to one knob: "left from 6 to 6.5"."""
    burner = grill.burner(change.burner)
    return f"{change.burner} from {burner.mark_text(change.from_mark)} to {burner.mark_text(change.to_mark)}"


def _turn(assessment: Assessment, decision: Decision) -> str:
    back = joined([one.burner for one in decision.changes if one.back])
    partly = f" ({back} part of the way back)" if back else ""
    wait = until_words(decision.until, decision.wait_min)
    return f"Turn {turn_words(assessment.grill, decision)}{partly}; wait {wait}, then shoot again."


def _stuck(assessment: Assessment, decision: Decision) -> str:
    grill = assessment.grill
    chance = chance_words(assessment, decision)
    best = "" if decision.place is None else f"best {where(grill, *decision.place.centre_mm)}, "
    first = "" if not decision.remedies else remedy_sentence(grill, decision.remedies[0])
    if decision.limit == "level":
        margin = grill.display.margin_text(assessment.level_std_c)
        return f"{first.removesuffix('.')}: the level is known only to ±{margin}; {best}{chance}."
    knobs = "Too late for a change" if decision.too_late else "As good as these knobs get"
    return f"{_LIMITS.get(decision.limit or '', knobs)}: {best}{chance}. {first}".rstrip()


def remedy_sentence(grill: Grill, remedy: known.Remedy) -> str:
    """Say what would help."""
    display = grill.display
    far = display.difference_text
    match remedy:
        case "contact reading":
            return "Take one contact reading (a surface probe held on a rail)."
        case known.CloseUps(begun=True):
            return f"Shoot {remedy.positions} more positions from close up, each on a rail and between two."
        case known.CloseUps():
            near = display.length_text(remedy.near_mm)
            return (
                f"Without a probe: close-up pairs from {near}, on a rail and between two; glove on, hand to the side."
            )
        case known.GiveMarks():
            return f"Before the next round say where {joined(remedy.burners)} stand."
        case known.SmallerZone():
            return f"The {remedy.part} half by itself is good, {percent(remedy.chance)} likely."
        case known.OtherBand(low_c, high_c, share, asked_share):
            band = f"{display.range_text(low_c, high_c)} {display.degrees}"
            return f"Once settled, a band of {band} holds {percent(share)} of it, yours {percent(asked_share)}."
        case known.ChangeHeat(off_c):
            off = f"It is {far(abs(off_c))} too {'hot' if off_c > 0 else 'cold'} on the whole:"
            less, more = "spread the coals thinner or close the air a little", "add or heap up coals, or open the air"
            return f"{off} {less if off_c > 0 else more}."
        case "name food":
            return "Say the size of the food: then the best place for it counts, not all of it."
        case "take it":
            return "If it must go on now, use the best place."
        case known.MoveHeat():
            return f"Move heat from the {remedy.from_part} towards the {remedy.to_part}, {far(remedy.hotter_c)} colder."
        case known.TurnPanel(hotter_c, number):
            side = "left" if grill.grate.rails == "front-to-back" else "front"
            turned = f"Turn panel {number} from the {side} end for end"
            return f"{turned}: one end is {far(hotter_c)} hotter; then shoot again."


#: Why a position comes next while there is no map.
FIRST_WHY = "too few readings for a map yet; the centre and the corners come first"
HARDLY_CHANGES = "More shots would hardly change the answer."


def next_lines(first: str, decision: Decision, spots: Sequence[NextSpot]) -> list[str]:
    """Say what to do, then what hangs on each position; that nothing does only where no shot is asked for."""
    lines = [first, *(f"{spot.position:4s} {why_text(spot)}" for spot in spots)]
    if decision.do != "shoot" and sum(spot.gain for spot in spots) < HARDLY:
        lines.append(HARDLY_CHANGES)
    return lines


def why_text(spot: NextSpot) -> str:
    """Say in a few words what hangs on a position."""
    chances = spot.chances
    first, second = sorted(chances, key=lambda word: -chances[word])[:2]
    again = {0: "", 1: "; shot once already"}.get(spot.shots, f"; shot {spot.shots} times already")
    likely = f"{percent(chances[first])} likely {first}"
    if spot.gain < 0.1 * HARDLY:
        return f"{likely}; hardly anything hangs on it{again}"
    if chances[first] >= SURE:
        return f"{likely}, but the places around it hang on it{again}"
    return f"{likely}, {percent(chances[second])} {second}{again}"
