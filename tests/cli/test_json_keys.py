"""The JSON objects key by key, as the manual promises them to other programs, in both systems of units."""

from __future__ import annotations

import json
import re

import pytest

GRILL = """\
units = "{units}"
[grate]
width = {width}
depth = {depth}
[target]
low = {low}
high = {high}
[[burner]]
name = "left"
from = [{x_left}, {y_front}]
to = [{x_left}, {y_back}]
[[burner]]
name = "right"
from = [{x_right}, {y_front}]
to = [{x_right}, {y_back}]
"""
SIZES = {
    "us": {"width": 24, "depth": 18, "low": 550, "high": 600, "x_left": 4, "x_right": 20, "y_front": 1, "y_back": 17},
    "si": {
        "width": 600,
        "depth": 450,
        "low": 288,
        "high": 316,
        "x_left": 100,
        "x_right": 500,
        "y_front": 25,
        "y_back": 425,
    },
}
#: What the gun shows at A1 … C4, °F: cold on the left, hot on the right; then nearer to the band.
ROUNDS_F = (
    (520, 545, 590, 640, 525, 550, 600, 650, 515, 540, 595, 645),
    (540, 555, 585, 615, 545, 560, 590, 620, 535, 552, 588, 618),
)
TARGET = {"us": "137", "si": "58"}

# The keys of every object in °F and inches; "[]" stands for what a list holds. Others may stand beside them.
KEYS = {
    "map": {
        "": "round target spots evenness answer",
        "target": "low_f high_f numbers rail_low_f rail_high_f",
        "spots[]": "id position x_in y_in aim shown_f rail_f own_std_f shared_std_f compared_f verdict chance_in_band "
        "suspect",
        "evenness": "p95_minus_p5_f std_f share_in_band share_in_band_low share_in_band_high hottest coldest",
        "evenness.hottest": "x_in y_in rail_f compared_f",
        "evenness.coldest": "x_in y_in rail_f compared_f",
    },
    "map --surface": {"": "surface", "surface": "x_in y_in mean_f own_std_f shared_std_f"},
    "burners": {
        "": "round changes settings worth_it reachable why now expected wait_min",
        "changes[]": "burner from to",
        "settings": "left right",
        "now": "share_in_band p95_minus_p5_f",
        "expected": "share_in_band share_in_band_low share_in_band_high p95_minus_p5_f",
    },
    "ready --target {target}": {"": "ready sentence wait_min place seconds_per_turn changes"},
    "next": {"": "positions", "positions[]": "position x_in y_in why"},
    "compare": {
        "": "before after spread_before_f spread_after_f share_before share_after chance_better answer",
        "burners[]": "burner from to expected_f expected_std_f came_f came_std_f",
    },
    "history": {
        "": "rounds",
        "rounds[]": "round session taken_at marks shots kind spread_f share_in_band share_in_band_low "
        "share_in_band_high level_f drift_f_per_min drift_std_f_per_min why",
    },
    "place": {
        "": "places answer",
        "places[]": "x_in y_in headings mean_f std_within_f rms_from_target_f chance_in_band",
    },
    "sear --target {target}": {
        "": "seconds_per_turn turns pull_centre_f peak_centre_f peak_centre_low_f peak_centre_high_f "
        "effective_conductance_w_m2k assumptions cautions",
    },
    "gun {shown}": {"": "rail_f own_std_f shared_std_f spot_in rail_share best_distance_in"},
    "gun {shown} --contact {shown}": {"": "rail_f emissivity_by_probe"},
    "grill check": {"": "file name fine assumed"},
    "ports": {"": "ports"},
}


@pytest.fixture(params=("us", "si"))
def units(request, tmp_path, monkeypatch):
    """Write the same grill and the same two rounds in these units, and make their folder the current one."""
    monkeypatch.chdir(tmp_path)
    chosen = request.param
    (tmp_path / "grill.toml").write_text(GRILL.format(units=chosen, **SIZES[chosen]), encoding="utf-8")
    rows = [f"round,position,shown_{'f' if chosen == 'us' else 'c'},knob_left,knob_right"]
    for number, (row, marks) in enumerate(zip(ROUNDS_F, ("6,8", "7,6"), strict=True), 1):
        for index, shown_f in enumerate(row):
            shown = shown_f if chosen == "us" else round((shown_f - 32) / 1.8, 1)
            rows.append(f"{number},{'ABC'[index // 4]}{index % 4 + 1},{shown},{marks}")
    (tmp_path / "readings.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    return chosen


def refuse(constant):
    raise AssertionError(f"{constant} is no JSON")


def at(document, path):
    """Return every object at a path such as `evenness.hottest` or `spots[]`."""
    found = [document]
    for step in filter(None, path.split(".")):
        name = step.removesuffix("[]")
        found = [inner for one in found for inner in (one[name] if step.endswith("[]") else [one[name]])]
    return found


def every_key(document):
    if isinstance(document, dict):
        for key, value in document.items():
            yield key
            yield from every_key(value)
    elif isinstance(document, list):
        for value in document:
            yield from every_key(value)


@pytest.mark.parametrize("words", KEYS)
def test_every_key_is_there_in_the_cooks_units_and_in_no_others(units, gratemap, words):
    filled = words.format(target=TARGET[units], shown="575" if units == "us" else "302")
    chosen = ["--units", units] if words.startswith("gun") else []
    result = gratemap(*filled.split(), *chosen, "--json")
    assert result.exit_code == 0, result.output
    document = json.loads(result.stdout, parse_constant=refuse)
    assert result.stdout.count("\n") == 1
    for path, names in KEYS[words].items():
        objects = at(document, path)
        assert objects or path == "changes[]", f"nothing at {path}"
        for one in objects:
            for name in names.split():
                name = name if units == "us" else re.sub(r"_in$", "_mm", re.sub(r"_f(?=$|_per)", "_c", name))
                assert name in one, f"{path or 'the object'} has no {name}"
    foreign = r"_(c|mm)(_per_min)?$" if units == "us" else r"_(f|in)(_per_min)?$"
    assert [key for key in every_key(document) if re.search(foreign, key)] == []


def test_a_number_comes_back_as_it_was_shown(gratemap, units):
    found = json.loads(gratemap("map", "--round", "1", "--json").stdout)
    spot = found["spots"][0]
    shown_f = spot["shown_f"] if units == "us" else spot["shown_c"] * 1.8 + 32
    assert shown_f == pytest.approx(520.0, abs=0.09)  # half a tenth of a °C, as it stands in the file
    assert spot["position"] == "A1"


@pytest.mark.parametrize(
    "words", ["map", "burners", "ready", "next", "compare", "history", "place", "sear --target 137"]
)
def test_an_error_prints_no_object(samples, gratemap, words):
    (samples / "readings.csv").write_text("position,shown_f\nZ9,575\n", encoding="utf-8")
    result = gratemap(*words.split(), "--json")
    assert (result.exit_code, result.stdout) == (3, "")
    assert result.stderr.count("\n") == 1
