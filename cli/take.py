"""`gratemap take`: take a round of readings, typed, from a pipe or from a port."""

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

import typer

from cli import options
from cli.options import flag, option
from heatmap.errors import InputError


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What the command line asked for; each field is an option."""

    source: Annotated[
        Literal["-"] | None, typer.Argument(metavar="[-]", help="- reads typed lines from a pipe.", show_default=False)
    ] = None
    recheck: bool = flag("Only a few shots where the food goes, just before the sear.")
    close_up: bool = flag("After each shot two from close up: the level without a probe.")
    preheat: bool = flag("First two positions in turn, until the grate is nearly steady.")
    order: Literal["spread", "rows"] = option("ORDER", "The way over them: spread or rows.", "spread")
    knobs: list[str] | None = option("NAME=MARK", "Where a burner stands; repeat it for more.", name="--knob")
    lid: Literal["open", "closed"] | None = option(
        "open|closed", "The lid until you shot; else as it was last, or asked."
    )
    distance: float | None = option("LENGTH", "How far the gun is held, in the grill file's unit.")
    number: int | None = option("N", "Number of the round; a new one by default.", name="--round", min=1, max=999_999)
    go_on: bool = flag("Go on with the last round.", name="--continue")
    session: str | None = option("NAME", "Name of the occasion; else today's, or the date.")
    bell: bool = flag("Sound once for kept, twice for shoot again.")
    speak: str | None = option("COMMAND", "Say positions and kept numbers with this program.")
    port: str | None = option("URL", "Readings come from this serial port.")
    baud: int = option("N", "Speed of the port, commonly 9600.", 9600, min=50, max=4_000_000)
    pattern: str | None = option(
        "TEXT", "How its lines look: a regular expression with the group value, maybe unit, position."
    )
    unit: Literal["F", "C"] | None = option("F|C", "For lines from the port that do not say it.", case_sensitive=False)
    settle_s: float | None = option("SECONDS", "For a gun that streams: take what is steady so long.", name="--settle")
    page: bool = flag("Serve the grill-side page beside it: tapped or typed.")
    host: str = options.host()
    page_port: int = option("N", "Where at that address the page is.", options.PAGE_PORT, min=0, max=65535)
    grill_file: Path = options.grill_file()
    readings_file: Path = options.log_file()
    skip_bad: bool = options.skip_bad()
    as_json: bool = options.as_json()


def command(plan: Plan) -> None:
    """Take a round of readings: typed, from a pipe (take -) or from the gun's port.

    The map grows as you shoot.

    \b
    Example: gratemap take --bell
    """
    from cli import console
    from cli.take_begin import begin, now
    from heatmap.grill.toml import load_grill
    from heatmap.readings.log import ReadingsLog

    if plan.source == "-" and plan.port is not None:
        raise typer.BadParameter("take the readings from a pipe (-) or from a port (--port), not both")
    if plan.close_up and plan.recheck:
        raise typer.BadParameter("--close-up is for a round over the whole grate; leave out --recheck, or leave it out")
    if plan.go_on and plan.number is not None:
        raise typer.BadParameter("--continue goes on with the last round; leave it out, or leave out --round")
    grill = load_grill(plan.grill_file)
    with ReadingsLog(plan.readings_file, grill, skip_bad=plan.skip_bad, keyed=plan.page) as log:
        console.talk(*log.file.warnings)
        if plan.source is None and (plan.port is not None or console.is_terminal()):
            from cli.take_round import take_rounds

            take_rounds(plan, log)
            return
        from cli.take_pipe import take_from_pipe

        if plan.page:
            raise InputError("--page stands beside a keyboard; without one the page is served by: gratemap page")
        if plan.preheat:
            raise InputError("--preheat asks for shots in turn and answers; it needs a keyboard, not a pipe")
        take_from_pipe(plan, log, begin(plan, grill, log.readings, now()))
