"""`gratemap take`: take a round of readings, typed, from a pipe or from a port."""

from __future__ import annotations

import typer


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("take", help="Take a round of readings.")(command)


def command() -> None:
    """Take a round of readings."""
    raise typer.Exit(2)
