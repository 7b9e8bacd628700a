"""Seconds for the sear against the rail temperature: how much hangs on the rail, the thickness and the start."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from numpy.typing import ArrayLike, NDArray

from heatmap.errors import InputError
from heatmap.pictures.heat_map import WIDTH_IN
from heatmap.pictures.ramp import INK, QUIET, ramp
from heatmap.pictures.sheet import SMALL, Sheet, heading, heading_height, house_style, line_height
from heatmap.units import STDS_95, Display

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SearLine:
    """Seconds per turn against rail temperature for one thickness and start.

    Attributes
    ----------
    label : str
        Such as "1.25 in from 38 °F".
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

    def __post_init__(self) -> None:
        for name in ("rail_c", "seconds"):
            values = np.array(getattr(self, name), dtype=float)
            values.setflags(write=False)
            object.__setattr__(self, name, values)
        if self.rail_c.ndim != 1 or self.rail_c.shape != self.seconds.shape or self.rail_c.size < 2:
            raise InputError(f"sear line {self.label}: rail and seconds must be two rows of the same length, 2 or more")


#: Told apart by dashes first; by shades that stay apart in grey second.
_DASHES = ((0, (5, 2)), (0, (1.2, 1.4)), (0, (6, 2, 1.2, 2)), (0, (9, 2)))
_SHADES = (-0.8, 0.9, -1.0, 0.75)


def sensitivity(
    lines: Sequence[SearLine],
    *,
    rail_now_c: float | None = None,
    rail_std_c: float | None = None,
    seconds_range: tuple[float, float] | None = None,
    units: Literal["us", "si"] = "us",
    title: str | None = None,
    numbers: str = "rail temperature",
    width_in: float = WIDTH_IN,
) -> Figure:
    """Draw seconds per turn against rail temperature, one line for each thickness and start.

    Parameters
    ----------
    lines : sequence of SearLine
        At least one; lines are told apart by dashes and by their label at the end.
    rail_now_c, rail_std_c : float, optional
        Mapped rail temperature where the food goes and its standard deviation [°C]: drawn as a line and a 95 % span.
    seconds_range : (low, high), optional
        What a turn may really take with all that is not known [s]; drawn as a bar on that line.
    units : {"us", "si"}
    title : str, optional
    numbers : str
        Name of the horizontal axis.
    width_in : float

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    InputError
        When there is no line, or none has an answer.
    """
    if not any(bool(np.isfinite(line.seconds).any()) for line in lines):
        raise InputError("there is no sear time to draw; give at least one line with an answer")
    display = Display(units)
    with house_style():
        answer = _answer(lines, rail_now_c, rail_std_c, seconds_range, display)
        heads = heading(answer if title is None else title)
        spans = _spans(rail_now_c, rail_std_c, seconds_range, display)
        keys = len(lines) + len(spans)
        top, plot = heading_height(heads), 0.55
        sheet = Sheet(width_in=width_in, height=top + plot + (4 + keys) * line_height(SMALL) + 0.06)
        y = sheet.lines(heads) + line_height(SMALL) + 0.012
        axes = sheet.axes(0.11, y, 0.86, plot)
        sheet.text(0.11, y - line_height(SMALL) - 0.006, "seconds per turn", size=SMALL, bold=True)
        _draw_span(sheet, axes, rail_now_c, rail_std_c, display)
        for index, line in enumerate(lines):
            shown = np.asarray(display.temperature(line.rail_c))  # type: ignore[arg-type]
            axes.plot(shown, line.seconds, label=line.label, **_style(sheet, lines, index))
        if rail_now_c is not None and seconds_range is not None:
            _draw_range(sheet, axes, display.temperature(rail_now_c), seconds_range)
        _finish(sheet, axes)
        below = y + plot + line_height(SMALL) + 0.018
        sheet.text(0.54, below, f"{numbers}, {display.degrees}", size=SMALL, bold=True, ha="center")
        y = _write_lines(sheet, lines, below + line_height(SMALL) + 0.01)
        _write_spans(sheet, spans, y)
        return sheet.figure


def seconds_at(line: SearLine, rail_c: ArrayLike) -> FloatArray:
    """Return seconds on a line at rail temperatures, NaN outside it."""
    seconds = np.interp(np.asarray(rail_c, dtype=np.float64), line.rail_c, line.seconds, left=np.nan, right=np.nan)
    return np.asarray(seconds, dtype=np.float64)


def _answer(
    lines: Sequence[SearLine],
    rail_now_c: float | None,
    rail_std_c: float | None,
    seconds_range: tuple[float, float] | None,
    display: Display,
) -> str:
    line = next((one for one in lines if one.main), lines[0])
    if rail_now_c is None or not np.isfinite(seconds_at(line, rail_now_c)):
        return "Seconds per turn against rail temperature"
    now = f"{float(seconds_at(line, rail_now_c)):.0f} s a turn at {display.temperature_text(rail_now_c)}"
    really = "" if seconds_range is None else f"it may really take {seconds_range[0]:.0f} to {seconds_range[1]:.0f} s"
    if rail_std_c is None:
        return f"{now}; {really}." if really else now
    ends = seconds_at(line, [rail_now_c - STDS_95 * rail_std_c, rail_now_c + STDS_95 * rail_std_c])
    if not np.isfinite(ends).all():
        return f"{now}; {really}." if really else now
    rails = f"the ±{display.margin_text(rail_std_c)} of the rails alone make it {ends.min():.0f} to {ends.max():.0f} s"
    return f"{now}; {rails}; with all else {really}." if really else f"{now}; {rails}."


def _spans(
    rail_now_c: float | None, rail_std_c: float | None, seconds_range: tuple[float, float] | None, display: Display
) -> list[tuple[str, str]]:
    """Return what to write beside the grey span and beside the bar, each with its kind, where they are drawn."""
    if rail_now_c is None:
        return []
    spans = [("span", f"how well the rails are known: ±{display.margin_text(rail_std_c)}")] if rail_std_c else []
    if seconds_range is not None:
        spans.append(("bar", f"what a turn may really take: {seconds_range[0]:.0f} to {seconds_range[1]:.0f} s"))
    return spans


def _draw_range(sheet: Sheet, axes: Axes, rail_now: float, seconds_range: tuple[float, float]) -> None:
    axes.errorbar(
        rail_now,
        sum(seconds_range) / 2.0,
        yerr=(seconds_range[1] - seconds_range[0]) / 2.0,
        fmt="none",
        ecolor=INK,
        elinewidth=sheet.points(0.5),
        capsize=sheet.points(1.4),
        capthick=sheet.points(0.5),
    )
    axes.collections[-1].set_gid("seconds range")


def _draw_span(sheet: Sheet, axes: Axes, rail_now_c: float | None, rail_std_c: float | None, display: Display) -> None:
    if rail_now_c is None:
        return
    now = display.temperature(rail_now_c)
    axes.axvline(now, color=INK, linewidth=sheet.points(0.25), gid="rail now")
    if rail_std_c:
        reach = display.margin(rail_std_c)
        axes.axvspan(now - reach, now + reach, color=QUIET, alpha=0.18, linewidth=0, gid="rail span")


def _finish(sheet: Sheet, axes: Axes) -> None:
    axes.set_ylim(bottom=0.0)
    axes.tick_params(labelsize=sheet.points(SMALL), width=sheet.points(0.15), length=sheet.points(0.6))
    axes.grid(color=QUIET, alpha=0.3, linewidth=sheet.points(0.12))
    axes.spines[["top", "right"]].set_visible(False)
    axes.locator_params(axis="x", nbins=7)


def _style(sheet: Sheet, lines: Sequence[SearLine], index: int) -> dict[str, Any]:
    """Return how a line is drawn: the cook's own heavy and black, the others by dashes first and colour second."""
    if lines[index].main:
        return {"color": INK, "linestyle": "solid", "linewidth": sheet.points(0.6)}
    other = sum(not line.main for line in lines[:index])
    red, green, blue = ramp(_SHADES[other % len(_SHADES)])[0]
    return {
        "color": (red, green, blue),
        "linestyle": _DASHES[other % len(_DASHES)],
        "linewidth": sheet.points(0.36),
    }


def _write_lines(sheet: Sheet, lines: Sequence[SearLine], y: float) -> float:
    """Write each line's label beside a piece of it, below the axes; return where they end."""
    for index, line in enumerate(lines):
        level = 1.0 - (y + 0.5 * line_height(SMALL)) / sheet.height
        sample = Line2D([0.11, 0.25], [level, level], transform=sheet.figure.transFigure, **_style(sheet, lines, index))
        sheet.figure.add_artist(sample)
        sheet.text(0.27, y, line.label, size=SMALL, gid="line label")
        y += line_height(SMALL) * 1.1
    return y


def _write_spans(sheet: Sheet, spans: Sequence[tuple[str, str]], y: float) -> None:
    """Write what the grey span and the bar stand for beside a piece of them."""
    for kind, text in spans:
        level, half = 1.0 - (y + 0.5 * line_height(SMALL)) / sheet.height, 0.4 * line_height(SMALL) / sheet.height
        place = sheet.figure.transFigure
        if kind == "span":
            box = Rectangle(
                (0.11, level - half), 0.14, 2 * half, facecolor=QUIET, alpha=0.18, linewidth=0, transform=place
            )
            sheet.figure.add_artist(box)
        else:
            width = sheet.points(0.5)
            ends = ([0.18, 0.18], [level - half, level + half])
            sheet.figure.add_artist(Line2D(*ends, color=INK, linewidth=width, transform=place))
            for end in ends[1]:
                sheet.figure.add_artist(Line2D([0.168, 0.192], [end, end], color=INK, linewidth=width, transform=place))
        sheet.text(0.27, y, text, size=SMALL, gid="span label")
        y += line_height(SMALL) * 1.1
