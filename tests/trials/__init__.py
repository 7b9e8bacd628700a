"""Published trials of contact cooking, each predicted by the model that `gratemap sear` runs on."""

from __future__ import annotations

import csv
import functools
import math
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from heatmap.physics.beef import Composition
from heatmap.sear import Beliefs, Food, Rails, transient
from heatmap.sear.plan import one_sided
from heatmap.sear.runs import REACH, as_believed, one_std, pieces_of, run, values_at
from remembered import remembered

TABLE = Path(__file__).parents[1] / "reference" / "contact_cooking_trials.csv"
# ASHRAE lean sirloin (row MP-13); ground beef of 20 % fat, protein and water in the proportion of MP-12
MEATS = {
    "lean": Composition(water=0.717, protein=0.2124, fat=0.044, ash=0.0108),
    "ground": Composition(water=0.61, protein=0.18, fat=0.20, ash=0.01),
}
IRON_FACTOR = 2.0  # what a plate stores where no trial says it, a factor either way at 90 %; assumed
LIFT_FACTOR = 2.0  # how long a turn over takes, which no trial says, a factor either way at 90 %; assumed
SIDES_MM = 2.0  # how far under a face a probe reads it; assumed
SQUARE = math.sqrt(0.25 * math.pi)  # side of a square as large as a disc 1 across
STEPS = 18  # lengths tried; between them the logarithm of the time is interpolated


@dataclass(frozen=True, slots=True, kw_only=True)
class Predicted:
    """What the model says of one row of the table, with its 90 % interval."""

    middle: float
    low: float
    high: float

    def holds(self, low: float, high: float) -> bool:
        """Tell whether any of what was measured lies inside."""
        return self.low <= high and low <= self.high


#: What a prediction hangs on.
_ASKED = (
    *("thickness_mm", "thickness_sd_mm", "start_c", "start_sd_c", "meat"),
    *("plate_c", "plate_sd_c", "iron_mm", "food_mm", "plate_mm", "juice"),
    *("quantity", "goal_c", "seconds"),
)


def rows(*uses: str) -> list[dict[str, str]]:
    """Return the rows of the table with one of these uses."""
    with TABLE.open(encoding="utf-8", newline="") as table:
        return [row for row in csv.DictReader(table) if row["use"] in uses]


def food_of(row: dict[str, str]) -> Food:
    """Return the piece of a row."""
    return Food(
        thickness_mm=float(row["thickness_mm"]),
        thickness_sd_mm=float(row["thickness_sd_mm"]),
        start_centre_c=float(row["start_c"]),
        start_sd_c=float(row["start_sd_c"]),
        composition=MEATS[row["meat"]],
    )


def plate_of(row: dict[str, str]) -> Rails:
    """Return the plate of a row: it touches all of the face, and every turn goes back on it as it is."""
    return replace(
        plate(float(row["plate_c"]), float(row["plate_sd_c"]), float(row["iron_mm"])),
        covered_mm=SQUARE * float(row["food_mm"]),
        plate_mm=SQUARE * float(row["plate_mm"]),
        keeps_juice=row["juice"] == "kept",
    )


def plate(plate_c: float, sd_c: float = 0.0, iron_mm: float = 12.7) -> Rails:
    """Return a plate that stores as much as so much cast iron."""
    return Rails(rail_c=plate_c, own_std_c=sd_c, share=1.0, height_mm=iron_mm, crossed=False, fresh=False)


def predict(row: dict[str, str]) -> Predicted:
    """Return what the model says of a row; worked out once for those that ask the same."""
    return _predicted(tuple((name, row[name]) for name in _ASKED))


@functools.cache
def _predicted(asked_of: tuple[tuple[str, str], ...]) -> Predicted:
    row = dict(asked_of)
    food, rails = food_of(row), plate_of(row)
    asked = _QUANTITIES[row["quantity"]]
    lift_factor = LIFT_FACTOR if "every" in row["quantity"] else 1.0
    return interval(
        lambda cases, here: asked(food, here, cases, row),
        food,
        rails,
        in_degrees=row["quantity"] in _IN_DEGREES,
        lift_factor=lift_factor,
    )


def interval(
    asked: Callable[[np.ndarray, Rails], np.ndarray],
    food: Food,
    rails: Rails,
    in_degrees: bool = False,
    iron_factor: float = IRON_FACTOR,
    lift_factor: float = 1.0,
) -> Predicted:
    """Move every input to its 5th and 95th percentile and add the changes in quadrature, as the plan does."""
    scale, back = (np.asarray, float) if in_degrees else (np.log, math.exp)
    alone, spread = as_believed(Beliefs())[None], REACH * one_std(food, rails, Beliefs())
    middle, *values = scale(asked(np.concatenate([alone, alone + spread, alone - spread]), rails))
    ups, downs = (list(half) for half in np.split(np.array(values), 2))
    for iron, lift in ((iron_factor, 1.0), (1.0, lift_factor)):
        for sign, found in ((1.0, ups), (-1.0, downs)):
            if iron == lift == 1.0:
                found.append(middle)  # nothing is moved
                continue
            with turning_over(transient.LIFT_S * lift**sign):
                found.append(scale(asked(alone, replace(rails, height_mm=rails.height_mm * iron**sign)))[0])
    down, up = one_sided(np.array(ups + downs) - middle)
    return Predicted(middle=back(middle), low=back(middle - down), high=back(middle + up))


@contextmanager
def turning_over(seconds: float) -> Iterator[None]:
    """Let a turn over take so long."""
    usual = transient.LIFT_S
    transient.LIFT_S = seconds
    try:
        yield
    finally:
        transient.LIFT_S = usual


def minutes_until_both_faces(food: Food, rails: Rails, cases: np.ndarray, turn_c: float, goal_c: float) -> np.ndarray:
    """Return the minutes for food turned once at a centre, until the centre and both faces are as hot as asked."""
    first_s = _seconds(food, rails, cases, np.zeros((len(cases), 0)), "A", turn_c)
    columns = _set_down(food, rails, cases)
    _turn(columns, 0, first_s[:, None])
    _turn_over(columns, 0)
    columns.land(1, 1)
    depth = int(np.searchsorted(columns.places, SIDES_MM / food.thickness_mm))
    after_s, coldest = 3600.0 * np.linspace(0.0, 1.0, 4 * STEPS)[1:] ** 2, []
    for part in np.diff(after_s, prepend=0.0):
        columns.step(np.full_like(columns.pieces.thickness_m, part), 1)
        sides = columns.mean(columns.celsius[[depth, -1 - depth]].min(axis=0))
        coldest.append(np.minimum(_centre(columns, food, cases), sides))
    return (first_s + transient.LIFT_S + _when(np.array(coldest).T, after_s, goal_c)) / 60.0


def minutes_both(food: Food, rails: Rails, cases: np.ndarray, goal_c: float) -> np.ndarray:
    """Return the minutes to a centre for food between two plates."""
    return _seconds(food, rails, cases, np.zeros((len(cases), 0)), "C", goal_c) / 60.0


@remembered(lambda: transient.LIFT_S)
def minutes_halves(food: Food, rails: Rails, cases: np.ndarray, goal_c: float) -> np.ndarray:
    """Return the minutes to a centre for food turned once, half way through."""
    lengths = _lengths(food)
    turns = np.tile(0.5 * lengths[:, None], (len(cases), 1, 2))
    return _when(_pulls(food, rails, cases, turns, "AB"), lengths + transient.LIFT_S, goal_c) / 60.0


@remembered(lambda: transient.LIFT_S)
def minutes_every(food: Food, rails: Rails, cases: np.ndarray, every_s: float, goal_c: float) -> np.ndarray:
    """Return the minutes to a centre for food turned over again and again, the lift being part of the time."""
    columns = _set_down(food, rails, cases)
    turn_s = np.full_like(columns.pieces.thickness_m, every_s - transient.LIFT_S)
    after_s, centres = [], []
    while not centres or np.any(centres[-1] <= goal_c):
        if centres:
            _turn_over(columns, (len(centres) - 1) % 2)
        _turn(columns, len(centres) % 2, turn_s)
        centres.append(_centre(columns, food, cases))
        after_s.append(len(centres) * every_s - transient.LIFT_S)
    return _when(np.array(centres).T, np.array(after_s), goal_c) / 60.0


def water_lost(food: Food, rails: Rails, cases: np.ndarray, turns_s: list[float], rest_s: float) -> float:
    """Return the share of its mass that the first case loses as water, turned over after each turn, and in its rest."""
    columns = _set_down(food, rails, cases)
    for turn, seconds in enumerate(turns_s):
        _turn(columns, turn % 2, np.full_like(columns.pieces.thickness_m, seconds))
        _turn_over(columns, turn % 2)
    for _ in range(STEPS):
        columns.step(np.full_like(columns.pieces.thickness_m, rest_s / STEPS))
    water, _, fat, _, _ = food.composition.shares
    juice = (1.0 - fat) * (columns.let_go * columns._widths()).sum(axis=0)
    return float(columns.mean(juice + water * columns.crust.sum(axis=0))[0] / columns.pieces.thickness_m[0, 0])


def _set_down(food: Food, rails: Rails, cases: np.ndarray) -> transient._Columns:
    """Return the columns of the cases before the first of their turns, whose lengths are not asked."""
    return transient._Columns(pieces_of(food, rails, cases, 1.0, "AB"))


def _turn(columns: transient._Columns, face: int, seconds: np.ndarray) -> None:
    """Let a face lie on the plate, as the product does a turn."""
    columns.land(face, face)
    for part in np.diff(np.arange(transient.STEPS_PER_TURN + 1.0) ** 2) / transient.STEPS_PER_TURN**2:
        columns.step(seconds * part, face)


def _turn_over(columns: transient._Columns, face: int) -> None:
    columns.lift(face)
    for _ in range(2):
        columns.step(np.full_like(columns.pieces.thickness_m, transient.LIFT_S / 2.0))


def _centre(columns: transient._Columns, food: Food, cases: np.ndarray) -> np.ndarray:
    """Return the centre of each case, with what the computation leaves out."""
    start = food.start_centre_c + cases[:, -1]
    return start + values_at(cases)["left out"] * (columns.centre() - start)


def _lengths(food: Food) -> np.ndarray:
    """Return times from a few seconds on [s], the longest enough for any piece of that thickness."""
    longest = 4000.0 * (food.thickness_mm / 15.0) ** 1.5
    return longest * np.geomspace(1.0 / 120.0, 1.0, STEPS)


def _seconds(food: Food, rails: Rails, cases: np.ndarray, before: np.ndarray, faces: str, goal_c: float) -> np.ndarray:
    """Return how long the last turn of each of the cases lasts until the centre is reached."""
    lengths = _lengths(food)
    earlier = np.repeat(before[:, None], len(lengths), axis=1)
    last = np.tile(lengths[:, None], (len(before), 1, 1))
    return _when(_pulls(food, rails, cases, np.concatenate([earlier, last], axis=2), faces), lengths, goal_c)


def _pulls(food: Food, rails: Rails, cases: np.ndarray, turns: np.ndarray, faces: str) -> np.ndarray:
    """Return the centre of each of the cases after each of the turns tried, from seconds (cases, tried, turns)."""
    count, each, _ = turns.shape
    tried = np.repeat(cases, each, axis=0)
    return run(food, rails, tried, turns.reshape(count * each, -1), faces).pull_centre_c.reshape(count, each)


def _when(pulls_c: np.ndarray, after_s: np.ndarray, goal_c: float) -> np.ndarray:
    rising = np.maximum.accumulate(pulls_c, axis=1)
    assert np.all(rising[:, -1] > goal_c), "tried for too short a time"
    return np.exp([np.interp(goal_c, one, np.log(after_s)) for one in rising])


def _peak(food: Food, rails: Rails, cases: np.ndarray, row: dict[str, str]) -> np.ndarray:
    return run(food, rails, cases, float(row["seconds"]), "C").peak_centre_c


@remembered(lambda: transient.LIFT_S)
def _falls(food: Food, rails: Rails, cases: np.ndarray, turn_c: float, goal_c: float) -> tuple[np.ndarray, np.ndarray]:
    """Return how far the plate has fallen at the turn and at the end [°C]."""
    first = _seconds(food, rails, cases, np.zeros((len(cases), 0)), "A", turn_c)
    second = _seconds(food, rails, cases, first[:, None], "AB", goal_c)
    until = run(food, rails, cases, first[:, None], "A").rail_drop_c
    return until, run(food, rails, cases, np.array([first, second]).T, "AB").rail_drop_c


def _rest(food: Food, rails: Rails, cases: np.ndarray, row: dict[str, str]) -> np.ndarray:
    """Return the peak in the rest of food turned once, half way, and taken off at a centre."""
    turns = 30.0 * minutes_halves(food, rails, cases, float(row["goal_c"])) - transient.LIFT_S / 2.0
    return run(food, rails, cases, turns[:, None], "AB").peak_centre_c


def _over(
    food: Food, rails: Rails, cases: np.ndarray, row: dict[str, str], every_s: float, against_s: float | None = None
) -> np.ndarray:
    """Return how long food takes that is turned every so many seconds, over one turned less often, or once."""
    goal_c = float(row["goal_c"])
    if against_s is None:
        against = minutes_halves(food, rails, cases, goal_c)
    else:
        against = minutes_every(food, rails, cases, against_s, goal_c)
    return minutes_every(food, rails, cases, every_s, goal_c) / against


def _two_goals(row: dict[str, str]) -> tuple[float, float]:
    turn_c, goal_c = (float(one) for one in row["goal_c"].split())
    return turn_c, goal_c


_QUANTITIES: dict[str, Callable[[Food, Rails, np.ndarray, dict[str, str]], np.ndarray]] = {
    "peak": _peak,
    "both faces": lambda food, rails, cases, row: minutes_both(food, rails, cases, float(row["goal_c"])),
    "turned every 30 s": lambda food, rails, cases, row: minutes_every(food, rails, cases, 30.0, float(row["goal_c"])),
    "turned once at a centre, until both faces are as hot": lambda food, rails, cases, row: minutes_until_both_faces(
        food, rails, cases, *_two_goals(row)
    ),
    "turned once": lambda food, rails, cases, row: minutes_halves(food, rails, cases, float(row["goal_c"])),
    "turned every 15 s over turned once": lambda *given: _over(*given, 15.0),
    "turned every 30 s over turned once": lambda *given: _over(*given, 30.0),
    "turned every 15 s over every 30 s": lambda *given: _over(*given, 15.0, 30.0),
    "fall of the plate to the turn": lambda *given: _falls(*given[:3], *_two_goals(given[3]))[0],
    "fall of the plate to the end": lambda *given: _falls(*given[:3], *_two_goals(given[3]))[1],
    "peak in the rest": _rest,
}
_IN_DEGREES = ("peak", "fall of the plate to the turn", "fall of the plate to the end", "peak in the rest")
