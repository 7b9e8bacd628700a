"""Fit and predict on 120 x 90 cells from 12 to 1,000 readings: time, memory and accuracy beside what everybody has.

Run by hand: python tests/benchmarks/fit_and_predict.py [--repeats 12] [--quick]

Beside ours: scikit-learn's GaussianProcessRegressor (anisotropic Matérn 5/2 and white noise, 3 restarts of its
optimizer), PyKrige's ordinary kriging (spherical variogram) and scipy's RBFInterpolator, as it comes (thin plate, no
smoothing, no spread: its CRPS is its mean absolute error, the CRPS of a point forecast) and with the smoothing that
does best on five folds (their RMSE is its spread).

The make-believe grates are those of surface.py, the noise is to be learned, and the truth on the cells is known. Each
method runs in a process of its own for each number of readings: a case to warm up, then the cases. The time is
processor time of fit and predict, median of the cases; the memory is the peak of the process, imports and all. RMSE,
CRPS and coverage of 95 % intervals are means over the cases.
"""

from __future__ import annotations

import os
import pickle
import statistics
import sys
import tempfile
import time
import warnings
from collections.abc import Callable
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
import surface
from child import run
from table import Row, alone, grows

SIZES = (12, 48, 200, 1000)
CELLS = (120, 90)
#: At this many readings a case takes seconds: fewer cases.
MANY = 1000
Forecast = tuple[np.ndarray, np.ndarray]


def rbf_as_it_comes(case: surface.Case) -> Forecast:
    """Interpolate with scipy's thin plate spline; no spread."""
    from scipy.interpolate import RBFInterpolator

    return RBFInterpolator(case.points, case.values)(case.targets), np.zeros(len(case.targets))


def rbf_smoothed(case: surface.Case) -> Forecast:
    """Take the smoothing with the least error on five folds, and that error for a spread."""
    from scipy.interpolate import RBFInterpolator

    middle, scale = case.points.mean(axis=0), case.points.std()
    points, targets = (case.points - middle) / scale, (case.targets - middle) / scale
    fold = np.random.default_rng(0).permutation(len(points)) % 5

    def error(smoothing: float) -> float:
        missed = [
            case.values[fold == k]
            - RBFInterpolator(points[fold != k], case.values[fold != k], smoothing=smoothing)(points[fold == k])
            for k in range(5)
        ]
        return float(np.sqrt(np.mean(np.concatenate(missed) ** 2)))

    least, smoothing = min((error(smoothing), smoothing) for smoothing in (0.0, 1e-3, 1e-2, 0.1, 1.0, 10.0))
    return RBFInterpolator(points, case.values, smoothing=smoothing)(targets), np.full(len(targets), least)


METHODS: dict[str, Callable[[surface.Case], Forecast]] = {
    "gratemap": surface.ours,
    "scikit-learn": surface.sklearn_regressor,
    "PyKrige": surface.pykrige_ordinary,
    "RBFInterpolator": rbf_as_it_comes,
    "RBFInterpolator, smoothed": rbf_smoothed,
}


def wide_case(count: int, seed: int) -> surface.Case:
    """Return a make-believe grate of the next family."""
    return surface.grate_case(list(surface.FAMILIES)[seed % len(surface.FAMILIES)], count, seed, False, CELLS)


def in_child(method: str, file: Path) -> None:
    """Run one method on the cases of a file, the first to warm up, and put times and forecasts in their place."""
    warnings.simplefilter("ignore")
    cases = pickle.loads(file.read_bytes())
    seconds, forecasts = [], []
    for case in cases:
        begun = time.process_time()
        forecasts.append(METHODS[method](case))
        seconds.append(time.process_time() - begun)
    file.write_bytes(pickle.dumps((seconds[1:], forecasts[1:])))


def measured(method: str, cases: list[surface.Case], file: Path) -> dict[str, float]:
    """Run one method in a process of its own; return time, peak memory and the means of its scores."""
    file.write_bytes(pickle.dumps([wide_case(12, 1000), *cases]))
    cost = run([sys.executable, __file__, "--child", method, str(file)])
    seconds, forecasts = pickle.loads(file.read_bytes())
    scores = [
        (
            float(np.sqrt(np.mean((case.truth - mean) ** 2))),
            float(np.mean(surface.crps(case.truth, mean, std))),
            float(np.mean(np.abs(case.truth - mean) <= 1.959964 * std)) if std.any() else float("nan"),
        )
        for case, (mean, std) in zip(cases, forecasts, strict=True)
    ]
    rmse, crps, coverage = np.mean(scores, axis=0).tolist()
    return {
        "seconds": statistics.median(seconds),
        "peak_mib": cost.peak_mib,
        "rmse": rmse,
        "crps": crps,
        "coverage": coverage,
    }


def rows(quick: bool = False, repeats: int = 12) -> list[Row]:
    """Run every method at every number of readings; ours is held against each."""
    repeats = 2 if quick else repeats
    seconds: dict[str, dict[int, float]] = {method: {} for method in METHODS}
    result = []
    with tempfile.TemporaryDirectory() as name:
        for count in SIZES[:3] if quick else SIZES:
            cases = [wide_case(count, seed) for seed in range(repeats if count < MANY else min(repeats, 3))]
            found = {method: measured(method, cases, Path(name) / "cases") for method in METHODS}
            for method, theirs in found.items():
                seconds[method][count] = theirs["seconds"]
                if method != "gratemap":
                    size = f"{count:,} readings, {len(cases)} cases"
                    result.append(_beside(found["gratemap"], method, theirs, size))
    for method in METHODS:
        result += grows(f"fit and predict, {method}", "readings", seconds[method])
    return result


def _beside(ours: dict[str, float], name: str, theirs: dict[str, float], size: str) -> Row:
    told = {"rmse": "RMSE °C", "crps": "CRPS °C", "coverage": "95 % cover", "peak_mib": "peak MiB"}
    return Row(
        what="fit and predict",
        size=size,
        value=ours["seconds"],
        unit="s",
        against=name,
        other=theirs["seconds"],
        also={title: (ours[key], theirs[key]) for key, title in told.items()},
    )


if __name__ == "__main__":
    if sys.argv[1:2] == ["--child"]:
        in_child(sys.argv[2], Path(sys.argv[3]))
    else:
        alone(rows, __doc__)
