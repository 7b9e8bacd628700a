"""The linear algebra under the map, one kernel held fixed, against textbooks and other programs."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from heatmap.surface.kernel import DiagonalKernel, Kernel
from heatmap.surface.matern import matern
from textbook.fixed_kernel import fixed_surface

REFERENCE = Path(__file__).parents[1] / "reference"
ORDERS = {"rbf": np.inf, "matern12": 0.5, "matern32": 1.5, "matern52": 2.5}


def rows(name):
    with open(REFERENCE / name, newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


class Radial:
    """A correlation of distance alone: what kriging and most Gaussian process programs use."""

    def __init__(self, function):
        self.function = function

    def __call__(self, a_mm, b_mm):
        return self.function(np.hypot(*(a_mm[:, None, k] - b_mm[None, :, k] for k in (0, 1))))

    def on_lines(self, a_mm, lines, is_grid):
        return self(a_mm, np.stack([lines.x_mm[lines.x_of_point], lines.y_mm[lines.y_of_point]], axis=1))


def spherical(reach):
    def correlation(distance):
        r = np.minimum(distance / reach, 1.0)
        return 1.0 - 1.5 * r + 0.5 * r**3

    return correlation


# Rasmussen and Williams 2006, equations 4.9, 4.14 to 4.17 (kernels); 2.25, 2.26 and algorithm 2.1 (mean, variance,
# marginal likelihood); 5.10 to 5.12 (leave-one-out). Values computed with scikit-learn, see the file's columns.
@pytest.mark.parametrize("row", rows("gp_values.csv"), ids=lambda row: row["id"])
def test_agrees_with_reference_gaussian_process(row):
    order, length = ORDERS[row["kernel"]], float(row["length"])
    if row["asked"] == "kernel":
        got = float(matern(np.array([float(row["x0"]) / length]), order)[0])
    else:
        training = rows("gp_training.csv")
        points = np.array([[float(r["x"]), float(r["y"])] for r in training])
        values = np.array([float(r["value"]) for r in training])
        surface, evidence = fixed_surface(
            points,
            values,
            float(row["noise_var"]) ** 0.5,
            extent_mm=(18.0, 12.0),
            kernel=Radial(lambda d: matern(d / length, order)),
            signal_std_c=float(row["signal_var"]) ** 0.5,
        )
        if row["asked"] == "log_marginal_likelihood":
            got = evidence
        elif row["asked"].startswith("loo"):
            mean, std = surface.leave_one_out()
            at = int(row["x0"]) - 1
            # the file's variance is of the reading, noise included; ours of the surface
            got = mean[at] if row["asked"] == "loo_mean" else std[at] ** 2 + float(row["noise_var"])
        else:
            mean, std = surface.predict([[float(row["x0"]), float(row["y0"])]])
            got = mean[0] if row["asked"] == "mean" else std[0] ** 2
    assert got == pytest.approx(float(row["value"]), abs=max(float(row["tolerance"]), 2e-9 * abs(got)))


# E. H. Isaaks and R. M. Srivastava, An Introduction to Applied Geostatistics (Oxford 1989), chapter 12: ordinary
# kriging of seven samples. Ordinary kriging is a Gaussian process about a level nothing is known of and without noise;
# here the level has 30 times the standard deviation of the signal and the noise a standard deviation of 0.01, which
# together move the estimate by up to 3e-3 and the variance by up to 3e-4, less than what the book's last printed digit
# leaves open. A vaguer level would show the rounding of the linear algebra (60 times: 3e-3, other on every machine).
SAMPLES = rows("kriging_data_isaaks7.csv")
ISAAKS_POINTS = np.array([[float(r["x"]), float(r["y"])] for r in SAMPLES])
ISAAKS_VALUES = np.array([float(r["value"]) for r in SAMPLES])


def ordinary_kriging(row, values):
    reach, sill, nugget = (float(row[k]) for k in ("range", "sill", "nugget"))
    function = spherical(reach) if row["model"] == "spherical" else (lambda d: np.exp(-d / reach))
    surface, _ = fixed_surface(
        ISAAKS_POINTS,
        values - values.mean(),
        max(nugget**0.5, 0.01),
        extent_mm=(100.0, 150.0),
        kernel=Radial(function),
        signal_std_c=sill**0.5,
        trend_std=(30.0, 0, 0, 0, 0, 0, 0, 0),
    )
    mean, std = surface.predict([[float(row["x0"]), float(row["y0"])]])
    at_sample = np.any(np.all(ISAAKS_POINTS == [float(row["x0"]), float(row["y0"])], axis=1))
    return mean[0] + values.mean(), std[0] ** 2 + (0.0 if at_sample else nugget)


@pytest.mark.parametrize(
    "row", [r for r in rows("kriging_values.csv") if r["asked"] != "lagrange"], ids=lambda row: row["id"]
)
def test_published_kriging_example(row):
    if row["asked"].startswith("weight"):
        weights = [ordinary_kriging(row, unit)[0] for unit in np.eye(7)]
        got = sum(weights) if row["asked"] == "weight_sum" else weights[int(row["asked"][-1]) - 1]
        tolerance = 2e-5
    else:
        mean, variance = ordinary_kriging(row, ISAAKS_VALUES)
        got, tolerance = (mean, 3e-3) if row["asked"] == "estimate" else (variance, 5e-4)
    assert got == pytest.approx(float(row["value"]), abs=tolerance)
    if row["printed"] and "e" not in row["printed"]:
        decimals = len(row["printed"].partition(".")[2])
        assert got == pytest.approx(float(row["printed"]), abs=0.5 * 10.0**-decimals + 2e-5)


def round_of(count=15, seed=3):
    rng = np.random.default_rng(seed)
    points = rng.uniform(0, 1, (count, 2)) * [600.0, 450.0]
    values = 20 * np.sin(points[:, 0] / 120) + 0.05 * points[:, 1] + rng.normal(0, 2, count)
    return points, values, rng.uniform(1.0, 4.0, count)


def test_agrees_with_sklearn_on_a_product_of_matern_kernels():
    gaussian_process = pytest.importorskip("sklearn.gaussian_process")
    from sklearn.gaussian_process import kernels

    class Along(kernels.Matern):
        """Matérn along one axis: scikit-learn has no active dimensions of its own."""

        def __init__(self, axis=0, length_scale=1.0, nu=2.5):
            self.axis = axis
            super().__init__(length_scale=length_scale, length_scale_bounds="fixed", nu=nu)

        def __call__(self, X, Y=None, eval_gradient=False):
            other = None if Y is None else Y[:, [self.axis]]
            return super().__call__(X[:, [self.axis]], other, eval_gradient)

    points, values, noise = round_of()
    kernel = kernels.ConstantKernel(400.0, "fixed") * Along(0, 150.0) * Along(1, 200.0)
    theirs = gaussian_process.GaussianProcessRegressor(kernel, alpha=noise**2, optimizer=None).fit(points, values)
    ours, evidence = fixed_surface(
        points,
        values,
        noise,
        extent_mm=(600.0, 450.0),
        kernel=Kernel(length_mm=(150.0, 200.0)),
        signal_std_c=20.0,
    )
    targets = np.random.default_rng(0).uniform(0, 450, (50, 2))
    mean, covariance = theirs.predict(targets, return_cov=True)
    our_mean, our_std = ours.predict(targets)
    np.testing.assert_allclose(our_mean, mean, rtol=1e-8, atol=1e-8)
    np.testing.assert_allclose(our_std**2, np.diag(covariance), rtol=1e-8, atol=1e-8)
    np.testing.assert_allclose(ours.covariance(targets[:20], targets), covariance[:20], rtol=1e-8, atol=1e-8)
    assert evidence == pytest.approx(theirs.log_marginal_likelihood_value_, rel=1e-8)


def test_agrees_with_sklearn_fitted_again_without_each_reading():
    gaussian_process = pytest.importorskip("sklearn.gaussian_process")
    from sklearn.gaussian_process.kernels import RBF, ConstantKernel

    points, values, noise = round_of()
    # the diagonals of a square grate are its axes turned by 45 degrees
    kernel = DiagonalKernel(extent_mm=(600.0, 600.0), length_shares=(0.3, 0.5))
    turned = np.stack([points[:, 0] + points[:, 1], points[:, 1] - points[:, 0]], axis=1) / 2**0.5
    ours, _ = fixed_surface(points, values, noise, extent_mm=(600.0, 600.0), kernel=kernel, signal_std_c=20.0)
    mean, std = ours.leave_one_out()
    for i in range(len(points)):
        keep = np.arange(len(points)) != i
        theirs = gaussian_process.GaussianProcessRegressor(
            ConstantKernel(400.0) * RBF([180.0, 300.0]), alpha=noise[keep] ** 2, optimizer=None
        ).fit(turned[keep], values[keep])
        expected, spread = theirs.predict(turned[i : i + 1], return_std=True)
        assert mean[i] == pytest.approx(expected[0], rel=1e-8, abs=1e-8)
        assert std[i] == pytest.approx(spread[0], rel=1e-7)


@pytest.mark.parametrize(
    "kernel",
    [
        Kernel(length_mm=(150.0, 200.0)),
        Kernel(length_mm=(150.0, 200.0), smoothness=1.5, seams_mm=(300.0,)),
        DiagonalKernel(extent_mm=(600.0, 450.0), length_shares=(0.2, 0.6)),
        DiagonalKernel(extent_mm=(600.0, 450.0), length_shares=(0.2, 0.6), seams_mm=(200.0,), seam_axis=1),
    ],
)
def test_one_more_reading_never_widens(kernel):
    points, values, noise = round_of(20)
    targets = np.random.default_rng(1).uniform(0, 1, (200, 2)) * [600.0, 450.0]
    fitted = [
        fixed_surface(
            points[:n],
            values[:n],
            noise[:n],
            extent_mm=(600.0, 450.0),
            kernel=kernel,
            signal_std_c=20.0,
            trend_std=(3.0, 0.5, 0.5, 0.4, 0.4, 0.4, 0.7, 0.7),
        )[0].predict(targets)[1]
        for n in range(5, 21)
    ]
    assert np.all(np.diff(np.array(fitted), axis=0) <= 1e-9)
    assert np.all(np.array(fitted) >= 0)


@pytest.mark.parametrize("axis", [0, 1])
def test_kernel_is_the_same_on_lines_as_point_by_point(axis):
    x, y = np.meshgrid(np.linspace(0, 600, 7), np.linspace(0, 450, 5))
    grid = np.stack([x.ravel(), y.ravel()], axis=1)
    points, _, _ = round_of()
    from heatmap.surface.kernel import lines_of

    kernel = Kernel(length_mm=(90.0, 300.0), seams_mm=(250.0,), seam_axis=axis)
    lines = lines_of(grid)
    assert lines.is_grid
    np.testing.assert_allclose(kernel.on_lines(points, lines, True), kernel(points, grid), rtol=1e-14)
    np.testing.assert_allclose(kernel.on_lines(points, lines, False), kernel(points, grid), rtol=1e-14)
