"""Every command, in the order the help lists them. A new command is a file with a function `command` and a line here.

The docstring of the function is the command's help; it ends with one example, on a line of its own so that it can be
copied. The files are imported when their command is asked for, so that the help comes at once.
"""

from __future__ import annotations

import importlib
from dataclasses import dataclass
from typing import Any

import typer
from typer.core import TyperGroup


@dataclass(frozen=True, slots=True)
class Entry:
    """Where a command lives, its function `command` or several in a group `app`, and one line for the list."""

    module: str
    summary: str


COMMANDS: dict[str, Entry] = {
    "demo": Entry("cli.demo", "Run the whole job on the sample readings."),
    "grill": Entry("cli.grill", "Describe your grill, or check the description."),
    "take": Entry("cli.take", "Take a round of readings: typed, piped, or from the gun's port."),
    "ready": Entry("cli.ready", "Say in one line what to do now."),
    "map": Entry("cli.map", "Show the heat map of a round, with flags and evenness."),
    "explain": Entry("cli.explain", "Show how one reading became a rail temperature."),
    "next": Entry("cli.next", "Say which positions to shoot next."),
    "burners": Entry("cli.burners", "Say which knob to turn to which mark."),
    "compare": Entry("cli.compare", "Say whether the change made the grate more even."),
    "history": Entry("cli.history", "Show one line per round."),
    "place": Entry("cli.place", "Say where to set the food down."),
    "sear": Entry("cli.sear", "Say how many seconds each turn lasts."),
    "gun": Entry("cli.gun", "Turn one reading into the true temperature."),
    "report": Entry("cli.report", "Write everything on one HTML page."),
    "page": Entry("cli.page", "Serve the grill-side page for a phone."),
    "rehearse": Entry("cli.rehearse", "Practise on a make-believe grill, indoors."),
    "ports": Entry("cli.ports", "List the serial ports there are."),
    "manual": Entry("cli.manual_command", "Read the manual."),
}


class Commands(TyperGroup):
    """Lists the commands from the table and loads one when it is asked for."""

    def list_commands(self, ctx: Any) -> list[str]:
        """Return the names in the order of the table."""
        return list(COMMANDS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """Load the command of this name."""
        entry = COMMANDS.get(cmd_name)
        if entry is None:
            return None
        module, app = importlib.import_module(entry.module), typer.Typer(rich_markup_mode=None)
        app.callback()(lambda: None)
        if hasattr(module, "app"):
            app.add_typer(module.app, name=cmd_name)
        else:
            app.command(cmd_name)(module.command)
        return typer.main.get_command(app).commands[cmd_name]  # type: ignore[attr-defined]

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write the list of the help without loading anything."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, entry.summary) for name, entry in COMMANDS.items()])
