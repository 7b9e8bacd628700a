"""What to do now: one decision from a map, the food and the time, the same for every screen."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from heatmap.assessment import Assessment
from heatmap.decisions import tuning
from heatmap.decisions.burner_advice import BurnerAdvice, Change, advise, settled_mean_c
from heatmap.decisions.fitting import share_chance, zone_chance
from heatmap.decisions.next_spots import settling_shots, unshot_positions
from heatmap.decisions.placement import Place, Wanted, find_places
from heatmap.decisions.placement.plan import best_centre
from heatmap.decisions.placement.search import TargetField
from heatmap.decisions.remedies import Limit, Remedy, limit_of, remedies_for
from heatmap.decisions.waiting import Settling, lid_back, unsettled
from heatmap.errors import InputError
from heatmap.grate_model.round_map import age_minutes
from heatmap.taking.recheck_spots import recheck_labels
from heatmap.units import FloatArray
from heatmap.verdict.chances import chance_of_more

if TYPE_CHECKING:
    from heatmap.sear import Lesson, Rails, SearPlan

Do = Literal["wait", "shoot", "sear", "turn", "stuck"]
#: Why shots are asked for: the map is too old, of another occasion, or of before it settled; they would settle it; or
#: much of the map hangs on positions that nobody has shot.
ShootFor = Literal["", "old", "another day", "not settled", "unsure", "unshot", "no map"]

#: Joint samples of the settled surface under the marks now and then.
SAMPLES = 200


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Decision:
    """What to do now.

    Attributes
    ----------
    do : {"wait", "shoot", "sear", "turn", "stuck"}
    at_least : float
        The chance that was asked for.
    chance : float or None
        That the food fits at the best place, or that the zone is good; None without a map.
    for_food : bool
        Whether the chance is that of food, or of the zone.
    place : Place or None
        The best place for the food, or for a usual piece where none was named; None where it does not fit.
    plan : SearPlan or None
        The seconds at that place, where the grill says to what centre the food is to be seared.
    until, wait_min : datetime or None, float
        When to go on: the end of a wait, or of that which follows a turn; minutes from now, 0 where nothing is waited
        for.
    waits_for : Settling or None
    positions : tuple of str
        To be shot; empty for the whole grate.
    shoot_for : str
        Why; empty where nothing is to be shot.
    age_min : float or None
        Age of the map.
    advice : BurnerAdvice or None
        The change of marks that is asked for.
    chance_after : float or None
        That the food will fit once that change has come, where the food is what it was judged by.
    settings : mapping
        The marks of all knobs afterwards.
    limit, remedies
        What keeps it from being sear, and what would help, in order.
    too_late : bool
        A change, a wait or a shot that would be asked for does not fit before the food must go down.
    """

    do: Do
    at_least: float = tuning.AT_LEAST
    chance: float | None = None
    for_food: bool = False
    place: Place | None = None
    plan: SearPlan | None = None
    until: datetime | None = None
    wait_min: float = 0.0
    waits_for: Settling | None = None
    positions: tuple[str, ...] = ()
    shoot_for: ShootFor = ""
    age_min: float | None = None
    advice: BurnerAdvice | None = None
    chance_after: float | None = None
    settings: Mapping[str, float] = field(default_factory=dict)
    limit: Limit | None = None
    remedies: tuple[Remedy, ...] = ()
    too_late: bool = False

    @property
    def changes(self) -> tuple[Change, ...]:
        """The knobs to turn."""
        return () if self.advice is None else self.advice.changes

    @property
    def seconds_per_turn(self) -> float | None:
        """How long each turn lasts, where a sear was described."""
        return None if self.plan is None else self.plan.seconds_per_turn


def decide(
    assessment: Assessment,
    food: Wanted | None = None,
    now: datetime | None = None,
    *,
    taught: Callable[[Rails], Lesson | None] = lambda rails: None,
    plan: SearPlan | None = None,
    at_least: float = tuning.AT_LEAST,
    sear_at: datetime | None = None,
) -> Decision:
    """Say what to do now: the first that applies of wait, shoot, sear, turn; else what limits it and what would help.

    Parameters
    ----------
    assessment : Assessment
        Of the newest round.
    food : Wanted, optional
        Outline and headings of what goes on; without it the zone counts.
    now : datetime, optional
        The time; without it the map is taken as fresh.
    taught : callable, optional
        Returns what test pieces teach of the rails under the food, for the seconds a turn; None where there are none.
    plan : SearPlan, optional
        Those seconds, where they are known from the same question at another time; else they are worked out.
    at_least : float
        The chance of fitting from which on it is sear.
    sear_at : datetime, optional
        When the food must go down: nothing is asked for that takes longer.
    """
    place = _best_place(assessment, food)
    chance = zone_chance(assessment, assessment.zone) if food is None or place is None else place.chance_fits
    stuck = Decision(
        do="stuck",
        at_least=at_least,
        chance=chance,
        for_food=food is not None,
        place=place,
        plan=plan or _plan(assessment, place, taught),
        age_min=age_minutes(assessment.round.taken_at, now),
        settings=dict(assessment.round.settings),
    )
    left_min = math.inf if now is None or sear_at is None else (sear_at - now) / timedelta(minutes=1)
    return _Case(assessment, food, now, left_min, chance, stuck).decided()


class _Case(NamedTuple):
    """One question: how many minutes are left, the chance that it fits or is good, and what any answer to it says."""

    assessment: Assessment
    food: Wanted | None
    now: datetime | None
    left_min: float
    chance: float
    base: Decision

    def decided(self) -> Decision:
        """Return the first that applies."""
        waiting = unsettled(self.assessment)
        first = self._wait(waiting) or self._shoot_again(waiting) or self._sear()
        if first is None and self.left_min >= tuning.ROUND_MIN:
            first = self._shoot_to_settle() or self._shoot(unshot_positions(self.assessment), "unshot")
        if first is not None:
            return first
        turn = self._turn()
        in_time = turn is not None and turn.wait_min + tuning.ROUND_MIN <= self.left_min
        return turn if turn is not None and in_time else self._stuck(too_late=turn is not None)

    def _wait(self, waiting: Settling | None) -> Decision | None:
        now = self.now or self.assessment.surface.spots.last_at
        if waiting is None or now is None or now >= waiting.until:
            return None
        wait_min = (waiting.until - now) / timedelta(minutes=1)
        if wait_min > self.left_min:
            return None
        until = waiting.until.astimezone(now.tzinfo)
        return replace(self.base, do="wait", until=until, wait_min=wait_min, waits_for=waiting)

    def _shoot(self, labels: tuple[str, ...], why: ShootFor) -> Decision | None:
        return replace(self.base, do="shoot", positions=labels, shoot_for=why) if labels else None

    def _shoot_again(self, waiting: Settling | None) -> Decision | None:
        """A map that no longer speaks for the grate, or was shot before it had settled."""
        age_min, place = self.base.age_min or 0.0, self.base.place
        if age_min > tuning.SAME_SESSION_MIN:
            return replace(self.base, do="shoot", shoot_for="another day")
        old = age_min > tuning.STALE_MIN
        settled_since = waiting is not None and self.now is not None and self.now >= waiting.until
        if not (old or settled_since) or self.left_min < tuning.ROUND_MIN:
            return None
        labels = recheck_labels(self.assessment, None if place is None else place.centre_mm, 3)
        return self._shoot(labels, "old" if old else "not settled")

    def _sear(self) -> Decision | None:
        if self.chance < self.base.at_least:
            return None
        return self._wait(lid_back(self.assessment)) or replace(self.base, do="sear")

    def _shoot_to_settle(self) -> Decision | None:
        if self.chance < tuning.HOPELESS * self.base.at_least:
            return None
        return self._shoot(settling_shots(self.assessment, *self._area(), self.base.at_least), "unsure")

    def _turn(self) -> Decision | None:
        """A change that is likely enough to help by enough to be waited for."""
        advice, place, chance_after = advise(self.assessment), self.base.place, None
        if not advice.changes or (self.assessment.level_hides_all and advice.chance_nearer < tuning.TURN_CHANCE):
            return None
        share = self.assessment.evenness.share_in_band
        risen = advice.expected.share_in_band - share
        worth_it = risen >= tuning.TURN_SHARE and advice.chance_better >= tuning.TURN_CHANCE
        if share < tuning.NOTHING_IN_BAND:
            worth_it = True
        elif self.food is not None and place is not None:
            gain, chance_better = fit_after(self.assessment, self.food, place, advice)
            of_food = gain >= tuning.TURN_FIT and chance_better >= tuning.TURN_CHANCE
            harmless = self.chance < tuning.LITTLE_CHANCE or gain > tuning.HARMLESS
            worth_it = of_food or (worth_it and harmless)
            chance_after = min(max(self.chance + gain, 0.0), 1.0)
        if not worth_it:
            return None
        until = None if self.now is None else self.now + timedelta(minutes=advice.wait_min)
        return replace(
            self.base,
            do="turn",
            advice=advice,
            chance_after=chance_after,
            settings=advice.settings,
            until=until,
            wait_min=advice.wait_min,
        )

    def _stuck(self, *, too_late: bool) -> Decision:
        points_mm, weights, least_share = self._area()
        samples_c, band_c = self.assessment.samples_c_at(points_mm), self.assessment.settling_band_c
        known = share_chance(samples_c, weights, 0.0, band_c, least_share)
        unknown = share_chance(samples_c, weights, self.assessment.level_std_c, band_c, least_share)
        limit = limit_of(self.assessment, known - unknown)
        remedies = remedies_for(self.assessment, limit, for_food=self.base.for_food)
        return replace(self.base, limit=limit, remedies=remedies, too_late=too_late)

    def _area(self) -> tuple[FloatArray, FloatArray, float]:
        """Return places that stand for what has to be in band, the parts of it, and the share that has to be."""
        place = self.base.place
        if self.food is None or place is None:
            points_mm = self.assessment.wide_cells.inside_points_mm
            return points_mm, np.full(len(points_mm), 1.0 / len(points_mm)), tuning.ZONE_SHARE
        return *self.food.footprint.area_rule_mm(place.headings, place.centre_mm), tuning.FITS_SHARE


def _best_place(assessment: Assessment, food: Wanted | None) -> Place | None:
    """Return the best place for the food, or for a usual piece; None where that does not fit on the grate."""
    try:
        return find_places(assessment, food or Wanted.of(assessment.grill)).best
    except InputError:
        if food is not None:
            raise
        return None


def fit_after(assessment: Assessment, food: Wanted, now: Place, advice: BurnerAdvice) -> tuple[float, float]:
    """Return by how much the chance of fitting rises from the best place of now to the best under the advised marks,
    both once settled, and how likely the food's share in band rises at all.
    """
    model, target = assessment.model, assessment.grill.target
    field = TargetField(assessment, settled_mean_c(assessment, advice.settings))
    (best_mm, headings), area = best_centre(food, field), food.footprint.area_rule_mm
    rules = [area(now.headings, now.centre_mm), area(headings, best_mm)]
    points_mm = np.concatenate([points for points, _ in rules])
    openings = np.array([model.response.openings(marks) for marks in (assessment.round.settings, advice.settings)])
    drawn_c = model.settled(openings).sample(points_mm, SAMPLES, np.random.default_rng(assessment.round.number))
    now_c, then_c = np.split(assessment.calibration.compared_c(drawn_c), 2, axis=1)
    first = len(rules[0][0])
    both_c = (now_c[:, :first], then_c[:, first:])
    chances, shares = [], []
    for each_c, (_, weights) in zip(both_c, rules, strict=True):
        chances.append(share_chance(each_c, weights, assessment.level_std_c, assessment.band_c, tuning.FITS_SHARE))
        shares.append(((each_c >= target.low_c) & (each_c <= target.high_c)) @ weights)
    return chances[1] - chances[0], chance_of_more(*shares)


def _plan(assessment: Assessment, place: Place | None, taught: Callable[[Rails], Lesson | None]) -> SearPlan | None:
    """Return the seconds at a place; None where nobody said to what centre the food is to be seared."""
    if place is None or assessment.grill.food.target_c is None:
        return None
    from heatmap.sear import plan_on  # only now: most decisions are made without a sear

    rails = rails_under(assessment, place)
    lesson = taught(rails)
    return plan_on(assessment.grill, rails, lesson and lesson.beliefs)


def rails_under(assessment: Assessment, place: Place, *, fresh: bool = True) -> Rails:
    """Return the rails under a place, as the sear needs them."""
    from heatmap.sear import Rails  # only now: most decisions are made without a sear

    return replace(
        Rails.of(assessment.grill, place.rail_c),
        own_std_c=place.rail_own_std_c,
        shared_std_c=assessment.calibration.shared_std_c(place.rail_c),
        crossed=len(place.headings) > 1,
        fresh=fresh,
    )
