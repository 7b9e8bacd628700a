"""Figures to the bytes of a file: PNG or SVG by the ending of its name, the same bytes for the same picture."""

from __future__ import annotations

import io

from matplotlib.figure import Figure

from heatmap.errors import InputError
from heatmap.pictures.sheet import house_style

PNG_DPI = 200


def png_bytes(figure: Figure, *, dpi: float = PNG_DPI) -> bytes:
    """Return a figure as a PNG file."""
    return _written(figure, "png", dpi=dpi, metadata={"Software": "gratemap"})


def svg_bytes(figure: Figure) -> bytes:
    """Return a figure as an SVG file: letters as shapes, so that it needs no font, and no date in it."""
    return _written(figure, "svg", metadata={"Date": None, "Creator": "gratemap"})


def _written(figure: Figure, suffix: str, **how: object) -> bytes:
    buffer = io.BytesIO()
    with house_style():
        figure.savefig(buffer, format=suffix, **how)  # type: ignore[arg-type]
    return buffer.getvalue()


def picture_bytes(figure: Figure, ending: str) -> bytes:
    """Return a figure as the kind of file that ends so, ".png" or ".svg" in any case."""
    kinds = {".png": png_bytes, ".svg": svg_bytes}
    if ending.casefold() not in kinds:
        raise InputError(f"a picture's name must end in .png or .svg, not in {ending!r}")
    return kinds[ending.casefold()](figure)
