"""Maps and decides beside the entries, in a thread of its own: the newest wins, and when nothing happens it sleeps."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from heatmap.assessment import Assessment, assess
from heatmap.decisions.decision import Decision
from heatmap.decisions.tuning import SAME_SESSION_MIN, STALE_MIN
from heatmap.errors import HeatmapError, MapError
from heatmap.grill.grill import Grill
from heatmap.page.board import Board
from heatmap.page.state import cautions_part, decision_part, map_part, spots_part, turn_clock_part
from heatmap.readings.reading import Reading, Round

#: What is decided anew a little after a moment is past it for sure.
_AFTER = timedelta(seconds=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What is to be mapped: all rounds, the readings of the one taken, and what is said where there is no map of it."""

    rounds: tuple[Round, ...]
    number: int
    readings: tuple[Reading, ...]
    no_map: dict[str, Any]


class Mapping:
    """Keeps the map and the decision on a board up with what is wanted.

    Parameters
    ----------
    grill : Grill
    board : Board
    decide : callable
        The one decision from an assessment.
    """

    def __init__(self, grill: Grill, board: Board, decide: Callable[[Assessment], Decision]) -> None:
        """Begin to wait."""
        self.grill, self.board, self._decide = grill, board, decide
        self._news = threading.Condition()
        self._wanted: Wanted | None = None
        self._ended = False
        self._latest: tuple[Wanted, Assessment] | None = None
        self.searing_rail_c: float | None = None  # at the place the turn clock stands for
        self.advised: dict[str, float] = {}  # the marks that knobs are to be turned to
        threading.Thread(target=self._run, daemon=True, name="map").start()

    @property
    def assessment(self) -> Assessment | None:
        """The newest there is."""
        latest = self._latest
        return None if latest is None else latest[1]

    def of_round(self, number: int) -> Assessment | None:
        """Return the newest assessment, where it is of this round."""
        found = self.assessment
        return found if found is not None and found.round.number == number else None

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
                self.board.publish(decision=None, turn_clock=None, pending=False, trouble=f"No map: {why}")

    def _mapped(self, wanted: Wanted) -> datetime | None:
        try:
            found = assess(self.grill, wanted.rounds)
        except MapError:
            self.board.publish(decision=wanted.no_map, turn_clock=None, pending=False, trouble=None)
            return None
        self._latest = wanted, found
        here = found if found.round.number == wanted.number else None
        with self._news:
            newer = self._wanted is not None
        if newer:  # its readings are not these any more
            self.board.publish(map=map_part(found))
            return None
        self.board.publish(map=map_part(found), spots=spots_part(wanted.readings, self.grill, here))
        return self._decided()

    def _decided(self) -> datetime | None:
        """Decide by the time of now; return when to decide anew."""
        assert self._latest is not None
        wanted, found = self._latest
        decision = self._decide(found)
        self.searing_rail_c = None if decision.place is None else decision.place.rail_c
        self.advised = {one.burner: one.to_mark for one in decision.changes}
        with self._news:
            newer = self._wanted is not None
        if not newer:
            self.board.publish(
                decision=decision_part(found, decision),
                turn_clock=turn_clock_part(found, decision),
                cautions=cautions_part(decision),
                pending=False,
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
