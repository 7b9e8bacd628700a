"""Numbers over the grate drawn as steps of colour, with contours, hatching and readings on top."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from heatmap.assessment import Cells
from heatmap.grill.grate import Point
from heatmap.pictures.grate import Panel, roomiest
from heatmap.pictures.ramp import COLOURS, INK, MARKS, PAPER, Edges
from heatmap.pictures.sheet import NUMBER, halo, line_height, text_width
from heatmap.units import BoolArray, FloatArray

#: The label of a limit keeps this far inside the edge, across and away, and as far as this off readings where it can.
_LABEL_INSIDE_IN, _LABEL_ROOM_IN = (0.26, 0.143), 0.585
_SIDE = 12.4  # of a mark [pt]
_LIFT_IN = 0.21  # of a mark whose place another has already
_LEAST_SHRINK = 0.6  # of marks and numbers where they are crowded: smaller they cannot be read


#: Numbers over the whole grate, as matplotlib's contours take them: x [mm] of the columns, y of the rows, values.
Field = tuple[FloatArray, FloatArray, FloatArray]


def over_grate(cells: Cells, values: FloatArray) -> Field:
    """Carry cell values (rows, columns) on in a straight line to beyond the edges, where the axes cut them off."""
    x_mm, y_mm, on = (np.pad(one, 1, mode="reflect", reflect_type="odd") for one in (cells.x_mm, cells.y_mm, values))
    return x_mm, y_mm, on


def fill(panel: Panel, field: Field, steps: Edges) -> None:
    """Fill the grate with the colour of each step."""
    filled = panel.axes.contourf(*field, levels=steps, colors=COLOURS, extend="both")
    filled.set(edgecolor="face", linewidth=0.3, zorder=0, gid="steps")
    panel.keep_on_grate(filled)


def hatch_unsure(panel: Panel, chance: Field, sure: float) -> bool:
    """Hatch where a number such as the chance of the likeliest word is below `sure`; tell whether it is anywhere."""
    anywhere = bool((chance[2] < sure).any())
    if anywhere:
        hatched = panel.axes.contourf(*chance, levels=[-1e9, sure], colors="none", hatches=["//"])
        hatched.set(edgecolor=INK, linewidth=0.0, zorder=2, gid="unsure")
        panel.keep_on_grate(hatched)
    return anywhere


def draw_limits(panel: Panel, field: Field, low: float, high: float, avoid_mm: FloatArray) -> None:
    """Draw the contours of both limits, the lower one dashed, the upper one solid, and label the longest line of each:
    as far as can be from readings, the other label and the edge.
    """
    grate, edge_mm = panel.grill.grate, np.array(_LABEL_INSIDE_IN) * panel.mm
    for level, style, name in ((low, "dashed", "lower limit"), (high, "solid", "upper limit")):
        if not field[2].min() < level < field[2].max():
            continue
        contour = panel.axes.contour(*field, levels=[level], colors=INK, linestyles=style, linewidths=2.5, zorder=5)
        contour.set(path_effects=halo(), gid=name)
        panel.keep_on_grate(contour)
        longest = max(contour.allsegs[0], key=lambda line: float(np.hypot(*np.diff(line, axis=0).T).sum()))
        in_box = ((longest > edge_mm) & (longest < grate.extent_mm - edge_mm)).all(axis=1)
        inside = longest[in_box & (grate.edge_distance_mm(longest) > edge_mm[1])]
        if inside.size:
            at_mm = roomiest(inside, avoid_mm, _LABEL_ROOM_IN * panel.mm)
            label = panel.axes.text(*at_mm, f"{level:.0f}", ha="center", va="center", zorder=7, gid=f"{name} label")
            label.set_bbox({"boxstyle": "square,pad=0.12", "facecolor": PAPER, "edgecolor": "none"})
            avoid_mm = np.vstack([avoid_mm, at_mm])


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One mark on the map, its number below it; without a mark the number alone.

    Attributes
    ----------
    at_mm : (float, float)
    word : str
        One of :data:`heatmap.pictures.ramp.MARKS`, or empty.
    sure : bool
        Filled; hollow where the place only leans to the word.
    text : str
        The number.
    touched : bool
        A surface probe was held here.
    aside : bool
        Another mark has this place already; this one goes just above it, number on top.
    """

    at_mm: Point
    word: str
    text: str
    sure: bool = True
    touched: bool = False
    aside: bool = False


def draw_marks(panel: Panel, marks: Sequence[Mark]) -> None:
    """Draw the marks, one collection for each word, and their numbers where there is room."""
    axes, (shrink, numbered) = panel.axes, _fitting(marks, panel)
    side, lift_mm = _SIDE * shrink, _LIFT_IN * panel.mm * shrink
    at_mm = np.array([(mark.at_mm[0], mark.at_mm[1] + lift_mm * mark.aside) for mark in marks])
    for (word, (marker, fill)), sure in itertools.product(MARKS.items(), (True, False)):
        these = [mark.word == word and mark.sure is sure for mark in marks]
        if any(these):
            x_mm, y_mm = at_mm[these].T
            colour, line = fill if sure else PAPER, 3.4 if marker == "x" else 2.3
            drawn = axes.scatter(x_mm, y_mm, s=side**2, marker=marker, c=colour, clip_on=False, zorder=8)
            drawn.set(linewidth=line * shrink, path_effects=halo(6.5 * shrink), edgecolor=INK)
            drawn.set_gid(f"mark {word}" if sure else f"mark leaning {word}")
    for place, mark, with_number in zip(at_mm, marks, numbered, strict=True):
        if mark.touched:
            box = axes.scatter(*mark.at_mm, s=(1.9 * side) ** 2, marker="s", facecolors="none", zorder=8)
            box.set(edgecolor=INK, linewidth=1.6, gid="touched")
        if with_number:
            beside = "bottom" if mark.aside else "top"
            off = (0.5 * side + 4.9 * shrink) * (1 if mark.aside else -1) if mark.word else 0.0
            number = axes.annotate(mark.text, place, xytext=(0.0, off), textcoords="offset points", ha="center")
            number.set(fontsize=NUMBER * shrink, fontweight="bold", va=beside if mark.word else "center")
            number.set(zorder=9, path_effects=halo(), gid="number")


def _fitting(marks: Sequence[Mark], panel: Panel) -> tuple[float, BoolArray]:
    """Return how far marks and numbers must shrink so that no number covers another, and which places get one where
    even that is too crowded.
    """
    letters = max((len(mark.text) for mark in marks), default=0)
    width_mm = (text_width("0" * letters, NUMBER, bold=True) + 0.04) * panel.mm
    height_mm = (line_height(NUMBER) + 0.26) * panel.mm
    places_mm, aside = np.array([mark.at_mm for mark in marks]).reshape(-1, 2), np.array([mark.aside for mark in marks])
    room = (np.abs(places_mm[:, None] - places_mm) / (width_mm, height_mm)).max(axis=2)  # of two of full size: 1
    room[(aside[:, None] != aside) | np.eye(len(marks), dtype=bool)] = np.inf
    shrink = float(np.clip(room.min(initial=1.0), _LEAST_SHRINK, 1.0))
    numbered = np.zeros(len(marks), dtype=bool)
    for index in range(len(marks)):
        numbered[index] = (room[index, numbered] >= shrink).all()
    return shrink, numbered
