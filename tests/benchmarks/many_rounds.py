"""Does a log of a thousand rounds slow the commands down?

Run by hand: python tests/benchmarks/many_rounds.py [--runs 3] [--quick]

Logs of 10, 100 and 1,000 invented rounds of 12 shots on the sample grill, six rounds a day, a knob or two turned
between rounds. Every command runs as a process of its own; its processor time and peak memory are held against the
same command with 10 rounds. And `map` after 4 and after 24 rounds of one day, beside `map` after the first; and of one
round of a hundred thousand readings at all positions, beside one reading at each.
"""

from __future__ import annotations

import csv
import shutil
import statistics
import tempfile
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from child import run
from start_up import GRATEMAP, SAMPLES
from table import Row, alone, broken

from heatmap import load_grill
from heatmap.grill.grill import Grill

SIZES = (10, 100, 1000)
ROUNDS_A_DAY = 6
#: Rounds of one day.
LONG_DAYS = (1, 4, 24)
#: Readings of the long round.
FLOOD = 100_000
COMMANDS = ("map", "burners", "history", "history --all", "next", "compare", "ready --target 137", "take -")


def write_log(path: Path, grill: Grill, rounds: int, rounds_a_day: int = ROUNDS_A_DAY) -> None:
    """Write a log: a tilt, a bump over each burner that grows with its mark, and the scatter of a hand."""
    rng = np.random.default_rng(rounds)
    places = np.array([grill.point_mm(label) for label in grill.labels])
    burners = np.array([np.mean(burner.points_mm, axis=0) for burner in grill.burners])
    far_mm = np.abs(places[:, None, 0] - burners[None, :, 0])
    reach = np.exp(-0.5 * (far_mm / 90.0) ** 2)
    marks = np.full(len(burners), 5.5)
    names = [f"knob_{burner.name.replace(' ', '_')}" for burner in grill.burners]
    with path.open("w", newline="") as file:
        log = csv.writer(file)
        log.writerow(["id", "round", "session", "taken_at", "position", "shown_f", "lid", *names])
        for number in range(rounds):
            day, turn = divmod(number, rounds_a_day)
            begun = datetime(2026, 1, 1, 14, tzinfo=UTC) + timedelta(days=day, minutes=25 * turn)
            shown_f = 480.0 + 0.05 * places[:, 1] + reach @ (18.0 * marks) + rng.normal(0.0, 5.0, len(places))
            for at, label in enumerate(grill.labels):
                taken_at = (begun + timedelta(seconds=6 * at)).isoformat()
                row = [number * len(places) + at + 1, number + 1, f"day {day + 1}", taken_at, label]
                log.writerow([*row, round(shown_f[at]), "open", *marks])
            marks[rng.integers(len(marks))] = rng.integers(2, 19) / 2.0


def write_flood(path: Path, grill: Grill, count: int) -> None:
    """Write one round of so many readings, position after position, 3 °F of scatter."""
    rng, labels = np.random.default_rng(1), grill.labels
    shown_f = 560.0 + 6.0 * np.arange(len(labels))
    with path.open("w", newline="") as file:
        log = csv.writer(file)
        log.writerow(["position", "shown_f"])
        for at in range(count):
            here = at % len(labels)
            log.writerow([labels[here], round(shown_f[here] + rng.normal(0.0, 3.0), 1)])


def rows(quick: bool = False, runs: int = 3) -> list[Row]:
    """Run every command on logs of every length."""
    sizes, runs = (SIZES[:2], 1) if quick else (SIZES, runs)
    found = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        shutil.copy(SAMPLES / "grill.toml", folder)
        grill = load_grill(folder / "grill.toml")
        cases = [(command, sizes, ROUNDS_A_DAY) for command in COMMANDS]
        for command, sizes, a_day in [("map", LONG_DAYS, max(LONG_DAYS)), *cases]:
            try:
                found += _measured(command, grill, folder, sizes, runs, a_day)
            except RuntimeError as error:
                found.append(broken(f"gratemap {command}", error))
        found.append(_flooded(grill, folder, FLOOD // 50 if quick else FLOOD))
    return found


def _flooded(grill: Grill, folder: Path, count: int) -> Row:
    costs = []
    for size in (count, len(grill.labels)):
        write_flood(folder / "readings.csv", grill, size)
        costs.append(run([*GRATEMAP, "map"], folder=folder))
    many, few = costs
    return Row(
        what="gratemap map",
        size=f"round of {count:,} readings",
        value=many.processor_s,
        unit="s",
        against=f"round of {len(grill.labels)} readings",
        other=few.processor_s,
        also={"peak MiB": (many.peak_mib, few.peak_mib)},
    )


def _measured(command: str, grill: Grill, folder: Path, sizes: Sequence[int], runs: int, a_day: int) -> list[Row]:
    seconds: dict[int, float] = {}
    peaks: dict[int, float] = {}
    for size in sizes:
        costs = []
        for _ in range(runs):
            write_log(folder / "readings.csv", grill, size, a_day)  # anew, for `take` adds to it
            costs.append(run([*GRATEMAP, *command.split()], typed="B3 585\n", folder=folder))
        seconds[size] = statistics.median(cost.processor_s for cost in costs)
        peaks[size] = max(cost.peak_mib for cost in costs)
    few, of_a_day = sizes[0], " of one day" if a_day >= sizes[-1] else ""
    return [
        Row(
            what=f"gratemap {command}",
            size=f"log of {size:,} rounds{of_a_day}",
            value=seconds[size],
            unit="s",
            against=f"log of {few} round{'s' if few > 1 else ''}",
            other=seconds[few],
            also={"peak MiB": (peaks[size], peaks[few])},
        )
        for size in sizes[1:]
    ]


if __name__ == "__main__":
    alone(rows, __doc__)
