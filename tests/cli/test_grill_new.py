"""`gratemap grill new` and `grill check`: slips are told and asked again, and nothing half is written."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from heatmap.errors import ReadingError
from heatmap.grill.toml import load_grill
from heatmap.readings.written import mark_from_text


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


#: size, metal, how burners lie, their names, marks, the drawing, the band, the gun.
ANSWERS = ["24 x 18", "cast iron, seasoned", "front-to-back", "left, right", "1-10", "yes", "550 600", "12:1 0.95"]


def typed(*lines: str) -> str:
    return "".join(f"{line}\n" for line in lines)


def test_what_was_answered_is_in_the_grill(folder, gratemap):
    result = gratemap("grill", "new", typed=typed(*ANSWERS))
    assert result.exit_code == 0, result.stderr
    grill = load_grill("grill.toml")
    assert (grill.grate.width_mm, grill.grate.depth_mm) == (pytest.approx(24 * 25.4), pytest.approx(18 * 25.4))
    assert [burner.name for burner in grill.burners] == ["left", "right"]
    assert (grill.target.low_c, grill.target.high_c) == (
        pytest.approx((550 - 32) / 1.8),
        pytest.approx((600 - 32) / 1.8),
    )
    checked = gratemap("grill", "check")
    assert checked.exit_code == 0
    assert "grill.toml: fine. my grill" in checked.stdout


def test_eight_times_enter_is_a_grill_of_three_burners(folder, gratemap):
    result = gratemap("grill", "new", typed="\n" * 8)
    assert result.exit_code == 0, result.stderr
    grill = load_grill("grill.toml")
    assert [burner.name for burner in grill.burners] == ["left", "middle", "right"]
    assert (grill.grate.rail_pitch_mm, grill.grate.rail_top_mm) == (pytest.approx(19.05), pytest.approx(6.35))
    assert len(grill.labels) == 12
    band = Path("grill.toml").read_text(encoding="utf-8").partition("[target]")[2]
    assert [line.split()[0] for line in band.splitlines()[1:4]] == ["low", "high", "numbers"]


def test_slips_are_told_and_asked_again_and_no_other_answer_is_lost(folder, gratemap):
    slips = {
        "24": "'24' is not understood; write it like 24 x 18",
        "9999 x 18 in": "grate.width is 9999 in; it must be at least 1.969 and at most 196.9 in",
        "60 x 45": "60 in is more than any grate; write the unit, like 60 x 45 cm",
        "24 x 18 furlongs": "'18 furlongs' is not a number above 0; write it like 24, 23 1/2 or 61 cm",
        "60 x 45 cm": "",
        "gold leaf": "'gold leaf' is not known; ? lists the metals",
        "stainless": "which one: stainless steel, bright; stainless steel, heat-tinted; stainless steel, oxidised?",
        "stainless steel, oxidized": "",
        "diagonal": "'diagonal' is not one of: front-to-back, left-to-right, rings, one, coals, none",
        "lr": "",
        "left, Left": "names of their own",
        "99": "99 burners? from 1 to 12",
        "back, front": "",
        "MED": "the lowest mark and full, like 1-10",
        "1 1.2": "step is 0.5; from 1 to 1.2 it must be at least 0.0001 and at most 0.2",
        "clock 13-2": "where the pointer stands",
        "LO MED HI": "",
        "sideways": "is not understood; yes, no, 20 or 24 for more positions; or move one: front 300 112.5",
        "16": "16 positions? There can be 12, 20 or 24",
        "front nowhere": "or move one: front 300 112.5 is where its middle lies now",
        "24 ": "",
        "yes": "",
        "hot": "two numbers, low then high",
        "315 288": "low first, then high",
        "5500 6000": "target.low is 5500 °C",
        "550F-600C": "two numbers in one unit",
        "550-600 F left half": "",
        "1200:1": "gun.distance_to_spot is 1200; it must be at least 1 and at most 500",
        "1:12": "'1:12' is not understood; write it like 12:1 0.95",
        "12:1 95": "gun.emissivity_setting is 95; it must be at least 0.01 and at most 1",
        "12 0,9": "",
    }
    result = gratemap("grill", "new", "other.toml", typed=typed(*slips))
    assert result.exit_code == 0, result.stderr
    for told in filter(None, slips.values()):
        assert told in result.stderr, told
    grill = load_grill("other.toml")
    assert (grill.units, grill.grate.extent_mm) == ("si", (600.0, 450.0))
    assert grill.grate.finish == "stainless steel, oxidised"
    assert [burner.name for burner in grill.burners] == ["front", "back"], "in the order their names say"
    assert [burner.points_mm[0][1] for burner in grill.burners] == [112.5, 337.5]
    assert grill.burners[0].marks == ("LO", "MED", "HI")
    assert (grill.positions.rows, grill.positions.columns) == (4, 6)
    assert (grill.target.low_c, grill.target.high_c) == (pytest.approx(287.8, abs=0.05), pytest.approx(315.6, abs=0.05))
    assert grill.target.zone == "left half"
    assert (grill.gun.distance_to_spot, grill.gun.emissivity_setting) == (12.0, 0.9)


def test_back_asks_the_question_before_and_keeps_its_answer(folder, gratemap):
    there = ["20 x 16", "<", "", "porcelain enamel", "one", "clock 6-9", "20", "<", "<", "<", "", "", "", "500 580"]
    result = gratemap("grill", "new", typed=typed("<", *there, "<", "<", "", "510 580", ""))
    assert result.exit_code == 0, result.stderr
    assert result.stderr.count("Grate, width x depth") == 3, "first, and after each <"
    assert "[20 x 16]" in result.stderr, "gone back to, Enter keeps what was said"
    assert "[500 580]" in result.stderr
    grill = load_grill("grill.toml")
    assert grill.grate.finish == "porcelain enamel"
    assert len(grill.labels) == 12, "going back takes the 20 positions back"
    assert grill.target.low_c == pytest.approx((510 - 32) / 1.8)
    assert len(grill.burners[0].marks) == 7


def test_no_and_help_keep_what_was_answered(folder, gratemap):
    first = ["?", "20 x 16", "?", "porcelain enamel", "?", "one", "?", "clock 6-9", "?", "no"]
    result = gratemap("grill", "new", typed=typed(*first, "", "", "", "", "", "?", "", "?", ""))
    assert result.exit_code == 0, result.stderr
    assert result.stderr.count("Grate, width x depth") == 3, "first, again after ?, and after no"
    assert "[20 x 16]" in result.stderr, "asked again, Enter keeps what was said"
    grill = load_grill("grill.toml")
    assert (grill.grate.finish, grill.grate.width_mm) == ("porcelain enamel", pytest.approx(508.0))
    (burner,) = grill.burners
    assert burner.marks == ("6:00", "6:30", "7:00", "7:30", "8:00", "8:30", "9:00")
    assert mark_from_text("7", burner) == mark_from_text("7:00", burner) == 1.0
    with pytest.raises(ReadingError, match="is no mark of burner .*; it goes from 6:00 to 9:00"):
        mark_from_text("2", burner)


@pytest.mark.parametrize(
    ("text", "marks"),
    [
        ("clock 6-9", ("6:00", "9:00")),
        ("9 to 6 o'clock", ("9:00", "6:00")),
        ("clock 10-2", ("10:00", "2:00")),
        ("clock 5:30 9", ("5:30", "9:00")),
        ("LO/MED/HI", ("LO", "HI")),
        ("low, medium, high", ("low", "high")),
        ("LO-HI", ("LO", "HI")),
    ],
)
def test_knob_marks_as_people_have_them(text, marks, folder, gratemap):
    assert gratemap("grill", "new", typed=typed(*ANSWERS[:4], text, *ANSWERS[5:])).exit_code == 0
    burner = load_grill("grill.toml").burners[0]
    assert (burner.marks[0], burner.marks[-1]) == marks
    settable = burner.settable
    assert len(settable) == len(burner.marks)
    assert [burner.mark_text(mark) for mark in settable] == list(burner.marks)


def test_tubes_from_side_to_side_are_drawn_and_laid_so(folder, gratemap):
    """Named front, middle and back they lie from the front on; laid as front to back they are warned of."""
    result = gratemap("grill", "new", typed=typed("", "", "left-to-right", "", "", "", "", ""))
    assert result.exit_code == 0, result.stderr
    drawn = [line for line in result.stderr.splitlines() if line.count("M") > 10 or line.count("F") > 10]
    assert len(drawn) == 2, "two of three rows of letters; the third is B"
    front, middle, back = load_grill("grill.toml").burners
    assert front.points_mm[0][1] < middle.points_mm[0][1] < back.points_mm[0][1]
    assert "its name says" not in gratemap("grill", "check").stdout
    wrong = typed("", "", "", "front, middle, back", "", "", "", "")
    left = gratemap("grill", "new", "left.toml", typed=wrong)
    assert left.exit_code == 0
    assert 'Burner "front" is laid at the left, but its name says front' in left.stderr
    warned = json.loads(gratemap("grill", "check", "--grill", "left.toml", "--json").stdout)["warnings"]
    assert len(warned) == 2


def test_a_burner_is_moved_by_its_middle_or_its_ends(folder, gratemap):
    moves = ["left 6 9", "right 20 1 20 8"]
    result = gratemap("grill", "new", typed=typed(*ANSWERS[:5], *moves, *ANSWERS[5:]))
    assert result.exit_code == 0, result.stderr
    burners = {burner.name: burner.points_mm for burner in load_grill("grill.toml").burners}
    assert burners["right"] == (
        (pytest.approx(508.0), pytest.approx(25.4)),
        (pytest.approx(508.0), pytest.approx(203.2)),
    )
    assert [point[0] for point in burners["left"]] == [pytest.approx(6 * 25.4)] * 2


def test_a_kettle_and_a_plate_need_no_editor(folder, gratemap):
    assert gratemap("grill", "new", "kettle.toml", typed=typed("round 22 1/2", "", "", "", "", "", "")).exit_code == 0
    kettle = load_grill("kettle.toml")
    assert (kettle.grate.shape, kettle.grate.width_mm, len(kettle.labels)) == ("round", pytest.approx(571.5), 12)
    assert [(burner.name, burner.control) for burner in kettle.burners] == [("coals", "none")]
    plate = ["22 x 16", "plate, carbon steel, seasoned", "one", "", "", "", ""]
    told = gratemap("grill", "new", "plate.toml", typed=typed(*plate))
    assert told.exit_code == 0
    assert "rails" not in told.stdout
    grill = load_grill("plate.toml")
    assert (grill.grate.surface, grill.grate.rail_top_mm) == ("plate", grill.grate.rail_pitch_mm)
    assert not [line for line in grill.assumed if "rail" in line.partition(" = ")[0]]


@pytest.mark.parametrize("count", [12, 20, 24])
@pytest.mark.parametrize("size", ["24 x 18", "18 x 24", "round 22"])
def test_so_many_positions_as_were_asked_for(count, size, folder, gratemap):
    middle = ["coals", ""] if "round" in size else ["", "", ""]
    answers = [size, "", *middle, str(count), "", "", ""]
    assert gratemap("grill", "new", typed=typed(*answers)).exit_code == 0
    grill = load_grill("grill.toml")
    assert len(grill.labels) == count
    assert all(grill.grate.edge_distance_mm([grill.point_mm(label)])[0] > 25.4 for label in grill.labels)


def test_a_line_of_the_terminal_is_not_broken_within_words(folder, at_terminal):
    made = at_terminal("grill", "new")
    seen = made.expect("18\\]: ")
    assert "Enter takes what stands in brackets; ? helps; < goes back." in " ".join(seen.split())


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
        "patch.emissivity is 2; it must be at least 0.01 and at most 1: no metal is brighter",
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


def test_coals_have_no_knob_and_are_told_to_be_moved(folder, gratemap):
    answers = [*ANSWERS[:2], "coals", "", *ANSWERS[5:]]
    assert gratemap("grill", "new", typed=typed(*answers)).exit_code == 0
    (coals,) = load_grill("grill.toml").burners
    assert (coals.name, coals.control) == ("coals", "none")


@pytest.mark.parametrize(
    ("said", "low", "high", "names"),
    [("1-4", 1.0, 4.0, ()), ("quarter half open", 1.0, 3.0, ("quarter", "half", "open"))],
)
def test_vents_with_marks_are_told_where_to_turn_to(said, low, high, names, folder, gratemap):
    """Asked over coals only; they lie under all of a grate, and a round one stays a round one."""
    assert gratemap("grill", "new", typed=typed("round 22 1/2", "", "coals", said, "", "", "")).exit_code == 0
    (vents,) = load_grill("grill.toml").burners
    assert (vents.name, vents.control, vents.low, vents.high, vents.marks) == ("vents", "vents", low, high, names)
    assert "vents" not in gratemap("grill", "new", "gas.toml", typed=typed(*ANSWERS)).stderr.casefold()


def test_a_small_grate_gets_positions_that_fit(folder, gratemap):
    answers = ["5 x 4.5", *ANSWERS[1:]]
    result = gratemap("grill", "new", typed=typed(*answers))
    assert result.exit_code == 0, result.stderr
    assert load_grill("grill.toml").positions.margin_mm < 25.4


def test_answers_that_end_early_write_nothing(folder, gratemap):
    result = gratemap("grill", "new", typed=typed(*ANSWERS[:5]))
    assert result.exit_code == 3
    assert "the answers ended early; nothing was written" in result.stderr
    assert list(folder.iterdir()) == []


def test_a_grill_that_is_there_is_not_written_over_unasked(folder, gratemap):
    Path("grill.toml").write_text("mine", encoding="utf-8")
    refused = gratemap("grill", "new", typed=typed(*ANSWERS))
    assert refused.exit_code == 3
    assert "--overwrite" in refused.stderr
    assert Path("grill.toml").read_text(encoding="utf-8") == "mine"
    assert gratemap("grill", "new", "--overwrite", typed=typed(*ANSWERS)).exit_code == 0
    assert load_grill("grill.toml").name == "my grill"
    nowhere = gratemap("grill", "new", "no/folder.toml", typed="")
    assert nowhere.exit_code == 3
    assert "there is no folder no" in nowhere.stderr
