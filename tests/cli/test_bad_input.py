"""Whatever is wrong with the input: one clear line and the exit code, never a traceback, never an answer."""

from __future__ import annotations

from pathlib import Path

import pytest

GRILL = '[grate]\nwidth = 24.0\ndepth = 18.0\n[target]\nlow = 550.0\nhigh = 600.0\n'
READINGS = "position,shown_f\n" + "".join(f"{row}{column},575\n" for row in "ABC" for column in range(1, 5))


def outcome(gratemap, folder: Path, *words: str):
    result = gratemap(*words)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    assert "Traceback" not in result.output
    return result


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "grill.toml").write_text(GRILL, encoding="utf-8")
    (tmp_path / "readings.csv").write_text(READINGS, encoding="utf-8")
    return tmp_path


def test_the_plain_case_is_fine(folder, gratemap):
    assert outcome(gratemap, folder, "map").exit_code == 0


@pytest.mark.parametrize(
    ("grill", "says"),
    [
        ("", "[grate] is missing"),
        (GRILL.split("[target]")[0], "[target] is missing"),
        (GRILL.replace("low = 550.0", "low = 650.0"), "target.low is 650 °F; it must be at least -4 and below 600 °F"),
        (GRILL.replace("width = 24.0", "width = nan"), "grate.width"),
        (GRILL.replace("width = 24.0\n", ""), "grate.width is missing"),
        (GRILL.replace("depth = 18.0", "depth = 18.0\nemissivity = 1.4"), "at most 1"),
        (GRILL.replace("depth = 18.0", "depth = 18.0\nemissivity = 0"), "above 0"),
        (GRILL.replace("depth = 18.0", "depht = 18.0"), "depht is not a key"),
        (GRILL.replace("depth = 18.0", 'depth = "deep"'), "must be a plain number"),
        ("not toml at all", "not valid TOML"),
        ('units = "metric"\n' + GRILL, "units"),
    ],
)
def test_a_grill_file_that_cannot_be_used(folder, gratemap, grill, says):
    (folder / "grill.toml").write_text(grill, encoding="utf-8")
    result = outcome(gratemap, folder, "map")
    assert result.exit_code == 3
    assert says in result.stderr
    assert "grill.toml" in result.stderr
    assert result.stdout == ""


@pytest.mark.parametrize(
    ("readings", "says"),
    [
        ("", "empty"),
        ("position,shown_f\n", "no readings"),
        ("place,number\nA1,575\n", "position"),
        ("position,shown_f\nZ9,575\n" + READINGS.split("\n", 1)[1], "Z9"),
        ("position,shown_f\nA1,nan\n", "nan"),
        ("position,shown_f\nA1,99999\n", "99999"),
        ("position,shown_f\nA1,575\nA4,580\n", "at least 3"),
        ("position,shown_f\nA1,575\nA2,580\nA3,580\nA4,570\n", "line"),
        ("id,void,position,shown_f\n1,,A1,575\n2,77,A1,\n", "77"),
    ],
)
def test_readings_that_cannot_be_used(folder, gratemap, readings, says):
    (folder / "readings.csv").write_text(readings, encoding="utf-8")
    result = outcome(gratemap, folder, "map")
    assert result.exit_code == 3
    assert says in result.stderr
    assert result.stdout == ""


def test_a_binary_file(folder, gratemap):
    (folder / "readings.csv").write_bytes(bytes(range(256)) * 4)
    assert outcome(gratemap, folder, "map").exit_code == 3


def test_a_file_over_the_limit(folder, gratemap):
    with open(folder / "readings.csv", "wb") as file:
        file.truncate(20_000_001)
    result = outcome(gratemap, folder, "map")
    assert result.exit_code == 3
    assert "20" in result.stderr


def test_decimal_commas_are_understood_with_semicolons(folder, gratemap):
    text = READINGS.replace(",", ";").replace("575", "575,5")
    (folder / "readings.csv").write_text(text, encoding="utf-8")
    assert outcome(gratemap, folder, "map").exit_code == 0


def test_skip_bad_goes_on_without_the_bad_row(folder, gratemap):
    (folder / "readings.csv").write_text(READINGS + "Z9,575\n", encoding="utf-8")
    assert outcome(gratemap, folder, "map").exit_code == 3
    skipped = outcome(gratemap, folder, "map", "--skip-bad")
    assert skipped.exit_code == 0
    assert "14" in skipped.stderr  # the line that was left out is named


@pytest.mark.parametrize("words", [("map", "--grill", "none.toml"), ("map", "--readings", "none.csv")])
def test_a_file_that_is_not_there(folder, gratemap, words):
    result = outcome(gratemap, folder, *words)
    assert result.exit_code == 3
    assert words[2] in result.stderr


def test_a_round_that_is_not_there(folder, gratemap):
    result = outcome(gratemap, folder, "map", "--round", "9")
    assert result.exit_code == 3
    assert "no round 9" in result.stderr


def test_a_picture_of_an_unknown_kind(folder, gratemap):
    result = outcome(gratemap, folder, "map", "--picture", "map.docx")
    assert result.exit_code == 3
    assert "map.docx" in result.stderr


def test_a_position_without_a_reading(folder, gratemap):
    assert outcome(gratemap, folder, "explain", "Z9").exit_code == 3
    assert outcome(gratemap, folder, "explain", "99").exit_code == 3


@pytest.mark.parametrize("words", [("map", "--no-such-option"), ("no-such-command",), ("gun",), ("gun", "hot")])
def test_wrong_usage_is_exit_code_2(folder, gratemap, words):
    assert outcome(gratemap, folder, *words).exit_code == 2


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("gun", "575", "--emissivity", "0"), "above 0"),
        (("gun", "575", "--emissivity", "1.2"), "at most 1"),
        (("gun", "nan"), "nan"),
        (("gun", "575", "--rail-top", "0.25"), "--rail-pitch"),
        (("gun", "575", "--gun-temperature", "warm"), "warm"),
        (("gun", "575", "--units", "metric"), "us or si"),
        (("gun", "80", "--emissivity", "0.2", "--reflected", "600"), "mirrors"),
    ],
)
def test_a_gun_that_cannot_be(folder, gratemap, words, says):
    result = outcome(gratemap, folder, *words)
    assert result.exit_code == 3
    assert says in result.stderr
