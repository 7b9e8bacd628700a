"""`gratemap explain`: what it says of a position beside how its reading was corrected."""

from __future__ import annotations

import json
import re

import pytest

HEADER = "position,aim,shown_f\n"
ROWS = "A1,rail,562\nA4,rail,571\nB2,rail,580\nB3,rail,588\nC1,rail,590\nC4,rail,601\nA2,rail,566\nB1,rail,577\n"


def test_contact_readings_that_contradict_one_another_are_told(plain_grill, gratemap, monkeypatch):
    monkeypatch.chdir(plain_grill)
    (plain_grill / "readings.csv").write_text(HEADER + ROWS + "B2,contact,604\nB2,contact,545\n", encoding="utf-8")
    result = gratemap("explain", "B3")
    assert "Contact readings disagree by 59 °F: 545 at B2, 604 at B2; take another." in result.stdout


def test_a_position_that_was_not_shot_has_what_the_map_says_of_it(plain_grill, gratemap, monkeypatch):
    monkeypatch.chdir(plain_grill)
    (plain_grill / "readings.csv").write_text(HEADER + ROWS, encoding="utf-8")
    result = gratemap("explain", "c2")
    assert result.exit_code == 0
    lines = result.stdout.splitlines()
    assert lines[0] == "C2 was not shot in round 1; the map between the shots says:"
    assert lines[2].startswith("  The map here: 59")  # between C1 at 590 and C4 at 601
    assert lines[3] == "  Shot in round 1: A1, A4, B2, B3, C1, C4, A2, B1."
    assert "not shot" not in gratemap("explain", "B2").stdout


def test_a_place_that_is_not_sure_is_told_as_what_it_leans_to(plain_grill, gratemap, monkeypatch):
    """As the map marks it: a shot just over the band's upper limit is perhaps too hot, never a blank "unsure"."""
    monkeypatch.chdir(plain_grill)
    (plain_grill / "readings.csv").write_text(HEADER + ROWS.replace("601", "604"), encoding="utf-8")
    leaning = {one["position"]: one for one in json.loads(gratemap("map", "--json").stdout)["spots"]}
    unsure = {label: one["leaning"] for label, one in leaning.items() if one["verdict"] == "unsure"}
    assert "C4" in unsure, "the premise"
    for label, leans in unsure.items():
        assert f" in the band's numbers, perhaps {leans}, " in gratemap("explain", label).stdout
    assert "unsure" not in gratemap("explain", "C3").stdout, "a place between the shots"


def test_readings_beside_the_positions_are_listed_as_they_can_be_asked_for(plain_grill, gratemap, monkeypatch):
    monkeypatch.chdir(plain_grill)
    places = ((4, 15, 560), (18, 15, 571), (11, 10, 580), (4, 4, 590), (18, 4, 601))
    text = "x_in,y_in,shown_f\n" + "".join(f"{x},{y},{shown}\n" for x, y, shown in places)
    (plain_grill / "readings.csv").write_text(text, encoding="utf-8")
    told = gratemap("explain", "B2").stdout.splitlines()[-1]
    assert told == "  Shot in round 1: reading 1, reading 2, reading 3, reading 4, reading 5."
    assert "(reading 4, round 1)" in gratemap("explain", "4").stdout


def test_what_is_no_position_and_no_reading_is_told_with_what_there_is(plain_grill, gratemap, monkeypatch):
    monkeypatch.chdir(plain_grill)
    (plain_grill / "readings.csv").write_text(HEADER + ROWS, encoding="utf-8")
    nowhere, no_reading = gratemap("explain", "K9"), gratemap("explain", "77")
    assert (nowhere.exit_code, no_reading.exit_code) == (3, 3)
    assert "positions go from A1 (back left) to C4" in nowhere.stderr
    assert "round 1 has no reading 77; its readings are 1 to 8" in no_reading.stderr


def test_bright_rails_are_said_to_be_hardly_known_without_a_contact_reading(plain_grill, gratemap, monkeypatch):
    monkeypatch.chdir(plain_grill)
    described = (plain_grill / "grill.toml").read_text(encoding="utf-8")
    readings = plain_grill / "readings.csv"
    readings.write_text(HEADER + ROWS, encoding="utf-8")
    assert "cannot be told" not in gratemap("explain", "B2").stdout
    bright = described.replace("[grate]\n", '[grate]\nvalley = "open"\nfinish = "carbon steel, bright"\n')
    (plain_grill / "grill.toml").write_text(bright, encoding="utf-8")
    told = gratemap("explain", "B2").stdout
    assert "The rail cannot be told from this." in told
    assert "only 4 % of what the gun answers to is the rail's own glow" in told
    readings.write_text(HEADER + ROWS + "B2,contact,650\n", encoding="utf-8")
    assert "cannot be told" not in gratemap("explain", "B2").stdout


@pytest.mark.parametrize("emissivity", ["0.30", "0.90"])
def test_gun_and_explain_say_one_thing_of_one_shot(plain_grill, gratemap, monkeypatch, emissivity):
    monkeypatch.chdir(plain_grill)
    described = (plain_grill / "grill.toml").read_text(encoding="utf-8")
    plate = f"[grate]\nrail_top = 0.75\nemissivity = {emissivity}\n"
    (plain_grill / "grill.toml").write_text(described.replace("[grate]\n", plate), encoding="utf-8")
    (plain_grill / "readings.csv").write_text(HEADER + ROWS.replace("B2,rail,580", "B2,rail,575"), encoding="utf-8")
    alone, explained = gratemap("gun", "575", "--emissivity", emissivity).stdout, gratemap("explain", "B2").stdout
    margins = re.compile(r"±\d+ shared by all readings")
    assert ("cannot be told" in alone) == ("cannot be told" in explained) == (emissivity == "0.30")
    document = json.loads(gratemap("gun", "575", "--emissivity", emissivity, "--json").stdout)
    assert f"  Rail {document['rail_f']:.0f} °F:" in explained
    if emissivity == "0.90":
        assert margins.search(alone).group() == margins.search(explained).group()


def test_a_valley_shot_from_so_far_that_it_tells_little_is_called_so(plain_grill, gratemap, monkeypatch):
    monkeypatch.chdir(plain_grill)
    rows = "".join(f"{row},\n" for row in ROWS.splitlines()) + "B2,valley,600,12\nB2,valley,604,4\n"
    (plain_grill / "readings.csv").write_text("position,aim,shown_f,distance_in\n" + rows, encoding="utf-8")
    assert "It tells little" in gratemap("explain", "9").stdout
    assert "pins what the gun cannot know" in gratemap("explain", "10").stdout
