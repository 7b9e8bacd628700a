"""The newest state, as both kinds of visitors get it, and who waits for the next."""

from __future__ import annotations

import asyncio
import contextlib
import json
import threading
import time
from collections.abc import AsyncGenerator, Callable
from datetime import datetime
from functools import partial
from typing import Any

from heatmap.page.state import composed


class Board:
    """Parts of the state, published from any thread; each time the version rises, also over restarts."""

    def __init__(self) -> None:
        """Begin with nothing."""
        self._lock = threading.Lock()
        self.version = int(time.time()) * 1000
        self._parts: dict[str, Any] = {}
        self._rest = b"}"
        self._wakes: set[Callable[[], object]] = set()  # one for each who follows, from any thread
        self.closed = False

    def publish(self, **parts: Any) -> None:
        """Put new parts of the state in the place of old ones, and wake who waits."""
        with self._lock:
            self._parts |= parts
            state = composed(self._parts)
            text = json.dumps(state, allow_nan=False, ensure_ascii=False, separators=(",", ":"))
            self._rest, self.version = f",{text[1:]}".encode(), self.version + 1
        self._wake()

    def state(self, *, watching: bool) -> tuple[int, bytes]:
        """Return the version, and the whole state as JSON with the time of now."""
        with self._lock:
            version, rest = self.version, self._rest
        head = json.dumps({"version": version, "watching": watching, "now": self.now()}, separators=(",", ":"))
        return version, head[:-1].encode() + rest

    def now(self) -> str:
        """Return the time of now here, with its offset."""
        return datetime.now().astimezone().isoformat(timespec="milliseconds")

    async def follow(self, within_s: float) -> AsyncGenerator[bool]:
        """Tell that there is a new state, at once and whenever one comes; False where none has come for so long."""
        news = asyncio.Event()
        wake = partial(asyncio.get_running_loop().call_soon_threadsafe, news.set)
        news.set()
        self._wakes.add(wake)
        try:
            while not self.closed:
                with contextlib.suppress(TimeoutError):
                    async with asyncio.timeout(within_s):
                        await news.wait()
                is_news = news.is_set()
                news.clear()
                yield is_news
        finally:
            self._wakes.discard(wake)

    @property
    def followers(self) -> int:
        """How many follow."""
        return len(self._wakes)

    def close(self) -> None:
        """End every stream."""
        self.closed = True
        self._wake()

    def _wake(self) -> None:
        for wake in tuple(self._wakes):
            with contextlib.suppress(RuntimeError):  # its loop has ended
                wake()
