"""`take -`: lines from a pipe, in order and in batches; nobody is asked anything."""

from __future__ import annotations

import sys

import typer

import heatmap.words.taking as said
from cli import console
from cli.exit_codes import ExitCode
from cli.take import Plan
from cli.take_begin import final_answer, now, recheck_walk
from cli.take_inputs import batches_of
from heatmap.errors import ReadingError
from heatmap.readings.log import ReadingsLog
from heatmap.readings.reading import group_rounds
from heatmap.readings.typed import Done, Fix, Undo, parse_typed
from heatmap.taking.session import Session
from heatmap.taking.sitting import Sitting
from heatmap.taking.standing import Effect

_SHOWN_PROBLEMS = 10


def take_from_pipe(plan: Plan, log: ReadingsLog, session: Session) -> None:
    """Take in every line there is, then say how it went."""
    console.talk(said.from_pipe_sentence(session.number, session.name, session.lid))
    if marks := session.marks_known():
        console.talk(marks)
    if plan.recheck:
        full = recheck_walk(group_rounds(log.readings), session)
        console.talk(said.recheck_sentence(full, session.walk.order))
    session.by_hand = False
    sitting = Sitting(session, log, now)
    sitting.look_back()
    taker = _Pipe(sitting)
    for lines, ended in batches_of(sys.stdin):
        if not taker.take(lines, ended):
            break
    kept = len(session.readings)
    console.talk(said.pipe_over_sentence(kept, log.name, taker.refused))
    if turned := session.turns_not_written():
        console.talk(turned)
    if kept or plan.as_json:
        final_answer(session, log, as_json=plan.as_json)
    if taker.refused and not plan.skip_bad:
        raise typer.Exit(ExitCode.INPUT)


class _Pipe:
    """Feeds lines to a session and has what is to be written carried out in batches; nobody is told of each."""

    def __init__(self, sitting: Sitting) -> None:
        self.sitting = sitting
        self.line = self.refused = 0
        self._waiting: list[Effect] = []

    def take(self, lines: list[bytes], ended: bool) -> bool:
        """Take in lines; False when one of them says done."""
        over = False
        for line in lines:
            self.line += 1
            if not ended:
                self._refuse("it has no line end, so it may be cut off")
            elif not over:
                over = self._take_one(line)
        self._carry_out()
        return not over

    def _take_one(self, line: bytes) -> bool:
        try:
            event = parse_typed(line.decode("utf-8", errors="replace"), self.sitting.session.grill)
            if isinstance(event, Done):
                return True
            looks_back = isinstance(event, Undo | Fix)
            if looks_back:
                self._carry_out()
            self._waiting += self.sitting.session.hear(event, now())
            if looks_back:
                self._carry_out()
        except ReadingError as error:
            self._refuse(str(error))
        return False

    def _carry_out(self) -> None:
        effects, self._waiting = self._waiting, []
        self.sitting.carry_out(effects)

    def _refuse(self, why: str) -> None:
        self.refused += 1
        if self.refused <= _SHOWN_PROBLEMS:
            console.talk(f"line {self.line}: {why}")
        elif self.refused == _SHOWN_PROBLEMS + 1:
            console.talk("further lines that cannot be used are only counted")
