"""`gratemap gun` against the measurement equation, and its spot."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

ROWS = list(
    csv.DictReader((Path(__file__).parents[1] / "reference" / "measurement_equation.csv").open(encoding="utf-8"))
)


# εs L(T_ind) + (1 − εs) L(T_comp) = ε L(T) + (1 − ε) L(T_bg), the measurement equation of ASTM E2758/E2847 and MSL
# Technical Guide 22 (from memory), solved with mpmath over an exact 8-14 µm band; tolerance of the file: 0.001 °F.
@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["id"])
def test_published_measurement_equation(gratemap, row):
    result = gratemap(
        "gun",
        row["T_indicated_F"],
        "--emissivity",
        row["eps_true"],
        "--setting",
        row["eps_setting"],
        "--reflected",
        row["T_background_F"],
        "--gun-temperature",
        row["T_comp_F"] or "none",
        "--json",
    )
    document = json.loads(result.stdout)
    assert document["rail_f"] == pytest.approx(float(row["value"]), abs=float(row["tolerance"]))
    assert document["own_std_f"] > 0
    assert document["shared_std_f"] > 0
    assert document["best_distance_in"] is None


def test_json_has_every_key_of_the_contract_in_both_units(gratemap):
    us = json.loads(gratemap("gun", "575", "--rail-top", "0.25", "--rail-pitch", "0.75", "--json").stdout)
    assert set(us) == {"rail_f", "own_std_f", "shared_std_f", "spot_in", "rail_share", "best_distance_in"}
    si = json.loads(
        gratemap("gun", "301.6667", "--rail-top", "6.35", "--rail-pitch", "19.05", "--units", "si", "--json").stdout
    )
    assert set(si) == {"rail_c", "own_std_c", "shared_std_c", "spot_mm", "rail_share", "best_distance_mm"}
    assert si["rail_c"] * 1.8 + 32 == pytest.approx(us["rail_f"], abs=0.1)
    assert si["spot_mm"] / 25.4 == pytest.approx(us["spot_in"])


@pytest.mark.parametrize(("distance", "spot"), [("12", 1.0), ("18", 1.5), ("3", 0.5)])
def test_the_spot_is_distance_over_ratio_but_never_below_its_smallest(gratemap, distance, spot):
    words = ("gun", "575", "--distance", distance, "--ratio", "12", "--smallest-spot", "0.5", "--json")
    assert json.loads(gratemap(*words).stdout)["spot_in"] == pytest.approx(spot)


RAILS = ("--rail-top", "0.25", "--rail-pitch", "0.75")


def test_bright_rails_are_said_not_to_be_told_with_why_and_the_remedy(gratemap):
    """At an emissivity of 0.10 ± 0.05, walls of the valley and all, most of what the gun sees is mirrored."""
    result = gratemap("gun", "575", "--emissivity", "0.1", *RAILS)
    assert result.exit_code == 0
    first, *_, last = result.stdout.splitlines()
    assert first.startswith("Shown 575 °F: the rail cannot be told from this.")
    assert "it may be anything between" in first
    assert "what the metal mirrors, decides" in first
    assert "--contact" in last
    assert "the rail is about" not in result.stdout
    document = json.loads(gratemap("gun", "575", "--emissivity", "0.1", *RAILS, "--json").stdout)
    assert document["cannot_tell"] in first
    seasoned = gratemap("gun", "575", "--emissivity", "0.9", *RAILS)
    assert "the rail is about" in seasoned.stdout
    assert "cannot_tell" not in json.loads(gratemap("gun", "575", *RAILS, "--json").stdout)


def test_a_bright_plate_whose_range_ends_where_nothing_more_is_looked_at_has_no_number(gratemap):
    result = gratemap("gun", "250", "--emissivity", "0.1", "--emissivity-sd", "0.05")
    assert "the surface cannot be told from this" in result.stdout
    assert "more than" in result.stdout
    assert "±720" not in result.stdout


def test_a_plate_hotter_than_any_cannot_be_told_unless_something_else_tells_it(gratemap):
    result = gratemap("gun", "575", "--emissivity", "0.1")
    first, *_, last = result.stdout.splitlines()
    assert first.startswith("Shown 575 °F: the surface cannot be told from this.")
    assert "more than 2012 °F" in first
    assert "--contact" in last
    # A probe at 700 °F beside it: by the measurement equation, worked by hand in radiance, the emissivity is higher.
    assert "an emissivity of 0.6" in gratemap("gun", "575", "--emissivity", "0.1", "--contact", "700").stdout


def test_a_contact_reading_gives_the_emissivity_back(gratemap):
    # ME-03 the other way: a rail at 609.804 °F that shows 550 °F at a setting of 0.95 has an emissivity of 0.80.
    words = ("gun", "550", "--emissivity", "0.95", "--reflected", "75", "--gun-temperature", "75")
    assert "an emissivity of 0.800" in gratemap(*words, "--contact", "609.804").stdout


def test_units_that_are_none_are_a_mistake_of_use(gratemap):
    done = gratemap("gun", "575", "--units", "metric")
    assert done.exit_code == 2
    assert "'us', 'si'" in done.stderr
