"""Where to shoot next, and what hangs on it."""

from __future__ import annotations

from collections.abc import Sequence

from heatmap.decisions.decision import Decision
from heatmap.decisions.next_spots import NextSpot
from heatmap.decisions.tuning import HARDLY
from heatmap.units import percent
from heatmap.verdict.tuning import SURE

#: Why a position comes next while there is no map.
FIRST_WHY = "too few readings for a map yet; the centre and the corners come first"
HARDLY_CHANGES = "More shots would hardly change the answer."


def next_lines(first: str, decision: Decision, spots: Sequence[NextSpot]) -> list[str]:
    """Say what to do, then what hangs on each position; that nothing does only where no shot is asked for."""
    lines = [first, *(f"{spot.position:4s} {why_text(spot)}" for spot in spots)]
    if decision.do != "shoot" and sum(spot.gain for spot in spots) < HARDLY:
        lines.append(HARDLY_CHANGES)
    return lines


def why_text(spot: NextSpot) -> str:
    """Say in a few words what hangs on a position."""
    chances = spot.chances
    first, second = sorted(chances, key=lambda word: -chances[word])[:2]
    again = (
        "" if spot.shots == 0 else "; shot once already" if spot.shots == 1 else f"; shot {spot.shots} times already"
    )
    likely = f"{percent(chances[first])} likely {first}"
    if spot.gain < 0.1 * HARDLY:
        return f"{likely}; hardly anything hangs on it{again}"
    if chances[first] >= SURE:
        return f"{likely}, but the places around it hang on it{again}"
    return f"{likely}, {percent(chances[second])} {second}{again}"
