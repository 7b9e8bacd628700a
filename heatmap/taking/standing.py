"""How a round stands while it is taken: what was written and is taken back or put right, and what is asked for next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import KW_ONLY, dataclass, field, replace
from datetime import datetime
from typing import Literal

import numpy as np

import heatmap.words.taking as said
from heatmap.correct import Calibration, correct_readings, tells_valley
from heatmap.errors import ReadingError
from heatmap.grate_model.model import RoundSurface
from heatmap.grill.grill import Grill
from heatmap.readings.reading import Aim, Reading, Round
from heatmap.readings.typed import Done, Fix, Help, OverRange, Shot, Typed, Undo
from heatmap.taking.doubt import DOUBTED, Doubt, doubt
from heatmap.taking.tuning import REPEATS, SAME_AGAIN_C
from heatmap.taking.walk import Walk


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """Write `new` down, then withdraw `old`; then call `Session.done`, or `Session.lost` when that fails."""

    new: tuple[Reading, ...] = ()
    old: tuple[Reading, ...] = ()
    why: str = "undo"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tell:
    """Show a line, where there is one; sound the bell once for kept, twice for "shoot again"."""

    text: str = ""
    rings: int = 0


#: A round over the whole grate, or of a few positions where the food goes.
Kind = Literal["full", "recheck"]
#: That the round is over and that help is asked for goes on to whoever runs the session.
Effect = Change | Tell | Done | Help
#: What is heard: something typed, or what came from the port at one go, in order.
Event = Typed | tuple[Shot | OverRange, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Entered:
    """One thing that was typed and can be taken back: readings, those they replaced, a note, or what stood before."""

    reading: Reading | None = None
    replaced: tuple[Reading, ...] = ()
    said: str = ""
    before: Mapping[str, object] = field(default_factory=dict)


@dataclass(eq=False)
class Standing:
    """How a round stands. Unlike most of the library it changes as it goes on.

    Attributes
    ----------
    grill : Grill
    walk : Walk
        The positions to be led through.
    number : int
        Of the round.
    name : str
        Of the session.
    readings : list of Reading
        Those that stand.
    knobs : dict
        Marks where they are known.
    distance_mm : float or None
    surface, lid
        As the next shot finds them.
    close_up_mm : float or None
        After every shot of the walk one on the rail and one between two rails are asked for from this distance
        (:func:`heatmap.correct.close_up_mm`).
    kind : {"full", "recheck"}
    near : list of (str, str)
        What is asked for from close up before the walk goes on.
    note : str
        Goes with every reading.
    calibrations : mapping
        For each state of the rails, to judge the next reading by; in a state that is not in it none is judged.
    surface_known : RoundSurface or None
        The map of the round; while there are too few readings, what the rounds before say of it, if they do.
    earlier : tuple of Round
        Those before this one.
    turned : Reading or None
        The last turn of knobs, which no shot has come after.
    entered : list
        Each thing that was typed as it can be taken back, the last one last.
    plus_keeps : tuple of Reading
        What the last entry replaced; + at once after it keeps both.
    retried : set of str
        Positions that were asked for again once.
    """

    grill: Grill
    walk: Walk
    _: KW_ONLY
    number: int
    name: str
    readings: list[Reading] = field(default_factory=list)
    knobs: dict[str, float] = field(default_factory=dict)
    distance_mm: float | None = None
    surface: Literal["dry", "oiled"] = "dry"
    lid: Literal["open", "closed"] = "open"
    close_up_mm: float | None = None
    kind: Kind = "full"
    near: list[tuple[str, Aim]] = field(default_factory=list)
    note: str = ""
    calibrations: Mapping[str, Calibration] = field(default_factory=dict)
    surface_known: RoundSurface | None = None
    earlier: tuple[Round, ...] = ()
    turned: Reading | None = None
    entered: list[_Entered] = field(default_factory=list)
    plus_keeps: tuple[Reading, ...] = ()
    retried: set[str] = field(default_factory=set)

    @property
    def round(self) -> Round:
        """The round as far as it has got."""
        return Round(number=self.number, session=self.name, readings=tuple(self.readings))

    @property
    def asked(self) -> str:
        """The position the next number goes to."""
        return self.near[0][0] if self.near else self.walk.next

    @property
    def how(self) -> str:
        """From where and at what the next shot is asked for, in words; empty when it is as usual."""
        if self.close_up_mm is None or not self.near:
            return ""
        return said.close_up_text(self.close_up_mm, self.near[0][1], self.grill.display)

    # Rows

    def event(self, at: datetime) -> Reading:
        """Return a row for something that is no reading; a turn of knobs unless more is said."""
        return Reading(
            aim="turned", round=self.number, session=self.name, taken_at=at, surface=self.surface, lid=self.lid
        )

    def reading(self, shot: Shot, at: datetime) -> Reading:
        """Return what a shot is written as; where it names no position, that of what is asked for."""
        label, aim, distance_mm = shot.position or self.asked, shot.aim, shot.distance_mm
        if self.near and not shot.position and aim == "rail" and distance_mm is None:
            label, aim = self.near[0]
            distance_mm = self.close_up_mm
        x_mm, y_mm = self.grill.point_mm(label)
        return replace(
            self.event(at),
            shown_c=shot.shown_c,
            x_mm=x_mm,
            y_mm=y_mm,
            position=label,
            aim=aim,
            distance_mm=self.distance_mm if distance_mm is None else distance_mm,
            knobs=self.knobs,
            note=self.note,
        )

    def is_same_shot(self, one: Reading, other: Reading) -> bool:
        """Tell whether two readings are of one position, alike in all but the number."""
        same = (one.position, one.aim, one.distance_mm, one.surface)
        return same == (other.position, other.aim, other.distance_mm, other.surface)

    def contradicts(self, one: Reading, other: Reading) -> bool:
        """Tell whether two numbers for one shot of the gun on the rail differ by more than repeats do."""
        assert one.shown_c is not None and other.shown_c is not None
        calibration, std_c = self.calibrations.get(other.surface), 0.0
        if calibration is not None:
            spot = correct_readings([other], calibration)[0]
            if spot.rail_c is not None and spot.shot_std_c is not None:
                std_c = float(np.sqrt(2.0)) * spot.shot_std_c * calibration.compared_slope(spot.rail_c)
        return abs(one.shown_c - other.shown_c) > max(SAME_AGAIN_C, REPEATS * std_c)

    def doubt(self, reading: Reading) -> Doubt | None:
        """Judge a reading by what is known; None when it is to be believed."""
        calibration = self.calibrations.get(reading.surface)
        if calibration is None:
            return None
        rails = [one for one in self.readings if one.aim == "rail" and one.surface == reading.surface]
        before = [one for one in rails if not one.note.startswith(DOUBTED)]
        return doubt(reading, calibration, self.surface_known, before)

    # What is asked for

    def shot(self, reading: Reading) -> None:
        """Go on to what is asked for after a reading."""
        if self._is_of_the_walk(reading):
            self.walk.shot(reading.position)
            if self.close_up_mm is not None and not self.note:
                self.near += [(reading.position, "rail"), (reading.position, "valley")]
        elif self._is_near(reading) and (reading.position, reading.aim) in self.near:
            self.near.remove((reading.position, reading.aim))

    def ask_again(self, reading: Reading) -> None:
        """Ask for a reading once more, next."""
        if self._is_of_the_walk(reading):
            self.leave_near(reading.position)
            self.walk.ask_next(reading.position)
        elif self._is_near(reading) and (reading.position, reading.aim) not in self.near:
            self.near.insert(0, (reading.position, reading.aim))

    def lost(self, readings: Sequence[Reading]) -> None:
        """Take note that readings are not written, or not any more: their positions are asked for again."""
        for reading in reversed(readings):
            if self._is_of_the_walk(reading):
                self.leave_near(reading.position)
                self.walk.take_back(reading.position)
            else:
                self.ask_again(reading)

    def leave_near(self, label: str) -> None:
        """Ask for nothing from close up at a position: half a pair tells nothing."""
        self.near = [one for one in self.near if one[0] != label]

    def _is_of_the_walk(self, reading: Reading) -> bool:
        """Tell whether this is the shot the walk asked for, not a probe or a shot from close up beside it."""
        return bool(reading.position) and reading.aim == "rail" and reading.distance_mm == self.distance_mm

    def _is_near(self, reading: Reading) -> bool:
        return self.close_up_mm is not None and reading.distance_mm == self.close_up_mm

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
                effects.append(Tell(text=said.NOTED.format(note=one.note)))
            elif one.shown_c is None:
                before = {"knobs": dict(self.knobs), "turned": self.turned}
                typed = _Entered(reading=one, said="the turn of the knobs", before=before)
                self.knobs, self.turned = dict(one.knobs), one
            self.entered.append(typed)
        readings = [one for one in readings if one.shown_c is not None]
        self.readings += readings
        for reading in readings:
            if reading.aim != "rail":
                effects.append(Tell(text=self._kept_beside(reading), rings=1))
            elif reading.note.startswith(DOUBTED):
                again = reading.position if self.asked == reading.position else ""
                text = said.doubted_sentence(self.named(reading), reading.note.partition(": ")[2], again)
                effects.append(Tell(text=text, rings=2 if again else 1))
        plain = [one for one in readings if one.aim == "rail" and not one.note.startswith(DOUBTED)]
        if plain:
            kept = said.kept_sentence([self.named(one) for one in plain])
            effects[:0] = [Tell(text=kept, rings=1)]
        return effects

    def _kept_beside(self, reading: Reading) -> str:
        away = said.away_text(reading, self.distance_mm, self.grill.display)
        rails = [one for one in self.readings if one.aim == "rail" and one.position == reading.position]
        pair = any(not away or one.distance_mm == reading.distance_mm for one in rails)
        return said.kept_beside_sentence(
            reading,
            self.named(reading),
            away,
            to_pair=not pair and reading.aim != "patch",
            tells_little=reading.aim == "valley" and not tells_valley(self.grill, reading.distance_mm),
        )

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
        stands = any(self._is_of_the_walk(one) and one.position == reading.position for one in self.readings)
        if reading.round == self.number and not (stands and self._is_of_the_walk(reading)):
            self.lost([reading])
        return [Tell(text=said.TAKEN_BACK.format(reading=self.named(reading)))]

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
                raise ReadingError(said.NOTHING_THERE.format(position=event.position))
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

    # In words

    def named(self, reading: Reading) -> str:
        """Return a reading as it is called: B3 582, contact B3 610."""
        return said.named(reading, self.distance_mm, self.grill.display)

    def marks_known(self) -> str:
        """Say where the knobs stand in a round that is gone on with; empty when no mark is known."""
        marks = said.marks_text(self.grill, self.knobs)
        return said.MARKS_KNOWN.format(marks=marks) if self.readings and marks else ""

    @property
    def lid_not_written(self) -> bool:
        """Whether the lid was told otherwise since the last reading."""
        return bool(self.readings) and self.lid != self.round.lid

    def turns_not_written(self) -> str:
        """Say which turns of a knob, or word on the lid, no reading has been written with; empty for none."""
        written = {**self.round.settings, **(self.turned.knobs if self.turned else {})}
        turned = {name: mark for name, mark in self.knobs.items() if written.get(name) != mark}
        lid = f"lid {self.lid}" if self.lid_not_written else ""
        told = ", ".join(filter(None, (lid, said.marks_text(self.grill, turned))))
        return said.NOT_WRITTEN.format(told=told) if told and self.readings else ""
