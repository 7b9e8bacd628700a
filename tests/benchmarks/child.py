"""Run a command as a process of its own and tell what it cost: processor time and peak memory.

Between us and the command stands a small Python process. A new process starts with the peak memory of the one it came
from (Linux, fs/exec.c, `setmax_mm_hiwater_rss`), so that a command started from a large one would look as large.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

_BETWEEN = """
import json, os, sys
child = os.spawnvp(os.P_NOWAIT, sys.argv[1], sys.argv[1:])
_, status, used = os.wait4(child, 0)
print("\\n" + json.dumps([used.ru_utime + used.ru_stime, used.ru_maxrss]))
sys.exit(os.waitstatus_to_exitcode(status) != 0)
"""


@dataclass(frozen=True)
class Cost:
    """What a process used."""

    processor_s: float
    peak_mib: float


def run(command: Sequence[str], *, typed: str = "", folder: Path | None = None) -> Cost:
    """Run it to its end.

    Raises
    ------
    RuntimeError
        When it fails, with the last it said.
    """
    between = [sys.executable, "-I", "-S", "-c", _BETWEEN, *command]
    one_thread = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"} | os.environ
    done = subprocess.run(between, input=typed, cwd=folder, env=one_thread, capture_output=True, text=True)
    if done.returncode:
        raise RuntimeError(f"{' '.join(command)} failed: {done.stderr.strip()[-400:]}")
    processor_s, peak = json.loads(done.stdout.splitlines()[-1])
    return Cost(processor_s, peak / (2**20 if sys.platform == "darwin" else 2**10))
