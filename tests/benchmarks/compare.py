"""How often `compare` is right, wrong, or cannot tell; and whether its chances are what they say.

Run by hand; never pass or fail::

    OMP_NUM_THREADS=1 python tests/benchmarks/compare.py [--count 120] [--quick]

Pairs with known truth: make-believe grills whose marks were changed, the same with only the wind changed, and plain
synthetic grates that share nothing with the make-believe grill (a sum of tilt, bumps and ripples; normal noise). The
truth is the 95th minus the 5th percentile of the true surface over the area inside the rim at the time of each round.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray
from table import Row, alone

from heatmap.errors import MapError
from heatmap.grill.burner import Burner
from heatmap.grill.grate import Grate, Positions
from heatmap.grill.grill import Grill, TargetBand
from heatmap.readings.reading import Reading, Round
from heatmap.synthetic import RehearsalGrill, draw_grill
from heatmap.units import c_difference_from_f, c_from_f
from heatmap.verdict.chances import spreads_c
from heatmap.verdict.comparison import Comparison, answer_of, compare

Pair = tuple[Grill, tuple[Round, Round], float]  # and how much the true spread grew [°C]
#: A change of spread that a cook would want to be told of.
MATTERS_C = c_difference_from_f(10.0)


def true_spread_c(grill: RehearsalGrill) -> float:
    """Return the true spread now."""
    low, high = np.percentile(grill.truth_c(grill.cells_mm)[grill.inside], [5.0, 95.0])
    return float(high - low)


def played(seed: int, new_marks: Callable[[RehearsalGrill, np.random.Generator], dict[str, float]]) -> Pair:
    """Play two rounds on a make-believe grill, its marks changed between them."""
    grill, random = draw_grill(seed), np.random.default_rng([seed, 11])
    rounds, truth = [], []
    for number in (1, 2):
        if number == 2:
            grill.turn(new_marks(grill, random))
            grill.settle()
        rounds.append(grill.play_round(number))
        truth.append(true_spread_c(grill))
    return grill.grill, (rounds[0], rounds[1]), truth[1] - truth[0]


def some_knobs(grill: RehearsalGrill, random: np.random.Generator) -> dict[str, float]:
    """Turn one to all knobs by up to a third of their way."""
    burners = grill.grill.burners
    marks = dict(grill.marks)
    for at in random.permutation(len(burners))[: random.integers(1, len(burners) + 1)]:
        burner = burners[at]
        wanted = marks[burner.name] + random.uniform(-1, 1) * (burner.high - burner.low) / 3.0
        marks[burner.name] = float(burner.settable[np.argmin(np.abs(np.subtract(burner.settable, wanted)))])
    return marks


def no_knob(grill: RehearsalGrill, random: np.random.Generator) -> dict[str, float]:
    """Turn nothing."""
    return dict(grill.marks)


def synthetic(seed: int) -> Pair:
    """Make two rounds over a grate of tilt, bumps and ripples, partly the same in both; normal noise."""
    random = np.random.default_rng([seed, 13])
    grate = Grate(width_mm=609.6, depth_mm=457.2)
    burner = Burner(name="one", points_mm=((300.0, 50.0), (300.0, 400.0)))
    band = TargetBand(low_c=c_from_f(550.0), high_c=c_from_f(600.0), numbers="shown")
    columns = int(random.integers(4, 7))
    grill = Grill(grate=grate, positions=Positions(rows=3, columns=columns), burners=(burner,), target=band)
    common, change = _field(random, random.uniform(10.0, 40.0)), _field(random, random.uniform(0.0, 25.0))
    noise_c, start = random.uniform(2.0, 5.0), datetime(2024, 6, 1, 12, tzinfo=UTC)
    place_c = random.uniform(0.0, 4.0) * random.standard_normal(len(grill.labels))
    x_mm, y_mm = grate.cells_mm(25.4)
    cells = np.column_stack([axis.ravel() for axis in np.meshgrid(x_mm, y_mm)])
    rim, inside = grate.rim_mm, np.ones(len(cells), dtype=bool)
    for axis, size in enumerate(grate.extent_mm):
        inside &= (cells[:, axis] >= rim) & (cells[:, axis] <= size - rim)
    where = np.array([grill.point_mm(label) for label in grill.labels])
    rounds, truth = [], []
    for number, share in ((1, 0.0), (2, 1.0)):
        shown = 300.0 + common(where) + share * change(where) + place_c + noise_c * random.standard_normal(len(where))
        begun = start + timedelta(minutes=20 * number)
        readings = tuple(
            Reading(
                id=100 * number + at,
                shown_c=float(round(value * 1.8)) / 1.8,
                x_mm=float(where[at, 0]),
                y_mm=float(where[at, 1]),
                position=label,
                round=number,
                taken_at=begun + timedelta(seconds=6 * at),
            )
            for at, (label, value) in enumerate(zip(grill.labels, shown, strict=True))
        )
        rounds.append(Round(number=number, session="", readings=readings))
        truth.append(float(spreads_c((common(cells) + share * change(cells))[None, inside])[0]))
    return grill, (rounds[0], rounds[1]), truth[1] - truth[0]


def _field(random: np.random.Generator, size_c: float) -> Callable[[NDArray[np.float64]], NDArray[np.float64]]:
    """Return a random smooth field about this large."""
    tilt, bumps = random.normal(0.0, 0.6, 2), random.uniform(-1.0, 1.0, (3, 2))
    heights, widths = random.normal(0.0, 1.0, 3), random.uniform(0.3, 0.8, 3)
    phase, wave = random.uniform(0.0, 6.3), random.uniform(2.0, 5.0)

    def field(points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        unit = points_mm / np.array([304.8, 228.6]) - 1.0
        square = ((unit[:, None, :] - bumps) ** 2).sum(axis=2)
        ripple = 0.3 * np.sin(wave * unit[:, 0] + phase)
        return np.asarray(size_c * (unit @ tilt + np.exp(-0.5 * square / widths**2) @ heights + ripple))

    return field


def by_itself(found: Comparison) -> tuple[float, str]:
    """Return chance and answer when each map knows nothing of the other."""
    before, after = (spreads_c(one.samples_c) for one in (found.before, found.after))
    chance = float(np.mean(after[:, None] < before[None, :]))
    grew_c = found.after.evenness.p95_minus_p5_c - found.before.evenness.p95_minus_p5_c
    return chance, answer_of(chance, grew_c)


def rows(quick: bool = False, count: int = 120) -> list[Row]:
    """Return how often compare is right, beside two maps that know nothing of each other."""
    count = 3 if quick else count
    kinds = {
        "knobs turned": (played(seed, some_knobs) for seed in range(count)),
        "only wind": (played(seed, no_knob) for seed in range(count)),
        "synthetic grates": (synthetic(seed) for seed in range(count)),
    }
    return [row for name, pairs in kinds.items() for row in _judged(name, pairs)]


def _judged(name: str, pairs: Iterator[Pair]) -> list[Row]:
    """Compare all pairs of one kind."""
    seconds, inside, truths = [], [], []
    told: dict[str, list[tuple[float, str]]] = {"together": [], "each by itself": []}
    for grill, rounds, truth_c in pairs:
        begun = time.process_time()
        try:
            found = compare(grill, rounds, 1, 2)
        except MapError:
            continue
        seconds.append(time.process_time() - begun)
        inside.append(found.spread_change_low_c <= truth_c <= found.spread_change_high_c)
        told["together"].append((found.chance_better, found.answer))
        told["each by itself"].append(by_itself(found))
        truths.append(truth_c)
    truth = np.array(truths)
    title, size = f"compare, {name}", f"{len(truth)} pairs"
    result = [
        Row(what=f"{title}: processor time", size=size, value=float(np.median(seconds)), unit="s"),
        Row(
            what=f"{title}: 90 % limits cover",
            size=size,
            value=float(np.mean(inside)),
            unit="1",
            against="as claimed",
            other=0.9,
        ),
    ]
    for what, chosen in (("10 °F or more", np.abs(truth) >= MATTERS_C), ("less", np.abs(truth) < MATTERS_C)):
        if chosen.any():
            ours, other = (shares(answers, truth, chosen) for answers in told.values())
            result.append(
                Row(
                    what=f"{title}, change of {what}: right",
                    size=f"{chosen.sum()} pairs",
                    value=ours[0],
                    unit="1",
                    against="each map by itself",
                    other=other[0],
                    also={"wrong": (ours[1], other[1]), "cannot tell": (ours[2], other[2])},
                )
            )
    return result + chances_kept(title, np.array([chance for chance, _ in told["together"]]), truth)


def shares(
    answers: list[tuple[float, str]], truth: NDArray[np.float64], chosen: NDArray[np.bool_]
) -> tuple[float, float, float]:
    """Return the shares of the chosen pairs that are right, wrong and not told."""
    words = np.array([word for _, word in answers])
    signs = np.select([words == "more even", words == "less even"], [-1, 1], 0)
    right = float(np.mean((signs * np.sign(truth))[chosen] > 0))
    wrong = float(np.mean((signs * np.sign(truth))[chosen] < 0))
    return right, wrong, 1.0 - right - wrong


def chances_kept(title: str, chance: NDArray[np.float64], truth: NDArray[np.float64]) -> list[Row]:
    """Hold the chances that were told against how often it came true."""
    sure, hit, result = np.maximum(chance, 1 - chance), (chance > 0.5) == (truth < 0), []
    for low, high in ((0.5, 0.6), (0.6, 0.7), (0.7, 0.8), (0.8, 0.9), (0.9, 0.97), (0.97, 1.01)):
        mine = (sure >= low) & (sure < high)
        if mine.sum() > 4:
            what, size = f"{title}, chance {low:.2f} to {min(high, 1):.2f}: came true", f"{mine.sum()} pairs"
            came, said = float(hit[mine].mean()), float(sure[mine].mean())
            result.append(Row(what=what, size=size, value=came, unit="1", against="as claimed", other=said))
    return result


if __name__ == "__main__":
    alone(rows, __doc__)
