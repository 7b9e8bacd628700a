"""`take --speak COMMAND`: positions and kept numbers said by a speaking program of the system."""

from __future__ import annotations

import queue
import shlex
import subprocess
import threading
from collections.abc import Callable

from heatmap.errors import InputError
from heatmap.words.sitting import mute_sentence

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
        self._tell, self._failed = tell, False
        self._waiting: queue.SimpleQueue[str] = queue.SimpleQueue()
        threading.Thread(target=self._run, daemon=True, name="speaker").start()

    def say(self, text: str) -> None:
        """Have this said; returns at once."""
        if not self._failed:
            self._waiting.put(text)

    def _run(self) -> None:
        while not self._failed:
            text = self._waiting.get()
            while not self._waiting.empty():  # what is no longer true is not said
                text = self._waiting.get()
            try:
                subprocess.run(
                    [*self._words, text],
                    check=True,
                    timeout=_PATIENCE_S,
                    stdin=subprocess.DEVNULL,
                    stdout=subprocess.DEVNULL,
                    stderr=subprocess.DEVNULL,
                )
            except (OSError, subprocess.SubprocessError) as error:
                self._failed = True
                why = error.strerror if isinstance(error, OSError) else "it failed"
                self._tell(mute_sentence(self._words[0], why))


def spoken(label: str) -> str:
    """Return a position as it is to be said: B3 as "B 3"."""
    return f"{label[0]} {label[1:]}"
