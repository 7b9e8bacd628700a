"""How a session begins and ends: what the command line asked for, which round, name and marks; and the verdict."""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal

from cli import console
from cli.loading import Files, odd_lines
from cli.map import show
from cli.output import Asked
from cli.take import Plan
from heatmap import Decision, Grill, assess, decide
from heatmap.correct import close_up_mm
from heatmap.decisions.placement import Wanted
from heatmap.errors import InputError, MapError, ReadingError
from heatmap.grate_model.round_map import last_full_round
from heatmap.grill.burner import Burner, burner_key
from heatmap.readings.log import ReadingsLog
from heatmap.readings.reading import Reading, Round, group_rounds
from heatmap.readings.typed import marks_in
from heatmap.readings.written import checked_distance_mm, mark_from_text
from heatmap.taking.recheck_spots import recheck_labels
from heatmap.taking.session import Kind, Session
from heatmap.taking.sitting import Sitting
from heatmap.taking.walk import walk_order
from heatmap.words.map import band_sentence
from heatmap.words.taking import NO_MAP, RECHECK

Lid = Literal["open", "closed"]
#: What stands for the lid when it is asked about; the digits are for the number pad.
_LIDS: dict[str, Lid] = {"1": "open", "o": "open", "open": "open", "2": "closed", "c": "closed", "closed": "closed"}


def now() -> datetime:
    """Return the time, UTC."""
    return datetime.now(UTC)


def begin(plan: Plan, grill: Grill, readings: Sequence[Reading], at: datetime) -> Session:
    """Begin a session."""
    rounds, newest = group_rounds(readings), max((one.round for one in readings), default=0)
    number = plan.number or max(newest if plan.go_on else newest + 1, 1)
    new = Round(number=number, session=plan.session or _session_name(readings, at), readings=())
    mine = next((one for one in rounds if one.number == number), new)
    last = rounds[-1] if rounds and mine is new else mine
    knobs = dict(mine.settings)
    if plan.knobs:
        knobs |= marks_in(", ".join(plan.knobs), grill, "write it like --knob left=6.5")
    near_mm, rails = close_up_mm(grill), mine.with_aim("rail")
    # One begun from elsewhere goes on from there, not from where its shots from close up are taken.
    not_near = [one for one in rails if one.distance_mm is None or one.distance_mm != near_mm]
    distance_mm = next((one.distance_mm for one in not_near or rails), None)
    if plan.distance is not None:
        distance_mm = checked_distance_mm(plan.distance, grill.units, "--distance")
    # A shot from close up beside the others does not stand for its position.
    shot = [one.position for one in rails if one.distance_mm in (None, distance_mm) or one.distance_mm != near_mm]
    return Session(
        grill,
        walk_order(grill, plan.order),
        number=number,
        name=mine.session,
        readings=list(mine.readings),
        shots=Counter(shot),
        earlier=tuple(one for one in rounds if one is not mine),
        knobs=knobs,
        distance_mm=distance_mm,
        surface=mine.surface,
        lid=plan.lid or last.lid,
        close_up_mm=_checked_near_mm(near_mm, distance_mm, grill) if plan.close_up else None,
    )


def begin_next(plan: Plan, sitting: Sitting, kind: Kind = "full") -> Session:
    """Begin the round after that of a sitting: the marks, the lid and the rails stay as they are.

    One without a reading is begun anew.
    """
    before, readings = sitting.session, sitting.log.readings
    number = max([before.number + bool(before.readings), *(one.round + 1 for one in readings)])
    session = begin(replace(plan, number=number), before.grill, readings, now())
    session.knobs.update(before.knobs)
    session.surface, session.lid = before.surface, before.lid
    if kind == "recheck":
        recheck_walk(session)
    return session


def _checked_near_mm(near_mm: float | None, distance_mm: float | None, grill: Grill) -> float:
    if near_mm is not None and distance_mm is not None and distance_mm <= near_mm:
        near = grill.display.length_text(near_mm)
        raise InputError(f"--close-up is from {near}, and --distance is no farther; leave one of them out")
    if near_mm is None:
        raise InputError(
            "--close-up tells nothing here: between these rails this gun's spot cannot be made small enough to tell "
            "rail and valley apart; leave it out"
        )
    return near_mm


def _session_name(readings: Sequence[Reading], at: datetime) -> str:
    """Return the newest session when it is of the same day, else the date."""
    today = at.astimezone().date()
    newest = max(readings, key=lambda one: (one.round, one.id), default=None)
    if newest is not None and newest.taken_at is not None and newest.taken_at.astimezone().date() == today:
        return newest.session
    return today.isoformat()


def lid_from(text: str, usual: Lid) -> Lid:
    """Read an answer about the lid; nothing typed means the usual.

    Raises
    ------
    ReadingError
        When it is something else.
    """
    lid = _LIDS.get(" ".join(text.casefold().split()).removeprefix("lid ") or usual)
    if lid is None:
        raise ReadingError("Type 1 for open, 2 for closed (shut until the first shot), or only Enter.")
    return lid


def last_marks(rounds: Sequence[Round]) -> dict[str, float]:
    """Return the last known mark of each burner, turns after the last shot included."""
    marks: dict[str, float] = {}
    for one in rounds:
        for known in (one.settings, *(turned.knobs for turned in one.turned_after)):
            marks.update(known)
    return marks


def marks_answered(text: str, grill: Grill, burners: Sequence[Burner], last: dict[str, float]) -> dict[str, float]:
    """Read one mark for each burner, in order or by name; nothing typed means the last known ones.

    Raises
    ------
    ReadingError
        When they are too few or too many, or no marks.
    """
    known = {burner.name: last[burner.name] for burner in burners if burner.name in last}
    words = re.split(r",?\s+", text.replace("=", " ").strip())
    if not any(words):
        return known
    first_words = {burner_key(burner.name).partition("_")[0] for burner in burners}
    if len(words) == 2 and words[0].casefold() == "all" not in first_words:
        words = words[1:] * len(burners)
    in_order = len(words) == len(burners) and words[0].isdigit()  # a mark, also where burners are called 1, 2, 3
    by_name = not in_order and words[0].casefold().partition("_")[0] in first_words
    marks = known | marks_in(" ".join(text.split()), grill) if by_name else {}
    count = len(marks) if by_name else len(words)
    if count != len(burners):
        names = ", ".join(burner.name for burner in burners)
        like = " ".join(burner.mark_text(burner.high) for burner in burners)
        highest = {burner.mark_text(burner.high) for burner in burners}
        alike = f", or all {highest.pop()}" if len(burners) > len(highest) == 1 else ""
        raise ReadingError(f"that is {count} of {len(burners)} marks; type one each for {names}, like {like}{alike}")
    if by_name:
        return marks
    return {burner.name: mark_from_text(word, burner) for burner, word in zip(burners, words, strict=True)}


def recheck_walk(session: Session) -> str:
    """Lead a session through a few positions where the food goes; return what is said of it.

    Raises
    ------
    MapError
        When there is no full round to start from.
    """
    grill = session.grill
    full = last_full_round(grill, session.earlier, session.round)
    if full is None:
        raise MapError(
            "a re-check needs a full round before it, in the same session and with the same marks; "
            "take one first with: gratemap take"
        )
    assessment = assess(grill, session.earlier, full.number)
    # The positions the decision asks for come first, then those around the place where the food goes.
    decision = decide(assessment, Wanted.said(grill))
    place_mm = None if decision.place is None else decision.place.centre_mm
    around = recheck_labels(assessment, place_mm)
    labels = tuple(dict.fromkeys((*decision.positions, *around)))[: len(around)]
    session.order, session.kind = labels, "recheck"
    return RECHECK.format(full=full.number, labels=", ".join(labels))


def final_answer(session: Session, log: ReadingsLog, *, as_json: bool) -> Decision | None:
    """Print the map of the round and what to do now; None when there is no map.

    Raises
    ------
    MapError
        With `as_json`, when there is no map.
    """
    rounds = group_rounds(log.readings)
    try:
        if not session.readings:
            raise MapError(f"round {session.number} has no readings")
        assessment = assess(session.grill, rounds, session.number)
    except MapError as error:
        if as_json:
            raise
        console.talk(NO_MAP.format(why=error))
        return None
    console.talk(*odd_lines(assessment))
    decision = Files(readings=Path(log.name)).decision(assessment)
    show(assessment, decision, Asked(as_json=as_json))
    if not as_json and all(one.session != session.name or one.number == session.number for one in rounds):
        console.talk(band_sentence(assessment))  # once a session
    return decision
