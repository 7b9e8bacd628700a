"""The newest state, as both kinds of visitors get it, and who waits for the next."""

from __future__ import annotations

import asyncio
import json
import threading
import time
from datetime import datetime
from typing import Any

from heatmap.page.state import composed


class Follower:
    """One event stream that waits for news, in the loop it was made in."""

    def __init__(self) -> None:
        """Begin with the state of now as news."""
        self._loop, self._news = asyncio.get_running_loop(), asyncio.Event()
        self._news.set()

    def wake(self) -> None:
        """Tell that there is news; from any thread."""
        if not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._news.set)

    async def news(self, within_s: float) -> bool:
        """Wait for news; False when the time is over."""
        try:
            async with asyncio.timeout(within_s):
                await self._news.wait()
        except TimeoutError:
            return False
        self._news.clear()
        return True


class Board:
    """Parts of the state, published from any thread; each time the version rises, also over restarts."""

    def __init__(self) -> None:
        """Begin with nothing."""
        self._lock = threading.Lock()
        self.version = int(time.time()) * 1000
        self._parts: dict[str, Any] = {}
        self._rest = b"}"
        self._followers: set[Follower] = set()
        self.closed = False

    def publish(self, **parts: Any) -> None:
        """Put new parts of the state in the place of old ones, and wake who waits."""
        with self._lock:
            self._parts |= parts
            state = composed(self._parts)
            text = json.dumps(state, allow_nan=False, ensure_ascii=False, separators=(",", ":"))
            self._rest, self.version = f",{text[1:]}".encode(), self.version + 1
            followers = tuple(self._followers)
        for one in followers:
            one.wake()

    def state(self, *, watching: bool) -> tuple[int, bytes]:
        """Return the version, and the whole state as JSON with the time of now."""
        with self._lock:
            version, rest = self.version, self._rest
        head = json.dumps({"version": version, "watching": watching, "now": self.now()}, separators=(",", ":"))
        return version, head[:-1].encode() + rest

    def now(self) -> str:
        """Return the time of now here, with its offset."""
        return datetime.now().astimezone().isoformat(timespec="milliseconds")

    def join(self) -> Follower:
        """Begin to follow."""
        follower = Follower()
        with self._lock:
            self._followers.add(follower)
        return follower

    def leave(self, follower: Follower) -> None:
        """Follow no longer."""
        with self._lock:
            self._followers.discard(follower)

    @property
    def followers(self) -> int:
        """How many follow."""
        return len(self._followers)

    def close(self) -> None:
        """End every stream."""
        self.closed = True
        for one in tuple(self._followers):
            one.wake()
