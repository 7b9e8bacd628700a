"""The newest state, as both kinds of visitors get it, and who waits for the next.

Its map and decision are worked out beside the entries, in a thread of their own: the newest wins, and when nothing
happens it sleeps.
"""

import asyncio
import contextlib
import json
import threading
import time
from collections.abc import AsyncGenerator, Callable
from datetime import UTC, datetime, timedelta
from functools import partial
from queue import Empty, SimpleQueue
from typing import Any

from heatmap.assessment import Assessment, assess
from heatmap.decisions.decision import Decision
from heatmap.decisions.tuning import SAME_SESSION_MIN, STALE_MIN
from heatmap.errors import HeatmapError, MapError
from heatmap.grill.grill import Grill
from heatmap.page.state import composed, decision_part, map_part, turn_clock_part, verdicts_part
from heatmap.readings.reading import Round
from heatmap.words.explain import three_lines
from heatmap.words.sear import all_cautions

#: What is decided anew a little after a moment is past it for sure.
_AFTER = timedelta(seconds=1)


class Board:
    """Parts of the state, published from any thread; each time the version rises, also over restarts.

    Map and decision are kept up with what is wanted.

    Parameters
    ----------
    grill : Grill
    decide : callable
        The one decision from an assessment.
    """

    def __init__(self, grill: Grill, decide: Callable[[Assessment], Decision]) -> None:
        """Begin with nothing."""
        self.grill, self._decide = grill, decide
        self._lock = threading.Lock()
        self.version = int(time.time()) * 1000
        self._parts: dict[str, Any] = dict.fromkeys(("map", "decision", "turn_clock", "trouble"))
        self._parts["cautions"] = all_cautions(grill)
        self._rest = b"}"
        self._wakes: set[Callable[[], object]] = set()  # one for each who follows, from any thread
        self._closed = False
        self._waiting: SimpleQueue[Callable[[], datetime | None] | None] = SimpleQueue()  # None for the end
        self._stands_at: tuple[int, ...] = ()  # of the readings that are decided on
        self.assessment: Assessment | None = None  # the newest there is
        self.decision: Decision | None = None  # the newest on it
        threading.Thread(target=self._run, daemon=True, name="map").start()

    # What is shown

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
            while not self._closed:
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

    def end(self) -> None:
        """End every stream, and stop after what is being worked on."""
        self._closed = True
        self._wake()
        self._waiting.put(None)

    def _wake(self) -> None:
        for wake in tuple(self._wakes):
            with contextlib.suppress(RuntimeError):  # its loop has ended
                wake()

    # What is mapped and decided

    def want(self, rounds: tuple[Round, ...], stands_at: tuple[int, ...], no_map: dict[str, Any]) -> None:
        """Have these rounds mapped next; what waited before is dropped.

        Parameters
        ----------
        rounds : tuple of Round
        stands_at : tuple of int
            Changes with everything a map or a decision hangs on.
        no_map : dict
            What to do where there is no map of the newest.
        """
        self._waiting.put(partial(self._mapped, rounds, stands_at, no_map))

    def explain(self, position: str) -> list[str]:
        """Return how a position's number on the newest map came about, in three lines; slow.

        Raises
        ------
        HeatmapError
            When there is no map yet, or no such position.
        """
        if self.assessment is None:
            raise MapError("too few readings for a map yet")
        return three_lines(self.assessment, position)

    def _run(self) -> None:
        until: datetime | None = None
        while True:
            left_s = None if until is None else max(0.0, (until - datetime.now(UTC)).total_seconds())
            newest: Callable[[], datetime | None] | None = self._decided
            with contextlib.suppress(Empty):
                newest = self._waiting.get(timeout=left_s)
                while not self._waiting.empty():
                    newest = self._waiting.get()
            if newest is None:
                return
            try:
                until = newest()
            except Exception as error:  # the entries go on, whatever becomes of the map
                until = None
                why = str(error) if isinstance(error, HeatmapError) else f"this is a bug: {type(error).__name__}"
                self._publish_decided(decision=None, turn_clock=None, trouble=f"No map: {why}")

    def _publish_decided(self, **parts: Any) -> None:
        self.publish(mapped_at=self._stands_at, **parts)

    def _mapped(self, rounds: tuple[Round, ...], stands_at: tuple[int, ...], no_map: dict[str, Any]) -> datetime | None:
        self._stands_at = stands_at
        try:
            found = assess(self.grill, rounds)
        except MapError:
            self._publish_decided(decision=no_map, turn_clock=None, trouble=None)
            return None
        self.assessment = found
        self.publish(map=map_part(found), verdicts=verdicts_part(found))
        return self._decided() if self._waiting.empty() else None  # what is to be done follows from newer readings

    def _decided(self) -> datetime | None:
        """Decide by the time of now; return when to decide anew."""
        found = self.assessment
        assert found is not None
        decision = self.decision = self._decide(found)
        self._publish_decided(
            decision=decision_part(found, decision),
            turn_clock=turn_clock_part(found, decision),
            cautions=all_cautions(self.grill, decision.plan),
            trouble=None,
        )
        return _next_change(found, decision)


def _next_change(found: Assessment, decision: Decision) -> datetime | None:
    """Return when the passing of time alone changes the decision."""
    moments = [] if decision.until is None or decision.do != "wait" else [decision.until]
    if found.round.taken_at is not None:
        moments += [found.round.taken_at + timedelta(minutes=minutes) for minutes in (STALE_MIN, SAME_SESSION_MIN)]
    now = datetime.now(UTC)
    to_come = [one for one in moments if one > now]
    return min(to_come) + _AFTER if to_come else None
