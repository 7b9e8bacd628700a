"""Every command, in the order the help lists them. A new command is a file with `register` and a line here."""

from __future__ import annotations

from collections.abc import Callable

import typer

from cli import burners, demo, explain, grill, gun, map, next, place, ports, take  # noqa: A004 - words of the trade

COMMANDS: tuple[Callable[[typer.Typer], None], ...] = (
    demo.register,
    grill.register,
    take.register,
    map.register,
    explain.register,
    next.register,
    burners.register,
    place.register,
    gun.register,
    ports.register,
)
