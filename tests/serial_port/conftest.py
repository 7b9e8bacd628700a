"""What the tests of the serial port share: a grill, and a pseudo-terminal that plays the gun."""

import contextlib
import os
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from heatmap.grill import Grate, Grill, TargetBand


@pytest.fixture(scope="session")
def grill() -> Grill:
    return Grill(
        grate=Grate(width_mm=24 * 25.4, depth_mm=18 * 25.4),
        target=TargetBand(low_c=288.0, high_c=315.0),
    )


class Gun:
    """A gun on a cable: a pseudo-terminal behind a link that stays the same, like a name under by-id."""

    def __init__(self, link: Path) -> None:
        self.link = str(link)
        self._master: int | None = None
        self.plug()

    def plug(self) -> None:
        self._master, slave = os.openpty()
        name = os.ttyname(slave)
        os.close(slave)
        os.symlink(name, self.link + ".new")
        os.replace(self.link + ".new", self.link)

    def unplug(self, *, leave_link: bool = False) -> None:
        if self._master is not None:
            os.close(self._master)
            self._master = None
        if not leave_link:
            with contextlib.suppress(FileNotFoundError):
                os.unlink(self.link)

    def send(self, data: bytes) -> None:
        assert self._master is not None
        while data:
            data = data[os.write(self._master, data[:2048]) :]


@pytest.fixture
def gun(tmp_path: Path) -> Iterator[Gun]:
    if not hasattr(os, "openpty"):
        pytest.skip("there are no pseudo-terminals here; real ports were not tried")
    found = Gun(tmp_path / "gun")
    yield found
    found.unplug()


def wait_until(done: Callable[[], bool], seconds: float = 20.0) -> None:
    until = time.monotonic() + seconds
    while not done():
        assert time.monotonic() < until, "it did not happen in time"


@pytest.fixture
def ordinary_account() -> Iterator[Path]:
    """Be an account that may not do everything; return a folder that it can reach but that is not its own."""
    if not hasattr(os, "geteuid"):
        pytest.skip("there are no such accounts here")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)
        before = os.geteuid()
        if before == 0:
            os.seteuid(65534)
        try:
            yield folder
        finally:
            os.seteuid(before)
