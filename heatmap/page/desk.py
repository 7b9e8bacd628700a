"""Where entries from phones come, one after the other, to whoever holds the session: answered, mapped and shown."""

from __future__ import annotations

from concurrent.futures import Future
from dataclasses import dataclass

from heatmap.errors import HeatmapError, LogError
from heatmap.page.board import Board
from heatmap.page.entries import Entry
from heatmap.page.intake import Body, ConflictError, Intake
from heatmap.page.state import cautions_part, grill_part, no_map_part, session_part, spots_part
from heatmap.readings.reading import group_rounds
from heatmap.taking.sitting import Outcome


@dataclass(frozen=True, slots=True)
class Asked:
    """An entry, and where its answer goes: a status of HTTP and a JSON object."""

    entry: Entry
    answer: Future[tuple[int, Body]]


@dataclass(eq=False, kw_only=True)
class Desk(Intake):
    """Takes in what phones send. Only the thread that holds the sitting may call it."""

    board: Board

    def __post_init__(self) -> None:
        """Show how things stand."""
        self._mapped: tuple[int, ...] = ()  # what the map was wanted of last
        self.board.publish(map=None, decision=None, turn_clock=None, cautions=cautions_part(None), trouble=None)
        self.changed()

    # What is shown

    def changed(self) -> None:
        """Show how the session stands now, and have it mapped; who holds the sitting calls it after every change."""
        self._show()
        self._have_mapped()

    def _show(self) -> None:
        session = self.sitting.session
        any_readings = bool(self.sitting.log.readings)
        self.board.publish(
            grill=grill_part(session),
            session=session_part(session, self.kind, self.sitting.said),
            spots=spots_part(session.readings, session.grill),
            stands_at=self._stands_at() if any_readings else None,
            **({} if any_readings else {"decision": no_map_part(session)}),
        )

    def _stands_at(self) -> tuple[int, ...]:
        """Return what changes with everything a map or a decision hangs on."""
        return self.sitting.log.next_id, self.sitting.session.number, self.sears

    def _have_mapped(self) -> None:
        readings, stands_at = self.sitting.log.readings, self._stands_at()
        if readings and stands_at != self._mapped:
            self._mapped = stands_at
            rounds = tuple(one for one in group_rounds(readings) if one.readings)
            self.mapper.want(rounds, stands_at, no_map_part(self.sitting.session))

    # What is heard

    def answer(self, asked: Asked) -> bool:
        """Take in an entry and answer it; True where something has changed."""
        self.came = Outcome()
        is_new = False
        body: Body
        try:
            is_new, body = self.reply_to(asked.entry)
            status = 201 if is_new else 200
        except LogError as error:
            status, body = 500, {"error": f"{error}; try again"}
        except ConflictError as error:
            status, body = 409, {"error": str(error), **error.more}
        except HeatmapError as error:
            status, body = 400, {"error": str(error)}
        except Exception as error:  # a bug in one entry is not the end of the session
            asked.answer.set_exception(error)
            return False
        if is_new:
            self._show()
        if status < 300:
            body = {**body, "version": self.board.version}
        if not asked.answer.cancelled():
            asked.answer.set_result((status, body))
        if is_new:
            self._have_mapped()
        return is_new

    def follow_up(self) -> None:
        """Look whether all numbers fit together, and judge those to come by them."""
        said = self.sitting.said
        self.sitting.update_map()
        if self.sitting.said != said:
            self._show()
