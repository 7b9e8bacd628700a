"""How long each command takes from nothing to its answer, beside the bare imports it cannot do without.

Run by hand: python tests/benchmarks/start_up.py [--runs 9] [--quick]

Both sides run as whole processes in turn on the sample readings, so that a machine that changes speed changes both
alike. Times are processor time (user and system) from the operating system. `demo`, `rehearse` and `report` do the
work of several commands. The rehearsal is given up at its first question. The peak memory is that of the same runs.
"""

from __future__ import annotations

import shutil
import statistics
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

from child import Cost, run
from table import Row, alone, broken

SAMPLES = Path(__file__).parents[2] / "sample_readings"
GRATEMAP = [sys.executable, "-c", "from cli.app import app; app(prog_name='gratemap')"]
PICTURE = "typer, numpy, matplotlib.figure, matplotlib.backends.backend_agg"


@dataclass(frozen=True)
class Case:
    """A command and the imports it cannot do without, or the words of another command."""

    words: str
    imports: str = "typer, numpy"
    beside: str = ""
    typed: str = ""
    limit: str = ""


#: The first word is the command; `tests/test_benchmarks.py` sees that none is left out.
CASES = (
    Case("--help", "typer", limit="ratio at most 1.5"),
    Case("demo", f"{PICTURE}, scipy.linalg"),
    Case("grill check", "typer, tomllib"),
    Case("take -", "typer, numpy, filelock", typed="B3 585\n"),
    Case("ready --target 137"),
    Case("map"),
    Case("map --json", "numpy, scipy.linalg, scipy.optimize", limit="ratio at most 1.5"),
    Case("map --picture map.png", PICTURE),
    Case("explain B3"),
    Case("next"),
    Case("burners", "typer, numpy, scipy.linalg"),
    Case("compare", "typer, numpy, scipy.linalg"),
    Case("history"),
    Case("place --size 7.5x5 --heading 2,10"),
    Case("sear --target 137", beside="map", limit="ratio at most 1.5"),
    Case("gun 575"),
    Case("report --target 137", f"{PICTURE}, scipy.linalg, jinja2"),
    Case("page --help", "typer"),  # without it serves until it is ended; tests/benchmarks/page.py measures that
    Case("rehearse --overwrite", "typer, numpy, scipy.linalg"),
    Case("ports", "typer, serial.tools.list_ports"),
    Case("manual", "typer"),
)
MEMORY_OF = ("map", "map --picture map.png", "burners", "report --target 137")


def rows(quick: bool = False, runs: int = 9) -> list[Row]:
    """Run every command beside its imports."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        shutil.copy(SAMPLES / "grill.toml", folder)
        found = []
        for case in CASES:
            try:
                found += _measured(case, folder, 1 if quick else runs)
            except RuntimeError as error:
                found.append(broken(f"gratemap {case.words}", error))
        return found


def _measured(case: Case, folder: Path, runs: int) -> list[Row]:
    pairs: list[tuple[Cost, Cost]] = []
    for _ in range(runs + 1):
        shutil.copy(SAMPLES / "readings.csv", folder)  # `take` adds to it
        ours = run([*GRATEMAP, *case.words.split()], typed=case.typed, folder=folder)
        pairs.append((ours, run(_beside(case), folder=folder)))
    pairs = pairs[1:]  # the first warms the disk
    seconds = [[cost.processor_s for cost in side] for side in zip(*pairs, strict=True)]
    against = f"gratemap {case.beside}" if case.beside else f"import {case.imports}"
    found = [
        Row(
            what=f"gratemap {case.words}",
            size="start to end",
            value=statistics.median(seconds[0]),
            unit="s",
            against=against,
            other=statistics.median(seconds[1]),
            ratio=statistics.median(one / other for one, other in zip(*seconds, strict=True)),
            limit=case.limit,
        )
    ]
    if case.words in MEMORY_OF:
        peaks = [max(cost.peak_mib for cost in side) for side in zip(*pairs, strict=True)]
        what = f"gratemap {case.words}"
        found.append(Row(what=what, size="peak memory", value=peaks[0], unit="MiB", against=against, other=peaks[1]))
    return found


def _beside(case: Case) -> list[str]:
    if case.beside:
        return [*GRATEMAP, *case.beside.split()]
    return [sys.executable, "-c", f"import {case.imports}"]


if __name__ == "__main__":
    alone(rows, __doc__)
