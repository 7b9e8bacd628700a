"""Beef properties against Choi and Okos as computed elsewhere, and against published measurements."""

import csv
from pathlib import Path

import numpy as np
import pytest

from heatmap.errors import InputError
from heatmap.physics import beef

REFERENCE = Path(__file__).parents[1] / "reference"


def rows(name):
    with (REFERENCE / name).open(encoding="utf-8", newline="") as table:
        return list(csv.DictReader(table))


def composition(row):
    parts = ("water", "protein", "fat", "carbohydrate", "ash")
    return beef.Composition(**{part: float(row[f"{part}_pct"]) / 100.0 for part in parts})


def diffusivity(mixture, celsius):
    return beef.conductivity(mixture, celsius) / (beef.density(mixture, celsius) * beef.specific_heat(mixture, celsius))


PROPERTY = {
    "k": beef.conductivity,
    "rho": beef.density,
    "cp": beef.specific_heat,
    "alpha": diffusivity,
}


@pytest.mark.parametrize("row", rows("choi_okos_coefficients.csv"), ids=lambda r: r["id"])
def test_published_component_equations(row):
    # Choi and Okos 1986 as reprinted by ASHRAE: each polynomial, through a food of that component alone
    if row["component"] == "fibre":
        return  # beef has none
    alone = dict.fromkeys(("water", "protein", "fat", "carbohydrate", "ash"), 0.0) | {row["component"]: 1.0}
    celsius = np.array([0.0, 20.0, 60.0, 100.0, 150.0])
    value = PROPERTY[row["property"]](beef.Composition(**alone), celsius)
    scale = 1000.0 if row["property"] == "cp" else 1.0
    polynomial = sum(float(row[f"a{i}"]) * celsius**i for i in range(3)) * scale
    assert value == pytest.approx(polynomial, rel=1e-12)


@pytest.mark.parametrize("row", rows("choi_okos_values.csv"), ids=lambda r: r["id"])
def test_agrees_with_another_library_on_mixtures(row):
    # computed from the food components of CoolProp 8.0.0 (the row says so); shares scaled to add up to 1
    value = float(PROPERTY[row["property"]](composition(row), float(row["T_C"])))
    assert value == pytest.approx(float(row["value"]), rel=float(row["tolerance"]))


# water and fat published, the rest assumed
LEAN = beef.Composition(water=0.74, protein=0.22, fat=0.03, ash=0.01)
ROUND = beef.Composition(water=0.71, protein=0.24, fat=0.04, ash=0.01)
CHUCK = beef.Composition(water=0.66, protein=0.17, fat=0.16, ash=0.01)


@pytest.mark.parametrize(
    ("row_id", "function", "mixture", "celsius", "tolerance"),
    [
        # tolerance: what the equations are worth against measurement (module docstring), not rounding
        ("MP-05", diffusivity, ROUND, 52.5, 0.15),
        ("MP-06", diffusivity, CHUCK, 52.5, 0.21),  # fatty: 20 % above what was measured
        ("MP-07", beef.conductivity, LEAN, 6.0, 0.10),
        ("MP-08", beef.specific_heat, LEAN, 20.0, 0.02),
        ("MP-09", beef.density, LEAN, 20.0, 0.05),
    ],
)
def test_published_measurements_on_beef(row_id, function, mixture, celsius, tolerance):
    row = next(r for r in rows("meat_properties_published.csv") if r["id"] == row_id)
    assert float(function(mixture, celsius)) == pytest.approx(float(row["value"]), rel=tolerance)


def test_published_ground_beef_conducts_less_as_the_docstring_says():
    # Pan and Singh 2001, 23.8 % fat, 40-75 °C: 0.35-0.41 W/(m K); the equations are 10 to 35 % above it
    row = next(r for r in rows("meat_properties_published.csv") if r["id"] == "MP-01")
    fatty = beef.Composition(water=0.58, protein=0.172, fat=0.238, ash=0.01)
    value = beef.conductivity(fatty, np.array([40.0, 75.0]))
    assert np.all(value > 1.08 * float(row["high"]))
    assert np.all(value < 1.38 * float(row["low"]))


def test_published_composition_of_rib_eye():
    row = next(r for r in rows("meat_properties_published.csv") if r["id"] == "MP-12")
    assert row["value"] == "18.7; 18.4"
    assert beef.RIBEYE.protein == 0.187
    assert beef.RIBEYE.fat == 0.184


def test_crust_conducts_less_than_meat_and_more_than_steam():
    open_pores, half, shut = (beef.crust_conductivity(beef.RIBEYE, share) for share in (1.0, 0.5, 0.0))
    assert beef.STEAM_CONDUCTIVITY < open_pores < half < shut < float(beef.conductivity(beef.RIBEYE, 100.0))


def test_published_juice_is_held_when_raw_and_half_of_it_let_go_by_66():
    # van der Sman 2007 (from memory): meat holds 0.745 of its mass as water when raw, 0.400 when cooked through
    assert 0.745 - beef.juice_let_go([5.0, 95.0]) == pytest.approx([0.745, 0.400], abs=5e-4)
    assert beef.juice_let_go(65.6) == pytest.approx(0.345 / 2.0, abs=5e-4)
    # beef that was kept warm for long enough loses 30 to 40 % (common practice, no source)
    assert 0.30 < beef.juice_let_go(100.0) < 0.40


def test_shape_is_kept():
    assert beef.conductivity(beef.RIBEYE, 20.0).shape == ()
    assert beef.specific_heat(beef.RIBEYE, np.full((2, 3), 20.0)).shape == (2, 3)


def test_unusable_input_is_refused_in_one_line():
    with pytest.raises(InputError, match="beef properties are known from 0 to 150 °C; got -5 to -5 °C"):
        beef.density(beef.RIBEYE, -5.0)
