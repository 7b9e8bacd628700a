"""The legend below a map: the steps of colour with their edges, and every mark and line with its word."""

from collections.abc import Sequence

from matplotlib.artist import Artist
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle

from heatmap.pictures.ramp import COLOURS, INK, MARKS, PAPER, Edges
from heatmap.pictures.sheet import SMALL, TEXT, WIDTH_IN, Sheet, line_height

_STRIP_IN = 0.22
_LEFT = 0.05 * WIDTH_IN
#: What hatching says where the words are those of the band.
HATCHED = "hatched: not even two to one"
BAND_NAMES = ("▼ too cold", "● in band", "▲ too hot")


def write_steps(sheet: Sheet, steps: Edges, names: tuple[str, str, str], unit: str, sign: str = "") -> None:
    """Draw the strip of colours, names of its three parts above and its edges below.

    Parameters
    ----------
    names : (below, between, above)
    sign : str
        Format sign of the edges: "+" writes +5.
    """
    middle, one = len(COLOURS) // 2, 0.9 * WIDTH_IN / len(COLOURS)
    for text, centre in zip(names, (0.5 * middle, middle + 0.5, 1.5 * middle + 1), strict=True):
        sheet.text(_LEFT + centre * one, sheet.y, text, fontweight="bold", ha="center", gid="step name")
    sheet.y += line_height(SMALL)
    for index, colour in enumerate(COLOURS):
        box = Rectangle((_LEFT + index * one, sheet.y), one, _STRIP_IN, transform=sheet.inches)
        sheet.figure.add_artist(box).set(facecolor=colour, edgecolor=INK, linewidth=0.8, gid="step")
    sheet.y += _STRIP_IN + 0.05
    for index, edge in enumerate(steps, 1):
        text, weight = f"{edge:{sign}.4g}", "bold" if index in (middle, middle + 1) else "normal"
        x = _LEFT + index * one
        sheet.text(x, sheet.y, text.replace("-", "−"), ha="center", fontweight=weight, gid="step edge")
    sheet.text(_LEFT + 0.9 * WIDTH_IN, sheet.y, unit, ha="right")
    sheet.y += line_height(SMALL) + 0.05


def write_keys(sheet: Sheet, keys: Sequence[tuple[str, str]]) -> None:
    """Write what marks mean: each a word, "hatched" or "touched", with its text; side by side where two fit."""
    if not keys:
        return
    columns = 1 if len(keys) == 1 else 2
    sheet.figure.legend(
        [_symbol(what) for what, _ in keys], [text for _, text in keys], loc="upper left",
        bbox_to_anchor=(_LEFT, sheet.y), bbox_transform=sheet.inches, ncols=columns, frameon=False, borderpad=0.0,
        borderaxespad=0.0, handlelength=1.8, labelspacing=0.4, columnspacing=1.4,
    )  # fmt: skip
    sheet.y += line_height(TEXT) * -(-len(keys) // columns)


#: The shape and fill of what is no mark of a word by itself.
_SYMBOLS = {**MARKS, "leaning": ("o", PAPER), "touched": ("s", "none")}


def _symbol(what: str) -> Artist:
    if what == "hatched":
        return Patch(facecolor=PAPER, edgecolor=INK, linewidth=0.9, hatch="///")
    marker, fill = _SYMBOLS[what]
    return Line2D([], [], marker=marker, markersize=10.0, mfc=fill, mec=INK, mew=2.0, linestyle="none")
