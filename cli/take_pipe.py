"""`take -`: lines from a pipe, in order and in batches; nobody is asked anything."""

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
from heatmap.readings.typed import Done, Fix, Undo, parse_typed
from heatmap.taking.session import Outcome, Session
from heatmap.taking.sitting import Sitting

_SHOWN_PROBLEMS = 10


def take_from_pipe(plan: Plan, log: ReadingsLog, session: Session) -> None:
    """Take in every line there is, then say how it went."""
    begun = said.FROM_PIPE.format(round=session.number, session=session.name, lid=session.lid)
    console.talk(*filter(None, (begun, session.marks_known())))
    if plan.recheck:
        console.talk(recheck_walk(session))
    sitting = Sitting(session, log, now)
    refused = _take_in(sitting)
    kept = len(session.readings)
    console.talk(*filter(None, (said.pipe_over_sentence(kept, log.name, refused), session.turns_not_written())))
    if kept or plan.as_json:
        final_answer(session, log, as_json=plan.as_json)
    if refused and not plan.skip_bad:
        raise typer.Exit(ExitCode.INPUT)


def _take_in(sitting: Sitting) -> int:
    """Take in lines until one says done, and write them in batches; return how many were refused."""
    session, number, refused = sitting.session, 0, 0
    for lines, ended in batches_of(sys.stdin):
        waiting = Outcome()
        for line in lines:
            number += 1
            try:
                if not ended:
                    raise ReadingError("it has no line end, so it may be cut off")
                event = parse_typed(line.decode("utf-8", errors="replace"), session.grill)
                if isinstance(event, Undo | Fix | Done):  # they look at what is written
                    before, waiting = waiting, Outcome()
                    sitting.write(before)
                if isinstance(event, Done):
                    return refused
                waiting.changes += session.hear_beside(event, now()).changes
            except ReadingError as error:
                refused += 1
                if refused <= _SHOWN_PROBLEMS:
                    console.talk(f"line {number}: {error}")
                elif refused == _SHOWN_PROBLEMS + 1:
                    console.talk("further lines that cannot be used are only counted")
        sitting.write(waiting)
    return refused
