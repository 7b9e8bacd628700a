"""A sheet of paper to draw on: one Figure in our style, laid out in inches from its top left corner.

Type grows with the width of the sheet, so a picture reads the same on a phone, in a report and on paper.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import matplotlib
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.patheffects import AbstractPathEffect, withStroke
from matplotlib.text import Text
from matplotlib.textpath import text_to_path

from heatmap.errors import InputError
from heatmap.pictures.ramp import INK, PAPER

#: Type sizes in points for each inch of width: on a phone 390 px wide they become 15, 12, 11 and 10 px.
TITLE, NUMBER, TEXT, SMALL = 2.75, 2.25, 2.05, 1.8
#: Height of a line over the size of its type.
_LINE = 1.25
_PAD = 0.022
SMALLEST_WIDTH_IN, LARGEST_WIDTH_IN = 2.0, 40.0

_STYLE: dict[Any, Any] = {
    "font.family": ["DejaVu Sans"],
    "text.parse_math": False,
    "figure.facecolor": PAPER,
    "savefig.facecolor": PAPER,
    "axes.facecolor": PAPER,
    "axes.edgecolor": INK,
    "hatch.linewidth": 1.1,
    "hatch.color": INK,
    "svg.hashsalt": "gratemap",
    "svg.fonttype": "path",
    "path.simplify": True,
}


@contextmanager
def house_style() -> Iterator[None]:
    """Draw in our style, whatever this machine's matplotlibrc says, and leave matplotlib as it was."""
    with matplotlib.rc_context(), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message=".*[Gg]lyph.*missing.*")
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(_STYLE)
        yield


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of text of a heading."""

    text: str
    size: float = TEXT
    bold: bool = False


def heading(text: str, below: Sequence[str] = ()) -> list[Line]:
    """Break a heading into lines: what stands before the first semicolon large, the rest and `below` plain.

    An empty text leaves the whole heading out, for a page that says it already.
    """
    if not text:
        return []
    first, _, rest = text.partition("; ")
    lines = [Line(text=line, size=TITLE, bold=True) for line in _wrapped(first, TITLE, bold=True)]
    for paragraph in ([rest[:1].upper() + rest[1:]] if rest else []) + list(below):
        lines += [Line(text=line) for line in _wrapped(paragraph, TEXT, bold=False)]
    return lines


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Return the width of one line of text, in widths of the sheet."""
    font = FontProperties(family="DejaVu Sans", weight="bold" if bold else "normal", size=100.0)
    width, _, _ = text_to_path.get_text_width_height_descent(text, font, False)
    return float(width) / 100.0 * size / 72.0


def _wrapped(text: str, size: float, *, bold: bool) -> list[str]:
    """Break a paragraph at spaces, never between a number and its unit."""
    lines = [""]
    for word in text.replace(" °", "\u00a0°").replace(" %", "\u00a0%").split(" "):
        longer = f"{lines[-1]} {word}".strip(" ")
        if lines[-1] and text_width(longer, size, bold=bold) > 1.0 - 2 * _PAD:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


class Sheet:
    """A Figure measured in widths of itself: `x` from the left edge and `y` down from the top edge, 1 = its width."""

    def __init__(self, *, width_in: float, height: float) -> None:
        if not SMALLEST_WIDTH_IN <= width_in <= LARGEST_WIDTH_IN:
            raise InputError(
                f"a picture {width_in:g} in wide; it must be {SMALLEST_WIDTH_IN:g} to {LARGEST_WIDTH_IN:g} in"
            )
        self.width_in, self.height = width_in, height
        self.figure = Figure(figsize=(width_in, width_in * height), dpi=160)

    def points(self, size: float) -> float:
        """Turn a size per inch of width into points."""
        return size * self.width_in

    def axes(self, x: float, y: float, width: float, height: float) -> Axes:
        """Return axes whose upper left corner lies at (x, y)."""
        return self.figure.add_axes((x, 1.0 - (y + height) / self.height, width, height / self.height))

    def text(self, x: float, y: float, text: str, *, size: float = TEXT, bold: bool = False, **how: object) -> Text:
        """Write text whose top lies at y."""
        how = {"color": INK, "va": "top", "ha": "left", **how}
        return self.figure.text(
            x,
            1.0 - y / self.height,
            text,
            fontsize=self.points(size),
            fontweight="bold" if bold else "normal",
            **how,  # type: ignore[arg-type]
        )

    def lines(self, lines: Sequence[Line], y: float = _PAD) -> float:
        """Write a heading and return where it ends."""
        for line in lines:
            self.text(_PAD, y, line.text, size=line.size, bold=line.bold)
            y += line_height(line.size)
        return y

    def halo(self, width: float = 0.5, colour: str = PAPER) -> list[AbstractPathEffect]:
        """Return an outline that keeps ink readable on every colour."""
        return [withStroke(linewidth=self.points(width), foreground=colour)]


def line_height(size: float) -> float:
    """Return the height of a line of this type size, in widths of the sheet."""
    return size * _LINE / 72.0


def heading_height(lines: Sequence[Line]) -> float:
    """Return the height of a heading with the space around it, in widths of the sheet."""
    return _PAD + sum(line_height(line.size) for line in lines)
