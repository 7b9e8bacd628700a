"""The page three ways (see the package `phone`)."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from phone import GRILL, Browser, Command, Opened


@pytest.fixture(autouse=True, scope="module")
def _coarse(coarse_cells: None) -> None:
    """A quarter of the cells."""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a folder with a grill in it, and no readings yet."""
    (tmp_path / "grill.toml").write_text(GRILL, encoding="utf-8")
    return tmp_path


@pytest.fixture
def opened(folder: Path) -> Iterator[Opened]:
    """Return a page of a new grill file that is not served on a socket."""
    found = Opened(folder)
    yield found
    found.close()


@pytest.fixture
def cook(opened: Opened) -> Browser:
    """Return the cook's browser."""
    return opened.client()


@pytest.fixture
def served(opened: Opened) -> Opened:
    """Return the same, served on a socket of this process."""
    opened.server.__enter__()
    return opened


@pytest.fixture
def command(folder: Path) -> Iterator[Callable[..., Command]]:
    """Return a function that starts the command in a folder with a grill."""
    started: list[Command] = []

    def start(*words: str, port: int = 0) -> Command:
        started.append(Command(folder, *words, port=port))
        return started[-1]

    yield start
    for one in started:
        if one.process.poll() is None:
            one.kill()
        for stream in (one.process.stdout, one.process.stderr):
            assert stream is not None
            stream.close()
