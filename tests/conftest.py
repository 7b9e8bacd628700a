"""What many tests share: the sample grill and readings, and the command line run inside the process."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

SAMPLES = Path(__file__).parents[1] / "sample_readings"


@pytest.fixture
def samples(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a folder of its own with the sample grill and readings, made the current folder."""
    for name in ("grill.toml", "readings.csv"):
        shutil.copy(SAMPLES / name, tmp_path / name)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def gratemap() -> Callable[..., Result]:
    """Return a function that runs the command line with these words."""
    from cli.app import app

    def run(*words: str, typed: str | None = None) -> Result:
        return CliRunner().invoke(app, list(words), input=typed)

    return run
