"""`gratemap page`: the grill-side page for a phone."""

from pathlib import Path
from signal import SIGINT, Signals

import typer

from cli import options
from cli.options import flag, option

#: When nothing is tapped for so long, the numbers so far are held against one another [s].
_PAUSE_S = 0.1


def command(
    host: str = options.host(),
    port: int = option("N", "Where at that address; 0: any that is free.", options.PAGE_PORT, min=0, max=65535),
    say_url: bool = flag("Print the two addresses, the cook's first, and no code to scan."),
    grill: Path = options.grill_file(),
    readings: Path = options.log_file(),
    skip_bad: bool = options.skip_bad(),
) -> None:
    """Serve the grill-side page: tap readings on a phone, see map and decision there.

    It serves this machine alone until --host names its address on the phone's network. Ctrl-C ends it.

    \b
    Example: gratemap page --say-url
    """
    from cli import console
    from cli.page_server import PageServer, first_session, listen, say_where
    from cli.take import Plan
    from cli.take_begin import now
    from cli.take_inputs import Inputs, signals_into
    from heatmap.grill.toml import load_grill
    from heatmap.readings.log import ReadingsLog
    from heatmap.taking.sitting import Sitting
    from heatmap.words.taking import page_closed_sentence

    plan = Plan(grill_file=grill, readings_file=readings, skip_bad=skip_bad)
    inputs = Inputs()
    with signals_into(inputs), ReadingsLog(readings, load_grill(grill), skip_bad=skip_bad, keyed=True) as log:
        console.talk(*log.file.warnings)
        listening = listen(host, port)
        sitting = Sitting(first_session(plan, log), log, now)
        with PageServer(listening, plan, sitting, inputs.put) as server:
            say_where(server, say_url=say_url)
            to_judge = False  # not while numbers that a phone had queued come one after the other
            while not isinstance(event := inputs.get(_PAUSE_S if to_judge else None), Signals):
                if event is None:
                    server.desk.follow_up()
                to_judge = event is not None and (server.desk.answer(event) or to_judge)
    console.talk(page_closed_sentence(len(log.readings), log.name))
    if event is not SIGINT:  # how this command is meant to be ended
        raise typer.Exit(128 + event)
