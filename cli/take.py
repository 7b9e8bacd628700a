"""`gratemap take`: take a round of readings, typed, from a pipe or from a port."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from cli import console
from cli.exit_codes import ExitCode
from cli.options import GRILL_FILE, READINGS_FILE, AsJson, GrillFile, ReadingsFile, SkipBad


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command(
        "take",
        help="Take a round of readings: typed, from a pipe (take -) or from the gun's port; the map grows as you shoot. "
        "Example: gratemap take --bell",
    )(command)


def command(
    source: Annotated[
        str | None, typer.Argument(metavar="[-]", help="- reads typed lines from a pipe.", show_default=False)
    ] = None,
    grill: GrillFile = GRILL_FILE,
    readings: ReadingsFile = READINGS_FILE,
    order: Annotated[
        str, typer.Option("--order", help="The way over the positions: spread, rows, columns or snake.")
    ] = "spread",
    knob: Annotated[
        list[str] | None, typer.Option("--knob", metavar="NAME=MARK", help="Where a burner stands; repeat it.")
    ] = None,
    distance: Annotated[
        float | None, typer.Option("--distance", help="How far the gun is held, in the grill file's lengths.")
    ] = None,
    number: Annotated[int | None, typer.Option("--round", metavar="N", help="Number of the round.")] = None,
    go_on: Annotated[bool, typer.Option("--continue", help="Go on with the last round.")] = False,
    session: Annotated[
        str | None, typer.Option("--session", metavar="NAME", help="Name of the day or occasion.")
    ] = None,
    bell: Annotated[bool, typer.Option("--bell", help="Sound once for kept, twice for shoot again.")] = False,
    as_json: AsJson = False,
    skip_bad: SkipBad = False,
) -> None:
    """Take a round of readings."""
    from cli.take_round import Plan, take

    plan = Plan(
        grill_file=grill,
        readings_file=readings,
        order=order,
        knobs=tuple(knob or ()),
        distance=distance,
        number=number,
        go_on=go_on,
        session=session,
        bell=bell,
        as_json=as_json,
        skip_bad=skip_bad,
        from_pipe=source is not None,
    )
    if source not in (None, "-"):
        raise typer.BadParameter(f'"{source}" is not understood; only - can stand there, for a pipe')
    take(plan)
