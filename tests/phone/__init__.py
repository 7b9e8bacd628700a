"""A page three ways: its application alone, on a socket of this process, and as the command in one of its own."""

from __future__ import annotations

import asyncio
import contextlib
import http.client
import json
import os
import signal
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import unquote

from cli.page import PageServer, first_session, listen
from cli.take import Plan
from heatmap import load_grill
from heatmap.page.app import page_app
from heatmap.readings.csv_file import read_readings
from heatmap.readings.log import ReadingsLog
from heatmap.readings.reading import Reading
from heatmap.taking.sitting import Sitting
from started import PIPE, Started

GRILL = """\
name = "terrace <script>alert(1)</script>"
[grate]
width = 24.0
depth = 18.0
[[burner]]
name = "left"
from = [4.0, 1.0]
to = [4.0, 17.0]
[[burner]]
name = "right"
marks = ["LO", "MED", "HI"]
from = [20.0, 1.0]
to = [20.0, 17.0]
[target]
low = 550.0
high = 600.0
[food]
size = [7.5, 5.0]
target = 137.0
"""
#: A round as it is asked for, with numbers of a grate that leans a little.
WALK = "B2 A1 C4 A4 C1 A2 B3 B1 A3 C2 B4 C3".split()
NUMBERS = dict(zip(WALK, (580, 562, 601, 571, 590, 566, 588, 577, 570, 593, 584, 597), strict=True))
PATIENCE_S = 40.0


def rows(folder: Path) -> tuple[Reading, ...]:
    """Return every row of the log, strictly read."""
    path = folder / "readings.csv"
    return read_readings(path, load_grill(folder / "grill.toml")).readings if path.exists() else ()


class Opened:
    """A sitting with its desk in this process; whoever puts an entry is answered at once."""

    def __init__(self, folder: Path) -> None:
        grill = load_grill(folder / "grill.toml")
        plan = Plan(grill_file=folder / "grill.toml", readings_file=folder / "readings.csv")
        self.folder, self.grill = folder, grill
        self._log = ReadingsLog(plan.readings_file, grill, keyed=True)
        self._log.__enter__()
        self.sitting = Sitting(first_session(self._log), self._log, lambda: datetime.now(UTC))
        self._one = threading.Lock()
        self.server = PageServer(listen("127.0.0.1", 0), plan, self.sitting, self._put)
        self.desk, self.board = self.server.desk, self.server.page.board

    def _put(self, event: Any) -> None:
        with self._one:
            if self.desk.answer(event):
                self.desk.follow_up()

    @property
    def host(self) -> str:
        return f"127.0.0.1:{self.server.port}"

    def client(self, token: str | None = None) -> Browser:
        """Return a browser that has come in with the cook's token, or another; "" for none."""
        app = page_app(self.server.page, self.server.hosts)
        client = Browser(app, self.host)
        token = self.server.kept.cook if token is None else token
        if token:
            assert client.get(f"/t/{token}").status_code == 303
        return client

    def state_when(self, wanted: Callable[[dict[str, Any]], Any]) -> dict[str, Any]:
        """Wait until the state is so."""
        until = time.monotonic() + PATIENCE_S
        while True:
            state = json.loads(self.board.state(watching=False)[1])
            if wanted(state):
                return state
            assert time.monotonic() < until, {**state, "map": None, "grill": None}
            time.sleep(0.02)

    def close(self) -> None:
        self.server.__exit__()
        self._log.close()


@dataclass(frozen=True)
class Answer:
    """What came back."""

    status_code: int
    headers: dict[str, str]
    content: bytes

    @property
    def text(self) -> str:
        return self.content.decode()

    def json(self) -> Any:
        return json.loads(self.content)


class Browser:
    """Speaks to an ASGI application without a socket, and keeps its cookies."""

    def __init__(self, app: Any, host: str) -> None:
        self._app, self._host = app, host
        self.cookies: dict[str, str] = {}

    def get(self, path: str, **more: Any) -> Answer:
        return self.request("GET", path, **more)

    def post(self, path: str, json: Any = None, content: bytes | Iterable[bytes] = b"", **more: Any) -> Answer:
        return self.request("POST", path, _bytes(json) if json is not None else content, **more)

    def request(
        self,
        method: str,
        path: str,
        content: bytes | Iterable[bytes] = b"",
        headers: dict[str, str] | None = None,
    ) -> Answer:
        chunks = [content] if isinstance(content, bytes) else list(content)
        named = {"host": self._host, "cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}
        if isinstance(content, bytes):
            named["content-length"] = str(len(content))
        named |= {name.lower(): value for name, value in (headers or {}).items()}
        scope = {
            "type": "http",
            "asgi": {"version": "3.0"},
            "http_version": "1.1",
            "method": method,
            "scheme": "http",
            "path": unquote(path),
            "raw_path": path.encode(),
            "query_string": b"",
            "root_path": "",
            "headers": [(name.encode(), value.encode()) for name, value in named.items()],
            "client": ("127.0.0.1", 5),
            "server": ("127.0.0.1", 80),
        }
        answer = asyncio.run(self._ask(scope, chunks))
        if "set-cookie" in answer.headers:
            name, _, value = answer.headers["set-cookie"].partition(";")[0].partition("=")
            self.cookies[name] = value
        return answer

    async def _ask(self, scope: dict[str, Any], chunks: list[bytes]) -> Answer:
        got: list[dict[str, Any]] = []

        async def receive() -> dict[str, Any]:
            if chunks:
                return {"type": "http.request", "body": chunks.pop(0), "more_body": bool(chunks)}
            await asyncio.Event().wait()
            raise AssertionError

        async def send(message: dict[str, Any]) -> None:
            got.append(message)

        await self._app(scope, receive, send)
        headers = {name.decode().lower(): value.decode() for name, value in got[0]["headers"]}
        return Answer(got[0]["status"], headers, b"".join(one.get("body", b"") for one in got[1:]))


def _bytes(value: Any) -> bytes:
    return json.dumps(value).encode()


class Phone:
    """What a phone does, over a socket."""

    def __init__(self, url: str) -> None:
        self.host, _, self.token = url.removeprefix("http://").partition("/t/")
        status, headers, _ = self.ask("GET", f"/t/{self.token}")
        assert status == 303
        self.cookie = headers["set-cookie"].partition(";")[0]

    cookie = ""

    def ask(
        self, method: str, path: str, body: bytes | None = None, **headers: str
    ) -> tuple[int, dict[str, str], bytes]:
        connection = http.client.HTTPConnection(self.host, timeout=PATIENCE_S)
        try:
            named = {name.replace("_", "-"): value for name, value in headers.items()}
            connection.request(method, path, body, {"Cookie": self.cookie, **named})
            answer = connection.getresponse()
            return answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read()
        finally:
            connection.close()

    def post(self, what: str, **entry: Any) -> tuple[int, dict[str, Any]]:
        status, _, body = self.ask("POST", f"/api/{what}", _bytes(entry))
        told = json.loads(body)
        told.pop("version", None)
        return status, told

    def state(self) -> dict[str, Any]:
        return json.loads(self.ask("GET", "/api/state")[2])

    def follow(self) -> Iterator[dict[str, Any]]:
        """Yield the state at every event."""
        connection = http.client.HTTPConnection(self.host, timeout=PATIENCE_S)
        connection.request("GET", "/api/events", headers={"Cookie": self.cookie})
        answer = connection.getresponse()
        assert answer.status == 200, answer.read()
        with contextlib.closing(connection):
            name = b""
            while line := answer.readline():
                if line.startswith(b"event: "):
                    name = line[7:].strip()
                elif line.startswith(b"data: ") and name == b"state":
                    yield json.loads(line[6:])


class Command:
    """`gratemap page` in a process of its own."""

    def __init__(self, folder: Path, *words: str, port: int = 0) -> None:
        self.folder, self.port = folder, port
        self.process = Started(
            *("page", "--say-url", "--port", str(port), *words),
            cwd=folder,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
            stdout=PIPE,
            stderr=PIPE,
            text=True,
        )
        assert self.process.stdout is not None and self.process.stderr is not None
        self.urls = [self.process.stdout.readline().strip() for _ in range(2)]
        assert self.urls[0].startswith("http://"), self.process.stderr.read()
        self.port = int(self.urls[0].split(":")[2].partition("/")[0])

    def kill(self) -> None:
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()

    def end(self) -> str:
        """End it as Ctrl-C does; return what it said."""
        self.process.send_signal(signal.SIGINT)
        _, said = self.process.communicate(timeout=PATIENCE_S)
        return said
