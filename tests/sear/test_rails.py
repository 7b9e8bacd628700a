"""How long rails need after a turn."""

import itertools
import math

import numpy as np
import pytest

from heatmap.errors import InputError
from heatmap.grill.grate import Grate, Positions
from heatmap.grill.grill import Food, Grill, TargetBand
from heatmap.sear import Rails
from textbook.plane_wall import lumped_temperature

#: A piece 130 mm across on a plate of 304 mm, as squares.
DISCS = {"covered_mm": 130.0 * math.sqrt(0.25 * math.pi), "plate_mm": 304.0 * math.sqrt(0.25 * math.pi)}
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


@pytest.mark.parametrize(
    ("grate", "area_mm2"),
    [
        (Grate(width_mm=500.0, depth_mm=300.0, surface="plate"), 500.0 * 300.0),
        (Grate(shape="round", width_mm=400.0, depth_mm=400.0, surface="plate"), math.pi * 200.0**2),
    ],
)
def test_the_plate_of_a_grill_is_as_large_as_its_grate(grate, area_mm2):
    rails = Rails.of(Grill(grate=grate, target=TargetBand(low_c=290.0, high_c=315.0)), 300.0)
    assert rails.is_plate and rails.keeps_juice
    assert rails.plate_mm**2 == pytest.approx(area_mm2)


def test_iron_beside_agrees_with_a_disc_in_rings():
    # heat leaves a disc evenly and enters the ring around it evenly: conduction between 4,000 rings of a plate
    plate, outer, rings = Rails(rail_c=230.0, share=1.0, height_mm=5.0, **DISCS), 0.152, 4000
    edges = np.linspace(0.0, outer, rings + 1)
    areas, middle = np.pi * np.diff(edges**2), 0.5 * (edges[1:] + edges[:-1])
    under = np.clip((0.065 - edges[:-1]) / np.diff(edges), 0.0, 1.0) * areas
    leaves = under / under.sum() - (areas - under) / (areas - under).sum()  # 1 W, disc to ring
    gradient = np.cumsum(leaves)[:-1] / (2.0 * np.pi * edges[1:-1] * 52.0 * 0.005)
    drop = -np.concatenate([[0.0], np.cumsum(gradient * np.diff(middle))])
    apart = -(drop * leaves).sum()
    assert plate.conduction_time_constant_s == pytest.approx(
        7272.0 * 420.0 * 0.005 * np.pi * 0.065**2 * abs(apart), rel=1e-3
    )


def test_comes_back_with_the_iron_beside_it_in_the_mean_time_told():
    plate = Rails(rail_c=230.0, share=1.0, height_mm=5.0, **DISCS)
    fire, along, beside = 1.0 / plate.fire_time_constant_s, 1.0 / plate.conduction_time_constant_s, plate.iron_beside
    rates = np.array([[fire + along, -along], [-along / beside, fire + along / beside]])
    # the integral over all time of what is left of a drop of 1 °C under the food is (1, 0) of the inverse
    assert plate.recovery_time_constant_s == pytest.approx(np.linalg.inv(rates)[0, 0])


def test_a_plate_no_larger_than_the_food_comes_back_by_the_fire_alone():
    small = Rails(rail_c=230.0, share=1.0, plate_mm=150.0)
    assert small.recovery_time_constant_s == pytest.approx(small.fire_time_constant_s, rel=0.06)


@pytest.mark.parametrize("given", [{"covered_mm": 0.0}, {"plate_mm": math.nan}])
def test_sizes_that_cannot_be_are_refused(given):
    with pytest.raises(InputError, match="it must be from 10 mm to"):
        Rails(rail_c=230.0, **given)


def test_any_food_that_a_grill_file_allows_has_rails_under_it():
    """Food from 1 by 1 to 40 by 40 in, the limits of its key, on a small plate and a large one."""
    for size_mm, side_mm in itertools.product((25.4, 1016.0), (50.0, 300.0)):
        grate = Grate(width_mm=side_mm, depth_mm=side_mm, rim_mm=0.0, surface="plate")
        said = {"positions": Positions(margin_mm=10.0), "food": Food(size_mm=(size_mm, size_mm))}
        rails = Rails.of(Grill(grate=grate, target=TargetBand(low_c=290.0, high_c=315.0), **said), 300.0)
        assert 0.0 < rails.recovery_time_constant_s <= rails.fire_time_constant_s


@pytest.mark.parametrize("surface", ["rails", "plate"])
def test_under_small_food_iron_comes_back_sooner(surface):
    grate = Grate(width_mm=600.0, depth_mm=450.0, surface=surface)
    small, usual = (
        Rails.of(Grill(grate=grate, target=TargetBand(low_c=290.0, high_c=315.0), food=Food(size_mm=size_mm)), 300.0)
        for size_mm in ((75.0, 50.0), (190.5, 127.0))
    )
    assert small.covered_mm**2 == pytest.approx(75.0 * 50.0)
    assert small.recovery_time_constant_s < 0.7 * usual.recovery_time_constant_s


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
