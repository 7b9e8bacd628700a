"""How long from a reading typed to the screen redrawn, beside the bare cost of one fit?

Run by hand::

    python tests/benchmarks/take.py [--repeats 9] [--quick] [--json FILE]

A round of 48 positions (6 by 8) is typed by the session's own loop into a log on the disk, without a terminal; measured
is the 12th, 24th and 48th reading: from the moment the line is there until everything has been written to the screen,
by the clock on the wall (flush to the disk and other programs' share of the machine included) and in processor time.
Beside it, in the same run, one fit of the model to as many readings. And the 12th reading of the fourth round of a
day on the sample grill, knobs turned in between, beside the 12th of the first.
"""

from __future__ import annotations

# Before numpy, as the command does: it keeps small matrices on one thread.
import cli  # noqa: F401

# isort: split

import contextlib
import io
import shutil
import statistics
import tempfile
import time
from pathlib import Path

import numpy as np
from many_rounds import write_log
from start_up import SAMPLES
from table import Row, alone, grows

from cli.take import Plan
from cli.take_inputs import Inputs
from cli.take_round import Taking
from heatmap.grate_model.model import GrateModel
from heatmap.grill.toml import load_grill
from heatmap.readings.log import ReadingsLog

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
        taking = Taking(plan, log, Inputs())
        with contextlib.redirect_stderr(io.StringIO()):
            taking._open_round()
            for count in range(1, max(COUNTS) + 1):
                line = str(shown(grill, taking.session.asked, rng))
                seconds.append(timed(lambda line=line: taking._hear(line)))
                if taking.session.doubts:
                    taking._hear("keep")
                if count in COUNTS:
                    model = taking.sitting.map.running.model
                    fits[count] = timed(lambda m=model: GrateModel(grill, m.rounds))
    return seconds, fits


def last_of_round(folder, number, seed):
    """Type round `number` of a day on the sample grill; return (wall, processor) milliseconds of its last reading."""
    rng = np.random.default_rng(seed)
    shutil.copy(SAMPLES / "grill.toml", folder / "sample.toml")
    grill, file = load_grill(folder / "sample.toml"), folder / f"day_{number}_{seed}.csv"
    write_log(file, grill, number - 1)
    marks = tuple(f"{burner.name}={mark}" for burner, mark in zip(grill.burners, (6.5, 4, 5, 6), strict=False))
    plan = Plan(grill_file=folder / "sample.toml", readings_file=file, session="day 1", knobs=marks)
    with ReadingsLog(file, grill) as log:
        taking = Taking(plan, log, Inputs())
        with contextlib.redirect_stderr(io.StringIO()):
            taking._open_round()
            for _ in grill.labels:
                line = str(shown(grill, taking.session.asked, rng))
                cost = timed(lambda line=line: taking._hear(line))
                if taking.session.doubts:
                    taking._hear("keep")
    return cost


def rows(quick=False, repeats=9):
    """Return the milliseconds of a typed reading beside those of a bare fit, by both clocks."""
    repeats = 1 if quick else repeats
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "grill.toml").write_text(GRILL, encoding="utf-8")
        one_round(folder, 10_000)  # everything imported and warm
        runs = [one_round(folder, seed) for seed in range(repeats)]
        days = [[last_of_round(folder, number, seed) for number in (4, 1)] for seed in range(repeats)]
    found, grown = [], {}
    for count in COUNTS:
        for clock, name in enumerate(("on the wall", "processor time")):
            redrawn = statistics.median(taken[count - 1][clock] for taken, _ in runs)
            fit = statistics.median(fits[count][clock] for _, fits in runs)
            what, size = f"typed to redrawn, {name}", f"reading {count} of a round"
            found.append(Row(what=what, size=size, value=redrawn, unit="ms", against="one fit", other=fit))
            grown[count] = redrawn
    for clock, name in enumerate(("on the wall", "processor time")):
        fourth, first = (statistics.median(day[at][clock] for day in days) for at in (0, 1))
        what, size = f"typed to redrawn, {name}", "reading 12 of the fourth round"
        found.append(Row(what=what, size=size, value=fourth, unit="ms", against="of the first", other=first))
    return [*found, *grows("typed to redrawn, processor time", "readings", grown)]


if __name__ == "__main__":
    alone(rows, __doc__)
