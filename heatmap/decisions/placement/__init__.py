"""Where to set the food down on the grate."""

from heatmap.decisions.placement.footprint import Footprint, heading_text, read_headings, read_size
from heatmap.decisions.placement.plan import Place, Placement, Wanted, find_places

__all__ = [
    "Footprint",
    "Place",
    "Placement",
    "Wanted",
    "find_places",
    "heading_text",
    "read_headings",
    "read_size",
]
