"""The grill file: every key, every way it can be wrong in one line, and nothing but a grill or an error from
anything."""

from __future__ import annotations

import math
import re
import tomllib
from dataclasses import fields, replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heatmap.errors import GrillError
from heatmap.grill.grill import Grill
from heatmap.grill.toml import (
    KEYS,
    LARGEST_FILE_BYTES,
    grill_from_tables,
    grill_from_toml,
    load_grill,
    toml_from_grill,
    toml_from_tables,
)

# Every key of the grill file, none left at its default: once in °F and inches, once in °C and mm.
EVERY_KEY = {
    "us": """
units = "us"
name = "three burners on the terrace"
[grate]
shape = "rectangle"
width = 24.0
depth = 18.0
surface = "rails"
valley = "open"
rails = "left-to-right"
rail_pitch = 1.0
rail_top = 0.3
rail_height = 0.4
emissivity = 0.85
emissivity_sd = 0.04
emissivity_patch_sd = 0.02
rim = 1.5
seams = [6.0, 12.0]
[positions]
rows = 4
columns = 5
margin = 2.0
[[burner]]
name = "left"
from = [4.0, 1.0]
to = [4.0, 17.0]
low = 2.0
high = 9.0
step = 0.25
[[burner]]
name = "ring"
control = "vents"
centre = [12.0, 9.0]
radius = 5.0
low = 0.0
high = 4.0
marks = ["LO", "MED", "HI"]
[[burner]]
name = "odd"
control = "none"
path = [[18.0, 2.0], [20.0, 9.0], [18.0, 16.0]]
[gun]
emissivity_setting = 0.90
distance_to_spot = 10.0
smallest_spot = 0.6
distance = 10.0
display_step = 0.5
accuracy_percent = 1.5
accuracy = 3.6
repeatability_percent = 0.4
aim_sd = 0.3
own_temperature = 86.0
[probe]
accuracy = 3.6
reads_low = 5.4
[patch]
emissivity = 0.96
emissivity_sd = 0.01
[target]
low = 550.0
high = 600.0
numbers = "rail"
day_sd = 9.0
zone = [0.0, 0.0, 12.0, 18.0]
[food]
size = [7.5, 5.0]
headings = [2, 10]
turns = 4
thickness = 1.25
start = 110.0
target = 137.0
cooker = 275.0
meat = "ground"
sides = "ABAB"
[surroundings]
air = 68.0
reflected = 302.0
reflected_sd = 36.0
""",
    "si": """
units = "si"
name = "three burners on the terrace"
[grate]
shape = "rectangle"
width = 609.6
depth = 457.2
surface = "rails"
valley = "open"
rails = "left-to-right"
rail_pitch = 25.4
rail_top = 7.62
rail_height = 10.16
emissivity = 0.85
emissivity_sd = 0.04
emissivity_patch_sd = 0.02
rim = 38.1
seams = [152.4, 304.8]
[positions]
rows = 4
columns = 5
margin = 50.8
[[burner]]
name = "left"
from = [101.6, 25.4]
to = [101.6, 431.8]
low = 2.0
high = 9.0
step = 0.25
[[burner]]
name = "ring"
control = "vents"
centre = [304.8, 228.6]
radius = 127.0
low = 0.0
high = 4.0
marks = ["LO", "MED", "HI"]
[[burner]]
name = "odd"
control = "none"
path = [[457.2, 50.8], [508.0, 228.6], [457.2, 406.4]]
[gun]
emissivity_setting = 0.90
distance_to_spot = 10.0
smallest_spot = 15.24
distance = 254.0
display_step = 0.277777777777778
accuracy_percent = 1.5
accuracy = 2.0
repeatability_percent = 0.4
aim_sd = 7.62
own_temperature = 30.0
[probe]
accuracy = 2.0
reads_low = 3.0
[patch]
emissivity = 0.96
emissivity_sd = 0.01
[target]
low = 287.777777777778
high = 315.555555555556
numbers = "rail"
day_sd = 5.0
zone = [0.0, 0.0, 304.8, 457.2]
[food]
size = [190.5, 127.0]
headings = [2, 10]
turns = 4
thickness = 31.75
start = 43.3333333333333
target = 58.3333333333333
cooker = 135.0
meat = "ground"
sides = "ABAB"
[surroundings]
air = 20.0
reflected = 150.0
reflected_sd = 20.0
""",
}
PLAIN = "[grate]\nwidth = 24.0\ndepth = 18.0\n{grate}\n[target]\nlow = 550.0\nhigh = 600.0\n{target}\n{rest}"


def numbers_of(thing: object) -> list[object]:
    """Return everything a grill says, flat; names of defaults taken left out."""
    if hasattr(thing, "__dataclass_fields__"):
        kept = [item.name for item in fields(thing) if item.name not in ("units", "assumed")]  # type: ignore[arg-type]
        return [value for name in kept for value in numbers_of(getattr(thing, name))]
    if isinstance(thing, tuple):
        return [value for part in thing for value in numbers_of(part)]
    return [thing]


def same(one: Grill, other: Grill, tolerance: float = 1e-9) -> None:
    mine, theirs = numbers_of(one), numbers_of(other)
    assert len(mine) == len(theirs)
    for a, b in zip(mine, theirs, strict=True):
        if isinstance(a, float) and isinstance(b, float):
            assert a == pytest.approx(b, rel=tolerance, abs=tolerance)
        else:
            assert a == b


def test_every_key_is_read_and_us_and_si_tell_the_same_grill() -> None:
    """1 in = 25.4 mm and t/°C = (t/°F − 32)/1.8: NIST SP 811 (2008), appendix B.8."""
    us, si = (grill_from_toml(EVERY_KEY[units]) for units in ("us", "si"))
    same(us, si, tolerance=1e-12)
    assert (us.units, si.units) == ("us", "si")
    assert us.grate.width_mm == pytest.approx(609.6)
    assert us.target.low_c == pytest.approx(287.7777777778)
    assert us.gun.accuracy_c == pytest.approx(2.0)
    assert us.gun.own_temperature_c == pytest.approx(30.0)
    assert us.burners[1].marks == ("LO", "MED", "HI")
    assert len(us.burners[2].points_mm) == 3
    default = grill_from_toml(PLAIN.format(grate="", target="", rest=""))
    for section in ("grate", "positions", "gun", "probe", "patch", "target", "food", "surroundings"):
        for item in fields(getattr(us, section)):
            if item.name not in ("shape", "surface", "width_mm", "depth_mm", "low_c", "high_c", "finish"):
                assert getattr(getattr(us, section), item.name) != getattr(getattr(default, section), item.name), item
    # Only what a file may leave out for marks or for coals is still assumed.
    assert not [line for line in us.assumed if not line.startswith("burner")]


def test_little_is_needed_and_every_default_is_told() -> None:
    grill = grill_from_toml(PLAIN.format(grate="", target="", rest=""))
    assert grill.target.numbers == "shown"
    told = dict(line.split(" = ", 1) for line in grill.assumed)
    assert told["units"] == '"us"'
    assert told["grate.rail_pitch"] == "0.75 in"
    assert told["gun.distance"] == "12 in"
    assert told["gun.accuracy"] == "4 °F"
    assert told["surroundings.air"] == "75 °F"
    assert told["target.day_sd"] == "8 °F"
    assert told["positions.rows"] == "3"
    assert told["grate.finish"] == '"cast iron, seasoned"'
    si = grill_from_toml(
        'units = "si"\n'
        + PLAIN.format(grate="", target="", rest="")
        .replace("24.0", "600")
        .replace("18.0", "450")
        .replace("550.0", "288")
        .replace("600.0", "316")
    )
    assert "grate.rail_pitch = 19.05 mm" in si.assumed
    same(replace(si, grate=grill.grate, target=grill.target), grill)
    given = grill_from_toml(PLAIN.format(grate="emissivity = 0.9", target="", rest=""))
    assert "grate.emissivity_sd = 0.05" in given.assumed
    assert not [line for line in given.assumed if line.startswith("grate.finish")]


@pytest.mark.parametrize(
    ("controls", "valley"),
    [
        ((), "floor"),
        (("knob",), "floor"),
        (("setpoint",), "floor"),
        (("vents",), "open"),
        (("none", "vents"), "open"),
        (("none", "knob"), "floor"),
    ],
)
def test_the_valley_nobody_described_is_open_over_coals_alone(controls: tuple[str, ...], valley: str) -> None:
    burners = "".join(
        f'[[burner]]\nname = "{at}"\ncontrol = "{control}"\npath = [[1, 1]]\n' for at, control in enumerate(controls)
    )
    grill = grill_from_toml(PLAIN.format(grate="", target="", rest=burners))
    assert (grill.grate.valley, grill.valley) == (None, valley)
    assert f'grate.valley = "{valley}"' in grill.assumed
    said = grill_from_toml(PLAIN.format(grate='valley = "open"', target="", rest=burners))
    assert (said.grate.valley, said.valley) == ("open", "open")
    assert not [line for line in said.assumed if "valley" in line]


KNOB = '[[burner]]\nname = "left"\nfrom = [1, 1]\nto = [1, 17]\n'
WRONG = [
    (
        "grate",
        "emissivity = 1.4",
        "grate.emissivity is 1.4; it must be at least 0.01 and at most 1: no metal is brighter; for common",
    ),
    ("grate", "emissivity = 0", "grate.emissivity is 0; it must be at least 0.01 and at most 1: no metal is brighter"),
    ("grate", "emissivity = true", "grate.emissivity is true; it must be a plain number"),
    ("grate", 'emissivity = "0.9"', 'grate.emissivity is "0.9"; it must be a plain number'),
    ("grate", "emissivity = nan", "grate.emissivity is nan; it must be a plain number"),
    ("grate", "emissivity = inf", "grate.emissivity is inf; it must be a plain number"),
    ("grate", f"emissivity = {'9' * 400}", "grate.emissivity is 99999999"),
    ("grate", f"emissivity = 0x{'f' * 5000}", "grate.emissivity is a number without end; it must be a plain number"),
    ("grate", "emissivity_sd = -0.1", "grate.emissivity_sd is -0.1; it must be at least 0 and at most 0.5"),
    (
        "grate",
        "colour = 1",
        "grate.colour is not a key of a grill file; known here: shape, width, depth, surface, valley",
    ),
    ("grate", 'finish = "gold"', "finish 'gold' is not in the table. There are: cast iron, seasoned;"),
    ("grate", "finish = 3", "grate.finish is 3; it must be text in quotes"),
    (
        "grate",
        'rails = "sideways"',
        'grate.rails is "sideways"; it must be "front-to-back" or "left-to-right"',
    ),
    ("grate", 'valley = "lava"', 'grate.valley is "lava"; it must be "floor" or "open"'),
    ("grate", "valley = 3", 'grate.valley is 3; it must be "floor" or "open"'),
    ("grate", 'rails = """a\nb"""', 'grate.rails is "a\\nb"; it must be one line of at most 80 characters'),
    (
        "grate",
        "rail_top = 1.0",
        "grate.rail_top is 1 in; it must be at least 0.007874 and below 0.75 in, grate.rail_pitch",
    ),
    (
        "grate",
        "rail_pitch = -1",
        "grate.rail_pitch is -1 in; it must be at least 0.03937 and at most 7.874 in",
    ),
    ("grate", "rim = 9", "grate.rim is 9 in; it must be at least 0 and below 9 in, half the shorter side"),
    ("grate", "seams = [12, 25]", "grate.seams is 25 in; it must be above 0 and below 24 in"),
    ("grate", "seams = 3", "grate.seams is 3; it must be a list in brackets"),
    ("grate", "seams = [nan]", "grate.seams is nan; it must be a plain number"),
    ("grate", "width = 25", "not valid TOML: Cannot overwrite a value"),
    ("target", 'numbers = "both"', 'target.numbers is "both"; it must be "shown" or "rail"'),
    ("target", "day_sd = -1", "target.day_sd is -1 °F; it must be at least 0 and at most 180 °F"),
    (
        "rest",
        "[gun]\nown_temperature = 750",
        "gun.own_temperature is 750 °F; it must be at least -40 and at most 212 °F",
    ),
    (
        "rest",
        '[gun]\nown_temperature = "warm"',
        'gun.own_temperature is "warm"; it must be a temperature, "air" or "none"',
    ),
    ("rest", '[gun]\ndistance_to_spot = "12:1"', 'gun.distance_to_spot is "12:1"; it must be a plain number'),
    ("rest", "[gun]\ndistance = 0", "gun.distance is 0 in; it must be at least 0.3937 and at most 196.9 in"),
    (
        "rest",
        "[gun]\nemissivity_setting = 0",
        "gun.emissivity_setting is 0; it must be at least 0.01 and at most 1: no gun can be set lower or higher",
    ),
    ("rest", "[positions]\nrows = 2.5", "positions.rows is 2.5; it must be a whole number"),
    ("rest", "[positions]\nrows = true", "positions.rows is true; it must be a whole number"),
    ("rest", "[positions]\nrows = 27", "positions.rows is 27; it must be at least 1 and at most 26"),
    ("rest", "[positions]\ncolumns = 0", "positions.columns is 0; it must be at least 1 and at most 99"),
    (
        "rest",
        "[positions]\nmargin = 9",
        "positions.margin is 9 in; it must be at least 0 and below 9 in, half the shorter",
    ),
    (
        "rest",
        "[patch]\nemissivity = 2",
        "patch.emissivity is 2; it must be at least 0.01 and at most 1: no metal is brighter",
    ),
    ("rest", "[probe]\nreads_low = -3", "probe.reads_low is -3 °F; it must be at least 0 and at most 180 °F"),
    (
        "rest",
        "[surroundings]\nair = 500",
        "surroundings.air is 500 °F; it must be at least -76 and at most 212 °F",
    ),
    (
        "rest",
        "[surroundings]\nreflected_sd = 1e400",
        "surroundings.reflected_sd is inf; it must be a plain number",
    ),
    (
        "rest",
        "[kitchen]\nsink = 1",
        "kitchen is not a key of a grill file; known here: units, name, burner, grate",
    ),
    ("rest", "[burner]\nname = 3", "burner must be written [[burner]], once for each"),
    ("rest", "x = [", "not valid TOML: "),
    ("rest", "x = " + "[" * 20000, "not valid TOML: "),
    ("rest", '[[burner]]\ncontrol = "knob"', "burner 1: name is missing; it has no default"),
    ("rest", '[[burner]]\nname = ""', "burner.name is empty; give each burner a name"),
    (
        "rest",
        '[[burner]]\nname = "left"',
        'burner "left": say where it lies: from and to, or centre and radius, or path',
    ),
    (
        "rest",
        KNOB + "colour = 3",
        'burner "left": colour is not a key of a grill file; known here: name, control, from',
    ),
    (
        "rest",
        KNOB + 'control = "dial"',
        'burner "left": control is "dial"; it must be "knob", "setpoint", "vents" or "none"',
    ),
    (
        "rest",
        KNOB + "radius = 3",
        'burner "left": give from and to, or centre and radius, or path, and only one of these',
    ),
    ("rest", KNOB.replace("[1, 17]", "[1]"), 'burner "left": to is [1]; it must be [x, y]'),
    ("rest", KNOB.replace("[1, 17]", "[1, nan]"), 'burner "left": to is nan; it must be a plain number'),
    (
        "rest",
        KNOB.replace("17", "1e6"),
        'burner "left": to is 1e+06 in; it must be at least -393.7 and at most 393.7 in',
    ),
    (
        "rest",
        '[[burner]]\nname = "o"\ncentre = [1, 1]\nradius = 0',
        'burner "o": radius is 0 in; it must be above 0',
    ),
    ("rest", '[[burner]]\nname = "o"\npath = []', 'burner "o": say where it lies: from and to'),
    ("rest", KNOB + "low = 10", 'burner "left": low is 10 and high is 10; low must be below high'),
    (
        "rest",
        KNOB + "step = 20",
        'burner "left": step is 20; from 1 to 10 it must be at least 0.0045 and at most 9',
    ),
    ("rest", KNOB + "step = 1e-9", 'burner "left": step is 1e-09; from 1 to 10 it must be at least 0.0045'),
    ("rest", KNOB + "high = 1e9", 'burner "left": high is 1e+09; it must be at least -5000 and at most 5000: no'),
    ("rest", KNOB + 'low = "LO"', 'burner "left": low is "LO"; it must be a plain number'),
    (
        "rest",
        KNOB + 'marks = ["LO", "lo"]',
        'burner "left": marks are LO, lo; they must be two or more different names',
    ),
    ("rest", KNOB + 'marks = ["LO", 3]', 'burner "left": marks is 3; it must be text in quotes'),
    (
        "rest",
        KNOB + KNOB.replace("left", "Left"),
        'burner "left" is there twice; give each burner a name of its own',
    ),
]


def message_of(text: str) -> str:
    with pytest.raises(GrillError) as caught:
        grill_from_toml(text, source="terrace.toml")
    return str(caught.value)


@pytest.mark.parametrize(("where", "line", "words"), WRONG, ids=lambda value: str(value)[:40])
def test_one_line_names_file_key_value_and_what_is_allowed(where: str, line: str, words: str) -> None:
    message = message_of(PLAIN.format(**({"grate": "", "target": "", "rest": ""} | {where: line})))
    assert message.startswith(f"terrace.toml: {words}")
    assert "\n" not in message
    assert len(message) < 800


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "grate.width is missing; it has no default"),
        ("[grate]\nwidth = 24\ndepth = 18", "target.low is missing; it has no default"),
        ("[grate]\ndepth = 18\n[target]\nlow = 550\nhigh = 600", "grate.width is missing; it has no default"),
        ("[grate]\nwidth = 24\ndepth = 18\n[target]\nhigh = 600", "target.low is missing; it has no default"),
        (
            "[grate]\nwidth = 24\ndepth = 18\n[target]\nlow = 600\nhigh = 550",
            "target.low is 600 °F; it must be at least -4 and below 550 °F, target.high: the band is",
        ),
        ("grate = 3\n[target]\nlow = 1\nhigh = 2", "grate is 3; it must be a table: [grate]"),
        ('units = "metric"', 'units is "metric"; it must be "us" or "si": °F and inches, or °C and mm'),
        ('units = ["us"]', """units is ['us']; it must be "us" or "si": °F and inches, or °C and mm"""),
        ("name = 3\n[grate]\n[target]", "name is 3; it must be text in quotes"),
    ],
)
def test_what_is_missing_or_upside_down(text: str, words: str) -> None:
    assert message_of(text).startswith(f"terrace.toml: {words}")


def test_limits_are_told_in_the_units_of_the_file() -> None:
    si = 'units = "si"\n[grate]\nwidth = {width}\ndepth = 450\n[target]\nlow = {low}\nhigh = 316\n'
    assert "grate.width is 6 mm; it must be at least 50 and at most 5000 mm" in message_of(si.format(width=6, low=288))
    assert "target.low is 320 °C; it must be at least -20 and below 316 °C" in message_of(si.format(width=600, low=320))


def test_files_that_are_none(tmp_path: Path) -> None:
    cases = {
        "missing.toml": (None, "no such grill file; make one with: gratemap grill new"),
        "binary.toml": (bytes(range(128, 256)), "not text in UTF-8; a grill file is TOML"),
        "large.toml": (b"#" * (LARGEST_FILE_BYTES + 1), "larger than 1,000,000 bytes; that is no grill file"),
        "nul.toml": (b"\0\0\0", "not valid TOML"),
        "nested.toml": (b"a" + 20_000 * b".a" + b" = 1", "a.a.a.a.a.a.a.a.a.a.a.a.a.a.a.a. is no key of a grill file"),
    }
    for name, (content, words) in cases.items():
        path = tmp_path / name
        if content is not None:
            path.write_bytes(content)
        with pytest.raises(GrillError, match=re.escape(f"{path}: {words}")):
            load_grill(path)
    with pytest.raises(GrillError, match="cannot be read"):
        load_grill(tmp_path)
    with_mark = tmp_path / "mark.toml"
    with_mark.write_text("\ufeff" + EVERY_KEY["us"], encoding="utf-8")
    same(load_grill(with_mark), grill_from_toml(EVERY_KEY["us"]))


@pytest.mark.parametrize("units", ["us", "si"])
def test_written_back_and_read_again_is_the_same_grill(units: str) -> None:
    grill = grill_from_toml(EVERY_KEY[units])
    same(grill_from_toml(toml_from_grill(grill)), grill, tolerance=1e-4)
    default = grill_from_toml(PLAIN.format(grate="", target="", rest=KNOB))
    same(grill_from_toml(toml_from_grill(default)), default, tolerance=1e-4)


def test_what_is_written_beside_the_keys_and_odd_names_do_no_harm() -> None:
    tables = {
        "units": "us",
        "name": 'the "big" one \\ back',
        "grate": {"width": 24.0, "depth": 18.125, "finish": "cast iron, seasoned"},
        "burner": [{"name": '"#1" [left]', "control": "knob", "from": [6.0, 1.0], "to": [6, 17]}],
        "target": {"low": 550.0, "high": 600.0},
    }
    text = toml_from_tables(tables, comment="Mine.\nLook it over.")
    assert text.startswith("# Mine.\n# Look it over.\nunits")
    assert 'control = "knob"             # "knob", "setpoint", "vents" or "none"' in text
    assert tomllib.loads(text) == tables
    grill = grill_from_toml(text)
    assert (grill.name, grill.burners[0].name) == ('the "big" one \\ back', '"#1" [left]')
    assert grill.grate.depth_mm == pytest.approx(18.125 * 25.4)


def test_the_manual_shows_every_key_and_its_example_is_a_grill() -> None:
    text = (Path(__file__).parents[2] / "cli/manual/grill.md").read_text(encoding="utf-8")
    example = "\n".join(line[4:] for line in text.split("    units = ")[1].splitlines() if line.startswith("    "))
    assert isinstance(grill_from_toml('units = "us"\n' + example), Grill)
    for table, keys in KEYS.items():
        for key in keys:
            assert re.search(rf"\b{key}\b", text), f"[{table}] {key}"


VALUES = st.recursive(
    st.one_of(
        st.booleans(),
        st.integers(),
        st.integers(-5, 30),
        st.floats(),
        st.floats(0.0, 30.0),
        st.text(max_size=12),
        st.sampled_from(["us", "si", "knob", "none", "vents", "setpoint", "air", "shown", "rail", "front-to-back"]),
        st.none(),
    ),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=6), inner, max_size=3)),
    max_leaves=6,
)
SECTION_KEYS = {
    "grate": [
        "width",
        "depth",
        "valley",
        "rails",
        "rail_pitch",
        "rail_top",
        "rail_height",
        "finish",
        "emissivity",
        "emissivity_sd",
    ]
    + ["emissivity_patch_sd", "rim", "seams"],
    "positions": ["rows", "columns", "margin"],
    "gun": [
        "emissivity_setting",
        "distance_to_spot",
        "smallest_spot",
        "distance",
        "display_step",
        "accuracy_percent",
    ]
    + ["accuracy", "repeatability_percent", "aim_sd", "own_temperature"],
    "probe": ["accuracy", "reads_low"],
    "patch": ["emissivity", "emissivity_sd"],
    "target": ["low", "high", "numbers", "day_sd"],
    "surroundings": ["air", "reflected", "reflected_sd"],
}
SOUND = {"grate": {"width": 24.0, "depth": 18.0}, "target": {"low": 550.0, "high": 600.0}}


@settings(max_examples=120, deadline=None)
@given(data=st.data())
def test_anything_gives_a_grill_or_one_line(data: st.DataObject) -> None:
    """Sound tables with a few entries put in, overwritten or replaced by nonsense."""
    tables: dict[str, object] = {name: dict(values) for name, values in SOUND.items()}
    for _ in range(data.draw(st.integers(1, 3))):
        section = data.draw(st.sampled_from([*SECTION_KEYS, "burner", "units", "name", "other"]))
        if section in SECTION_KEYS and isinstance(tables.get(section, {}), dict) and data.draw(st.booleans()):
            key = data.draw(st.sampled_from(SECTION_KEYS[section]))
            tables[section] = {**tables.get(section, {}), key: data.draw(VALUES)}  # type: ignore[dict-item]
        elif section == "burner":
            keys = [
                "name",
                "control",
                "from",
                "to",
                "centre",
                "radius",
                "path",
                "low",
                "high",
                "step",
                "marks",
                "x",
            ]
            entry = {"name": "left", "from": [1, 1], "to": [1, 9]}
            tables["burner"] = [entry | data.draw(st.dictionaries(st.sampled_from(keys), VALUES, max_size=3))]
        else:
            tables[section] = data.draw(VALUES)
    try:
        grill = grill_from_tables(tables, source="grill.toml")
    except GrillError as error:
        check_one_line(str(error))
    else:
        assert isinstance(grill, Grill)
        assert all(math.isfinite(value) for value in numbers_of(grill) if isinstance(value, float))


def check_one_line(message: str) -> None:
    assert message.startswith("grill.toml: ")
    assert "\n" not in message
    assert len(message) < 1500


@settings(max_examples=100, deadline=None)
@given(text=st.text(max_size=200))
def test_any_text_gives_a_grill_or_one_line(text: str) -> None:
    with pytest.raises(GrillError) as caught:
        grill_from_toml(text)
    check_one_line(str(caught.value))
