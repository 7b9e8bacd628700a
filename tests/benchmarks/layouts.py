"""How often is it noticed that burners are laid wrong in the grill file, and how often is a right layout doubted?

Run by hand: python tests/benchmarks/layouts.py [--seeds 0-99] [--kept FOLDER]

The make-believe sessions of sessions.py: rounds of twelve or fifteen shots with a contact reading in the first, knobs
turned in between. Each is assessed as its grill is told, and with the burners told wrong in one of the ways that can be
told apart on that grill, in turn. Counted after one, two and three rounds: how many wrong ones are told to the cook,
and as what they are; how many right ones are. Settled on seeds 0-29.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from sessions import MAKE_BELIEVE, log_of, seeds_from_text, session_of
from table import Row

from heatmap.assessment import assess
from heatmap.grate_model.response import Layout, other_lines
from heatmap.grill.grill import Grill

ROUNDS = (1, 2, 3)
#: What puts a layout told wrong right again.
BACK = {Layout.QUARTER_TURN: Layout.QUARTER_TURN_BACK, Layout.QUARTER_TURN_BACK: Layout.QUARTER_TURN}


def told_wrong(grill: Grill, which: int) -> tuple[Layout, Grill]:
    """Return the grill with its burners told wrong, and what would put it right."""
    ways = list(other_lines(grill.grate, grill.burners))
    layout, lines = ways[which % len(ways)]
    burners = tuple(replace(one, points_mm=points) for one, points in zip(grill.burners, lines, strict=True))
    return BACK.get(layout, layout), replace(grill, burners=burners)


def measure(seeds: Sequence[int], folder: Path | None = None) -> dict[int, tuple[int, int, int]]:
    """Return, after each number of rounds, how many wrong layouts were told, were told as what they are, and how many
    right ones were told.
    """
    found = {number: [0, 0, 0] for number in ROUNDS}
    for seed in seeds:
        session = session_of(MAKE_BELIEVE, seed, folder)
        rounds = log_of(session, 12, True, "none")
        wanted, wrong = told_wrong(session.grill, seed)
        for number, counts in found.items():
            told, doubted = (assess(grill, rounds[:number]).model.layout for grill in (wrong, session.grill))
            counts[0] += told is not Layout.AS_TOLD
            counts[1] += told is wanted
            counts[2] += doubted is not Layout.AS_TOLD
    return {number: (told, named, doubted) for number, (told, named, doubted) in found.items()}


def rows(quick: bool = False) -> list[Row]:
    """Return the part of wrong layouts that is told after three rounds, and of right ones."""
    seeds = range(4 if quick else 100)
    told, named, doubted = measure(seeds)[ROUNDS[-1]]
    count = len(seeds)
    return [
        Row(
            what="burners laid wrong in the grill file that are told after two changes of knobs",
            size=f"{count} grills",
            value=told / count,
            unit="1",
            also={"as what they are": (named / count, None), "laid right and told": (doubted / count, None)},
        )
    ]


def main() -> None:
    """Print a line for each number of rounds."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=seeds_from_text, default=seeds_from_text("0-99"))
    parser.add_argument("--kept", type=Path, metavar="FOLDER", help="sessions are kept here and brought back")
    options = parser.parse_args()
    print(f"of {len(options.seeds)} grills\nrounds  laid wrong: told, as it is  laid right: told")
    for number, (told, named, doubted) in measure(options.seeds, options.kept).items():
        print(f"{number:6d}  {told:16d} {named:10d}  {doubted:16d}")


if __name__ == "__main__":
    main()
