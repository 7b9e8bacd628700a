"""The heat scale and the patterns of the burners."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate

from heatmap.grate_model.response import (
    BEND_MEAN,
    BEND_SD,
    LOWEST_SHARE,
    PER_BURNER,
    HeatScale,
    Response,
    bend,
    pattern,
)
from heatmap.grill.burner import Burner
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, TargetBand


def grill_of(*burners: Burner, units: str = "us") -> Grill:
    return Grill(
        grate=Grate(width_mm=600.0, depth_mm=450.0),
        target=TargetBand(low_c=290.0, high_c=315.0),
        burners=burners,
        units=units,
    )


LEFT = Burner(name="left", points_mm=((100.0, 25.0), (100.0, 425.0)))
RIGHT = Burner(name="right", points_mm=((500.0, 25.0), (500.0, 425.0)))


def test_heat_scale_rises_by_one_per_degree_mid_band_and_is_zero_in_air() -> None:
    scale = HeatScale(air_c=24.0, middle_c=302.0)
    assert scale.heat(np.array([24.0]))[0] == pytest.approx(0.0, abs=1e-12)
    assert np.diff(scale.heat(np.array([301.95, 302.05])))[0] == pytest.approx(0.1, rel=1e-4)


def test_heat_scale_comes_back() -> None:
    scale, celsius = HeatScale(air_c=20.0, middle_c=300.0), np.linspace(30.0, 600.0, 200)
    np.testing.assert_allclose(scale.celsius(scale.heat(celsius)), celsius, atol=0.01)


def test_agrees_with_an_integral_over_a_line_of_small_sources() -> None:
    """A small source a height h below a plane heats it with cos θ / r² ∝ h / (ρ² + h²)^(3/2).

    The inverse square and cosine law: R. Siegel, J. R. Howell, Thermal Radiation Heat Transfer, chapter on
    configuration factors between differential elements (from memory). Here integrated along the tube by quadrature.
    """
    points = np.array([[100.0, 225.0], [200.0, 225.0], [350.0, 100.0], [100.0, 10.0]])

    def heat(x: float, y: float, reach: float) -> float:
        return integrate.quad(lambda s: (1 + ((x - 100.0) ** 2 + (y - s) ** 2) / reach**2) ** -1.5, 25.0, 425.0)[0]

    patterns = pattern(grill_of(LEFT).grate, LEFT.points_mm, 100.0, points.tobytes())
    for row, reach in ((0, 100.0), (1, 200.0)):
        wanted = np.array([heat(x, y, reach) for x, y in points])
        np.testing.assert_allclose(patterns[row] / patterns[row, 0], wanted / wanted[0], rtol=2e-3)


def test_patterns_share_the_heat_of_the_grate() -> None:
    grill = grill_of(LEFT, RIGHT)
    x_mm, y_mm = grill.grate.cells_mm(25.4)
    cells = np.column_stack([axis.ravel() for axis in np.meshgrid(x_mm, y_mm)])
    patterns = pattern(grill.grate, LEFT.points_mm, 90.0, cells.tobytes())
    np.testing.assert_allclose(patterns[[0, 1, 2, 4]].mean(axis=1), 1.0, rtol=0.02)
    assert patterns[3].mean() == pytest.approx(0.0, abs=1e-6)


def test_mirrored_burner_gives_mirrored_pattern() -> None:
    grill, points = grill_of(LEFT, RIGHT), np.array([[150.0, 100.0], [420.0, 330.0]])
    mirrored = points * [-1.0, 1.0] + [600.0, 0.0]
    left = pattern(grill.grate, LEFT.points_mm, 90.0, points.tobytes())
    right = pattern(grill.grate, RIGHT.points_mm, 90.0, mirrored.tobytes())
    np.testing.assert_allclose(left, right, rtol=1e-9)


def test_the_bend_of_a_knob_is_that_of_valves_from_a_square_root_to_a_square() -> None:
    """Heat as a power of the opening: its slope in the exponent at 1, and both ends within three deviations."""
    opening = np.linspace(0.0, 1.0, 11)
    np.testing.assert_allclose(bend(opening), (opening**0.999 - opening**1.001) / 0.002, atol=1e-6)
    for exponent in (0.5, 2.0):
        needed = (opening**exponent - opening) @ bend(opening) / (bend(opening) @ bend(opening))
        assert 1.0 < abs(needed) / BEND_SD < 3.0


def test_prior_puts_all_heat_on_the_burners() -> None:
    """Lowest flame plus what the knobs add makes the mean that was seen; so the slope is that of the formula."""
    response = Response(grill_of(LEFT, RIGHT), 180.0, np.array([0.4, 0.6]), 90.0)
    points = np.column_stack([axis.ravel() for axis in np.meshgrid(np.arange(25.0, 600, 50), np.arange(25.0, 450, 50))])

    def mean_at(*openings: float) -> float:
        rows = response.design(response.patterns(points), np.tile(openings, (len(points), 1)))
        return float((rows @ response.weight_mean).mean())

    assert mean_at(0.4, 0.6) == pytest.approx(180.0, rel=0.03)
    rise = mean_at(1.0, 1.0) - mean_at(0.0, 0.0)
    opened = np.mean([opening - BEND_MEAN * opening * np.log(opening) for opening in (0.4, 0.6)])
    assert rise == pytest.approx(180.0 / (opened + LOWEST_SHARE / (1 - LOWEST_SHARE)), rel=0.03)
    assert response.weight_cov.shape == (2 * PER_BURNER, 2 * PER_BURNER)
    assert np.linalg.eigvalsh(response.weight_cov).min() > -1e-8


def test_rise_per_mark_overstates_the_slope_by_about_two() -> None:
    """Common practice, no source: the rise per mark of a first map overstates the slope 1.4 to 2.9 times."""
    knob = Burner(name="one", points_mm=((0.0, 225.0), (600.0, 225.0)), low=1.0, high=10.0)
    grill, mean_c, mark = grill_of(knob), 302.0, 5.5
    scale = HeatScale(air_c=grill.surroundings.air_c, middle_c=302.5)
    response = Response(grill, float(scale.heat(np.array([mean_c]))[0]), np.array([knob.fraction(mark)]), 90.0)
    slope = response.strengths[0] / (knob.high - knob.low)  # one heat degree is one °C mid-band
    assert 1.4 <= (mean_c - grill.surroundings.air_c) / mark / slope <= 2.9


def test_a_degree_of_setpoint_is_a_degree() -> None:
    knob = Burner(name="pellets", control="setpoint", low=200.0, high=600.0, step=5.0)
    response = Response(grill_of(knob), 180.0, np.array([0.5]), 90.0)
    assert response.strengths[0] == pytest.approx(400.0 / 1.8)
    in_celsius = Response(grill_of(knob, units="si"), 180.0, np.array([0.5]), 90.0)
    assert in_celsius.strengths[0] == pytest.approx(400.0)


@pytest.mark.parametrize("first", [True, False])
def test_what_is_believed_of_a_knob_beside_a_setpoint_is_a_covariance(first: bool) -> None:
    """It equals its transpose, and the root of it that samples are drawn by gives it back."""
    pellets = Burner(name="pellets", control="setpoint", low=200.0, high=600.0, step=5.0)
    grill = grill_of(*((pellets, LEFT) if first else (LEFT, pellets)))
    response = Response(grill, 290.0, np.array([0.5, 0.4]), 120.0)
    np.testing.assert_allclose(response.weight_cov, response.weight_cov.T, rtol=1e-12)
    factor = response.weight_factor
    np.testing.assert_allclose(factor @ factor.T, response.weight_cov, rtol=1e-6, atol=1e-3)
