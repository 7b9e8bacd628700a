"""A real pseudo-terminal with the command in it, for what only shows at a keyboard."""

from __future__ import annotations

import functools
import os
import re
import select
import signal
import struct
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from heatmap.assessment import Assessment


@pytest.fixture(autouse=True, scope="session")
def _assessed_once() -> Iterator[None]:
    """Answer from memory where a command in this process asks for an assessment that was made before: it is pure."""
    import heatmap.assessment as room

    made: dict[str, Assessment] = {}
    plain = room.assess

    @functools.wraps(plain)
    def assess(*given: object, **named: object) -> Assessment:
        question = repr((given, named))
        if question not in made:
            made[question] = plain(*given, **named)  # type: ignore[arg-type]
        return made[question]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(room, "assess", assess)
        yield


#: Longer than any answer takes on a machine busy with other things; nothing waits that long when all is well.
PATIENCE_S = 40.0


class AtTerminal:
    """The command line at a terminal of 24 lines that it controls."""

    def __init__(self, *words: str, cwd: Path, stdout: int | None = None, columns: int = 80) -> None:
        import fcntl  # only where there are terminals of this kind; elsewhere the fixture skips
        import termios

        self.master, slave = os.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
        environment = {**os.environ, "TERM": "xterm", "LANG": "C.UTF-8", "PYTHONUTF8": "1"}
        for name in ("NO_COLOR", "COLUMNS", "LINES"):  # the terminal itself is asked
            environment.pop(name, None)

        def own_terminal() -> None:
            os.setsid()
            fcntl.ioctl(0, termios.TIOCSCTTY, 0)

        self.process = subprocess.Popen(
            [sys.executable, "-c", "from cli.app import app; app()", *words],
            cwd=cwd,
            env=environment,
            stdin=slave,
            stdout=slave if stdout is None else stdout,
            stderr=slave,
            preexec_fn=own_terminal,
        )
        os.close(slave)
        self.seen = ""
        self._from = 0

    def expect(self, pattern: str) -> str:
        """Wait until the pattern shows up behind what was expected before; return all up to its end.

        A space in the pattern is any space on the screen, also where a long line was broken.
        """
        pattern = pattern.replace(" ", r"\s+")
        until = time.monotonic() + PATIENCE_S
        while not (found := re.compile(pattern).search(self.seen, self._from)):
            ready, _, _ = select.select([self.master], [], [], 0.1)
            if ready and not self._read():
                pytest.fail(f"{pattern!r} never came; the screen since then:\n{self.seen[self._from :]}")
            if time.monotonic() > until:
                pytest.fail(f"{pattern!r} did not come in time; the screen since then:\n{self.seen[self._from :]}")
        text = self.seen[self._from : found.end()]
        self._from = found.end()
        return text

    def poll(self, wait_s: float) -> None:
        """Take in what is there, waiting at most so long."""
        if select.select([self.master], [], [], wait_s)[0]:
            self._read()

    def _read(self) -> bool:
        try:
            data = os.read(self.master, 65536)
        except OSError:  # what Linux says at the end of a pseudo-terminal
            return False
        self.seen += data.decode("utf-8", errors="replace")
        return bool(data)

    def asks_for(self, label: str, beside: str = "") -> str:
        """Wait until a position is asked for; `beside` is a pattern of what is said of where beside it."""
        return self.expect(rf"\n{label}{beside}(?: once more, or done \(\*\))?:(?: the port, or type)? ")

    def type(self, line: str) -> None:
        """Type a line and Enter."""
        os.write(self.master, line.encode() + b"\n")

    def press(self, key: bytes) -> None:
        """Press a key without Enter."""
        os.write(self.master, key)

    def hang_up(self) -> None:
        """Take the terminal away."""
        os.close(self.master)
        self.master = -1

    def ends_with(self, code: int) -> None:
        """Wait for the end and compare the exit code."""
        until = time.monotonic() + PATIENCE_S
        while self.process.poll() is None and time.monotonic() < until:
            if self.master >= 0 and select.select([self.master], [], [], 0.05)[0]:
                self._read()
            elif self.master < 0:
                time.sleep(0.01)
        assert self.process.poll() == code, self.seen[-2000:]

    def close(self) -> None:
        """Clear up."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGKILL)
        self.process.wait()
        if self.master >= 0:
            os.close(self.master)


@pytest.fixture
def at_terminal(tmp_path: Path) -> Iterator[Callable[..., AtTerminal]]:
    """Return a function that runs the command line with these words at a terminal, in a folder of its own."""
    if not hasattr(os, "openpty"):
        pytest.skip("this system has no pseudo-terminals")
    opened: list[AtTerminal] = []

    def run(*words: str, cwd: Path | None = None, stdout: int | None = None, columns: int = 80) -> AtTerminal:
        opened.append(AtTerminal(*words, cwd=cwd or tmp_path, stdout=stdout, columns=columns))
        return opened[-1]

    yield run
    for terminal in opened:
        terminal.close()


GRILL = """\
[grate]
width = 24.0
depth = 18.0
[target]
low = 550.0
high = 600.0
"""
KNOBS = """
[[burner]]
name = "left"
from = [4.0, 1.0]
to = [4.0, 17.0]
[[burner]]
name = "right"
from = [20.0, 1.0]
to = [20.0, 17.0]
"""


@pytest.fixture
def plain_grill(tmp_path: Path) -> Path:
    """Write a grill without burners, 3 by 4 positions, to the folder of the test."""
    (tmp_path / "grill.toml").write_text(GRILL, encoding="utf-8")
    return tmp_path


@pytest.fixture
def knob_grill(tmp_path: Path) -> Path:
    """Write a grill with two burners to the folder of the test."""
    (tmp_path / "grill.toml").write_text(GRILL + KNOBS, encoding="utf-8")
    return tmp_path
