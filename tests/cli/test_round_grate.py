"""A kettle with a fire of two zones, from the file to the answers: nothing off the disc, no word on the cool half."""

from __future__ import annotations

import csv
import json
import math
from pathlib import Path

import pytest

from heatmap.grill.toml import load_grill

GRILL = """
[grate]
shape = "round"
width = 22.5
[positions]
rows = 4
columns = 4
[[burner]]
name = "coals"
control = "none"
[target]
low = 550
high = 600
{zone}
[food]
size = [6, 4]
headings = [12]
"""
RADIUS = 11.25


@pytest.fixture
def kettle(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A kettle whose left half is in band and whose right half is 150 °F cooler, on purpose."""
    monkeypatch.chdir(tmp_path)
    Path("grill.toml").write_text(GRILL.format(zone='zone = "left half"'), encoding="utf-8")
    Path("all.toml").write_text(GRILL.format(zone=""), encoding="utf-8")
    grill = load_grill("grill.toml")
    rows = ["position,shown_f"]
    for at, label in enumerate(grill.labels):
        x_mm, _ = grill.point_mm(label)
        rows.append(f"{label},{(575 if x_mm < 285 else 425) + 3 * (at % 3)}")
    Path("readings.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    return tmp_path


def test_the_surface_is_null_off_the_disc_and_nowhere_else(kettle, gratemap):
    surface = json.loads(gratemap("map", "--json", "--surface").stdout)["surface"]
    for name in ("mean_f", "own_std_f"):
        for y_in, row in zip(surface["y_in"], surface[name], strict=True):
            for x_in, value in zip(surface["x_in"], row, strict=True):
                assert (value is None) == (math.dist((x_in, y_in), (RADIUS, RADIUS)) > RADIUS)
    assert gratemap("map", "--grid", "grid.csv").exit_code == 0
    with Path("grid.csv").open(encoding="utf-8") as file:
        cells = [(float(row["x_in"]), float(row["y_in"])) for row in csv.DictReader(file)]
    assert len(cells) == sum(value is not None for row in surface["mean_f"] for value in row)


def test_the_cool_half_is_mapped_and_never_complained_about(kettle, gratemap):
    document = json.loads(gratemap("map", "--json").stdout)
    left, right = ([spot for spot in document["spots"] if (spot["x_in"] < RADIUS) is side] for side in (True, False))
    assert {spot["verdict"] for spot in right} == {None}
    assert None not in {spot["verdict"] for spot in left}
    assert "cold" not in document["answer"]
    assert document["target"]["zone"] == "left half"
    for name in ("hottest", "coldest"):
        assert document["evenness"][name]["x_in"] <= RADIUS
    whole = json.loads(gratemap("map", "--json", "--grill", "all.toml").stdout)
    assert "cold" in whole["answer"]
    assert document["evenness"]["share_in_band"] > whole["evenness"]["share_in_band"] + 0.2


def test_the_table_is_empty_where_the_disc_has_no_position(kettle, gratemap):
    lines = gratemap("map").stdout.splitlines()
    table = {line.split()[0]: line.split()[1:] for line in lines if line.strip()[:2] in ("A ", "B ", "C ", "D ")}
    marks = "▲▼●◇^v=?△▽○"
    numbers = {row: [text for text in texts if text not in marks] for row, texts in table.items()}
    assert {row: len(texts) for row, texts in numbers.items()} == {"A": 2, "B": 4, "C": 4, "D": 2}


def test_the_food_lies_in_the_zone_and_on_the_disc(kettle, gratemap):
    """Its outline, an ellipse of 6 by 4 in, point by point."""
    for options in ((), ("--turns", "2"), ("--heading", "any")):
        for place in json.loads(gratemap("place", "--json", *options).stdout)["places"]:
            for heading in place["headings"]:
                angle = math.radians(30.0 * heading)
                for step in range(72):
                    along, across = 3.0 * math.cos(step / 36 * math.pi), 2.0 * math.sin(step / 36 * math.pi)
                    x = place["x_in"] + along * math.sin(angle) + across * math.cos(angle)
                    y = place["y_in"] + along * math.cos(angle) - across * math.sin(angle)
                    assert math.dist((x, y), (RADIUS, RADIUS)) <= RADIUS - 1.0 + 0.02
                    assert x <= RADIUS + 1e-6


def test_food_too_large_for_the_zone_goes_over_its_edge_and_says_so(kettle, gratemap):
    said = gratemap("place", "--size", "14x12", "--heading", "12", "--why")
    assert said.exit_code == 0, said.stderr
    assert "The food does not fit inside the zone" in said.stdout
    refused = gratemap("place", "--size", "23x10")
    assert refused.exit_code == 3
    assert "does not fit on the grate" in refused.stderr


def test_a_reading_off_the_disc_is_refused(kettle, gratemap):
    Path("odd.csv").write_text("x_in,y_in,shown_f\n1,1,575\n", encoding="utf-8")
    refused = gratemap("map", "--readings", "odd.csv")
    assert refused.exit_code == 3
    assert "x, y is off the round grate" in refused.stderr


def test_everything_else_answers_for_a_kettle(kettle, gratemap):
    for words in (
        ("next",),
        ("burners",),
        ("report", "--output", "report.html"),
        ("map", "--picture", "map.png"),
        ("manual", "sheet"),
    ):
        said = gratemap(*words)
        assert said.exit_code == 0, (words, said.stderr)


def test_the_food_is_asked_for_once_at_a_terminal(kettle, at_terminal):
    text = Path("grill.toml").read_text(encoding="utf-8")
    Path("grill.toml").write_text(text.partition("[food]")[0], encoding="utf-8")
    placing = at_terminal("place", cwd=kettle)
    placing.expect("thickness, inches.*: ")
    placing.type("7.5 x 5")
    placing.expect("is not understood")
    placing.type("6 x 4 x 1.5")
    placing.expect("Headings.*: ")
    placing.type("12")
    placing.expect("Turns.*: ")
    placing.type("2")
    placing.expect("Centre.*: ")
    placing.type("100 130")
    placing.expect("Kept in grill.toml")
    assert placing.process.wait(timeout=30) == 0
    food = load_grill("grill.toml").food
    assert food.size_mm == (pytest.approx(152.4), pytest.approx(101.6))
    assert (food.headings, food.turns) == ((12.0,), 2)
    assert food.target_c == pytest.approx((130 - 32) / 1.8)
    assert Path("grill.toml").read_text(encoding="utf-8").startswith(text.partition("[food]")[0].rstrip())
    searing = at_terminal("sear", cwd=kettle)
    assert "What goes on?" not in searing.expect("s a turn|seconds|s each|rail")
