"""Formulas that know no grill, each with its source."""

from importlib import import_module
from importlib.util import find_spec
from typing import Any


def __getattr__(name: str) -> Any:
    """Import a module of this room when it is first asked for."""
    if find_spec(f"heatmap.physics.{name}") is None:
        raise AttributeError(f"module 'heatmap.physics' has no attribute {name!r}")
    return import_module(f"heatmap.physics.{name}")
