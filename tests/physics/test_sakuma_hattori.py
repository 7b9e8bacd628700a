"""The band approximation of the standards against printed coefficients, and against the exact band."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heatmap.physics import planck
from textbook import sakuma_hattori

REFERENCE = Path(__file__).parents[1] / "reference" / "sakuma_hattori.csv"


def rows_of(quantity: str) -> list[dict[str, str]]:
    with REFERENCE.open(encoding="utf-8", newline="") as file:
        return [row for row in csv.DictReader(file) if row["quantity"] == quantity]


def test_published_sakuma_hattori_coefficients():
    # Sakuma & Hattori 1982; BIPM CCT-WG5 2008; ASTM E2847 prints 9.364 µm and 178.4 µm K (from memory).
    a_um, b_um_k = sakuma_hattori.sakuma_hattori_coefficients(8.0, 14.0)
    assert a_um == pytest.approx(9.364, abs=0.0005)
    assert b_um_k == pytest.approx(178.4, abs=0.05)
    (a_row,), (b_row,) = rows_of("A_um"), rows_of("B_um_K")
    assert a_um == pytest.approx(float(a_row["value"]), rel=float(a_row["tolerance"]))
    assert b_um_k == pytest.approx(float(b_row["value"]), rel=float(b_row["tolerance"]))


@pytest.mark.parametrize("row", rows_of("temperature_error_K"), ids=lambda row: row["id"])
def test_agrees_with_sakuma_hattori(row):
    # The temperature the form gives for the exact band radiance, less the true one.
    a_um, b_um_k = float(row["A_um"]), float(row["B_um_K"])
    if row["normalised_at_K"]:
        meets = float(row["normalised_at_K"])
        c = planck.band_radiance(meets) / sakuma_hattori.sakuma_hattori(meets, a_um, b_um_k)
    else:
        c = float(row["C_W_m2_sr"])
    kelvin = float(row["T_K"])
    error = sakuma_hattori.sakuma_hattori_temperature(planck.band_radiance(kelvin), a_um, b_um_k, c) - kelvin
    assert error == pytest.approx(float(row["value"]), abs=float(row["tolerance"]))


def test_agrees_with_fitted_sakuma_hattori_over_the_grill_range():
    # sakuma_hattori.csv SH-13: best A, B, C for the exact band from 273.15 to 773.15 K, worst error 0.0315 K.
    (row,) = rows_of("max_abs_error_K")
    fitted = float(row["A_um"]), float(row["B_um_K"]), float(row["C_W_m2_sr"])
    kelvin = np.linspace(273.15, 773.15, 501)
    error = sakuma_hattori.sakuma_hattori_temperature(planck.band_radiance(kelvin), *fitted) - kelvin
    assert np.abs(error).max() <= float(row["value"]) + float(row["tolerance"])


@given(kelvin=st.floats(200.0, 1500.0))
@settings(max_examples=50, deadline=None)
def test_sakuma_hattori_and_back(kelvin):
    a_um, b_um_k = sakuma_hattori.sakuma_hattori_coefficients()
    signal = sakuma_hattori.sakuma_hattori(kelvin, a_um, b_um_k, 6779.86)
    assert sakuma_hattori.sakuma_hattori_temperature(signal, a_um, b_um_k, 6779.86) == pytest.approx(kelvin, rel=1e-12)
