"""`gratemap compare` on the sample readings: words, JSON contract, picture, exit codes."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest


def test_json_has_every_key_of_the_contract(samples, gratemap):
    result = gratemap("compare", "--json")
    assert result.exit_code == 0
    document = json.loads(result.stdout)
    assert {
        "before",
        "after",
        "spread_before_f",
        "spread_after_f",
        "share_before",
        "share_after",
        "chance_better",
        "answer",
    } <= set(document)
    assert (document["before"], document["after"]) == (2, 3)
    assert document["answer"] in {"more even", "less even", "cannot tell"}
    assert 0 <= document["chance_better"] <= 1
    assert {one["burner"] for one in document["burners"]} == {"inner left", "inner right", "far right"}


def test_spreads_and_shares_are_those_of_the_maps(samples, gratemap):
    document = json.loads(gratemap("compare", "1", "3", "--json").stdout)
    for number, when in ((1, "before"), (3, "after")):
        even = json.loads(gratemap("map", "--round", str(number), "--json").stdout)["evenness"]
        assert document[f"spread_{when}_f"] == pytest.approx(even["p95_minus_p5_f"], rel=0.05)
        assert document[f"share_{when}"] == pytest.approx(even["share_in_band"], abs=0.03)


def test_words_say_the_answer_and_what_each_knob_did(samples, gratemap):
    text = gratemap("compare", "2", "3").stdout
    assert text.startswith("Round 2 to 3. More even: spread ")
    assert re.search("inner right 5.5 to 4: .+ near it, .*expected", text)
    why = gratemap("compare", "2", "3", "--why").stdout
    assert why.startswith(text) and "expected, " in why and "nan" not in why


def test_si_units_are_in_keys_and_words(samples, gratemap):
    us_grill = """
[grate]
width = 24.0
depth = 16.0
[positions]
rows = 3
columns = 4
margin = 2.5
[target]
low = 550.0
high = 600.0
"""
    si_grill = """
units = "si"
[grate]
width = 609.6
depth = 406.4
[positions]
rows = 3
columns = 4
margin = 63.5
[target]
low = 287.7778
high = 315.5556
"""
    Path("us.toml").write_text(us_grill, encoding="utf-8")
    Path("si.toml").write_text(si_grill, encoding="utf-8")
    text = Path("readings.csv").read_text(encoding="utf-8")
    lines = [",".join(line.split(",")[:12]) for line in text.splitlines()]
    Path("si.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    us = json.loads(gratemap("compare", "--grill", "us.toml", "--readings", "si.csv", "--json").stdout)
    si = json.loads(gratemap("compare", "--grill", "si.toml", "--readings", "si.csv", "--json").stdout)
    assert si["spread_before_c"] * 1.8 == pytest.approx(us["spread_before_f"], rel=0.01)
    assert si["burners"] == []
    assert "°C" in gratemap("compare", "--grill", "si.toml", "--readings", "si.csv").stdout


def test_the_picture_is_saved(samples, gratemap):
    assert gratemap("compare", "--picture", "difference.png").exit_code == 0
    assert Path("difference.png").read_bytes().startswith(b"\x89PNG")


def test_check_is_no_unless_it_is_more_even(samples, gratemap):
    assert gratemap("compare", "2", "3", "--check").exit_code == 0
    assert gratemap("compare", "3", "2", "--check").exit_code == 5


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("2",), 3, "name two rounds"),
        (("3", "3"), 3, "two different rounds"),
        (("1", "99"), 3, "no round 99"),
        (("one", "two"), 2, ""),
    ],
)
def test_what_cannot_be_compared_is_one_line(samples, gratemap, words, code, says):
    result = gratemap("compare", *words)
    assert result.exit_code == code
    assert says in result.stderr
    assert "Traceback" not in result.stderr


def test_a_log_with_one_round(samples, gratemap):
    lines = Path("readings.csv").read_text(encoding="utf-8").splitlines()
    Path("readings.csv").write_text("\n".join(lines[:14]) + "\n", encoding="utf-8")
    result = gratemap("compare")
    assert result.exit_code == 3
    assert "only one full round" in result.stderr


def test_half_a_round_of_another_age_is_compared_all_the_same(samples, gratemap):
    """A clock that was reset in the middle of a round: 1970 and today in one."""
    lines = (samples / "readings.csv").read_text(encoding="utf-8").splitlines()
    at = lines[0].split(",").index("taken_at")
    for number in range(len(lines) - 6, len(lines)):
        cells = lines[number].split(",")
        cells[at] = f"1970-01-01T00:00:0{len(lines) - number}+00:00"
        lines[number] = ",".join(cells)
    (samples / "readings.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    for words in (["compare"], ["map"]):
        result = gratemap(*words)
        assert result.exit_code == 0, result.stderr
