"""Evenness round by round: is the grate getting better?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Literal

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from heatmap.errors import MapError
from heatmap.pictures.ramp import INK, QUIET
from heatmap.pictures.sheet import SMALL, Sheet, blank_sheet, line_height, text_width
from heatmap.units import Display, FloatArray
from heatmap.verdict.history import RoundLine
from heatmap.words.pictures import history_title

#: More rounds than this do not fit side by side; the latest are drawn.
MOST_POINTS = 24
_LEFT, _WIDTH, _HEIGHT = 0.75, 5.55, 1.62


def evenness_history(
    lines: Sequence[RoundLine], *, units: Literal["us", "si"] = "us", title: str | None = None
) -> Figure:
    """Draw share in band, with its limits, and spread, of the latest 24 rounds that have a map, in order of time.

    Raises
    ------
    MapError
        When there is none.
    """
    mapped = [line for line in lines if line.share is not None][-MOST_POINTS:]
    if not mapped:
        raise MapError("no round has enough shots for a map, so there is nothing to draw")
    display, style = Display(units), dict[str, Any](color=INK, linewidth=1.3, markersize=8.0)
    shares, lows, highs, spreads_c = _columns(mapped)
    limits = np.maximum([shares - lows, highs - shares], 0.0)
    spreads = np.asarray(display.difference(spreads_c))
    at = range(len(mapped))
    with blank_sheet(history_title(mapped, display) if title is None else title) as sheet:
        upper = _axes(sheet, mapped, "share of the grate in band, %")
        upper.set(ylim=(-4.0, 104.0), yticks=[0, 25, 50, 75, 100])
        upper.tick_params(labelbottom=False)
        upper.errorbar(at, 100 * shares, 100 * limits, marker="o", elinewidth=2.3, capsize=3.9, capthick=2.3, **style)
        lower = _axes(sheet, mapped, f"spread, {display.degrees} (smaller is more even)")
        lower.set(ylim=(0.0, 1.25 * max(*spreads, 1.0)), xlabel="round")
        lower.plot(at, spreads, marker="s", gid="spread", **style)
        for index, value in enumerate(spreads if len(mapped) <= 12 else []):
            lower.annotate(f"{value:.0f}", (index, value), xytext=(0, 6), textcoords="offset points", ha="center")
        sheet.y += line_height(SMALL)
    return sheet.figure


def _columns(mapped: Sequence[RoundLine]) -> FloatArray:
    """Return share in band, its lower and its upper limit, and spread [°C] of rounds, shape (4, rounds)."""
    return np.array([(line.share, line.share_low, line.share_high, line.spread_c) for line in mapped], dtype=float).T


def _axes(sheet: Sheet, mapped: Sequence[RoundLine], name: str) -> Axes:
    """Make named axes with a place for each round, sessions apart, and move the sheet on below them."""
    sheet.y += line_height(SMALL) + 0.1
    axes, labels = sheet.axes(_LEFT, sheet.y, _WIDTH, _HEIGHT), [str(line.round.number) for line in mapped]
    sheet.y += _HEIGHT + line_height(SMALL)
    every = math.ceil(max(text_width(label, SMALL) for label in labels) * len(mapped) / (0.8 * _WIDTH))
    axes.set_xticks(range(0, len(mapped), every), labels[::every])
    axes.set_xlim(-0.6, len(mapped) - 0.4)
    axes.set_title(name, loc="left", fontsize=SMALL, fontweight="bold")
    axes.grid(axis="y", color=QUIET, alpha=0.33, linewidth=0.8)
    axes.spines[["top", "right"]].set_visible(False)
    axes.set_axisbelow(True)
    for index in range(1, len(mapped)):
        if mapped[index].round.session != mapped[index - 1].round.session:
            axes.axvline(index - 0.5, color=QUIET, linewidth=0.9, linestyle=(0, (3, 3)), gid="session")
    return axes
