"""Seconds for the sear against the rail temperature: how much hangs on the rail, the thickness and the start."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from heatmap.decisions.decision import Sear
from heatmap.errors import InputError
from heatmap.pictures.history import plain
from heatmap.pictures.legend import write_legend
from heatmap.pictures.ramp import INK, QUIET, ramp
from heatmap.pictures.sheet import SMALL, blank_sheet, line_height
from heatmap.sear import Rails, seconds_over_rails
from heatmap.sear.runs import sides_of
from heatmap.units import STDS_95, Display, FloatArray
from heatmap.words.pictures import sear_title

#: So far on either side of the rails as they are, °C, and at so many points, the line is drawn.
REACH_C, POINTS = 45.0, 5
#: Beside the cook's own piece one thinner and one thicker by this is drawn, mm: an eighth of an inch.
THICKER_MM = 3.175


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SearLine:
    """Seconds per turn against rail temperature for one thickness and start.

    Attributes
    ----------
    label : str
        Such as "1.25 in".
    rail_c : ndarray, shape (n,)
        Rising [°C].
    seconds : ndarray, shape (n,)
        Seconds per turn; NaN where there is no answer.
    main : bool
        The cook's own piece; drawn heavier.
    """

    label: str
    rail_c: FloatArray
    seconds: FloatArray
    main: bool = False


def sear_curves(sear: Sear, rails: Rails) -> list[SearLine]:
    """Compute seconds against rail temperature, for this piece and for an eighth of an inch less and more."""
    food = sear.food
    rail_c = rails.rail_c + np.linspace(-REACH_C, REACH_C, POINTS)
    thickness_mm = []
    for thicker_mm in (-THICKER_MM, 0.0, THICKER_MM):
        with suppress(InputError):  # too thin or too thick for a sear
            thickness_mm.append(replace(food, thickness_mm=food.thickness_mm + thicker_mm).thickness_mm)
    seconds = seconds_over_rails(
        food,
        rails,
        rail_c,
        thickness_mm,
        target_centre_c=sear.target_centre_c,
        faces=sides_of(sear.turns, sear.sides),
        beliefs=sear.beliefs,
    )
    text = Display(food.units).length_text
    return [
        SearLine(label=text(each), rail_c=rail_c, seconds=line, main=each == food.thickness_mm)
        for each, line in zip(thickness_mm, seconds, strict=True)
    ]


#: Told apart by dashes first; by shades that stay apart in grey second.
_DASHES = ((0, (5, 2)), (0, (1.2, 1.4)), (0, (6, 2, 1.2, 2)), (0, (9, 2)))
_SHADES = (-0.8, 0.9, -1.0, 0.75)


def sensitivity(
    lines: Sequence[SearLine], rails: Rails, seconds_range: tuple[float, float], *, title: str | None = None
) -> Figure:
    """Draw seconds per turn against rail temperature, one line for each thickness and start.

    The rails as they are become an upright line with a 95 % span, and what a turn may really take, all that is not
    known taken together, a bar on it. Lines are told apart by dashes and by their label below.

    Raises
    ------
    InputError
        When there is no line, or none has an answer.
    """
    if not any(bool(np.isfinite(line.seconds).any()) for line in lines):
        raise InputError("there is no sear time to draw; give at least one line with an answer")
    display = Display(rails.units)
    with blank_sheet(_title(lines, rails, seconds_range) if title is None else title) as sheet:
        sheet.y += line_height(SMALL) + 0.1
        axes = sheet.axes(0.72, sheet.y, 5.58, 3.6)
        drawn: dict[str, Artist] = {}
        for index, line in enumerate(lines):
            shown = np.asarray(display.temperature(line.rail_c))  # type: ignore[arg-type]
            (drawn[line.label],) = axes.plot(shown, line.seconds, label=line.label, **_style(lines, index))
        drawn |= _draw_now(axes, rails, seconds_range)
        plain(axes, "seconds per turn")
        axes.grid(axis="x", color=QUIET, alpha=0.33, linewidth=0.8)
        axes.set_ylim(bottom=0.0)
        axes.locator_params(axis="x", nbins=7)
        axes.set_xlabel(f"rail temperature, {display.degrees}", fontweight="bold")
        sheet.y += 3.6 + 2.5 * line_height(SMALL)
        write_legend(sheet, list(drawn.values()), list(drawn))
    return sheet.figure


def _title(lines: Sequence[SearLine], rails: Rails, seconds_range: tuple[float, float]) -> str:
    line = next((one for one in lines if one.main), lines[0])
    reach_c = STDS_95 * rails.std_c * np.array([0.0, -1.0, 1.0])
    now, *ends = np.interp(rails.rail_c + reach_c, line.rail_c, line.seconds, left=np.nan, right=np.nan)
    known = bool(rails.std_c) and bool(np.isfinite(ends).all())
    return sear_title(rails, float(now), (min(ends), max(ends)) if known else None, seconds_range)


def _draw_now(axes: Axes, rails: Rails, seconds_range: tuple[float, float]) -> dict[str, Artist]:
    """Draw the rails as they are, how well they are known, and what a turn may take; return these by their texts."""
    drawn: dict[str, Artist] = {}
    display, (low, high) = Display(rails.units), seconds_range
    now, reach = display.temperature(rails.rail_c), display.margin(rails.std_c)
    axes.axvline(now, color=INK, linewidth=1.6, gid="rail now")
    if reach:
        span = axes.axvspan(now - reach, now + reach, color=QUIET, alpha=0.18, linewidth=0, gid="rail span")
        drawn[f"how well the rails are known: ±{display.margin_text(rails.std_c)}"] = span
    bar = axes.errorbar(
        now, 0.5 * (low + high), yerr=0.5 * (high - low), fmt="none", ecolor=INK, elinewidth=3.2, capsize=9.0,
        capthick=3.2,
    )  # fmt: skip
    axes.collections[-1].set_gid("seconds range")
    drawn[f"what a turn may really take: {low:.0f} to {high:.0f} s"] = bar  # type: ignore[assignment]
    return drawn


def _style(lines: Sequence[SearLine], index: int) -> dict[str, Any]:
    """Return how a line is drawn: the cook's own heavy and black, the others by dashes first and colour second."""
    if lines[index].main:
        return {"color": INK, "linestyle": "solid", "linewidth": 3.9}
    other = sum(not line.main for line in lines[:index])
    colour = tuple(ramp(_SHADES[other % len(_SHADES)])[0])
    return {"color": colour, "linestyle": _DASHES[other % len(_DASHES)], "linewidth": 2.3}
