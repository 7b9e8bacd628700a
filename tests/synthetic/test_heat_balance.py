"""The heat balance of the make-believe grate against closed forms, conservation and its own refinement."""

from __future__ import annotations

import math

import numpy as np
import pytest
from perfect import draw_perfect

from heatmap.physics.planck import STEFAN_BOLTZMANN
from heatmap.synthetic.heat_balance import Plate, Surroundings


def small_plate(**changes) -> Plate:
    values = dict(
        width_mm=400.0,
        depth_mm=300.0,
        columns=16,
        rows=12,
        conductance_x_w_k=0.05,
        conductance_y_w_k=0.2,
        heat_capacity_j_m2k=14000.0,
    )
    return Plate(**(values | changes))


def uneven_heat(plate: Plate) -> np.ndarray:
    x, y = (plate.cells_mm / (plate.width_mm, plate.depth_mm)).T.reshape(2, plate.rows, plate.columns)
    return 9000.0 * (1.0 + 0.5 * np.sin(6.0 * x) + 0.3 * y)


BREEZE = Surroundings(air_k=297.0, convection_w_m2k=18.0, emissivity_area=0.9)


def march(
    plate: Plate, kelvin: np.ndarray, heat: np.ndarray, air: Surroundings, seconds: float, steps: int
) -> np.ndarray:
    for _ in range(steps):
        kelvin = plate.advance_k(kelvin, heat, air, seconds / steps)
    return kelvin


def test_steady_state_gives_away_what_it_gets() -> None:
    plate = small_plate()
    heat = uneven_heat(plate)
    kelvin = plate.steady_k(heat, BREEZE)
    assert plate.conduction_w_m2(kelvin).sum() == pytest.approx(0.0, abs=1e-8)
    assert BREEZE.loss_w_m2(kelvin).sum() == pytest.approx(heat.sum(), rel=1e-9)
    np.testing.assert_allclose(heat + plate.conduction_w_m2(kelvin), BREEZE.loss_w_m2(kelvin), rtol=1e-7)


def test_stored_heat_is_heat_in_minus_heat_out() -> None:
    """Over a warm-up, C ΔT summed over the plate equals the integral of what came in less what was lost."""
    plate, seconds, steps = small_plate(), 600.0, 600
    heat, kelvin = uneven_heat(plate), np.full((plate.rows, plate.columns), 297.0)
    start, net = kelvin, 0.0
    for _ in range(steps):
        before = (heat - BREEZE.loss_w_m2(kelvin)).sum()
        kelvin = plate.advance_k(kelvin, heat, BREEZE, seconds / steps)
        net += 0.5 * (before + (heat - BREEZE.loss_w_m2(kelvin)).sum()) * seconds / steps
    assert plate.heat_capacity_j_m2k * (kelvin - start).sum() == pytest.approx(net, rel=1e-5)


def test_published_lumped_warm_up() -> None:
    """Uniform plate, convection only: T − T_air = (q/h)(1 − exp(−h t/C)).

    Incropera et al., Fundamentals of Heat and Mass Transfer, section 5.3, equation 5.25 with radiation left out
    (from memory); exact, so the tolerance is that of a 5 s step.
    """
    plate = small_plate()
    air = Surroundings(air_k=297.0, convection_w_m2k=40.0, emissivity_area=0.0)
    heat = np.full((plate.rows, plate.columns), 10000.0)
    for seconds in (60.0, 300.0, 900.0):
        kelvin = march(plate, np.full_like(heat, 297.0), heat, air, seconds, int(seconds / 5))
        wanted = 297.0 + 10000.0 / 40.0 * (1.0 - math.exp(-40.0 * seconds / 14000.0))
        np.testing.assert_allclose(kelvin, wanted, atol=0.01)


def test_published_radiative_cooling() -> None:
    """Uniform plate that only radiates: time to cool from T_i to T.

    Incropera et al., section 5.3, equation 5.18 (from memory):
    t = C/(4 e σ T_s³) {ln|(T_s+T)/(T_s−T)| − ln|(T_s+T_i)/(T_s−T_i)| + 2[atan(T/T_s) − atan(T_i/T_s)]}.
    """
    plate, sky = small_plate(), 290.0
    air = Surroundings(air_k=sky, convection_w_m2k=0.0, emissivity_area=0.8)
    kelvin = march(
        plate,
        np.full((plate.rows, plate.columns), 700.0),
        np.zeros((plate.rows, plate.columns)),
        air,
        400.0,
        80,
    )
    final = float(kelvin[0, 0])

    def part(temperature: float) -> float:
        return math.log(abs((sky + temperature) / (sky - temperature))) + 2.0 * math.atan(temperature / sky)

    scale = plate.heat_capacity_j_m2k / (4.0 * 0.8 * STEFAN_BOLTZMANN * sky**3)
    assert scale * (part(final) - part(700.0)) == pytest.approx(400.0, rel=2e-4)


@pytest.mark.parametrize("along", ["x", "y"])
def test_published_fin_with_insulated_tip(along: str) -> None:
    """Heat enters one end only; the excess falls as cosh m(L − x)/cosh mL with m² = h/(k t).

    Incropera et al., section 3.6, table 3.4 case B (adiabatic tip; from memory). The end of the fin is the face
    between the heated cells and the rest; the scheme is second order, hence 0.2 % of the excess at the base.
    """
    cells = 200
    plate = small_plate(columns=cells, rows=2, conductance_x_w_k=0.2, conductance_y_w_k=0.2)
    if along == "y":
        plate = small_plate(
            width_mm=300.0,
            depth_mm=400.0,
            columns=2,
            rows=cells,
            conductance_x_w_k=0.2,
            conductance_y_w_k=0.2,
        )
    air = Surroundings(air_k=297.0, convection_w_m2k=30.0, emissivity_area=0.0)
    heat = np.zeros((plate.rows, plate.columns))
    heat[:, 0] = 1e5
    if along == "y":
        heat[:] = 0.0
        heat[0, :] = 1e5
    excess = plate.steady_k(heat, air) - 297.0
    line = excess[0] if along == "x" else excess[:, 0]
    centre_m = (np.arange(cells) + 0.5) * 0.4 / cells
    m, base = math.sqrt(30.0 / 0.2), centre_m[1]
    wanted = np.cosh(m * (0.4 - centre_m[1:])) / math.cosh(m * (0.4 - base))
    np.testing.assert_allclose(line[1:] / line[1], wanted, atol=2e-3)


def test_halving_the_step_quarters_the_error() -> None:
    plate = small_plate()
    heat, start = uneven_heat(plate), np.full((plate.rows, plate.columns), 420.0)
    fine = march(plate, start, heat, BREEZE, 240.0, 480)
    errors = [np.abs(march(plate, start, heat, BREEZE, 240.0, steps) - fine).max() for steps in (6, 12, 24)]
    assert errors[1] / errors[0] < 0.35 and errors[2] / errors[1] < 0.35
    assert errors[1] < 0.1  # the 20 s step of the rehearsal


def test_waiting_long_reaches_the_steady_state() -> None:
    plate = small_plate()
    heat = uneven_heat(plate)
    kelvin = march(plate, np.full((plate.rows, plate.columns), 297.0), heat, BREEZE, 7200.0, 360)
    np.testing.assert_allclose(kelvin, plate.steady_k(heat, BREEZE), atol=1e-3)


def test_finer_cells_change_little_and_less_each_time() -> None:
    maps = []
    for cell_mm in (50.8, 25.4, 12.7):
        grill = draw_perfect(4, cell_mm=cell_mm)
        points = [grill.grill.point_mm(label) for label in grill.grill.labels]
        maps.append(grill._at(grill.steady_truth_c(grill.start).reshape(grill.hidden.plate.rows, -1), np.array(points)))
    first, second = np.abs(maps[1] - maps[0]).max(), np.abs(maps[2] - maps[1]).max()
    assert second < 2.0 and second < 0.6 * first


def test_mirrored_heat_gives_a_mirrored_map() -> None:
    plate = small_plate()
    heat = uneven_heat(plate)
    np.testing.assert_allclose(plate.steady_k(heat[:, ::-1], BREEZE), plate.steady_k(heat, BREEZE)[:, ::-1], atol=1e-6)


def test_more_heat_is_hotter_everywhere() -> None:
    plate = small_plate()
    heat = uneven_heat(plate)
    more = heat.copy()
    more[3, 4] += 500.0
    assert (plate.steady_k(more, BREEZE) > plate.steady_k(heat, BREEZE)).all()
