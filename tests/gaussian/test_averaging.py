"""The average over nodes, held against the mixture written out and against fitting again."""

from __future__ import annotations

import numpy as np
import pytest

from heatmap.gaussian import Average, Conditioned, matern32, squared_exponential, weighed
from textbook.field import Field

#: Signal, noise over that claimed, and log prior of the nodes of each field.
LEVELS = ((0.5, 1.0, -0.5), (1.0, 1.5, 0.0), (2.0, 0.7, -1.0))


def fields():
    return [
        Field(lambda apart: matern32(np.hypot(apart[0] / 120, apart[1] / 200)), 300.0, level=2.0),
        Field(lambda apart: squared_exponential(np.hypot(*apart) / 90), 200.0, lambda p: 0.1 * p),
    ]


def readings(seed=0, count=14):
    rng = np.random.default_rng(seed)
    points = rng.uniform(0, 1, (count, 2)) * [600.0, 450.0]
    values = 15 * np.sin(points[:, 0] / 100) + 0.04 * points[:, 1] + rng.normal(0, 3, count)
    return points, values, rng.uniform(4.0, 16.0, count)


TARGETS = np.random.default_rng(9).uniform(0, 450, (40, 2))


def fitted(points, values, noise_variance, left_out=1e-12):
    """Return the average over two priors at three levels each; next to nothing is left out."""
    return Average(written_out(points, values, noise_variance), left_out)


def written_out(points, values, noise_variance):
    """Return the six nodes of the same average as fits of each alone."""
    nodes = []
    for field in fields():
        for s, t, log_prior in LEVELS:
            columns = field.columns and (lambda sites, s=s, field=field: s * field.columns(sites))
            alone = Field(field.correlation, s**2 * field.signal_variance, columns, field.level)
            nodes.append(Conditioned(alone, points, values, t**2 * noise_variance, log_prior))
    return nodes


def mixed(nodes, moments):
    """Return mean and variance of a mixture of nodes by evidence from their moments (nodes, 2, m)."""
    log_evidence = np.array([node.log_evidence for node in nodes])
    weight = np.exp(log_evidence - log_evidence.max())
    weight /= weight.sum()
    means, variances = np.moveaxis(np.array(moments), 1, 0)
    return weight @ means, weight @ (variances + means**2) - (weight @ means) ** 2


def test_agrees_with_the_mixture_written_out():
    points, values, noise = readings()
    nodes = written_out(points, values, noise)
    mean, variance = mixed(nodes, [node.predict(TARGETS) for node in nodes])
    ours = fitted(points, values, noise)
    assert len(ours.weights) == 6
    assert ours.weights.sum() == pytest.approx(1.0)
    np.testing.assert_allclose(ours.predict(TARGETS)[0], mean, rtol=1e-8)
    np.testing.assert_allclose(ours.predict(TARGETS)[1] ** 2, variance, rtol=1e-7)


def test_agrees_with_fitting_again_without_each_reading():
    """Every node anew, its weight too: what all others say of a reading, noise and all."""
    points, values, noise = readings()
    mean, std = fitted(points, values, noise).leave_one_out()
    for i in range(len(points)):
        keep = np.arange(len(points)) != i
        nodes = written_out(points[keep], values[keep], noise[keep])
        moments = [node.predict(points[i : i + 1]) for node in nodes]
        of_noise = np.tile([t**2 for _, t, _ in LEVELS], 2) * noise[i]
        expected, variance = mixed(nodes, [(m, v + extra) for (m, v), extra in zip(moments, of_noise, strict=True)])
        assert mean[i] == pytest.approx(expected[0], rel=1e-8)
        assert std[i] ** 2 == pytest.approx(variance[0], rel=1e-7)


def test_order_of_parts_and_readings_is_irrelevant():
    points, values, noise = readings()
    order = np.random.default_rng(1).permutation(len(points))
    parts = written_out(points[order], values[order], noise[order])[::-1]
    np.testing.assert_allclose(
        Average(parts, 1e-12).predict(TARGETS), fitted(points, values, noise).predict(TARGETS), rtol=1e-7
    )


def test_covariance_has_the_spread_on_its_diagonal():
    ours = fitted(*readings())
    mean, covariance = ours.joint(TARGETS)
    np.testing.assert_allclose(mean, ours.predict(TARGETS)[0], rtol=1e-8)
    np.testing.assert_allclose(np.diag(covariance), ours.predict(TARGETS)[1] ** 2, rtol=1e-7)
    assert np.linalg.eigvalsh(covariance).min() > -1e-9 * covariance.max()


@pytest.mark.parametrize("seed", range(3))
def test_joint_samples_agree_with_predict(seed):
    ours = fitted(*readings(seed))
    mean, std = ours.predict(TARGETS)
    samples = ours.sample(TARGETS, 4000, np.random.default_rng(seed))
    assert samples.shape == (4000, len(TARGETS))
    # A mean of 4000 scatters by std/√4000, a spread by 1/√8000 of itself: five of those for 40 places, and for a
    # correlation r by (1 - r²)/√4000.
    assert np.max(np.abs(samples.mean(axis=0) - mean) / std) < 5 / 4000**0.5
    np.testing.assert_allclose(samples.std(axis=0), std, rtol=5 / 8000**0.5)
    expected = ours.joint(TARGETS)[1] / np.outer(std, std)
    assert np.max(np.abs(np.corrcoef(samples.T) - expected)) < 5 / 4000**0.5


def test_nodes_that_hold_next_to_nothing_are_left_out():
    points, values, noise = readings()
    nodes = written_out(points, values, noise)
    weight = np.exp([node.log_evidence for node in nodes])
    weight /= weight.sum()
    largest = np.sort(weight)[::-1].cumsum()
    for left_out in (0.5, 0.1, 0.01):
        ours = fitted(points, values, noise, left_out)
        kept = len(ours.weights)
        assert largest[kept - 1] >= 1.0 - left_out - 1e-12
        assert kept == 1 or largest[kept - 2] < 1.0 - left_out
        assert ours.weights.sum() == pytest.approx(1.0)
        assert len(ours.parts) == kept


@pytest.mark.parametrize("rounding", [-1e-13, 0.0, 1e-13])
def test_rounding_does_not_decide_which_of_two_nodes_as_likely_is_kept(rounding):
    kept, weights = weighed(np.log([0.94, 0.02, 0.02, 0.02]) + [0.0, rounding, 0.0, -rounding], 0.03)
    assert kept.tolist() == [True, True, True, True]
    assert weights == pytest.approx([0.94, 0.02, 0.02, 0.02])
    kept, _ = weighed(np.log([0.9, 0.05, 0.05 + rounding]), 0.2)
    assert kept.tolist() == [True, False, False]


def test_readings_far_off_either_way_make_no_trouble():
    """Evidence of -10,000 is nothing that exp could hold."""
    points, values, noise = readings()
    ours = fitted(points, 1000.0 * values, noise)
    assert isinstance(ours, Average)
    assert all(np.all(np.isfinite(part)) for part in (*ours.predict(TARGETS), *ours.leave_one_out()))
