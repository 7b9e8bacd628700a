"""The Typer application: every command registered, every known error turned into one line and its exit code."""

import contextlib
import errno
import importlib
import os
import sys
from collections.abc import Iterator
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from cli import console
from cli.commands import COMMANDS
from cli.exit_codes import ExitCode
from cli.options import with_options
from heatmap.errors import HeatmapError, PortError


class _Commands(TyperGroup):
    """Lists the commands from their table, loads one when it is asked for and runs it; a known error becomes one line,
    anything else says it is a bug.
    """

    def list_commands(self, ctx: Any) -> list[str]:
        """Return the names in the order of the table."""
        return list(COMMANDS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """Load the command of this name."""
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"cli.{cmd_name}")
        if hasattr(module, "app"):
            return typer.main.get_group(module.app)
        app = typer.Typer(rich_markup_mode=None, add_completion=False)
        app.command(cmd_name)(with_options(module.command))
        return typer.main.get_command(app)

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write the list of the help without loading anything."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))

    def main(self, *arguments: Any, **named: Any) -> Any:
        """Set right what the command was started in, and run it."""
        console.open_streams()
        os.environ["MPLBACKEND"] = "agg"  # pictures go into files; a notebook names a window of its own
        return super().main(*arguments, **named)

    def make_context(self, *arguments: Any, **named: Any) -> Any:
        """Read the command line; the help and the version are printed in here."""
        with _in_plain_words():
            return super().make_context(*arguments, **named)

    def invoke(self, ctx: Any) -> Any:
        """Run the command the user named."""
        with _in_plain_words():
            return super().invoke(ctx)


@contextlib.contextmanager
def _in_plain_words() -> Iterator[None]:
    """Turn what goes wrong into one line on stderr and its exit code."""
    try:
        yield
    except HeatmapError as error:
        code = ExitCode.PORT if isinstance(error, PortError) else ExitCode.INPUT
        raise _exit(f"gratemap: {error}", code) from None
    except KeyboardInterrupt:
        raise _exit("", ExitCode.INTERRUPTED) from None
    except BrokenPipeError:
        # The reader of the pipe, `head` or a pager, has seen enough.
        console.silence(sys.stdout)
        raise typer.Exit(ExitCode.FINE) from None
    except Exception as error:
        if type(error).__module__.startswith(("typer", "click")):
            raise
        if isinstance(error, OSError) and error.errno in _FULL:  # every other file is written with errors of its own
            console.silence(sys.stdout)
            why = "gratemap: the answer could not be written: the disk is full; make room"
            raise _exit(why, ExitCode.INPUT) from None
        if os.environ.get("GRATEMAP_TRACEBACK"):
            import traceback

            traceback.print_exc()
        why = (
            f"gratemap: this is a bug, not your doing: {type(error).__name__}: {error}. "
            "Your readings are safe in their file. Set GRATEMAP_TRACEBACK=1 to see more."
        )
        raise _exit(why, ExitCode.BUG) from None


#: A full disk, a quota used up, a file as large as may be.
_FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)


def _exit(why: str, code: int) -> typer.Exit:
    """Say why the command ends, where somebody still listens; return what ends it."""
    with contextlib.suppress(OSError):
        console.talk(why)
    return typer.Exit(code)


app = typer.Typer(
    name="gratemap",
    cls=_Commands,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="Map the true temperature of a cooking grate from infrared spot readings: how hot the rails are, how even, "
    "which burner to turn, where to set the food down and for how long. Start with: gratemap demo",
)


def _version(context: typer.Context, wanted: bool) -> None:
    if wanted and not context.resilient_parsing:
        from importlib.metadata import version

        console.answer(f"gratemap {version('gratemap')}")
        raise typer.Exit


@app.callback()
def main(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version and stop.")
    ] = False,
) -> None:
    """Map the true temperature of a cooking grate from infrared spot readings."""
