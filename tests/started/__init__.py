"""The command in a process of its own without what its start costs: split off from one that has loaded all it needs.

It has a terminal, streams, signals and an end like any other. What is asked of the start itself (what is loaded,
streams closed before it, Ctrl-C meanwhile) is asked of an interpreter of its own, not here.
"""

from __future__ import annotations

import atexit
import contextlib
import functools
import gc
import importlib
import io
import json
import os
import pkgutil
import select
import signal
import socket
import subprocess
import sys
import threading
import time
import traceback
from collections.abc import Mapping
from pathlib import Path
from typing import IO, Any

PIPE, DEVNULL = subprocess.PIPE, subprocess.DEVNULL
TESTS = Path(__file__).parents[1]
#: The cells of the map, and of shares, spreads and advice, here, unless fine ones are asked for, and of tests that hang
#: on no digit: twice as wide as a cook's.
COARSE_CELLS_MM = {"CELL_MM": 25.4, "WIDE_CELL_MM": 50.8}
#: What commands load of others when they come to it.
LOADED_WHILE_RUNNING = (
    "contourpy",
    "encodings.utf_8_sig",
    "filelock",
    "matplotlib.backends.backend_agg",
    "scipy.ndimage",
    "scipy.optimize",
    "serial.tools.list_ports",
    "uvicorn.lifespan.on",
    "uvicorn.loops.auto",
    "uvicorn.protocols.http.auto",
    "readline",
)
#: Longer than any command takes on a machine busy with other things.
PATIENCE_S = 60.0


class Started:
    """`gratemap` with these words; asked like a `subprocess.Popen`."""

    def __init__(
        self,
        *words: str,
        cwd: str | Path | None = None,
        env: Mapping[str, str] | None = None,
        stdin: int | IO[Any] | None = None,
        stdout: int | IO[Any] | None = None,
        stderr: int | IO[Any] | None = None,
        text: bool = False,
        leads: bool = False,
        fine: bool = False,
    ) -> None:
        self.returncode: int | None = None
        self._text = text
        theirs: list[int] = []
        ours: list[IO[Any] | None] = []
        opened: list[int] = []
        for number, wanted in enumerate((stdin, stdout, stderr)):
            near = None
            if wanted == PIPE:
                reads, writes = os.pipe()
                far, near = (writes, reads) if number else (reads, writes)
            elif wanted == DEVNULL:
                far = os.open(os.devnull, os.O_RDWR)
            else:
                far = number if wanted is None else wanted if isinstance(wanted, int) else wanted.fileno()
            if wanted in (PIPE, DEVNULL):
                opened.append(far)
            theirs.append(far)
            mode = "r" if number else "w"
            kind: dict[str, Any] = {"encoding": "utf-8", "errors": "replace"} if text else {"buffering": -1}
            ours.append(None if near is None else open(near, mode if text else mode + "b", **kind))
        self.stdin, self.stdout, self.stderr = ours
        self._ended, tells = os.pipe()
        request = {"words": words, "cwd": str(cwd or Path.cwd()), "env": dict(os.environ if env is None else env)}
        self.pid = _one_that_has_loaded_all().split_off({**request, "leads": leads, "fine": fine}, [*theirs, tells])
        for one in (*opened, tells):
            os.close(one)

    def poll(self) -> int | None:
        """Return the exit code, minus the signal that ended it, or None while it runs."""
        return self._await(0.0)

    def wait(self, timeout: float = PATIENCE_S) -> int:
        """Wait for the end."""
        if self._await(timeout) is None:
            raise subprocess.TimeoutExpired(["gratemap"], timeout)
        return self.returncode  # type: ignore[return-value]

    def _await(self, timeout_s: float) -> int | None:
        if self.returncode is None and select.select([self._ended], [], [], timeout_s)[0]:
            self.returncode = os.waitstatus_to_exitcode(int(os.read(self._ended, 16) or b"9"))
            os.close(self._ended)
        return self.returncode

    def send_signal(self, number: int) -> None:
        """Send a signal, unless it has ended."""
        if self.poll() is None:
            os.kill(self.pid, number)

    def kill(self) -> None:
        """End it at once."""
        self.send_signal(signal.SIGKILL)

    def communicate(self, given: Any = None, timeout: float = PATIENCE_S) -> tuple[Any, Any]:
        """Give it this on its standard input, and return what it answered and said."""
        found: dict[str, Any] = {}

        def take_in(name: str, stream: IO[Any]) -> None:
            with stream:
                found[name] = stream.read()

        streams = {"stdout": self.stdout, "stderr": self.stderr}
        readers = [threading.Thread(target=take_in, args=one) for one in streams.items() if one[1] is not None]
        for reader in readers:
            reader.start()
        if self.stdin is not None:
            with contextlib.suppress(BrokenPipeError), self.stdin:
                self.stdin.write(given or ("" if self._text else b""))
        for reader in readers:
            reader.join(timeout)
        self.wait(timeout)
        return found.get("stdout"), found.get("stderr")


def run(*words: str, given: Any = None, **how: Any) -> subprocess.CompletedProcess[Any]:
    """Run `gratemap` with these words to its end: its input closed or `given`, its answers captured."""
    one = Started(*words, **{"stdin": DEVNULL if given is None else PIPE, "stdout": PIPE, "stderr": PIPE, **how})
    said = one.communicate(given)
    return subprocess.CompletedProcess(words, one.wait(), *said)


class _Loaded:
    """The process others are split off from, and the line to it."""

    def __init__(self) -> None:
        self._line, far = socket.socketpair()
        path = os.pathsep.join([str(TESTS.parent), str(TESTS), os.environ.get("PYTHONPATH", "")])
        self._process = subprocess.Popen(
            [sys.executable, "-c", f"from started import serve; serve({far.fileno()})"],
            pass_fds=[far.fileno()],
            env={**os.environ, "PYTHONPATH": path},
            stdin=DEVNULL,
        )
        far.close()
        self._lock = threading.Lock()

    def split_off(self, request: dict[str, Any], streams: list[int]) -> int:
        with self._lock:
            socket.send_fds(self._line, [json.dumps(request).encode() + b"\n"], streams)
            return int(_line(self._line))


@functools.cache
def _one_that_has_loaded_all() -> _Loaded:
    return _Loaded()


def _line(channel: socket.socket, had: bytes = b"") -> bytes:
    while not had.endswith(b"\n"):
        more = channel.recv(65536)
        if not more:
            raise EOFError("the process that commands are split off from has ended")
        had += more
    return had


def serve(number: int) -> None:
    """Load everything, then split off a process for every request; in there, run the command and end with it."""
    for package in ("cli", "heatmap"):
        for _, name, _ in pkgutil.walk_packages(importlib.import_module(package).__path__, f"{package}."):
            importlib.import_module(name)
    for name in LOADED_WHILE_RUNNING:
        importlib.import_module(name)
    with contextlib.redirect_stdout(io.StringIO()), contextlib.suppress(SystemExit):
        importlib.import_module("cli.app").app(["gun", "585"])  # what reads a command line is loaded then
    gc.freeze()
    channel = socket.socket(fileno=number)
    bell, rings = os.pipe()
    os.set_blocking(rings, False)
    signal.set_wakeup_fd(rings)
    signal.signal(signal.SIGCHLD, lambda *_: None)
    tells: dict[int, int] = {}
    while True:
        ready, _, _ = select.select([channel, bell], [], [])
        if bell in ready:
            os.read(bell, 64)
            with contextlib.suppress(ChildProcessError):
                while (ended := os.waitpid(-1, os.WNOHANG))[0]:
                    os.write(tells[ended[0]], b"%d" % ended[1])
                    os.close(tells.pop(ended[0]))
        if channel in ready:
            data, streams, _, _ = socket.recv_fds(channel, 65536, 4)
            if not data:
                return
            request = json.loads(_line(channel, data))
            child = os.fork()
            if not child:
                signal.set_wakeup_fd(-1)
                signal.signal(signal.SIGCHLD, signal.SIG_DFL)
                channel.close()
                for one in (bell, rings, *tells.values(), streams.pop()):
                    os.close(one)
                return _be_the_command(streams=streams, **request)
            tells[child] = streams.pop()
            for one in streams:
                os.close(one)
            channel.sendall(b"%d\n" % child)


def _be_the_command(
    words: list[str], cwd: str, env: dict[str, str], leads: bool, fine: bool, streams: list[int]
) -> None:
    """Take on streams, folder and surroundings as a new process has them, and run; the end is that of Python."""
    signal.signal(signal.SIGINT, signal.default_int_handler)  # also where whoever runs the tests hears of none
    if leads:
        os.setsid()
    for number, stream in enumerate(streams):
        os.dup2(stream, number)
        os.close(stream)
    if leads and os.isatty(0):
        import fcntl  # only where there are terminals of this kind
        import termios

        fcntl.ioctl(0, termios.TIOCSCTTY, 0)
    os.chdir(cwd)
    os.environ.clear()
    os.environ.update(env)
    time.tzset()
    encoding, at_once = env.get("PYTHONIOENCODING", "utf-8"), bool(env.get("PYTHONUNBUFFERED"))
    sys.stdin = sys.__stdin__ = open(0, encoding=encoding, closefd=False)
    for name, number, errors in (("stdout", 1, "strict"), ("stderr", 2, "backslashreplace")):
        raw = open(number, "wb", 0 if at_once else -1, closefd=False)
        line_wise = number == 2 or os.isatty(number)
        stream = io.TextIOWrapper(raw, encoding, errors, line_buffering=line_wise, write_through=at_once)
        setattr(sys, name, stream)
        setattr(sys, f"__{name}__", stream)
    if not fine:
        vars(importlib.import_module("heatmap.assessment")).update(COARSE_CELLS_MM)
    sys.argv = ["-c", *words]
    _end_with(_run())


def _run() -> int:
    """Run the command; return its exit code, or what Python makes of what went wrong."""
    from cli.app import app

    try:
        app()
    except SystemExit as end:
        if end.code is None or isinstance(end.code, int):
            return end.code or 0
        print(end.code, file=sys.stderr)
    except KeyboardInterrupt:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
        os.kill(os.getpid(), signal.SIGINT)
    except BaseException:
        traceback.print_exc()
    return 1


def _end_with(code: int) -> None:
    """End as Python does, without clearing away every object that was split off, which takes four times as long."""
    threading._shutdown()  # type: ignore[attr-defined]
    atexit._run_exitfuncs()
    for stream in (sys.stdout, sys.stderr):
        if stream is not None and not stream.closed:
            try:
                stream.flush()
            except OSError as error:
                code = 120  # as Python has it
                with contextlib.suppress(OSError):
                    print(f"Exception ignored while flushing: {error!r}", file=sys.stderr)
    os._exit(code)
