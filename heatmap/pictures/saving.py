"""Figures to the bytes of a file: PNG or SVG by the ending of its name, the same bytes for the same picture."""

from __future__ import annotations

import io

from matplotlib.figure import Figure

from heatmap.errors import InputError
from heatmap.pictures.sheet import house_style

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
