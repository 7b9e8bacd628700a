"""A field of numbers over the grate drawn as steps of colour, with contours, hatching and readings on top."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.contour import QuadContourSet
from numpy.typing import NDArray

from heatmap.assessment import Cells
from heatmap.errors import InputError
from heatmap.pictures.grate import Panel
from heatmap.pictures.ramp import INK, MARKS, PAPER, Steps
from heatmap.pictures.sheet import NUMBER, SMALL, line_height, text_width
from heatmap.verdict.chances import SURE, chance_arrays

FloatArray = NDArray[np.float64]

#: A contour shorter than this share of the grate's width gets no label, and no contour more than this many.
_SHORTEST_LABELLED, _MOST_LABELS = 0.12, 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Field:
    """Numbers over the whole grate, from edge to edge, in the reader's unit.

    Attributes
    ----------
    x_mm, y_mm : ndarray, shape (columns,) and (rows,)
    values : ndarray, shape (rows, columns)
    """

    x_mm: FloatArray
    y_mm: FloatArray
    values: FloatArray

    @classmethod
    def from_cells(cls, cells: Cells, values: FloatArray, extent_mm: tuple[float, float]) -> Field:
        """Carry cell values on to the edges of the grate, in a straight line over the last half cell."""
        values = np.asarray(values, dtype=float)
        if values.shape != cells.inside.shape:
            raise InputError(f"a field of shape {values.shape}; the map has cells of shape {cells.inside.shape}")
        if not np.all(np.isfinite(values)):
            raise InputError("a field with numbers that are not finite cannot be drawn")
        x_mm = np.concatenate([[0.0], cells.x_mm, [extent_mm[0]]])
        y_mm = np.concatenate([[0.0], cells.y_mm, [extent_mm[1]]])
        return cls(x_mm=x_mm, y_mm=y_mm, values=_to_edges(_to_edges(values).T).T)


def _to_edges(values: FloatArray) -> FloatArray:
    first = 1.5 * values[:1] - 0.5 * values[1:2]
    last = 1.5 * values[-1:] - 0.5 * values[-2:-1]
    return np.concatenate([first, values, last])


def surest_chance(mean_c: FloatArray, std_c: FloatArray, band_c: tuple[float, float]) -> FloatArray:
    """Return the chance of the likeliest word at each cell; below 80 % the word is unsure."""
    below, in_band, above = chance_arrays(mean_c, std_c, *band_c)
    return np.maximum(np.maximum(below, in_band), above)


def fill(panel: Panel, field: Field, steps: Steps) -> QuadContourSet:
    """Fill the grate with the colour of each step."""
    filled = panel.axes.contourf(
        field.x_mm, field.y_mm, field.values, levels=list(steps.edges), colors=list(steps.colours), extend="both"
    )
    filled.set(edgecolor="face", linewidth=0.3, zorder=0, gid="steps")
    return filled


def hatch_unsure(panel: Panel, chance: Field, sure: float = SURE) -> QuadContourSet | None:
    """Hatch where the chance of the likeliest word is below `sure`; return None where nothing is."""
    if not (chance.values < sure).any():
        return None
    hatched = panel.axes.contourf(
        chance.x_mm, chance.y_mm, chance.values, levels=[-1.0, sure], colors="none", hatches=["//"]
    )
    hatched.set(edgecolor=INK, linewidth=0.0, zorder=2, gid="unsure")
    return hatched


def draw_limits(panel: Panel, field: Field, low: float, high: float, avoid_mm: FloatArray) -> list[QuadContourSet]:
    """Draw and label the contours of both limits: the lower one dashed, the upper one solid."""
    drawn = []
    for level, style, name in ((low, "dashed", "lower limit"), (high, "solid", "upper limit")):
        if not field.values.min() < level < field.values.max():
            continue
        contour = panel.axes.contour(
            field.x_mm,
            field.y_mm,
            field.values,
            levels=[level],
            colors=INK,
            linestyles=style,
            linewidths=panel.sheet.points(0.38),
            zorder=5,
        )
        contour.set(path_effects=panel.sheet.halo(0.55), gid=name)
        for x_mm, y_mm in _label_places(contour.allsegs[0], panel, field, avoid_mm):
            panel.axes.text(
                x_mm,
                y_mm,
                f"{level:.0f}",
                fontsize=panel.sheet.points(SMALL),
                ha="center",
                va="center",
                zorder=7,
                bbox={"boxstyle": "square,pad=0.12", "facecolor": PAPER, "edgecolor": "none"},
                gid=f"{name} label",
            )
            avoid_mm = np.vstack([avoid_mm, [x_mm, y_mm]])
        drawn.append(contour)
    return drawn


def _label_places(
    lines: Sequence[FloatArray], panel: Panel, field: Field, avoid_mm: FloatArray
) -> list[tuple[float, float]]:
    """Return a place on each of the longest lines, as far as can be from readings, other labels and the edge."""
    lengths = [float(np.sum(np.hypot(*np.diff(line, axis=0).T))) for line in lines]
    order = sorted(range(len(lines)), key=lambda index: -lengths[index])[:_MOST_LABELS]
    extent = np.array([field.x_mm[-1], field.y_mm[-1]])
    edge_mm = np.array([0.04, 0.022]) * panel.mm
    places = []
    for rank, index in enumerate(order):
        if rank and lengths[index] < _SHORTEST_LABELLED * extent[0]:
            continue
        line = np.asarray(lines[index])
        inside = np.all((line > edge_mm) & (line < extent - edge_mm), axis=1)
        if not inside.any():
            continue
        line = line[inside]
        room = np.min(np.hypot(*(line[:, None, :] - avoid_mm[None, :, :]).transpose(2, 0, 1)), axis=1, initial=1e9)
        best = line[int(np.argmax(np.minimum(room, 0.09 * panel.mm)))]
        places.append((float(best[0]), float(best[1])))
        avoid_mm = np.vstack([avoid_mm, best])
    return places


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One mark on the map.

    Attributes
    ----------
    x_mm, y_mm : float
    word : str
        One of :data:`heatmap.pictures.ramp.MARKS`.
    number : float
        Written below it, in the reader's unit.
    touched : bool
        A surface probe was held here.
    aside : bool
        Another mark has this place already; this one goes just above it, number on top.
    """

    x_mm: float
    y_mm: float
    word: str
    number: float
    touched: bool = False
    aside: bool = False


def draw_places(panel: Panel, places: Sequence[Place]) -> None:
    """Draw the marks, one collection for each word, and their numbers below them where there is room."""
    sheet, axes = panel.sheet, panel.axes
    shrink, numbered = fitting(places, panel)
    side = sheet.points(1.9) * shrink
    lift = 2.3 / 72.0 * panel.mm * shrink
    for word, mark in MARKS.items():
        points = np.array([(place.x_mm, place.y_mm + lift * place.aside) for place in places if place.word == word])
        if not points.size:
            continue
        x_mm, y_mm = points.T
        open_mark = mark.marker == "x"
        for width, colour in ((1.0, PAPER), (0.35, INK)):
            axes.scatter(
                x_mm,
                y_mm,
                s=side**2,
                marker=mark.marker,
                c=colour if open_mark else mark.fill,
                edgecolors=None if open_mark else colour,
                linewidths=sheet.points(width if not open_mark else 1.2 * width + 0.1) * shrink,
                zorder=8,
                clip_on=False,
                label=mark.word if colour == INK else None,
                gid=f"mark {mark.word}" if colour == INK else "halo",
            )
    for place, with_number in zip(places, numbered, strict=True):
        if place.touched:
            axes.scatter(
                place.x_mm,
                place.y_mm,
                s=(1.9 * side) ** 2,
                marker="s",
                facecolors="none",
                edgecolors=INK,
                linewidths=sheet.points(0.25),
                zorder=8,
                gid="touched",
            )
        if with_number:
            axes.annotate(
                f"{place.number:.0f}",
                (place.x_mm, place.y_mm + lift * place.aside),
                xytext=(0.0, (0.5 * side + sheet.points(0.75) * shrink) * (1 if place.aside else -1)),
                textcoords="offset points",
                fontsize=sheet.points(NUMBER) * shrink,
                fontweight="bold",
                color=INK,
                ha="center",
                va="bottom" if place.aside else "top",
                zorder=9,
                path_effects=sheet.halo(0.55),
                gid="number",
            )


def fitting(places: Sequence[Place], panel: Panel, *, letters: int = 0) -> tuple[float, list[bool]]:
    """Return how far marks and numbers must shrink, and which places get a number when even that is too crowded."""
    letters = max([letters, *(len(f"{place.number:.0f}") for place in places)])
    width_mm = (text_width("0" * letters, NUMBER, bold=True) + 0.006) * panel.mm
    height_mm = (line_height(NUMBER) + 2.9 / 72.0) * panel.mm
    x_mm = np.array([place.x_mm for place in places])
    y_mm = np.array([place.y_mm for place in places])
    aside = np.array([place.aside for place in places], dtype=bool)
    for shrink in (1.0, 0.9, 0.8, 0.7, 0.6):
        close_x = np.abs(x_mm[:, None] - x_mm) < shrink * width_mm
        close_y = np.abs(y_mm[:, None] - y_mm) < shrink * height_mm
        clash = np.triu(close_x & close_y & (aside[:, None] == aside), 1)
        if not clash.any():
            return shrink, [True] * len(places)
    numbered: list[bool] = []
    for index in range(len(places)):
        numbered.append(not any(numbered[earlier] and clash[earlier, index] for earlier in range(index)))
    return shrink, numbered
