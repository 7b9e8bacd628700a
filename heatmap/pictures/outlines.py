"""Where to set food down, drawn on the map: its outline, a chevron where it heads, its label on the outline."""

from __future__ import annotations

import numpy as np
from matplotlib.patches import Ellipse
from matplotlib.transforms import Affine2D

from heatmap.decisions.placement import Footprint, Place, Placement
from heatmap.pictures.grate import Panel, roomiest
from heatmap.pictures.ramp import INK
from heatmap.pictures.sheet import NUMBER, halo
from heatmap.units import FloatArray

#: The label of an outline keeps this far off marks, numbers and other labels [in]; a number is wider than high, so from
#: side to side distances count less.
_LABEL_ROOM, _NARROWER = 0.33, 0.6


def draw_outlines(panel: Panel, placement: Placement, avoid_mm: FloatArray) -> None:
    """Draw the places worth drawing: of single places the best and those as good, else one for each fresh turn.

    The outlines lie under the marks and numbers; their labels, their numbers or turns, above and off `avoid_mm` (n, 2).
    """
    food = placement.wanted.footprint
    if placement.wanted.turns > 1:
        drawn = [(str(place.turn), place) for place in placement.places if place.fresh]
    else:
        drawn = [(str(number), place) for number, place in enumerate(placement.places[: placement.equally_good], 1)]
    for _, place in drawn:
        for index, clock in enumerate(place.headings):
            _draw_outline(panel, food, place, clock, "solid" if index == 0 else (0, (2.2, 1.4)))
    for text, place in drawn:
        x_mm, y_mm = _label_place(panel, food, place, avoid_mm)
        avoid_mm = np.vstack([avoid_mm, [x_mm, y_mm]])
        label = panel.axes.text(x_mm, y_mm, text, fontsize=NUMBER, fontweight="bold", zorder=12)
        label.set(ha="center", va="center", path_effects=halo(3.9), gid="outline label")


def _at_heading(place: Place, clock: float) -> Affine2D:
    """Return the way from the outline's own axes, y along its heading, to the grate."""
    return Affine2D().rotate_deg(-30.0 * clock).translate(*place.centre_mm)


def _draw_outline(
    panel: Panel, food: Footprint, place: Place, clock: float, style: str | tuple[int, tuple[float, float]]
) -> None:
    patch = Ellipse(place.centre_mm, food.width_mm, food.length_mm, angle=-30.0 * clock)
    patch.set(fill=False, edgecolor=INK, linewidth=3.2, linestyle=style, zorder=6.2, path_effects=halo(6.2))
    patch.set_gid("outline")
    panel.axes.add_patch(patch)
    size, tip = 0.143 * panel.mm, 0.5 * food.length_mm
    chevron = _at_heading(place, clock).transform([(-size, tip), (0.0, tip + 1.3 * size), (size, tip)])
    (drawn,) = panel.axes.plot(*chevron.T, color=INK, linewidth=3.6, zorder=6.4, path_effects=halo(6.8), gid="heading")
    drawn.set(solid_capstyle="round", solid_joinstyle="miter")


def _label_place(panel: Panel, food: Footprint, place: Place, avoid_mm: FloatArray) -> tuple[float, float]:
    """Return a point on the outline at its first heading: the near end, or the next round it that is free."""
    steps = np.array(sorted(range(-5, 7), key=abs)) * np.pi / 6.0
    own = -0.5 * np.column_stack([food.width_mm * np.sin(steps), food.length_mm * np.cos(steps)])
    points = _at_heading(place, place.headings[0]).transform(own)
    return roomiest(points, avoid_mm, _LABEL_ROOM * panel.mm, narrower=_NARROWER)
