"""Formulas that know no grill, each with its source."""

from __future__ import annotations

import importlib
from typing import Any

_MODULES = (
    "beef",
    "conduction",
    "emissivity",
    "finishes",
    "grey_body",
    "groove",
    "planck",
    "spot",
)


def __getattr__(name: str) -> Any:
    if name in _MODULES:
        return importlib.import_module(f"heatmap.physics.{name}")
    raise AttributeError(f"module 'heatmap.physics' has no attribute {name!r}")
