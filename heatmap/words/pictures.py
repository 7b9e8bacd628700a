"""What stands above a picture, and what is read of it to those who cannot see it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from heatmap.units import BoolArray, percent
from heatmap.verdict.comparison import Comparison
from heatmap.verdict.history import RoundLine

NOTHING_TO_TURN = "Nothing to turn"


def difference_title(found: Comparison, clear: BoolArray) -> str:
    """Say what changed between two rounds, and of how much of the grate that is `clear` of noise."""
    display = found.after.grill.display
    word = "hotter" if found.mean_change_c > 0 else "cooler"
    level = f"{display.difference_text(abs(found.mean_change_c))} {word} on average"
    rounds = f"Round {found.after.round.number} against round {found.before.round.number}: {level}"
    share = float(np.mean(clear[found.cells.inside]))
    return f"{rounds}; {percent(share)} of the grate changed by clearly more than noise."


def history_sentence(lines: Sequence[RoundLine]) -> str:
    """Say in a report how the share went."""
    first, last = lines[0], lines[-1]
    shares = f"in band {percent(first.share or 0.0)}, then {percent(last.share or 0.0)}"
    return f"From round {first.round.number} to round {last.round.number}: {shares}."


def made_sentence(version: str, when: str) -> str:
    """Say at the end of a page what made it, and when."""
    return f"Made by gratemap {version}, {when}."


def seen_text(what: str, told: str) -> str:
    """Return what a picture shows, and what it says, for those who cannot see it."""
    return f"{what}. {told}"
