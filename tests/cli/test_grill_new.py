"""`gratemap grill new` and `grill check`: slips are told and asked again, and nothing half is written."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from heatmap.grill.toml import load_grill


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


ANSWERS = ["us", "terrace", "24", "18", "front-to-back", "cast iron, seasoned", "left, right", "1 10", "550 600"]
REST = ["shown", "12", "0.95", "0.75", "0.25"]


def typed(*lines: str) -> str:
    return "".join(f"{line}\n" for line in lines)


def test_what_was_answered_is_in_the_grill(folder, gratemap):
    result = gratemap("grill", "new", typed=typed(*ANSWERS, *REST))
    assert result.exit_code == 0, result.stderr
    grill = load_grill("grill.toml")
    assert grill.name == "terrace"
    assert (grill.grate.width_mm, grill.grate.depth_mm) == (pytest.approx(24 * 25.4), pytest.approx(18 * 25.4))
    assert [burner.name for burner in grill.burners] == ["left", "right"]
    assert (grill.target.low_c, grill.target.high_c) == (
        pytest.approx((550 - 32) / 1.8),
        pytest.approx((600 - 32) / 1.8),
    )
    checked = gratemap("grill", "check")
    assert checked.exit_code == 0
    assert "grill.toml: fine. terrace" in checked.stdout


def test_slips_are_told_and_asked_again(folder, gratemap):
    slips = [
        "imperial", "si", "terrace", "wide", "0", "600", "450", "left-to-right",
        "?", "gold leaf", "cast iron, seasoned", "-", "hot", "315 288", "288-315", *REST[:3], "19", "6",
    ]  # fmt: skip
    result = gratemap("grill", "new", "other.toml", typed=typed(*slips))
    assert result.exit_code == 0, result.stderr
    for told in ("'imperial' is not one of: us, si", "'wide' is not a number above 0", "'0' is not a number above 0"):
        assert told in result.stderr
    for told in ("cast iron, seasoned\n", "gold leaf", "two numbers, low then high", "low first, then high"):
        assert told in result.stderr
    grill = load_grill("other.toml")
    assert grill.burners == ()
    assert grill.grate.width_mm == 600.0
    assert (grill.target.low_c, grill.target.high_c) == (288.0, 315.0)


MANY_SLIPS = """\
untis = "us"
[grate]
widht = 24.0
depth = 900.0
rails = "sideways"
[gunn]
accuracy = 4.0
[target]
low = 550.0
high = 600.0
finish = "cast iron, seasoned"
[patch]
emissivity = 2
[[burner]]
name = "left"
form = [1, 1]
to = [1, 17]
[[burner]]
name = "right"
control = "dial"
from = [20, 1]
to = [20, 17]
"""


def test_check_tells_everything_that_is_wrong_at_once_and_what_may_have_been_meant(folder, gratemap):
    Path("grill.toml").write_text(MANY_SLIPS, encoding="utf-8")
    result = gratemap("grill", "check")
    assert result.exit_code == 3
    told = [line.strip() for line in result.stderr.splitlines()]
    expected = [
        "untis is not a key of a grill file; did you mean units?",
        "gunn is not a key of a grill file; did you mean gun?",
        "grate.widht is not a key of a grill file; did you mean width?",
        "grate.width is missing; it has no default",
        "grate.depth is 900 in; it must be at least 1.969 and at most 196.9 in",
        'grate.rails is "sideways"; it must be',
        "patch.emissivity is 2; it must be above 0 and at most 1",
        "target.finish is not a key of a grill file; it belongs in [grate]",
        'burner "left": form is not a key of a grill file; did you mean from?',
        'burner "left": give from and to, or centre and radius, or path',
        'burner "right": control is "dial"; it must be',
    ]
    for words in expected:
        assert [line for line in told if line.startswith(words)], (words, told)
    assert told[0] == f"gratemap: grill.toml: {len(expected)} things to mend:"
    assert len(told) == 1 + len(expected)
    document = json.loads(gratemap("grill", "check", "--json").stdout)
    assert document["fine"] is False
    assert document["problems"] == told[1:]


def test_check_of_one_slip_is_one_line_as_everywhere(folder, gratemap):
    Path("grill.toml").write_text("[grate]\nwidth = 24\ndepth = 18\n[target]\nlow = 550\n", encoding="utf-8")
    result = gratemap("grill", "check")
    assert (result.exit_code, result.stderr) == (3, "gratemap: grill.toml: target.high is missing; it has no default\n")


def test_check_warns_of_a_finish_no_gun_can_read(folder, gratemap):
    text = '[grate]\nwidth = 24\ndepth = 18\nfinish = "stainless steel, bright"\n[target]\nlow = 550\nhigh = 600\n'
    Path("grill.toml").write_text(text, encoding="utf-8")
    result = gratemap("grill", "check")
    assert result.exit_code == 0
    assert "next to useless on it: shoot a patch of known emissivity or take a contact reading" in result.stdout


def test_units_and_ratios_are_taken_as_people_write_them(folder, gratemap):
    written = [
        "us", "terrace", "24 in", "45.7 cm", "front-to-back", "cast iron, seasoned", "left", "1 to 10", "288-316 °C",
        "shown", "12:1", "0,95", "3/4", '1/4"',
    ]  # fmt: skip
    result = gratemap("grill", "new", typed=typed(*written))
    assert result.exit_code == 0, result.stderr
    grill = load_grill("grill.toml")
    assert grill.grate.extent_mm == (pytest.approx(24 * 25.4), pytest.approx(457.0, abs=0.01))
    assert (grill.grate.rail_pitch_mm, grill.grate.rail_top_mm) == (pytest.approx(19.05), pytest.approx(6.35))
    assert (grill.gun.distance_to_spot, grill.gun.emissivity_setting) == (12.0, 0.95)
    assert (grill.target.low_c, grill.target.high_c) == (pytest.approx(288, abs=0.05), pytest.approx(316, abs=0.05))


def test_one_bad_answer_is_asked_again_and_no_other_is_lost(folder, gratemap):
    slips = [
        "us", "x" * 90, "terrace", "9999", "1 in", "24", "18 furlongs", "18", "front-to-back", "cast iron, seasoned",
        "left, Left", "left, right", "1 1.2", "1 10", "5500 6000", "550F-600C", "550 600", "shown", "1200:1", "1:12",
        "12:1", "95", "0.95", "0.75", "2", "0.25",
    ]  # fmt: skip
    result = gratemap("grill", "new", typed=typed(*slips))
    assert result.exit_code == 0, result.stderr
    for told in (
        "a name is one line of at most 80",
        "grate.width is 9999 in; it must be at least 1.969 and at most 196.9 in",
        "grate.width is 1 in",
        "'18 furlongs' is not a number above 0; write it like 24, 23 1/2 or 61 cm",
        "names of their own",
        "step is 0.5; it must be above 0 and at most 0.2",
        "target.low is 5500 °F",
        "two numbers in one unit",
        "gun.distance_to_spot is 1200; it must be at least 1 and at most 500",
        "'1:12' is not a number above 0; write it like 12 or 12:1",
        "gun.emissivity_setting is 95; it must be above 0 and at most 1",
        "wider than the rails are apart, 0.75",
    ):
        assert told in result.stderr, (told, result.stderr)
    assert load_grill("grill.toml").grate.width_mm == pytest.approx(24 * 25.4)


def test_coals_have_no_knob_and_are_told_to_be_moved(folder, gratemap):
    answers = [*ANSWERS[:6], "coals", ANSWERS[8], *REST]
    assert gratemap("grill", "new", typed=typed(*answers)).exit_code == 0
    (coals,) = load_grill("grill.toml").burners
    assert (coals.name, coals.control) == ("coals", "none")


def test_a_small_grate_gets_positions_that_fit(folder, gratemap):
    answers = [*ANSWERS[:2], "5", "4.5", *ANSWERS[4:], *REST]
    result = gratemap("grill", "new", typed=typed(*answers))
    assert result.exit_code == 0, result.stderr
    assert load_grill("grill.toml").positions.margin_mm < 25.4


def test_enter_takes_every_answer_that_has_a_default(folder, gratemap):
    result = gratemap("grill", "new", typed=typed(*[""] * 8, "550 600", *[""] * 5))
    assert result.exit_code == 0, result.stderr
    grill = load_grill("grill.toml")
    assert (grill.grate.rail_pitch_mm, grill.grate.rail_top_mm) == (pytest.approx(19.05), pytest.approx(6.35))


def test_answers_that_end_early_write_nothing(folder, gratemap):
    result = gratemap("grill", "new", typed=typed(*ANSWERS[:5]))
    assert result.exit_code == 3
    assert "the answers ended early; nothing was written" in result.stderr
    assert list(folder.iterdir()) == []


def test_a_grill_that_is_there_is_not_written_over_unasked(folder, gratemap):
    Path("grill.toml").write_text("mine", encoding="utf-8")
    refused = gratemap("grill", "new", typed=typed(*ANSWERS, *REST))
    assert refused.exit_code == 3
    assert "--overwrite" in refused.stderr
    assert Path("grill.toml").read_text(encoding="utf-8") == "mine"
    assert gratemap("grill", "new", "--overwrite", typed=typed(*ANSWERS, *REST)).exit_code == 0
    assert load_grill("grill.toml").name == "terrace"
    nowhere = gratemap("grill", "new", "no/folder.toml", typed="")
    assert nowhere.exit_code == 3
    assert "there is no folder no" in nowhere.stderr
