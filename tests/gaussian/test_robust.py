"""Blunders, held against all that could be."""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pytest

from heatmap.gaussian import Average, Conditioned, fit_robustly, matern32
from textbook.field import Field

#: A grate of some 15 °C up and down over 250 mm, a level, readings to 2 °C.
FIELD = Field(
    lambda apart: matern32(np.hypot(*apart) / 250.0),
    15.0**2,
    columns=lambda points: np.full((len(points), 1), 50.0),
    level=280.0,
)
NOISE_C2 = 4.0
BLUNDER_CHANCE, BLUNDER_STD = 0.03, 60.0
#: Nodes: the field may be smoother or rougher than that, with the log prior of each.
NODES = tuple(
    (replace(FIELD, correlation=lambda apart, reach=reach: matern32(np.hypot(*apart) / reach)), log_prior)
    for reach, log_prior in ((180.0, -0.5), (250.0, 0.0), (400.0, -0.5))
)
ALONE = ((FIELD, 0.0),)


def honest(count, seed):
    """Return places and readings just as the prior and the noise have them."""
    rng = np.random.default_rng(seed)
    points = rng.uniform(0, 1, (count, 2)) * [500.0, 400.0]
    lower = np.linalg.cholesky(FIELD.covariance(points, points) + NOISE_C2 * np.eye(count))
    return points, FIELD.mean(points) + lower @ rng.standard_normal(count), rng


class Decided(NamedTuple):
    average: Average
    blunder_chance: np.ndarray

    @property
    def blunder(self):
        return self.blunder_chance > 0.5


def decided(points, values, trusted=False, nodes=ALONE):
    def fit(noise_variance):
        return Average([Conditioned(one, points, values, noise_variance, told) for one, told in nodes], 1e-12)

    noise_variance = np.full(len(values), NOISE_C2)
    trusted = np.broadcast_to(trusted, len(values))
    return Decided(*fit_robustly(fit, noise_variance, trusted, chance=BLUNDER_CHANCE, std=BLUNDER_STD))


def all_cases(points, values, nodes):
    """Return every way in which readings could be blunders, (2^n, n), with the log of its probability."""
    states = np.array(list(itertools.product((False, True), repeat=len(values))))
    logs = []
    for state in states:
        noise_variance = NOISE_C2 + np.where(state, BLUNDER_STD**2, 0.0)
        log_evidence = np.array(
            [Conditioned(one, points, values, noise_variance, told).log_evidence for one, told in nodes]
        )
        prior = np.where(state, np.log(BLUNDER_CHANCE), np.log(1.0 - BLUNDER_CHANCE)).sum()
        logs.append(prior + np.log(np.exp(log_evidence).sum()))
    return states, np.array(logs)


@pytest.mark.parametrize("nodes", [ALONE, NODES], ids=["alone", "three nodes"])
@pytest.mark.parametrize("seed", range(15))
def test_agrees_with_all_cases_written_out(seed, nodes):
    """Six readings, none to two of them blunders: 64 cases. The likeliest is found; the chance of each reading, the
    others being what they are held for, follows from two of the 64; with them uncertain it is much the same."""
    points, values, rng = honest(6, seed)
    bad = rng.choice(6, rng.integers(0, 3), replace=False)
    values[bad] += rng.choice([-1, 1], len(bad)) * rng.uniform(30.0, 120.0, len(bad))
    states, logs = all_cases(points, values, nodes)
    found = decided(points, values, nodes=nodes)
    np.testing.assert_array_equal(found.blunder, states[np.argmax(logs)])
    for i in range(6):
        others = np.arange(6) != i
        blunder, good = (
            logs[np.all(states[:, others] == found.blunder[others], axis=1) & (states[:, i] == called)][0]
            for called in (True, False)
        )
        assert found.blunder_chance[i] == pytest.approx(1.0 / (1.0 + np.exp(good - blunder)), rel=1e-6, abs=1e-12)
    weight = np.exp(logs - logs.max())
    exact = weight @ states / weight.sum()
    # half of what stands between a blunder and none: the chance may not be read the other way
    assert np.all(np.abs(found.blunder_chance - exact) < 0.5)
    assert np.mean(np.abs(found.blunder_chance - exact)) < 0.1


def test_a_blunder_is_found_and_honest_readings_are_not_accused():
    """Of honest readings at most 1 in 100 are; their chance is what a tail of the normal and 0.03 make of it."""
    accused = found = beside = 0
    for seed in range(40):
        points, values, rng = honest(24, seed)
        accused += decided(points, values).blunder.sum()
        bad = rng.integers(24)
        values[bad] += rng.choice([-1, 1]) * 60.0
        blunder = decided(points, values).blunder
        found += blunder[bad]
        beside += blunder.sum() - blunder[bad]
    assert accused <= 0.01 * 40 * 24
    assert beside <= 0.01 * 40 * 23
    assert found >= 38


def test_two_blunders_side_by_side_are_found():
    """Each is what the other foretells; nobody else is accused in their stead."""
    both = others = 0
    for seed in range(40):
        points, values, rng = honest(24, 100 + seed)
        one = rng.integers(24)
        pair = np.argsort(np.hypot(*(points - points[one]).T))[:2]
        values[pair] += rng.choice([-1, 1]) * rng.uniform(40.0, 100.0)
        blunder = decided(points, values).blunder
        both += blunder[pair].all()
        others += blunder.sum() - blunder[pair].sum()
    assert both >= 38
    assert others <= 0.01 * 40 * 22


def test_trusted_readings_are_never_accused():
    points, values, _ = honest(24, 0)
    values[3] += 80.0
    assert decided(points, values).blunder[3]
    trusted = np.arange(24) == 3
    found = decided(points, values, trusted)
    assert found.blunder_chance[3] == 0.0
    everyone = decided(points, values, True)
    assert not everyone.blunder_chance.any()
    plain = Conditioned(FIELD, points, values, np.full(24, NOISE_C2))
    np.testing.assert_allclose(everyone.average.predict(points)[0], plain.predict(points)[0])


def test_a_trusted_reading_that_contradicts_accuses_nobody():
    """The others are judged as if it were a blunder; the map goes through it all the same."""
    for seed in range(20):
        points, values, rng = honest(24, seed)
        one = int(rng.integers(24))
        accused = decided(points, values).blunder
        values[one] += 80.0
        trusted = np.arange(24) == one
        found = decided(points, values, trusted)
        assert not (found.blunder & ~accused).any()
        held = decided(points, values).average.predict(points[[one]])[0][0]
        assert found.average.predict(points[[one]])[0][0] - held > 20.0


def test_a_blunder_hardly_moves_the_map():
    """It is held as loosely as a reading to 60 °C: nearly as if it had not been taken."""
    points, values, _ = honest(24, 1)
    kept = np.arange(24) != 5
    without = Conditioned(FIELD, points[kept], values[kept], np.full(23, NOISE_C2))
    values[5] += 100.0
    mean, std = decided(points, values).average.predict(points)
    expected, variance = without.predict(points)
    assert np.max(np.abs(mean - expected) / std) < 0.5
    np.testing.assert_allclose(std**2, variance, rtol=0.1)


def test_far_off_is_as_plain_as_it_gets():
    points, values, _ = honest(12, 2)
    values[4] += 500.0  # a digit more or less in what was typed
    found = decided(points, values)
    assert found.blunder_chance[4] == pytest.approx(1.0)
    assert found.blunder.sum() == 1
