"""A re-check against a published regression, against scikit-learn, and against its own samples."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import ArrayLike

from heatmap.errors import InputError
from heatmap.surface import Surface, fit_surface, recheck_surface
from heatmap.surface import recheck as recheck_module
from heatmap.surface.places import check_readings

REFERENCE = Path(__file__).parent.parent / "reference"
EXTENT_MM = (600.0, 450.0)


class Flat(Surface):
    """A surface that is 0 everywhere and known exactly."""

    method = "flat"
    drift_mean_c = drift_std_c = np.zeros(0)

    def __init__(self, extent_mm: tuple[float, float] = EXTENT_MM) -> None:
        self.readings = check_readings(np.zeros((0, 2)), np.zeros(0), 1.0, 0.0, extent_mm)

    def predict(self, points_mm: ArrayLike) -> tuple[np.ndarray, np.ndarray]:
        return np.zeros(len(np.asarray(points_mm))), np.zeros(len(np.asarray(points_mm)))

    def sample(self, points_mm: ArrayLike, count: int, rng: np.random.Generator) -> np.ndarray:
        return np.zeros((count, len(np.asarray(points_mm))))

    def covariance(self, points_a_mm: ArrayLike, points_b_mm: ArrayLike) -> np.ndarray:
        return np.zeros((len(np.asarray(points_a_mm)), len(np.asarray(points_b_mm))))

    def leave_one_out(self) -> tuple[np.ndarray, np.ndarray]:
        return np.zeros(0), np.zeros(0)


def test_published_calibration_line(monkeypatch: pytest.MonkeyPatch) -> None:
    """JCGM 100:2008, H.3: a thermometer's corrections b over t, a line through eleven points, b and u(b) at
    30 °C.

    Level and tilt of a re-check without ageing are that line when nothing is known of them before. Here t
    runs along the grate, b counts in hundredths, and every shot has the standard deviation s of the example.
    """
    monkeypatch.setattr(recheck_module, "LEVEL_STD_C", 300.0)
    monkeypatch.setattr(recheck_module, "TILT_STD_C", 300.0)
    with (REFERENCE / "gum_h3_data.csv").open(newline="") as file:
        t, b = np.array([[float(row["t_C"]), float(row["b_C"])] for row in csv.DictReader(file)]).T
    with (REFERENCE / "gum_values.csv").open(newline="") as file:
        value = {row["quantity"]: row for row in csv.DictReader(file)}
    points = np.column_stack([t * 10.0, np.full_like(t, 225.0)])
    line = recheck_surface(Flat(), points, 100.0 * b, 100.0 * float(value["H3_s"]["value"]), minutes=0.0)
    at_30 = np.array([[300.0, 225.0]])
    mean, std = line.predict(at_30)
    assert mean[0] / 100.0 == pytest.approx(float(value["H3_b"]["value"]), abs=1e-6)
    assert std[0] / 100.0 == pytest.approx(float(value["H3_u_b"]["value"]), abs=1e-6)
    at_20 = line.predict(np.array([[200.0, 225.0]]))
    assert at_20[0][0] / 100.0 == pytest.approx(float(value["H3_y1"]["value"]), abs=1e-6)
    assert at_20[1][0] / 100.0 == pytest.approx(float(value["H3_u_y1"]["value"]), abs=1e-6)


def test_agrees_with_scikit_learn() -> None:
    """Level, tilt and ageing are one kernel: the same prediction from GaussianProcessRegressor."""
    from sklearn.gaussian_process import GaussianProcessRegressor
    from sklearn.gaussian_process.kernels import ConstantKernel, DotProduct, Matern

    rng = np.random.default_rng(7)
    points, rail_c = rng.uniform(0.0, 1.0, (4, 2)) * EXTENT_MM, rng.normal(20.0, 8.0, 4)
    # A product of one-dimensional Matérn correlations is no kernel of scikit-learn's; along one line it is.
    points[:, 1] = 225.0
    ageing = recheck_module.age_std_c(25.0)
    surface = recheck_surface(Flat(), points, rail_c, 1.5, minutes=25.0)
    kernel = (
        ConstantKernel(recheck_module.LEVEL_STD_C**2 - recheck_module.TILT_STD_C**2)
        + ConstantKernel(recheck_module.TILT_STD_C**2) * DotProduct(sigma_0=1.0)
        + ConstantKernel(ageing**2) * Matern(length_scale=2 * recheck_module.AGE_LENGTH_SHARE, nu=2.5)
    )
    peer = GaussianProcessRegressor(kernel, alpha=1.5**2, optimizer=None)
    peer.fit(2.0 * points[:, :1] / EXTENT_MM[0] - 1.0, rail_c)
    x_mm = np.linspace(0.0, 600.0, 13)
    expected, expected_std = peer.predict(2.0 * x_mm[:, None] / EXTENT_MM[0] - 1.0, return_std=True)
    mean_c, std_c = surface.predict(np.column_stack([x_mm, np.full_like(x_mm, 225.0)]))
    np.testing.assert_allclose(mean_c, expected, rtol=1e-8)
    np.testing.assert_allclose(std_c, expected_std, rtol=1e-6)


def grate(seed: int = 0) -> tuple[Surface, np.ndarray, np.ndarray]:
    """Return the surface of a full round whose places have something of their own, the places, and that."""
    rng = np.random.default_rng(seed)
    x_mm, y_mm = np.meshgrid(np.linspace(60.0, 540.0, 4), np.linspace(60.0, 390.0, 3))
    points = np.column_stack([x_mm.ravel(), y_mm.ravel()])
    own = rng.normal(0.0, 5.0, len(points))
    return (
        fit_surface(points, true_c(points) + own + rng.normal(0.0, 1.0, 12), 1.0, extent_mm=EXTENT_MM, place_std_c=5.0),
        points,
        own,
    )


def true_c(points: np.ndarray) -> np.ndarray:
    return 290.0 + 15.0 * np.sin(points[:, 0] / 120.0) + 10.0 * np.cos(points[:, 1] / 90.0)


def test_mean_covariance_and_samples_agree() -> None:
    base, points, own = grate()
    few = [0, 5, 7, 10]
    surface = recheck_surface(
        base, points[few], true_c(points[few]) + own[few] + 30.0, 1.0, minutes=20.0, place_std_c=5.0
    )
    where = np.random.default_rng(1).uniform(0.05, 0.95, (30, 2)) * EXTENT_MM
    mean_c, std_c = surface.predict(where)
    samples = surface.sample(where, 4000, np.random.default_rng(2))
    covariance = surface.covariance(where, where)
    np.testing.assert_allclose(np.sqrt(np.diag(covariance)), std_c, rtol=1e-6)
    np.testing.assert_allclose(samples.mean(axis=0), mean_c, atol=0.3)
    np.testing.assert_allclose(samples.std(axis=0), std_c, rtol=0.08)
    np.testing.assert_allclose(np.cov(samples.T), covariance, atol=0.12 * covariance.max())


def test_known_truth_is_covered() -> None:
    """Thirty grates that moved by 30 °C and tilted: the error is that of the shape, and 95 % intervals
    hold."""
    within, error = [], []
    few = [0, 5, 7, 10]
    for seed in range(30):
        base, points, own = grate(seed)
        rng = np.random.default_rng(1000 + seed)

        def now_c(where: np.ndarray) -> np.ndarray:
            return true_c(where) + 30.0 + 8.0 * (where[:, 0] / 300.0 - 1.0)

        shots = now_c(points[few]) + own[few] + rng.normal(0.0, 1.0, 4)
        surface = recheck_surface(base, points[few], shots, 1.0, minutes=5.0, place_std_c=5.0)
        where = rng.uniform(0.1, 0.9, (40, 2)) * EXTENT_MM
        mean_c, std_c = surface.predict(where)
        within.append(np.abs(mean_c - now_c(where)) <= 1.96 * std_c)
        error.append(mean_c - now_c(where))
    assert np.mean(within) > 0.93
    assert np.sqrt(np.mean(np.square(error))) < 5.0


def test_old_readings_at_the_same_place_sharpen_the_level() -> None:
    """What a place has of its own cancels between old and new shot; shots beside the old places do not have
    that."""
    base, points, own = grate()
    few, beside = points[[0, 5, 7, 10]], points[[0, 5, 7, 10]] + 12.0
    same = recheck_surface(base, few, true_c(few) + own[[0, 5, 7, 10]], 1.0, minutes=0.0, place_std_c=5.0)
    other = recheck_surface(base, beside, true_c(beside), 1.0, minutes=0.0, place_std_c=5.0)
    middle = np.array([[300.0, 225.0]])
    assert same.predict(middle)[1][0] < other.predict(middle)[1][0]


def test_leave_one_out_is_leaving_one_out() -> None:
    base, points, _ = grate()
    few = points[[0, 5, 7, 10]] + 5.0
    rail_c = true_c(few) + np.array([30.0, 28.0, 33.0, 31.0])
    mean_c, std_c = recheck_surface(base, few, rail_c, 1.0, minutes=5.0, place_std_c=5.0).leave_one_out()
    for index in range(4):
        others = np.delete(np.arange(4), index)
        alone = recheck_surface(base, few[others], rail_c[others], 1.0, minutes=5.0, place_std_c=5.0)
        expected, expected_std = alone.predict(few[[index]])
        assert mean_c[index] == pytest.approx(expected[0], abs=1e-6)
        assert std_c[index] == pytest.approx(expected_std[0], abs=1e-6)


def test_drift_between_shots_is_learned() -> None:
    minutes = np.array([-1.0, 0.0, 1.0, 2.0])
    points = np.array([[100.0, 100.0]] * 4)
    surface = recheck_surface(
        Flat(),
        points,
        40.0 + 3.0 * minutes,
        0.2,
        minutes=0.0,
        drift=minutes[:, None],
        drift_std_c=[5.0],
        drift_mean_c=[0.0],
    )
    assert surface.drift_mean_c[0] == pytest.approx(3.0, abs=0.05)
    assert 0.0 < surface.drift_std_c[0] < 0.2
    assert surface.predict(points[:1])[0][0] == pytest.approx(40.0, abs=0.2)


def test_age_grows_and_stops_growing() -> None:
    ages = [recheck_module.age_std_c(minutes) for minutes in (0.0, 1.0, 10.0, None, 60.0, 1e4)]
    assert ages == sorted(ages)
    assert (ages[0], ages[1], ages[-1]) == (0.0, recheck_module.AGE_STD_C, recheck_module.MOST_AGE_STD_C)


def test_the_mixture_over_odd_shots_agrees_with_its_cases_worked_out_one_by_one() -> None:
    """The chance, mean and spread of "none is odd, or this one is" from plain normal densities, case by case."""
    base, points, _ = grate()
    few = points[[0, 5, 7, 10]] + 5.0
    rail_c = true_c(few) + np.array([30.0, 28.0, 52.0, 31.0])
    found = recheck_surface(base, few, rail_c, 1.0, minutes=5.0, place_std_c=5.0, odd_chance=0.05)
    plain = recheck_surface(base, few, rail_c, 1.0, minutes=5.0, place_std_c=5.0)
    cov = np.linalg.inv(plain.inverse)
    differs = cov @ plain.solved
    where = np.array([[100.0, 100.0], [500.0, 350.0]])
    cross = plain._cross(where)
    prior_mean = plain.predict(where)[0] - cross @ plain.solved
    prior_var = plain.predict(where)[1] ** 2 + np.einsum("ij,jk,ik->i", cross, plain.inverse, cross)
    weights, means, seconds = [], [], []
    for odd in (None, 0, 1, 2, 3):
        case = cov + 0.0
        if odd is not None:
            case[odd, odd] += recheck_module.ODD_STD_C**2
        density = np.exp(-0.5 * differs @ np.linalg.solve(case, differs)) / np.sqrt(np.linalg.det(case))
        weights.append(density * (0.95 if odd is None else 0.05))
        gain = np.linalg.solve(case, cross.T).T
        means.append(prior_mean + gain @ differs)
        seconds.append(prior_var - np.sum(gain * cross, axis=1) + means[-1] ** 2)
    share = np.array(weights) / np.sum(weights)
    mean = share @ np.array(means)
    np.testing.assert_allclose(found.odd, share[1:], rtol=1e-6)
    np.testing.assert_allclose(found.predict(where)[0], mean, rtol=1e-9)
    np.testing.assert_allclose(found.predict(where)[1], np.sqrt(share @ np.array(seconds) - mean**2), rtol=1e-5)
    samples = found.sample(where, 40000, np.random.default_rng(3))
    np.testing.assert_allclose(samples.mean(axis=0), mean, atol=0.2)
    np.testing.assert_allclose(samples.std(axis=0), found.predict(where)[1], rtol=0.03)


def test_a_recheck_needs_a_shot() -> None:
    with pytest.raises(InputError, match="at least one shot"):
        recheck_surface(Flat(), np.zeros((0, 2)), np.zeros(0), 1.0, minutes=1.0)
