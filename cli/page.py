"""`gratemap page`: the grill-side page for a phone."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from cli.options import GRILL_FILE, READINGS_FILE, GrillFile, ReadingsLogFile, SkipBad

if TYPE_CHECKING:
    from cli.take_begin import Plan
    from heatmap.grill.grill import Grill
    from heatmap.page.page_file import PageFile
    from heatmap.readings.log import ReadingsLog
    from heatmap.taking.session import Session

Host = Annotated[
    str, typer.Option("--host", metavar="ADDRESS", help="Which address of this machine the page is served at.")
]
Port = Annotated[
    int, typer.Option("--port", metavar="N", min=0, max=65535, help="Where at that address; 0: any that is free.")
]


def command(
    host: Host = "127.0.0.1",
    port: Port = 8747,
    say_url: Annotated[
        bool, typer.Option("--say-url", help="Print the two addresses, the cook's first, and no code to scan.")
    ] = False,
    grill: GrillFile = GRILL_FILE,
    readings: ReadingsLogFile = READINGS_FILE,
    skip_bad: SkipBad = False,
) -> None:
    """Serve the grill-side page: tap readings on a phone, see map and decision there.

    It serves this machine alone until --host names its address on the phone's network. Ctrl-C ends it.

    \b
    Example: gratemap page --say-url
    """
    from cli import console
    from cli.page_server import PageServer, listen, say_where
    from cli.take_begin import Plan
    from cli.take_inputs import Inputs, Stop, signals_into
    from cli.take_round import now
    from heatmap.grill.toml import load_grill
    from heatmap.page.page_file import open_page_file, page_file_beside
    from heatmap.readings.log import ReadingsLog
    from heatmap.taking.sitting import Sitting

    described = load_grill(grill)
    plan = Plan(grill_file=grill, readings_file=readings, skip_bad=skip_bad)
    inputs = Inputs()
    with signals_into(inputs), ReadingsLog(readings, described, skip_bad=skip_bad, keyed=True) as log:
        for warning in log.warnings:
            console.talk(warning)
        address = listen(host, port)
        kept = open_page_file(page_file_beside(readings))
        sitting = Sitting(_session(plan, described, log, kept), log, now)
        sitting.look_back()
        with PageServer(address, plan, sitting, inputs.put, kept) as server:
            say_where(server, say_url=say_url)
            sitting.update_map(server.desk)
            while not isinstance(event := inputs.get(), Stop):
                if server.desk.answer(event):
                    server.desk.follow_up()
    console.talk(f"The page is closed. {len(log.readings)} rows are safe in {log.name}.")
    if event.number != _INTERRUPT:
        raise typer.Exit(128 + event.number)


#: Number of the signal of Ctrl-C: how this command is meant to be ended.
_INTERRUPT = 2


def _session(plan: Plan, grill: Grill, log: ReadingsLog, kept: PageFile) -> Session:
    """Go on with the round that was being shot a moment ago, so that phones go on by themselves; else begin one."""
    from dataclasses import replace
    from datetime import timedelta

    from cli.take_begin import begin, last_marks, last_round, recheck_walk
    from cli.take_round import now
    from heatmap.decisions.tuning import STALE_MIN
    from heatmap.errors import MapError
    from heatmap.readings.reading import group_rounds

    rounds = group_rounds(log.readings)
    last = last_round(rounds)
    number = kept.round if last is None or kept.round > last.number else None
    if not number and last is not None:
        newest = max((one.taken_at for one in last.readings if one.taken_at is not None), default=None)
        if newest is not None and now() - newest < timedelta(minutes=STALE_MIN):
            number = last.number
    session = begin(replace(plan, number=number or None), grill, log.readings, now())
    if not session.readings and last is not None and last.session == session.name:
        session.knobs.update(last_marks(rounds))
    if session.number == kept.round:
        _as_said(session, kept)
        if kept.kind == "recheck":
            earlier = tuple(one for one in rounds if one.number != session.number)
            try:
                recheck_walk(grill, earlier, session)
            except MapError:
                pass
    return session


def _as_said(session: Session, kept: PageFile) -> None:
    """Take up what was said of a round before its first reading."""
    if session.readings:
        return
    names = {burner.name for burner in session.grill.burners}
    session.knobs.update({name: mark for name, mark in kept.marks.items() if name in names})
    if kept.lid in ("open", "closed"):
        session.lid = kept.lid  # type: ignore[assignment]
    if kept.surface in ("dry", "oiled"):
        session.surface = kept.surface  # type: ignore[assignment]
