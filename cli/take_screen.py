"""What a session shows: the grate as a table, what is thought of it, and the next position, big."""

from __future__ import annotations

import contextlib
import os
import shutil
import sys
from collections import deque
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from cli import console
from cli.big_letters import big
from cli.loading import odd_lines
from cli.table import framed
from heatmap.units import Display
from heatmap.words.running import contradiction_sentence, least_sure_sentence, so_far_sentence

if TYPE_CHECKING:
    from heatmap.taking.running import RunningMap
    from heatmap.taking.session import Session

#: How many of the latest messages stay on the screen.
_KEPT_MESSAGES = 4
#: Room for a number in brackets and its mark.
_CELL = 7


class Screen:
    """Talks to the cook on stderr; goes quiet when the terminal has gone."""

    def __init__(self, *, bell: bool = False) -> None:
        """Begin."""
        self.bell = bell
        self.gone = False
        self._port = False
        self.clears = console.follows_escapes(sys.stderr)
        self._messages: deque[str] = deque(maxlen=_KEPT_MESSAGES)
        self._passing: list[str] = []

    def tell(self, text: str) -> None:
        """Show a line at once, and keep it for the next drawing; nothing where there is none."""
        if not text:
            return
        lines = _lines(text)
        self._messages += lines
        self._write("\n".join(lines) + "\n")

    def tell_now(self, text: str) -> None:
        """Show what matters only until the next line is typed: what was wrong with the last one, or the help."""
        self._passing = _lines(text)
        self._write("\n".join(self._passing) + "\n")

    def heard(self) -> None:
        """Take note that the next line has come: what was said of the one before it is over."""
        self._passing = []

    def ring(self, times: int) -> None:
        """Sound the bell, if it is wanted."""
        if self.bell:
            self._write("\a" * times)

    def ask(self, question: str) -> None:
        """Write a question, broken between words where it is too long, and stay behind it."""
        self._write("\n".join(_lines(question)) + " ")

    def draw(self, session: Session, running: RunningMap | None, extra: str = "", *, port: bool = False) -> None:
        """Show where the round stands and ask for the next position; `extra` is one more line."""
        top = [""] if not self.clears else _lines(heading(session))
        top += table(session, running)
        found = verdict(session, running)
        said = [*self._messages, *self._passing] if self.clears else []
        below = [console.coloured(extra, "strong", sys.stderr)] if extra else []
        below += ["", *(f"    {line}" for line in big(session.asked, sys.stderr)), ""]
        if self.clears:
            # Better no legend and fewer old messages than a table that scrolls away; the last line is the prompt's.
            room = shutil.get_terminal_size().lines - 1 - len(top) - len(below)
            if len(found) + len(said) > room:
                found = found[1:]
            said = said[max(0, len(found) + len(said) - room) :]
        self._messages.clear()
        clear = "\033[H\033[2J" if self.clears else ""
        self._write(clear + "\n".join([*top, *found, *said, *below]) + "\n")
        self._port = port
        self.prompt(session)

    def count_down(self, left: str, lines: Sequence[str], ask: str) -> None:
        """Show what is left of a wait in big letters; where the screen cannot be cleared, in a line."""
        if not self.clears:
            self._write(f"{left}  ")
            return
        shown = [
            "\033[H\033[2J" + lines[0] if lines else "",
            *lines[1:],
            "",
            *(f"    {one}" for one in big(left, sys.stderr)),
            "",
        ]
        self._write("\n".join(shown) + "\n")
        self.ask(ask)

    def sound(self) -> None:
        """Sound the bell, asked for or not: somebody waits for it."""
        self._write("\a")

    def prompt(self, session: Session) -> None:
        """Ask for the next number, or about the one in doubt."""
        question = session.question
        if question:
            self.ask(console.coloured("\n".join(_lines(question)), "strong", sys.stderr))
        else:
            again = " once more, or done (*)" if session.walk.passes else ""
            waiting = " the port, or type" if self._port else ""
            beside = f", {how}" if (how := session.how) else ""
            self.ask(f"{session.asked}{beside}{again}:{waiting}")

    def _write(self, text: str) -> None:
        if self.gone:
            return
        try:
            sys.stderr.write(console.showable(text, sys.stderr))
            sys.stderr.flush()
        except (OSError, ValueError):
            self.gone = True
            # What is left unwritten must not fail again at the end, where Python would make the exit code 120 of it.
            with contextlib.suppress(OSError, ValueError):
                os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stderr.fileno())


def heading(session: Session) -> str:
    """Say which round this is, how far it has got, and what stands for all of it: the lid and the knobs."""
    shot = {one.position for one in session.readings if one.aim == "rail"}
    count = len(session.grill.labels)
    knobs = "  ".join(f"{name} {session.grill.burner(name).mark_text(mark)}" for name, mark in session.knobs.items())
    so_far = f"{len(shot & set(session.grill.labels))} of {count} shot"
    whole = f"Round {session.number}   {so_far}   lid {session.lid}   {knobs}".rstrip()
    return whole if len(whole) < shutil.get_terminal_size().columns else whole.replace(f"   {knobs}", f"\n{knobs}")


def table(session: Session, running: RunningMap | None) -> list[str]:
    """Return the grate as a table: what was shot with its mark; in brackets what the map says of the rest."""
    grill, display = session.grill, Display(session.grill.units)
    shown: dict[str, float] = {}
    for reading in session.readings:
        if reading.aim == "rail" and reading.position and reading.shown_c is not None:
            shown[reading.position] = reading.shown_c
    compared, slips = _compared(running)
    texts, styles = [], []
    for index, label in enumerate(grill.labels):
        word = "suspect" if label in slips else running.leanings[index] if running else ""
        sure = word == "suspect" or running is None or running.words[index] == word
        if label in shown:
            number = f"{display.temperature(compared.get(label, shown[label])):.0f}"
        else:
            number = f"({display.temperature(float(running.compared_c[index])):.0f})" if running else "."
        marked = f"{number} {console.mark(word, sys.stderr, sure=sure)}" if word else number
        texts.append(f"{marked:^{_CELL}}")  # as wide from the first shot on as later, so that nothing jumps
        styles.append(word)
    return framed(grill, texts, styles, sys.stderr)


def _compared(running: RunningMap | None) -> tuple[dict[str, float], set[str]]:
    """Return the number held against the band of the last shot believed at each position, and where none is."""
    if running is None:
        return {}, set()
    believed: dict[str, float] = {}
    slips: dict[str, float] = {}
    for index, spot in enumerate(running.round_map.spots):
        if spot.reading.aim == "rail" and spot.reading.position and spot.rail_c is not None:
            compared = float(running.calibration.compared_c(np.array([spot.rail_c]))[0])
            heard = slips if index in running.round_map.suspects else believed
            heard[spot.reading.position] = compared
    return slips | believed, slips.keys() - believed.keys()


def verdict(session: Session, running: RunningMap | None) -> list[str]:
    """Return what the map says so far, in two or three lines."""
    if running is None:
        return []
    odd = odd_lines(session.grill, running.round_map.round)
    told = [*odd, so_far_sentence(running), least_sure_sentence(running), contradiction_sentence(running)]
    return [console.legend(sys.stderr), *(line for text in filter(None, told) for line in _lines(text))]


def _lines(text: str) -> list[str]:
    """Break a text at words, so that it fits the screen."""
    return console.wrapped(text, shutil.get_terminal_size().columns - 1).split("\n")
