"""Options that several commands share, declared once, so that they are named and explained alike everywhere."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from heatmap.errors import InputError

GrillFile = Annotated[Path, typer.Option("--grill", metavar="FILE", help="The grill file.")]
ReadingsFile = Annotated[Path, typer.Option("--readings", metavar="FILE", help="The readings file; - reads a pipe.")]
ReadingsLogFile = Annotated[
    Path, typer.Option("--readings", metavar="FILE", help="The readings file; a new round is added to it.")
]
RoundNumber = Annotated[int | None, typer.Option("--round", metavar="N", help="Which round; the newest by default.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object instead of words.")]
SkipBad = Annotated[bool, typer.Option("--skip-bad", help="Go on without rows that cannot be read.")]
KeepSuspects = Annotated[bool, typer.Option("--keep-suspects", help="Let readings that cannot be into the map.")]
Check = Annotated[bool, typer.Option("--check", help="For scripts: exit with 5 when the answer is no.")]

GRILL_FILE = Path("grill.toml")
READINGS_FILE = Path("readings.csv")

Between = Annotated[
    bool, typer.Option("--between", help="Shots a little beside each position, each round to another side.")
]

#: Endings a picture can have, as :func:`heatmap.pictures.save` takes them; asked here so that matplotlib can wait.
PICTURE_ENDINGS = (".png", ".svg")


def picture_of(what: str) -> Any:
    """Return the option `--picture` of a command that draws this; a name that cannot be is told before the work."""
    return typer.Option("--picture", metavar="FILE", callback=_checked, help=f"Save {what} as .png or .svg.")


def _checked(context: typer.Context, path: Path | None) -> Path | None:
    if path is None or context.resilient_parsing:
        return path
    if path.suffix.casefold() not in PICTURE_ENDINGS:
        raise InputError(f"{path}: a picture's name must end in {' or '.join(PICTURE_ENDINGS)}")
    if path.is_dir():
        raise InputError(f"{path}: that is a folder; name a file for the picture")
    if not path.parent.is_dir():
        raise InputError(f"{path}: there is no folder {path.parent} for the picture; make it, or choose another")
    return path
