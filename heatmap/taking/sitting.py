"""One sitting at the grill: the session of the moment and its log; what the session asks for is done here.

Whoever hears the cook, the keyboard's loop or the page, hands over what was heard and shows what came of it
(`Outcome`). All that is written at one go goes to the disk in one write and one flush.
"""

from collections.abc import Callable
from copy import copy
from dataclasses import replace
from datetime import datetime

from heatmap.errors import HeatmapError
from heatmap.readings.log import ReadingsLog
from heatmap.readings.reading import ITSELF, Reading, group_rounds
from heatmap.taking.running import GrowingMap
from heatmap.taking.session import Event, Outcome, Session


class Sitting:
    """A session, its log and the rounds before it. Like the session it changes as it goes on.

    Parameters
    ----------
    session : Session
    log : ReadingsLog
        Open.
    clock : callable
        Returns the time, UTC.

    Attributes
    ----------
    map : GrowingMap
    said : str
        What was told last of a reading that does not fit the others; empty once something else is written.
    """

    def __init__(self, session: Session, log: ReadingsLog, clock: Callable[[], datetime]) -> None:
        """Begin."""
        self.session, self.log, self._clock = session, log, clock
        self.map = GrowingMap()
        self.said = ""

    def go_on_with(self, session: Session) -> None:
        """Take another round."""
        self.session, self.map = session, GrowingMap()

    def update_map(self) -> Outcome:
        """Map what was shot, and ask again for what does not fit the others."""
        self.map.update(self.session)
        spots = self.map.running.spots if self.map.running else ()
        odd = ((one.spot.reading, one.expected_shown_c) for one in spots if one.expected_shown_c is not None)
        came = self.session.suspects_found(odd)
        self.said = came.told[-1] if came.told else self.said
        return came

    def hear(self, what: str | Event, beside_at: datetime | None = None, *, key: str = "", **how: bool) -> Outcome:
        """Hear something and write what comes of it; what cannot be written is as if it was not said.

        Parameters
        ----------
        what : str or Event
        beside_at : datetime, optional
            When an event came past the keyboard; then it is heard as :meth:`Session.hear_beside` hears it.
        key : str
            What the entry was named by; kept with every row of it.
        **how : bool
            As :meth:`Session.hear_beside`.

        Raises
        ------
        ReadingError
            As :meth:`heatmap.taking.session.Session.hear`.
        LogError
            When nothing was written.
        """
        session, stood = self.session, vars(self.session).items()
        before = {name: copy(value) if isinstance(value, list | dict | set) else value for name, value in stood}
        try:
            if isinstance(what, str) or beside_at is None:
                return self.write(session.hear(what, self._clock()))
            return self.write(session.hear_beside(what, beside_at, **how), key=key)
        except HeatmapError:
            vars(session).update(before)
            raise

    def write(self, came: Outcome, *, key: str = "") -> Outcome:
        """Write what is to be written; return the outcome with the rows as they are on the disk.

        Raises
        ------
        ReadingError
            When a row is to be withdrawn that is not there or is withdrawn already.
        LogError
            When nothing was written.
        """
        rows: list[Reading] = []
        for change in came.changes:
            why = f"{change.why} by {self.log.next_id + len(rows)}" if change.new else change.why
            # The new numbers come first: whatever happens in between, no number is lost.
            rows += change.new
            rows += [self.log.withdrawal(one.id, why, taken_at=self._clock()) for one in change.old]
        came.written = self.log.append_all(replace(row, key=key) for row in rows)
        pairs = zip(rows, came.written, strict=True)
        of_its_own = {row.id: one for row, one in pairs if row.shown_c is not None or row.void in (None, ITSELF)}
        self.session.numbered(of_its_own)
        self.said = "" if came.written else self.said
        number = self.session.number
        if any(one.round != number for one in came.written):
            self.session.earlier = tuple(one for one in group_rounds(self.log.readings) if one.number != number)
            self.map = GrowingMap()
        return came
