"""`gratemap grill new` and `grill check`: slips are told and asked again, and nothing half is written."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from heatmap.files.grill_toml import load_grill


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


ANSWERS = ["us", "terrace", "24", "18", "front-to-back", "cast iron, seasoned", "left, right", "1 10", "550 600"]
REST = ["shown", "12", "0.95"]


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
        "?", "gold leaf", "cast iron, seasoned", "-", "hot", "315 288", "288-315", *REST,
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
