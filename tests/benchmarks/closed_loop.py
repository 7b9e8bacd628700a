"""Does the advice bring make-believe grills into the band, and is it better than what a cook would do without it?

Run by hand: python tests/benchmarks/closed_loop.py [--seeds 60] [--first 0] [--only SERIES] [--jobs 1]

Four series: "contact" (the band on the rail, one contact reading in the first round), "shown" (the band in the gun's
own numbers, as a grill file has it unless told otherwise; infrared only), "close" (the band on the rail, infrared
only, with a pair of shots from close up beside every shot of the first round, as the map asks for) and "rail" (the same
without them).

Each grill starts with all knobs alike and is played for six rounds: shoot every position, follow the advice (if it says
it is worth it), wait 25 min, shoot again. The hand misses a mark by a little and the wind changes from round to round.
The share of area truly in band, in the steady state of the marks really held in the day's mean wind, is held against
the largest share any settable marks reach on the truth. Compared with: no change; all knobs alike by the mean error;
each burner by the mean error of its nearest spots (both from the same corrected spots, with the rise per mark of the
round for a slope). Prints, for each, the share of grills that stand at 80 % of the best in the third round (after two
changes) and at 80 % and 90 % in the sixth, and in brackets that have stood there in any round so far; and the median
after the sixth round's advice has been followed. Beside the advice: the same shares for the marks that are best on the
truth but for the level, which is off by as much as the map's in the sixth round; no advice can be counted on to do
better than that.
"""

from __future__ import annotations

import argparse
import math
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from heatmap.assessment import Assessment, assess
from heatmap.correct import close_up_mm
from heatmap.decisions.burner_advice import advise
from heatmap.grill.burner import along_line
from heatmap.synthetic import RehearsalGrill, draw_grill
from heatmap.synthetic.hidden import PORTS

#: name: what the band means, and what is taken in the first round beside the usual shots
SERIES = {
    "contact": ("rail", "contact"),
    "shown": ("shown", ""),
    "close": ("rail", "pairs from close up"),
    "rail": ("rail", ""),
}
TITLES = {
    "contact": "one contact reading in the first round",
    "shown": "infrared only, band in the gun's own numbers",
    "close": "infrared only, band on the rail, pairs from close up in the first round",
    "rail": "infrared only, band on the rail",
}
ROUNDS = 6
WAIT_MIN = 25.0
Marks = dict[str, float]
Rule = Callable[[RehearsalGrill, Assessment], Marks]


def follow_advice(_grill: RehearsalGrill, assessment: Assessment) -> Marks:
    """Turn what gratemap says, if it says it is worth it."""
    advice = advise(assessment)
    return dict(advice.settings) if advice.changes else {}


def change_nothing(_grill: RehearsalGrill, _assessment: Assessment) -> Marks:
    """Leave every knob."""
    return {}


def all_alike(grill: RehearsalGrill, assessment: Assessment) -> Marks:
    """Turn every knob by the mean error."""
    _, error, slope = _errors(grill, assessment)
    return _moved(grill, {burner.name: -float(error.mean()) / slope for burner in grill.grill.burners})


def nearest_spots(grill: RehearsalGrill, assessment: Assessment) -> Marks:
    """Turn each burner by the mean error of the spots that are nearest to it."""
    points, error, slope = _errors(grill, assessment)
    lines = [along_line(burner.points_mm, PORTS) for burner in grill.grill.burners]
    far = [np.hypot(*(points[:, None] - line[None]).transpose(2, 0, 1)).min(axis=1) for line in lines]
    nearest = np.argmin(far, axis=0)
    turns = {}
    for at, burner in enumerate(grill.grill.burners):
        own = error[nearest == at] if (nearest == at).any() else error
        turns[burner.name] = -float(own.mean()) / slope
    return _moved(grill, turns)


RULES: dict[str, Rule] = {
    "gratemap": follow_advice,
    "no change": change_nothing,
    "all knobs alike": all_alike,
    "nearest spots": nearest_spots,
}


def _errors(grill: RehearsalGrill, assessment: Assessment) -> tuple[np.ndarray, np.ndarray, float]:
    spots = [
        spot.spot
        for spot in assessment.spots
        if spot.spot.reading.aim == "rail" and spot.spot.reading.distance_mm is None
    ]
    points = np.array([spot.reading.point_mm for spot in spots])
    compared_c = assessment.calibration.compared_c(np.array([spot.rail_c for spot in spots]))
    slope = (compared_c.mean() - grill.grill.surroundings.air_c) / np.mean(list(grill.marks.values()))
    return points, compared_c - grill.grill.target.middle_c, float(slope)


def _moved(grill: RehearsalGrill, turns: Marks) -> Marks:
    marks = {}
    for burner in grill.grill.burners:
        wanted = grill.marks[burner.name] + turns[burner.name]
        marks[burner.name] = float(burner.settable[np.argmin(np.abs(np.subtract(burner.settable, wanted)))])
    return marks


@dataclass(frozen=True)
class Played:
    """One grill played to the end: share in band over the best, before every round and after the last.

    `but_for_level` is that of the best marks for a band that is off by what the map's level is off in the last round.
    """

    shares: np.ndarray
    but_for_level: float
    best: float
    failed: str
    advice_s: float


def play(job: tuple[int, str, str]) -> Played:
    """Play one grill by one rule in one of the series."""
    seed, name, series = job
    numbers, beside = SERIES[series]
    grill = draw_grill(seed, numbers=numbers)
    _, best = grill.best_reachable()
    shares, rounds, slowest = [grill.share_in_band(grill.held)], [], 0.0
    failed, but_for_level = "", math.nan
    for number in range(1, ROUNDS + 1):
        place = grill.grill.labels[len(grill.grill.labels) // 2] if beside == "contact" and number == 1 else None
        near_mm = close_up_mm(grill.grill) if beside.startswith("pairs") and number == 1 else None
        rounds.append(grill.play_round(number, contact_at=place, close_up_mm=near_mm))
        try:
            assessment = assess(grill.grill, rounds)
            if name == "gratemap" and number == ROUNDS:
                but_for_level = _best_but_for_level(grill, assessment) / best
            slowest = max(slowest, _turn(grill, assessment, RULES[name]))
        except Exception as problem:
            failed = f"seed {seed}, round {number}: {problem!r}"
        grill.wait(WAIT_MIN)
        shares.append(grill.share_in_band(grill.held))
    shares = np.array(shares) / best
    return Played(shares=shares, but_for_level=but_for_level, best=best, failed=failed, advice_s=slowest)


def _best_but_for_level(grill: RehearsalGrill, assessment: Assessment) -> float:
    settled = assessment.model.expected(assessment.round.settings)
    mapped_c = assessment.calibration.compared_c(settled.mean(grill.cells_mm[grill.inside]))
    off_c = float(np.mean(mapped_c) - np.mean(grill.compared_c(grill.held)[grill.inside]))
    told, target = grill.grill, grill.grill.target
    wrong = replace(target, low_c=target.low_c - off_c, high_c=target.high_c - off_c)
    grill.grill = replace(told, target=wrong)
    marks, _ = grill.best_reachable()
    grill.grill = told
    return grill.share_in_band(marks)


def _turn(grill: RehearsalGrill, assessment: Assessment, rule: Rule) -> float:
    start = time.process_time()
    marks = rule(grill, assessment)
    taken = time.process_time() - start
    grill.turn(marks)  # raises when a mark is off its knob
    return taken


def report(title: str, played: list[Played]) -> None:
    """Print one line."""
    shares = np.array([one.shares for one in played])
    so_far = np.maximum.accumulate(shares, axis=1)
    columns = [
        f"{np.mean(shares[:, at] >= share):4.0%} ({np.mean(so_far[:, at] >= share):4.0%})"
        for at, share in ((2, 0.8), (5, 0.8), (5, 0.9))
    ]
    medians = np.round(np.median(shares, axis=0), 2)
    print(f"  {title:16s} {'  '.join(columns)} {medians[-1]:7.2f}   medians {medians}")
    for one in played:
        if one.failed:
            print("    FAILED", one.failed)


def main() -> None:
    """Play every rule on every grill."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=60)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--only", choices=list(SERIES))
    parser.add_argument("--rules", nargs="*", default=list(RULES))
    parser.add_argument("--jobs", type=int, default=1)
    arguments = parser.parse_args()
    for series in [arguments.only] if arguments.only else SERIES:
        print(TITLES[series], flush=True)
        print("                   80 %@3       80 %@6       90 %@6       median after", flush=True)
        with ProcessPoolExecutor(arguments.jobs) as pool:
            for name in arguments.rules:
                jobs = [(arguments.first + seed, name, series) for seed in range(arguments.seeds)]
                played = list(pool.map(play, jobs))
                report(name, played)
                if name == "gratemap":
                    slowest = max(one.advice_s for one in played)
                    print(f"    best reachable share {np.mean([one.best for one in played]):.2f} on average; ", end="")
                    print(f"slowest advice {slowest:.2f} s")
                    level = np.array([one.but_for_level for one in played])
                    print(f"    best but for the level: {np.mean(level >= 0.8):.0%} at 80 %, ", end="")
                    print(f"{np.mean(level >= 0.9):.0%} at 90 %", flush=True)


if __name__ == "__main__":
    main()
