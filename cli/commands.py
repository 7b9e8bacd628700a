"""Every command, in the order the help lists them. A new command is a file with `register` and a line here."""

from __future__ import annotations

from collections.abc import Callable

import typer

from cli import (
    burners,
    demo,
    explain,
    grill,
    gun,
    manual_command,
    map,  # noqa: A004 - the words of the trade
    next,  # noqa: A004
    place,
    ports,
    ready,
    sear,
    take,
)

COMMANDS: tuple[Callable[[typer.Typer], None], ...] = (
    demo.register,
    grill.register,
    take.register,
    map.register,
    explain.register,
    next.register,
    burners.register,
    place.register,
    sear.register,
    ready.register,
    gun.register,
    ports.register,
    manual_command.register,
)
