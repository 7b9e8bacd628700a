"""Published trials of contact cooking, each predicted by the model that `gratemap sear` runs on."""

from __future__ import annotations

import csv
import functools
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from heatmap.physics.beef import Composition
from heatmap.sear import UNKNOWNS, Beliefs, Food, Rails
from heatmap.sear.runs import REACH, Cases, own_spread, run
from heatmap.sear.transient import LIFT_S

TABLE = Path(__file__).parents[1] / "reference" / "contact_cooking_trials.csv"
# ASHRAE lean sirloin (row MP-13); ground beef of 20 % fat, protein and water in the proportion of MP-12
MEATS = {
    "lean": Composition(water=0.717, protein=0.2124, fat=0.044, ash=0.0108),
    "ground": Composition(water=0.61, protein=0.18, fat=0.20, ash=0.01),
}
IRON_FACTOR = 2.0  # what a plate stores where no trial says it, a factor either way at 90 %; assumed
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
    *("plate_c", "plate_sd_c", "iron_mm"),
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
    return plate(float(row["plate_c"]), float(row["plate_sd_c"]), float(row["iron_mm"]))


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
    return interval(lambda cases, here: asked(food, here, cases, row), food, rails, row["quantity"] in _IN_DEGREES)


def interval(
    asked: Callable[[Cases, Rails], np.ndarray],
    food: Food,
    rails: Rails,
    in_degrees: bool = False,
    iron_factor: float = IRON_FACTOR,
) -> Predicted:
    """Move every input to its 5th and 95th percentile and add the changes in quadrature, as the plan does."""
    known = Beliefs.before_any_test()
    alone = Cases.alike(known, np.ones((1, 1)))
    moved = alone.common_moves(REACH * known.directions).beside(alone.own_moves(REACH * own_spread(food, rails)))
    found = asked(alone.beside(moved), rails)
    irons = [asked(alone, replace(rails, height_mm=rails.height_mm * one))[0] for one in (iron_factor, 1 / iron_factor)]
    values = found if in_degrees else np.log(found)
    common = len(UNKNOWNS)
    ups = np.concatenate([values[1 : 1 + common], values[1 + 2 * common : 4 + 2 * common], [irons[0]]])
    downs = np.concatenate([values[1 + common : 1 + 2 * common], values[4 + 2 * common :], [irons[1]]])
    if not in_degrees:
        ups[-1], downs[-1] = np.log(ups[-1]), np.log(downs[-1])
    changes = np.array([ups, downs]) - values[0]
    low = values[0] - math.sqrt((np.minimum(changes.min(axis=0), 0.0) ** 2).sum())
    high = values[0] + math.sqrt((np.maximum(changes.max(axis=0), 0.0) ** 2).sum())
    back = float if in_degrees else math.exp
    return Predicted(middle=back(values[0]), low=back(low), high=back(high))


def minutes_once_at(food: Food, rails: Rails, cases: Cases, turn_c: float, goal_c: float) -> np.ndarray:
    """Return the minutes to a centre for food turned once, at another centre."""
    first = _seconds(food, rails, cases, np.zeros((len(cases.own), 0)), "A", turn_c)
    second = _seconds(food, rails, cases, first[:, None], "AB", goal_c)
    return (first + LIFT_S + second) / 60.0


def minutes_both(food: Food, rails: Rails, cases: Cases, goal_c: float) -> np.ndarray:
    """Return the minutes to a centre for food between two plates."""
    return _seconds(food, rails, cases, np.zeros((len(cases.own), 0)), "C", goal_c) / 60.0


def minutes_halves(food: Food, rails: Rails, cases: Cases, goal_c: float) -> np.ndarray:
    """Return the minutes to a centre for food turned once, half way through."""
    tried = [(np.full(2, one / 2.0), one + LIFT_S) for one in _lengths(food)]
    return _reached(food, rails, cases, tried, goal_c) / 60.0


def minutes_every(food: Food, rails: Rails, cases: Cases, every_s: float, goal_c: float) -> np.ndarray:
    """Return the minutes to a centre for food turned over again and again, the lift being part of the time."""
    counts = np.unique(np.geomspace(4.0, _lengths(food)[-1] / every_s, STEPS).round().astype(int))
    tried = [(np.full(count, every_s - LIFT_S), count * every_s - LIFT_S) for count in counts]
    return _reached(food, rails, cases, tried, goal_c) / 60.0


def _lengths(food: Food) -> np.ndarray:
    """Return times from a few seconds on [s], the longest enough for any piece of that thickness."""
    longest = 4000.0 * (food.thickness_mm / 15.0) ** 1.5
    return longest * np.geomspace(1.0 / 120.0, 1.0, STEPS)


def _reached(
    food: Food, rails: Rails, cases: Cases, tried: list[tuple[np.ndarray, float]], goal_c: float
) -> np.ndarray:
    """Return when each of the cases reaches a centre: the turns tried, flipped over, each with when it ends [s]."""
    pulls, after_s = [], []
    for turns, end_s in tried:
        these = replace(cases, seconds=np.tile(turns, (len(cases.own), 1)))
        pulls.append(run(food, rails, these, ("AB" * len(turns))[: len(turns)]).pull_centre_c)
        after_s.append(end_s)
        if np.all(pulls[-1] > goal_c):
            break
    return _when(np.array(pulls).T, np.array(after_s), goal_c)


def _seconds(food: Food, rails: Rails, cases: Cases, before: np.ndarray, faces: str, goal_c: float) -> np.ndarray:
    """Return how long the last turn of each of the cases lasts until the centre is reached."""
    lengths, count = _lengths(food), len(cases.own)
    each = len(lengths)
    seconds = np.concatenate([np.repeat(before, each, axis=0), np.tile(lengths, count)[:, None]], axis=1)
    tried = Cases(
        deviates=np.repeat(cases.deviates, each, axis=0), own=np.repeat(cases.own, each, axis=0), seconds=seconds
    )
    return _when(run(food, rails, tried, faces).pull_centre_c.reshape(count, each), lengths, goal_c)


def _when(pulls_c: np.ndarray, after_s: np.ndarray, goal_c: float) -> np.ndarray:
    rising = np.maximum.accumulate(pulls_c, axis=1)
    assert np.all(rising[:, -1] > goal_c), "tried for too short a time"
    return np.exp([np.interp(goal_c, one, np.log(after_s)) for one in rising])


def _peak(food: Food, rails: Rails, cases: Cases, row: dict[str, str]) -> np.ndarray:
    these = replace(cases, seconds=np.full((len(cases.own), 1), float(row["seconds"])))
    return run(food, rails, these, "C").peak_centre_c


def _falls(food: Food, rails: Rails, cases: Cases, row: dict[str, str]) -> tuple[np.ndarray, np.ndarray]:
    """Return how far the plate has fallen at the turn and at the end [°C]."""
    turn_c, goal_c = (float(one) for one in row["goal_c"].split())
    first = _seconds(food, rails, cases, np.zeros((len(cases.own), 0)), "A", turn_c)
    second = _seconds(food, rails, cases, first[:, None], "AB", goal_c)
    until = run(food, rails, replace(cases, seconds=first[:, None]), "A").rail_drop_c
    return until, run(food, rails, replace(cases, seconds=np.array([first, second]).T), "AB").rail_drop_c


_QUANTITIES: dict[str, Callable[[Food, Rails, Cases, dict[str, str]], np.ndarray]] = {
    "peak": _peak,
    "both faces": lambda food, rails, cases, row: minutes_both(food, rails, cases, float(row["goal_c"])),
    "turned every 30 s": lambda food, rails, cases, row: minutes_every(food, rails, cases, 30.0, float(row["goal_c"])),
    "turned once at a centre": lambda food, rails, cases, row: minutes_once_at(
        food, rails, cases, *(float(one) for one in row["goal_c"].split())
    ),
    "turned once": lambda food, rails, cases, row: minutes_halves(food, rails, cases, float(row["goal_c"])),
    "turned every 15 s over turned once": lambda food, rails, cases, row: (
        minutes_every(food, rails, cases, 15.0, float(row["goal_c"]))
        / minutes_halves(food, rails, cases, float(row["goal_c"]))
    ),
    "fall of the plate to the turn": lambda food, rails, cases, row: _falls(food, rails, cases, row)[0],
    "fall of the plate to the end": lambda food, rails, cases, row: _falls(food, rails, cases, row)[1],
}
_IN_DEGREES = ("peak", "fall of the plate to the turn", "fall of the plate to the end")
