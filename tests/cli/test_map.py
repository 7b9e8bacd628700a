"""`gratemap map` on the sample readings: words, JSON contract, grid, exit codes."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from heatmap import load_grill

WORDS = {"too hot", "too cold", "in band", "unsure"}


def test_words_say_the_answer_and_show_the_table_at_80_columns(samples, gratemap):
    result = gratemap("map")
    assert result.exit_code == 0
    lines = result.stdout.splitlines()
    assert max(map(len, lines[:8])) <= 80
    assert lines[2].strip() == "BACK"
    assert "YOU" in result.stdout
    assert "in band." in result.stdout
    assert "\033[" not in result.stdout


def test_json_has_every_key_of_the_contract(samples, gratemap):
    document = json.loads(gratemap("map", "--json").stdout)
    assert set(document) == {"round", "shape_from_round", "target", "spots", "evenness", "answer", "decision"}
    assert set(document["target"]) == {"low_f", "high_f", "numbers", "rail_low_f", "rail_high_f"}
    assert {
        "id",
        "position",
        "x_in",
        "y_in",
        "aim",
        "shown_f",
        "rail_f",
        "own_std_f",
        "shared_std_f",
        "compared_f",
        "verdict",
        "chance_in_band",
        "suspect",
    } <= set(document["spots"][0])
    assert {
        "p95_minus_p5_f",
        "std_f",
        "share_in_band",
        "share_in_band_low",
        "share_in_band_high",
        "hottest",
        "coldest",
    } <= set(document["evenness"])
    assert set(document["evenness"]["hottest"]) == {"x_in", "y_in", "rail_f", "compared_f"}


def test_json_numbers_hold_together(samples, gratemap):
    document = json.loads(gratemap("map", "--json").stdout)
    even = document["evenness"]
    assert 0 <= even["share_in_band_low"] <= even["share_in_band"] <= even["share_in_band_high"] <= 1
    assert even["hottest"]["compared_f"] >= even["coldest"]["compared_f"]
    for spot in document["spots"]:
        assert spot["verdict"] in WORDS
        assert 0 <= spot["chance_in_band"] <= 1
        assert (spot["verdict"] == "in band") == (spot["chance_in_band"] >= 0.8)
        # The band is in the gun's own numbers, and every shot was dry and from the usual distance.
        assert spot["compared_f"] == pytest.approx(spot["shown_f"], abs=0.05)


@pytest.mark.usefixtures("fine_cells")
def test_surface_in_json_covers_the_grate_in_half_inch_cells(samples, gratemap):
    surface = json.loads(gratemap("map", "--json", "--surface").stdout)["surface"]
    assert set(surface) == {"x_in", "y_in", "mean_f", "own_std_f", "shared_std_f"}
    assert len(surface["x_in"]) == 48
    assert len(surface["y_in"]) == 32
    assert surface["x_in"][0] == pytest.approx(0.25)
    assert (len(surface["mean_f"]), len(surface["mean_f"][0])) == (32, 48)
    assert min(map(min, surface["own_std_f"])) > 0


@pytest.mark.usefixtures("fine_cells")
def test_grid_is_the_surface_as_csv(samples, gratemap):
    result = gratemap("map", "--json", "--surface", "--grid", "grid.csv")
    surface = json.loads(result.stdout)["surface"]
    with open("grid.csv", newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert list(rows[0]) == ["x_in", "y_in", "mean_f", "own_std_f"]
    assert len(rows) == 48 * 32
    assert float(rows[0]["mean_f"]) == pytest.approx(surface["mean_f"][0][0], abs=0.001)
    assert float(rows[-1]["own_std_f"]) == pytest.approx(surface["own_std_f"][-1][-1], abs=0.001)


def test_a_dropped_digit_is_marked_said_and_left_out(samples, gratemap):
    document = json.loads(gratemap("map", "--round", "1", "--json").stdout)
    suspects = [spot for spot in document["spots"] if spot["suspect"]]
    assert [spot["position"] for spot in suspects] == ["C3"]
    assert "Left out C3" in gratemap("map", "--round", "1").stdout
    rows = Path("readings.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    at = rows[0].rstrip("\n").split(",").index("note")
    for number, row in enumerate(rows[1:13], start=1):
        cells = row.rstrip("\n").split(",")
        rows[number] = ",".join([*cells[:at], "kept: shot twice", *cells[at + 1 :]]) + "\n"
    Path("readings.csv").write_text("".join(rows), encoding="utf-8")
    kept = json.loads(gratemap("map", "--round", "1", "--json").stdout)
    assert not any(spot["suspect"] for spot in kept["spots"])
    assert kept["evenness"]["p95_minus_p5_f"] > 2 * document["evenness"]["p95_minus_p5_f"]


def test_readings_beside_the_positions_are_flagged_by_the_nearest(plain_grill, gratemap, monkeypatch):
    """One hot place 1 in beside B3 among places in band: no whole part is hot, and B3 is marked and named."""
    monkeypatch.chdir(plain_grill)
    grill = load_grill("grill.toml")
    rows = []
    for label in grill.labels:
        x_mm, y_mm = grill.point_mm(label)
        rows.append(f"{x_mm / 25.4 + 1.0:.4f},{y_mm / 25.4:.4f},{700 if label == 'B3' else 575},kept\n")
    Path("readings.csv").write_text("x_in,y_in,shown_f,note\n" + "".join(rows), encoding="utf-8")
    answer = json.loads(gratemap("map", "--json").stdout)["answer"]
    assert answer.startswith("Too hot at B3;")


def test_check_answers_with_exit_code_5_when_the_grate_is_uneven(samples, gratemap):
    assert gratemap("map", "--check", "--round", "1").exit_code == 5


def test_readings_come_from_a_pipe_too(samples, gratemap):
    text = Path("readings.csv").read_text(encoding="utf-8")
    from_pipe = gratemap("map", "--json", "--readings", "-", typed=text)
    assert from_pipe.exit_code == 0
    assert json.loads(from_pipe.stdout) == json.loads(gratemap("map", "--json").stdout)


@pytest.mark.parametrize("name", ["map.png", "map.svg"])
def test_the_picture_is_saved(samples, gratemap, name):
    assert gratemap("map", "--picture", name).exit_code == 0
    start = Path(name).read_bytes()[:64]
    assert start.startswith(b"\x89PNG") if name.endswith("png") else b"<?xml" in start


RECHECK = (
    "38,4,2026-06-13,2026-06-13T14:40:00+00:00,B2,,,rail,575,dry,closed,,5.5,5,4,4,,\n"
    "39,4,2026-06-13,2026-06-13T14:40:07+00:00,B3,,,rail,560,dry,closed,,5.5,5,4,4,,\n"
)


@pytest.mark.parametrize("shots", [1, 2])
def test_a_recheck_says_whose_shape_it_has(samples, gratemap, shots):
    assert "shape of round" not in gratemap("map").stdout
    with Path("readings.csv").open("a", encoding="utf-8") as file:
        file.writelines(RECHECK.splitlines(keepends=True)[:shots])
    result = gratemap("map")
    assert result.exit_code == 0, result.output
    assert result.stdout.startswith("Round 4, on the shape of round 3\n")
    assert "A re-check: the shape is that of round 3, 16 min before" in gratemap("map", "--why").stdout
    numbers = [
        json.loads(gratemap("map", *which, "--json").stdout)["shape_from_round"] for which in ((), ("--round", "3"))
    ]
    assert numbers == [3, None]


@pytest.mark.parametrize("number", [1, 2, 3])
def test_the_answer_keeps_silent_about_no_side(samples, gratemap, number):
    """Where some position is flagged the headline names that side, and never a side with nothing flagged."""
    document = json.loads(gratemap("map", "--round", str(number), "--json").stdout)
    headline = document["answer"].partition("; ")[0].lower()
    flagged = {spot["verdict"] for spot in document["spots"] if not spot["suspect"]}
    for word in ("too hot", "too cold"):
        assert (word in headline) == (word in flagged)


def test_two_shots_at_one_place_show_the_one_that_is_believed(plain_grill, gratemap, monkeypatch):
    """575 at B2 and a slip of −30: the table shows 575 with its own mark, never a mean that nobody read."""
    monkeypatch.chdir(plain_grill)
    rows = [f"{label},575" for label in load_grill("grill.toml").labels] + ["B2,-30"]
    Path("readings.csv").write_text("position,shown_f\n" + "\n".join(rows) + "\n", encoding="utf-8")
    said = gratemap("map").stdout
    row = next(line.split() for line in said.splitlines() if line.startswith("  B "))
    assert row[1:7:2] == ["575"] * 3
    assert len(set(row[2:8:2])) == 1
    assert "×" not in row
    assert "Left out B2 (reading 13)" in said
    document = json.loads(gratemap("map", "--json").stdout)
    here = [(spot["shown_f"], spot["suspect"]) for spot in document["spots"] if spot["position"] == "B2"]
    assert [(round(shown), suspect) for shown, suspect in here] == [(575, False), (-30, True)]


def test_a_slip_alone_at_its_place_is_shown_with_the_mark_of_one_left_out(plain_grill, gratemap, monkeypatch):
    monkeypatch.chdir(plain_grill)
    rows = [f"{label},{900 if label == 'B2' else 575}" for label in load_grill("grill.toml").labels]
    Path("readings.csv").write_text("position,shown_f\n" + "\n".join(rows) + "\n", encoding="utf-8")
    said = gratemap("map").stdout
    row = next(line.split() for line in said.splitlines() if line.startswith("  B "))
    assert row[3:5] == ["900", "×"] and row.count("×") == 1
    assert "Left out B2" in said


def test_a_grate_smaller_than_the_usual_piece_is_mapped_also_where_a_centre_is_wanted(tmp_path, gratemap, monkeypatch):
    """Nobody said how large the food is; that a usual one does not fit is no reason for no answer."""
    monkeypatch.chdir(tmp_path)
    sizes = "[grate]\nwidth = 6.5\ndepth = 6.5\n[positions]\nmargin = 1.0\nrows = 3\ncolumns = 3\n"
    Path("grill.toml").write_text(f"{sizes}[target]\nlow = 550.0\nhigh = 600.0\n[food]\ntarget = 137.0\n")
    shots = zip("A1 A2 A3 B1 B2 B3 C1 C2 C3".split(), (560, 570, 580, 565, 575, 590, 575, 585, 560), strict=True)
    Path("readings.csv").write_text("position,shown_f\n" + "".join(f"{label},{shown}\n" for label, shown in shots))
    for words in (["map"], ["ready"], ["burners", "--json"]):
        result = gratemap(*words)
        assert result.exit_code == 0, result.output
        assert "of the grate in band" in result.stdout
