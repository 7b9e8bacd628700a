"""Maps and decides beside the entries, in a thread of its own: the newest wins, and when nothing happens it sleeps."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from heatmap.assessment import Assessment, assess
from heatmap.decisions.decision import Decision
from heatmap.decisions.tuning import SAME_SESSION_MIN, STALE_MIN
from heatmap.errors import HeatmapError, MapError
from heatmap.grill.grill import Grill
from heatmap.page.board import Board
from heatmap.page.state import cautions_part, decision_part, map_part, turn_clock_part, verdicts_part
from heatmap.readings.reading import Reading, Round
from heatmap.taking.running import GrowingMap
from heatmap.taking.session import Session

#: What is decided anew a little after a moment is past it for sure.
_AFTER = timedelta(seconds=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What is to be mapped.

    Attributes
    ----------
    rounds : tuple of Round
        All of them.
    stands_at : tuple of int
        Changes with everything a map or a decision hangs on.
    no_map : dict
        What to do where there is no map of the newest.
    session : Session
        A snapshot.
    growing : GrowingMap or None
        Keeps up with it in this thread; None where somebody else does.
    """

    rounds: tuple[Round, ...]
    stands_at: tuple[int, ...]
    no_map: dict[str, Any]
    session: Session
    growing: GrowingMap | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Grown:
    """What judges the numbers to come, and which of those before do not fit; for the round as it stood."""

    session: Session
    suspects: Sequence[tuple[Reading, float]]


class Mapping:
    """Keeps the map and the decision on a board up with what is wanted.

    Parameters
    ----------
    grill : Grill
    board : Board
    decide : callable
        The one decision from an assessment.
    put : callable
        Hands what has grown to the thread that holds the session.
    """

    def __init__(
        self, grill: Grill, board: Board, decide: Callable[[Assessment], Decision], put: Callable[[Grown], None]
    ) -> None:
        """Begin to wait."""
        self.grill, self.board, self._decide, self._put = grill, board, decide, put
        self._news = threading.Condition()
        self._wanted: Wanted | None = None
        self._ended = False
        self._assessment: Assessment | None = None
        self._stands_at: tuple[int, ...] = ()  # of the readings that are decided on
        self.searing_rail_c: float | None = None  # at the place the turn clock stands for
        self.advised: dict[str, float] = {}  # the marks that knobs are to be turned to
        threading.Thread(target=self._run, daemon=True, name="map").start()

    @property
    def assessment(self) -> Assessment | None:
        """The newest there is."""
        return self._assessment

    def want(self, wanted: Wanted) -> None:
        """Have this mapped next; what waited before is dropped."""
        with self._news:
            self._wanted = wanted
            self._news.notify()

    def end(self) -> None:
        """Stop after what is being worked on."""
        with self._news:
            self._ended = True
            self._news.notify()

    def _run(self) -> None:
        until: datetime | None = None
        while True:
            with self._news:
                left = None if until is None else max(0.0, (until - datetime.now(UTC)).total_seconds())
                self._news.wait_for(lambda: self._wanted is not None or self._ended, left)
                wanted, self._wanted = self._wanted, None
                if self._ended:
                    return
            try:
                until = self._decided() if wanted is None else self._mapped(wanted)
            except Exception as error:  # the entries go on, whatever becomes of the map
                until = None
                why = str(error) if isinstance(error, HeatmapError) else f"this is a bug: {type(error).__name__}"
                self._stands_at = self._stands_at if wanted is None else wanted.stands_at
                self._publish(decision=None, turn_clock=None, trouble=f"No map: {why}")

    def _publish(self, **parts: Any) -> None:
        self.board.publish(mapped_at=self._stands_at, **parts)

    def _mapped(self, wanted: Wanted) -> datetime | None:
        try:
            found = assess(self.grill, wanted.rounds)
        except MapError:
            self._stands_at = wanted.stands_at
            self._publish(decision=wanted.no_map, turn_clock=None, trouble=None)
            self._grow(wanted)
            return None
        self._assessment = found
        self.board.publish(map=map_part(found), verdicts=verdicts_part(found))
        self._grow(wanted)
        with self._news:
            if self._wanted is not None:
                return None  # what is to be done now follows from newer readings
        self._stands_at = wanted.stands_at
        return self._decided()

    def _grow(self, wanted: Wanted) -> None:
        if wanted.growing is not None:
            wanted.growing.update(wanted.session)
            self._put(Grown(session=wanted.session, suspects=wanted.growing.new_suspects()))

    def _decided(self) -> datetime | None:
        """Decide by the time of now; return when to decide anew."""
        found = self._assessment
        assert found is not None
        decision = self._decide(found)
        self.searing_rail_c = None if decision.place is None else decision.place.rail_c
        self.advised = {one.burner: one.to_mark for one in decision.changes}
        self._publish(
            decision=decision_part(found, decision),
            turn_clock=turn_clock_part(found, decision),
            cautions=cautions_part(decision),
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
