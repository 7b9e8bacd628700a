"""The page as an ASGI application: what is served, to whom, and every way in which something is refused."""

from __future__ import annotations

import asyncio
import contextlib
import time
from collections import deque
from collections.abc import AsyncIterator, Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, RedirectResponse, Response, StreamingResponse
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from heatmap.errors import HeatmapError, LogError
from heatmap.page import tuning
from heatmap.page.board import Board
from heatmap.page.entries import ENTRIES, Entry, entry_of
from heatmap.page.page_file import PageFile, Role

STATIC = Path(__file__).with_name("static")
#: A cook's day, with the evening before it [s]; a phone that comes back goes on by itself.
_COOKIE_S = 7 * 86_400
_HEADERS = (
    (b"content-security-policy", b"default-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'self'"),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cache-control", b"no-cache"),  # asked for anew each time, and sent only when it is another
    (b"permissions-policy", b"camera=(), geolocation=(), microphone=()"),
)
#: So many wrong tokens are remembered; the oldest are forgotten first.
_MOST_WRONG = 10_000
_CLOSE = {"Connection": "close"}
_NO_PAGE = "there is no such page"
_COME_IN = "open the address, or scan the code, that gratemap shows on the laptop"


def page_app(page: Page, hosts: frozenset[str]) -> ASGIApp:
    """Return the application of a page, reached by these hosts (with their ports) and by no others."""
    inner = Starlette(
        routes=[
            Route("/", page.index),
            Route("/t/{token}", page.enter),
            Route("/api/state", page.state),
            Route("/api/events", page.events),
            Route("/api/explain/{position}", page.explained),
            Route("/api/{what}", page.entered, methods=["POST"]),
            Mount("/static", StaticFiles(directory=STATIC, check_dir=False)),
        ],
        exception_handlers=dict.fromkeys((HTTPException, HeatmapError, Exception), _refusal_of),
    )
    return _guarded(inner, hosts)


def refusal(status: int, why: str, headers: Mapping[str, str] | None = None) -> JSONResponse:
    """Return an error as one clear line."""
    return JSONResponse({"error": why}, status_code=status, headers=headers)


def _refusal_of(_request: Request, error: Exception) -> Response:
    match error:
        case HTTPException(status_code=status):
            plain = {404: _NO_PAGE, 405: "that is not done this way; see gratemap manual page"}
            return refusal(status, plain.get(status, error.detail), error.headers)
        case LogError():
            return refusal(500, f"{error}; try again")
        case HeatmapError():
            return refusal(400, str(error))
    return refusal(500, "this is a bug, not your doing; what was acknowledged is safe")


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """What the page is a window to, and its endpoints.

    Attributes
    ----------
    kept : PageFile
        Its two tokens.
    board : Board
    put : callable
        Hands an entry to whoever holds the session; from any thread.
    wrong : deque
        Which addresses have tried wrong tokens, and when.
    """

    kept: PageFile
    board: Board
    put: Callable[[Entry], None]
    wrong: deque[tuple[str, float]] = field(default_factory=lambda: deque(maxlen=_MOST_WRONG))

    # Coming in

    async def enter(self, request: Request) -> Response:
        """Exchange a token for a cookie, and take it out of the address."""
        token = request.path_params["token"]
        await self._opened(token, request)
        answer = RedirectResponse("/", status_code=303)
        answer.set_cookie(self.kept.cookie, token, max_age=_COOKIE_S, path="/", httponly=True, samesite="strict")
        return answer

    async def role(self, request: Request) -> Role:
        """Return who asks.

        Raises
        ------
        HTTPException
            401 for nobody, 429 after too many wrong tokens.
        """
        token = request.cookies.get(self.kept.cookie, "")
        if not token:
            raise HTTPException(401, f"nobody is let in without the token; {_COME_IN}")
        return await self._opened(token, request)

    async def _opened(self, token: str, request: Request) -> Role:
        """Return what a token opens; a wrong one is answered late."""
        if (found := self.kept.role(token)) is not None:
            return found
        address, at = request.client.host if request.client else "", time.monotonic()
        if sum(who == address and at - when < tuning.WRONG_WITHIN_S for who, when in self.wrong) >= tuning.WRONG_TOKENS:
            wait = str(round(tuning.WRONG_WITHIN_S))
            raise HTTPException(429, "too many wrong tokens; wait a minute", headers={"Retry-After": wait})
        self.wrong.append((address, at))
        await asyncio.sleep(tuning.WRONG_DELAY_S)
        raise HTTPException(401, f"this token is not that of this page; {_COME_IN}")

    # Looking

    async def index(self, request: Request) -> Response:
        """The page itself."""
        await self.role(request)
        return FileResponse(STATIC / "index.html")

    async def state(self, request: Request) -> Response:
        """The whole state."""
        _, body = self.board.state(watching=await self.role(request) == "watch")
        return Response(body, media_type="application/json")

    async def events(self, request: Request) -> Response:
        """The state now, and again whenever it changes."""
        watching = await self.role(request) == "watch"
        if request.method != "GET":
            raise HTTPException(405)
        if self.board.followers >= tuning.MOST_STREAMS:
            raise HTTPException(429, f"{tuning.MOST_STREAMS} screens follow already; close one")
        return _Events(self._stream(watching), media_type="text/event-stream")

    async def _stream(self, watching: bool) -> AsyncIterator[bytes]:
        """Server-sent events (WHATWG HTML, section 9.2): the state when it changes, a beat when nothing does."""
        yield b"retry: 2000\n\n"
        async with contextlib.aclosing(self.board.follow(tuning.HEARTBEAT_S)) as follow:
            async for is_news in follow:
                if is_news:
                    yield b"id: %d\nevent: state\ndata: %s\n\n" % self.board.state(watching=watching)
                else:
                    yield b'event: beat\ndata: "%s"\n\n' % self.board.now().encode()

    async def explained(self, request: Request) -> Response:
        """How a position's number came about, in three lines."""
        await self.role(request)
        position = request.path_params["position"]
        lines = await run_in_threadpool(self.board.explain, position)
        return JSONResponse({"position": position.upper(), "lines": lines})

    # Entering

    async def entered(self, request: Request) -> Response:
        """Have an entry taken in."""
        what = request.path_params["what"]
        if what not in ENTRIES:
            raise HTTPException(404)
        if await self.role(request) != "cook":
            raise HTTPException(401, "this address is for watching; the cook's own address enters readings")
        entry = entry_of(what, await _body(request), self.board.grill)
        self.put(entry)
        try:
            async with asyncio.timeout(tuning.ANSWERED_WITHIN_S):
                status, body = await asyncio.shield(asyncio.wrap_future(entry.answer))
        except TimeoutError:
            raise HTTPException(500, "no answer yet whether it is kept; send it again with the same key") from None
        return JSONResponse(body, status_code=status)


async def _body(request: Request) -> bytes:
    """Return the body.

    Raises
    ------
    HTTPException
        413 where it is too large, whatever it says of its length; 400 where it does not come.
    """
    most = tuning.LARGEST_BODY_BYTES
    too_large = HTTPException(413, f"an entry has at most {most // 1024} KiB", headers=_CLOSE)
    told = request.headers.get("content-length", "")
    if told.isdigit() and int(told[:20]) > most:  # at once, not when it has come, or has not
        raise too_large
    body = bytearray()
    try:
        async with asyncio.timeout(tuning.PATIENCE_S):
            async for chunk in request.stream():
                body += chunk
                if len(body) > most:
                    raise too_large
    except TimeoutError:
        raise HTTPException(400, "the entry did not come in time", headers=_CLOSE) from None
    return bytes(body)


class _Events(StreamingResponse):
    """A stream that is ended whatever ends it."""

    async def stream_response(self, send: Send) -> None:
        """Send until one of both ends is gone."""
        async with contextlib.aclosing(self.body_iterator):  # type: ignore[type-var]
            await super().stream_response(send)


def _guarded(app: ASGIApp, hosts: frozenset[str]) -> ASGIApp:
    """Put around everything who is spoken to as whom, the headers of every answer, and that nobody sees a traceback."""

    async def answer(scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            return

        async def send_on(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [*message.get("headers", ()), *_HEADERS]
            async with asyncio.timeout(tuning.PATIENCE_S):  # a reader that takes nothing is given up
                await send(message)

        with contextlib.suppress(Exception):  # it was answered; nobody is to see more of it
            await (_refused(scope, hosts) or app)(scope, receive, send_on)

    return answer


def _refused(scope: Scope, known: frozenset[str]) -> ASGIApp | None:
    headers = [(name, value.decode("latin-1").strip().lower()) for name, value in scope["headers"]]
    hosts = [value for name, value in headers if name == b"host"]
    if len(hosts) != 1 or hosts[0] not in known:
        return refusal(400, "this page is reached by its own address only", _CLOSE)
    origins = [value for name, value in headers if name == b"origin"]
    if any(one != f"http://{hosts[0]}" for one in origins):
        return refusal(400, "another site may not use this page", _CLOSE)
    if "\0" in scope["path"]:  # no file can have such a name
        return refusal(404, _NO_PAGE)
    return None
