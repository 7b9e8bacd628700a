"""`gratemap sear --clock`: each turn counted down in big letters; one key, space, does everything."""

import contextlib
import math
import os
import select
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from functools import partial
from itertools import pairwise
from pathlib import Path

import heatmap.words.sear as said
from cli import console
from cli.lesson import keep_piece, learned
from heatmap.errors import InputError, ReadingError
from heatmap.grill.grill import Grill
from heatmap.sear import OUTCOMES, Rails, SearedPiece
from heatmap.words.phrases import TAKE_OFF

#: Keys that start, and that take the food off or on to the next turn; and those that end.
_GO, _STOP = (" ", "\r", "\n"), ("q", "Q", "\x1b")
#: The screen is drawn anew so often [s].
_STEP_S = 0.2
#: A key pressed sooner than this was pressed twice; no turn is so short [s].
_SHORTEST_S = 1.0
#: Rings while the food should have been moved, every so many seconds.
_RING_AGAIN_S = 5


def run_clock(seconds: float, turns: Sequence[str], key: Callable[[float], str], done: list[float]) -> None:
    """Count the turns down; as each ends, add the seconds it was really on, to the second, to those that are done.

    A turn that Ctrl-C ends is done as well.

    Parameters
    ----------
    seconds : float
        Of each turn.
    turns : sequence of str
        What is done for each.
    key : callable
        Waits at most so many seconds for a key; "" for none.
    done : list of float
    """
    console.show_large(f"Turn 1 of {len(turns)}: {turns[0]}", f"{seconds:.0f}", said.SPACE_STARTS)
    pressed = ""
    while pressed not in (*_GO, *_STOP):
        pressed = key(3600.0)
    for number, (what, following) in enumerate(pairwise([*turns, TAKE_OFF]), 1):
        if pressed in _STOP:
            return
        pressed, rung, on_s, start = "", -1, 0.0, time.monotonic()
        try:
            while not (pressed in _STOP or (pressed in _GO and on_s >= _SHORTEST_S)):
                over = math.floor((on_s - seconds) / _RING_AGAIN_S)  # below 0 until it is time
                if over > rung:
                    rung = over
                    console.put("\a")
                if over < 0:
                    below = said.THEN.format(following=following)
                    console.show_large(f"Turn {number} of {len(turns)}: {what}", f"{math.ceil(seconds - on_s)}", below)
                else:
                    console.show_large(f"Now {following}", f"{math.floor(on_s - seconds)}", said.SECONDS_OVER)
                pressed, on_s = key(_STEP_S), time.monotonic() - start
        finally:  # also where Ctrl-C ends it
            on_s = time.monotonic() - start
            if on_s >= _SHORTEST_S:
                done.append(float(round(on_s)))


def sear_clock(turns: Sequence[str], readings: Path, grill: Grill, rails: Rails, piece: SearedPiece) -> None:
    """Run the clock at the terminal, and offer what was done as a row of the file of sears.

    It is kept as well where Ctrl-C ends it, or nobody answers how it came out. `piece` is what is to be seared on
    `rails`, its turns as long as they should be; `turns` says what is done for each.

    Raises
    ------
    InputError
        Where nobody sits at a terminal.
    """
    if not (console.is_terminal() and console.is_terminal(sys.stderr)):
        raise InputError("--clock counts down at a terminal; leave it out of a pipe")
    done: list[float] = []
    told: SearedPiece | None = piece
    try:
        try:
            with _keys() as key:
                run_clock(piece.turns_s[0], turns, key, done)
        finally:
            told = piece = replace(piece, turns_s=tuple(done), taken_at=datetime.now(UTC))
        console.put("\n")
        if done:
            console.talk(said.done_sentence(done))
            as_told = partial(_as_told, grill=grill, rails=rails, piece=piece)
            with contextlib.suppress(InputError):  # nobody answers any more: it is kept as it was seared
                told = console.ask(said.HOW_DID_IT_COME_OUT, "", as_told)
    except KeyboardInterrupt:
        console.put("\n")
        raise
    finally:
        if done and told is not None:
            keep_piece(readings, grill, told)


def _as_told(text: str, grill: Grill, rails: Rails, piece: SearedPiece) -> SearedPiece | None:
    """Return the piece as it is said to have come out; None where it is not to be kept."""
    from heatmap.readings.typed import Shot, parse_typed

    plain, told = text.casefold(), piece
    if plain in ("n", "no"):
        return None
    if plain in OUTCOMES:
        told = replace(piece, outcome=plain)
    elif plain:
        with contextlib.suppress(ReadingError):
            typed = parse_typed(plain, grill)
            if isinstance(typed, Shot) and not typed.position:
                told = replace(piece, peak_c=typed.shown_c)
        if told is piece:
            raise InputError(said.HOW_TO_SAY_IT)
    learned(grill, rails, told)  # refuses a piece that cannot be, so that no slip is kept
    return told


@contextlib.contextmanager
def _keys() -> Iterator[Callable[[float], str]]:
    """Hear single keys without Enter; the terminal is as it was afterwards."""
    if sys.platform == "win32":
        import msvcrt

        def windows_key(wait_s: float) -> str:
            until = time.monotonic() + wait_s
            while not msvcrt.kbhit():
                if time.monotonic() >= until:
                    return ""
                time.sleep(0.02)
            return msvcrt.getwch()

        yield windows_key
        return
    import termios
    import tty

    file = sys.stdin.fileno()
    before = termios.tcgetattr(file)

    def key(wait_s: float) -> str:
        return os.read(file, 1).decode("ascii", errors="replace") if select.select([file], [], [], wait_s)[0] else ""

    try:
        tty.setcbreak(file)
        yield key
    finally:
        termios.tcsetattr(file, termios.TCSADRAIN, before)
