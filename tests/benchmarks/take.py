"""How long from a reading typed to the screen redrawn, beside the bare cost of one surface fit?

Run by hand::

    python tests/benchmarks/take.py [--repeats 9] [--json FILE]

A round of 48 positions (6 by 8) is typed by the session's own loop into a log on the disk, without a terminal; measured
is the 12th, 24th and 48th reading: from the moment the line is there until everything has been written to the screen,
by the clock on the wall (flush to the disk and other programs' share of the machine included) and in processor time.
Beside it, in the same run, one fit of the surface to as many readings.
"""

from __future__ import annotations

# Before numpy, as the command does: it keeps small matrices on one thread.
import cli  # noqa: F401

# isort: split

import argparse
import contextlib
import io
import json
import statistics
import tempfile
import time
from pathlib import Path

import numpy as np

from cli.take_begin import Plan
from cli.take_inputs import Inputs, Line
from cli.take_round import Taking
from heatmap.files.grill_toml import load_grill
from heatmap.files.readings_log import ReadingsLog
from heatmap.surface import fit_surface

GRILL = "[grate]\nwidth = 24.0\ndepth = 18.0\n[positions]\nrows = 6\ncolumns = 8\n[target]\nlow = 550.0\nhigh = 600.0\n"
COUNTS = (12, 24, 48)


def shown(grill, label, rng):
    """Return what the gun shows: a bowl with some scatter, °F."""
    x, y = np.array(grill.point_mm(label)) / np.array(grill.grate.extent_mm) - 0.5
    return round(585 - 60 * x * x - 90 * y * y + 25 * x + rng.normal(0.0, 3.0))


def timed(action):
    """Run it and return milliseconds by the wall clock and of processor time."""
    start = time.perf_counter(), time.process_time()
    action()
    return 1e3 * (time.perf_counter() - start[0]), 1e3 * (time.process_time() - start[1])


def one_round(folder, seed):
    """Type a round and return (wall, processor) milliseconds for each reading, and for a bare fit at each of COUNTS."""
    rng = np.random.default_rng(seed)
    grill = load_grill(folder / "grill.toml")
    plan = Plan(grill_file=folder / "grill.toml", readings_file=folder / f"readings_{seed}.csv")
    seconds, fits = [], {}
    with ReadingsLog(plan.readings_file, grill) as log:
        taking = Taking(plan, grill, log, Inputs())
        with contextlib.redirect_stderr(io.StringIO()):
            taking._open_round()
            for count in range(1, max(COUNTS) + 1):
                line = Line(str(shown(grill, taking.session.walk.next, rng)))
                seconds.append(timed(lambda line=line: taking._hear(line)))
                if taking.session.doubts:
                    taking._hear(Line("keep"))
                if count in COUNTS:
                    surface = taking.running.round_map.surface
                    fits[count] = timed(
                        lambda s=surface: fit_surface(s.points_mm, s.rail_c, 2.0, extent_mm=s.extent_mm)
                    )
    return seconds, fits


def main():
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--repeats", type=int, default=9)
    parser.add_argument("--json", help="write the table here")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "grill.toml").write_text(GRILL, encoding="utf-8")
        one_round(folder, 10_000)  # everything imported and warm
        runs = [one_round(folder, seed) for seed in range(options.repeats)]
    rows = []
    print(f"{options.repeats} rounds; median milliseconds, wall (processor)")
    print(f"{'reading':>8}{'typed to redrawn':>20}{'one surface fit':>20}{'ratio':>8}")
    for count in COUNTS:
        redrawn = [statistics.median(taken[count - 1][clock] for taken, _ in runs) for clock in (0, 1)]
        fit = [statistics.median(fits[count][clock] for _, fits in runs) for clock in (0, 1)]
        rows.append({"reading": count, "redrawn_ms": redrawn, "fit_ms": fit})
        print(
            f"{count:8d}{redrawn[0]:12.0f} ({redrawn[1]:.0f}){fit[0]:16.0f} ({fit[1]:.0f})"
            f"{redrawn[1] / fit[1]:9.1f}"
        )
    if options.json:
        Path(options.json).write_text(json.dumps(rows, indent=1), encoding="utf-8")


if __name__ == "__main__":
    main()
