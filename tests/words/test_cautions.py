"""The cautions say what the published figures say."""

import csv
from pathlib import Path

import pytest

from heatmap.words import cautions

REFERENCE = Path(__file__).parents[1] / "reference"


def published(row_id):
    with (REFERENCE / "doneness_and_safety.csv").open(encoding="utf-8", newline="") as table:
        return next(row["value"] for row in csv.DictReader(table) if row["id"] == row_id)


def c(fahrenheit):
    return (float(fahrenheit) - 32.0) / 1.8


def test_published_safe_temperatures():
    # USDA FSIS safe minimum internal temperature chart, rows DS-01 to DS-03
    assert c(published("DS-01")) == cautions.WHOLE_CUT_SAFE_C
    assert c(published("DS-03")) == cautions.GROUND_SAFE_C
    assert f"{published('DS-01')} °F" in cautions.BELOW_WHOLE_CUT
    assert f"{published('DS-02')} minutes" in cautions.BELOW_WHOLE_CUT
    assert f"{published('DS-03')} °F" in cautions.GROUND


@pytest.mark.parametrize(
    ("kind", "peak_f", "expected"),
    [
        ("whole cut", 137.0, cautions.BELOW_WHOLE_CUT),
        ("whole cut", 145.0, cautions.REST_WHOLE_CUT),
        ("ground", 145.0, cautions.GROUND),
        ("ground", 160.0, cautions.GROUND_REACHED),
        ("tenderised or injected", 160.0, cautions.TENDERISED),
    ],
)
def test_the_right_caution_comes_first(kind, peak_f, expected):
    told = cautions.for_food(kind, c(peak_f))
    assert told[0] == expected
    assert told[-1] == cautions.ONLY_A_FORECAST


def test_tenderised_below_the_safe_figure_says_both():
    told = cautions.for_food("tenderised or injected", c(135.0))
    assert cautions.TENDERISED in told
    assert cautions.BELOW_WHOLE_CUT in told


def test_nothing_hot_is_left_out():
    together = " ".join(cautions.AT_THE_GRILL)
    for word in ("burn", "Gas", "Grease fire", "never water", "carbon monoxide", "laser", "licensed"):
        assert word in together
