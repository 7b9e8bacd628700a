"""Where to set food down, drawn on the map: its outline, a chevron where it heads, its label on the outline."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from matplotlib.patches import Ellipse, Rectangle
from matplotlib.transforms import Affine2D

from heatmap.pictures.grate import Panel
from heatmap.pictures.ramp import INK
from heatmap.pictures.sheet import NUMBER, halo
from heatmap.units import FloatArray

if TYPE_CHECKING:
    from heatmap.decisions.placement import Place, Placement


#: The label of an outline keeps this far off marks, numbers and other labels [in]; a number is wider than high, so from
#: side to side distances count less.
_LABEL_ROOM, _NARROWER = 0.33, 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """Where food, or a pan, is to be set down.

    Attributes
    ----------
    x_mm, y_mm : float
        Its centre.
    length_mm, width_mm : float
        Length along the heading, width across it.
    headings : tuple of float
        Where its long end points, on the clock: 12 is straight away from the cook, 3 to the right.
    shape : {"ellipse", "rectangle"}
    label : str
    """

    x_mm: float
    y_mm: float
    length_mm: float
    width_mm: float
    headings: tuple[float, ...] = (12.0,)
    shape: Literal["ellipse", "rectangle"] = "ellipse"
    label: str = ""


def outlines_of(placement: Placement) -> list[Outline]:
    """Return the outlines worth drawing: of single places the best and those as good, else one for each turn.

    Each is labelled with its number, or with its turn.
    """
    food, several = placement.wanted.footprint, placement.wanted.turns > 1
    return [
        Outline(
            x_mm=place.x_mm,
            y_mm=place.y_mm,
            length_mm=food.length_mm,
            width_mm=food.width_mm,
            headings=place.headings,
            shape=food.shape,
            label=str(place.turn if several else number),
        )
        for number, place in enumerate(_drawn(placement), 1)
    ]


def _drawn(placement: Placement) -> list[Place]:
    if placement.wanted.turns > 1:
        return [place for place in placement.places if place.fresh]
    return list(placement.places[: placement.equally_good])


def draw_outlines(panel: Panel, outlines: Sequence[Outline], avoid_mm: FloatArray) -> None:
    """Draw the outlines under the marks and numbers; their labels lie above and keep off `avoid_mm` (n, 2)."""
    for outline in outlines:
        for index, clock in enumerate(outline.headings):
            _draw_outline(panel, outline, clock, "solid" if index == 0 else (0, (2.2, 1.4)))
    for outline in outlines:
        if outline.label and outline.headings:
            x_mm, y_mm = _label_place(panel, outline, avoid_mm)
            avoid_mm = np.vstack([avoid_mm, [x_mm, y_mm]])
            label = panel.axes.text(x_mm, y_mm, outline.label, fontsize=NUMBER, fontweight="bold", zorder=12)
            label.set(ha="center", va="center", path_effects=halo(3.9), gid="outline label")


def _at_heading(outline: Outline, clock: float) -> Affine2D:
    """Return the way from the outline's own axes, y along its heading, to the grate."""
    return Affine2D().rotate_deg(-30.0 * clock).translate(outline.x_mm, outline.y_mm)


def _draw_outline(panel: Panel, outline: Outline, clock: float, style: str | tuple[int, tuple[float, float]]) -> None:
    centre, sides, angle = (outline.x_mm, outline.y_mm), (outline.width_mm, outline.length_mm), -30.0 * clock
    if outline.shape == "ellipse":
        patch: Ellipse | Rectangle = Ellipse(centre, *sides, angle=angle)
    else:
        corner = (centre[0] - 0.5 * sides[0], centre[1] - 0.5 * sides[1])
        patch = Rectangle(corner, *sides, angle=angle, rotation_point="center")
    patch.set(fill=False, edgecolor=INK, linewidth=3.2, linestyle=style, zorder=6.2, path_effects=halo(6.2))
    patch.set_gid("outline")
    panel.axes.add_patch(patch)
    size, tip = 0.143 * panel.mm, 0.5 * outline.length_mm
    chevron = _at_heading(outline, clock).transform([(-size, tip), (0.0, tip + 1.3 * size), (size, tip)])
    (drawn,) = panel.axes.plot(*chevron.T, color=INK, linewidth=3.6, zorder=6.4, path_effects=halo(6.8), gid="heading")
    drawn.set(solid_capstyle="round", solid_joinstyle="miter")


def _label_place(panel: Panel, outline: Outline, avoid_mm: FloatArray) -> tuple[float, float]:
    """Return a point on the outline at its first heading: the near end, or the next round it that is free."""
    steps = np.array(sorted(range(-5, 7), key=abs)) * np.pi / 6.0
    own = -0.5 * np.column_stack([outline.width_mm * np.sin(steps), outline.length_mm * np.cos(steps)])
    points = _at_heading(outline, outline.headings[0]).transform(own)
    apart_mm = np.array([_NARROWER, 1.0]) * (points[:, None] - avoid_mm)
    room_mm = np.hypot(*apart_mm.transpose(2, 0, 1)).min(axis=1, initial=np.inf)
    free = np.flatnonzero(room_mm >= _LABEL_ROOM * panel.mm)
    x_mm, y_mm = points[free[0] if free.size else int(np.argmax(room_mm))]
    return float(x_mm), float(y_mm)
