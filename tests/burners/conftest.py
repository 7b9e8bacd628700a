"""Rounds from the truth, shared by the tests of this folder."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def seen_round():
    """Return :func:`make_rounds.seen_round`."""
    spec = importlib.util.spec_from_file_location("make_rounds", Path(__file__).with_name("make_rounds.py"))
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.seen_round
