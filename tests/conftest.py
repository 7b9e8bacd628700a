"""What many tests share: the sample readings, the command line, also at a terminal, a gun on a cable, an account."""

from __future__ import annotations

import contextlib
import functools
import gc
import os
import re
import select
import shutil
import signal
import struct
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import hypothesis
import pytest
from typer import Typer
from typer.main import get_command
from typer.testing import CliRunner, Result

import cli  # noqa: F401 - before numpy: it gives every process one thread, as the command has; the workers need no more
from cli.start import OBJECTS
from started import COARSE_CELLS_MM, Started

SAMPLES = Path(__file__).parents[1] / "sample_readings"

# The command is started often: what it loads is compiled once for a run, also where an environment keeps no bytecode.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

# What tests write and flush goes to memory where there is room: on a busy disk it took a minute of the clock, most of
# it to remove the folders of the run before.
IN_MEMORY = Path("/dev/shm")
if IN_MEMORY.is_dir() and shutil.disk_usage(IN_MEMORY).free > 1e9:
    os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", str(IN_MEMORY))

#: Longer than any answer takes on a machine busy with other things; nothing waits that long when all is well.
PATIENCE_S = 40.0

# An example may take long where other processes run beside it.
hypothesis.settings.register_profile("beside others", deadline=None)
hypothesis.settings.load_profile("beside others")


# As rarely as the command does, tests look for garbage: among what is loaded there is next to none.
gc.set_threshold(OBJECTS)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the browser, which takes longest and waits most: two processes have work enough beside it."""
    items.sort(key=lambda item: item.path.name != "test_browser_page.py")


def pytest_collection_finish() -> None:
    """Never look again for garbage among what is loaded."""
    gc.freeze()


@pytest.fixture(scope="module")
def coarse_cells() -> Iterator[dict[str, float]]:
    """The map, shares, spreads and advice on cells twice as wide, for tests that hang on no digit of them.

    Tells how wide they are else.
    """
    from heatmap import assessment

    fine_mm = {name: getattr(assessment, name) for name in COARSE_CELLS_MM}
    with pytest.MonkeyPatch.context() as patch:
        for name, cell_mm in COARSE_CELLS_MM.items():
            patch.setattr(assessment, name, cell_mm)
        yield fine_mm


@pytest.fixture
def fine_cells(coarse_cells: dict[str, float], monkeypatch: pytest.MonkeyPatch) -> None:
    """The cells of a cook's own map, for the one test of a module that does hang on them."""
    for name, cell_mm in coarse_cells.items():
        monkeypatch.setattr(f"heatmap.assessment.{name}", cell_mm)


@pytest.fixture
def undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave the drawing out of a report of which only words and numbers are asked for."""
    from matplotlib.figure import Figure

    for draws in ("heat_map", "expected_map", "difference_map"):
        monkeypatch.setattr(f"heatmap.report.page.{draws}", lambda *_, **__: Figure())
    monkeypatch.setattr("heatmap.report.page.picture_bytes", lambda *_: b"<svg xmlns='http://www.w3.org/2000/svg'/>")


@pytest.fixture
def samples(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a folder of its own with the sample grill and readings, made the current folder."""
    for name in ("grill.toml", "readings.csv"):
        shutil.copy(SAMPLES / name, tmp_path / name)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@functools.cache
def _built(app: Typer) -> Any:
    """Return what reads the command line: the same for all runs, and built anew it costs as much as a short one."""
    return get_command(app)


@pytest.fixture
def gratemap(monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Result]:
    """Return a function that runs the command line with these words; temporary files go with those of the tests."""
    from cli.app import app

    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path_factory.getbasetemp()))
    monkeypatch.setattr("typer.testing._get_command", _built)

    def run(*words: str, typed: str | None = None) -> Result:
        return CliRunner().invoke(app, list(words), input=typed)

    return run


class Gun:
    """A gun on a cable: a pseudo-terminal behind a link that stays the same, like a name under by-id."""

    def __init__(self, link: Path) -> None:
        self.link = str(link)
        self._master: int | None = None
        self.plug()

    def plug(self) -> None:
        self._master, slave = os.openpty()
        name = os.ttyname(slave)
        os.close(slave)
        os.symlink(name, self.link + ".new")
        os.replace(self.link + ".new", self.link)

    def unplug(self, *, leave_link: bool = False) -> None:
        if self._master is not None:
            os.close(self._master)
            self._master = None
        if not leave_link:
            with contextlib.suppress(FileNotFoundError):
                os.unlink(self.link)

    def send(self, data: bytes) -> None:
        assert self._master is not None
        while data:
            data = data[os.write(self._master, data[:2048]) :]


@pytest.fixture
def gun(tmp_path: Path) -> Iterator[Gun]:
    if not hasattr(os, "openpty"):
        pytest.skip("there are no pseudo-terminals here; real ports were not tried")
    found = Gun(tmp_path / "gun")
    yield found
    found.unplug()


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """The system's Chromium, driven by Playwright; without one of them its tests are skipped, but not in CI."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    try:
        from playwright.sync_api import expect, sync_playwright
    except ImportError:
        chromium = None
    if chromium is None and os.environ.get("CI") != "true":
        pytest.skip("needs Playwright and Chromium (Debian and Ubuntu: the package chromium)")
    expect.set_options(timeout=1000.0 * PATIENCE_S)
    with sync_playwright() as playwright:
        found = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        yield found
        found.close()


@pytest.fixture
def ordinary_account() -> Iterator[Path]:
    """Be an account that may not do everything; return a folder that it can reach but that is not its own."""
    if not hasattr(os, "geteuid"):
        pytest.skip("there are no such accounts here")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)
        before = os.geteuid()
        if before == 0:
            os.seteuid(65534)
        try:
            yield folder
        finally:
            os.seteuid(before)


class AtTerminal:
    """The command line at a terminal of 24 lines that it controls."""

    def __init__(
        self, *words: str, cwd: Path, stdout: int | None = None, columns: int = 80, fine: bool = False
    ) -> None:
        import fcntl  # only where there are terminals of this kind; elsewhere the fixture skips
        import termios

        self.master, slave = os.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
        environment = {**os.environ, "TERM": "xterm", "LANG": "C.UTF-8", "PYTHONUTF8": "1"}
        for name in ("NO_COLOR", "COLUMNS", "LINES"):  # the terminal itself is asked
            environment.pop(name, None)

        answers = slave if stdout is None else stdout
        streams = {"stdin": slave, "stdout": answers, "stderr": slave}
        self.process = Started(*words, cwd=cwd, env=environment, **streams, leads=True, fine=fine)
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

    def run(*words: str, cwd: Path | None = None, **how: Any) -> AtTerminal:
        opened.append(AtTerminal(*words, cwd=cwd or tmp_path, **how))
        return opened[-1]

    yield run
    for terminal in opened:
        terminal.close()
