"""Formulas that know no grill, each with its source."""

import importlib
from typing import Any


def __getattr__(name: str) -> Any:
    """Import a module of this room when it is first asked for."""
    try:
        return importlib.import_module(f"heatmap.physics.{name}")
    except ModuleNotFoundError as error:
        if error.name != f"heatmap.physics.{name}":
            raise  # something it needs is missing
        raise AttributeError(f"module 'heatmap.physics' has no attribute {name!r}") from None
