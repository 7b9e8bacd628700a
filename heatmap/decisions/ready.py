"""The one-line answer: wait, turn a knob, shoot again, or set it down here for so long."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import TYPE_CHECKING

from heatmap.assessment import Assessment
from heatmap.decisions.burner_advice import advise
from heatmap.decisions.placement import Place, Wanted, find_places, heading_text
from heatmap.sear import Beliefs, Food, Rails, SearPlan, plan_sear
from heatmap.taking.preheat import STEADY_C_PER_MIN
from heatmap.units import Display, percent
from heatmap.verdict.chances import SURE
from heatmap.words.map import level_hides_all
from heatmap.words.place import place_text
from heatmap.words.regions import region_name

if TYPE_CHECKING:
    from heatmap.decisions.burner_advice import BurnerAdvice, Change

#: A change is proposed here when it brings this share of the area; `gratemap burners` names smaller ones too. A wait
#: and another round are worth more to a cook with the food at hand; assumed.
WORTH_WAITING = 0.03
#: Time to shoot a round after a change, min (common practice, no source).
ROUND_MIN = 2.0
#: A map older than this no longer speaks for the grate, min: twice the time in which half a change comes; assumed.
STALE_MIN = 20.0
#: A round older than this was another occasion, which a re-check cannot bring up to date. Assumed.
SAME_SESSION_MIN = 12 * 60.0
#: A place whose mean is farther outside than this share of the band's width is not good enough to start. Assumed.
_FAR_FROM_BAND = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Sear:
    """What is to be seared, and to what centre.

    Attributes
    ----------
    food : Food
    target_centre_c : float
        Highest centre in the rest.
    turns : int
    sides : str
        "AABB" or "ABAB".
    beliefs : Beliefs or None
        What test pieces taught.
    """

    food: Food
    target_centre_c: float
    turns: int = 4
    sides: str = "AABB"
    beliefs: Beliefs | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ready:
    """The answer.

    Attributes
    ----------
    ready : bool
        Whether to set the food down now.
    sentence : str
    wait_min : float
        Minutes until it makes sense to look again; 0 when ready.
    place : Place or None
    plan : SearPlan or None
        None where not asked for.
    changes : tuple of Change
    settings : mapping
        Marks after the changes.
    """

    ready: bool
    sentence: str
    wait_min: float = 0.0
    place: Place | None = None
    plan: SearPlan | None = None
    changes: tuple[Change, ...] = ()
    settings: Mapping[str, float] = field(default_factory=dict)


def rails_under(assessment: Assessment, place: Place, *, fresh: bool = True) -> Rails:
    """Return the rails under a place, as the sear needs them."""
    return replace(
        Rails.of(assessment.grill, place.rail_c),
        own_std_c=place.rail_own_std_c,
        shared_std_c=assessment.calibration.shared_std_c(place.rail_c),
        crossed=len(place.headings) > 1,
        fresh=fresh,
        where=f"{place_text(assessment, place)} (round {assessment.round.number})",
    )


def ready(
    assessment: Assessment,
    wanted: Wanted,
    sear: Sear | None = None,
    *,
    now: datetime | None = None,
    sear_at: datetime | None = None,
) -> Ready:
    """Say in one line what to do next.

    Parameters
    ----------
    assessment : Assessment
    wanted : Wanted
        The food's outline and headings.
    sear : Sear, optional
        Without it the answer has a place but no seconds.
    now, sear_at : datetime, optional
        The time, and when the food must go down; a change whose wait overruns it is not proposed.

    Returns
    -------
    Ready
    """
    minutes_left = None if now is None or sear_at is None else (sear_at - now).total_seconds() / 60.0
    if minutes_left is not None and minutes_left < 0:
        minutes_left = 0.0
    return (
        _stale(assessment, now)
        or _still_moving(assessment, minutes_left)
        or _worth_turning(assessment, minutes_left)
        or _level_unknown(assessment, minutes_left)
        or _set_down(assessment, wanted, sear, minutes_left)
    )


def age_warning(assessment: Assessment, now: datetime) -> str:
    """Say how old a map is that no longer speaks for the grate; nothing for one that does, or of unknown age."""
    age_min = _stale_min(assessment, now)
    if age_min is None:
        return ""
    remedy = "take a new one with gratemap take"
    if age_min <= SAME_SESSION_MIN:
        remedy = "shoot a few spots again with gratemap take --recheck"
    number = assessment.round.number
    return f"Round {number} is {_age_text(age_min)} old and may no longer speak for the grate: {remedy}."


def _stale_min(assessment: Assessment, now: datetime | None) -> float | None:
    """Return the age of a map that is too old to be believed, min; None for any other."""
    taken_at = assessment.round.taken_at
    if now is None or taken_at is None:
        return None
    age_min = (now - taken_at).total_seconds() / 60.0
    return age_min if age_min > STALE_MIN else None


def _age_text(age_min: float) -> str:
    if age_min >= 2 * 24 * 60:
        return f"{age_min / (24 * 60):.0f} days"
    return f"{age_min:.0f} min" if age_min < 120 else f"{age_min / 60:.0f} h"


def _stale(assessment: Assessment, now: datetime | None) -> Ready | None:
    age_min = _stale_min(assessment, now)
    if age_min is None:
        return None
    age = _age_text(age_min)
    if age_min > SAME_SESSION_MIN:
        return Ready(ready=False, sentence=f"The last round is {age} old: take a new one (gratemap take).")
    sentence = f"The last round is {age} old: shoot a re-check first (gratemap take --recheck)."
    return Ready(ready=False, sentence=sentence)


def _still_moving(assessment: Assessment, minutes_left: float | None) -> Ready | None:
    drift = assessment.round_map.drift
    if drift is None or abs(drift.per_minute_c) < max(STEADY_C_PER_MIN, 2 * drift.per_minute_std_c):
        return None
    from heatmap.grate_model.settling import USUAL_MIN  # only now: what it imports takes long

    warm_up_min = advise(assessment).wait_min or USUAL_MIN
    time_constant_min = warm_up_min / math.log(10.0)  # 90 % of a change takes ln 10 of them
    wait_min = math.ceil(time_constant_min * math.log(abs(drift.per_minute_c) / STEADY_C_PER_MIN))
    wait_min = max(wait_min, 1)
    if minutes_left is not None and wait_min > minutes_left:
        return None
    direction = "rising" if drift.per_minute_c > 0 else "falling"
    rate = Display(assessment.grill.units).difference_text(abs(drift.per_minute_c))
    return Ready(
        ready=False, sentence=f"Wait {wait_min} min, still {direction} {rate} a minute.", wait_min=float(wait_min)
    )


def _worth_turning(assessment: Assessment, minutes_left: float | None) -> Ready | None:
    advice = advise(assessment)
    if not advice.worth_it or not advice.changes or not _worth_waiting(advice):
        return None
    wait_min = math.ceil(advice.wait_min)
    if minutes_left is not None and wait_min + ROUND_MIN > minutes_left:
        return None
    grill = assessment.grill
    turns = ", ".join(
        f"{change.burner} to {grill.burner(change.burner).mark_text(change.to_mark)}" for change in advice.changes
    )
    return Ready(
        ready=False,
        sentence=f"Turn {turns}; wait {wait_min} min and shoot again.",
        wait_min=float(wait_min),
        changes=advice.changes,
        settings=advice.settings,
    )


def _worth_waiting(advice: BurnerAdvice) -> bool:
    """Tell whether a change brings enough to wait for; with next to nothing in band any does."""
    now, then = advice.now.share_in_band, advice.expected.share_in_band
    return now < WORTH_WAITING or then - now >= WORTH_WAITING


def _level_unknown(assessment: Assessment, minutes_left: float | None) -> Ready | None:
    """Ask for what pins the level, where without it no place can be called in band."""
    if not level_hides_all(assessment) or (minutes_left is not None and minutes_left < ROUND_MIN):
        return None
    margin = Display(assessment.grill.units).margin_text(assessment.level_std_c)
    return Ready(
        ready=False,
        sentence=f"Take one contact reading first: the level is known only to ±{margin}, so no place is sure to be in "
        "band. Without a probe, give the band as your gun shows it.",
    )


def _set_down(assessment: Assessment, wanted: Wanted, sear: Sear | None, minutes_left: float | None) -> Ready:
    place = find_places(assessment, wanted).best
    low_c, high_c = assessment.band_c
    display = Display(assessment.grill.units)
    outside_c = max(low_c - place.mean_c, place.mean_c - high_c)
    where = region_name(place.x_mm, place.y_mm, assessment.grill.grate)
    plan = None
    if sear is not None:
        plan = plan_sear(
            sear.food,
            rails_under(assessment, place, fresh=not wanted.same_place),
            target_centre_c=sear.target_centre_c,
            turns=sear.turns,
            sides=sear.sides,
            beliefs=sear.beliefs,
        )
    seconds = "" if plan is None else _seconds_text(plan)
    heading = f", heading {heading_text(place.headings)}" if place.headings else ""
    knobs = "; leave the knobs" if any(one.control != "none" for one in assessment.grill.burners) else ""
    late = minutes_left is not None
    if outside_c > _FAR_FROM_BAND * (high_c - low_c):
        off = f"{display.difference_text(outside_c)} too {'cold' if place.mean_c < low_c else 'hot'}"
        if late:
            sentence = f"Too late to change it: the best place, {where}, is still {off}{heading}{seconds}{knobs}."
            return Ready(ready=True, sentence=sentence, place=place, plan=plan)
        remedy = f"give it {'more' if place.mean_c < low_c else 'less'} heat and shoot again"
        sentence = f"Do not sear yet: the best place, {where}, is still {off}; {remedy}. See gratemap burners."
        return Ready(ready=False, sentence=sentence, place=place)
    chance = "" if place.chance_in_band >= SURE else f"; all in band: {percent(place.chance_in_band)} likely"
    return Ready(ready=True, sentence=f"Sear {where}{heading}{seconds}{knobs}{chance}.", place=place, plan=plan)


def _seconds_text(plan: SearPlan) -> str:
    """Say the seconds, and the 90 % interval of what it may really take."""
    return f", {plan.seconds_per_turn:.0f} s a turn ({plan.seconds_low:.0f} to {plan.seconds_high:.0f})"
