"""What a session shows and says: the grate as a table, what is thought of it, and the next position, big and aloud."""

import shlex
import shutil
import subprocess
import sys
import threading
from collections import deque
from collections.abc import Callable

from cli import console
from cli.loading import odd_lines
from cli.table import grate_table
from heatmap.errors import InputError
from heatmap.taking.running import RunningMap
from heatmap.taking.session import Session
from heatmap.words.round import contradiction_sentence, least_sure_sentence, round_heading, so_far_sentence
from heatmap.words.taking import MARKS_UNKNOWN_SO_FAR, MUTE, marks_text

#: How many of the latest messages stay on the screen.
_KEPT_MESSAGES = 4


class Screen:
    """Talks to the cook on stderr."""

    def __init__(self, *, port: bool = False) -> None:
        """Begin; with `port`, for numbers that come by themselves."""
        self._port = port
        self.clears = console.follows_escapes(sys.stderr)
        self._messages: deque[str] = deque(maxlen=_KEPT_MESSAGES)

    def tell(self, text: str) -> None:
        """Show a line at once, and keep it for the next drawing; nothing where there is none."""
        if not text:
            return
        self._messages += console.fitted(text)
        self.tell_now(text)

    def tell_now(self, text: str) -> None:
        """Show what matters only until the next drawing: what was wrong with the last line, or the help."""
        console.put("\n".join(console.fitted(text)) + "\n")

    def draw(self, session: Session, running: RunningMap | None, extra: str = "") -> None:
        """Show where the round stands and ask for the next position; `extra` is one more line."""
        top = [""] if not self.clears else console.fitted(heading(session))
        top += grate_table(session.grill, running, session.readings, sys.stderr)
        found = verdict(running)
        said = list(self._messages) if self.clears else []
        below = [console.coloured(extra, "strong", sys.stderr)] if extra else []
        below += ["", *(f"    {line}" for line in console.big(session.asked)), ""]
        if self.clears:
            # Better no legend and fewer old messages than a table that scrolls away; the last line is the prompt's.
            room = shutil.get_terminal_size().lines - 1 - len(top) - len(below)
            if len(found) + len(said) > room:
                found = found[1:]
            said = said[max(0, len(found) + len(said) - room) :]
        self._messages.clear()
        clear = "\033[H\033[2J" if self.clears else ""
        console.put(clear + "\n".join([*top, *found, *said, *below]) + "\n")
        self.prompt(session)

    def prompt(self, session: Session) -> None:
        """Ask for the next number, or about the one in doubt."""
        if question := session.question:
            asked = console.coloured("\n".join(console.fitted(question)), "strong", sys.stderr)
        else:
            again = " once more, or done (*)" if session.passes else ""
            waiting = " the port, or type" if self._port else ""
            beside = f", {how}" if (how := session.how) else ""
            asked = f"{session.asked}{beside}{again}:{waiting}"
        console.put_question(asked)


def heading(session: Session) -> str:
    """Say which round this is, how far it has got, and what stands for all of it: the lid and the knobs."""
    shot, labels = {one.position for one in session.readings if one.aim == "rail"}, session.grill.labels
    so_far = round_heading(session.number, len(shot & set(labels)), len(labels), session.lid)
    unknown = "" if session.grill.complete_settings(session.knobs) else MARKS_UNKNOWN_SO_FAR
    knobs = "; ".join(filter(None, (marks_text(session.grill, session.knobs), unknown)))
    whole = f"{so_far}; {knobs}" if knobs else so_far
    return whole if len(whole) < shutil.get_terminal_size().columns else f"{so_far}\n{knobs}"


def verdict(running: RunningMap | None) -> list[str]:
    """Return what the map says so far, in two or three lines."""
    if running is None:
        return []
    odd = odd_lines(running)
    told = [*odd, so_far_sentence(running), least_sure_sentence(running), contradiction_sentence(running)]
    return [console.legend(sys.stderr), *(line for text in filter(None, told) for line in console.fitted(text))]


#: A program that has not said it by then is given up [s].
_PATIENCE_S = 15.0


class Speaker:
    """Says one thing after the other, in the background; whatever goes wrong, taking readings goes on at once.

    Parameters
    ----------
    command : str
        A program and its options; what is to be said becomes its last word.
    tell : callable
        Hears once that the program failed.
    """

    def __init__(self, command: str, tell: Callable[[str], None]) -> None:
        """Begin; nothing is said yet."""
        try:
            self._words = shlex.split(command)
        except ValueError:
            self._words = []
        if not self._words:
            raise InputError(f'--speak is "{command}"; name a speaking program, such as espeak-ng')
        self._tell, self._newest, self._failed = tell, "", False
        self._one_at_a_time = threading.Lock()

    def say(self, text: str) -> None:
        """Have this said; returns at once."""
        self._newest = text
        threading.Thread(target=self._say, args=(text,), daemon=True, name="speaker").start()

    def _say(self, text: str) -> None:
        with self._one_at_a_time:
            if self._failed or text is not self._newest:  # what is no longer true is not said
                return
            quiet = dict.fromkeys(("stdin", "stdout", "stderr"), subprocess.DEVNULL)
            try:
                subprocess.run([*self._words, text], check=True, timeout=_PATIENCE_S, **quiet)  # type: ignore[call-overload]
            except (OSError, subprocess.SubprocessError) as error:
                self._failed = True
                why = error.strerror if isinstance(error, OSError) else "it failed"
                self._tell(MUTE.format(program=self._words[0], why=why))
