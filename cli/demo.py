"""`gratemap demo`: the whole job on the sample readings, nothing to set up."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from cli import console, loading
from cli.map import show


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command(
        "demo",
        help="Run the whole job on the sample readings: words and a picture, nothing to set up. Example: gratemap demo",
    )(command)


def samples() -> Path:
    """Return the folder of sample readings: inside the installed package, or beside it in a checkout."""
    installed = Path(__file__).with_name("sample_readings")
    return installed if installed.is_dir() else Path(__file__).parent.with_name("sample_readings")


def command(
    picture: Annotated[
        Path, typer.Option("--picture", metavar="FILE", help="Where to save the picture.")
    ] = Path("gratemap-demo.png"),
) -> None:
    """Run the whole job on the sample readings."""
    from heatmap.pictures import heat_map, save

    folder = samples()
    assessment = loading.assessment(folder / "grill.toml", folder / "readings.csv", None)
    console.answer("Invented readings of an invented grill; your own: gratemap grill new, then gratemap take.")
    show(assessment)
    save(heat_map(assessment), picture)
    console.answer(f"Picture: {picture}")
