"""Emissivities of grate finishes against the published figures, each row with its source."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heatmap.errors import GrillError, InputError
from heatmap.physics import finishes
from heatmap.physics.finishes import find_finish

REFERENCE = Path(__file__).parents[1] / "reference"


def reference_rows(name: str) -> dict[str, dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8", newline="") as file:
        return {row["id"]: row for row in csv.DictReader(file)}


PUBLISHED = reference_rows("emissivity_published.csv")
SPECTRAL = reference_rows("emissivity_spectral_library.csv")

#: The published figures that each finish cites.
FIGURES_OF = {
    row["name"]: [finishes.FIGURES[figure] for figure in row["figures"].split()]
    for row in finishes._rows("finishes.csv")
}

# Bramson 1968; Wolfe & Zissis 1978; Hottel in McAdams, Heat Transmission; a laboratory report of 1999, as
# cited in secondary tables: the source column of each row says which, how_known whether read or from
# memory.
PRINTED = {
    "EP-01": "aluminium_polished",
    "EP-06": "aluminium_oxidised",
    "EP-09": "aluminium_anodised_black",
    "EP-10": "aluminium_anodised_grey",
    "EP-11": "cast_iron_polished",
    "EP-13": "cast_iron_casting",
    "EP-14": "cast_iron_oxidised",
    "EP-16": "cast_iron_oxidised_hot",
    "EP-18": "stainless_buffed",
    "EP-19": "stainless_oxidised",
    "EP-20": "stainless_brown",
    "EP-22": "steel_cold_rolled",
    "EP-25": "steel_oxidised",
    "EP-26": "steel_oxidised_hot",
    "EP-29": "enamel_white",
    "EP-31": "oil_film_50_um",
    "EP-33": "soot",
    "EP-40": "chromium",
    "EP-41": "nickel_plated",
    "EP-42": "nickel_plated_polished",
    "EP-43": "nickel_oxidised",
}

# ECOSTRESS spectral library, Baldridge et al. 2009, Meerdink et al. 2019, weighed with a blackbody at 575 K.
FROM_SPECTRA = {
    "EL-08": "iron_oxide",
    "EL-10": "aluminium_weathered",
    "EL-14": "plate_glass",
    "EL-16": "tar",
}


@pytest.mark.parametrize("row_id", PRINTED)
def test_published_emissivity(row_id):
    row, figure = PUBLISHED[row_id], finishes.FIGURES[PRINTED[row_id]]
    assert [float(figure[end]) for end in ("low", "high")] == [float(row["eps_low"]), float(row["eps_high"])]
    assert figure["band"] == row["band"].replace("um", "µm")
    assert (figure["how_known"] == "from memory") == row["how_known"].startswith("from memory")
    assert figure["source"].split()[0] in row["source"]  # the first author


@pytest.mark.parametrize("row_id", FROM_SPECTRA)
def test_published_spectra_averaged_over_the_band(row_id):
    row, figure = SPECTRAL[row_id], finishes.FIGURES[FROM_SPECTRA[row_id]]
    assert (
        float(figure["low"]) == float(figure["high"]) == pytest.approx(float(row["value"]), abs=0.0005)
    )  # three places
    assert figure["band"] == row["band_used_um"] + " µm"


def test_weighing_at_300_or_575_k_makes_no_difference_that_counts():
    # So one figure serves from a warm grate to a searing one.
    cold = [float(row["value"]) for row in SPECTRAL.values() if row["weight_T_K"] == "300"]
    hot = [float(row["value"]) for row in SPECTRAL.values() if row["weight_T_K"] == "575"]
    assert len(cold) == len(hot) == 8
    np.testing.assert_allclose(cold, hot, atol=0.01)


# --- The table ------------------------------------------------------------------------------------


@pytest.mark.parametrize("finish", finishes.FINISHES.values(), ids=finishes.FINISHES)
def test_finish_lies_within_its_published_bounds_and_spans_them(finish):
    figures = FIGURES_OF[finish.name]
    low, high = min(float(figure["low"]) for figure in figures), max(float(figure["high"]) for figure in figures)
    assert 0.0 < low <= finish.emissivity <= high <= 1.0
    for figure in figures:
        assert float(figure["low"]) <= float(figure["high"])
        assert figure["source"] in finish.source
        assert figure["how_known"]
    assert {figure["band"] for figure in figures} <= {"8-14 µm", "8-12.5 µm", "total"}
    if all(figure["band"] == "total" for figure in figures):
        assert finish.emissivity_sd >= 0.05  # a total figure standing in is never called certain
    if not finish.assumed:
        # two standard deviations reach every figure printed for the finish itself
        assert max(high - finish.emissivity, finish.emissivity - low) <= 2 * finish.emissivity_sd


def test_seasoned_cast_iron_is_assumed_and_says_so():
    finish = find_finish("cast iron, seasoned")
    assert (finish.emissivity, finish.emissivity_sd, finish.assumed) == (0.90, 0.05, True)
    assert "No published figure" in finish.remark
    assert len(FIGURES_OF[finish.name]) >= 3


@pytest.mark.parametrize(
    "name", ["cast iron, seasoned", "CAST IRON, SEASONED", "  cast   iron seasoned ", "Cast-iron, seasoned"]
)
def test_finish_is_found_however_it_is_typed(name):
    assert find_finish(name).name == "cast iron, seasoned"


def test_american_aluminum_is_understood():
    assert find_finish("aluminum, hard anodised").name == "aluminium, hard-anodised"


def test_unknown_finish_names_those_there_are():
    with pytest.raises(GrillError, match="'cast iron, seasond' is not in the table") as error:
        find_finish("cast iron, seasond")
    message = str(error.value)
    assert "Did you mean 'cast iron, seasoned'?" in message
    assert all(name in message for name in finishes.FINISHES)
    assert "\n" not in message
    with pytest.raises(GrillError, match="There are: cast iron"):
        find_finish("")


def test_no_two_finishes_answer_to_one_name():
    assert len({finishes._plain(name) for name in finishes.FINISHES}) == len(finishes.FINISHES)


# --- Oil ------------------------------------------------------------------------------------------


def test_published_oil_films_lie_within_what_is_assumed_of_a_film():
    # Wolfe & Zissis, lubricating oil on polished nickel, 0.025 and 0.05 mm (rows EP-30, EP-31; from memory).
    bare = float(PUBLISHED["EP-42"]["eps_low"])
    mean, std = finishes.oiled(bare, 0.0)
    for row_id in ("EP-30", "EP-31"):
        assert abs(float(PUBLISHED[row_id]["eps_low"]) - mean) <= np.sqrt(3) * std + 1e-9  # within its even spread


@given(emissivity=st.floats(0.03, 1.0), emissivity_sd=st.floats(0.0, 0.2))
@settings(max_examples=100, deadline=None)
def test_oil_pulls_towards_oil_and_never_adds_knowledge(emissivity, emissivity_sd):
    mean, std = finishes.oiled(emissivity, emissivity_sd)
    assert min(emissivity, finishes.OIL_EMISSIVITY) <= mean <= max(emissivity, finishes.OIL_EMISSIVITY)
    assert std >= emissivity_sd


def test_oil_matters_on_bright_metal_and_hardly_on_a_seasoned_grate():
    assert finishes.oiled(0.90, 0.05)[0] - 0.90 < 0.02
    assert finishes.oiled(0.16, 0.05)[0] - 0.16 > 0.10


def test_bad_oil_input_is_refused():
    with pytest.raises(InputError, match="emissivity is 0"):
        finishes.oiled(0.0, 0.05)
    with pytest.raises(InputError, match="emissivity_sd is -1"):
        finishes.oiled(0.5, -1.0)
