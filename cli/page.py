"""The grill-side page for a phone: `gratemap page`, which serves it alone, and the page beside `gratemap take`."""

from __future__ import annotations

import contextlib
import errno
import ipaddress
import os
import socket
import sys
from collections.abc import Callable
from datetime import timedelta
from functools import partial
from io import StringIO
from pathlib import Path
from signal import SIGINT, Signals

import typer

import heatmap
from cli import console, options
from cli.loading import Files
from cli.options import flag, option
from cli.take import Plan
from cli.take_begin import begin, begin_next, last_marks, now, recheck_walk
from cli.take_inputs import Inputs, signals_into
from heatmap.decisions.tuning import STALE_MIN
from heatmap.errors import InputError, MapError
from heatmap.page.app import Page, page_app
from heatmap.page.board import Board
from heatmap.page.desk import Desk
from heatmap.page.entries import Entry
from heatmap.page.page_file import open_page_file
from heatmap.page.serving import serve
from heatmap.readings.log import ReadingsLog
from heatmap.readings.reading import group_rounds
from heatmap.taking.session import Session
from heatmap.taking.sitting import Sitting
from heatmap.words.taking import page_closed_sentence, where_lines

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
    inputs = Inputs()
    with signals_into(inputs), ReadingsLog(readings, heatmap.load_grill(grill), skip_bad=skip_bad, keyed=True) as log:
        console.talk(*log.file.warnings)
        with PageServer(listen(host, port), Plan(), Sitting(first_session(log), log, now), inputs.put) as server:
            say_where(server, say_url=say_url)
            to_judge = False  # not while numbers that a phone had queued come one after the other
            while not isinstance(event := inputs.get(_PAUSE_S if to_judge else None), Signals):
                if event is None:
                    server.desk.follow_up()
                to_judge = event is not None and (server.desk.answer(event) or to_judge)
    console.talk(page_closed_sentence(len(log.readings), log.name))
    if event is not SIGINT:  # how this command is meant to be ended
        raise typer.Exit(128 + event)


def listen(host: str, port: int) -> socket.socket:
    """Listen at an address of this machine; port 0 is any that is free.

    Raises
    ------
    typer.BadParameter
        When it is none.
    InputError
        When the port cannot be had.
    """
    try:
        address = ipaddress.ip_address(options.PAGE_HOST if host == "localhost" else host)
    except ValueError:
        raise typer.BadParameter(f'--host is "{host}"; it must be an address, {_addresses()}') from None
    if address.is_unspecified or address.is_multicast:
        raise typer.BadParameter(f"--host {host} is every network there is; name the one you mean: {_addresses()}")
    family = socket.AF_INET6 if address.version == 6 else socket.AF_INET
    try:
        found = socket.create_server((str(address), port), family=family, backlog=128)
    except OSError as error:
        if error.errno == errno.EADDRNOTAVAIL:
            raise typer.BadParameter(f"{host} is no address of this machine; --host can be {_addresses()}") from None
        if error.errno == errno.EADDRINUSE:
            raise InputError(f"port {port} is in use, perhaps by another gratemap; name another with --port") from None
        raise InputError(f"cannot listen at {host}, port {port}: {os.strerror(error.errno or 0)}") from None
    found.setblocking(False)
    return found


def _addresses() -> str:
    """Name the addresses of this machine, as far as it tells them."""
    found = [options.PAGE_HOST]
    with contextlib.suppress(OSError):
        found += [str(one[4][0]) for one in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        asking.connect(("192.0.2.1", 9))  # sends nothing: an address for documentation (RFC 5737)
        found.append(asking.getsockname()[0])
    return " or ".join(dict.fromkeys(found))


class PageServer:
    """The page of a sitting; use it in a `with` statement.

    Parameters
    ----------
    listening : socket
    plan : Plan
    sitting : Sitting
    put : callable
        Takes an entry to the thread that holds the sitting, which hands it to `desk`; from any thread.
    """

    def __init__(self, listening: socket.socket, plan: Plan, sitting: Sitting, put: Callable[[Entry], None]) -> None:
        """Prepare; nothing is served yet."""
        self.host, self.port = listening.getsockname()[:2]
        self._listening = listening
        readings = Path(sitting.log.name)
        self.kept = open_page_file(readings)
        sitting.map.update(sitting.session)
        board = Board(sitting.session.grill, Files(readings=readings).decision)
        self.desk = Desk(sitting=sitting, page_file=self.kept, board=board, begin=partial(begin_next, plan, sitting))
        self.page = Page(kept=self.kept, board=board, put=put)
        self._end = listening.close

    def __enter__(self) -> PageServer:
        """Begin to serve."""
        self._end = serve(page_app(self.page, self.hosts), self._listening)
        return self

    def __exit__(self, *_: object) -> None:
        """End every stream and every connection."""
        self.page.board.end()
        self._end()

    @property
    def urls(self) -> tuple[str, str]:
        """The cook's address and the one for watching."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        cook, watch = (f"http://{host}:{self.port}/t/{token}" for token in (self.kept.cook, self.kept.watch))
        return cook, watch

    @property
    def is_local(self) -> bool:
        """Whether only this machine reaches it."""
        return ipaddress.ip_address(self.host).is_loopback

    @property
    def hosts(self) -> frozenset[str]:
        """How a browser on the way to it may call it."""
        names = {self.host, "localhost"} if self.is_local else {self.host}
        written = {f"[{name}]" if ":" in name else name for name in names}
        return frozenset({f"{name}:{self.port}" for name in written} | (written if self.port == 80 else set()))


def first_session(log: ReadingsLog) -> Session:
    """Go on with the round that was being shot a moment ago, so that phones go on by themselves; else begin one."""
    kept = open_page_file(Path(log.name))
    rounds = group_rounds(log.readings)
    last = rounds[-1] if rounds else None
    number = None
    if kept.round == (0 if last is None else last.number) + 1:
        number = kept.round  # begun on the page, and not shot at yet
    elif last is not None:
        newest = max((one.taken_at for one in last.readings if one.taken_at is not None), default=None)
        if newest is not None and now() - newest < timedelta(minutes=STALE_MIN):
            number = last.number
    session = begin(Plan(number=number), log.grill, log.readings, now())
    if not session.readings and last is not None and last.session == session.name:
        session.knobs.update(last_marks(rounds))
    if session.number == kept.round:
        if not session.readings:  # what was said of it before its first one
            names = {burner.name for burner in session.grill.burners}
            session.knobs.update({name: mark for name, mark in kept.marks.items() if name in names})
            session.lid, session.surface = kept.lid or session.lid, kept.surface or session.surface
        if kept.kind == "recheck":
            with contextlib.suppress(MapError):
                recheck_walk(session)
    return session


def say_where(server: PageServer, *, say_url: bool) -> None:
    """Say how a phone comes to the page: a code to scan and the addresses in words, or only those, on stdout."""
    cook, watch = server.urls
    if say_url:
        console.answer(cook)
        console.answer(watch)
        return
    if not server.is_local and console.follows_escapes(sys.stderr) and console.can_show("█▀▄", sys.stderr):
        console.talk(_code(cook))
    console.talk(*where_lines(cook, watch, server.host, local=server.is_local))


def _code(text: str) -> str:
    """Return a QR code (ISO/IEC 18004) in half blocks, light on dark whatever the colours of the terminal."""
    import segno

    drawn = StringIO()
    segno.make(text, error="m", micro=False).terminal(out=drawn, border=2, compact=True)
    return "\n".join(f"\033[97;40m{line}\033[0m" for line in drawn.getvalue().splitlines())
