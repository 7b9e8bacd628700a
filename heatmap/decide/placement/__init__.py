"""Where to set the food down on the grate."""

from heatmap.decide.placement.footprint import Footprint, heading_text, read_headings, read_size
from heatmap.decide.placement.plan import Place, Placement, Wanted, find_places
from heatmap.decide.placement.room import read_box

__all__ = [
    "Footprint",
    "Place",
    "Placement",
    "Wanted",
    "find_places",
    "heading_text",
    "read_box",
    "read_headings",
    "read_size",
]
