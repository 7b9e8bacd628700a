"""How long rails need after a turn."""

import math

import pytest

from heatmap.errors import InputError
from heatmap.sear import Rails, recovery
from textbook.plane_wall import lumped_temperature

RAILS = Rails(rail_c=315.0, share=1.0 / 3.0, pitch_mm=19.05, height_mm=12.7)


def test_agrees_with_a_lumped_bar():
    # a bar 6.35 mm wide and 12.7 mm high, three sides in air at 40 W/(m² K): τ = ρ c A/(h P)
    area_m2, perimeter_m = 6.35e-3 * 12.7e-3, 6.35e-3 + 2.0 * 12.7e-3
    tau = 7272.0 * 420.0 * area_m2 / (40.0 * perimeter_m)
    assert RAILS.recovery_time_constant_s == pytest.approx(tau, rel=1e-9)
    back = recovery(RAILS, 40.0)
    at = lumped_temperature(back.wait_s, start_c=275.0, fluid_c=315.0, time_constant_s=RAILS.recovery_time_constant_s)
    assert 315.0 - float(at) == pytest.approx(back.within_c)


def test_heavier_rails_store_more_and_come_back_slower():
    heavy = Rails(rail_c=315.0, height_mm=25.4)
    assert heavy.heat_capacity_j_m2k == pytest.approx(2.0 * RAILS.heat_capacity_j_m2k)
    assert recovery(heavy, 40.0).wait_s > recovery(RAILS, 40.0).wait_s


def test_a_range_comes_with_it_and_no_drop_needs_no_wait():
    back = recovery(RAILS, 40.0)
    assert back.wait_low_s < back.wait_s < back.wait_high_s
    assert back.wait_s == pytest.approx(RAILS.recovery_time_constant_s * math.log(40.0 * 1.8 / 10.0))
    assert recovery(RAILS, 2.0).wait_s == 0.0


def test_negative_drops_are_refused():
    with pytest.raises(InputError, match="drop_c is -1; it must not be negative"):
        recovery(RAILS, -1.0)
    with pytest.raises(InputError, match="within_c is 0; it must be above 0"):
        recovery(RAILS, 10.0, within_c=0.0)
