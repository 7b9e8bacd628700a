"""Figures to files: PNG or SVG by the ending of the name, the same bytes for the same picture."""

from __future__ import annotations

import io
from pathlib import Path

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


def save(figure: Figure, path: str | Path) -> Path:
    """Write a figure to a file and return its path.

    Parameters
    ----------
    figure : Figure
    path : str or Path
        Ends in .png or .svg.

    Raises
    ------
    InputError
        When the ending is another one, or the file cannot be written.
    """
    path = Path(path)
    suffix = path.suffix.casefold()
    if suffix not in (".png", ".svg"):
        raise InputError(f"{path}: a picture's name must end in .png or .svg")
    content = png_bytes(figure) if suffix == ".png" else svg_bytes(figure)
    try:
        path.write_bytes(content)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise InputError(f"{path}: cannot write the picture ({reason}); choose a folder you may write to") from error
    return path
