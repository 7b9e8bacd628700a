"""A sheet of paper to draw on: one Figure in our style, filled from its top edge downwards, as high as it needs to be.

Every sheet has one width and one set of type sizes, so a picture reads the same on a phone, in a report and on paper.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import matplotlib
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.patheffects import AbstractPathEffect, withStroke
from matplotlib.textpath import text_to_path
from matplotlib.transforms import Affine2D

from heatmap.errors import InputError
from heatmap.pictures.ramp import INK, PAPER

#: Width of every sheet: the text width of a printed page [in].
WIDTH_IN = 6.5
#: Type sizes in points: on a phone 390 px wide they become 15, 12, 11 and 10 px.
TITLE, NUMBER, TEXT, SMALL = 18.0, 14.5, 13.3, 11.7
_PAD_IN = 0.14

_STYLE: dict[Any, Any] = {
    "font.size": SMALL,
    "text.parse_math": False,
    "text.color": INK,
    "hatch.linewidth": 1.1,
    "svg.hashsalt": "gratemap",
}


@contextmanager
def house_style() -> Iterator[None]:
    """Draw in our style, whatever this machine's matplotlibrc says, and leave matplotlib as it was."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message=".*[Gg]lyph.*missing.*")
        warnings.filterwarnings("ignore", category=matplotlib.MatplotlibDeprecationWarning)  # of its own defaults
        style = {**matplotlib.rcParamsDefault, **_STYLE}
        style.pop("backend", None)
        with matplotlib.rc_context(style):
            yield


@contextmanager
def blank_sheet(title: str, below: Sequence[str] = ()) -> Iterator[Sheet]:
    """Begin a sheet with its heading; what is drawn inside is in our style, and at the end the sheet is cut to length.

    What stands in the title before its first semicolon is printed large, the rest and `below` plain. An empty title
    leaves the whole heading out, for a page that says it already.
    """
    with house_style():
        sheet = Sheet()
        if title:
            first, _, rest = title.partition("; ")
            sheet.paragraph(first, TITLE, bold=True)
            for text in ([rest[:1].upper() + rest[1:]] if rest else []) + list(below):
                sheet.paragraph(text, TEXT)
        yield sheet
        sheet.cut()


class Sheet:
    """A Figure measured in inches from its top left corner; `y` is how far down it is filled."""

    def __init__(self) -> None:
        self.figure = Figure(figsize=(WIDTH_IN, 1.0), dpi=160)
        self.y = _PAD_IN
        self._down = Affine2D()
        self.inches = Affine2D().scale(1.0, -1.0) + self._down + self.figure.dpi_scale_trans
        self._placed: list[tuple[Axes, float, float, float, float]] = []

    def axes(self, x: float, y: float, width: float, height: float) -> Axes:
        """Return axes whose upper left corner lies at (x, y)."""
        made = self.figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self._placed.append((made, x, y, width, height))
        return made

    def text(self, x: float, y: float, text: str, **how: Any) -> None:
        """Write text whose top lies at y."""
        self.figure.text(x, y, text, transform=self.inches, **{"va": "top", **how})

    def paragraph(self, text: str, size: float, *, bold: bool = False) -> None:
        """Write lines over the whole width, and move on below them."""
        for line in wrapped(text, size, bold=bold):
            self.text(_PAD_IN, self.y, line, fontsize=size, fontweight="bold" if bold else "normal")
            self.y += line_height(size)

    def cut(self) -> None:
        """Make the sheet as high as it is filled."""
        height = self.y + _PAD_IN
        self.figure.set_figheight(height)
        self._down.clear().translate(0.0, height)
        for axes, x, y, across, down in self._placed:
            axes.set_position((x / WIDTH_IN, 1.0 - (y + down) / height, across / WIDTH_IN, down / height))


def line_height(size: float) -> float:
    """Return the height of a line of this type size [in]."""
    return size * 1.25 / 72.0


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Return the width of one line of text [in]."""
    font = FontProperties(family="DejaVu Sans", weight="bold" if bold else "normal", size=size)
    return float(text_to_path.get_text_width_height_descent(text, font, False)[0]) / 72.0


def wrapped(text: str, size: float, *, bold: bool = False) -> list[str]:
    """Break a paragraph at spaces, never between a number and its unit."""
    lines = [""]
    for word in text.replace(" °", "\u00a0°").replace(" %", "\u00a0%").split(" "):
        longer = f"{lines[-1]} {word}".strip(" ")
        if lines[-1] and text_width(longer, size, bold=bold) > WIDTH_IN - 2 * _PAD_IN:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def halo(width: float = 3.4) -> list[AbstractPathEffect]:
    """Return an outline so many points wide that keeps ink readable on every colour."""
    return [withStroke(linewidth=width, foreground=PAPER)]


PNG_DPI = 200.0
#: What each kind of file tells of itself; no date.
_TOLD: dict[str, dict[str, str | None]] = {
    ".png": {"Software": "gratemap"},
    ".svg": {"Date": None, "Creator": "gratemap"},
}


def picture_bytes(figure: Figure, ending: str, *, dpi: float = PNG_DPI) -> bytes:
    """Return a figure as the kind of file that ends so, ".png" or ".svg" in any case.

    An SVG has its letters as shapes, so that it needs no font; `dpi` is that of a PNG.
    """
    kind = ending.casefold()
    if kind not in _TOLD:
        raise InputError(f"a picture's name must end in .png or .svg, not in {ending!r}")
    buffer = io.BytesIO()
    with house_style():
        figure.savefig(buffer, format=kind[1:], dpi=dpi, metadata=_TOLD[kind])
    return buffer.getvalue()
