"""Where entries from phones come, one after the other, to whoever holds the session: answered, mapped and shown."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass

from heatmap.errors import HeatmapError, LogError
from heatmap.page.board import Board
from heatmap.page.entries import Entry
from heatmap.page.intake import Intake, Reply
from heatmap.page.mapping import Grown, Wanted
from heatmap.page.mapping import Mapping as Mapper
from heatmap.page.page_file import Kind, PageFile
from heatmap.page.state import cautions_part, grill_part, no_map_part, session_part, spots_part
from heatmap.readings.reading import group_rounds
from heatmap.taking.session import Session
from heatmap.taking.sitting import Sitting


@dataclass(frozen=True, slots=True)
class Asked:
    """An entry, and where its reply goes."""

    entry: Entry
    reply: Future[Reply]


class Desk(Intake):
    """Takes in what phones send. Only the thread that holds the sitting may call it.

    Parameters
    ----------
    sitting, kept, mapper, begin, kind
        As of :class:`heatmap.page.intake.Intake`.
    board : Board
    beside : bool
        There is a keyboard, whose loop keeps up the map that judges the numbers.
    """

    def __init__(
        self,
        sitting: Sitting,
        kept: PageFile,
        board: Board,
        mapper: Mapper,
        begin: Callable[[Kind], Session],
        kind: Kind = "full",
        *,
        beside: bool = False,
    ) -> None:
        """Show how things stand."""
        super().__init__(sitting, kept, mapper, begin, kind)
        self.board, self._beside = board, beside
        self._mapped: tuple[int, ...] = ()  # what the map was wanted of last
        board.publish(map=None, decision=None, turn_clock=None, cautions=cautions_part(None), trouble=None)
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
        session, log, stands_at = self.sitting.session, self.sitting.log, self._stands_at()
        if log.readings and stands_at != self._mapped:
            self._mapped = stands_at
            rounds = tuple(one for one in group_rounds(log.readings) if one.readings)
            self.mapper.want(
                Wanted(
                    rounds=rounds,
                    stands_at=stands_at,
                    no_map=no_map_part(session),
                    session=session.snapshot(),
                    growing=None if self._beside else self.sitting.map,
                )
            )

    # What is heard

    def answer(self, asked: Asked) -> bool:
        """Take in an entry and answer it; True where something has changed."""
        self.told, self.written = [], []
        try:
            reply = self.reply_to(asked.entry)
        except LogError as error:
            reply = Reply(500, {"error": f"{error}; try again"})
        except HeatmapError as error:
            reply = Reply(400, {"error": str(error)})
        except Exception as error:  # a bug in one entry is not the end of the session
            asked.reply.set_exception(error)
            return False
        if reply.status == 201:
            self._show()
        if reply.status in (200, 201):
            reply = Reply(reply.status, {**reply.body, "version": self.board.version})
        if not asked.reply.cancelled():
            asked.reply.set_result(reply)
        return reply.status == 201

    def hear(self, event: Asked | Grown) -> None:
        """Take in an entry, or what the map says of those before; for who holds the sitting for the page alone."""
        if isinstance(event, Asked):
            if self.answer(event):
                self._have_mapped()
            return
        session, said = self.sitting.session, self.sitting.said
        if event.session.number == session.number:
            session.known = event.session.known
            self.sitting.heed(event.suspects, self)
            if self.sitting.said != said:
                self._show()

    def follow_up(self) -> None:
        """Have an entry mapped and look whether all numbers fit together, for a keyboard that asks something else."""
        self._have_mapped()
        said = self.sitting.said
        self.sitting.update_map(self)
        if self.sitting.said != said:
            self._show()
