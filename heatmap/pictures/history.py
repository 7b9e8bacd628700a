"""Evenness round by round: is the grate getting better?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from heatmap.errors import InputError
from heatmap.pictures.ramp import INK, QUIET
from heatmap.pictures.sheet import SMALL, Sheet, blank_sheet, line_height, text_width
from heatmap.units import Display, percent

#: More rounds than this do not fit side by side; the latest are drawn.
MOST_POINTS = 24
_LEFT, _WIDTH, _HEIGHT = 0.75, 5.55, 1.62


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


def evenness_history(
    points: Sequence[EvennessPoint], *, units: Literal["us", "si"] = "us", title: str | None = None
) -> Figure:
    """Draw share in band, with its limits, and spread, round by round, in order of time; the latest 24.

    Raises
    ------
    InputError
        When there is no point.
    """
    if not points:
        raise InputError("there is no round to draw; take one with: gratemap take")
    points = list(points)[-MOST_POINTS:]
    display, style = Display(units), dict[str, Any](color=INK, linewidth=1.3, markersize=8.0)
    shares = [100 * point.share for point in points]
    limits = [(100 * max(one.share - one.share_low, 0.0), 100 * max(one.share_high - one.share, 0.0)) for one in points]
    spreads = [display.difference(point.spread_c) for point in points]
    with blank_sheet(_answer(points, display) if title is None else title) as sheet:
        upper = _axes(sheet, points, "share of the grate in band, %")
        upper.set(ylim=(-4.0, 104.0), yticks=[0, 25, 50, 75, 100])
        upper.tick_params(labelbottom=False)
        yerr = list(zip(*limits, strict=True))
        upper.errorbar(range(len(points)), shares, yerr, marker="o", elinewidth=2.3, capsize=3.9, capthick=2.3, **style)
        lower = _axes(sheet, points, f"spread, {display.degrees} (smaller is more even)")
        lower.set(ylim=(0.0, 1.25 * max(*spreads, 1.0)), xlabel="round")
        lower.plot(range(len(points)), spreads, marker="s", gid="spread", **style)
        for index, value in enumerate(spreads if len(points) <= 12 else []):
            lower.annotate(f"{value:.0f}", (index, value), xytext=(0, 6), textcoords="offset points", ha="center")
        sheet.y += line_height(SMALL)
    return sheet.figure


def _answer(points: Sequence[EvennessPoint], display: Display) -> str:
    first, last = points[0], points[-1]
    now = f"Round {last.label}: {percent(last.share)} in band, spread {display.difference_text(last.spread_c)}"
    if len(points) == 1:
        return now
    return f"{now}; round {first.label} had {percent(first.share)} and {display.difference_text(first.spread_c)}."


def _axes(sheet: Sheet, points: Sequence[EvennessPoint], name: str) -> Axes:
    """Make axes with a place for each round, sessions apart, and move the sheet on below them."""
    sheet.y += line_height(SMALL) + 0.1
    axes, labels = sheet.axes(_LEFT, sheet.y, _WIDTH, _HEIGHT), [point.label for point in points]
    sheet.y += _HEIGHT + line_height(SMALL)
    every = math.ceil(max(text_width(label, SMALL) for label in labels) * len(points) / (0.8 * _WIDTH))
    axes.set_xticks(range(0, len(points), every), labels[::every])
    axes.set_xlim(-0.6, len(points) - 0.4)
    plain(axes, name)
    for index in range(1, len(points)):
        if points[index].session != points[index - 1].session:
            axes.axvline(index - 0.5, color=QUIET, linewidth=0.9, linestyle=(0, (3, 3)), gid="session")
    return axes


def plain(axes: Axes, name: str) -> None:
    """Name axes above their upper left corner, and leave them as few lines as can be."""
    axes.set_title(name, loc="left", fontsize=SMALL, fontweight="bold")
    axes.grid(axis="y", color=QUIET, alpha=0.33, linewidth=0.8)
    axes.spines[["top", "right"]].set_visible(False)
    axes.set_axisbelow(True)
