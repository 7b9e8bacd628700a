"""The port itself: real pseudo-terminals, sockets and loops; unplugged, plugged in again, refused."""

import errno
import os
import socket
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Protocol

import pytest

from heatmap.errors import PortError
from heatmap.grill.grill import Grill
from heatmap.readings.typed import OverRange, Shot
from heatmap.serial_port import port as port_module
from heatmap.serial_port.intake import Intake
from heatmap.serial_port.lines import Rejected
from heatmap.serial_port.parse import PortItem, line_parser
from heatmap.serial_port.port import (
    WAIT_S,
    Chunk,
    SerialPort,
    list_ports,
    permission_hint,
    stable_names,
    why_not_opened,
)

serial = pytest.importorskip("serial")


class Gun(Protocol):
    link: str

    def plug(self) -> None: ...
    def unplug(self, *, leave_link: bool = False) -> None: ...
    def send(self, data: bytes) -> None: ...


class Listener:
    """Reads a port into an intake and keeps what came and what was said."""

    def __init__(self, port: SerialPort, grill: Grill) -> None:
        self.port, self.intake = port, Intake(line_parser(grill))
        self.items: list[PortItem] = []
        self.notices: list[str] = []

    def read(self) -> Chunk:
        chunk = self.port.read()
        if chunk.notice:
            self.notices.append(chunk.notice)
        self.items += self.intake.feed(chunk, time.monotonic())
        return chunk

    def until(self, done: Callable[[], bool], seconds: float = 20.0) -> None:
        limit = time.monotonic() + seconds
        while not done():
            assert time.monotonic() < limit, f"not in time; got {self.items[-3:]}, said {self.notices}"
            self.read()

    @property
    def shown_f(self) -> list[float]:
        return [round(item.shown_c * 1.8 + 32, 6) for item in self.items if isinstance(item, Shot)]


# A cable that holds


def test_lines_from_a_real_terminal(gun: Gun, grill: Grill) -> None:
    with SerialPort(gun.link) as port:
        listener = Listener(port, grill)
        gun.send(b"585.2\r\n")
        listener.until(lambda: listener.shown_f == [585.2])
        gun.send(b"59")
        time.sleep(0.12)
        listener.read()
        listener.read()
        assert listener.shown_f == [585.2], "a piece of a number is none"
        gun.send(b"0.1\r")
        listener.until(lambda: listener.shown_f == [585.2, 590.1])
        gun.send(b"\nB3 OL\r\n600\n")
        listener.until(lambda: len(listener.items) == 4)
        assert isinstance(listener.items[2], OverRange)
        assert port._device is not None


def test_20000_lines_as_fast_as_the_terminal_takes_them_all_land_in_order(gun: Gun, grill: Grill) -> None:
    count = 20_000
    sent = [f"{500 + n % 1000 / 10:.1f}" for n in range(count)]
    with SerialPort(gun.link) as port:
        listener = Listener(port, grill)
        feeder = threading.Thread(target=gun.send, args=("".join(f"{text}\r\n" for text in sent).encode(),))
        feeder.start()
        listener.until(lambda: len(listener.items) >= count, 60.0)
        feeder.join()
    assert listener.shown_f == [float(text) for text in sent]


def test_a_line_under_way_while_the_port_is_opened_gives_no_number(gun: Gun, grill: Grill) -> None:
    stop = threading.Event()

    def stream() -> None:
        while not stop.is_set():
            for sign in b"585.2\r\n":
                gun.send(bytes([sign]))
                time.sleep(0.002)

    feeder = threading.Thread(target=stream)
    feeder.start()
    try:
        for _ in range(10):
            with SerialPort(gun.link) as port:
                listener = Listener(port, grill)
                listener.until(lambda found=listener: len(found.shown_f) >= 3)  # type: ignore[misc]
            assert set(listener.shown_f) == {585.2}
    finally:
        stop.set()
        feeder.join()


def test_a_read_returns_soon_when_nothing_comes(gun: Gun) -> None:
    with SerialPort(gun.link) as port:
        began = time.monotonic()
        assert port.read().data == b""
        assert time.monotonic() - began < 1.0


# An unplug


def test_an_unplug_in_the_middle_of_a_number(gun: Gun, grill: Grill) -> None:
    with SerialPort(gun.link) as port:
        listener = Listener(port, grill)
        gun.send(b"590.1\n58")
        listener.until(lambda: listener.shown_f == [590.1])
        gun.unplug()
        listener.until(lambda: len(listener.notices) == 1)
        assert port._device is None
        for _ in range(10):
            listener.read()
        gun.plug()
        listener.until(lambda: len(listener.notices) == 2)
        gun.send(b"5.2\r\n601.3\r\n")
        listener.until(lambda: len(listener.items) == 4)
    assert "gone; plug it in again" in listener.notices[0]
    assert "is back" in listener.notices[1]
    assert listener.shown_f == [590.1, 601.3]
    assert [item.text for item in listener.items if isinstance(item, Rejected)] == ["58", "5.2"]


def test_what_arrived_before_the_unplug_is_kept(gun: Gun, grill: Grill) -> None:
    for _ in range(5):
        with SerialPort(gun.link) as port:
            listener = Listener(port, grill)
            gun.send(b"".join(b"%d\n" % (500 + n) for n in range(200)))
            time.sleep(0.02)
            listener.read()
            before = list(listener.shown_f)
            gun.unplug()
            listener.until(lambda found=listener: bool(found.notices))  # type: ignore[misc]
        gun.plug()
        assert listener.shown_f[: len(before)] == before
        assert listener.shown_f == [500.0 + n for n in range(len(listener.shown_f))]


def test_a_link_that_points_to_another_device_is_followed(gun: Gun, grill: Grill) -> None:
    """Replugged so fast, or so silently, that the old device raises nothing: the name is looked at."""
    with SerialPort(gun.link) as port:
        listener = Listener(port, grill)
        gun.send(b"585.2\n")
        listener.until(lambda: listener.shown_f == [585.2])
        old, gun._master = gun._master, None  # type: ignore[attr-defined]
        gun.plug()
        listener.until(lambda: len(listener.notices) == 2)
        gun.send(b"590.1\n")
        listener.until(lambda: listener.shown_f == [585.2, 590.1])
        os.close(old)


def test_many_replugs_never_give_a_piece_of_a_number(gun: Gun, grill: Grill) -> None:
    with SerialPort(gun.link) as port:
        listener = Listener(port, grill)
        for turn in range(8):
            got = len(listener.shown_f)
            gun.send(b"585.2\n" * 3 + b"585.2\n"[: turn % 6])
            listener.until(lambda want=got + 3: len(listener.shown_f) >= want)  # type: ignore[misc]
            gun.unplug()
            listener.until(lambda: port._device is None)
            gun.plug()
            listener.until(lambda: port._device is not None)
            gun.send(b"585.2\n"[turn % 6 :])
    assert set(listener.shown_f) == {585.2}
    assert len(listener.notices) == 16, "each unplug and each return is said once"


# Stand-ins


class StandIn:
    """A device that gives what it is told to, or raises it."""

    def __init__(self, *script: bytes | Exception) -> None:
        self.script = list(script)
        self.closed = False

    def read(self, size: int) -> bytes:
        if not self.script:
            return b""
        step = self.script[0]
        if isinstance(step, Exception):
            self.script.pop(0)
            raise step
        self.script[0] = step[size:]
        if not self.script[0]:
            self.script.pop(0)
        return step[:size]

    @property
    def in_waiting(self) -> int:
        step = self.script[0] if self.script else b""
        if isinstance(step, Exception):
            raise step
        return len(step)

    def close(self) -> None:
        self.closed = True


def _errors() -> list[Exception]:
    errors: list[Exception] = [
        serial.SerialException("read failed"),
        OSError(errno.EIO, "Input/output error"),
        serial.PortNotOpenError(),
        TypeError("an integer is required (got type NoneType)"),
        ValueError("file descriptor cannot be a negative integer (-1)"),
    ]
    if sys.platform != "win32":
        import termios

        errors.append(termios.error(5, "Input/output error"))
    return errors


@pytest.mark.parametrize("error", _errors(), ids=lambda error: type(error).__name__)
def test_everything_pyserial_raises_means_gone_and_is_recovered(error: Exception, grill: Grill) -> None:
    devices = [StandIn(b"", b"585\n", error), StandIn(b"", b"590\n")]
    opened = iter(devices)
    with SerialPort("gun", open_device=lambda: next(opened), sleep=lambda seconds: None) as port:
        listener = Listener(port, grill)
        listener.until(lambda: len(listener.shown_f) == 2, 5.0)
    assert listener.shown_f == [585.0, 590.0]
    assert all(device.closed for device in devices)
    assert len(listener.notices) == 2


def test_it_is_tried_again_a_few_times_a_second_and_said_once() -> None:
    now = [0.0]
    attempts: list[float] = []

    def open_device() -> Any:
        attempts.append(now[0])
        if len(attempts) == 1:
            return StandIn(b"", OSError(errno.EIO, "gone"))
        raise serial.SerialException(errno.ENOENT, "not there")

    def sleep(seconds: float) -> None:
        now[0] += seconds

    notices = []
    with SerialPort("gun", open_device=open_device, clock=lambda: now[0], sleep=sleep) as port:
        while now[0] < 30.0:
            notices.append(port.read().notice)
            now[0] += 0.001
    waits = [later - earlier for earlier, later in zip(attempts, attempts[1:], strict=False)]
    assert len(waits) > 90
    assert waits == pytest.approx([WAIT_S] * len(waits), abs=0.06)
    assert len([notice for notice in notices if notice]) == 1


def test_a_loop_inside_pyserial(grill: Grill) -> None:
    device = serial.serial_for_url("loop://", timeout=0.05)
    with SerialPort("loop://", open_device=lambda: device) as port:
        listener = Listener(port, grill)
        device.write(b"585.2\r\n59")
        listener.until(lambda: listener.shown_f == [585.2])
        device.write(b"0\n")
        listener.until(lambda: listener.shown_f == [585.2, 590.0])


def test_a_loop_by_its_address() -> None:
    with SerialPort("loop://") as port:
        assert port.read() == Chunk(opened=True)


@pytest.fixture
def server() -> Iterator[socket.socket]:
    with socket.create_server(("127.0.0.1", 0)) as found:
        found.settimeout(10.0)
        yield found


def test_a_gun_behind_a_socket_that_breaks_off(server: socket.socket, grill: Grill) -> None:
    with SerialPort(f"socket://127.0.0.1:{server.getsockname()[1]}") as port:
        listener = Listener(port, grill)
        line, _ = server.accept()
        with line:
            line.sendall(b"585.2\n590.0\n58")
            listener.until(lambda: listener.shown_f == [585.2, 590.0])
        listener.until(lambda: len(listener.notices) == 1)
        accepted: list[socket.socket] = []
        waiter = threading.Thread(target=lambda: accepted.append(server.accept()[0]))
        waiter.start()
        listener.until(lambda: port._device is not None)
        waiter.join()
        with accepted[0] as line:
            line.sendall(b"5.2\n601.0\n")
            listener.until(lambda: listener.shown_f == [585.2, 590.0, 601.0])


# Refused


def test_a_port_that_is_not_there_names_those_that_are(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("serial.tools.list_ports.comports", list)
    with (
        pytest.raises(PortError, match="there is no port /dev/not-there; ports there are: none"),
        SerialPort("/dev/not-there", open_device=lambda: _raise(errno.ENOENT)),
    ):
        pass


def _raise(number: int) -> Any:
    raise serial.SerialException(number, os.strerror(number))


@pytest.mark.parametrize("url", ["nonsense://x", "socket://127.0.0.1:1", "socket://127.0.0.1:99999", "/no/such/port"])
def test_an_address_that_cannot_be_opened_is_one_line(url: str) -> None:
    with pytest.raises(PortError) as caught, SerialPort(url):
        pass
    message = str(caught.value)
    assert url in message
    assert "\n" not in message


def test_a_file_is_no_port(tmp_path: Path) -> None:
    path = tmp_path / "readings.csv"
    path.write_text("x")
    with pytest.raises(PortError, match="cannot be opened"), SerialPort(str(path)):
        pass


@pytest.mark.skipif(sys.platform == "win32", reason="groups own devices on POSIX only")
def test_permission_denied_names_the_group_and_what_to_do(tmp_path: Path) -> None:
    import grp

    device = tmp_path / "ttyUSB0"
    device.write_text("")
    group = grp.getgrgid(device.stat().st_gid).gr_name
    by_id = tmp_path / "by-id"
    by_id.mkdir()
    (by_id / "usb-gun-if00").symlink_to(device)
    assert stable_names(str(by_id)) == {str(device): str(by_id / "usb-gun-if00")}
    message = why_not_opened(str(device), serial.SerialException(errno.EACCES, "could not open port"))
    assert f"permission denied; it belongs to the group {group}: run  sudo usermod -aG {group} $USER" in message
    assert "log out and in again" in message
    assert "another program" in permission_hint("COM3")


def test_a_port_of_another_account_is_refused_with_the_hint(ordinary_account: Path) -> None:
    account = os.geteuid()
    os.seteuid(os.getuid())
    master, slave = os.openpty()
    name = os.ttyname(slave)
    os.chmod(name, 0o600)
    os.seteuid(account)
    try:
        if os.access(name, os.W_OK, effective_ids=True):
            pytest.skip("this account owns the port")
        with pytest.raises(PortError, match="permission denied; it belongs to the group"), SerialPort(name):
            pass
    finally:
        os.close(master)
        os.close(slave)


def test_a_port_in_use_says_so(gun: Gun) -> None:
    with (
        SerialPort(gun.link),
        pytest.raises(PortError, match="in use by another program"),
        SerialPort(gun.link),
    ):
        pass


def test_ports_are_listed_with_what_they_are(monkeypatch: pytest.MonkeyPatch) -> None:
    class Found:
        def __init__(self, device: str, description: str, hwid: str) -> None:
            self.device, self.description, self.hwid = device, description, hwid

    found = [
        Found("/dev/ttyS0", "n/a", "n/a"),
        Found("/dev/ttyUSB0", "USB serial adapter", "USB VID:PID=0403:6001"),
    ]
    monkeypatch.setattr("serial.tools.list_ports.comports", lambda: found)
    monkeypatch.setattr(
        port_module, "stable_names", lambda: {os.path.realpath("/dev/ttyUSB0"): "/dev/serial/by-id/usb-x"}
    )
    first, second = list_ports()
    assert (first.device, first.description) == ("/dev/ttyUSB0", "USB serial adapter")
    assert first.stable_name == "/dev/serial/by-id/usb-x"
    assert (second.device, second.description, second.hardware) == ("/dev/ttyS0", "", "")
