"""What many tests share: the sample readings, the command line, a gun on a cable, an ordinary account."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

import cli  # noqa: F401 - before numpy: it gives every process one thread, as the command has; two workers need no more

SAMPLES = Path(__file__).parents[1] / "sample_readings"


@pytest.fixture
def samples(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a folder of its own with the sample grill and readings, made the current folder."""
    for name in ("grill.toml", "readings.csv"):
        shutil.copy(SAMPLES / name, tmp_path / name)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def gratemap(monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Result]:
    """Return a function that runs the command line with these words; temporary files go with those of the tests."""
    from cli.app import app

    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path_factory.getbasetemp()))

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
