"""One sitting at the grill: the session of the moment and its log; what the session asks for is done here.

Whoever hears the cook, the keyboard's loop or the page, hands over what the session answered and says what is to
become of what is told (`Audience`). All that is written at one go goes to the disk in one write and one flush.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime

from heatmap.errors import LogError
from heatmap.readings.log import ReadingsLog
from heatmap.readings.reading import Reading, group_rounds
from heatmap.readings.typed import Done, Help
from heatmap.taking.running import GrowingMap
from heatmap.taking.session import Session
from heatmap.taking.standing import Change, Effect, Tell


class Audience:
    """Who is told what comes of an entry; as it stands, somebody who hears of nothing but what is lost."""

    def tell(self, text: str) -> None:
        """Show a line."""

    def ring(self, times: int) -> None:
        """Sound the bell."""

    def show_help(self) -> None:
        """Show what can be typed."""

    def kept(self, readings: Sequence[Reading]) -> None:
        """Take note that these rows are on the disk."""

    def lost(self, error: LogError, readings: Sequence[Reading]) -> None:
        """Take note that nothing was written, and which numbers are lost by it."""
        raise error


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
        """Take another round from here on."""
        self.session = session
        self.look_back()

    def look_back(self) -> None:
        """Read the rounds before this one again."""
        number = self.session.number
        self.session.earlier = tuple(one for one in group_rounds(self.log.readings) if one.number != number)
        self.map = GrowingMap()

    def update_map(self, audience: Audience) -> None:
        """Map what was shot, and ask again for what does not fit the others."""
        self.map.update(self.session)
        for reading, expected_c in self.map.suspects():
            effects = self.session.suspect_found(reading, expected_c)
            self.said = next((one.text for one in effects if isinstance(one, Tell)), self.said)
            self.carry_out(effects, audience)

    def carry_out(self, effects: Sequence[Effect], audience: Audience, *, key: str = "") -> bool:
        """Do what the session asks for, one after the other; True when the round is over.

        Parameters
        ----------
        effects : sequence of Effect
        audience : Audience
        key : str
            What the entry was named by; kept with every row of it.

        Raises
        ------
        ReadingError
            When a row is to be withdrawn that is not there or is withdrawn already.
        """
        rows: list[Reading] = []
        parts = []
        for effect in effects:
            new = self._rows(effect, self.log.next_id + len(rows)) if isinstance(effect, Change) else []
            parts.append((effect, slice(len(rows), len(rows) + len(new))))
            rows += new
        try:
            written = self.log.append_all(replace(row, key=key) for row in rows)
        except LogError as error:
            numbers = [row for effect in effects if isinstance(effect, Change) for row in effect.new]
            self.session.lost([one for one in numbers if one.round == self.session.number])
            audience.lost(error, numbers)
            return False
        over, self.said = False, "" if written else self.said
        for effect, part in parts:
            over |= self._done(effect, written[part], audience)
        if written:
            audience.kept(written)
        return over

    def _rows(self, change: Change, number: int) -> list[Reading]:
        """Return the rows that carry a change out; `number` is the id the first of them gets."""
        # The new numbers come first: whatever happens in between, no number is lost.
        why = f"{change.why} by {number}" if change.new else change.why
        return [*change.new, *(self.log.withdrawal(one.id, why, taken_at=self._clock()) for one in change.old)]

    def _done(self, effect: Effect, written: tuple[Reading, ...], audience: Audience) -> bool:
        """Tell the session and the audience what has been done; True when the round is over."""
        match effect:
            case Change():
                self.carry_out(self.session.done(effect, written[: len(effect.new)]), audience)
                if any(one.round != self.session.number for one in (*effect.new, *effect.old)):
                    self.look_back()
            case Tell():
                if effect.text:
                    audience.tell(effect.text)
                if effect.rings:
                    audience.ring(effect.rings)
            case Help():
                audience.show_help()
        return isinstance(effect, Done)
