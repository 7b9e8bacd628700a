"""The legend below a map: the steps of colour with their edges, and every mark and line with its word."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.artist import Artist
from matplotlib.contour import QuadContourSet
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from heatmap.pictures.ramp import INK, MARKS, PAPER, Steps
from heatmap.pictures.sheet import SMALL, TEXT, WIDTH_IN, Sheet, line_height

_STRIP_IN = 0.22
_LEFT = 0.05 * WIDTH_IN
#: What hatching says where the words are those of the band.
HATCHED = "hatched: not even two to one"
BAND_NAMES = ("▼ too cold", "● in band", "▲ too hot")


def write_steps(
    sheet: Sheet, filled: QuadContourSet, steps: Steps, names: tuple[str, str, str], unit: str, sign: str = ""
) -> None:
    """Draw the strip of colours, names of its three parts above and its edges below.

    Parameters
    ----------
    filled : QuadContourSet
        The map whose colours they are.
    names : (below, between, above)
    sign : str
        Format sign of the edges: "+" writes +5.
    """
    width, middle = 0.9 * WIDTH_IN, len(steps.colours) // 2
    for text, centre in zip(names, (0.5 * middle, middle + 0.5, 1.5 * middle + 1), strict=True):
        x = _LEFT + centre * width / len(steps.colours)
        sheet.text(x, sheet.y, text, fontweight="bold", ha="center", gid="step name")
    strip = sheet.axes(_LEFT, sheet.y + line_height(SMALL), width, _STRIP_IN)
    bar = sheet.figure.colorbar(
        filled, cax=strip, orientation="horizontal", spacing="uniform", extendrect=True, extendfrac="auto",
        drawedges=True, ticks=list(steps.edges),
    )  # fmt: skip
    digits = 0 if all(abs(edge - round(edge)) < 1e-6 for edge in steps.edges) else 1
    bar.set_ticklabels([f"{edge:{sign}.{digits}f}".replace("-", "−") for edge in steps.edges])
    strip.tick_params(length=0.0, pad=3.0)
    for edge, label in zip(steps.edges, strip.get_xticklabels(), strict=True):
        label.set(fontweight="bold" if edge in (steps.low, steps.high) else "normal", gid="step edge")
    sheet.y += line_height(SMALL) + _STRIP_IN + 0.05
    sheet.text(_LEFT + width, sheet.y, unit, ha="right")
    sheet.y += line_height(SMALL) + 0.05


def write_keys(sheet: Sheet, keys: Sequence[tuple[str, str]]) -> None:
    """Write what marks mean: each a word, "hatched" or "touched", with its text; side by side where two fit."""
    if keys:
        columns = 1 if len(keys) == 1 else 2
        handles, texts = [_symbol(what) for what, _ in keys], [text for _, text in keys]
        write_legend(sheet, handles, texts, columns)


def write_legend(sheet: Sheet, handles: Sequence[Artist], texts: Sequence[str], columns: int = 1) -> None:
    """Write handles and their texts from the left, and move the sheet on below them."""
    sheet.figure.legend(
        handles, texts, loc="upper left", bbox_to_anchor=(_LEFT, sheet.y), bbox_transform=sheet.inches, ncols=columns,
        frameon=False, borderpad=0.0, borderaxespad=0.0, handlelength=1.8, labelspacing=0.4, columnspacing=1.4,
    )  # fmt: skip
    sheet.y += line_height(TEXT) * -(-len(texts) // columns)


def _symbol(what: str) -> Artist:
    if what == "hatched":
        return Patch(facecolor=PAPER, edgecolor=INK, linewidth=0.9, hatch="///")
    if what == "leaning":
        marker, fill = "o", PAPER
    else:
        marker, fill = ("s", "none") if what == "touched" else (MARKS[what].marker, MARKS[what].fill)
    return Line2D([], [], marker=marker, markersize=10.0, mfc=fill, mec=INK, mew=2.0, linestyle="none")
