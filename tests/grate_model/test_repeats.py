"""Many shots at one place in one round."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest

from heatmap.grate_model import round_spots
from heatmap.grate_model.model import GrateModel
from heatmap.grate_model.round_spots import MOST_REPEATS, AllSpots, RoundSpots
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, TargetBand

GRILL = Grill(grate=Grate(width_mm=600.0, depth_mm=450.0), target=TargetBand(low_c=290.0, high_c=315.0))
PLACES = np.array([(x, y) for y in (75.0, 225.0, 375.0) for x in (75.0, 225.0, 375.0, 525.0)])


def shot_often(times: int, *, seed: int = 1, off: dict[int, float] | None = None) -> RoundSpots:
    """Every place so many times, 3 °C of scatter; some shots (by index) off by so much."""
    random = np.random.default_rng(seed)
    points = np.repeat(PLACES, times, axis=0)
    rail_c = 300.0 + 0.05 * (points[:, 0] - 300.0) + random.normal(0.0, 3.0, len(points))
    for index, by_c in (off or {}).items():
        rail_c[index] += by_c
    count = len(points)
    return RoundSpots(
        number=1,
        group=("day", "open", "dry"),
        settings={},
        marks_known=False,
        points_mm=points,
        rail_c=rail_c,
        shot_std_c=np.full(count, 3.0),
        place_std_c=np.full(count, 2.0),
        minutes=random.permutation(np.linspace(-2.0, 2.0, count)),
        trusted=np.zeros(count, dtype=bool),
    )


def test_few_repeats_are_left_as_they_are() -> None:
    one = shot_often(MOST_REPEATS)
    merged = AllSpots([one])
    np.testing.assert_array_equal(merged.rail_c, one.rail_c)
    np.testing.assert_array_equal(merged.member, np.arange(len(one.rail_c)))


def test_agrees_with_the_fit_of_every_shot(monkeypatch: pytest.MonkeyPatch) -> None:
    """The mean of repeats with its own variance says all that they say of the surface, and their scatter is kept for
    what it says of the noise; but no mean is better known than a shot can be.
    """
    one = shot_often(9)
    one = replace(one, trusted=np.ones(len(one.rail_c), dtype=bool))
    mean_c, std_c = GrateModel(GRILL, [one]).surface(1).predict(PLACES)
    monkeypatch.setattr(round_spots, "MOST_REPEATS", 1000)
    every_c, every_std_c = GrateModel(GRILL, [one]).surface(1).predict(PLACES)
    np.testing.assert_allclose(mean_c, every_c, atol=1.0)  # the standard error of nine shots of 3 °C
    assert (std_c > 0.95 * every_std_c).all()
    assert std_c.mean() < 1.3 * every_std_c.mean()


def test_scatter_explains_repeats_as_normal_noise_does(monkeypatch: pytest.MonkeyPatch) -> None:
    """The likelihood of all shots is that of their mean times that of their deviations, up to what does not depend on
    the noise (W. G. Cochran, Mathematical Proceedings of the Cambridge Philosophical Society 30 (1934) 178, from
    memory).
    """
    one = shot_often(9)
    monkeypatch.setattr(round_spots, "MOST_SPARE", 1000)
    merged = AllSpots([one])

    def log_density(off: np.ndarray, std: np.ndarray) -> float:
        return float((-0.5 * np.square(off / std) - np.log(std)).sum())

    def lost(noise: float) -> float:
        every = log_density(one.rail_c - merged.rail_c[merged.member] - 1.0, noise * one.shot_std_c)
        return every - log_density(np.full(len(merged.rail_c), -1.0), noise * merged.shot_std_c)

    gain = merged.log_likelihood(0.7) - merged.log_likelihood(1.6)
    assert gain == pytest.approx(lost(0.7) - lost(1.6), rel=1e-9)


def test_a_blunder_among_many_is_named_and_moves_nothing() -> None:
    fair, odd = shot_often(20), shot_often(20, off={45: 200.0})
    found = GrateModel(GRILL, [odd])
    assert np.flatnonzero(found.blunder_chance > 0.5).tolist() == [45]
    fair_c, odd_c = (GrateModel(GRILL, [one]).surface(1).mean(PLACES) for one in (fair, odd))
    np.testing.assert_allclose(odd_c, fair_c, atol=0.5)


def test_what_the_cook_insists_on_is_not_left_out() -> None:
    odd = shot_often(20, off={45: 200.0})
    odd = replace(odd, trusted=np.arange(len(odd.rail_c)) == 45)
    assert not AllSpots([odd]).left_out.any()


def test_thousands_of_shots_cost_little_more_than_hundreds() -> None:
    def cost_s(times: int) -> float:
        one = shot_often(times)
        start = time.process_time()
        GrateModel(GRILL, [one])
        return time.process_time() - start

    assert min(cost_s(2000) for _ in range(2)) < 5.0 * min(cost_s(20) for _ in range(3))
