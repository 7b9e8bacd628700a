"""What was written of a round while it is taken, what is told of it, and how it is taken back or put right."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import heatmap.words.taking as said
from heatmap.correct import tells_valley
from heatmap.errors import ReadingError
from heatmap.readings.reading import Reading
from heatmap.readings.typed import Fix, Undo
from heatmap.taking.doubt import DOUBTED
from heatmap.taking.standing import Change, Effect, Standing, Tell


@dataclass(frozen=True, slots=True, kw_only=True)
class _Entered:
    """One thing that was typed and can be taken back: readings, those they replaced, a note, or what stood before."""

    reading: Reading | None = None
    replaced: tuple[Reading, ...] = ()
    said: str = ""
    before: Mapping[str, object] = field(default_factory=dict)


@dataclass(eq=False)
class Record(Standing):
    """A round with what was typed of it, each thing as it can be taken back.

    Attributes
    ----------
    entered : list
        The last thing last.
    plus_keeps : tuple of Reading
        What the last entry replaced; + at once after it keeps both.
    retried : set of str
        Positions that were asked for again once.
    """

    entered: list[_Entered] = field(default_factory=list)
    plus_keeps: tuple[Reading, ...] = ()
    retried: set[str] = field(default_factory=set)

    # What has been done

    def done(self, change: Change, new: Sequence[Reading]) -> list[Effect]:
        """Take note that a change is on the disk; `new` is what was written of it, as the log returned it."""
        if change.new and change.old:
            return self._replaced(new[0], change)
        if change.old:
            return [effect for one in change.old for effect in self._withdrawn(one)]
        return self._written([one for one in new if one.round == self.number])

    def _written(self, readings: Sequence[Reading]) -> list[Effect]:
        effects: list[Effect] = []
        for one in readings:
            typed = _Entered(reading=one)
            if one.shown_c is None and one.void is not None:
                typed = _Entered(reading=one, said="the note")
                effects.append(Tell(text=said.noted_sentence(one.note)))
            elif one.shown_c is None:
                before = {"knobs": dict(self.knobs), "turned": self.turned}
                typed = _Entered(reading=one, said="the turn of the knobs", before=before)
                self.knobs, self.turned = dict(one.knobs), one
            self.entered.append(typed)
        readings = [one for one in readings if one.shown_c is not None]
        self.readings += readings
        for reading in readings:
            if reading.aim != "rail":
                effects += self._kept_beside(reading)
            elif reading.note.startswith(DOUBTED):
                effects += self._kept_in_doubt(reading)
        plain = [one for one in readings if one.aim == "rail" and not one.note.startswith(DOUBTED)]
        if plain:
            kept = said.kept_sentence([self.named(one) for one in plain])
            effects[:0] = [Tell(text=kept, rings=1)]
        return effects

    def _kept_beside(self, reading: Reading) -> list[Effect]:
        away = said.away_text(reading, self.distance_mm, self.grill.display)
        rails = [one for one in self.readings if one.aim == "rail" and one.position == reading.position]
        pair = any(not away or one.distance_mm == reading.distance_mm for one in rails)
        text = said.kept_beside_sentence(
            reading,
            self.named(reading),
            away,
            to_pair=not pair and reading.aim != "patch",
            tells_little=reading.aim == "valley" and not tells_valley(self.grill, reading.distance_mm),
        )
        return [Tell(text=text, rings=1)]

    def _kept_in_doubt(self, reading: Reading) -> list[Effect]:
        again = reading.position if self.asked == reading.position else ""
        text = said.doubted_sentence(self.named(reading), reading.note.partition(": ")[2], again)
        return [Tell(text=text, rings=2 if again else 1)]

    def _replaced(self, reading: Reading, change: Change) -> list[Effect]:
        here, both = reading.round == self.number, change.why == "replaced"
        if here:
            gone = {one.id for one in change.old}
            self.readings = [*(one for one in self.readings if one.id not in gone), reading]
        if change.why != "taken back":
            self.entered.append(_Entered(reading=reading, replaced=change.old))
            self.plus_keeps = change.old if both else ()
        else:  # what was typed of it before is now of the row that stands again
            self.entered = [
                replace(one, reading=reading) if one.reading and one.reading.id == change.new[0].id else one
                for one in self.entered
            ]
        text = said.replaced_sentence(reading, change.old, self.grill.display, elsewhere=not here, both=both)
        return [Tell(text=text, rings=1)]

    def _withdrawn(self, reading: Reading) -> list[Effect]:
        if reading.shown_c is None:
            return []
        self.readings = [one for one in self.readings if one.id != reading.id]
        if reading.round == self.number and not self.is_shot(reading):
            self.lost([reading])
        return [Tell(text=said.taken_back_sentence(self.named(reading)))]

    def suspect_found(self, reading: Reading, expected_shown_c: float) -> list[Effect]:
        """Take note that a reading kept before turns out not to fit the others: ask for its position again."""
        label = reading.position
        if not label or label in self.retried:
            return []
        self.retried.add(label)
        self.ask_again(reading)
        text = said.suspect_sentence(reading, self.named(reading), expected_shown_c, self.grill.display)
        return [Tell(text=text, rings=2)]

    # What is taken back, or put right

    def remember(self, what: str, **before: object) -> None:
        """Keep what stood before something was said, so that it can be taken back."""
        self.entered.append(_Entered(said=what, before=before))

    def undo(self, event: Undo) -> list[Effect]:
        """Take back the last thing typed, the last shot at a position, or the row with an id.

        Raises
        ------
        ReadingError
            When there is none.
        """
        if event.id is not None:
            return self._take_back(event.id, event.why)
        if event.position:
            there = [one for one in self.readings if one.position == event.position and event.aim in ("", one.aim)]
            if not there:
                raise ReadingError(said.nothing_there_sentence(event.position))
            return [Change(old=(there[-1],))]
        here = {one.id for one in self.readings}
        while self.entered:
            last = self.entered.pop()
            if last.reading is None:
                return self._unsay(last)
            if last.reading.shown_c is None or last.reading.round != self.number or last.reading.id in here:
                return self._taken_back(last, last.reading)
        if not self.readings:
            raise ReadingError(said.NOTHING_TO_TAKE_BACK)
        return [Change(old=(self.readings[-1],))]

    def _take_back(self, number: int, why: str) -> list[Effect]:
        """Ask for the row with this id to be withdrawn: a shot of any round, a note or a turn of knobs of this one."""
        for typed in reversed(self.entered):
            reading = typed.reading
            if reading is not None and reading.id == number and (reading.shown_c is None or reading in self.readings):
                self.entered = [one for one in self.entered if one is not typed]
                return self._taken_back(typed, reading, why)
        for readings in (self.readings, *(one.readings for one in self.earlier)):
            for shot in readings:
                if shot.id == number:
                    return [Change(old=(shot,), why=why)]
        raise ReadingError(f"there is no reading {number} to take back in round {self.number}")

    def _taken_back(self, typed: _Entered, reading: Reading, why: str = "undo") -> list[Effect]:
        """Ask for a row that was typed to be withdrawn, and for what it replaced to stand again."""
        if reading.shown_c is None:
            return [Change(old=(reading,), why=why), *self._unsay(typed)]
        if reading.round != self.number:
            return [Change(new=typed.replaced[:1], old=(reading,), why="taken back")]
        again: list[Effect] = [Change(new=typed.replaced)] if typed.replaced else []
        return [*again, Change(old=(reading,), why=why)]

    def _unsay(self, typed: _Entered) -> list[Effect]:
        for name, value in typed.before.items():
            if name == "skipped":
                self.walk.ask_next(str(value))
            else:
                setattr(self, name, value)
        stands = said.stands_sentence(self.lid, self.surface, said.marks_text(self.grill, self.knobs))
        return [Tell(text=said.unsaid_sentence(typed.said, stands if typed.before.keys() - {"skipped"} else ""))]

    def fix(self, event: Fix) -> list[Effect]:
        """Put right a number that was kept, in this round or an earlier one."""
        shot = event.shot
        rounds = [(self.number, self.readings), *((one.number, one.readings) for one in reversed(self.earlier))]
        for number, readings in rounds:
            if event.round in (None, number):
                there = [one for one in readings if (one.position, one.aim) == (shot.position, shot.aim)]
                if there:
                    old = there[-1]
                    was = f"fixed: was {said.number_text(old.shown_c, self.grill.display)}"
                    return [Change(new=(replace(old, shown_c=shot.shown_c, note=was),), old=(old,), why="fixed")]
        where = "" if event.round is None else f" in round {event.round}"
        what = "" if shot.aim == "rail" else f"{shot.aim} "
        raise ReadingError(f"there is no {what}reading at {shot.position}{where} to fix")
