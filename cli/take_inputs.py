"""Where a session's lines come from: the keyboard, the port, and signals that end it; all in one queue, in order."""

import queue
import select
import signal
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from io import RawIOBase
from typing import Any, TextIO

from cli.take import Plan
from heatmap.grill.grill import Grill
from heatmap.readings.written import units_of_degree
from heatmap.serial_port import Intake, PortItem, SerialPort, Settler, line_parser


class NoMoreLines:
    """The keyboard is at its end (Ctrl-D, or the terminal has gone)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrived:
    """What one read of the port brought."""

    items: tuple[PortItem, ...]
    notice: str = ""


class Inputs:
    """One queue of everything that happens, safe to be filled from threads and signal handlers; a line is its text."""

    def __init__(self) -> None:
        """Begin with nothing."""
        self._queue: queue.SimpleQueue[Any] = queue.SimpleQueue()
        self._first: deque[Any] = deque()
        self.put = self._queue.put

    def put_back(self, *events: Any) -> None:
        """Have events that were got, but are not yet to be heard, come again before all others, in this order."""
        self._first.extendleft(reversed(events))

    def get(self, timeout_s: float | None = None) -> Any:
        """Wait for the next event; None when the time is over."""
        if self._first:
            return self._first.popleft()
        while True:
            with suppress(queue.Empty):  # without a limit a wait cannot be interrupted on Windows
                return self._queue.get(timeout=1.0 if timeout_s is None else timeout_s)
            if timeout_s is not None:
                return None

    def type_from(self, stream: TextIO) -> None:
        """Begin to put every line of a stream into the queue, from a thread of its own."""
        threading.Thread(target=self._type, args=(stream,), daemon=True, name="keyboard").start()

    def _type(self, stream: TextIO) -> None:
        with suppress(OSError, ValueError):  # the terminal has gone
            for lines, _ in batches_of(stream):
                for line in lines:
                    self.put(line.decode(stream.encoding or "utf-8", errors="replace").rstrip("\r"))
        self.put(NoMoreLines())


#: No line that says something is longer [bytes].
_LONGEST_LINE = 10_000
#: So much is read at one go [bytes].
_CHUNK = 65_536


def batches_of(stream: TextIO) -> Iterator[tuple[list[bytes], bool]]:
    """Return the lines of a stream as they come, without their ends, and whether they are ended: the last may not be.

    Read below Python's own buffer: a thread that waits inside it would hold up the end of the program. Not with
    `os.read`, though: a Windows console has an encoding and an end (Ctrl-Z) that only Python's own stream knows. Of a
    last line that has no end yet no more is kept than shows that it cannot be read, so that megabytes without a line
    end cost no more than any others.
    """
    raw = getattr(getattr(stream, "buffer", None), "raw", None)
    rest = b""
    while chunk := _read(raw) if raw else stream.read(_CHUNK).encode():
        *whole, rest = (rest + chunk).split(b"\n")
        if len(rest) > _LONGEST_LINE:
            rest = rest[:_LONGEST_LINE] + b"?"
        if whole:
            yield whole, True
    if rest:
        yield [rest], False


def _read(raw: RawIOBase) -> bytes:
    """Wait for the next bytes, also where whoever made the pipe has it answer at once; none at the end."""
    while (chunk := raw.read(_CHUNK)) is None:
        select.select([raw], [], [])
    return chunk


@contextmanager
def signals_into(inputs: Inputs) -> Iterator[None]:
    """Turn Ctrl-C, hang-up and a request to terminate into events, so that no write is cut in two.

    A second Ctrl-C interrupts at once. Only the main thread hears signals; from any other, none is turned.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def heard(number: int, _frame: object) -> None:
        inputs.put(signal.Signals(number))
        if number == signal.SIGINT:
            signal.signal(signal.SIGINT, signal.default_int_handler)

    ending = [one for one in signal.Signals if one.name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")]
    # nohup asks for one to be ignored
    before = {one: signal.signal(one, heard) for one in ending if signal.getsignal(one) is not signal.SIG_IGN}
    try:
        yield
    finally:
        for one, handler in before.items():
            signal.signal(one, handler or signal.SIG_DFL)


@contextmanager
def port_into(plan: Plan, grill: Grill, inputs: Inputs) -> Iterator[Callable[[], None]]:
    """Read the port into the queue; what is given is to be called when the gun points at another place.

    Raises
    ------
    PortError
        When the port cannot be opened.
    """
    settler = None if plan.settle_s is None else Settler(plan.settle_s, grill.gun)
    units = units_of_degree(plan.unit) if plan.unit else None
    intake = Intake(line_parser(grill, pattern=plan.pattern, units=units), settler)
    ended, moved = threading.Event(), threading.Event()

    def read() -> None:
        try:
            while not ended.is_set():
                chunk = port.read()
                if moved.is_set():
                    moved.clear()
                    intake.next_place()
                items = intake.feed(chunk, time.monotonic())
                if items or chunk.notice:
                    inputs.put(Arrived(items=tuple(items), notice=chunk.notice))
        except BaseException as error:
            if not ended.is_set():
                inputs.put(error)

    with SerialPort(plan.port or "", baud=plan.baud) as port:
        thread = threading.Thread(target=read, daemon=True, name="port")
        thread.start()
        try:
            yield moved.set
        finally:
            ended.set()
            thread.join(1.0)
