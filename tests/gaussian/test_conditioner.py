"""One prior conditioned on values, against textbooks and other programs."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from heatmap.gaussian import Conditioned, matern32, scaled_distance, squared_exponential
from textbook.field import Field, radial

REFERENCE = Path(__file__).parents[1] / "reference"
#: Rasmussen and Williams 2006, equations 4.9, 4.14, 4.16, 4.17; two are the product's.
CORRELATIONS = {
    "rbf": squared_exponential,
    "matern12": lambda d: np.exp(-d),
    "matern32": matern32,
    "matern52": lambda d: (1 + np.sqrt(5) * d + 5 / 3 * d**2) * np.exp(-np.sqrt(5) * d),
}


def rows(name):
    with open(REFERENCE / name, newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


TRAINING = rows("gp_training.csv")
POINTS = np.array([[float(r["x"]), float(r["y"])] for r in TRAINING])
VALUES = np.array([float(r["value"]) for r in TRAINING])


def by_cholesky(correlation, signal_variance, points, values, noise_variance):
    prior = Field(correlation, signal_variance)
    return Conditioned(prior, points, values, np.broadcast_to(noise_variance, len(values)))


# C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning (2006), equations 4.9, 4.14 to 4.17.
@pytest.mark.parametrize("row", [r for r in rows("gp_values.csv") if r["asked"] == "kernel"], ids=lambda row: row["id"])
def test_agrees_with_reference_kernel(row):
    distance = scaled_distance(np.zeros((1, 2)), np.array([[0.0, float(row["x0"])]]), float(row["length"]) * np.ones(2))
    got = CORRELATIONS[row["kernel"]](distance)[0, 0]
    assert got == pytest.approx(float(row["value"]), abs=1e-10)


# The same book, equations 2.25, 2.26 and algorithm 2.1 (mean, variance, marginal likelihood), 5.10 to 5.12
# (leave-one-out, of the reading, noise included). Values computed with scikit-learn, see the file's columns.
@pytest.mark.parametrize("row", [r for r in rows("gp_values.csv") if r["asked"] != "kernel"], ids=lambda row: row["id"])
def test_agrees_with_reference_gaussian_process(row):
    length, function = float(row["length"]), CORRELATIONS[row["kernel"]]
    fitted = by_cholesky(
        radial(lambda d: function(d / length)), float(row["signal_var"]), POINTS, VALUES, float(row["noise_var"])
    )
    if row["asked"] == "log_marginal_likelihood":
        got = fitted.log_evidence
    elif row["asked"].startswith("loo"):
        mean, variance = fitted.leave_one_out()
        got = {"loo_mean": mean, "loo_variance": variance}[row["asked"]][int(row["x0"]) - 1]
    else:
        mean, variance = fitted.predict(np.array([[float(row["x0"]), float(row["y0"])]]))
        got = {"mean": mean, "variance": variance}[row["asked"]][0]
    assert got == pytest.approx(float(row["value"]), abs=float(row["tolerance"]))


# E. H. Isaaks and R. M. Srivastava, An Introduction to Applied Geostatistics (Oxford 1989), chapter 12: ordinary
# kriging of seven samples. Ordinary kriging is a Gaussian process about a level nothing is known of and without noise;
# here the level has 30 times the standard deviation of the signal and the noise a standard deviation of 0.01, which
# together move the estimate by up to 3e-3 and the variance by up to 3e-4, less than what the book's last printed digit
# leaves open. A vaguer level would show the rounding of the linear algebra (60 times: 3e-3, other on every machine).
SAMPLES = rows("kriging_data_isaaks7.csv")
ISAAKS_POINTS = np.array([[float(r["x"]), float(r["y"])] for r in SAMPLES])
ISAAKS_VALUES = np.array([float(r["value"]) for r in SAMPLES])


def spherical(scaled):
    r = np.minimum(scaled, 1.0)
    return 1.0 - 1.5 * r + 0.5 * r**3


def ordinary_kriging(row, values):
    reach, sill, nugget = (float(row[k]) for k in ("range", "sill", "nugget"))
    function = spherical if row["model"] == "spherical" else CORRELATIONS["matern12"]
    prior = Field(
        radial(lambda d: function(d / reach)),
        sill,
        columns=lambda points: np.full((len(points), 1), 30.0 * sill**0.5),
        level=float(values.mean()),
    )
    fitted = Conditioned(prior, ISAAKS_POINTS, values, np.full(7, max(nugget, 1e-4)))
    site = np.array([[float(row["x0"]), float(row["y0"])]])
    mean, variance = fitted.predict(site)
    at_sample = np.any(np.all(site == ISAAKS_POINTS, axis=1))
    return mean[0], variance[0] + (0.0 if at_sample else nugget)


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


# A thin-plate spline is what a Gaussian process of covariance r² log r about a plane nothing is known of says between
# noise-free values: G. Wahba, Spline Models for Observational Data (SIAM 1990), chapter 1; kriging and splines: the
# same, section 3.5. A finite prior of the plane leaves something unsaid of it, a hundredth of it for every tenfold
# standard deviation: 3e-4 °F of 535 at 1e4, above the rounding of the linear algebra.
@pytest.mark.parametrize("row", rows("tps_values.csv"), ids=lambda row: row["id"])
def test_agrees_with_reference_thin_plate(row):
    def thin_plate(distance):
        return distance**2 * np.log(np.maximum(distance, 1e-300))

    def plane(points):
        return 1e4 * np.column_stack([np.ones(len(points)), (points - [9.0, 6.0]) / 6.0])

    values = 500 + 3.5 * POINTS[:, 0] - 2.25 * POINTS[:, 1] if row["asked"] == "plane" else VALUES
    fitted = Conditioned(Field(radial(thin_plate), columns=plane), POINTS, values, np.full(10, 1e-9))
    mean, _ = fitted.joint(np.array([[float(row["x0"]), float(row["y0"])]]))
    assert mean[0] == pytest.approx(float(row["value"]), abs=5e-4)


def round_of(count=15, seed=3):
    rng = np.random.default_rng(seed)
    points = rng.uniform(0, 1, (count, 2)) * [600.0, 450.0]
    values = 20 * np.sin(points[:, 0] / 120) + 0.05 * points[:, 1] + rng.normal(0, 2, count)
    return points, values, rng.uniform(1.0, 4.0, count)


def along_axes(function, *lengths):
    return lambda apart: function(np.hypot(*(d / length for d, length in zip(apart, lengths, strict=True))))


def test_agrees_with_sklearn():
    gaussian_process = pytest.importorskip("sklearn.gaussian_process")
    from sklearn.gaussian_process.kernels import ConstantKernel, Matern

    points, values, noise = round_of()
    kernel = ConstantKernel(400.0, "fixed") * Matern([150.0, 200.0], "fixed", nu=1.5)
    theirs = gaussian_process.GaussianProcessRegressor(kernel, alpha=noise**2, optimizer=None).fit(points, values)
    ours = by_cholesky(along_axes(matern32, 150.0, 200.0), 400.0, points, values, noise**2)
    targets = np.random.default_rng(0).uniform(0, 450, (50, 2))
    expected, covariance = theirs.predict(targets, return_cov=True)
    mean, variance = ours.predict(targets)
    np.testing.assert_allclose(mean, expected, rtol=1e-8, atol=1e-8)
    np.testing.assert_allclose(variance, np.diag(covariance), rtol=1e-8, atol=1e-8)
    mean, between = ours.joint(targets)
    np.testing.assert_allclose(mean, expected, rtol=1e-8, atol=1e-8)
    np.testing.assert_allclose(between, covariance, rtol=1e-8, atol=1e-8)
    assert ours.log_evidence == pytest.approx(theirs.log_marginal_likelihood_value_, rel=1e-9)


def test_agrees_with_sklearn_fitted_again_without_each_reading():
    gaussian_process = pytest.importorskip("sklearn.gaussian_process")
    from sklearn.gaussian_process.kernels import RBF, ConstantKernel

    points, values, noise = round_of()
    mean, variance = by_cholesky(
        along_axes(squared_exponential, 180.0, 300.0), 400.0, points, values, noise**2
    ).leave_one_out()
    for i in range(len(points)):
        keep = np.arange(len(points)) != i
        theirs = gaussian_process.GaussianProcessRegressor(
            ConstantKernel(400.0) * RBF([180.0, 300.0]), alpha=noise[keep] ** 2, optimizer=None
        ).fit(points[keep], values[keep])
        expected, spread = theirs.predict(points[i : i + 1], return_std=True)
        assert mean[i] == pytest.approx(expected[0], rel=1e-8, abs=1e-8)
        assert variance[i] == pytest.approx(spread[0] ** 2 + noise[i] ** 2, rel=1e-8)


def with_trends(points):
    u, v = (points / [300.0, 225.0] - 1.0).T
    return 20.0 * np.column_stack([3.0 + 0 * u, 0.5 * u, 0.5 * v, 0.4 * u * u, 0.4 * v * v])


FIELDS = [
    Field(along_axes(matern32, 150.0, 200.0), 400.0, level=5.0),
    Field(along_axes(squared_exponential, 90.0, 400.0), 400.0, with_trends),
]


@pytest.mark.parametrize("field", FIELDS)
def test_one_more_reading_never_widens(field):
    points, values, noise = round_of(20)
    targets = np.random.default_rng(1).uniform(0, 1, (200, 2)) * [600.0, 450.0]
    variances = [field.variance(targets)]
    for n in range(1, 21):
        variances.append(Conditioned(field, points[:n], values[:n], noise[:n] ** 2).predict(targets)[1])
    assert np.all(np.diff(np.array(variances), axis=0) <= 1e-8)
    assert np.all(np.array(variances) > 0)


@pytest.mark.parametrize("field", FIELDS)
def test_order_of_readings_is_irrelevant(field):
    points, values, noise = round_of()
    order = np.random.default_rng(1).permutation(len(points))
    targets = points + 10.0
    one = Conditioned(field, points, values, noise**2)
    two = Conditioned(field, points[order], values[order], noise[order] ** 2)
    np.testing.assert_allclose(two.predict(targets), one.predict(targets), rtol=1e-8)
    assert two.log_evidence == pytest.approx(one.log_evidence, rel=1e-10)
    np.testing.assert_allclose(two.leave_one_out(), np.array(one.leave_one_out())[:, order], rtol=1e-8)
