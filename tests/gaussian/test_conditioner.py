"""One prior conditioned on noisy values, against textbooks and other programs."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from heatmap.gaussian import Levels, condition, condition_levels, matern32, scaled_distance, squared_exponential

REFERENCE = Path(__file__).parents[1] / "reference"


def rows(name):
    with open(REFERENCE / name, newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


# Rasmussen and Williams 2006, equation 4.15, orders 1/2 and 5/2: kernels that only tests use.
def matern12(distance):
    return np.exp(-distance)


def matern52(distance):
    scaled = np.sqrt(5.0) * distance
    return (1.0 + scaled + scaled**2 / 3.0) * np.exp(-scaled)


def spherical(distance):
    r = np.minimum(distance, 1.0)
    return 1.0 - 1.5 * r + 0.5 * r**3


KERNELS = {
    "rbf": squared_exponential,
    "matern12": matern12,
    "matern32": matern32,
    "matern52": matern52,
    "exponential": matern12,
    "spherical": spherical,
}


@dataclass
class Radial:
    """A process about 0 of one kernel, and a level that is known no better than so."""

    kernel: object
    lengths: tuple[float, float]
    variance_: float
    level_variance: float = 0.0

    def mean(self, sites):
        return np.zeros(len(sites))

    def covariance(self, one, two):
        return self.variance_ * self.kernel(scaled_distance(one, two, self.lengths)) + self.level_variance

    def variance(self, sites):
        return np.full(len(sites), self.variance_ + self.level_variance)


def both_ways(prior, points, values, noise):
    """Condition at one level by Cholesky, and by the eigenvectors that serve many levels."""
    return condition(prior, points, values, noise), condition_levels(prior, points, values, noise, Levels.one())


# Rasmussen and Williams 2006, equations 4.9, 4.14 to 4.17 (kernels); 2.25, 2.26 and algorithm 2.1 (mean, variance,
# marginal likelihood); 5.10 to 5.12 (leave-one-out). Values computed with scikit-learn, see the file's columns.
@pytest.mark.parametrize("row", rows("gp_values.csv"), ids=lambda row: row["id"])
def test_agrees_with_reference_gaussian_process(row):
    kernel, length = KERNELS[row["kernel"]], float(row["length"])
    if row["asked"] == "kernel":
        found = [float(kernel(np.array(float(row["x0"]) / length)))]
    else:
        training = rows("gp_training.csv")
        points = np.array([[float(r["x"]), float(r["y"])] for r in training])
        values = np.array([float(r["value"]) for r in training])
        prior = Radial(kernel, (length, length), float(row["signal_var"]))
        noise = np.full(len(values), float(row["noise_var"]))
        found = [asked_of(one, row, values) for one in both_ways(prior, points, values, noise)]
    for got in found:
        assert got == pytest.approx(float(row["value"]), abs=max(float(row["tolerance"]), 2e-9 * abs(got)))


def asked_of(conditioned, row, values):
    if row["asked"] == "log_marginal_likelihood":
        return float(conditioned.log_evidence[0])
    if row["asked"].startswith("loo"):
        mean, variance = conditioned.leave_one_out()
        at = int(row["x0"]) - 1
        return float(mean[0, at] if row["asked"] == "loo_mean" else variance[0, at])
    mean, variance = conditioned.moments(np.array([[float(row["x0"]), float(row["y0"])]]))
    return float(mean[0, 0] if row["asked"] == "mean" else variance[0, 0])


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
    prior = Radial(KERNELS[row["model"]], (reach, reach), sill, 900.0 * sill)
    noise = np.full(len(values), max(nugget, 1e-4))
    target = np.array([[float(row["x0"]), float(row["y0"])]])
    mean, variance = condition(prior, ISAAKS_POINTS, values - values.mean(), noise).moments(target)
    at_sample = np.any(np.all(target == ISAAKS_POINTS, axis=1))
    return mean[0, 0] + values.mean(), variance[0, 0] + (0.0 if at_sample else nugget)


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


@pytest.mark.parametrize("name", ["matern32", "rbf"])
def test_agrees_with_sklearn_also_fitted_again_without_each_reading(name):
    gaussian_process = pytest.importorskip("sklearn.gaussian_process")
    from sklearn.gaussian_process import kernels

    points, values, noise = round_of()
    lengths = (150.0, 200.0)
    shape = kernels.Matern(lengths, "fixed", nu=1.5) if name == "matern32" else kernels.RBF(lengths, "fixed")

    def theirs(keep):
        kernel = kernels.ConstantKernel(400.0, "fixed") * shape
        alone = gaussian_process.GaussianProcessRegressor(kernel, alpha=noise[keep] ** 2, optimizer=None)
        return alone.fit(points[keep], values[keep])

    whole = theirs(np.ones(len(points), dtype=bool))
    targets = np.random.default_rng(0).uniform(0, 450, (50, 2))
    mean, covariance = whole.predict(targets, return_cov=True)
    for ours in both_ways(Radial(KERNELS[name], lengths, 400.0), points, values, noise**2):
        our_mean, our_variance = ours.moments(targets)
        np.testing.assert_allclose(our_mean[0], mean, rtol=1e-8, atol=1e-8)
        np.testing.assert_allclose(our_variance[0], np.diag(covariance), rtol=1e-8, atol=1e-8)
        np.testing.assert_allclose(ours.covariance(targets[:9], targets, np.ones(1))[0], covariance[:9], atol=1e-8)
        assert ours.log_evidence[0] == pytest.approx(whole.log_marginal_likelihood_value_, rel=1e-8)
        left_mean, left_variance = ours.leave_one_out()
        for i in range(len(points)):
            expected, spread = theirs(np.arange(len(points)) != i).predict(points[i : i + 1], return_std=True)
            assert left_mean[0, i] == pytest.approx(expected[0], rel=1e-8, abs=1e-8)
            assert left_variance[0, i] == pytest.approx(spread[0] ** 2 + noise[i] ** 2, rel=1e-7)


@pytest.mark.parametrize("name", ["matern32", "rbf"])
def test_one_more_reading_never_widens(name):
    points, values, noise = round_of(20)
    targets = np.random.default_rng(1).uniform(0, 1, (200, 2)) * [600.0, 450.0]
    prior = Radial(KERNELS[name], (150.0, 200.0), 400.0, 9.0 * 400.0)
    spreads = [condition(prior, points[:n], values[:n], noise[:n] ** 2).moments(targets)[1][0] for n in range(5, 21)]
    assert np.all(np.diff(np.array(spreads), axis=0) <= 1e-8)
    assert np.all(np.array(spreads) >= 0)
