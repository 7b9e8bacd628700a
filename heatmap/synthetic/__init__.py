"""A make-believe grill with known truth, to practise and to test on."""

from heatmap.synthetic.draw import draw_grill
from heatmap.synthetic.make_believe import RehearsalGrill

__all__ = ["RehearsalGrill", "draw_grill"]
