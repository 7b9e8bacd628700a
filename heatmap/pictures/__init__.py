"""Pictures: every function returns a matplotlib Figure; nothing is shown and no state is kept."""

from heatmap.pictures.maps import difference_map, expected_map, heat_map
from heatmap.pictures.sheet import picture_bytes

__all__ = ["difference_map", "expected_map", "heat_map", "picture_bytes"]
