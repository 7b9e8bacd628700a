"""The gun's own line out: a thread that reads the port and puts what arrives into the session's queue."""

from __future__ import annotations

import threading
import time

from cli.take import Plan
from cli.take_inputs import Arrived, Inputs
from heatmap.grill.grill import Grill
from heatmap.grill.quantities import Units
from heatmap.serial_port import Intake, Rejected, SerialPort, Settler, line_parser
from heatmap.taking.effects import Shots

#: The unit a line that does not say it is in; else that of the grill file.
_UNITS: dict[str, Units] = {"F": "us", "C": "si"}


class PortReader:
    """Reads the port until it is closed; use it in a `with` statement.

    Raises
    ------
    PortError
        When the port cannot be opened.
    """

    def __init__(self, plan: Plan, grill: Grill, inputs: Inputs) -> None:
        """Prepare; nothing is opened yet."""
        settler = None if plan.settle_s is None else Settler(plan.settle_s, grill.gun)
        self._intake = Intake(line_parser(grill, pattern=plan.pattern, units=_UNITS.get(plan.unit or "")), settler)
        self._port = SerialPort(plan.port or "", baud=plan.baud)
        self._inputs = inputs
        self._ended, self._moved = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True, name="port")

    def __enter__(self) -> PortReader:
        """Open the port and begin to read."""
        self._port.__enter__()
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        """Stop reading and close the port."""
        self._ended.set()
        self._thread.join(1.0)
        self._port.__exit__(None, None, None)

    def next_place(self) -> None:
        """The cook has typed something: the gun points at another place now."""
        self._moved.set()

    def _run(self) -> None:
        try:
            while not self._ended.is_set():
                chunk = self._port.read()
                if self._moved.is_set():
                    self._moved.clear()
                    self._intake.next_place()
                items = self._intake.feed(chunk, time.monotonic())
                if items or chunk.notice:
                    shots = tuple(item for item in items if not isinstance(item, Rejected))
                    rejected = tuple(item for item in items if isinstance(item, Rejected))
                    self._inputs.put(Arrived(shots=Shots(items=shots), rejected=rejected, notice=chunk.notice))
        except BaseException as error:
            if not self._ended.is_set():
                self._inputs.put(error)
