"""How fast a grate rises, from positions that were shot more than once."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from heatmap.grill.grill import Gun
from heatmap.readings.reading import Reading
from heatmap.taking.preheat import rise

START = datetime(2031, 6, 14, 13, 0, tzinfo=UTC)


def shots(rate_c_per_min, minutes, *, noise_c=0.0, seed=0):
    """Two positions in turn, 40 °C apart, both rising."""
    rng = np.random.default_rng(seed)
    return [
        Reading(
            id=index,
            shown_c=250.0 + 40.0 * (index % 2) + rate_c_per_min * minute + noise_c * rng.standard_normal(),
            x_mm=0.0,
            y_mm=0.0,
            position=("B2", "A1")[index % 2],
            taken_at=START + timedelta(minutes=minute),
        )
        for index, minute in enumerate(minutes)
    ]


def test_a_steady_rise_is_found_exactly_and_the_places_do_not_matter():
    found = rise(shots(5.0, [0.0, 0.2, 1.0, 1.2]), Gun())
    assert found.per_minute_c == pytest.approx(5.0)
    assert found.is_rising
    assert not found.is_steady


def test_agrees_with_a_fit_of_two_levels_and_one_slope():
    readings = shots(3.0, np.linspace(0.0, 2.0, 8), noise_c=2.0, seed=3)
    second = np.arange(8) % 2
    design = np.column_stack([1 - second, second, np.linspace(0.0, 2.0, 8)])
    slope = np.linalg.lstsq(design, np.array([one.shown_c for one in readings]), rcond=None)[0][2]
    assert rise(readings, Gun()).per_minute_c == pytest.approx(slope)


def test_its_standard_deviation_is_what_repeated_rounds_show():
    gun = Gun(repeatability_percent=0.5, display_step_c=0.0)
    minutes = np.linspace(0.0, 2.0, 8)
    found = [rise(shots(0.0, minutes, noise_c=0.005 * 270.0, seed=seed), gun) for seed in range(400)]
    assert np.std([one.per_minute_c for one in found]) == pytest.approx(found[0].std_c, rel=0.12)


def test_a_settled_grate_is_steady_once_the_shots_span_long_enough():
    assert not rise(shots(0.0, [0.0, 0.1, 0.2, 0.3]), Gun()).is_steady
    assert rise(shots(0.2, [0.0, 0.3, 0.6, 0.9, 1.2, 1.5, 1.8, 2.1]), Gun()).is_steady


def test_old_shots_do_not_count():
    early, late = shots(20.0, [0.0, 0.2, 1.0, 1.2]), shots(0.0, [10.0, 10.5, 11.0, 11.5, 12.0])
    assert abs(rise(early + late, Gun()).per_minute_c) < 1e-6


def test_nothing_is_said_without_a_repeat_or_without_times():
    assert rise([], Gun()) is None
    assert rise(shots(5.0, [0.0, 1.0]), Gun()) is None
    assert rise(shots(5.0, [0.0, 0.01, 0.02, 0.03]), Gun()) is None
