"""Options that several commands share, declared once, so that they are named and explained alike everywhere."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

# Both files are known before an option that writes is looked at: nothing is ever written over them (cli.output).
GrillFile = Annotated[
    Path, typer.Option("--grill", metavar="FILE", is_eager=True, readable=False, help="The grill file.")
]
ReadingsFile = Annotated[
    Path,
    typer.Option(
        "--readings", metavar="FILE", is_eager=True, readable=False, help="The readings file; - reads a pipe."
    ),
]
ReadingsLogFile = Annotated[
    Path,
    typer.Option("--readings", metavar="FILE", readable=False, help="The readings file; a new round is added to it."),
]
RoundNumber = Annotated[int | None, typer.Option("--round", metavar="N", help="Which round; the newest by default.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object instead of words.")]
SkipBad = Annotated[bool, typer.Option("--skip-bad", help="Go on without rows that cannot be read.")]
KeepSuspects = Annotated[bool, typer.Option("--keep-suspects", help="Let readings that cannot be into the map.")]
Check = Annotated[bool, typer.Option("--check", help="For scripts: exit with 5 when the answer is no.")]

Why = Annotated[bool, typer.Option("--why", help="Also tell what it rests on, and the numbers.")]

GRILL_FILE = Path("grill.toml")
READINGS_FILE = Path("readings.csv")

#: Where the page is found when nothing else is said; always the same, so that phones find it again.
PAGE_HOST, PAGE_PORT = "127.0.0.1", 8747
Host = Annotated[
    str, typer.Option("--host", metavar="ADDRESS", help="Which address of this machine the page is served at.")
]
