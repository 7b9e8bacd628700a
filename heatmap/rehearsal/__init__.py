"""A make-believe grill with known truth, to practise and to test on."""

from heatmap.rehearsal.draw import draw_grill
from heatmap.rehearsal.make_believe import RehearsalGrill

__all__ = ["RehearsalGrill", "draw_grill"]
