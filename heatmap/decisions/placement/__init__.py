"""Where to set the food down on the grate."""

from heatmap.decisions.placement.footprint import Footprint
from heatmap.decisions.placement.plan import Place, Placement, Wanted, find_places
from heatmap.decisions.placement.typed import heading_text, read_headings, read_size

__all__ = ["Footprint", "Place", "Placement", "Wanted", "find_places", "heading_text", "read_headings", "read_size"]
