"""The screen: long lines break between words, and nothing is lost."""

from __future__ import annotations

from cli.console import wrapped


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
