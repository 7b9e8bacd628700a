"""Laws of the surface fitted to plain scattered readings."""

from __future__ import annotations

import inspect
from dataclasses import dataclass

import numpy as np
import pytest

from heatmap import surface
from heatmap.errors import InputError, MapError
from heatmap.gaussian import Conditioned
from heatmap.surface import WIDENING, fit_surface

EXTENT = (600.0, 450.0)
GRID = np.stack([g.ravel() for g in np.meshgrid(np.linspace(0, 600, 13), np.linspace(0, 450, 10))], axis=1)
OWN = pytest.mark.parametrize("own", [2.0, None], ids=["noise told", "noise learned"])


def bowl_c(points):
    u, v = points[:, 0] / 300 - 1, points[:, 1] / 225 - 1
    return 300 + 12 * u - 8 * v - 15 * u * u + 6 * u * v


def plane_c(points):
    return 260 + 0.05 * points[:, 0] - 0.03 * points[:, 1]


def round_of(count=14, seed=0, noise=2.0, truth=bowl_c):
    rng = np.random.default_rng(seed)
    points = rng.uniform(0.03, 0.97, (count, 2)) * EXTENT
    return points, truth(points) + rng.normal(0, noise, count)


def test_the_door_is_as_promised():
    """The library contract: names and order of what other programs call."""
    assert list(inspect.signature(fit_surface).parameters) == ["points_mm", "rail_c", "own_std_c", "extent_mm"]
    points, values = round_of()
    mean, std = fit_surface(points.tolist(), values.tolist(), [2.0] * 14, extent_mm=EXTENT).predict(GRID.tolist())
    assert mean.shape == std.shape == (len(GRID),)


@OWN
def test_order_of_readings_is_irrelevant(own):
    points, values = round_of()
    expected = fit_surface(points, values, own, extent_mm=EXTENT).predict(GRID)
    order = np.random.default_rng(1).permutation(len(points))
    again = fit_surface(points[order], values[order], own, extent_mm=EXTENT).predict(GRID)
    np.testing.assert_allclose(again, expected, atol=1e-6)


@pytest.mark.parametrize("axis", [0, 1])
def test_mirror_the_grate_and_the_map_is_mirrored(axis):
    points, values = round_of()
    mirrored, grid = points.copy(), GRID.copy()
    mirrored[:, axis] = EXTENT[axis] - points[:, axis]
    grid[:, axis] = EXTENT[axis] - GRID[:, axis]
    expected = fit_surface(points, values, 2.0, extent_mm=EXTENT).predict(GRID)
    again = fit_surface(mirrored, values, 2.0, extent_mm=EXTENT).predict(grid)
    np.testing.assert_allclose(again, expected, atol=1e-6)


def test_turn_the_grate_and_the_map_is_turned():
    points, values = round_of()
    expected = fit_surface(points, values, 2.0, extent_mm=EXTENT).predict(GRID)
    again = fit_surface(points[:, ::-1], values, 2.0, extent_mm=EXTENT[::-1]).predict(GRID[:, ::-1])
    np.testing.assert_allclose(again, expected, atol=1e-6)


@OWN
def test_add_ten_degrees_and_the_map_is_ten_degrees_hotter(own):
    points, values = round_of()
    mean, std = fit_surface(points, values, own, extent_mm=EXTENT).predict(GRID)
    hotter, same = fit_surface(points, values + 10, own, extent_mm=EXTENT).predict(GRID)
    np.testing.assert_allclose(hotter, mean + 10, atol=1e-6)
    np.testing.assert_allclose(same, std, atol=1e-6)


@OWN
def test_a_grate_of_another_size_with_another_unit_is_the_same_map(own):
    points, values = round_of()
    mean, std = fit_surface(points, values, own, extent_mm=EXTENT).predict(GRID)
    told = None if own is None else own * 1.8
    again = fit_surface(points / 25.4, values * 1.8, told, extent_mm=(600 / 25.4, 450 / 25.4)).predict(GRID / 25.4)
    np.testing.assert_allclose(again[0], mean * 1.8, atol=1e-6)
    np.testing.assert_allclose(again[1], std * 1.8, atol=1e-6)


def test_a_plane_comes_back_within_the_spread():
    """Six rounds of 14 readings of 0.5 °C on a plane that is 43 °C from its lowest corner to its highest: not told that
    it is one, the map errs by less than what two readings do, the corners where nobody shot included."""
    squares = []
    for seed in range(6):
        points, values = round_of(seed=seed, noise=0.5, truth=plane_c)
        mean, std = fit_surface(points, values, 0.5, extent_mm=EXTENT).predict(GRID)
        off = mean - plane_c(GRID)
        assert np.mean(np.abs(off) < 1.96 * std) > 0.9
        squares.append(np.mean(off**2))
    assert np.sqrt(np.mean(squares)) < 1.0


STRUCTURES = [surface._structures(EXTENT)[at] for at in (0, 9, 70, 149)]


@dataclass
class Scaled:
    """A structure times a signal, as a prior for :mod:`heatmap.gaussian`."""

    structure: surface.Structure
    signal: float

    def mean(self, sites):
        return np.zeros(len(sites))

    def covariance(self, one, two):
        return self.signal**2 * self.structure.covariance(one, two)

    def variance(self, sites):
        return np.diag(self.covariance(sites, sites))


#: Signal, noise over that claimed, log prior.
LEVELS = np.array([[0.5, 2.0, 0.0], [1.0, 1.0, -1.0], [3.0, 0.3, 2.0]])


@pytest.mark.parametrize("structure", STRUCTURES)
def test_every_node_agrees_with_conditioning_it_by_itself(structure):
    """A signal s and a noise t are the prior times s² and noise variances times t²; by Cholesky instead."""
    points, values = round_of()
    values, noise_variance = values - values.mean(), np.linspace(1.0, 9.0, 14)
    nodes = surface._AtLevels(structure, (points, values, noise_variance), LEVELS)
    moments = nodes.predict(GRID, np.ones(len(LEVELS), dtype=bool))
    for found, evidence, (signal, noise, told) in zip(moments, nodes.log_evidence, LEVELS, strict=True):
        alone = Conditioned(
            Scaled(structure, signal), points, values, noise**2 * noise_variance, told + structure.log_prior
        )
        np.testing.assert_allclose(found, alone.predict(GRID), rtol=1e-6, atol=1e-7)
        assert evidence == pytest.approx(alone.log_evidence, rel=1e-9)


def test_lost_digits_are_told():
    """Readings a hair apart with next to no noise: the covariance is singular to all digits there are."""
    points = np.array([[0.0, 0.0], [1e-7, 0.0], [0.0, 1e-7], [300.0, 200.0]])
    fitted = surface._AtLevels(STRUCTURES[1], (points, np.zeros(4), np.full(4, 1e-6)), np.array([[1e11, 1.0, 0.0]]))
    near = np.random.default_rng(0).uniform(-1e-6, 1e-6, (200, 2))
    with pytest.warns(UserWarning, match="noise is too small"):
        ((_, variance),) = fitted.predict(near, np.ones(1, dtype=bool))
    assert np.all(variance >= 0)


def test_repeats_are_one_reading_with_less_noise():
    points, values = round_of()
    # repeats that scatter just as claimed: by 2 °C about the value (variance with 3 degrees of freedom)
    scatter = np.tile([-1, -1, 1, 1], len(points)) * 2.0 * np.sqrt(3) / 2
    repeated = fit_surface(np.repeat(points, 4, axis=0), np.repeat(values, 4) + scatter, 2.0, extent_mm=EXTENT)
    merged = fit_surface(points, values, 1.0, extent_mm=EXTENT)
    assert repeated.points_mm.shape == (14, 2)
    np.testing.assert_allclose(repeated.rail_c, merged.rail_c, atol=1e-9)
    # beyond that the repeats pin the noise level, which is otherwise averaged over
    mean, std = repeated.predict(GRID)
    one, one_std = merged.predict(GRID)
    assert np.max(np.abs(mean - one) / one_std) < 0.5
    np.testing.assert_allclose(std, one_std, rtol=0.25)


def test_readings_at_one_place_weigh_as_they_are_known():
    """Their mean by 1 / variance: JCGM 100:2008 has it in 5.1.2 applied to a weighted mean."""
    points, values = round_of()
    fitted = fit_surface(
        np.concatenate([points, points[:1]]), np.append(values, 320.0), [1.0] * 14 + [3.0], extent_mm=EXTENT
    )
    at = np.flatnonzero(np.all(fitted.points_mm == points[0], axis=1))[0]
    assert fitted.rail_c[at] == pytest.approx((values[0] + 320.0 / 9) / (1 + 1 / 9))


def test_a_sure_reading_is_held_to_and_a_vague_one_is_not():
    points, values = round_of(seed=1)
    own = np.full(14, 2.0)
    own[3], own[7] = 0.1, 50.0
    values[3], values[7] = values[3] + 6.0, values[7] + 60.0
    mean, std = fit_surface(points, values, own, extent_mm=EXTENT).predict(points)
    assert abs(mean[3] - values[3]) < 0.3
    assert std[3] < 0.3
    assert abs(mean[7] - bowl_c(points)[7]) < 15.0


def test_noise_is_learned_from_repeats():
    rng = np.random.default_rng(4)
    points, values = round_of(12, noise=0.0)
    points, values = np.repeat(points, 3, axis=0), np.repeat(values, 3)
    fitted = fit_surface(points, values + rng.normal(0, 3.0, 36), None, extent_mm=EXTENT)
    # 24 differences pin a standard deviation to 1 / √48 = 14 %
    assert fitted.noise_std_c == pytest.approx(3.0, rel=0.35)


def test_three_places_make_a_map():
    points = np.array([[100.0, 100.0], [500.0, 120.0], [300.0, 400.0]])
    mean, std = fit_surface(points, [300.0, 320.0, 310.0], 2.0, extent_mm=EXTENT).predict(GRID)
    assert np.all(np.isfinite(mean))
    assert np.all(std > 2.0 / np.sqrt(3))
    assert 280 < mean.min() < mean.max() < 340


def test_equal_readings_are_known_no_better_than_their_own_scatter_allows():
    """Twelve equal numbers from a gun of 1.5 °C: the mean of all, 1.5/√12, is the best that can be known anywhere
    (JCGM 100:2008, 4.2.3); of what is claimed a third may be too much (heatmap.surface.CLAIMED_NODES)."""
    x_mm, y_mm = np.meshgrid(np.linspace(60.0, 540.0, 4), np.linspace(60.0, 390.0, 3))
    points = np.column_stack([x_mm.ravel(), y_mm.ravel()])
    mean_c, std_c = fit_surface(points, np.full(12, 300.0), 1.5, extent_mm=EXTENT).predict(points)
    np.testing.assert_allclose(mean_c, 300.0, atol=1e-6)
    assert std_c.min() >= 1.5 / np.sqrt(12.0) / 1.5
    assert std_c.max() < 3.0


@pytest.mark.parametrize("own", [0.0, 0.02])
def test_between_many_sure_readings_nothing_is_known_for_certain(own):
    """A hundred places at 0.02 °C: no digit is lost on the way to a spread, and truth lies within it."""
    rng = np.random.default_rng(0)
    x_mm, y_mm = np.meshgrid(np.arange(30.0, 600.0, 60.0), np.arange(22.5, 450.0, 45.0))
    points = np.column_stack([x_mm.ravel(), y_mm.ravel()]) + rng.normal(0, 3, (100, 2))

    def waves_c(p):
        return 300 + 30 * np.sin(p[:, 0] / 90) * np.cos(p[:, 1] / 80)

    fitted = fit_surface(points, waves_c(points) + own * rng.standard_normal(100), own, extent_mm=EXTENT)
    asked = rng.uniform(0, 1, (2000, 2)) * EXTENT
    mean, std = fitted.predict(asked)
    assert std.min() > 0.2 * own
    assert std.min() > 0.0
    assert np.mean(np.abs(mean - waves_c(asked)) < 1.96 * std) > 0.85


@OWN
def test_intervals_cover_known_truth(own):
    """95 % intervals on make-believe grates of long waves and short; the mean over 16 rounds scatters by some 0.015."""
    inside = []
    for seed in range(16):
        rng = np.random.default_rng(seed)
        points, noise = rng.uniform(0.03, 0.97, (16, 2)) * EXTENT, rng.choice([1.0, 3.0])
        waves, phase = rng.normal(0, 1, (20, 2)) / np.resize([[180.0], [70.0]], (20, 1)), rng.uniform(0, 7, 20)

        def truth(p, waves=waves, phase=phase):
            return 300 + 5 * np.cos(p @ waves.T + phase).sum(axis=1)

        values = truth(points) + rng.normal(0, noise, 16)
        mean, std = fit_surface(points, values, noise if own else None, extent_mm=EXTENT).predict(GRID)
        inside.append(np.mean(np.abs(mean - truth(GRID)) < 1.96 * std))
    assert 0.91 < np.mean(inside) < 0.985


@pytest.mark.parametrize("seed", range(2))
def test_agrees_with_the_full_search_where_many_places_make_it_short(monkeypatch, seed):
    """With many places structures are picked on a part of them; that may cost next to nothing.

    A mean off by a quarter of its standard deviation makes the total error 3 % larger, which nobody could see.
    """
    rng = np.random.default_rng(seed)
    points = rng.uniform(0.0, 1.0, (surface.PILOT + 24, 2)) * EXTENT
    values = 300 + 25 * np.sin(points[:, 0] / 110) + 20 * np.cos(points[:, 1] / 90) + rng.normal(0, 3, len(points))
    short = fit_surface(points, values, 3.0, extent_mm=EXTENT)
    monkeypatch.setattr(surface, "PILOT", len(points))
    full_mean, full_std = fit_surface(points, values, 3.0, extent_mm=EXTENT).predict(GRID)
    mean, std = short.predict(GRID)
    assert np.any(mean != full_mean), "the premise: another way was gone"
    assert np.sqrt(np.mean(((mean - full_mean) / full_std) ** 2)) < 0.25
    assert np.all(np.abs(std / full_std - 1.0) < 0.2)


def test_spread_is_widened_less_the_more_was_read():
    few, many = (fit_surface(*round_of(count), 2.0, extent_mm=EXTENT) for count in (6, 40))
    plain = []
    for fitted in (few, many):  # the mixture of all nodes, each by itself
        nodes = [each for part, kept in fitted._parts for each in part.predict(GRID, kept)]
        assert len(nodes) == len(fitted._weights)
        mean, variance = (np.array(each) for each in zip(*nodes, strict=True))
        overall = fitted._weights @ mean
        np.testing.assert_allclose(fitted.predict(GRID)[0], overall + fitted.rail_c.mean())
        plain.append(np.sqrt(fitted._weights @ (variance + mean**2) - overall**2))
    plain_few, plain_many = plain
    np.testing.assert_allclose(few.predict(GRID)[1], plain_few * np.sqrt(1 + WIDENING / 6))
    np.testing.assert_allclose(many.predict(GRID)[1], plain_many * np.sqrt(1 + WIDENING / 40))


BAD = [
    ({"points_mm": [[0, 0], [1, 1]]}, InputError, r"rail_c has shape \(14,\) for 2 points; give one temperature per"),
    ({"points_mm": np.zeros((14, 3))}, InputError, r"points_mm has shape \(14, 3\); it must be \(n, 2\)"),
    ({"points_mm": np.zeros((14, 2))}, MapError, r"1 place with a reading; a map needs at least 3"),
    ({"points_mm": [], "rail_c": []}, MapError, r"0 places with a reading; a map needs at least 3"),
    (
        {"points_mm": np.stack([np.arange(14.0), 2 * np.arange(14.0)], axis=1)},
        MapError,
        "all readings lie in one line; take at least one to the side of it",
    ),
    ({"rail_c": [300.0] * 13 + [np.nan]}, InputError, r"rail_c\[13\] is nan; every value must be a finite number"),
    ({"rail_c": ["hot"] * 14}, InputError, "rail_c must be numbers"),
    ({"own_std_c": -1.0}, InputError, "own_std_c has -1 in it; a standard deviation must be 0 or more"),
    ({"own_std_c": [1.0, 2.0]}, InputError, r"own_std_c has shape \(2,\); give one number for all or 14"),
    ({"own_std_c": np.inf}, InputError, "own_std_c is inf; every value must be a finite number"),
    ({"extent_mm": (600.0, 0.0)}, InputError, r"extent_mm is .*; it must be \(width, depth\), both above 0"),
    ({"extent_mm": (600.0,)}, InputError, r"extent_mm is .*; it must be \(width, depth\), both above 0"),
]


@pytest.mark.parametrize(("change", "error", "words"), BAD)
def test_bad_input_gets_one_clear_line(change, error, words):
    points, values = round_of()
    given = {"points_mm": points, "rail_c": values, "own_std_c": 2.0, "extent_mm": EXTENT, **change}
    with pytest.raises(error, match=words) as caught:
        fit_surface(given.pop("points_mm"), given.pop("rail_c"), given.pop("own_std_c"), **given)
    assert "\n" not in str(caught.value)


def test_a_bad_question_gets_one_clear_line():
    points, values = round_of()
    with pytest.raises(InputError, match=r"points_mm has shape \(2,\)"):
        fit_surface(points, values, 2.0, extent_mm=EXTENT).predict([1.0, 2.0])
