"""One sitting at the grill: the session of the moment and its log; what the session asks for is done here.

Whoever hears the cook, the keyboard's loop or the page, hands over what the session answered and shows what came of it
(`Outcome`). All that is written at one go goes to the disk in one write and one flush.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from heatmap.errors import LogError
from heatmap.readings.log import ReadingsLog
from heatmap.readings.reading import Reading, group_rounds
from heatmap.taking.running import GrowingMap
from heatmap.taking.session import Session
from heatmap.taking.standing import Change, Effect, Tell


@dataclass(slots=True, kw_only=True)
class Outcome:
    """What came of what the session asked for.

    Attributes
    ----------
    written : tuple of Reading
        The rows that are on the disk.
    told : list of str
        Lines to be shown.
    rings : int
        Of the bell.
    """

    written: tuple[Reading, ...] = ()
    told: list[str] = field(default_factory=list)
    rings: int = 0


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

    def look_back(self) -> None:
        """Read the rounds before this one again."""
        number = self.session.number
        self.session.earlier = tuple(one for one in group_rounds(self.log.readings) if one.number != number)
        self.map = GrowingMap()

    def update_map(self) -> Outcome:
        """Map what was shot, and ask again for what does not fit the others."""
        self.map.update(self.session)
        effects = [effect for found in self.map.suspects() for effect in self.session.suspect_found(*found)]
        came = self.carry_out(effects)
        self.said = came.told[-1] if came.told else self.said
        return came

    def carry_out(self, effects: Sequence[Effect], *, key: str = "") -> Outcome:
        """Write what the session asks for, and tell; that help is asked for or the round over is for who called.

        Parameters
        ----------
        effects : sequence of Effect
        key : str
            What the entry was named by; kept with every row of it.

        Raises
        ------
        ReadingError
            When a row is to be withdrawn that is not there or is withdrawn already.
        LogError
            When nothing was written.
        """
        rows: list[Reading] = []
        parts = []
        for effect in effects:
            parts.append((effect, len(rows)))
            if isinstance(effect, Change):
                why = f"{effect.why} by {self.log.next_id + len(rows)}" if effect.new else effect.why
                # The new numbers come first: whatever happens in between, no number is lost.
                rows += effect.new
                rows += [self.log.withdrawal(one.id, why, taken_at=self._clock()) for one in effect.old]
        try:
            came = Outcome(written=self.log.append_all(replace(row, key=key) for row in rows))
        except LogError:
            numbers = [row for effect in effects if isinstance(effect, Change) for row in effect.new]
            self.session.lost([one for one in numbers if one.round == self.session.number])
            raise
        self.said = "" if came.written else self.said
        for effect, at in parts:
            told = [effect]
            if isinstance(effect, Change):
                told = self.session.done(effect, came.written[at : at + len(effect.new)])
                if any(one.round != self.session.number for one in (*effect.new, *effect.old)):
                    self.look_back()
            tells = [one for one in told if isinstance(one, Tell)]
            came.told += [one.text for one in tells if one.text]
            came.rings += sum(one.rings for one in tells)
        return came
