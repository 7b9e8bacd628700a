"""Run every benchmark, one after another: prints one table and writes JSON. Nothing here passes or fails.

    python tests/benchmarks/run.py [--only NAME …] [--quick] [--json FILE]

The full run takes about an hour on two cores; --quick takes a few minutes, with so few cases that only the times mean
something. The JSON file is written anew after each benchmark, so that a run cut short keeps what it has.
"""

from __future__ import annotations

import os

# Before numpy: one thread, as the command itself does with small matrices.
os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import argparse
import contextlib
import importlib
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict
from pathlib import Path
from statistics import geometric_mean, median

from table import Row, lines, machine, write

Benchmark = Callable[[bool], list[Row]]


def surface_rows(quick: bool) -> list[Row]:
    """Return the surface's accuracy over all cells, beside every other method and the best of each cell."""
    surface = importlib.import_module("surface")
    with contextlib.redirect_stdout(sys.stderr):
        told = surface.accuracy(1 if quick else 10, ["bowl", "franke"] if quick else None)
    total, cells = told["summary"], told["rows"]
    size, least = f"{total['cells']} cells", {"least": (total["coverage_least"], None)}
    crps, rmse, covered = total["crps_ratio"], total["rmse_ratio"], total["coverage_mean"]
    what = "surface: CRPS over the other's, geometric mean"
    found = [
        Row(what=what, size=size, value=crps, unit="1", against="the best of each cell", also={"RMSE": (rmse, None)}),
    ]
    for peer in surface.PEERS:
        crps, rmse = (geometric_mean([cell["ours"][k] / cell[peer][k] for cell in cells]) for k in (0, 1))
        found.append(Row(what=what, size=size, value=crps, unit="1", against=peer, also={"RMSE": (rmse, None)}))
    what = "surface: 95 % intervals cover"
    return [
        *found,
        Row(what=what, size=size, value=covered, unit="1", against="as claimed", other=0.95, also=least),
    ]


def closed_loop_rows(quick: bool) -> list[Row]:
    """Return how many make-believe grills each rule brings to 80 % of what can be reached; ours beside each.

    The two series of the README; the other two are for the script itself. Nothing is settled on grills from 90 to 149.
    """
    closed_loop = importlib.import_module("closed_loop")
    seeds, found = 2 if quick else 60, []
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        for series in ("contact", "shown"):
            title, shares, failed = closed_loop.TITLES[series], {}, 0
            for rule in closed_loop.RULES:
                played = list(pool.map(closed_loop.play, [(90 + seed, rule, series) for seed in range(seeds)]))
                failed += sum(bool(one.failed) for one in played)
                shares[rule] = _reached([list(one.shares) for one in played])
                if rule == "gratemap":
                    level = [one.but_for_level for one in played]
            ours = shares.pop("gratemap")
            found += [
                Row(
                    what=f"closed loop, {title}: at 80 % of the best in the third round",
                    size=f"{seeds} grills",
                    value=ours[0],
                    unit="1",
                    against=rule,
                    other=theirs[0],
                    also={
                        "80 % in the sixth": (ours[1], theirs[1]),
                        "90 % in the sixth": (ours[2], theirs[2]),
                        "90 % in any up to the sixth": (ours[3], theirs[3]),
                        "median after": (ours[4], theirs[4]),
                    },
                )
                for rule, theirs in shares.items()
            ]
            at_80, at_90 = (sum(share >= limit for share in level) / seeds for limit in (0.8, 0.9))
            what, size = f"closed loop, {title}: best but for the level at 80 % of the best", f"{seeds} grills"
            found.append(Row(what=what, size=size, value=at_80, unit="1", also={"90 %": (at_90, None)}))
            if failed:
                found.append(Row(what=f"closed loop, {title}: failed", size=f"{seeds} grills", value=failed, unit="1"))
    return found


def _reached(shares: Sequence[Sequence[float]]) -> tuple[float, float, float, float, float]:
    """Return the parts at 80 % in the third round, 80 and 90 % in the sixth, 90 % in any so far; the median after."""
    third, sixth, end = [one[2] for one in shares], [one[5] for one in shares], [one[6] for one in shares]
    best = [max(one[:6]) for one in shares]
    asked = ((third, 0.8), (sixth, 0.8), (sixth, 0.9), (best, 0.9))
    parts = [sum(share >= limit for share in of) / len(of) for of, limit in asked]
    return parts[0], parts[1], parts[2], parts[3], median(end)


def script(name: str) -> Benchmark:
    """Return the benchmark of the script of this name; it is imported when it runs."""
    return lambda quick: list(importlib.import_module(name).rows(quick=quick))


#: In this order, the quickest answers first; each name but two is a script with a function `rows`.
BENCHMARKS: dict[str, Benchmark] = {
    "start_up": script("start_up"),
    "intake": script("intake"),
    "take": script("take"),
    "page_in_browser": script("page_in_browser"),
    "page": script("page"),
    "fit_and_predict": script("fit_and_predict"),
    "many_rounds": script("many_rounds"),
    "level": script("level"),
    "valley_rounds": script("valley_rounds"),
    "sessions": script("sessions"),
    "layouts": script("layouts"),
    "next_spots": script("next_spots"),
    "placement": script("placement"),
    "compare": script("compare"),
    "slips": script("slips"),
    "stopping": script("stopping"),
    "surface": surface_rows,
    "closed_loop": closed_loop_rows,
}


def run(names: Sequence[str], quick: bool, file: Path) -> int:
    """Run these, print the table, write the file; return how many broke."""
    result = {"machine": machine(), "quick": quick, "seconds": {}, "broken": {}, "rows": []}
    found: list[Row] = []
    for name in names:
        print(f"{name} …", file=sys.stderr, flush=True)
        begun = time.perf_counter()
        try:
            new = BENCHMARKS[name](quick)
        except Exception as error:  # the others are still worth having
            result["broken"][name] = f"{type(error).__name__}: {error}"
            new = []
        found += new
        for row in new:
            if row.size == "broken":
                result["broken"][f"{name}: {row.what}"] = row.limit
        result["seconds"][name] = time.perf_counter() - begun
        result["rows"] += [{"benchmark": name} | asdict(row) for row in new]
        write(file, result)
    print("\n".join(lines(found)))
    about = result["machine"]
    versions = ", ".join(f"{package} {version}" for package, version in about["versions"].items() if version)
    print(f"\n{about['date']}, {about['cores']} cores {about['architecture']}, Python {about['python']}, {versions}")
    for name, why in result["broken"].items():
        print(f"broken: {name}: {why}")
    print(f"written: {file}")
    return len(result["broken"])


def main(words: Sequence[str] | None = None) -> int:
    """Read the options and run."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--only", nargs="+", choices=list(BENCHMARKS), metavar="NAME", help=", ".join(BENCHMARKS))
    parser.add_argument("--quick", action="store_true", help="few cases")
    parser.add_argument(
        "--json",
        type=Path,
        metavar="FILE",
        default=Path(tempfile.gettempdir()) / "gratemap-benchmarks.json",
        help="where the figures go (default: %(default)s)",
    )
    options = parser.parse_args(words)
    return 1 if run(options.only or list(BENCHMARKS), options.quick, options.json) else 0


if __name__ == "__main__":
    sys.exit(main())
