"""Pictures: every function returns a matplotlib Figure; nothing is shown and no state is kept."""

from heatmap.pictures.difference import difference_map
from heatmap.pictures.expected import expected_map
from heatmap.pictures.heat_map import heat_map
from heatmap.pictures.saving import picture_bytes

__all__ = [
    "difference_map",
    "expected_map",
    "heat_map",
    "picture_bytes",
]
