"""Radiation of a blackbody in a band, against constants, tables and quadrature."""

from __future__ import annotations

import csv
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import constants, integrate

from heatmap.errors import InputError
from heatmap.physics import planck
from textbook.blackbody import band_radiance_by_series, blackbody_fraction

REFERENCE = Path(__file__).parents[1] / "reference"


def reference_rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def by_id(row: dict[str, str]) -> str:
    return row["id"]


def quadrature(kelvin: float, low_um: float, high_um: float) -> float:
    """Band radiance from Planck's law and scipy.constants alone, in steps of at most 1 µm."""

    def per_um(wavelength_um: float) -> float:
        metres = wavelength_um * 1e-6
        exponent = constants.h * constants.c / (metres * constants.k * kelvin)
        return 2e-6 * constants.h * constants.c**2 / metres**5 / np.expm1(exponent)

    cuts = np.linspace(low_um, high_um, max(2, int(np.ceil(high_um - low_um)) + 1))
    parts = [
        integrate.quad(per_um, a, b, epsabs=0.0, epsrel=1e-13)[0] for a, b in zip(cuts[:-1], cuts[1:], strict=True)
    ]
    return float(np.sum(parts))


# --- Constants ------------------------------------------------------------------------------------

OURS = {
    "h": planck.PLANCK_CONSTANT,
    "c": planck.SPEED_OF_LIGHT,
    "k": planck.BOLTZMANN_CONSTANT,
    "c1": np.pi * planck.FIRST_RADIATION_CONSTANT,
    "c1L": planck.FIRST_RADIATION_CONSTANT,
    "c2": planck.SECOND_RADIATION_CONSTANT,
    "sigma": planck.STEFAN_BOLTZMANN,
}


@pytest.mark.parametrize("row", [row for row in reference_rows("constants.csv") if row["name"] in OURS], ids=by_id)
def test_published_constants(row):
    # CODATA 2018/2022 and the SI definition, each row with its source; a tolerance of 0 means exact.
    relative = float(row["tolerance"])
    assert OURS[row["name"]] == pytest.approx(float(row["value"]), rel=max(relative, 1e-16), abs=0.0)


def test_published_wien_displacement_is_where_the_spectrum_peaks():
    # constants.csv K-08, CODATA: b = 2.897771955e-3 m K. The peak of L_λ at 500 K by three points around it.
    (row,) = (row for row in reference_rows("constants.csv") if row["name"] == "wien_b")
    peak = float(row["value"]) * 1e6 / 500.0
    left, middle, right = planck._spectral_radiance(peak * np.array([1 - 1e-4, 1.0, 1 + 1e-4]), np.array(500.0))
    assert middle > left
    assert middle > right
    # a parabola through the three points has its top at the middle to within a thousandth of the step
    assert 0.5 * (left - right) / (left - 2 * middle + right) == pytest.approx(0.0, abs=1e-3)


# --- Blackbody fraction ---------------------------------------------------------------------------


@pytest.mark.parametrize("row", reference_rows("blackbody_fraction.csv"), ids=by_id)
def test_agrees_with_series_of_forty_digits(row):
    # value column: polylogarithm series in mpmath, 40 digits.
    fraction = blackbody_fraction(float(row["lambdaT_um_K"]))
    assert fraction == pytest.approx(float(row["value"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize(
    "row",
    [row for row in reference_rows("blackbody_fraction.csv") if "misprint" not in (row["note"] or "")],
    ids=by_id,
)
def test_published_blackbody_fraction(row):
    # Blackbody radiation functions, Incropera et al. table 12.1 or 12.2 by edition; Siegel & Howell,
    # appendix. The printed table was made with older constants and is high by up to 5e-5; half the last
    # digit on top.
    fraction = blackbody_fraction(float(row["lambdaT_um_K"]))
    assert fraction == pytest.approx(float(row["printed_textbook"]), abs=6e-5)


def test_blackbody_fraction_ends():
    # Far beyond the peak what is left of ∫ x³/(eˣ − 1) is x³/3 − x⁴/8 + …, x = c2/λT (Rayleigh and Jeans).
    x = planck.SECOND_RADIATION_CONSTANT_UM_K / 5e5
    assert blackbody_fraction(5e5) == pytest.approx(1.0 - 15.0 / np.pi**4 * (x**3 / 3.0 - x**4 / 8.0), abs=1e-9)
    assert blackbody_fraction(1.0) == pytest.approx(0.0, abs=1e-100)


@pytest.mark.parametrize(
    ("band", "kelvin"),
    [
        ((8.0, 14.0), np.geomspace(3.0, 1e6, 400)),
        ((8.0, 8.01), np.linspace(100.0, 3000.0, 100)),
        ((0.5, 0.7), np.linspace(140.0, 6000.0, 100)),
        ((0.5, 1000.0), np.geomspace(0.3, 1e4, 400)),
    ],
)
def test_agrees_with_the_series_of_the_textbooks(band, kelvin):
    # Siegel & Howell's two series, which meet at c2/λT = 2.
    np.testing.assert_allclose(
        planck._exact_band_radiance(kelvin, *band), band_radiance_by_series(kelvin, *band), rtol=1e-12
    )


# --- Band radiance --------------------------------------------------------------------------------


@pytest.mark.parametrize("row", reference_rows("band_radiance.csv"), ids=by_id)
def test_agrees_with_reference_band_radiance(row):
    # Planck's law over the band (Incropera eqs 12.28-12.29 by edition): mpmath series, 40 digits, and
    # quadrature.
    band = float(row["lambda1_um"]), float(row["lambda2_um"])
    kelvin = float(row["T_K"])
    radiance = planck.band_radiance(kelvin, *band)
    assert radiance == pytest.approx(float(row["value"]), rel=float(row["tolerance"]))
    share = radiance / (planck.STEFAN_BOLTZMANN * kelvin**4 / np.pi)
    assert share == pytest.approx(float(row["fraction"]), rel=1e-10)


@pytest.mark.parametrize("band", [(8.0, 14.0), (7.5, 13.0), (3.0, 5.0), (8.0, 8.2), (2.0, 2.6), (0.7, 40.0)])
def test_agrees_with_quadrature(band):
    kelvin = np.array([250.0, 273.15, 320.0, 451.0, 575.0, 700.0, 899.0, 1100.0])
    expected = [quadrature(temperature, *band) for temperature in kelvin]
    np.testing.assert_allclose(planck.band_radiance(kelvin, *band), expected, rtol=1e-9)


@pytest.mark.parametrize("kelvin", [20.0, 120.0, 139.0, 1601.0, 3000.0, 6000.0])
def test_agrees_with_quadrature_outside_the_polynomial(kelvin):
    assert planck.band_radiance(kelvin) == pytest.approx(quadrature(kelvin, 8.0, 14.0), rel=1e-11)


@pytest.mark.parametrize(
    ("band", "relative", "kelvin_error"),
    [
        ((8.0, 14.0), 1e-11, 1e-7),
        ((0.5, 0.7), 1e-9, 1e-4),
        ((2.0, 5.0), 1e-9, 1e-4),
        ((4.0, 20.0), 1e-9, 1e-4),
        ((8.0, 8.01), 1e-9, 1e-4),
        ((50.0, 300.0), 1e-9, 1e-4),
    ],
)
def test_the_polynomials_are_as_close_to_the_quadrature_as_stated(band, relative, kelvin_error):
    kelvin = np.linspace(140.0, 1600.0, 20_001)
    exact = planck._exact_band_radiance(kelvin, *band)
    np.testing.assert_allclose(planck.band_radiance(kelvin, *band), exact, rtol=relative)
    np.testing.assert_allclose(planck.band_temperature(exact, *band), kelvin, rtol=0, atol=kelvin_error)


def test_whole_spectrum_is_stefan_boltzmann():
    # Beyond 1000 µm lies less than a millionth of it: 15/π⁴ x³/3 with x = c2/(1000 µm · 575 K).
    whole = planck.band_radiance(575.0, 0.5, 1000.0)
    assert whole == pytest.approx(planck.STEFAN_BOLTZMANN * 575.0**4 / np.pi, rel=1e-6)


def test_two_bands_side_by_side_are_one():
    kelvin = np.array([260.0, 480.0, 900.0])
    parts = planck.band_radiance(kelvin, 8.0, 10.7) + planck.band_radiance(kelvin, 10.7, 14.0)
    np.testing.assert_allclose(parts, planck.band_radiance(kelvin), rtol=1e-10)


def test_shape_is_kept_and_numbers_stay_numbers():
    assert planck.band_radiance(np.full((3, 1, 4), 500.0)).shape == (3, 1, 4)
    assert isinstance(planck.band_radiance(500.0), float)
    assert isinstance(planck.band_temperature(300.0), float)
    assert planck.band_radiance(np.array([])).shape == (0,)
    assert planck.band_radiance(500) == planck.band_radiance(500.0)


# --- Back to temperature --------------------------------------------------------------------------


@given(kelvin=st.floats(150.0, 2500.0), band=st.sampled_from([(8.0, 14.0), (7.5, 13.0), (8.0, 11.0)]))
@settings(max_examples=200, deadline=None)
def test_radiance_and_back_is_the_temperature(kelvin, band):
    assert planck.band_temperature(planck.band_radiance(kelvin, *band), *band) == pytest.approx(kelvin, abs=1e-6)


@given(kelvin=st.floats(3.0, 1e6))
@settings(max_examples=100, deadline=None)
def test_radiance_and_back_far_outside(kelvin):
    assert planck.band_temperature(planck.band_radiance(kelvin)) == pytest.approx(kelvin, rel=1e-9)


@pytest.mark.parametrize("row", reference_rows("band_radiance.csv"), ids=by_id)
def test_agrees_with_reference_temperature(row):
    band = float(row["lambda1_um"]), float(row["lambda2_um"])
    assert planck.band_temperature(float(row["value"]), *band) == pytest.approx(float(row["T_K"]), abs=1e-5)


def test_hotter_always_glows_more():
    kelvin = np.sort(np.concatenate([np.linspace(100, 2000, 5001), [140 - 1e-6, 140 + 1e-6, 1600 - 1e-6, 1600 + 1e-6]]))
    assert (np.diff(planck.band_radiance(kelvin)) > 0).all()


@pytest.mark.parametrize("band", [(8.0, 14.0), (3.0, 5.0)])
def test_agrees_with_a_difference_quotient(band):
    kelvin = np.array([260.0, 300.0, 575.0, 900.0, 2000.0])
    step = 0.01
    quotient = (planck.band_radiance(kelvin + step, *band) - planck.band_radiance(kelvin - step, *band)) / (2 * step)
    np.testing.assert_allclose(planck.band_radiance_and_slope(kelvin, *band)[1], quotient, rtol=1e-6)


# --- Bad input ------------------------------------------------------------------------------------


@pytest.mark.parametrize("bad", [0.0, -1.0, np.nan, np.inf, [500.0, -3.0]])
def test_impossible_temperature_is_refused(bad):
    with pytest.raises(InputError, match="temperature in kelvin is .* above 0"):
        planck.band_radiance(bad)


@pytest.mark.parametrize("bad", [0.0, -2.0, np.nan, np.inf, [1.0, 0.0]])
def test_impossible_radiance_is_refused(bad):
    with pytest.raises(
        InputError, match="less what is mirrored and added by the gun, is .*; it must be a finite number"
    ):
        planck.band_temperature(bad)


@pytest.mark.parametrize("band", [(14.0, 8.0), (0.0, 8.0), (8.0, 8.0), (8.0, np.inf), (np.nan, 8.0), (0.1, 0.3)])
def test_impossible_band_is_refused(band):
    with pytest.raises(InputError, match="wave band"):
        planck.band_radiance(500.0, *band)


# --- Cost -----------------------------------------------------------------------------------------


def test_importing_the_radiance_rooms_loads_no_part_of_scipy():
    rooms = ("planck", "grey_body", "spot", "groove", "finishes")
    program = (
        "import sys; "
        + "".join(f"import heatmap.physics.{room}; " for room in rooms)
        + "print([name for name in sys.modules if name.split('.')[0] in ('scipy', 'matplotlib')])"
    )
    out = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "[]"
