"""`gratemap place` on the sample readings: words, JSON contract, picture, exit codes, bad input."""

from __future__ import annotations

import json
import math
import re
from datetime import UTC, datetime, timedelta

import pytest

from heatmap.grill.grill import USUAL_FOOD
from heatmap.units import quantity_text

CONTRACT = {"x_in", "y_in", "headings", "mean_f", "std_within_f", "rms_from_target_f", "chance_in_band"}


def test_words_name_the_place_by_the_positions_and_with_why_by_inches(samples, gratemap):
    result = gratemap("place", "--heading", "2,10")
    assert result.exit_code == 0
    first, second, *_ = result.stdout.splitlines()
    assert first.endswith(".")
    assert re.match(r"1: (on|between) [A-C]\d", second)
    assert "heading 2 and 10: " in second and "% likely to fit" in second
    why = gratemap("place", "--heading", "2,10", "--why").stdout
    assert "in from the left" in why and "°F from the middle of the band" in why


def test_json_has_every_key_of_the_contract_best_first(samples, gratemap):
    document = json.loads(gratemap("place", "--size", "7.5x5", "--heading", "2,10", "--json").stdout)
    assert set(document["places"][0]) >= CONTRACT
    misses = [place["rms_from_target_f"] for place in document["places"]]
    assert misses == sorted(misses)
    for place in document["places"]:
        assert place["headings"] == [2.0, 10.0]
        assert 0.0 <= place["chance_in_band"] <= 1.0
        parts = (place["mean_f"] - document["target_f"], place["std_within_f"], place["mean_std_f"])
        assert place["rms_from_target_f"] == pytest.approx(math.hypot(*parts))
        assert 0.0 < place["x_in"] < 24.0
        assert 0.0 < place["y_in"] < 16.0


def test_mean_agrees_with_the_map_of_the_same_readings(samples, gratemap):
    """A footprint of an inch is the map at that place."""
    place = json.loads(gratemap("place", "--size", "1x1", "--json").stdout)["places"][0]
    surface = json.loads(gratemap("map", "--surface", "--json").stdout)["surface"]
    column = min(range(len(surface["x_in"])), key=lambda i: abs(surface["x_in"][i] - place["x_in"]))
    row = min(range(len(surface["y_in"])), key=lambda i: abs(surface["y_in"][i] - place["y_in"]))
    assert place["rail_f"] == pytest.approx(surface["mean_f"][row][column], abs=8.0)


def write_si_grill(folder):
    """Write a grill in millimetres and a round over it."""
    (folder / "si.toml").write_text(
        'units = "si"\n[grate]\nwidth = 600.0\ndepth = 400.0\n[target]\nlow = 290.0\nhigh = 315.0\n',
        encoding="utf-8",
    )
    rows = [
        f"{label},{shown}"
        for label, shown in zip("A1 A2 A3 A4 B1 B2 B3 B4 C1 C2 C3 C4".split(), range(290, 326, 3), strict=True)
    ]
    (folder / "si.csv").write_text("position,shown_c\n" + "\n".join(rows) + "\n", encoding="utf-8")


def test_si_grill_answers_in_mm_and_celsius(samples, gratemap):
    write_si_grill(samples)
    files = ("--grill", "si.toml", "--readings", "si.csv")
    document = json.loads(gratemap("place", *files, "--size", "190x125", "--json").stdout)
    assert {"x_mm", "y_mm", "mean_c", "rms_from_target_c"} <= set(document["places"][0])
    assert " mm from the left" in gratemap("place", *files, "--why").stdout


@pytest.mark.parametrize("size", ["7.5x5", "19x12.5", "190x5", "19000x125"])
def test_a_size_in_another_unit_is_refused_with_what_to_type_in_mm(samples, gratemap, size):
    """Taken as millimetres a piece of 7.5 x 5 in would be a crumb, with a place of its own."""
    write_si_grill(samples)
    result = gratemap("place", "--grill", "si.toml", "--readings", "si.csv", "--size", size)
    assert result.exit_code == 3
    wrong = next(side for side in size.split("x") if not 25.4 <= float(side) <= 1016)
    assert f"--size is {float(wrong):g} mm; it must be at least 25.4 and at most 1016 mm: " in result.stderr
    assert "in the unit of the grill file, such as 7.5x5 in, 190x125 mm" in result.stderr
    assert result.stderr.count("\n") == 1


def test_without_a_heading_place_and_ready_and_sear_speak_of_the_same_place(samples, gratemap):
    """Crossed marks are what all of them assume, and their helps say so."""
    place, crossed, free = (
        json.loads(gratemap("place", *words, "--json").stdout)["places"][0]
        for words in ((), ("--heading", "2,10"), ("--heading", "any"))
    )
    assert place == crossed
    assert len(free["headings"]) == 1
    assert free["rms_from_target_f"] <= crossed["rms_from_target_f"]
    ask_for_band(samples, 480, 700)  # where the knobs can stay
    place = json.loads(gratemap("place", "--json").stdout)["places"][0]
    ready = json.loads(gratemap("ready", "--any-age", "--target", "137", "--size", "7.5x5", "--json").stdout)
    assert ready["place"] == {key: place[key] for key in ("x_in", "y_in", "headings", "where")}
    rail_f = json.loads(gratemap("sear", "--target", "137", "--json").stdout)["rail_f"]
    assert rail_f == pytest.approx(place["rail_f"])
    for command in ("place", "ready", "sear", "report"):
        help_ = " ".join(gratemap(command, "--help").stdout.split())
        assert "two for crossed marks, any for the best; else the grill file's, or 2,10" in help_


def test_the_help_tells_the_usual_piece(gratemap):
    help_ = " ".join(gratemap("sear", "--help").stdout.split())
    usual = {units: USUAL_FOOD[units] for units in ("us", "si")}
    for kind, field in (("length", "thickness_mm"), ("temperature", "start_c"), ("temperature", "cooker_c")):
        told = [quantity_text(getattr(piece, field), kind, units) for units, piece in usual.items()]
        assert f"else the grill file's, {' or '.join(told)}." in help_


@pytest.mark.parametrize(
    ("age_min", "says"),
    [
        (5, ""),
        (19, ""),
        (45, r"Re-check .+: the map is 45 min old\."),
        (26 * 60, r"Shoot a new round: the last is 26 h old\."),
        (3 * 24 * 60, r"Shoot a new round: the last is 3 days old\."),
    ],
)
def test_every_command_calls_an_old_map_old(samples, gratemap, age_min, says):
    """The sample round, moved to so many minutes ago."""
    newest = datetime.fromisoformat("2026-06-13T14:24:00+00:00")
    later = datetime.now(UTC) - timedelta(minutes=age_min) - newest

    def moved(match):
        return (datetime.fromisoformat(match[0]) + later).isoformat()

    text = (samples / "readings.csv").read_text(encoding="utf-8")
    text = re.sub(r"2026-06-13T[0-9:.]+\+00:00", moved, text)
    (samples / "readings.csv").write_text(text, encoding="utf-8")
    for words in (("place",), ("sear", "--target", "137"), ("map",), ("burners",), ("ready",)):
        said = gratemap(*words).stdout
        assert re.search(rf"^{says}$", said, re.M) if says else not re.search(r"\bold\b", said)
    assert re.match(r"\d+ s a turn", gratemap("sear", "--target", "137", "--rail", "575").stdout), "no map, so no age"


def test_turns_are_told_apart(samples, gratemap):
    turns = json.loads(gratemap("place", "--turns", "4", "--heading", "2,10", "--json").stdout)
    assert [(place["turn"], place["headings"]) for place in turns["places"]] == [
        (1, [2.0]),
        (2, [2.0]),
        (3, [10.0]),
        (4, [10.0]),
    ]
    told = gratemap("place", "--turns", "4").stdout
    assert all(f"turn {number}" in told for number in (1, 2, 3, 4)), "none is left out for want of room"
    assert len({(place["x_in"], place["y_in"]) for place in turns["places"]}) == 4


@pytest.mark.parametrize("end", [".png", ".svg"])
def test_picture_shows_the_outlines(samples, gratemap, end):
    result = gratemap("place", "--heading", "2,10", "--picture", f"place{end}")
    assert result.exit_code == 0
    assert (samples / f"place{end}").stat().st_size > 5000


def ask_for_band(folder, low_f, high_f):
    """Rewrite the band of the sample grill."""
    text = (folder / "grill.toml").read_text(encoding="utf-8")
    text = text.replace("low = 550.0", f"low = {low_f}.0").replace("high = 600.0", f"high = {high_f}.0")
    (folder / "grill.toml").write_text(text, encoding="utf-8")


@pytest.mark.parametrize("band", [(550, 600), (480, 700), (350, 400), (540, 640), (530, 660)])
def test_check_goes_by_the_chance_that_the_food_fits(samples, gratemap, band):
    """The mean of a place in band is not enough: on the sample grate half of the food would lie outside."""
    ask_for_band(samples, *band)
    best = json.loads(gratemap("place", "--json").stdout)["places"][0]
    assert gratemap("place", "--check").exit_code == (0 if best["chance_fits"] >= 0.7 else 5)
    assert best["chance_in_band"] <= best["chance_fits"] + 0.02, "all of it in band is more than 80 % of it"
    if band == (550, 600):
        assert 550 < best["mean_f"] < 600  # the mean alone would say yes
        assert best["chance_fits"] < 0.7
    if band == (480, 700):
        assert best["chance_fits"] >= 0.7


@pytest.mark.parametrize(("band", "way"), [((350, 400), "hot"), ((750, 800), "cold")])
@pytest.mark.parametrize("words", [(), ("--turns", "4")])
def test_where_no_place_is_in_band_it_says_so_and_how_far_off(samples, gratemap, band, way, words):
    ask_for_band(samples, *band)
    document = json.loads(gratemap("place", *words, "--json").stdout)
    best_f = min(document["places"], key=lambda place: place["rms_from_target_f"])["mean_f"]
    off_f = best_f - band[1] if way == "hot" else band[0] - best_f
    answer = document["answer"]
    assert answer.startswith("No place is in band; the best is ")
    assert f", {off_f:.0f} °F too {way}." in answer
    assert "equally good" not in answer
    assert answer in gratemap("place", *words, "--why").stdout


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--heading", "13"), "--heading is 13; it must be at least 1 and at most 12.99: an hour of the clock"),
        (
            ("--heading", "2,6,10"),
            "--heading is a list of 3; it must be of at most 2: an hour of the clock, or two for crossed marks",
        ),
        (("--heading", "soon"), 'heading "soon" cannot be read; write an hour of the clock'),
        (
            ("--size", "190x125"),
            "--size is 190 in; it must be at least 1 and at most 40 in: it is in the unit of",
        ),
        (("--size", "30x20"), "does not fit on the grate, 24 x 16 in"),
        (("--size", "0x5"), "--size is 0 in; it must be at least 1 and at most 40 in"),
        (("--size", "-3x5"), "--size is -3 in; it must be at least 1 and at most 40 in"),
        (("--size", "large"), "write LENGTHxWIDTH, such as 7.5x5"),
        (("--turns", "0"), "--turns is 0; it must be at least 1 and at most 12"),
        (("--round", "99"), "there is no round 99"),
    ],
)
def test_bad_input_is_one_clear_line(samples, gratemap, words, says):
    result = gratemap("place", *words)
    assert result.exit_code == 3
    assert says in result.stderr
    assert result.stderr.count("\n") == 1
    assert result.stdout == ""
