"""Which knob to turn to which mark: the settable change that brings the most area into the band."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from heatmap.assessment import Assessment
from heatmap.decide.burner_search import Draws, Places, Search, a_few
from heatmap.decide.without_knobs import advise_without_knobs
from heatmap.grate_model.model import GrateModel
from heatmap.grate_model.settling import USUAL_MIN, VENTS_MIN, warm_up_minutes
from heatmap.grill.grill import Grill
from heatmap.units import STDS_95, BoolArray, FloatArray, f_difference_from_c, f_from_c, percent
from heatmap.verdict.chances import Evenness, median_spread_c
from heatmap.verdict.regions import parts_of_grate

#: A change must raise the share in band by this much of itself (of at least so much), and be as likely better as
#: worse; else "leave it": nobody turns a knob for "39 % to 39 %". Where next to nothing is in band, coming nearer is
#: enough. From make-believe grills: asking for three times as much saves no bad change, and leaves grills where they
#: are that have some way to go.
WORTH_IT, LEAST_SHARE, WORTH_IT_CHANCE, NOTHING_IN_BAND = 0.01, 0.5, 0.5, 0.05
#: A setting is reachable when a share of at least this much is at least this likely.
REACHABLE_SHARE, REACHABLE_CHANCE = 0.3, 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One knob to turn."""

    burner: str
    from_mark: float
    to_mark: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """Evenness now or expected: share of area in band with its 90 % limits, and the spread of the surface [°C]."""

    share_in_band: float
    share_in_band_low: float
    share_in_band_high: float
    p95_minus_p5_c: float

    @classmethod
    def of(cls, even: Evenness) -> Outlook:
        """Return that of a map."""
        return cls(
            share_in_band=even.share_in_band,
            share_in_band_low=even.share_in_band_low,
            share_in_band_high=even.share_in_band_high,
            p95_minus_p5_c=even.p95_minus_p5_c,
        )

    def with_share(self, share: float) -> Outlook:
        """Return the same with another share, its limits no narrower and about it."""
        share = min(max(share, 0.0), 1.0)
        return replace(
            self,
            share_in_band=share,
            share_in_band_low=min(self.share_in_band_low, share),
            share_in_band_high=max(self.share_in_band_high, share),
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BurnerAdvice:
    """What to turn, and what will come of it.

    Attributes
    ----------
    changes : tuple of Change
        Empty for "leave it".
    settings : mapping
        Mark of every burner afterwards.
    worth_it, reachable : bool
    why : str
    now, expected : Outlook
    wait_min : float
        Until 90 % of the change has come; 0 without a change.
    cells_mm : ndarray (m, 2)
    expected_mean_c : ndarray (m,)
        Expected surface after the change at these cells, in the numbers of the band.
    learned : tuple of str
        What is known of each burner, a line each.
    """

    changes: tuple[Change, ...]
    settings: Mapping[str, float]
    worth_it: bool
    reachable: bool
    why: str
    now: Outlook
    expected: Outlook
    wait_min: float
    cells_mm: FloatArray
    expected_mean_c: FloatArray
    learned: tuple[str, ...] = ()


@lru_cache(maxsize=8)
def advise(assessment: Assessment, seed: int = 0) -> BurnerAdvice:
    """Return the change of marks that is expected to bring the most area into the band; once for each assessment.

    Parameters
    ----------
    assessment : Assessment
        Of the newest round.
    seed : int
        For the random samples.
    """
    model = assessment.round_map.model
    if not model.response.burners or not model.rounds[-1].marks_known:
        return _without_marks(assessment)
    few = a_few(np.flatnonzero(assessment.wide_cells.inside.ravel()))
    draws = Draws.of(assessment, assessment.wide_cells.points_mm[few], np.random.default_rng(seed))
    search = Search(draws.for_search())
    tried = _tried(model, search)
    best = max(search.best(avoid=tried.worse), tried.best, key=search.value)
    return _told(assessment, draws, search, best)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Tried:
    """Marks that were tried in this group of rounds: those found worse than now, and the best."""

    worse: frozenset[Places]
    best: Places


def _tried(model: GrateModel, search: Search) -> _Tried:
    """Sort the marks tried under the same sky by the share they are now known to give."""
    names = [burner.name for burner in model.response.burners]
    rounds = [one for one in model.rounds if one.group == model.rounds[-1].group and one.marks_known]
    places = {search.places(np.array([one.settings[name] for name in names])) for one in rounds}
    shares = {one: search.share(one) for one in places if one is not None} | {search.now: search.share(search.now)}
    worse = frozenset(one for one, share in shares.items() if one != search.now and share < shares[search.now])
    return _Tried(worse=worse, best=max(sorted(shares), key=lambda one: shares[one]))


def _told(assessment: Assessment, draws: Draws, search: Search, best: Places) -> BurnerAdvice:
    """Look at the best marks again with samples the search has not seen, decide, and put it into words."""
    grill, model = assessment.grill, assessment.round_map.model
    fresh, weighed = draws.unseen(), draws.unseen().weighed()
    now_marks, best_marks = search.marks_at(search.now), search.marks_at(best)
    now, then = weighed.shares(now_marks), weighed.shares(best_marks)
    nearer = search.value(best) - search.value(search.now)
    worth_it = best != search.now and _worth_it(now, then, weighed.chance_better(now_marks, best_marks), nearer)
    outlook_now = Outlook.of(assessment.evenness)
    outlook_then = outlook_now
    if worth_it:  # the cook's map says where the share stands; the samples a change was chosen by, what it brings
        gained = float(np.mean(then) - np.mean(now))
        outlook_then = _outlook(assessment, fresh, best_marks).with_share(outlook_now.share_in_band + gained)
    highest = np.maximum(fresh.shares(now_marks), fresh.shares(best_marks))
    reachable = float(np.mean(highest >= REACHABLE_SHARE)) >= REACHABLE_CHANCE
    chosen = best_marks if worth_it else now_marks
    names = [burner.name for burner in model.response.burners]
    changes = tuple(
        Change(burner=name, from_mark=old, to_mark=new)
        for name, old, new in zip(names, now_marks, chosen, strict=True)
        if old != new
    )
    settings = dict(assessment.round.settings) | dict(zip(names, chosen, strict=True))
    cells_mm, inside = assessment.wide_cells.points_mm, assessment.wide_cells.inside.ravel()
    expected_c = assessment.calibration.compared_c(model.expected(settings).mean(cells_mm))
    seen = _count_changes(model)
    outcome = _Outcome(
        worth_it=worth_it,
        reachable=reachable,
        turned=any(seen),
        gain=outlook_then.share_in_band - outlook_now.share_in_band,
        level_std_c=assessment.level_std_c,
        expected_c=expected_c,
    )
    return BurnerAdvice(
        changes=changes,
        settings=settings,
        worth_it=worth_it,
        reachable=reachable,
        why=_why(grill, outcome, cells_mm, inside),
        now=outlook_now,
        expected=outlook_then,
        wait_min=_wait_min(model) if changes else 0.0,
        cells_mm=cells_mm,
        expected_mean_c=expected_c,
        learned=_learned_lines(grill, fresh, seen),
    )


def _worth_it(now: FloatArray, then: FloatArray, better: float, nearer: float) -> bool:
    """Tell whether a change brings more than the noise, from samples of the share before and after."""
    gain, level = float(np.mean(then - now)), float(np.mean(now))
    far_off = level < NOTHING_IN_BAND and nearer > WORTH_IT
    return far_off or (gain >= WORTH_IT * max(level, LEAST_SHARE) and better >= WORTH_IT_CHANCE)


def _outlook(assessment: Assessment, draws: Draws, marks: Sequence[float]) -> Outlook:
    """Return evenness under other marks, with its limits."""
    shares = draws.shares(marks)
    compared_c = assessment.calibration.compared_c(assessment.round_map.model.scale.celsius(draws.heat(marks)))
    low, high = np.percentile(shares, [5, 95])
    return Outlook(
        share_in_band=float(shares.mean()),
        share_in_band_low=float(low),
        share_in_band_high=float(high),
        p95_minus_p5_c=median_spread_c(compared_c),
    )


def _wait_min(model: GrateModel) -> float:
    slow = any(burner.control == "vents" for burner in model.response.burners)
    rates = [model.surface(one.number).drift_c_per_min()[0] if one.is_timed else None for one in model.rounds]
    return warm_up_minutes(model.rounds, rates, VENTS_MIN if slow else USUAL_MIN)


def _count_changes(model: GrateModel) -> tuple[int, ...]:
    """Return how many changes of each burner have been seen."""
    pairs = [
        (one, two)
        for one, two in zip(model.rounds, model.rounds[1:], strict=False)
        if one.group == two.group and one.marks_known and two.marks_known
    ]
    names = [burner.name for burner in model.response.burners]
    return tuple(sum(bool(one.settings[name] != two.settings[name]) for one, two in pairs) for name in names)


def _learned_lines(grill: Grill, draws: Draws, seen: Sequence[int]) -> tuple[str, ...]:
    """Return a line per burner: how much its own region answers to a mark, and from how many changes."""
    lines = []
    for at, burner in enumerate(draws.burners):
        slopes = draws.slope_per_mark(at)
        slope, std = float(slopes.mean()), float(slopes.std())
        size = f"{_difference(grill, slope)} ± {_difference(grill, 2.0 * std)} {_degree(grill)} per mark near it"
        source = (
            "not turned yet, a guess from where it lies"
            if seen[at] == 0
            else f"learned from {seen[at]} change{'s'[: seen[at] > 1]}"
        )
        lines.append(f"{burner.name}: {size}; {source}")
    return tuple(lines)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Outcome:
    """What the reason of an advice speaks of."""

    worth_it: bool
    reachable: bool
    turned: bool
    gain: float
    level_std_c: float
    expected_c: FloatArray


def _degree(grill: Grill) -> str:
    return "°F" if grill.units == "us" else "°C"


def _difference(grill: Grill, celsius: float) -> str:
    return f"{f_difference_from_c(celsius) if grill.units == 'us' else celsius:.0f}"


def _temperature(grill: Grill, celsius: float) -> str:
    return f"{f_from_c(celsius) if grill.units == 'us' else celsius:.0f}"


def _why(grill: Grill, found: _Outcome, cells_mm: FloatArray, inside: BoolArray) -> str:
    """Say in a sentence or two why this is the advice, and what remains."""
    expected_c, level_std_c = found.expected_c, found.level_std_c
    remains = _remains(grill, expected_c, cells_mm, inside)
    level_unknown, margin = _level_unknown(grill, level_std_c), _margin(grill, level_std_c)
    if not found.reachable and level_unknown:
        return (
            f"Whether these knobs reach the band cannot be told: the level is known only to {margin}; take one contact "
            f"reading first. As far as is known, {remains}."
        )
    if not found.reachable:
        low, high, share = best_band(grill, expected_c[inside])
        band = f"{_temperature(grill, low)}-{_temperature(grill, high)} {_degree(grill)}"
        part = best_part(grill, expected_c, cells_mm, inside)
        guess = "" if found.turned else " By a guess from where the burners lie: turn one and shoot again to know."
        return (
            f"These knobs cannot reach the band: {remains}. The best they give is {band} on {percent(share)} "
            f"of the area; use the {part}.{guess}"
        )
    if not found.worth_it and level_unknown:
        return (
            f"Leave the knobs for now: the level is known only to {margin}, so no change is sure to help; take one "
            "contact reading first."
        )
    if not found.worth_it:
        return (
            f"Leave the knobs: no change is expected to bring more than the noise. {remains[0].upper()}{remains[1:]}."
        )
    if found.gain < 0.005:
        return f"Expected to bring the grate nearer to the band; {remains}."
    return f"Expected to bring {percent(found.gain)} more of the area into the band; {remains}."


def _level_unknown(grill: Grill, level_std_c: float) -> bool:
    return 2.0 * level_std_c > grill.target.high_c - grill.target.low_c


def _margin(grill: Grill, level_std_c: float) -> str:
    return f"±{_difference(grill, STDS_95 * level_std_c)} {_degree(grill)}"


def _remains(grill: Grill, expected_c: FloatArray, cells_mm: FloatArray, inside: BoolArray) -> str:
    """Name the part that stays farthest out of the band."""
    target = grill.target
    off = np.where(expected_c < target.low_c, expected_c - target.low_c, np.maximum(expected_c - target.high_c, 0.0))
    worst, name = 0.0, ""
    for part, cells in parts_of_grate(grill, cells_mm).items():
        mean = float(off[cells & inside].mean()) if (cells & inside).any() else 0.0
        if abs(mean) > abs(worst):
            worst, name = mean, part
    if abs(worst) < 1.0:
        return "all of the grate is expected in the band or within a degree or two of it"
    return f"the {name} stays too {'cold' if worst < 0 else 'hot'}"


def best_band(grill: Grill, celsius: FloatArray) -> tuple[float, float, float]:
    """Return the band as wide as the target's that holds the most area, and that share."""
    width = grill.target.high_c - grill.target.low_c
    ordered = np.sort(celsius)
    counts = np.searchsorted(ordered, ordered + width, side="right") - np.arange(len(ordered))
    at = int(np.argmax(counts))
    return float(ordered[at]), float(ordered[at] + width), float(counts[at] / len(ordered))


def best_part(grill: Grill, celsius: FloatArray, cells_mm: FloatArray, inside: BoolArray) -> str:
    """Return the part of the grate nearest to mid-band in the mean square."""
    off = (celsius - grill.target.middle_c) ** 2
    parts = parts_of_grate(grill, cells_mm)
    usable = {name: cells & inside for name, cells in parts.items() if (cells & inside).any()}
    return min(usable, key=lambda name: float(off[usable[name]].mean()))


def _without_marks(assessment: Assessment) -> BurnerAdvice:
    """Say what can be done where no knob is known: the missing marks, or moving what gives the heat."""
    grill = assessment.grill
    cells_mm, inside = assessment.wide_cells.points_mm, assessment.wide_cells.inside.ravel()
    mean_c = assessment.at(cells_mm)[0]
    samples_c = assessment.samples_c[:, inside]
    now = Outlook.of(assessment.evenness)
    marks = assessment.round.settings
    missing = [one.name for one in grill.burners if one.control != "none" and one.name not in marks]
    if missing:
        why = (
            f"The mark of {', '.join(missing)} is not known for round {assessment.round.number}; "
            "give the marks with the readings (knob_NAME) to be told what to turn."
        )
    else:
        why = advise_without_knobs(grill, mean_c, samples_c, cells_mm, inside)
        if _level_unknown(grill, assessment.level_std_c):
            why += f" The level is known only to {_margin(grill, assessment.level_std_c)}; take one contact reading."
    shares = ((samples_c >= grill.target.low_c) & (samples_c <= grill.target.high_c)).mean(axis=1)
    return BurnerAdvice(
        changes=(),
        settings=dict(marks),
        worth_it=False,
        reachable=float(np.mean(shares >= REACHABLE_SHARE)) >= REACHABLE_CHANCE,
        why=why,
        now=now,
        expected=now,
        wait_min=0.0,
        cells_mm=cells_mm,
        expected_mean_c=mean_c,
    )
