"""The examples in docstrings run, and give what they say."""

from __future__ import annotations

import doctest
import importlib
from pathlib import Path

import pytest

import heatmap

ROOT = Path(heatmap.__file__).parent
MODULES = sorted(
    ".".join(path.relative_to(ROOT.parent).with_suffix("").parts).removesuffix(".__init__")
    for path in ROOT.rglob("*.py")
    if ">>> " in path.read_text(encoding="utf-8")
)


def test_there_are_examples() -> None:
    assert "heatmap.physics.planck" in MODULES


@pytest.mark.parametrize("name", MODULES)
def test_examples_run(name: str) -> None:
    found = doctest.testmod(importlib.import_module(name))
    assert found.failed == 0, f"{found.failed} of {found.attempted} examples of {name} failed; see the output above"
