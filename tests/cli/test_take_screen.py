"""The screen of a session on a terminal that is too low for everything."""

from __future__ import annotations

import io
import os
import re
import shutil
import sys
from dataclasses import replace

from cli.take_screen import Screen, heading
from heatmap.grill.burner import Burner
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, TargetBand
from heatmap.readings.typed import parse_typed
from heatmap.taking.session import Session
from heatmap.words.taking import HELP

GRILL = Grill(grate=Grate(width_mm=610.0, depth_mm=457.0), target=TargetBand(low_c=288.0, high_c=316.0))


class Terminal(io.StringIO):
    encoding = "utf-8"  # type: ignore[assignment]

    def isatty(self) -> bool:
        return True


def drawn(monkeypatch, lines: int) -> str:
    """Draw a session with many messages on a terminal of so many lines; return what was drawn."""
    stream = Terminal()
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setattr(shutil, "get_terminal_size", lambda *_: os.terminal_size((80, lines)))
    screen = Screen()
    for number in range(4):
        screen.tell(f"Message {number}.")
    screen.draw(Session(GRILL, GRILL.labels, number=1, name="may"), None)
    return stream.getvalue().rpartition("\033[2J")[2]


def test_old_messages_go_before_the_table_scrolls_away(monkeypatch):
    for lines in (24, 17, 15, 8):
        text = drawn(monkeypatch, lines)
        assert "Round 1" in text
        assert text.count("\n") + 1 <= max(lines, 15)  # heading, table and the big letters stand whatever the height
    assert "Message 0." in drawn(monkeypatch, 24)
    low = drawn(monkeypatch, 17)
    assert "Message 3." in low
    assert "Message 0." not in low


def test_marks_that_are_not_known_stand_in_the_heading_until_they_are():
    left = Burner(name="left", points_mm=((120.0, 25.0), (120.0, 425.0)))
    session = Session(replace(GRILL, burners=(left,)), GRILL.labels, number=1, name="may")
    assert "marks not known: knob NAME MARK" in heading(session)
    session.knobs["left"] = 6.0
    assert heading(session).endswith("left 6")
    assert "knob" not in heading(Session(GRILL, GRILL.labels, number=1, name="may"))


def test_knobs_too_many_for_the_line_of_the_round_stand_whole_below_it(monkeypatch):
    monkeypatch.setattr(shutil, "get_terminal_size", lambda *_: os.terminal_size((60, 24)))
    names = ("far left", "left", "right", "far right")
    burners = tuple(Burner(name=name, points_mm=((x, 25.0), (x, 425.0))) for x, name in enumerate(names, 100))
    session = Session(
        replace(GRILL, burners=burners), GRILL.labels, number=1, name="may", knobs=dict.fromkeys(names, 6.0)
    )
    assert heading(session).splitlines()[1:] == ["far left 6, left 6, right 6, far right 6"]


def test_the_help_stands_whole_on_a_narrow_terminal_and_what_it_names_is_understood():
    """At 60 columns and 24 lines no line is broken and none scrolls away above the prompt."""
    lines = HELP.splitlines()
    assert max(map(len, lines)) < 60
    assert len(lines) <= 24 - 2
    knobs = tuple(
        Burner(name=name, points_mm=((x, 25.0), (x, 425.0))) for name, x in (("left", 120.0), ("right", 480.0))
    )
    grill = replace(GRILL, burners=knobs)
    for line in lines[:-1]:
        names = line.partition("  ")[0] if "  " in line[:22] else line[:12].rstrip()
        for typed in re.split(r" or |, ", names.removesuffix(" TEXT")):
            parse_typed(f"{typed} hot" if typed == "note" else typed, grill)  # a ReadingError says that it is not
