"""Evenness round by round: is the grate getting better?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from heatmap.errors import InputError
from heatmap.pictures.heat_map import WIDTH_IN
from heatmap.pictures.ramp import INK, MARKS, QUIET
from heatmap.pictures.sheet import SMALL, Sheet, heading, heading_height, house_style, line_height, text_width
from heatmap.units import Display, percent

#: More rounds than this do not fit side by side; the latest are drawn.
MOST_POINTS = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class EvennessPoint:
    """One round in the history.

    Attributes
    ----------
    label : str
        The round's number or name.
    spread_c : float
        95th minus 5th percentile over the area.
    share, share_low, share_high : float
        Share of the area in band and its 90 % limits, 0 to 1.
    session : str
    """

    label: str
    spread_c: float
    share: float
    share_low: float
    share_high: float
    session: str = ""

    def __post_init__(self) -> None:
        if not all(math.isfinite(number) for number in (self.spread_c, self.share, self.share_low, self.share_high)):
            raise InputError(f"round {self.label}: spread and shares must be finite numbers")


def evenness_history(
    points: Sequence[EvennessPoint],
    *,
    units: Literal["us", "si"] = "us",
    title: str | None = None,
    width_in: float = WIDTH_IN,
) -> Figure:
    """Draw share in band, with its limits, and spread, round by round.

    Parameters
    ----------
    points : sequence of EvennessPoint
        In order of time, at least one; the latest 24 are drawn.
    units : {"us", "si"}
    title : str, optional
    width_in : float

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    InputError
        When there is no point.
    """
    if not points:
        raise InputError("there is no round to draw; take one with: gratemap take")
    points = list(points)[-MOST_POINTS:]
    display = Display(units)
    with house_style():
        lines = heading(_answer(points, display) if title is None else title)
        top = heading_height(lines)
        panel, gap, left = 0.25, 0.075, 0.115
        sheet = Sheet(width_in=width_in, height=top + 2 * panel + 2 * gap + 2 * line_height(SMALL) + 0.03)
        y = sheet.lines(lines) + line_height(SMALL) + 0.012
        upper = _axes(sheet, left, y, panel, points, "share of the grate in band, %", names=False)
        _draw_shares(sheet, upper, points)
        y += panel + gap
        lower = _axes(sheet, left, y, panel, points, f"spread, {display.degrees} (smaller is more even)", names=True)
        _draw_spreads(sheet, lower, points, display)
        sheet.text(0.5, y + panel + line_height(SMALL) + 0.014, "round", size=SMALL, ha="center")
        return sheet.figure


def _answer(points: Sequence[EvennessPoint], display: Display) -> str:
    first, last = points[0], points[-1]
    now = f"Round {last.label}: {percent(last.share)} in band, spread {display.difference_text(last.spread_c)}"
    if len(points) == 1:
        return now
    return f"{now}; round {first.label} had {percent(first.share)} and {display.difference_text(first.spread_c)}."


def _axes(
    sheet: Sheet, x: float, y: float, height: float, points: Sequence[EvennessPoint], name: str, *, names: bool
) -> Axes:
    axes = sheet.axes(x, y, 0.97 - x, height)
    size, labels = sheet.points(SMALL), [point.label for point in points]
    room = 0.8 * (0.97 - x) / len(points)
    every = max(1, math.ceil(max(text_width(label, SMALL) for label in labels) / room))
    axes.set_xlim(-0.6, len(points) - 0.4)
    axes.set_xticks(range(0, len(points), every), labels[::every] if names else [""] * len(labels[::every]))
    axes.tick_params(labelsize=size, width=sheet.points(0.15), length=sheet.points(0.6), pad=sheet.points(0.4))
    axes.grid(axis="y", color=QUIET, alpha=0.35, linewidth=sheet.points(0.12))
    axes.spines[["top", "right"]].set_visible(False)
    axes.set_axisbelow(True)
    sheet.text(x, y - line_height(SMALL) - 0.008, name, size=SMALL, bold=True)
    for index in range(1, len(points)):
        if points[index].session != points[index - 1].session:
            axes.axvline(index - 0.5, color=QUIET, linewidth=sheet.points(0.14), linestyle=(0, (3, 3)), gid="session")
    return axes


def _draw_shares(sheet: Sheet, axes: Axes, points: Sequence[EvennessPoint]) -> None:
    share = [100 * point.share for point in points]
    below = [100 * max(point.share - point.share_low, 0.0) for point in points]
    above = [100 * max(point.share_high - point.share, 0.0) for point in points]
    axes.set_ylim(-4.0, 104.0)
    axes.set_yticks([0, 25, 50, 75, 100])
    axes.errorbar(
        range(len(points)),
        share,
        yerr=[below, above],
        color=INK,
        marker=MARKS["in band"].marker,
        markersize=sheet.points(1.3),
        linewidth=sheet.points(0.2),
        elinewidth=sheet.points(0.35),
        capsize=sheet.points(0.6),
        capthick=sheet.points(0.35),
        gid="share",
    )


def _draw_spreads(sheet: Sheet, axes: Axes, points: Sequence[EvennessPoint], display: Display) -> None:
    spread = [display.difference(point.spread_c) for point in points]
    top = max(*spread, 1.0) if len(spread) > 1 else max(spread[0], 1.0)
    axes.set_ylim(0.0, 1.25 * top)
    axes.plot(
        range(len(points)),
        spread,
        color=INK,
        marker="s",
        markersize=sheet.points(1.2),
        linewidth=sheet.points(0.2),
        gid="spread",
    )
    if len(points) <= 12:
        for index, value in enumerate(spread):
            axes.annotate(
                f"{value:.0f}",
                (index, value),
                xytext=(0.0, sheet.points(0.9)),
                textcoords="offset points",
                fontsize=sheet.points(SMALL),
                ha="center",
                gid="number",
            )
