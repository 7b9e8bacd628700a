"""Which knob to turn to which mark: the settable change that brings the most area into the band."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatmap.burners.learn import Learned, burner_slope, learn, teaching_rounds
from heatmap.burners.response import design
from heatmap.burners.states import RoundState
from heatmap.burners.warm_up import warm_up_minutes
from heatmap.grill import Burner, Grill
from heatmap.units import f_difference_from_c, f_from_c

Array = NDArray[np.float64]

#: Joint samples: for the search, and for the numbers told in the end.
SEARCH_DRAWS, FINAL_DRAWS = 48, 200
#: Cells looked at in the search.
SEARCH_CELLS = 160
FINAL_CELLS = 300
#: What turning one more knob must bring, as a share of area; a cook's hand and minutes are worth something.
WORTH_A_TURN = 0.01
#: The change must bring this much more area, and be better in this share of samples; else "leave it".
WORTH_IT, WORTH_IT_CHANCE = 0.03, 0.65
#: A setting is reachable when a share of at least this much is at least this likely.
REACHABLE_SHARE, REACHABLE_CHANCE = 0.3, 0.2
#: Weight of being near the band, against being in it: tells the search where to go from far off.
_NEARNESS = 0.05


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


def advise(
    grill: Grill, states: Sequence[RoundState], *, cells_mm: Array | None = None, seed: int = 0
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
    search = _Search(grill, learned, _few(cells[inside], SEARCH_CELLS), np.random.default_rng(seed))
    tried = _tried(grill, learned, states, search)
    best = search.best(search.reference_marks, avoid=tried.worse)
    if tried.best is not None and tried.best != best:
        best = max(best, tried.best, key=search.value)
    return _told(grill, learned, search, states, best, cells, inside, seed)


def _cells(grill: Grill) -> Array:
    x_mm, y_mm = grill.grate.cells_mm(25.4)
    return np.column_stack([axis.ravel() for axis in np.meshgrid(x_mm, y_mm)])


def _few(cells_mm: Array, count: int) -> Array:
    """Return about `count` of the cells, evenly picked."""
    return cells_mm[np.unique(np.linspace(0, len(cells_mm) - 1, count).round().astype(int))]


def cells_inside(grill: Grill, cells_mm: Array) -> NDArray[np.bool_]:
    """Return which cells lie inside the rim."""
    (width, depth), rim = grill.grate.extent_mm, grill.grate.rim_mm
    x_mm, y_mm = cells_mm.T
    inside = (x_mm >= rim) & (x_mm <= width - rim) & (y_mm >= rim) & (y_mm <= depth - rim)
    return np.asarray(inside)


Marks = tuple[float, ...]


class _Search:
    """Joint samples of the surface under any marks, and a climb over settable marks."""

    def __init__(
        self, grill: Grill, learned: Learned, cells_mm: Array, random: np.random.Generator
    ) -> None:
        self.learned, self.burners = learned, learned.response.burners
        band = learned.scale.heat(np.array([grill.target.low_c, grill.target.high_c]))
        self.low, self.high = float(band[0]), float(band[1])
        self.base, weights = learned.draw(cells_mm, SEARCH_DRAWS, random)
        self.linear, self.bend = _fields(learned, weights, cells_mm)
        self.reference = learned.reference
        self.settable = [burner.settable for burner in self.burners]
        self.reference_marks: Marks = tuple(
            burner.low + opening * (burner.high - burner.low)
            for burner, opening in zip(self.burners, self.reference, strict=True)
        )
        self._known: dict[Marks, float] = {}

    def moved(self, burner: int, marks: Array) -> Array:
        """Return what a burner adds against the newest round at these marks, (marks, draws, cells)."""
        knob = self.burners[burner]
        opening = (marks - knob.low) / (knob.high - knob.low)
        reference = self.reference[burner]
        by, bent = opening - reference, opening * (1 - opening) - reference * (1 - reference)
        result: Array = by[:, None, None] * self.linear[burner] + bent[:, None, None] * self.bend[burner]
        return result

    def surface(self, marks: Marks, leave_out: Sequence[int] = ()) -> Array:
        """Return samples of the surface under these marks, without the part of some burners, (draws, cells)."""
        heat = self.base.copy()
        for burner, mark in enumerate(marks):
            if burner not in leave_out and mark != self.reference_marks[burner]:
                heat += self.moved(burner, np.array([mark]))[0]
        return heat

    def merit(self, heat: Array) -> Array:
        """Return the value of surfaces (…, draws, cells): expected share in band, and a little for being near."""
        off = np.maximum(np.maximum(self.low - heat, heat - self.high), 0.0)
        near = np.minimum(off / (self.high - self.low), 6.0)
        return np.asarray((off <= 0.0).mean(axis=(-2, -1)) - _NEARNESS * near.mean(axis=(-2, -1)))

    def share(self, marks: Marks) -> float:
        """Return the expected share in band."""
        heat = self.surface(marks)
        return float(np.mean((heat >= self.low) & (heat <= self.high)))

    def turns(self, marks: Marks) -> int:
        """Return how many knobs differ from the newest round."""
        return sum(mark != now for mark, now in zip(marks, self.reference_marks, strict=True))

    def value(self, marks: Marks) -> float:
        """Return the merit of marks less the price of the turns."""
        if marks not in self._known:
            self._known[marks] = float(self.merit(self.surface(marks))) - WORTH_A_TURN * self.turns(marks)
        return self._known[marks]

    def best(self, start: Marks, avoid: frozenset[Marks]) -> Marks:
        """Return the best marks found from several starts, none of them in `avoid`."""
        starts = {start, self._by_mean(start), self._by_mean(tuple(float(m[len(m) // 2]) for m in self.settable))}
        found = {self._climb(one, avoid) for one in starts}
        found.add(start)
        return max(sorted(found - avoid or {start}), key=self.value)

    def _by_mean(self, start: Marks) -> Marks:
        """Return marks that bring the expected surface nearest to mid-band in the mean square."""
        base, middle = self.base.mean(axis=0), 0.5 * (self.low + self.high)
        options = []
        for burner, settable in enumerate(self.settable):
            knob, reference = self.burners[burner], self.reference[burner]
            opening = (settable - knob.low) / (knob.high - knob.low)
            by, bent = opening - reference, opening * (1 - opening) - reference * (1 - reference)
            linear, bend = self.linear[burner].mean(axis=0), self.bend[burner].mean(axis=0)
            options.append(by[:, None] * linear + bent[:, None] * bend)
        at = [int(np.argmin(np.abs(settable - mark))) for settable, mark in zip(self.settable, start, strict=True)]
        for _ in range(8):
            before = list(at)
            for burner, option in enumerate(options):
                others = base + sum(options[other][at[other]] for other in range(len(at)) if other != burner)
                at[burner] = int(np.argmin(((others + option - middle) ** 2).mean(axis=1)))
            if at == before:
                break
        return tuple(float(settable[place]) for settable, place in zip(self.settable, at, strict=True))

    def _climb(self, marks: Marks, avoid: frozenset[Marks]) -> Marks:
        """Turn one knob at a time to its best mark, then two against each other, until nothing helps."""
        best = marks
        for _ in range(6):
            before = best
            for burner in range(len(self.burners)):
                best = self._one_knob(best, burner, avoid)
            if best == before:
                best = self._two_knobs(best, avoid)
            if best == before:
                break
        return self._fewer_turns(best, avoid)

    def _one_knob(self, marks: Marks, burner: int, avoid: frozenset[Marks]) -> Marks:
        options = np.unique(np.append(self.settable[burner], self.reference_marks[burner]))
        others = self.surface(marks, (burner,))
        merits = self.merit(others + self.moved(burner, options))
        merits = merits - WORTH_A_TURN * (options != self.reference_marks[burner])
        for place in np.argsort(-merits, kind="stable"):
            changed = (*marks[:burner], float(options[place]), *marks[burner + 1 :])
            if changed not in avoid:
                return changed if changed == marks or self.value(changed) > self.value(marks) + 1e-9 else marks
        return marks

    def _two_knobs(self, marks: Marks, avoid: frozenset[Marks]) -> Marks:
        best = marks
        for one, two in itertools.combinations(range(len(self.burners)), 2):
            for first, second in itertools.product(self._near(marks, one), self._near(marks, two)):
                changed = list(marks)
                changed[one], changed[two] = first, second
                tried = tuple(changed)
                if tried not in avoid and self.value(tried) > self.value(best) + 1e-9:
                    best = tried
        return best

    def _near(self, marks: Marks, burner: int) -> list[float]:
        settable = self.settable[burner]
        at = int(np.argmin(np.abs(settable - marks[burner])))
        return [float(settable[place]) for place in (at - 1, at + 1) if 0 <= place < len(settable)]

    def _fewer_turns(self, marks: Marks, avoid: frozenset[Marks]) -> Marks:
        """Leave every knob alone whose turn brings too little."""
        for burner in range(len(marks)):
            back = (*marks[:burner], self.reference_marks[burner], *marks[burner + 1 :])
            if back != marks and back not in avoid and self.value(back) >= self.value(marks):
                marks = back
        return marks


def _fields(learned: Learned, weights: Array, cells_mm: Array) -> tuple[list[Array], list[Array]]:
    """Return samples of what each burner adds from low to high, and of its bend, (draws, cells) each."""
    patterns = learned.response.patterns(cells_mm)
    shaped = weights.reshape(len(weights), *patterns.shape[:2])
    linear = [shaped[:, burner, :-1] @ patterns[burner, :-1] for burner in range(len(patterns))]
    bend = [shaped[:, burner, -1:] @ patterns[burner, -1:] for burner in range(len(patterns))]
    return linear, bend


@dataclass(frozen=True, slots=True, kw_only=True)
class _Tried:
    """Marks that were tried in this group of rounds: those found worse, and the best."""

    worse: frozenset[Marks]
    best: Marks | None


def _tried(grill: Grill, learned: Learned, states: Sequence[RoundState], search: _Search) -> _Tried:
    """Sort the marks tried under the same sky by the share they are now known to give."""
    newest = states[-1]
    names = [burner.name for burner in learned.response.burners]
    rounds = [state for state in teaching_rounds(grill, states) if state.group == newest.group]
    marks = {tuple(float(state.settings[name]) for name in names) for state in rounds}
    now = search.reference_marks
    seen = {one: search.share(one) for one in marks | {now}}
    worse = frozenset(one for one, share in seen.items() if one != now and share < seen[now])
    best = max(sorted(seen), key=lambda one: seen[one])
    return _Tried(worse=worse, best=None if best == now else best)


def _told(
    grill: Grill,
    learned: Learned,
    search: _Search,
    states: Sequence[RoundState],
    best: Marks,
    cells_mm: Array,
    inside: NDArray[np.bool_],
    seed: int,
) -> BurnerAdvice:
    """Look at the best marks again with fresh samples and every cell, decide, and put it into words."""
    fresh = _Fresh(grill, learned, _few(cells_mm[inside], FINAL_CELLS), np.random.default_rng([seed, 1]))
    newest = states[-1]
    now, then = fresh.shares(search.reference_marks), fresh.shares(best)
    gain, better = float(np.mean(then - now)), float(np.mean(then > now) + 0.5 * np.mean(then == now))
    reachable = float(np.mean(np.maximum(then, now) >= REACHABLE_SHARE)) >= REACHABLE_CHANCE
    nearer = search.value(best) - search.value(search.reference_marks)
    worth_it = best != search.reference_marks and (
        (gain >= WORTH_IT and better >= WORTH_IT_CHANCE) or (now.mean() < 0.05 and nearer > WORTH_IT)
    )
    chosen = best if worth_it else search.reference_marks
    names = [burner.name for burner in search.burners]
    changes = tuple(
        Change(burner=name, from_mark=float(old), to_mark=float(new))
        for name, old, new in zip(names, search.reference_marks, chosen, strict=True)
        if old != new
    )
    settings = dict(newest.settings) | dict(zip(names, map(float, chosen), strict=True))
    expected_mean = learned.scale.celsius(_mean_heat(learned, cells_mm, chosen))
    outlook = fresh.outlook(chosen)
    words = _why(grill, learned, worth_it, reachable, gain, expected_mean, cells_mm, inside)
    return BurnerAdvice(
        changes=changes,
        settings=settings,
        worth_it=worth_it,
        reachable=reachable,
        why=words,
        now=fresh.outlook(search.reference_marks),
        expected=outlook,
        wait_min=warm_up_minutes(states, slow=_slow(search.burners)) if changes else 0.0,
        cells_mm=cells_mm,
        expected_mean_c=expected_mean,
        learned=learned_lines(grill, learned),
    )


def _slow(burners: Sequence[Burner]) -> bool:
    return any(burner.control == "vents" for burner in burners)


def _moved(learned: Learned, marks: Marks) -> Array:
    """Return by how much the factor of each pattern changes from the newest round to these marks."""
    response = learned.response
    openings = np.array([burner.fraction(mark) for burner, mark in zip(response.burners, marks, strict=True)])
    return response.factors(openings) - response.factors(learned.reference)


def _mean_heat(learned: Learned, cells_mm: Array, marks: Marks) -> Array:
    """Return the expected surface under these marks."""
    surface, weights = learned.mean(cells_mm)
    return np.asarray(surface + design(learned.response.patterns(cells_mm), _moved(learned, marks)) @ weights)


class _Fresh:
    """Samples that the search has not seen, so that the told share is not a lucky one."""

    def __init__(
        self, grill: Grill, learned: Learned, cells_mm: Array, random: np.random.Generator
    ) -> None:
        self.learned = learned
        self.base, self.weights = learned.draw(cells_mm, FINAL_DRAWS, random)
        self.patterns = learned.response.patterns(cells_mm)
        self.band = learned.scale.heat(np.array([grill.target.low_c, grill.target.high_c]))

    def heat(self, marks: Marks) -> Array:
        """Return samples of the surface, (draws, cells)."""
        return np.asarray(self.base + self.weights @ design(self.patterns, _moved(self.learned, marks)).T)

    def shares(self, marks: Marks) -> Array:
        """Return the share in band of each sample."""
        heat = self.heat(marks)
        return np.asarray(((heat >= self.band[0]) & (heat <= self.band[1])).mean(axis=1))

    def outlook(self, marks: Marks) -> Outlook:
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
    for at, burner in enumerate(learned.response.burners):
        slope, std = burner_slope(grill, learned, at)
        size = f"{_difference(grill, slope)} ± {_difference(grill, 2.0 * std)} {_degree(grill)} per mark near it"
        seen = learned.changes[at]
        source = "not turned yet, a guess from where it lies" if seen == 0 else f"learned from {seen} change{'s'[: seen > 1]}"
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
    learned: Learned,
    worth_it: bool,
    reachable: bool,
    gain: float,
    expected_c: Array,
    cells_mm: Array,
    inside: NDArray[np.bool_],
) -> str:
    """Say in a sentence or two why this is the advice, and what remains."""
    remains = _remains(grill, expected_c, cells_mm, inside)
    if not reachable:
        low, high, share = best_band(grill, expected_c[inside])
        band = f"{_temperature(grill, low)}-{_temperature(grill, high)} {_degree(grill)}"
        part = best_part(grill, expected_c, cells_mm, inside)
        return (
            f"These knobs cannot reach the band: {remains}. The best they give is {band} on {share:.0%} of the area; "
            f"use the {part}."
        )
    if not worth_it:
        return f"Leave the knobs: no change is expected to bring more than the noise. {remains[0].upper()}{remains[1:]}."
    return f"Expected to bring {gain:.0%} more of the area into the band; {remains}."


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


def parts_of_grate(grill: Grill, cells_mm: Array) -> dict[str, NDArray[np.bool_]]:
    """Return the nine parts of the grate by name: back left, back, back right, left, centre, …"""
    width, depth = grill.grate.extent_mm
    column = np.clip((3.0 * cells_mm[:, 0] / width).astype(int), 0, 2)
    row = np.clip((3.0 * cells_mm[:, 1] / depth).astype(int), 0, 2)
    names = {}
    for at_row, at_column in itertools.product((2, 1, 0), (0, 1, 2)):
        words = [("front", "", "back")[at_row], ("left", "centre" if at_row == 1 else "centre", "right")[at_column]]
        names[" ".join(word for word in words if word)] = (row == at_row) & (column == at_column)
    return names


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
    from heatmap.burners.without_knobs import advise_without_knobs, plain_surface

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
