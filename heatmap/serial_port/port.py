"""Port → bytes. Opens a serial port, and opens it again by itself after an unplug; which ports there are.

What pyserial 3.5 does, and what follows from it: a read may return a piece of a line, so lines are put
together elsewhere; an unplugged device raises `SerialException`, plain `OSError`, `termios.error`, or nothing
at all, so each of them means "gone" and a silent port is looked at; `is_open` stays true after an unplug, so
it is not asked; opening throws away what had arrived.
"""

import contextlib
import errno
import glob
import os
import stat
import time
from collections.abc import Callable
from dataclasses import KW_ONLY, dataclass, replace
from typing import Any, Self

from heatmap.errors import PortError

#: So long after a port has gone, and between attempts to open it again.
WAIT_S = 0.25

#: One read returns after this at the latest: short enough for a batch on the screen.
READ_S = 0.05

#: The pieces of one line follow each other faster than this: a sign takes 8 ms at 1200 baud, and USB adapters
#: pass on what they have every 16 ms (common practice, no source). After such a silence a line is whole.
SILENCE_S = 0.05

#: Everything pyserial may raise for a port that is not there (any more); its own SerialException is an OSError.
_GONE: tuple[type[Exception], ...] = (OSError, ValueError, TypeError)
with contextlib.suppress(ImportError):  # on Windows
    import termios

    _GONE = (*_GONE, termios.error)

_BY_ID = "/dev/serial/by-id"


@dataclass(frozen=True, slots=True, kw_only=True)
class Chunk:
    """What one read brought.

    Attributes
    ----------
    data : bytes
        What arrived; empty when nothing did.
    opened : bool
        The port was opened just before this data.
    mid_line : bool
        After opening: bytes were under way, so the data may start in the middle of a line.
    notice : str
        Something to tell the cook once; else "".
    """

    data: bytes = b""
    opened: bool = False
    mid_line: bool = False
    notice: str = ""


@dataclass(eq=False)
class SerialPort:
    """A serial port that comes back; use it in a `with` statement and read chunks.

    Parameters
    ----------
    url : str
        A device name (``/dev/ttyUSB0``, ``COM3``) or a pyserial address (``socket://host:port``, ``loop://``).
    baud : int
    open_device : callable, optional
        Opens the device; a stand-in for tests.
    clock, sleep : callable
        Seconds on a clock that does not jump; waiting.
    """

    url: str
    _: KW_ONLY
    baud: int = 9600
    open_device: Callable[[], Any] | None = None
    clock: Callable[[], float] = time.monotonic
    sleep: Callable[[float], None] = time.sleep

    def __post_init__(self) -> None:
        """Nothing is opened yet."""
        self._device: Any = None
        self._number: int | None = None  # of the device file, to see whether it is still the same
        self._first = Chunk()  # what came while it was opened
        self._next_try_s = 0.0

    def __enter__(self) -> Self:
        """Open the port, or raise `PortError` with what to do."""
        try:
            self._open()
        except _GONE as error:
            raise PortError(why_not_opened(self.url, error)) from error
        return self

    def __exit__(self, *_: object) -> None:
        """Close the port."""
        self._close()

    def read(self) -> Chunk:
        """Return what has arrived, within about a twentieth of a second; a lost port raises nothing."""
        if self._device is None:
            return self._try_again()
        chunk, self._first = self._first, Chunk()
        with contextlib.suppress(*_GONE):
            chunk = replace(chunk, data=chunk.data + self._received())
            if chunk.data or _device_number(self.url) == self._number:  # an unplug does not always raise an error
                return chunk
        self._close()
        return replace(chunk, notice=f"{self.url} is gone; plug it in again, everything so far is kept")

    def _received(self) -> bytes:
        """Read what there is; an error after the first bytes shows at the next read."""
        data = bytearray(self._device.read(1))
        with contextlib.suppress(*_GONE):
            until_s = self.clock() + READ_S
            while data and self.clock() <= until_s and (waiting := self._device.in_waiting):
                data += self._device.read(waiting)
        return bytes(data)

    def _open(self) -> None:
        try:
            self._device = self.open_device() if self.open_device else self._pyserial()
            self._number = _device_number(self.url)
            early = bytes(self._device.read(1))  # waits for SILENCE_S: is a line under way?
        except BaseException:
            self._close()
            raise
        self._first = Chunk(data=early, opened=True, mid_line=bool(early))

    def _pyserial(self) -> Any:
        import serial

        exclusive = None if "://" in self.url else True  # of two programs each would get half of what the gun sends
        return serial.serial_for_url(self.url, baudrate=self.baud, timeout=SILENCE_S, exclusive=exclusive)

    def _close(self) -> None:
        device, self._device, self._next_try_s = self._device, None, self.clock() + WAIT_S
        if device is not None:
            with contextlib.suppress(*_GONE):
                device.close()

    def _try_again(self) -> Chunk:
        wait_s = self._next_try_s - self.clock()
        if wait_s > 0:
            self.sleep(min(wait_s, READ_S))
            return Chunk()
        with contextlib.suppress(*_GONE):
            self._open()
            return Chunk(notice=f"{self.url} is back")
        return Chunk()


def _device_number(url: str) -> int | None:
    """Return the number of a device file, or None when this is none."""
    with contextlib.suppress(OSError):
        found = os.stat(url)
        return found.st_rdev if stat.S_ISCHR(found.st_mode) else None
    return None


def why_not_opened(url: str, error: Exception) -> str:
    """Return why a port cannot be opened and what to do, in one line."""
    number = getattr(error, "errno", None)
    if number in (errno.EACCES, errno.EPERM):
        return f"{url}: permission denied; {permission_hint(url)}"
    if number in (errno.EBUSY, errno.EAGAIN):
        return f"{url} is in use by another program; end that one first"
    if number == errno.ENOENT:
        names = ", ".join(port.device for port in list_ports()) or "none"
        return f"there is no port {url}; ports there are: {names} (see gratemap ports)"
    why = str(error) or type(error).__name__
    return f"{url} cannot be opened: {why}; see gratemap ports for what is there"


@dataclass(frozen=True, slots=True, kw_only=True)
class PortInfo:
    """A serial port: its device name, what it says it is, and a name that is the same after a replug."""

    device: str
    description: str = ""
    hardware: str = ""
    stable_name: str = ""


def list_ports() -> tuple[PortInfo, ...]:
    """Return the serial ports there are, those with something plugged in first."""
    from serial.tools import list_ports as tools

    stable, ports = stable_names(), []
    for port in tools.comports():
        description, hardware = ("" if text in (None, "n/a") else text for text in (port.description, port.hwid))
        stable_name = stable.get(os.path.realpath(port.device), "")
        ports.append(PortInfo(device=port.device, description=description, hardware=hardware, stable_name=stable_name))
    return tuple(sorted(ports, key=lambda port: (not port.hardware.startswith("USB"), port.device)))


def stable_names(folder: str = _BY_ID) -> dict[str, str]:
    """Return the names under /dev/serial/by-id by the device they stand for; nothing where there are none."""
    return {os.path.realpath(path): path for path in sorted(glob.glob(os.path.join(folder, "*")))}


def permission_hint(device: str) -> str:
    """Return what to do when a port may not be opened."""
    try:
        import grp

        group = grp.getgrgid(os.stat(device).st_gid).gr_name
    except (ImportError, OSError, KeyError):
        return "another program may hold it, or your account may not use it"
    return f"it belongs to the group {group}: run  sudo usermod -aG {group} $USER  once, then log out and in again"
