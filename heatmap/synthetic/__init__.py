"""A make-believe grill with known truth, to practise and to test on."""

from heatmap.synthetic.make_believe import RehearsalGrill, draw_grill

__all__ = ["RehearsalGrill", "draw_grill"]
