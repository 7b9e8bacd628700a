"""How long commands take to start, beside the bare imports they cannot do without. By hand; no pass or fail.

Run: python tests/benchmarks/start_up.py [--runs 15]

Both sides run as whole processes in turn, so that a machine that changes speed changes both alike. Times are
processor time (user and system) of the child, from the operating system.
"""

from __future__ import annotations

import argparse
import os
import resource
import shutil
import statistics
import subprocess
import sys
from pathlib import Path

SAMPLES = Path(__file__).parents[2] / "sample_readings"
PAIRS = {
    "gratemap --help": (["--help"], "import typer"),
    "gratemap map --json": (
        ["map", "--json", "--grill", str(SAMPLES / "grill.toml"), "--readings", str(SAMPLES / "readings.csv")],
        "import numpy, scipy.linalg, scipy.optimize",
    ),
}


def processor_seconds(command: list[str]) -> float:
    """Run a command and return the processor time it took."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return (after.ru_utime + after.ru_stime) - (before.ru_utime + before.ru_stime)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=15)
    runs = parser.parse_args().runs
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    gratemap = shutil.which("gratemap", path=str(Path(sys.executable).parent)) or "gratemap"
    print(f"{'command':22s} {'command s':>10s} {'imports s':>10s} {'ratio':>6s}   (medians of {runs})")
    for name, (arguments, imports) in PAIRS.items():
        pairs = []
        for _ in range(runs + 1):
            ours = processor_seconds([gratemap, *arguments])
            theirs = processor_seconds([sys.executable, "-c", imports])
            pairs.append((ours, theirs))
        kept = pairs[1:]  # the first pair warms the disk
        ratio = statistics.median(ours / theirs for ours, theirs in kept)
        medians = [statistics.median(pair[side] for pair in kept) for side in (0, 1)]
        print(f"{name:22s} {medians[0]:10.3f} {medians[1]:10.3f} {ratio:6.2f}")


if __name__ == "__main__":
    main()
