"""Save a picture and say so."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from cli import console

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def save_picture(figure: Figure, path: Path) -> None:
    """Save a picture and tell where it is."""
    from heatmap.pictures import save

    save(figure, path)
    console.talk(f"Picture saved: {path}")
