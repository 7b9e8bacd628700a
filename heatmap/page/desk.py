"""What phones send, taken in by whoever holds the session: written, answered, mapped and shown; each entry once."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any

from heatmap.errors import ReadingError
from heatmap.page.board import Board
from heatmap.page.entries import Entry
from heatmap.page.page_file import PageFile, save_page_file
from heatmap.page.state import grill_part, no_map_part, reading_part, session_part, spots_part
from heatmap.page.tuning import LATEST_S, SOONEST_S
from heatmap.readings.reading import Reading, group_rounds
from heatmap.readings.sears import append_sear, read_sears, sears_beside
from heatmap.readings.typed import Again, Done, Help, RowOfShots, Shot, Skip, Turned, Typed, Undo
from heatmap.sear import SearedPiece, check_test_piece
from heatmap.taking.doubt import Doubt, DoubtedError
from heatmap.taking.session import Change, Kind, Outcome, Session
from heatmap.taking.sitting import Sitting
from heatmap.words.taking import doubt_question

#: A JSON object that is answered.
Body = dict[str, Any]


class _ConflictError(Exception):
    """An entry does not go with how things stand; what is answered."""


@dataclass(eq=False, kw_only=True)
class Desk:
    """Takes in what phones send. Only the thread that holds the sitting may call it.

    Attributes
    ----------
    sitting : Sitting
    page_file : PageFile
    board : Board
    begin : callable
        Begins another round of a kind after the one that is taken.
    came : Outcome
        Of the last entry.
    sears : int
        Kept since the beginning.
    answers : dict
        To entries of this process, by their keys.
    mapped : tuple of int or None
        What the map was wanted of last.
    """

    sitting: Sitting
    page_file: PageFile
    board: Board
    begin: Callable[[Kind], Session]
    came: Outcome = field(default_factory=Outcome)
    sears: int = 0
    answers: dict[str, Body] = field(default_factory=dict)
    mapped: tuple[int, ...] | None = None

    def __post_init__(self) -> None:
        """Show how things stand."""
        self.changed()

    # What is shown

    def changed(self) -> None:
        """Show how the session stands now, and have it mapped; who holds the sitting calls it after every change."""
        session, readings = self.sitting.session, self.sitting.log.readings
        # What changes with everything a map or a decision hangs on.
        stands_at = (self.sitting.log.next_id, session.number, self.sears) if readings else None
        self.board.publish(
            grill=grill_part(session),
            session=session_part(session, self.sitting.said),
            spots=spots_part(session.readings, session.grill),
            stands_at=stands_at,
            **({} if readings else {"decision": no_map_part(session)}),
        )
        if stands_at not in (None, self.mapped):
            self.mapped = stands_at
            self.board.want(group_rounds(readings), stands_at, no_map_part(session))

    # What is heard

    def answer(self, entry: Entry) -> bool:
        """Take in an entry and answer it; True where something has changed."""
        self.came, is_new = Outcome(), False
        try:
            body = self.answers.get(entry.key) or self._kept(entry)
            if body is None:
                told = self._do(entry)
                body = self._kept(entry)
                if body is None:
                    self._remember(self.sitting.session)  # nothing tells it before the next shot
                    body = told
                self.answers[entry.key], is_new = body, True
                self.changed()
            answered = (201 if is_new else 200), {**body, "version": self.board.version}
            tell = partial(entry.answer.set_result, answered)
        except _ConflictError as error:
            tell = partial(entry.answer.set_result, (409, error.args[0]))
        except Exception as error:  # a bug in one entry is not the end of the session
            tell = partial(entry.answer.set_exception, error)
        if not entry.answer.cancelled():
            tell()
        return is_new

    def follow_up(self) -> None:
        """Look whether all numbers fit together, and judge those to come by them."""
        said = self.sitting.said
        self.sitting.update_map()
        if self.sitting.said != said:
            self.changed()

    def _kept(self, entry: Entry) -> Body | None:
        """Return the body for what an entry left on the disk: the same at every time; None where it left not all."""
        key, session, readings = entry.key, self.sitting.session, self.sitting.log.readings
        match entry.event:
            case "full" | "recheck":
                return {"round": self.page_file.round} if key == self.page_file.key else None
            case SearedPiece():
                keys = [one.key for one in read_sears(self._sears, session.grill)]
                return {"row": keys.index(key) + 1} if key in keys else None
            case Undo():
                gone = [one.void for one in readings if one.key == key and one.void not in (None, one.id)]
                if not gone:
                    return None
                old = next(one for one in readings if one.id == gone[-1])
                text = "the turn of the knobs" if old.void is None else "the note"
                return {"id": old.id, "withdrawn": text if old.shown_c is None else session.named(old)}
        rows = self._rows(key)
        if not rows or (isinstance(entry.event, RowOfShots) and _left(entry.event, rows)):
            return None
        if entry.replaces:  # a power cut may have come between a new number and the withdrawal of what it replaces
            for old in [one for one in session.readings if one.id < rows[0].id and session.is_same_shot(one, rows[0])]:
                self._hear(Undo(id=old.id, why=f"replaced by {rows[0].id}"))
        numbers = [one for one in rows if one.shown_c is not None]
        if not numbers:
            kept = "; ".join(self.came.told) or ("the turn of the knobs" if rows[-1].void is None else "noted")
            return {"id": rows[-1].id, "position": None, "shown": None, "kept": kept}
        kept = ", ".join(map(session.named, numbers))
        return {**reading_part(numbers[-1], session.grill, "id shown_c"), "kept": kept}

    def _rows(self, key: str) -> list[Reading]:
        """Return the rows an entry of this key left, but for withdrawals: they came to the disk with the key."""
        return [one for one in self.sitting.log.readings if one.key == key and one.void in (None, one.id)]

    def _do(self, entry: Entry) -> Body:
        """Do what an entry asks for; return what is answered where the disk does not tell it."""
        session = self.sitting.session
        match entry.event:
            case Done() | Help() | Again():
                raise ReadingError("that is for the keyboard; tap it on the page")
            case Undo() as undo:
                try:
                    self._hear(undo, entry.key)
                except ReadingError as error:  # there is nothing to do any more
                    raise _ConflictError({"error": str(error)}) from None
                return {"id": None, "withdrawn": " ".join(self.came.told)}
            case "full" | "recheck" as kind:
                begun = self.begin(kind)
                self._remember(begun, entry.key)  # on the disk before it counts: after a restart the round is the same
                self.sitting.go_on_with(begun)
            case SearedPiece() as piece:
                self._keep_piece(entry, piece)
            case Skip(position=label):
                label = label or session.asked
                if label not in session.left:
                    raise _ConflictError({"error": f"{label} is not asked for in this round"})
                self._hear(Skip(position=label))
                return {"skipped": label}
            case event:
                self._keep(entry, event)
        return {"id": None, "position": None, "shown": None, "kept": "; ".join(self.came.told) or "noted"}

    def _at(self, taken_at: datetime | None) -> datetime:
        """Return when it was tapped.

        Raises
        ------
        ReadingError
            When that cannot be.
        """
        now = datetime.now(UTC)
        if taken_at is None:
            return now
        begun = min((one.taken_at for one in self.sitting.session.readings if one.taken_at is not None), default=now)
        if taken_at > now + timedelta(seconds=SOONEST_S):
            raise ReadingError("taken_at is still to come; set the clock of the phone, or leave taken_at out")
        if taken_at < begun - timedelta(seconds=LATEST_S):
            raise ReadingError("taken_at is more than a day before this round; leave it out, or write it on paper")
        return min(taken_at, now)

    def _keep(self, entry: Entry, event: Typed) -> None:
        """Take in a shot, or what else can be typed."""
        sitting, session, at = self.sitting, self.sitting.session, self._at(entry.taken_at)
        if isinstance(event, RowOfShots):
            event = replace(event, shots=_left(event, self._rows(entry.key)))
        if isinstance(event, Turned) and not event.marks:
            decided = self.board.decision
            session.advised = {} if decided is None else {one.burner: one.to_mark for one in decided.changes}
        over = next((one for one in session.earlier if one.number == entry.round), None)
        if over is not None and isinstance(event, Shot) and event.position:
            # A phone that was out of reach tells a shot of a round that is over only now.
            shot = replace(session.reading(event, at), round=over.number, session=over.session, note="")
            shot = replace(shot, surface=over.surface, lid=over.lid, knobs=over.settings, distance_mm=event.distance_mm)
            self.came = sitting.write(Outcome(changes=[Change(new=(shot,))]), key=entry.key)
            return
        try:
            self.came = sitting.hear(event, at, key=entry.key, insist=entry.insist, replaces=entry.replaces)
        except DoubtedError as error:
            raise _ConflictError(self._question(error.doubt)) from None

    def _question(self, found: Doubt) -> Body:
        grill = self.sitting.session.grill
        text = doubt_question(found, grill)
        meant = None if found.meant_c is None else round(grill.display.temperature(found.meant_c), 1)
        question = {**reading_part(found.reading, grill, "shown_c aim"), "text": text, "meant": meant}
        return {"error": text, "question": question}

    def _hear(self, event: Typed, key: str = "") -> None:
        self.came = self.sitting.hear(event, datetime.now(UTC), key=key)

    def _remember(self, session: Session, key: str = "") -> None:
        """Keep how things stand in a round that may have no reading yet; `key` is what its beginning was named by."""
        kept = replace(self.page_file, round=session.number, kind=session.kind, key=key or self.page_file.key)
        kept = replace(kept, marks=dict(session.knobs), lid=session.lid, surface=session.surface)
        save_page_file(Path(self.sitting.log.name), kept)
        self.page_file = kept

    @property
    def _sears(self) -> Path:
        return sears_beside(Path(self.sitting.log.name))

    def _keep_piece(self, entry: Entry, piece: SearedPiece) -> None:
        grill, decided = self.sitting.session.grill, self.board.decision
        food, rail_c = grill.food, None if decided is None or decided.place is None else decided.place.rail_c
        check_test_piece(piece.turns_s, piece.peak_c, start_c=food.start_c, rail_c=rail_c, units=grill.units)
        piece = replace(piece, key=entry.key, taken_at=self._at(entry.taken_at)).with_food(food, rail_c)
        append_sear(self._sears, grill, piece)
        self.sears += 1


def _left(event: RowOfShots, there: Sequence[Reading]) -> tuple[Shot, ...]:
    """Return the shots of a row that are not kept yet."""
    return tuple(one for one in event.shots if one.position not in {kept.position for kept in there})
