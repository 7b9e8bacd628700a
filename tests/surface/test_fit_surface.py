"""Laws of the fitted surface, whatever the readings."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from heatmap.errors import InputError, MapError
from heatmap.surface import METHODS, averaging, fit_surface

EXTENT = (600.0, 450.0)
GRID = np.stack([g.ravel() for g in np.meshgrid(np.linspace(0, 600, 13), np.linspace(0, 450, 10))], axis=1)


def bowl_c(points):
    u, v = points[:, 0] / 300 - 1, points[:, 1] / 225 - 1
    return 300 + 12 * u - 8 * v - 15 * u * u + 6 * u * v


def round_of(count=14, seed=0, noise=2.0, truth=bowl_c):
    rng = np.random.default_rng(seed)
    points = rng.uniform(0.03, 0.97, (count, 2)) * EXTENT
    return points, truth(points) + rng.normal(0, noise, count)


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("own", [2.0, None])
def test_order_of_readings_is_irrelevant(method, own):
    points, values = round_of()
    mean, std = fit_surface(points, values, own, extent_mm=EXTENT, method=method).predict(GRID)
    order = np.random.default_rng(1).permutation(len(points))
    again = fit_surface(points[order], values[order], own, extent_mm=EXTENT, method=method).predict(GRID)
    # the cubic's gradients are found by iterating to 1e-6
    np.testing.assert_allclose(again[0], mean, atol=1e-3 if method == "cubic" else 1e-6)
    np.testing.assert_allclose(again[1], std, atol=1e-3 if method == "cubic" else 1e-6)


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("axis", [0, 1])
def test_mirror_the_grate_and_the_map_is_mirrored(method, axis):
    points, values = round_of()
    mirrored, grid = points.copy(), GRID.copy()
    mirrored[:, axis] = EXTENT[axis] - points[:, axis]
    grid[:, axis] = EXTENT[axis] - GRID[:, axis]
    mean, std = fit_surface(points, values, 2.0, extent_mm=EXTENT, method=method).predict(GRID)
    again = fit_surface(mirrored, values, 2.0, extent_mm=EXTENT, method=method).predict(grid)
    np.testing.assert_allclose(again[0], mean, atol=1e-3 if method == "cubic" else 1e-6)
    np.testing.assert_allclose(again[1], std, atol=1e-3 if method == "cubic" else 1e-6)


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("own", [2.0, None])
def test_add_ten_degrees_and_the_map_is_ten_degrees_hotter(method, own):
    points, values = round_of()
    mean, std = fit_surface(points, values, own, extent_mm=EXTENT, method=method).predict(GRID)
    hotter, same = fit_surface(points, values + 10, own, extent_mm=EXTENT, method=method).predict(GRID)
    np.testing.assert_allclose(hotter, mean + 10, atol=1e-6)
    np.testing.assert_allclose(same, std, atol=1e-6)


@pytest.mark.parametrize("own", [2.0, None])
def test_a_grate_of_another_size_with_another_unit_is_the_same_map(own):
    points, values = round_of()
    mean, std = fit_surface(points, values, own, extent_mm=EXTENT).predict(GRID)
    told = None if own is None else own * 1.8
    again = fit_surface(points / 25.4, values * 1.8, told, extent_mm=(600 / 25.4, 450 / 25.4)).predict(GRID / 25.4)
    np.testing.assert_allclose(again[0], mean * 1.8, atol=1e-6)
    np.testing.assert_allclose(again[1], std * 1.8, atol=1e-6)


# A plane is exact for a triangulation and for a thin-plate spline with a linear term: J. Duchon (1977); G. Wahba,
# Spline Models for Observational Data (SIAM 1990). Clough-Tocher with estimated gradients to their tolerance, 1e-6.
@pytest.mark.parametrize("method", ["linear", "cubic", "thin plate"])
def test_published_plane_comes_back(method):
    def plane_c(p):
        return 260 + 0.05 * p[:, 0] - 0.03 * p[:, 1]

    points, values = round_of(noise=0.0, truth=plane_c)
    surface = fit_surface(points, values, 1.0, extent_mm=EXTENT, method=method)
    mean, std = surface.predict(GRID)
    np.testing.assert_allclose(mean, plane_c(GRID), atol=2e-3 if method == "cubic" else 1e-8)
    assert std.max() < 1e-2
    assert surface.leave_one_out_rmse_c < 1e-2


def test_a_plane_is_within_the_spread_of_the_gaussian_process():
    def plane_c(p):
        return 260 + 0.05 * p[:, 0] - 0.03 * p[:, 1]

    points, values = round_of(noise=0.5, truth=plane_c)
    mean, std = fit_surface(points, values, 0.5, extent_mm=EXTENT).predict(GRID)
    assert np.mean(np.abs(mean - plane_c(GRID)) < 1.96 * std) > 0.9
    assert np.sqrt(np.mean((mean - plane_c(GRID)) ** 2)) < 1.5


# Thin-plate spline r² log r with a linear term through ten spots, values from a dense linear system and from scipy; see
# the file's columns.
def test_agrees_with_reference_thin_plate():
    def rows(name):
        with open(Path(__file__).parents[1] / "reference" / name, newline="", encoding="utf-8") as file:
            return list(csv.DictReader(file))

    training = rows("gp_training.csv")
    points = np.array([[float(r["x"]), float(r["y"])] for r in training])
    values = np.array([float(r["value"]) for r in training])
    plane = 500 + 3.5 * points[:, 0] - 2.25 * points[:, 1]
    for row in rows("tps_values.csv"):
        given = plane if row["asked"] == "plane" else values
        surface = fit_surface(points, given, None, extent_mm=(18.0, 12.0), method="thin plate")
        mean, _ = surface.predict([[float(row["x0"]), float(row["y0"])]])
        assert mean[0] == pytest.approx(float(row["value"]), abs=float(row["tolerance"]))


def test_agrees_with_scipy_inside_the_outermost_readings():
    from scipy.interpolate import RBFInterpolator, griddata

    points, values = round_of(30)
    inside = np.array([[200.0, 150.0], [300.0, 250.0], [400.0, 200.0]])
    for method in ("linear", "cubic"):
        mean, _ = fit_surface(points, values, None, extent_mm=EXTENT, method=method).predict(inside)
        expected = griddata(points, values, inside, method=method)
        np.testing.assert_allclose(mean, expected, atol=1e-3 if method == "cubic" else 1e-9)
    mean, _ = fit_surface(points, values, None, extent_mm=EXTENT, method="thin plate").predict(GRID)
    np.testing.assert_allclose(mean, RBFInterpolator(points, values)(GRID), atol=1e-6)


@pytest.mark.parametrize("own", [2.0, None])
@pytest.mark.parametrize("seed", range(3))
def test_joint_samples_agree_with_predict(own, seed):
    points, values = round_of(10 + 8 * seed, seed)
    surface = fit_surface(points, values, own, extent_mm=EXTENT)
    mean, std = surface.predict(GRID)
    samples = surface.sample(GRID, 4000, np.random.default_rng(seed))
    assert samples.shape == (4000, len(GRID))
    # a mean of 4000 scatters by std / sqrt(4000); 5 of those for 130 cells, and the spread by 1 / sqrt(8000) of itself
    # (more where the mixture has heavy tails)
    assert np.max(np.abs(samples.mean(axis=0) - mean) / std) < 5 / 4000**0.5
    np.testing.assert_allclose(samples.std(axis=0), std, rtol=0.15)
    pair = surface.covariance(GRID[:1], GRID[5:6])[0, 0] / (std[0] * std[5])
    assert np.corrcoef(samples[:, 0], samples[:, 5])[0, 1] == pytest.approx(pair, abs=0.12)


@pytest.mark.parametrize("method", METHODS)
def test_covariance_has_the_spread_on_its_diagonal(method):
    points, values = round_of()
    surface = fit_surface(points, values, 2.0, extent_mm=EXTENT, method=method)
    _, std = surface.predict(GRID)
    covariance = surface.covariance(GRID, GRID)
    np.testing.assert_allclose(np.diag(covariance), std**2, rtol=1e-6)
    assert np.linalg.eigvalsh(covariance).min() > -1e-6 * covariance.max()
    samples = surface.sample(GRID[:5], 3000, np.random.default_rng(0))
    np.testing.assert_allclose(samples.std(axis=0), std[:5], rtol=0.15)


def test_repeats_are_one_reading_with_less_noise():
    points, values = round_of()
    four = np.repeat(points, 4, axis=0)
    # repeats that scatter just as claimed: by 2 °C about the value (variance with 3 degrees of freedom)
    scatter = np.tile([-1, -1, 1, 1], len(points)) * 2.0 * np.sqrt(3) / 2
    repeated = fit_surface(four, np.repeat(values, 4) + scatter, 2.0, extent_mm=EXTENT)
    merged = fit_surface(points, values, 1.0, extent_mm=EXTENT)
    np.testing.assert_allclose(repeated.problem.values_c, merged.problem.values_c, atol=1e-9)
    np.testing.assert_allclose(repeated.problem.noise_c2, merged.problem.noise_c2, rtol=1e-12)
    # beyond that the repeats pin the noise level, which is otherwise averaged over
    mean, std = repeated.predict(GRID)
    one, one_std = merged.predict(GRID)
    assert np.max(np.abs(mean - one) / one_std) < 0.6


def test_repeats_do_not_average_out_what_a_place_has_of_its_own():
    points, values = round_of()
    many = np.repeat(points, 50, axis=0)
    noisy = np.repeat(values, 50) + np.random.default_rng(2).normal(0, 1.0, 50 * len(points))
    _, std = fit_surface(many, noisy, 1.0, extent_mm=EXTENT, place_std_c=4.0).predict(points)
    _, pure = fit_surface(many, noisy, 1.0, extent_mm=EXTENT).predict(points)
    assert np.median(pure) < 0.3
    assert np.median(std) > 1.5


def test_noise_is_learned_from_repeats():
    rng = np.random.default_rng(4)
    points, values = round_of(12, noise=0.0)
    points, values = np.repeat(points, 3, axis=0), np.repeat(values, 3)
    surface = fit_surface(points, values + rng.normal(0, 3.0, 36), None, extent_mm=EXTENT)
    assert surface.noise_std_c == pytest.approx(3.0, rel=0.35)


def test_drift_is_told_apart_from_a_tilt():
    rng = np.random.default_rng(5)
    points = np.array([[x, y] for y in (60.0, 225.0, 390.0) for x in (75.0, 225.0, 375.0, 525.0)])
    points = np.concatenate([points, points[[0, 5]]])  # the first and one more shot again at the end
    minutes = np.linspace(-1.5, 1.5, len(points))
    truth = 300 + 0.05 * (points[:, 1] - 225)
    values = truth - 6.0 * minutes + rng.normal(0, 0.7, len(points))
    surface = fit_surface(
        points, values, 0.7, extent_mm=EXTENT, drift=minutes[:, None], drift_std_c=[10.0], drift_mean_c=[0.0]
    )
    assert surface.drift_mean_c[0] == pytest.approx(-6.0, abs=3 * surface.drift_std_c[0])
    assert surface.drift_std_c[0] < 1.0
    mean, std = surface.predict(points[:12])
    assert np.max(np.abs(mean - truth[:12]) / std) < 4
    tilt = np.polyfit(points[:12, 1], mean, 1)[0]
    assert tilt == pytest.approx(0.05, abs=0.012)
    blind = np.polyfit(points[:12, 1], fit_surface(points, values, 0.7, extent_mm=EXTENT).predict(points[:12])[0], 1)
    assert abs(blind[0] - 0.05) > 2 * abs(tilt - 0.05)


def test_drift_known_beforehand_is_taken_off():
    points, values = round_of()
    minutes = np.linspace(-1, 1, len(points))[:, None]
    told = {"drift": minutes, "drift_mean_c": [-5.0], "drift_std_c": [1e-6]}
    for method in METHODS:
        mean, _ = fit_surface(points, values - 5 * minutes[:, 0], 2.0, extent_mm=EXTENT, method=method, **told).predict(
            GRID
        )
        plain, _ = fit_surface(points, values, 2.0, extent_mm=EXTENT, method=method).predict(GRID)
        np.testing.assert_allclose(mean, plain, atol=1e-3)


def test_a_seam_lets_the_map_step():
    rng = np.random.default_rng(6)
    points = np.array([[x, y] for y in (60.0, 225.0, 390.0) for x in (60.0, 180.0, 260.0, 340.0, 420.0, 540.0)])
    step = np.where(points[:, 0] > 300, 40.0, 0.0)
    values = 280 + step + rng.normal(0, 1.5, len(points))
    beside = np.array([[295.0, 150.0], [305.0, 150.0]])
    told = fit_surface(points, values, 1.5, extent_mm=EXTENT, seams_mm=[300.0]).predict(beside)[0]
    blind = fit_surface(points, values, 1.5, extent_mm=EXTENT).predict(beside)[0]
    assert told[1] - told[0] > 25
    assert blind[1] - blind[0] < 15
    across = fit_surface(points[:, ::-1], values, 1.5, extent_mm=EXTENT[::-1], seams_mm=[300.0], seam_axis="y").predict(
        beside[:, ::-1]
    )[0]
    np.testing.assert_allclose(across, told, atol=1e-3)


@pytest.mark.parametrize("method", METHODS)
def test_three_places_make_a_map(method):
    points = np.array([[100.0, 100.0], [500.0, 120.0], [300.0, 400.0]])
    mean, std = fit_surface(points, [300.0, 320.0, 310.0], 2.0, extent_mm=EXTENT, method=method).predict(GRID)
    assert np.all(np.isfinite(mean))
    assert np.all(std > 0)
    assert 280 < mean.min() < mean.max() < 340


def test_readings_all_the_same_make_a_flat_map():
    points, _ = round_of()
    mean, std = fit_surface(points, np.full(len(points), 300.0), 2.0, extent_mm=EXTENT).predict(GRID)
    np.testing.assert_allclose(mean, 300.0, atol=0.01)
    assert np.all(np.isfinite(std))


def test_leave_one_out_is_close_to_fitting_again_without_the_place():
    points, values = round_of(12)
    points, values = np.concatenate([points, points[:1]]), np.append(values, values[0] + 1)
    surface = fit_surface(points, values, 2.0, extent_mm=EXTENT)
    mean, std = surface.leave_one_out()
    assert mean[0] == mean[12]
    for i in (0, 3, 7):
        keep = np.any(points != points[i], axis=1)
        again, spread = fit_surface(points[keep], values[keep], 2.0, extent_mm=EXTENT).predict(points[i : i + 1])
        # the spread of the readings, on which the priors lean, differs a little without the place
        assert mean[i] == pytest.approx(again[0], abs=0.5 * spread[0])
        assert std[i] == pytest.approx(spread[0], rel=0.35)


@pytest.mark.parametrize("own", [True, False])
def test_intervals_cover_known_truth(own):
    """95 % intervals on smooth make-believe grates: the mean over 40 rounds, whose own scatter is about 0.01."""
    inside = []
    for seed in range(40):
        rng = np.random.default_rng(seed)
        points, noise = rng.uniform(0.03, 0.97, (16, 2)) * EXTENT, rng.choice([1.0, 3.0])
        waves, phase = rng.normal(0, 1, (20, 2)) / 180.0, rng.uniform(0, 7, 20)

        def truth(p, waves=waves, phase=phase):
            return 300 + 5 * np.cos(p @ waves.T + phase).sum(axis=1)

        values = truth(points) + rng.normal(0, noise, 16)
        mean, std = fit_surface(points, values, noise if own else None, extent_mm=EXTENT).predict(GRID)
        inside.append(np.mean(np.abs(mean - truth(GRID)) < 1.96 * std))
    assert 0.91 < np.mean(inside) < 0.985


BAD = [
    ({"points_mm": [[0, 0], [1, 1]]}, InputError, r"rail_c has shape \(14,\) for 2 points; give one temperature per"),
    ({"points_mm": np.zeros((14, 3))}, InputError, r"points_mm has shape \(14, 3\); it must be \(n, 2\)"),
    ({"points_mm": np.zeros((14, 2))}, MapError, r"1 place with a reading; a map needs at least 3"),
    (
        {"points_mm": np.stack([np.arange(14.0), 2 * np.arange(14.0)], axis=1)},
        MapError,
        "all readings lie in one line; take at least one to the side of it",
    ),
    ({"rail_c": [300.0] * 13 + [np.nan]}, InputError, r"rail_c\[13\] is nan; every value must be a finite number"),
    ({"rail_c": ["hot"] * 14}, InputError, "rail_c must be numbers"),
    ({"own_std_c": -1.0}, InputError, "own_std_c has -1 in it; a standard deviation must be 0 or more"),
    ({"own_std_c": [1.0, 2.0]}, InputError, r"own_std_c has shape \(2,\); give one number for all or 14"),
    ({"place_std_c": np.inf}, InputError, "place_std_c.* is inf"),
    ({"extent_mm": (600.0, 0.0)}, InputError, r"extent_mm is .*; it must be \(width, depth\), both above 0"),
    ({"method": "magic"}, InputError, "method is 'magic'; it must be one of gaussian process, linear"),
    ({"seam_axis": "z"}, InputError, "seam_axis is 'z'; it must be 'x' or 'y'"),
    ({"drift": np.zeros(14)}, InputError, r"drift has shape \(14,\); it must be \(14, p\)"),
    ({"drift_std_c": [1.0]}, InputError, "given without drift; give the columns too"),
]


@pytest.mark.parametrize(("change", "error", "words"), BAD)
def test_bad_input_gets_one_clear_line(change, error, words):
    points, values = round_of()
    given = {"points_mm": points, "rail_c": values, "own_std_c": 2.0, "extent_mm": EXTENT, **change}
    with pytest.raises(error, match=words) as caught:
        fit_surface(given.pop("points_mm"), given.pop("rail_c"), given.pop("own_std_c"), **given)
    assert "\n" not in str(caught.value)


def test_bad_questions_get_one_clear_line():
    points, values = round_of()
    surface = fit_surface(points, values, 2.0, extent_mm=EXTENT)
    with pytest.raises(InputError, match=r"points_mm has shape \(2,\)"):
        surface.predict([1.0, 2.0])
    with pytest.raises(InputError, match="count is 0; ask for at least 1 sample"):
        surface.sample(GRID, 0, np.random.default_rng(0))


@pytest.mark.parametrize("seed", range(4))
def test_agrees_with_the_full_search_where_many_places_make_it_short(monkeypatch, seed):
    """With many places kernels and trends are picked on a part of them; that may cost next to nothing.

    A mean off by a quarter of its standard deviation makes the total error 3 % larger, which nobody could see.
    """
    rng = np.random.default_rng(seed)
    points = rng.uniform(0.0, 1.0, (averaging.PILOT_PLACES + 40, 2)) * EXTENT
    values = (
        300.0 + 25.0 * np.sin(points[:, 0] / 110.0) + 20.0 * np.cos(points[:, 1] / 90.0) + rng.normal(0, 3, len(points))
    )
    mean, std = fit_surface(points, values, 3.0, extent_mm=EXTENT).predict(GRID)
    monkeypatch.setattr(averaging, "PILOT_PLACES", len(points))
    full_mean, full_std = fit_surface(points, values, 3.0, extent_mm=EXTENT).predict(GRID)
    assert np.any(mean != full_mean), "the premise: another way was gone"
    assert np.sqrt(np.mean(((mean - full_mean) / full_std) ** 2)) < 0.25
    assert np.all(np.abs(std / full_std - 1.0) < 0.2)


def test_equal_readings_are_known_no_better_than_their_own_scatter_allows() -> None:
    """Twelve equal numbers from a gun of 1.5 °C: the mean of all, 1.5/√12, is the best that can be known anywhere
    (JCGM 100:2008, 4.2.3); of what is claimed half may be too much (heatmap.surface.priors.CLAIMED_GRID)."""
    x_mm, y_mm = np.meshgrid(np.linspace(60.0, 540.0, 4), np.linspace(60.0, 390.0, 3))
    points = np.column_stack([x_mm.ravel(), y_mm.ravel()])
    surface = fit_surface(points, np.full(12, 300.0), 1.5, extent_mm=(600.0, 450.0))
    mean_c, std_c = surface.predict(points)
    np.testing.assert_allclose(mean_c, 300.0, atol=1e-6)
    assert std_c.min() >= 0.5 * 1.5 / np.sqrt(12.0)
    assert std_c.max() < 3.0
