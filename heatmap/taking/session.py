"""A round being taken: what was typed or came from the port, and when, goes in; what is to be done comes out.

Nothing here touches a file, the screen or a clock. :meth:`Session.hear` returns effects
(:mod:`heatmap.taking.standing`); whoever runs the session carries them out and reports back with :meth:`Session.done`,
so that nothing is acknowledged before it is on the disk.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Literal

import heatmap.readings.typed as typed
import heatmap.words.taking as said
from heatmap.errors import ReadingError
from heatmap.readings.reading import INSISTED, ITSELF, Reading
from heatmap.readings.typed import RowOfShots, Shot
from heatmap.taking.doubt import DOUBTED, Doubt, DoubtedError
from heatmap.taking.standing import Change, Effect, Event, Standing, Tell
from heatmap.taking.tuning import BY_HAND, SAME_AGAIN_C

#: Which earlier shots a new one stands in the place of.
Replaces = Literal["nothing", "contradicted", "all alike"]
_KEEP = ("keep", "k", "yes", "y")
_SHOOT_AGAIN = ("again", "a", "no", "n")
#: What else settles a number in doubt, one way or the other.
_ENDS_DOUBT = (Shot, RowOfShots, tuple, typed.OverRange, typed.Undo, typed.Skip, typed.Done)


@dataclass(eq=False)
class Session(Standing):
    """A round being taken: what is heard, asked about and taken back.

    Attributes
    ----------
    by_hand : bool
        A position typed again by hand is a correction; in a pipe it is one more shot.
    advised : mapping
        What `turned` stands for where it names no mark.
    doubts : list of Doubt
        What is asked about before it is written, the first one first.
    """

    by_hand: bool = True
    advised: Mapping[str, float] = field(default_factory=dict)
    doubts: list[Doubt] = field(default_factory=list)

    # What is asked

    @property
    def asked(self) -> str:
        """The position the next number goes to."""
        return self.doubts[0].reading.position if self.doubts else super().asked

    @property
    def question(self) -> str:
        """What is asked, in words; empty when it is simply the next position."""
        return said.doubt_question(self.doubts[0], self.grill) if self.doubts else ""

    # What is heard

    def hear_line(self, line: str, at: datetime) -> list[Effect]:
        """Take in one typed line.

        Raises
        ------
        ReadingError
            When it cannot be understood.
        """
        if self.doubts:
            word = line.strip().casefold()
            if word in _KEEP:
                return self._settle(self._insisted(self.doubts[0].reading))
            if word in _SHOOT_AGAIN:
                return self._shoot_again()
        return self.hear(typed.parse_typed(line, self.grill), at)

    def hear(self, event: Event, at: datetime) -> list[Effect]:
        """Take in one event; `at` is when it happened, UTC.

        Raises
        ------
        ReadingError
            When it cannot be: nothing to put right or to take back, a turn of which nobody said what was turned.
        """
        if not isinstance(event, typed.Skip | typed.Help | typed.Again):
            self.plus_keeps = ()
        if self.doubts and isinstance(event, _ENDS_DOUBT):
            return self._hear_in_doubt(event, at)
        match event:
            case tuple():
                return self._shots(event, at)
            case Shot():
                return self._shot((event,), at, "contradicted" if event.position and self.by_hand else "nothing")
            case RowOfShots():
                self.walk.skip(*event.skipped)
                told = said.row_sentences(event.skipped, event.row, event.left_open)
                return [*self._shot(event.shots, at), *(Tell(text=text) for text in told)]
            case typed.Fix():
                return self.fix(event)
            case typed.Turned():
                return self._turned(event, at)
            case typed.Noted():
                return [Change(new=(replace(self.event(at), void=ITSELF, note=event.text),))]
            case typed.OverRange():
                return self._over_range(event)
            case typed.Stands(surface=surface) if surface is not None:
                self.remember(surface, surface=self.surface)
                self.surface = surface
                return [Tell(text=said.RAILS_FROM_HERE.format(surface=surface))]
            case typed.Stands(lid=lid) if lid is not None:
                return self._lid(lid)
            case typed.Stands(marks=marks):
                return self._knobs_at(marks)
            case typed.Undo():
                return self.undo(event)
            case typed.Skip() if self.plus_keeps:
                both, self.plus_keeps = self.plus_keeps, ()
                self.entered.pop()
                return self._write(*(replace(one, note=f"{INSISTED}: both") for one in both))
            case typed.Skip():
                return self._skip(event.position or self.asked)
            case typed.Done() | typed.Help():
                return [event]
            case _:
                return []

    def hear_beside(self, event: Event, at: datetime, *, insist: bool = False, replaces: bool = False) -> list[Effect]:
        """Take in one event that came past the keyboard; what is asked at the keyboard stays asked.

        Parameters
        ----------
        event : Event
        at : datetime
        insist : bool
            Keep a number that is doubted.
        replaces : bool
            A shot withdraws those like it at its position; without it, it is one more.

        Raises
        ------
        DoubtedError
            With the first doubt there is.
        ReadingError
            As :meth:`hear`.
        """
        waiting, self.doubts = self.doubts, []
        self.plus_keeps = ()
        try:
            if not isinstance(event, Shot | RowOfShots):
                return self.hear(event, at)
            shots, skipped = (event.shots, event.skipped) if isinstance(event, RowOfShots) else ((event,), ())
            effects = self._shot(shots, at, "all alike" if replaces else "nothing", insist=insist)
            if self.doubts:
                self.lost([one for effect in effects if isinstance(effect, Change) for one in effect.new])
                raise DoubtedError(self.doubts[0])
            self.walk.skip(*skipped)
            return effects
        finally:
            self.doubts = waiting

    def _insisted(self, reading: Reading) -> Reading:
        about = self.note and f": {self.note}"
        return replace(reading, note=f"{INSISTED}{about}")

    def _write(self, *readings: Reading, old: tuple[Reading, ...] = ()) -> list[Effect]:
        """Ask for readings to be written, in the place of `old`; the walk goes on at once, so that the next number has
        its place.
        """
        for reading in readings:
            self.shot(reading)
        return [Change(new=readings, old=old, why="replaced" if old else "undo")] if readings else []

    def _shot(
        self, shots: Sequence[Shot], at: datetime, replaces: Replaces = "nothing", *, insist: bool = False
    ) -> list[Effect]:
        """Ask for shots to be written; those that are doubted, and not insisted on, wait for an answer."""
        effects: list[Effect] = []
        beside = []
        for reading in [self.reading(one, at) for one in shots]:
            found = self.doubt(reading)
            if found is not None and not insist:
                self.doubts.append(replace(found, again=replaces != "nothing"))
                continue
            believed = reading if found is None else self._insisted(reading)
            if old := self._old(reading, replaces):
                effects += self._write(believed, old=old)
            else:
                beside.append(believed)
        effects += self._write(*beside)
        return [*effects, Tell(rings=2)] if self.doubts else effects

    def _old(self, reading: Reading, replaces: Replaces) -> tuple[Reading, ...]:
        if replaces == "nothing" or (replaces == "contradicted" and (reading.aim != "rail" or self.note)):
            return ()
        alike = [one for one in self.readings if self.is_same_shot(one, reading)]
        return tuple(one for one in alike if replaces == "all alike" or self.contradicts(one, reading))

    def _shots(self, items: tuple[Shot | typed.OverRange, ...], at: datetime) -> list[Effect]:
        readings: list[Reading] = []
        others: list[Effect] = []
        by_hand = len(items) <= BY_HAND
        for item in items:
            if isinstance(item, Shot):
                readings.append(self._from_port(item, at, by_hand))
            else:
                others += self._over_range(item)
        written: list[Effect] = [Change(new=tuple(readings))] if readings else []
        return written + others

    def _from_port(self, event: Shot, at: datetime, by_hand: bool) -> Reading:
        """Return what is written of a shot, and go on; a number in doubt is asked for once more."""
        reading = self.reading(event, at)
        found = self.doubt(reading) if by_hand else None
        if found is not None and self._is_second_witness(reading):
            reading = replace(reading, note=f"{INSISTED}: shown twice")
        elif found is not None:
            expected_c = self.grill.target.middle_c if found.expected_shown_c is None else found.expected_shown_c
            reading = replace(reading, note=f"{DOUBTED}: {said.expected_text(expected_c, self.grill.display)}")
            if reading.position not in self.retried:
                self.retried.add(reading.position)
                self.ask_again(reading)
                return reading
        self.shot(reading)
        return reading

    def _is_second_witness(self, reading: Reading) -> bool:
        """Tell whether a doubtful number was shown at its place before: then it is no slip."""
        there = [one for one in self.readings if one.position == reading.position and one.note.startswith(DOUBTED)]
        return any(abs((one.shown_c or 0.0) - (reading.shown_c or 0.0)) <= SAME_AGAIN_C for one in there)

    def _over_range(self, event: typed.OverRange) -> list[Effect]:
        return [Tell(text=said.over_range_sentence(event, event.position or self.asked), rings=2)]

    def _turned(self, event: typed.Turned, at: datetime) -> list[Effect]:
        told = event.marks or self.advised
        if self.grill.settable and not told:
            first = self.grill.settable[0]
            like = f"turned {first.name} {first.mark_text(first.high)}"
            raise ReadingError(f"no turn is advised now; type which, and to which mark, like {like}")
        marks = {**self.knobs, **told}
        return [Change(new=(replace(self.event(at), knobs=marks),))]

    def _knobs_at(self, marks: Mapping[str, float]) -> list[Effect]:
        self.remember(said.marks_text(self.grill, marks), knobs=dict(self.knobs))
        told: list[Effect] = []
        for burner, mark in marks.items():
            moves = bool(self.readings) and self.knobs.get(burner, mark) != mark
            text = said.knob_sentence(burner, self.grill.burner(burner).mark_text(mark), moves=moves)
            self.knobs[burner] = mark
            told.append(Tell(text=text))
        return told

    def _lid(self, lid: Literal["open", "closed"]) -> list[Effect]:
        if lid == "open" and self.round.lid == "closed":
            return [Tell(text=said.LID_STAYS)]
        self.remember(f"lid {lid}", lid=self.lid)
        self.lid = lid
        return [Tell(text=said.lid_sentence(lid, not_written=self.lid_not_written))]

    def _skip(self, label: str) -> list[Effect]:
        if self.near and label == self.asked:
            text = said.left_out_sentence(f"{label} {self.how}", for_now=False)
            self.leave_near(label)  # half a pair tells nothing
            return [Tell(text=text)]
        self.remember(f"+ at {label}", skipped=label)
        self.walk.skip(label)
        return [Tell(text=said.left_out_sentence(label, for_now=True))]

    # A reading is in doubt

    def _hear_in_doubt(self, event: Event, at: datetime) -> list[Effect]:
        first = self.doubts[0]
        here = first.reading.position
        if isinstance(event, Shot) and event.aim == "rail" and event.position in ("", here) and not event.distance_mm:
            return self._second_number(event, at)
        dropped: list[Effect] = []
        while self.doubts:
            dropped += self._shoot_again()
        if isinstance(event, typed.Undo):
            return dropped
        if isinstance(event, typed.Skip):
            self.walk.skip(here)
            return [*dropped, Tell(text=said.left_out_sentence(here, for_now=True))]
        return [*dropped, *self.hear(event, at)]

    def _second_number(self, shot: Shot, at: datetime) -> list[Effect]:
        first = self.doubts[0]
        assert first.reading.shown_c is not None
        reading = replace(first.reading, shown_c=shot.shown_c, taken_at=at)
        if abs(shot.shown_c - first.reading.shown_c) <= SAME_AGAIN_C:
            return self._settle(self._insisted(reading))
        found = self.doubt(reading)
        if found is not None:
            self.doubts[0] = replace(found, again=first.again)
            return [Tell(rings=2)]
        return self._settle(reading)

    def _settle(self, reading: Reading) -> list[Effect]:
        """Write what the first doubt was about."""
        first = self.doubts.pop(0)
        return self._write(reading, old=self._old(reading, "contradicted" if first.again else "nothing"))

    def _shoot_again(self) -> list[Effect]:
        one = self.doubts.pop(0)
        self.ask_again(one.reading)
        return [Tell(text=said.not_kept_sentence(one.reading, self.grill.display))]
