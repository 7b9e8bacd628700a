"""Which knob to turn to which mark: the settable change that brings the most area into the band."""

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from heatmap.assessment import Assessment
from heatmap.decisions.burner_search import SAME_MARK, Draws, Places, Search, a_few
from heatmap.decisions.tuning import (
    BACK_SHARE,
    MOST_BACK,
    NEARER,
    NOTHING_IN_BAND,
    REACHABLE_CHANCE,
    REACHABLE_SHARE,
    TAKE_BACK_CHANCE,
)
from heatmap.grate_model.model import GrateModel
from heatmap.grate_model.round_map import MOST_RECHECK_PLACES
from heatmap.units import FloatArray
from heatmap.verdict.chances import Outlook, chance_of_more, outlook


class Change(NamedTuple):
    """One knob to turn; `back` where it goes a part of the way back to its last mark."""

    burner: str
    from_mark: float
    to_mark: float
    back: bool = False


class Learned(NamedTuple):
    """By how much the part of the grate nearest to a burner rises per mark now [°C], and from how many changes that is
    known; from none it is a guess from where the burner lies.
    """

    burner: str
    slope_c: float
    slope_std_c: float
    changes: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BurnerAdvice:
    """What to turn, and what will come of it.

    Attributes
    ----------
    changes : tuple of Change
        Empty for "leave it".
    settings : mapping
        Mark of every burner afterwards.
    expected : Outlook
        What will come of it; the evenness of the map without a change.
    wait_min : float
        Until 90 % of the change has come; 0 without a change.
    reachable : bool
    chance_better, chance_nearer : float
        That the best change found raises the share in band, the level known, whether it is worth it or not; and that
        it brings the grate nearer to the band over all that the level may be.
    learned : tuple of Learned
        What is known of each burner.
    """

    settings: Mapping[str, float]
    expected: Outlook
    changes: tuple[Change, ...] = ()
    wait_min: float = 0.0
    reachable: bool = True
    chance_better: float = 0.5
    chance_nearer: float = 0.5
    learned: tuple[Learned, ...] = ()


@lru_cache(maxsize=8)
def advise(assessment: Assessment) -> BurnerAdvice:
    """Return the change of marks that is expected to bring the most area into the band; once for each assessment.

    Parameters
    ----------
    assessment : Assessment
        Of the newest round.
    """
    model = assessment.model
    if not model.response.burners or not model.rounds[-1].marks_known:
        return BurnerAdvice(settings=dict(assessment.round.settings), expected=assessment.evenness)
    draws, search = _searched(assessment)
    return _told(assessment, draws, search, search.best())


def settled_mean_c(assessment: Assessment, settings: Mapping[str, float]) -> FloatArray:
    """Return the surface that marks lead to at the wide cells (m,), in the numbers of the band; that of the round where
    its marks are not known.
    """
    points_mm, model = assessment.wide_cells.points_mm, assessment.model
    if not model.response.burners or not model.rounds[-1].marks_known:
        return assessment.at(points_mm)[0]
    return assessment.calibration.compared_c(model.expected(settings).mean(points_mm))


def _searched(assessment: Assessment) -> tuple[Draws, Search]:
    """Return joint samples, and the search among the marks that may be set in the round after a turn."""
    few = a_few(np.flatnonzero(assessment.zone))
    draws = Draws(assessment, assessment.wide_cells.points_mm[few], np.random.default_rng(0))
    model = assessment.model
    before = _marks_before_turn(model, [burner.name for burner in draws.burners])
    fresh = draws.unseen()
    if before is None or fresh.chance_better(draws.now, before) >= TAKE_BACK_CHANCE:
        return draws, Search(draws.for_search())
    held, partly = (Search(draws.for_search(), _no_farther_back(before, draws.now, part)) for part in (0.0, MOST_BACK))
    gain = fresh.weighed().shares(partly.marks_at(partly.best())) - fresh.weighed().shares(held.marks_at(held.best()))
    return draws, partly if np.mean(gain) >= BACK_SHARE else held


def _no_farther_back(before: Sequence[float], now: Sequence[float], part: float) -> list[tuple[float, float]]:
    """Return between which marks each burner may be set to undo no more than a part of its last turn."""
    limits = []
    for old, new in zip(before, now, strict=True):
        farthest = new - part * (new - old)
        limits.append((farthest if new > old else -math.inf, farthest if new < old else math.inf))
    return limits


def _marks_before_turn(model: GrateModel, names: Sequence[str]) -> list[float] | None:
    """Return the marks before the last turn of this group of rounds; None where no turn is known, and where a whole
    round was shot at these marks before the newest: it is no longer the round after the turn.
    """
    newest = model.rounds[-1]
    for one, marks in zip(reversed(model.rounds[:-1]), _earlier_marks(model, names), strict=False):
        if marks != [float(newest.settings[name]) for name in names]:
            return marks
        if min(len(one.rail_c), len(newest.rail_c)) > MOST_RECHECK_PLACES:
            return None
    return None


def _earlier_marks(model: GrateModel, names: Sequence[str]) -> list[list[float]]:
    """Return the marks of the rounds before the newest, newest first, as far as they are known and of its group."""
    group = model.rounds[-1].group
    before = itertools.takewhile(lambda one: one.group == group and one.marks_known, reversed(model.rounds[:-1]))
    return [[float(one.settings[name]) for name in names] for one in before]


def _is_partly_back(earlier: Sequence[float], old: float, new: float) -> bool:
    """Tell whether a knob goes back towards the mark it stood at before, of those `earlier`, newest first."""
    last = next((mark for mark in earlier if abs(mark - old) > SAME_MARK), old)
    return min(last, old) < new < max(last, old)


def _told(assessment: Assessment, draws: Draws, search: Search, best: Places) -> BurnerAdvice:
    """Look at the best marks again with samples the search has not seen, and decide."""
    model = assessment.model
    fresh, weighed = draws.unseen(), draws.unseen().weighed()
    now_marks, best_marks = search.marks_at(search.now), search.marks_at(best)
    now, then = weighed.shares(now_marks), weighed.shares(best_marks)
    gain, nearer = float(np.mean(then - now)), search.value(best) - search.value(search.now)
    expected: Outlook = assessment.evenness
    worth_it = nearer > NEARER if expected.share_in_band < NOTHING_IN_BAND else gain > 0.0
    if worth_it:  # the cook's map says where the share stands; the samples a change was chosen by, what it brings
        share = expected.share_in_band + gain
        then_c = assessment.calibration.compared_c(model.scale.celsius(fresh.heat(best_marks)))
        expected = outlook(then_c, *assessment.band_c).with_share(share)
    highest = np.maximum(fresh.shares(now_marks), fresh.shares(best_marks))
    reachable = float(np.mean(highest >= REACHABLE_SHARE)) >= REACHABLE_CHANCE
    chosen = best_marks if worth_it else now_marks
    names = [burner.name for burner in model.response.burners]
    earlier = _earlier_marks(model, names)
    changes = tuple(
        Change(burner=name, from_mark=old, to_mark=new, back=_is_partly_back([one[at] for one in earlier], old, new))
        for at, (name, old, new) in enumerate(zip(names, now_marks, chosen, strict=True))
        if old != new
    )
    return BurnerAdvice(
        changes=changes,
        settings=dict(assessment.round.settings) | dict(zip(names, chosen, strict=True)),
        reachable=reachable,
        chance_better=weighed.chance_better(now_marks, best_marks),
        chance_nearer=chance_of_more(*(fresh.merits(fresh.heat(marks)) for marks in (now_marks, best_marks))),
        expected=expected,
        wait_min=model.minutes_of_change if changes else 0.0,
        learned=_learned(fresh, model),
    )


def _learned(draws: Draws, model: GrateModel) -> tuple[Learned, ...]:
    """Return how much the region of each burner answers to a mark, and how many changes of it have been seen."""
    pairs = [
        (one.settings, two.settings)
        for one, two in itertools.pairwise(model.rounds)
        if one.group == two.group and one.marks_known and two.marks_known
    ]
    learned = []
    for at, name in enumerate(burner.name for burner in draws.burners):
        slope, changes = draws.slope_per_mark(at), sum(one[name] != two[name] for one, two in pairs)
        learned.append(Learned(name, float(slope.mean()), float(slope.std()), changes))
    return tuple(learned)


def missing_marks(assessment: Assessment) -> tuple[str, ...]:
    """Return the burners whose mark is not known in the round, without which nobody can say what to turn."""
    marks = assessment.round.settings
    return tuple(one.name for one in assessment.grill.settable if one.name not in marks)


def best_band(width_c: float, celsius: FloatArray) -> tuple[float, float, float]:
    """Return the band of this width that holds the most area, and that share."""
    ordered = np.sort(celsius)
    counts = np.searchsorted(ordered, ordered + width_c, side="right") - np.arange(len(ordered))
    at = int(np.argmax(counts))
    return float(ordered[at]), float(ordered[at] + width_c), float(counts[at] / len(ordered))
