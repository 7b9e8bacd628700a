"""The legend below a map: the steps of colour with their edges, and every mark and line with its word."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from heatmap.pictures.ramp import INK, MARKS, PAPER, Steps
from heatmap.pictures.sheet import SMALL, TEXT, Sheet, line_height, text_width

_STRIP = 0.034


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """One entry of the legend: a mark's word, "hatched", or "touched", and what it means."""

    what: str
    text: str


def steps_height() -> float:
    """Return the height of :func:`write_steps`."""
    return line_height(SMALL) * 2 + _STRIP + 0.016


def write_steps(
    sheet: Sheet, steps: Steps, y: float, *, names: Sequence[tuple[str, str]], unit: str, sign: str = ""
) -> float:
    """Draw the strip of colours, names of its three parts above and its edges below; return where it ends.

    Parameters
    ----------
    names : sequence of (word, text)
        For the part below, between and above the limits; the mark of the word stands before the text, if it has one.
    sign : str
        Format sign of the edges: "+" writes +5.
    """
    left, width = 0.05, 0.90
    cell = width / len(steps.colours)
    middle = len(steps.colours) // 2
    for (word, text), centre in zip(names, (0.5 * middle, middle + 0.5, 1.5 * middle + 1), strict=True):
        glyph = f"{MARKS[word].glyph} " if word in MARKS else ""
        sheet.text(left + centre * cell, y, glyph + text, size=SMALL, bold=True, ha="center", gid="step name")
    top = y + line_height(SMALL) + 0.002
    for index, colour in enumerate(steps.colours):
        _box(sheet, left + index * cell, top, cell, _STRIP, facecolor=colour, gid="step")
    for index, edge in enumerate(steps.edges, start=1):
        limit = edge in (steps.low, steps.high)
        text = f"{edge:{sign}.0f}" if abs(edge - round(edge)) < 1e-6 else f"{edge:{sign}.1f}"
        text = text.replace("-", "−")
        sheet.text(
            left + index * cell, top + _STRIP + 0.004, text, size=SMALL, bold=limit, ha="center", gid="step edge"
        )
    sheet.text(left + width, top + _STRIP + 0.004, unit, size=SMALL, ha="right")
    return y + steps_height()


def _box(sheet: Sheet, x: float, y: float, width: float, height: float, *, facecolor: object, gid: str) -> None:
    sheet.figure.add_artist(
        Rectangle(
            (x, 1.0 - (y + height) / sheet.height),
            width,
            height / sheet.height,
            transform=sheet.figure.transFigure,
            facecolor=facecolor,
            edgecolor=INK,
            linewidth=sheet.points(0.14),
            gid=gid,
        )
    )


def keys_in_lines(keys: Sequence[Key]) -> list[list[Key]]:
    """Break the keys into lines that fit the sheet."""
    lines: list[list[Key]] = [[]]
    used = 0.0
    for key in keys:
        width = _key_width(key)
        if lines[-1] and used + width > 0.95:
            lines.append([])
            used = 0.0
        lines[-1].append(key)
        used += width
    return [line for line in lines if line]


def _key_width(key: Key) -> float:
    return 0.075 + text_width(key.text, SMALL)


def write_keys(sheet: Sheet, lines: Sequence[Sequence[Key]], y: float) -> float:
    """Write the keys, line by line, and return where they end."""
    for line in lines:
        x = 0.05
        for key in line:
            _symbol(sheet, key, x, y)
            sheet.text(x + 0.045, y, key.text, size=SMALL, gid="key")
            x += _key_width(key)
        y += line_height(TEXT)
    return y


def _symbol(sheet: Sheet, key: Key, x: float, y: float) -> None:
    height = 0.72 * line_height(SMALL)
    if key.what == "hatched":
        sheet.figure.add_artist(
            Rectangle(
                (x, 1.0 - (y + height + 0.002) / sheet.height),
                0.036,
                height / sheet.height,
                transform=sheet.figure.transFigure,
                facecolor=PAPER,
                edgecolor=INK,
                linewidth=sheet.points(0.14),
                hatch="///",
            )
        )
        return
    marker = "s" if key.what == "touched" else MARKS[key.what].marker
    fill = "none" if key.what == "touched" else MARKS[key.what].fill
    sheet.figure.add_artist(
        Line2D(
            [x + 0.02],
            [1.0 - (y + 0.5 * height + 0.003) / sheet.height],
            transform=sheet.figure.transFigure,
            marker=marker,
            markersize=sheet.points(1.5),
            markerfacecolor=fill,
            markeredgecolor=INK,
            markeredgewidth=sheet.points(0.3),
            linestyle="none",
        )
    )
