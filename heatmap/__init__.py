"""Map the surface temperature of a cooking grate from infrared spot readings.

>>> import heatmap
>>> grill = heatmap.load_grill("grill.toml")  # doctest: +SKIP
>>> rounds = heatmap.load_rounds("readings.csv", grill)  # doctest: +SKIP
>>> heatmap.assess(grill, rounds).evenness.share_in_band  # doctest: +SKIP

Public names are found on first use, so importing the package costs next to nothing.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from heatmap.assessment import Assessment, assess
    from heatmap.decisions.decision import Decision, decide
    from heatmap.errors import HeatmapError
    from heatmap.grill.grill import Grill
    from heatmap.grill.toml import load_grill
    from heatmap.readings.csv_file import load_rounds
    from heatmap.readings.reading import Reading, Round
    from heatmap.surface import Surface, fit_surface

__all__ = [
    "Assessment",
    "Decision",
    "Grill",
    "HeatmapError",
    "Reading",
    "Round",
    "Surface",
    "assess",
    "decide",
    "fit_surface",
    "load_grill",
    "load_rounds",
]

_HOMES = {
    "Assessment": "heatmap.assessment",
    "Decision": "heatmap.decisions.decision",
    "Grill": "heatmap.grill.grill",
    "HeatmapError": "heatmap.errors",
    "Reading": "heatmap.readings.reading",
    "Round": "heatmap.readings.reading",
    "Surface": "heatmap.surface",
    "assess": "heatmap.assessment",
    "decide": "heatmap.decisions.decision",
    "fit_surface": "heatmap.surface",
    "load_grill": "heatmap.grill.toml",
    "load_rounds": "heatmap.readings.csv_file",
}


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(importlib.import_module(_HOMES[name]), name)
    try:
        return importlib.import_module(f"heatmap.{name}")
    except ModuleNotFoundError as error:
        if error.name != f"heatmap.{name}":
            raise  # something it needs is missing
        raise AttributeError(f"module 'heatmap' has no attribute {name!r}") from None
