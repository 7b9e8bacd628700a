"""Which knob to turn to which mark: the settable change that brings the most area into the band."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from heatmap.decide.burner_search import LEVEL_WEIGHED, OWN_WEIGHED, Places, Search, from_reference
from heatmap.decide.without_knobs import advise_without_knobs, plain_surface
from heatmap.grate_model.learn import Learned, burner_slopes, learn, mirrored_normal, teaching_rounds
from heatmap.grate_model.settling import warm_up_minutes
from heatmap.grate_model.states import RoundState
from heatmap.grill.grill import Grill
from heatmap.units import STDS_95, f_difference_from_c, f_from_c, percent
from heatmap.verdict.regions import parts_of_grate

Array = NDArray[np.float64]
Item = TypeVar("Item", bound=np.generic)

#: Joint samples for the numbers told in the end; cells looked at in the search and in the end.
FINAL_DRAWS, SEARCH_CELLS, FINAL_CELLS = 200, 120, 250
#: A change must raise the share in band by this much of itself (of at least so much), and be as likely better as
#: worse; else "leave it": nobody turns a knob for "39 % to 39 %". Where next to nothing is in band, coming nearer is
#: enough. From make-believe grills: asking for three times as much saves no bad change, and leaves grills where they
#: are that have some way to go.
WORTH_IT, LEAST_SHARE, WORTH_IT_CHANCE, NOTHING_IN_BAND = 0.01, 0.5, 0.5, 0.05
#: How much the newest map counts for the surface of now, the rest being the joint model of all rounds. The map knows
#: nothing of burners but is free of their guessed shape; the joint model sees past the noise of one round. On
#: make-believe grills and on a simulator of other physics a mean of the two is nearer the truth than either.
MAP_COUNTS = 0.5
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
    cells_mm: Array
    expected_mean_c: Array
    learned: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Present:
    """The newest map as it settles, in the numbers of the band: what the told outlook starts from, and half of what the
    decision does.

    Attributes
    ----------
    mean_c : ndarray (m,)
    draws_c : ndarray (count, m)
        Joint samples, level and all.
    """

    mean_c: Array
    draws_c: Array


def advise(
    grill: Grill,
    states: Sequence[RoundState],
    *,
    cells_mm: Array | None = None,
    present: Present | None = None,
    seed: int = 0,
) -> BurnerAdvice:
    """Return the change of marks that is expected to bring the most area into the band.

    Parameters
    ----------
    grill : Grill
        Its target band is in the numbers of the spots.
    states : sequence of RoundState
        Every round so far in order of time; advice is for the last one.
    cells_mm : ndarray (m, 2), optional
        Where the expected surface is wanted; cells of an inch when not given.
    present : Present, optional
        The newest map at those cells, so that what is told agrees with the map the cook sees; it counts for a share of
        :data:`MAP_COUNTS` in the decision too. The surface of the response when not given.
    seed : int
        For the random samples.
    """
    newest = states[-1]
    cells = _cells(grill) if cells_mm is None else np.asarray(cells_mm, dtype=np.float64)
    inside = cells_inside(grill, cells)
    burners = [burner for burner in grill.burners if burner.control != "none"]
    if not burners or not grill.complete_settings(newest.settings):
        return _without_marks(grill, newest, cells, inside, bool(burners))
    learned = learn(grill, states)
    to_map = np.zeros(len(cells))
    if present is not None:
        to_map = MAP_COUNTS * (learned.scale.heat(present.mean_c) - learned.mean(cells))
    few = _few(np.flatnonzero(inside), SEARCH_CELLS)
    search = Search(grill, learned, cells[few], to_map[few], np.random.default_rng(seed))
    tried = _tried(grill, learned, states, search)
    best = max(search.best(avoid=tried.worse), tried.best, key=search.value)
    return _told(grill, learned, search, states, best, cells, inside, to_map, present, seed)


def _cells(grill: Grill) -> Array:
    x_mm, y_mm = grill.grate.cells_mm(25.4)
    return np.column_stack([axis.ravel() for axis in np.meshgrid(x_mm, y_mm)])


def _few(items: NDArray[Item], count: int) -> NDArray[Item]:
    """Return about `count` of the items, evenly picked."""
    picked = np.unique(np.linspace(0, len(items) - 1, count).round().astype(int))
    return np.asarray(items[picked])


def cells_inside(grill: Grill, cells_mm: Array) -> NDArray[np.bool_]:
    """Return which cells lie inside the rim."""
    (width, depth), rim = grill.grate.extent_mm, grill.grate.rim_mm
    x_mm, y_mm = cells_mm.T
    inside = (x_mm >= rim) & (x_mm <= width - rim) & (y_mm >= rim) & (y_mm <= depth - rim)
    return np.asarray(inside)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Tried:
    """Marks that were tried in this group of rounds: those found worse than now, and the best."""

    worse: frozenset[Places]
    best: Places


def _tried(grill: Grill, learned: Learned, states: Sequence[RoundState], search: Search) -> _Tried:
    """Sort the marks tried under the same sky by the share they are now known to give."""
    newest = states[-1]
    names = [burner.name for burner in learned.burners]
    rounds = [state for state in teaching_rounds(grill, states) if state.group == newest.group]
    places = {search.places(np.array([state.settings[name] for name in names])) for state in rounds}
    shares = {one: search.share(one) for one in places if one is not None} | {search.now: search.share(search.now)}
    worse = frozenset(one for one, share in shares.items() if one != search.now and share < shares[search.now])
    return _Tried(worse=worse, best=max(sorted(shares), key=lambda one: shares[one]))


def _told(
    grill: Grill,
    learned: Learned,
    search: Search,
    states: Sequence[RoundState],
    best: Places,
    cells_mm: Array,
    inside: NDArray[np.bool_],
    to_map: Array,
    present: Present | None,
    seed: int,
) -> BurnerAdvice:
    """Look at the best marks again with fresh samples and more cells, decide, and put it into words."""
    few = _few(np.flatnonzero(inside), FINAL_CELLS)
    fresh = _Fresh(grill, learned, cells_mm[few], to_map[few], seed)
    weighed = _Fresh(grill, learned, cells_mm[few], to_map[few], seed, OWN_WEIGHED, LEVEL_WEIGHED)
    now_marks, best_marks = search.marks_at(search.now), search.marks_at(best)
    now, then = weighed.shares(now_marks), weighed.shares(best_marks)
    nearer = search.value(best) - search.value(search.now)
    worth_it = best != search.now and _worth_it(now, then, weighed.chance_better(now_marks, best_marks), nearer)
    told = fresh if present is None else fresh.starting_from(present.draws_c[:, few])
    outlook_now = told.outlook(now_marks)
    outlook_then = outlook_now
    if worth_it:  # the cook's map says where the share stands; the samples a change was chosen by, what it brings
        gained = float(np.mean(then) - np.mean(now))
        outlook_then = told.outlook(best_marks).with_share(outlook_now.share_in_band + gained)
    highest = np.maximum(fresh.shares(now_marks), fresh.shares(best_marks))
    reachable = float(np.mean(highest >= REACHABLE_SHARE)) >= REACHABLE_CHANCE
    chosen = best_marks if worth_it else now_marks
    names = [burner.name for burner in learned.burners]
    changes = tuple(
        Change(burner=name, from_mark=old, to_mark=new)
        for name, old, new in zip(names, now_marks, chosen, strict=True)
        if old != new
    )
    expected_heat = learned.mean(cells_mm, _openings(learned, chosen))
    if present is not None:
        expected_heat += learned.scale.heat(present.mean_c) - learned.mean(cells_mm)
    expected_c = learned.scale.celsius(expected_heat)
    gain = outlook_then.share_in_band - outlook_now.share_in_band
    slow = any(burner.control == "vents" for burner in learned.burners)
    return BurnerAdvice(
        changes=changes,
        settings=dict(states[-1].settings) | dict(zip(names, chosen, strict=True)),
        worth_it=worth_it,
        reachable=reachable,
        why=_why(
            grill,
            worth_it,
            reachable,
            any(learned.changes),
            gain,
            states[-1].shared_std_c,
            expected_c,
            cells_mm,
            inside,
        ),
        now=outlook_now,
        expected=outlook_then,
        wait_min=warm_up_minutes(states, slow=slow) if changes else 0.0,
        cells_mm=cells_mm,
        expected_mean_c=expected_c,
        learned=learned_lines(grill, learned),
    )


def _worth_it(now: Array, then: Array, better: float, nearer: float) -> bool:
    """Tell whether a change brings more than the noise, from samples of the share before and after."""
    gain, level = float(np.mean(then - now)), float(np.mean(now))
    far_off = level < NOTHING_IN_BAND and nearer > WORTH_IT
    return far_off or (gain >= WORTH_IT * max(level, LEAST_SHARE) and better >= WORTH_IT_CHANCE)


def _openings(learned: Learned, marks: Sequence[float]) -> Array:
    return np.array([burner.fraction(mark) for burner, mark in zip(learned.burners, marks, strict=True)])


class _Fresh:
    """Samples that the search has not seen, so that the told share is not a lucky one.

    As wide as what is told as uncertainty, or so many times as wide: of surface and response, and of the level.
    """

    def __init__(
        self,
        grill: Grill,
        learned: Learned,
        cells_mm: Array,
        to_map: Array,
        seed: int,
        own_width: float = 1.0,
        level_width: float = 1.0,
    ) -> None:
        random = np.random.default_rng([seed, 1])
        self.learned = learned
        drawn = learned.draw(cells_mm, FINAL_DRAWS, random, own_width)
        self.fields = replace(drawn, base=drawn.base + to_map)
        self.level = level_width * learned.shared_std * mirrored_normal(len(self.fields.base), random)
        self.band = learned.scale.heat(np.array([grill.target.low_c, grill.target.high_c]))

    def starting_from(self, draws_c: Array) -> _Fresh:
        """Return the same with samples of another map (count, cells) for the surface of now."""
        again: _Fresh = copy(self)
        heat = self.learned.scale.heat(draws_c)
        again.fields = replace(self.fields, base=heat[np.arange(len(self.fields.base)) % len(heat)])
        again.level = np.zeros_like(self.level)
        return again

    def heat(self, marks: Sequence[float]) -> Array:
        """Return samples of the surface, (draws, cells)."""
        by, bent = from_reference(_openings(self.learned, marks), self.learned.reference)
        added = np.tensordot(by, self.fields.linear, axes=1) + np.tensordot(bent, self.fields.bend, axes=1)
        return np.asarray(self.fields.base + self.level + added)

    def shares(self, marks: Sequence[float]) -> Array:
        """Return the share in band of each sample."""
        heat = self.heat(marks)
        return np.asarray(((heat >= self.band[0]) & (heat <= self.band[1])).mean(axis=1))

    def chance_better(self, now: Sequence[float], then: Sequence[float]) -> float:
        """Return how likely the share rises, with the shared level at its mean: no further round would tell it."""
        settled = copy(self)
        settled.level = np.zeros_like(self.level)
        before, after = settled.shares(now), settled.shares(then)
        return float(np.mean(after > before) + 0.5 * np.mean(after == before))

    def outlook(self, marks: Sequence[float]) -> Outlook:
        """Return evenness with its limits."""
        shares = self.shares(marks)
        celsius = self.learned.scale.celsius(self.heat(marks))
        spread = np.subtract(*np.percentile(celsius, [95, 5], axis=1))
        low, high = np.percentile(shares, [5, 95])
        return Outlook(
            share_in_band=float(shares.mean()),
            share_in_band_low=float(low),
            share_in_band_high=float(high),
            p95_minus_p5_c=float(np.median(spread)),
        )


def learned_lines(grill: Grill, learned: Learned) -> tuple[str, ...]:
    """Return a line per burner: how much its own region answers to a mark, and from how many changes."""
    lines = []
    for at, (slope, std) in enumerate(burner_slopes(grill, learned)):
        burner = learned.burners[at]
        size = f"{_difference(grill, slope)} ± {_difference(grill, 2.0 * std)} {_degree(grill)} per mark near it"
        seen = learned.changes[at]
        source = (
            "not turned yet, a guess from where it lies"
            if seen == 0
            else f"learned from {seen} change{'s'[: seen > 1]}"
        )
        lines.append(f"{burner.name}: {size}; {source}")
    return tuple(lines)


def _degree(grill: Grill) -> str:
    return "°F" if grill.units == "us" else "°C"


def _difference(grill: Grill, celsius: float) -> str:
    return f"{f_difference_from_c(celsius) if grill.units == 'us' else celsius:.0f}"


def _temperature(grill: Grill, celsius: float) -> str:
    return f"{f_from_c(celsius) if grill.units == 'us' else celsius:.0f}"


def _why(
    grill: Grill,
    worth_it: bool,
    reachable: bool,
    turned: bool,
    gain: float,
    level_std_c: float,
    expected_c: Array,
    cells_mm: Array,
    inside: NDArray[np.bool_],
) -> str:
    """Say in a sentence or two why this is the advice, and what remains."""
    remains = _remains(grill, expected_c, cells_mm, inside)
    level_unknown, margin = _level_unknown(grill, level_std_c), _margin(grill, level_std_c)
    if not reachable and level_unknown:
        return (
            f"Whether these knobs reach the band cannot be told: the level is known only to {margin}; take one contact "
            f"reading first. As far as is known, {remains}."
        )
    if not reachable:
        low, high, share = best_band(grill, expected_c[inside])
        band = f"{_temperature(grill, low)}-{_temperature(grill, high)} {_degree(grill)}"
        part = best_part(grill, expected_c, cells_mm, inside)
        guess = "" if turned else " By a guess from where the burners lie: turn one and shoot again to know."
        return (
            f"These knobs cannot reach the band: {remains}. The best they give is {band} on {percent(share)} "
            f"of the area; use the {part}.{guess}"
        )
    if not worth_it and level_unknown:
        return (
            f"Leave the knobs for now: the level is known only to {margin}, so no change is sure to help; take one "
            "contact reading first."
        )
    if not worth_it:
        return (
            f"Leave the knobs: no change is expected to bring more than the noise. {remains[0].upper()}{remains[1:]}."
        )
    if gain < 0.005:
        return f"Expected to bring the grate nearer to the band; {remains}."
    return f"Expected to bring {percent(gain)} more of the area into the band; {remains}."


def _level_unknown(grill: Grill, level_std_c: float) -> bool:
    return 2.0 * level_std_c > grill.target.high_c - grill.target.low_c


def _margin(grill: Grill, level_std_c: float) -> str:
    return f"±{_difference(grill, STDS_95 * level_std_c)} {_degree(grill)}"


def _remains(grill: Grill, expected_c: Array, cells_mm: Array, inside: NDArray[np.bool_]) -> str:
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


def best_band(grill: Grill, celsius: Array) -> tuple[float, float, float]:
    """Return the band as wide as the target's that holds the most area, and that share."""
    width = grill.target.high_c - grill.target.low_c
    ordered = np.sort(celsius)
    counts = np.searchsorted(ordered, ordered + width, side="right") - np.arange(len(ordered))
    at = int(np.argmax(counts))
    return float(ordered[at]), float(ordered[at] + width), float(counts[at] / len(ordered))


def best_part(grill: Grill, celsius: Array, cells_mm: Array, inside: NDArray[np.bool_]) -> str:
    """Return the part of the grate nearest to mid-band in the mean square."""
    off = (celsius - grill.target.middle_c) ** 2
    parts = parts_of_grate(grill, cells_mm)
    usable = {name: cells & inside for name, cells in parts.items() if (cells & inside).any()}
    return min(usable, key=lambda name: float(off[usable[name]].mean()))


def _without_marks(
    grill: Grill, state: RoundState, cells_mm: Array, inside: NDArray[np.bool_], has_burners: bool
) -> BurnerAdvice:

    mean, draws = plain_surface(grill, state, cells_mm)
    draws = draws[:, inside]
    shares = ((draws >= grill.target.low_c) & (draws <= grill.target.high_c)).mean(axis=1)
    low, high = np.percentile(shares, [5, 95])
    now = Outlook(
        share_in_band=float(shares.mean()),
        share_in_band_low=float(low),
        share_in_band_high=float(high),
        p95_minus_p5_c=float(np.median(np.subtract(*np.percentile(draws, [95, 5], axis=1)))),
    )
    if has_burners:
        missing = [b.name for b in grill.burners if b.control != "none" and b.name not in state.settings]
        why = (
            f"The mark of {', '.join(missing)} is not known for round {state.number}; "
            "give the marks with the readings (knob_NAME) to be told what to turn."
        )
    else:
        why = advise_without_knobs(grill, mean, draws, cells_mm, inside)
        if _level_unknown(grill, state.shared_std_c):
            why += f" The level is known only to {_margin(grill, state.shared_std_c)}; take one contact reading."
    return BurnerAdvice(
        changes=(),
        settings=dict(state.settings),
        worth_it=False,
        reachable=float(np.mean(shares >= REACHABLE_SHARE)) >= REACHABLE_CHANCE,
        why=why,
        now=now,
        expected=now,
        wait_min=0.0,
        cells_mm=cells_mm,
        expected_mean_c=mean,
    )
