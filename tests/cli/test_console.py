"""The screen: long lines break between words, and nothing is lost."""

from __future__ import annotations

import io
import json
import os

import pytest

from cli.console import follows_escapes, harmless, reply, showable, wants_colour, wrapped
from started import run


def test_a_long_line_breaks_between_words_and_loses_none():
    line = "Too hot at the right, too cold at the back left; 47 % of the grate is in band (likely 34 to 61 %), spread."
    broken = wrapped(line, 40)
    assert max(map(len, broken.splitlines())) <= 40
    assert broken.split() == line.split()
    assert all(row.startswith("  ") for row in broken.splitlines()[1:])


def test_short_lines_tables_and_blank_lines_stay():
    table = "                BACK\n       1      2\n\n  A  521 ▼  552 ◇"
    assert wrapped(table, 40) == table


def test_coloured_lines_are_left_alone():
    line = "\033[1m" + "word " * 30 + "\033[0m"
    assert wrapped(line, 40) == line


def test_an_answer_of_any_length_is_told_whole(capsys):
    rows = [f"round {number}" for number in range(3000)]
    reply(rows)
    assert capsys.readouterr().out.splitlines() == rows


@pytest.mark.parametrize(
    ("encoding", "shown"),
    [
        ("utf-8", "−29 °F (±8), 7.5 × 5"),
        ("cp1252", "-29 °F (±8), 7.5 × 5"),  # Windows, output to a file or a pipe
        ("cp437", "-29 °F (±8), 7.5 x 5"),
        ("ascii", "-29 F (+/-8), 7.5 x 5"),
    ],
)
def test_a_minus_is_never_lost_where_its_sign_cannot_be_shown(encoding, shown):
    stream = io.TextIOWrapper(io.BytesIO(), encoding=encoding)
    assert showable("−29 °F (±8), 7.5 × 5", stream) == shown
    assert showable("猫", io.TextIOWrapper(io.BytesIO(), encoding="ascii")) == "?"


@pytest.mark.parametrize("encoding", ["ascii", "cp1252"])
def test_words_and_json_survive_a_console_that_shows_few_signs(samples, encoding):
    text = (samples / "readings.csv").read_text(encoding="utf-8")
    (samples / "readings.csv").write_text(text.replace(",2026-06-13,", ",Grüße aus 東京,"), encoding="utf-8")

    def said(*words):
        done = run(*words, env={**os.environ, "PYTHONIOENCODING": encoding})
        assert done.returncode == 0, done.stderr
        return done.stdout

    assert " aus ??" in said("history").decode(encoding)
    sessions = {one["session"] for one in json.loads(said("history", "--json"))["rounds"]}
    assert sessions == {"Grüße aus 東京"}, "what is read by programs must be whole"


class Terminal(io.StringIO):
    def isatty(self):
        return True


@pytest.mark.parametrize(
    ("environment", "follows"),
    [
        ({"TERM": "xterm"}, True),
        ({"TERM": "dumb"}, False),
        ({"TERM": ""}, False),
        ({}, False),  # an old Windows console prints the codes
        ({"WT_SESSION": "1"}, True),  # Windows Terminal does not
    ],
)
def test_only_terminals_that_follow_escapes_get_them(monkeypatch, environment, follows):
    for name in ("TERM", "WT_SESSION", "NO_COLOR"):
        monkeypatch.delenv(name, raising=False)
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    assert follows_escapes(Terminal()) is follows
    assert wants_colour(Terminal()) is follows
    assert not follows_escapes(io.StringIO())
    monkeypatch.setenv("NO_COLOR", "1")  # https://no-color.org
    assert not wants_colour(Terminal())


def test_a_number_and_its_unit_stay_on_one_line():
    for unit in ("%", "°F", "mm", "in", "s", "min"):
        line = f"a chance or a size that is worth {585} {unit}, and so on"
        for width in range(20, 56):
            lines = wrapped(line, width).split("\n")
            assert any(f"585 {unit}" in one for one in lines)
            assert " ".join(one.strip() for one in lines) == line


def test_signs_a_terminal_would_follow_are_blanks_and_our_own_colours_stay():
    """ECMA-48: what ESC and the C1 controls begin moves, colours or renames the terminal."""
    assert harmless("a\x1b[31mb\x1b]0;x\x07c\x9b2Jd\re\u202ef") == "a [31mb ]0;x c 2Jd e f"
    assert harmless("one\n\ttwo \x1b[1mbold\x1b[0m") == "one\n\ttwo \x1b[1mbold\x1b[0m"


def test_a_word_of_the_command_line_comes_back_without_what_a_terminal_would_follow(samples, gratemap):
    for words in (["gun", "585", "--gun-temperature", "\x1b[31m"], ["take", "-", "--session", "\x1b[31m"]):
        result = gratemap(*words, typed="585\n")
        assert "[31m" in result.stderr and "\x1b" not in result.stderr
