"""Map the surface temperature of a cooking grate from infrared spot readings.

>>> import heatmap
>>> grill = heatmap.load_grill("grill.toml")  # doctest: +SKIP
>>> rounds = heatmap.load_rounds("readings.csv", grill)  # doctest: +SKIP
>>> heatmap.assess(grill, rounds).evenness.share_in_band  # doctest: +SKIP

Public names are found on first use, so importing the package costs next to nothing.
"""

from importlib import import_module
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from heatmap.assessment import Assessment as Assessment
    from heatmap.assessment import assess as assess
    from heatmap.decisions.decision import Decision as Decision
    from heatmap.decisions.decision import decide as decide
    from heatmap.errors import HeatmapError as HeatmapError
    from heatmap.grill.grill import Grill as Grill
    from heatmap.grill.toml import load_grill as load_grill
    from heatmap.readings.csv_file import load_rounds as load_rounds
    from heatmap.readings.reading import Reading as Reading
    from heatmap.readings.reading import Round as Round
    from heatmap.surface import Surface as Surface
    from heatmap.surface import fit_surface as fit_surface

#: Where each public name lives.
_HOMES = {
    "heatmap.assessment": ("Assessment", "assess"),
    "heatmap.decisions.decision": ("Decision", "decide"),
    "heatmap.errors": ("HeatmapError",),
    "heatmap.grill.grill": ("Grill",),
    "heatmap.grill.toml": ("load_grill",),
    "heatmap.readings.csv_file": ("load_rounds",),
    "heatmap.readings.reading": ("Reading", "Round"),
    "heatmap.surface": ("Surface", "fit_surface"),
}
__all__ = sorted(name for names in _HOMES.values() for name in names)


def __getattr__(name: str) -> Any:
    for home, names in _HOMES.items():
        if name in names:
            return getattr(import_module(home), name)
    if find_spec(f"heatmap.{name}") is None:
        raise AttributeError(f"module 'heatmap' has no attribute {name!r}")
    return import_module(f"heatmap.{name}")
