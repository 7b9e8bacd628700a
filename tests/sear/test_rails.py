"""How long rails need after a turn."""

import math

import numpy as np
import pytest

from heatmap.sear import Rails
from textbook.plane_wall import lumped_temperature

RAILS = Rails(rail_c=315.0, share=1.0 / 3.0, pitch_mm=19.05, height_mm=12.7)


def long_bar_drop(area_m2, perimeter_m, covered_m=0.150, cells=1200, length_m=1.5):
    """Return the mean drop under food that draws steadily, as a share of what the film alone would leave."""
    width = length_m / cells
    between = 52.0 * area_m2 / width
    film = 40.0 * perimeter_m * width
    matrix = np.diag(np.full(cells, film + 2.0 * between))
    matrix -= between * (np.eye(cells, k=1) + np.eye(cells, k=-1))
    matrix[0, 0] -= between
    matrix[-1, -1] -= between
    covered = np.abs(np.arange(cells) - cells / 2 + 0.5) * width < covered_m / 2.0
    return np.linalg.solve(matrix, covered * film)[covered].mean()


def test_agrees_with_a_long_bar_cooled_in_its_middle():
    # a bar 6.35 mm wide and 12.7 mm high, three sides in air at 40 W/(m² K), cooled steadily over 150 mm of it
    area_m2, perimeter_m = 6.35e-3 * 12.7e-3, 6.35e-3 + 2.0 * 12.7e-3
    tau = 7272.0 * 420.0 * area_m2 / (40.0 * perimeter_m) * long_bar_drop(area_m2, perimeter_m)
    assert RAILS.recovery_time_constant_s == pytest.approx(tau, rel=0.005)


def test_agrees_with_a_lumped_bar():
    tau = RAILS.recovery_time_constant_s
    low_s, high_s = RAILS.recovery_s(40.0)
    middle_s = math.sqrt(low_s * high_s)
    at = lumped_temperature(middle_s, start_c=275.0, fluid_c=315.0, time_constant_s=tau)
    assert 315.0 - float(at) == pytest.approx(10.0 / 1.8)
    assert high_s == pytest.approx(4.0 * low_s)  # a factor of two either way


def test_heavier_rails_store_more_and_come_back_slower():
    heavy = Rails(rail_c=315.0, height_mm=25.4)
    assert heavy.heat_capacity_j_m2k == pytest.approx(2.0 * RAILS.heat_capacity_j_m2k)
    assert heavy.recovery_s(40.0)[0] > RAILS.recovery_s(40.0)[0]


def test_no_drop_needs_no_wait():
    assert RAILS.recovery_s(2.0) == (0.0, 0.0)
