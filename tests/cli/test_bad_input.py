"""Whatever is wrong with the input: one clear line and the exit code, never a traceback, never an answer."""

from __future__ import annotations

import builtins
import errno
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from cli.output import PICTURE

GRILL = "[grate]\nwidth = 24.0\ndepth = 18.0\n[target]\nlow = 550.0\nhigh = 600.0\n"
#: Every command that reads both files, with what it cannot do without.
READERS = (
    "map",
    "map --json",
    "explain B2",
    "next",
    "burners",
    "compare",
    "history",
    "place",
    "sear --target 137",
    "ready",
    "report",
)
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
        ("", "grate.width is missing"),
        (GRILL.split("[target]")[0], "target.low is missing"),
        (GRILL.replace("low = 550.0", "low = 650.0"), "target.low is 650 °F; it must be at least -4 and below 600 °F"),
        (GRILL.replace("width = 24.0", "width = nan"), "grate.width"),
        (GRILL.replace("width = 24.0\n", ""), "grate.width is missing"),
        (GRILL.replace("depth = 18.0", "depth = 18.0\nemissivity = 1.4"), "at most 1"),
        (GRILL.replace("depth = 18.0", "depth = 18.0\nemissivity = 0"), "at least 0.01"),
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


def test_marks_beyond_the_dial_say_where_the_dial_is_described(folder, gratemap):
    grill, readings = folder / "grill.toml", folder / "readings.csv"
    grill.write_text(grill.read_text() + '[[burner]]\nname = "left"\nfrom = [4.0, 1.0]\nto = [4.0, 17.0]\nhigh = 1.5\n')
    readings.write_text("position,shown_f,knob_left\nB2,585,5\n")
    result = outcome(gratemap, folder, "map")
    assert result.exit_code == 3
    assert "goes from 1 to 1.5, says the grill file; put right whichever is wrong" in result.stderr
    readings.write_text("position,shown_f,knob_left\nB2,585,5\nB3,590,5.5\n")
    told = outcome(gratemap, folder, "map").stderr
    assert "2 rows cannot be used, the first on line 2: " in told and told.count("says the grill file") == 1
    assert "mend them" not in told, "every row may be right, and the grill file wrong"


def test_signs_a_terminal_would_follow_do_not_reach_it(folder, gratemap):
    (folder / "readings.csv").write_text(
        "round,session,position,shown_f,note\n"
        + "".join(f"1,\x1b[31mred\x07,{label},{580 + at},\x1b]0;x\x07\n" for at, label in enumerate(("A1", "A4", "C1")))
    )
    for words in (["history"], ["map"], ["explain", "A1"]):
        result = outcome(gratemap, folder, *words)
        assert result.exit_code == 0
        assert "\x1b" not in result.stdout + result.stderr and "\x07" not in result.stdout + result.stderr
    grill = folder / "grill.toml"
    grill.write_text(grill.read_text() + '[gun]\nown_temperature = "\\u001b[31m"\n')
    assert "\x1b" not in outcome(gratemap, folder, "map").stderr


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


@pytest.mark.parametrize("words", ["map", "burners", "compare", "place", "demo"])
@pytest.mark.parametrize(
    ("picture", "says"),
    [
        ("map.docx", "map.docx: a picture's name must end in .png or .svg"),
        ("nowhere/map.png", "there is no folder nowhere"),
        ("folder.png", "that is a folder"),
        (f"{300 * 'x'}.png", "xxx…: a name of more than 255 letters; give a shorter one"),
    ],
)
def test_a_picture_that_cannot_be_saved_is_told_before_any_answer(folder, gratemap, words, picture, says):
    (folder / "folder.png").mkdir()
    result = outcome(gratemap, folder, *words.split(), "--picture", picture)
    assert (result.exit_code, result.stdout) == (3, "")
    assert says in result.stderr and result.stderr.count("\n") == 1
    assert sorted(path.name for path in folder.iterdir()) == ["folder.png", "grill.toml", "readings.csv"]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no disk that is always full")
def test_a_full_disk_is_one_line(folder, gratemap):
    (folder / "map.png").symlink_to("/dev/full")
    result = outcome(gratemap, folder, "map", "--picture", "map.png")
    assert (result.exit_code, result.stdout) == (3, "")
    assert "map.png: cannot be written: the disk is full" in result.stderr


def test_endings_of_pictures_are_those_that_can_be_saved():
    from matplotlib.figure import Figure

    from heatmap.pictures import picture_bytes

    for ending in PICTURE.endings:
        assert PICTURE.begins.match(picture_bytes(Figure(), ending))


def test_a_folder_in_place_of_a_file(folder, gratemap):
    (folder / "folder").mkdir()
    for words in (("map", "--grill", "folder"), ("map", "--readings", "folder"), ("report", "--output", "folder")):
        result = outcome(gratemap, folder, *words)
        assert (result.exit_code, result.stdout) == (3, ""), words
        assert result.stderr.startswith("gratemap: folder") and result.stderr.count("\n") == 1


def test_no_grill_file_in_the_folder(folder, gratemap):
    (folder / "grill.toml").unlink()
    for words in (*READERS, "grill check", "manual sheet", "take -"):
        result = outcome(gratemap, folder, *words.split())
        assert (result.exit_code, result.stdout) == (3, ""), words
        assert "gratemap grill new" in result.stderr and result.stderr.count("\n") == 1


@pytest.mark.parametrize("words", READERS)
def test_every_command_refuses_readings_that_cannot_be_used(folder, gratemap, words):
    (folder / "readings.csv").write_text(READINGS.replace("A1,575", "A1,nan"), encoding="utf-8")
    result = outcome(gratemap, folder, *words.split())
    assert (result.exit_code, result.stdout) == (3, "")
    assert "readings.csv, line 2" in result.stderr and result.stderr.count("\n") == 1


def test_a_surface_without_json_is_asked_back(folder, gratemap):
    result = outcome(gratemap, folder, "map", "--surface")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "--json" in result.stderr


def test_ctrl_c_ends_with_130_and_says_nothing_more(folder, gratemap, monkeypatch):
    def interrupted(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("cli.loading.Files.load", interrupted)
    result = outcome(gratemap, folder, "map")
    assert (result.exit_code, result.stdout, result.stderr.strip()) == (130, "", "")


def test_a_bug_says_so_and_is_exit_code_1(folder, gratemap, monkeypatch):
    def broken(*_, **__):
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr("cli.loading.Files.load", broken)
    result = outcome(gratemap, folder, "map")
    assert (result.exit_code, result.stdout) == (1, "")
    assert "this is a bug" in result.stderr and "Your readings are safe" in result.stderr


def test_a_pipe_that_brought_nothing_gives_no_object_and_says_so(folder, gratemap):
    result = gratemap("take", "-", "--json", typed="")
    assert (result.exit_code, result.stdout) == (3, "")
    assert "has no readings" in result.stderr
    assert gratemap("take", "-", typed="").exit_code == 0


def test_a_grill_file_that_could_not_be_written_is_told_before_the_questions(folder, gratemap):
    result = gratemap("grill", "new", "nowhere/grill.toml", typed="")
    assert result.exit_code == 3
    assert result.stderr.startswith("gratemap: nowhere/grill.toml: there is no folder nowhere")


def test_the_questions_take_no_number_that_cannot_be(folder, gratemap):
    answers = ["-3 x 4", "nan x 4", "30 x 18", "", "none", "", "600 550", "nan 600", "550 600", ""]
    result = gratemap("grill", "new", "mine.toml", typed="\n".join(answers) + "\n")
    assert result.exit_code == 0, result.output
    assert result.stderr.count("is not a number above 0") == 2
    text = (folder / "mine.toml").read_text(encoding="utf-8")
    assert "width = 30" in text and "low = 550" in text


def test_a_position_without_a_reading(folder, gratemap):
    assert outcome(gratemap, folder, "explain", "Z9").exit_code == 3
    assert outcome(gratemap, folder, "explain", "99").exit_code == 3


@pytest.mark.parametrize("words", [("map", "--no-such-option"), ("no-such-command",), ("gun",), ("gun", "hot")])
def test_wrong_usage_is_exit_code_2(folder, gratemap, words):
    assert outcome(gratemap, folder, *words).exit_code == 2


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("gun", "575", "--emissivity", "0"), "at least 0.01"),
        (("gun", "575", "--emissivity", "1.2"), "at most 1"),
        (("gun", "nan"), "SHOWN is nan; it must be from -76 to 2012 °F"),
        (("gun", "575", "--ratio", "0"), "gratemap: --ratio is 0; it must be at least 1"),
        (("gun", "575", "--rail-top", "1", "--rail-pitch", "0.5"), "gratemap: --rail-top is 1 in"),
        (("gun", "575", "--reflected", "5000"), "gratemap: --reflected is 5000 °F"),
        (("gun", "575", "--contact", "nan"), "--contact is nan"),
        (("gun", "575", "--contact", "400"), "no emissivity explains"),
        (("gun", "575", "--patch", "20"), "no emissivity explains"),
        (("gun", "575", "--rail-top", "0.25"), "--rail-pitch"),
        (("gun", "575", "--gun-temperature", "warm"), "warm"),
        (
            ("gun", "80", "--emissivity", "0.2", "--reflected", "600"),
            "by what it mirrors alone this surface shows at least",
        ),
    ],
)
def test_a_gun_that_cannot_be(folder, gratemap, words, says):
    result = outcome(gratemap, folder, *words)
    assert (result.exit_code, result.stdout) == (3, "")
    assert says in result.stderr and result.stderr.count("\n") == 1
    assert "grill file" not in result.stderr, "gun needs none"


@pytest.mark.parametrize("name", ["grill.toml", "readings.csv"])
def test_a_file_that_may_not_be_read_is_told_as_any_other(folder, gratemap, monkeypatch, name):
    def refused(real: Callable[..., object]) -> Callable[..., object]:
        def opened(path: object, *how: object, **more: object) -> object:
            if str(path).endswith(name):
                raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
            return real(path, *how, **more)

        return opened

    monkeypatch.setattr(os, "access", lambda *_, **__: False)  # asked by whoever parses the command line
    monkeypatch.setattr(Path, "open", refused(Path.open))
    monkeypatch.setattr(builtins, "open", refused(open))
    result = outcome(gratemap, folder, "map")
    assert (result.exit_code, result.stdout) == (3, "")
    assert result.stderr.startswith(f"gratemap: {name}: ") and "cannot be read" in result.stderr
    assert result.stderr.count("\n") == 1
