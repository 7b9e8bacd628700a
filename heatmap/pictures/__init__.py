"""Pictures: every function returns a matplotlib Figure; nothing is shown and no state is kept."""

import heatmap.pictures.loading  # noqa: F401 - before all else of matplotlib
from heatmap.pictures.maps import difference_map, expected_map, heat_map
from heatmap.pictures.sheet import picture_bytes

__all__ = [
    "difference_map",
    "expected_map",
    "heat_map",
    "picture_bytes",
]
