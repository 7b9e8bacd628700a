"""A round being taken: what was typed or came from the port, and when, goes in; what is to be done comes out.

Nothing here touches a file, the screen or a clock. :meth:`Session.hear` returns
effects (:mod:`heatmap.taking.effects`);
whoever runs the session carries them out and reports back with :meth:`Session.written` and :meth:`Session.withdrawn`,
so that nothing is acknowledged before it is on the disk.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Literal

import numpy as np

import heatmap.words.taking as said
from heatmap.correct import Calibration, correct_readings, tells_valley
from heatmap.errors import ReadingError
from heatmap.grate_model.model import RoundSurface
from heatmap.grate_model.round_map import RoundMap
from heatmap.grill.grill import Grill
from heatmap.readings.reading import INSISTED, ITSELF, Aim, Reading, Round
from heatmap.readings.typed import (
    Again,
    Done,
    Fix,
    Help,
    KnobAt,
    LidIs,
    Noted,
    OverRange,
    RowOfShots,
    Shot,
    Skip,
    SurfaceIs,
    Turned,
    Undo,
    parse_typed,
)
from heatmap.taking.doubt import DOUBTED, Doubt, doubt
from heatmap.taking.effects import (
    Effect,
    End,
    Event,
    Replace,
    Ring,
    Shots,
    ShowHelp,
    Tell,
    Withdraw,
    Write,
)
from heatmap.taking.tuning import BY_HAND, IN_TURN, REPEATS, SAME_AGAIN_C
from heatmap.taking.walk import Walk
from heatmap.units import Display

_KEEP = ("keep", "k", "yes", "y")
_SHOOT_AGAIN = ("again", "a", "no", "n")


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What the readings so far say, for judging the next one.

    Attributes
    ----------
    calibrations : mapping
        For each state of the surface; a state that is not in it is not judged.
    round_map : RoundMap or None
        None while there are too few readings.
    to_come : RoundSurface or None
        What the rounds before say of this one.
    """

    calibrations: Mapping[str, Calibration]
    round_map: RoundMap | None = None
    to_come: RoundSurface | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Typed:
    """One thing that was typed and can be taken back: readings, those they replaced, a note, or what stood before."""

    reading: Reading | None = None
    replaced: tuple[Reading, ...] = ()
    may_keep_both: bool = False
    said: str = ""
    before: Mapping[str, object] = field(default_factory=dict)


class Session:
    """A round being taken. Unlike most of the library it changes as it goes on.

    Parameters
    ----------
    grill : Grill
    walk : Walk
        The positions to be led through.
    number : int
        Of the round.
    name : str
        Of the session.
    readings : sequence of Reading
        Those of the round that stand already, where it is continued.
    knobs : mapping
        Marks where they are known.
    distance_mm : float or None
    surface, lid
        As the round begins.
    note : str
        Goes with every reading.
    close_up_mm : float or None
        After every shot of the walk one on the rail and one between two rails are asked for from this distance
        (:mod:`heatmap.correct.close_up`).
    """

    def __init__(
        self,
        grill: Grill,
        walk: Walk,
        *,
        number: int,
        name: str,
        readings: Sequence[Reading] = (),
        knobs: Mapping[str, float] | None = None,
        distance_mm: float | None = None,
        surface: Literal["dry", "oiled"] = "dry",
        lid: Literal["open", "closed"] = "open",
        note: str = "",
        close_up_mm: float | None = None,
    ) -> None:
        """Begin."""
        self.grill, self.walk, self.number, self.name = grill, walk, number, name
        self.close_up_mm = close_up_mm
        self.near: list[tuple[str, Aim]] = []  # what is asked for from close up before the walk goes on
        self.readings = list(readings)
        self.knobs = dict(knobs or {})
        self.distance_mm, self.surface, self.lid, self.note = distance_mm, surface, lid, note
        self.doubts: list[Doubt] = []
        self.known = Known(calibrations={})
        self._display = Display(grill.units)
        self._retried: set[str] = set()
        self.by_hand = True  # a position typed again by hand is a correction; in a pipe it is one more shot
        self.earlier: tuple[Round, ...] = ()  # for what is said of rounds before this one
        self._again: set[str] = set()  # positions typed again while their number is in doubt
        self.advised: Mapping[str, float] = {}  # what `turned` stands for where it names no mark
        self.turned: Reading | None = None  # the last turn of knobs, which no shot has come after
        self._typed: list[_Typed] = []

    def snapshot(self) -> Session:
        """Return a copy that stays as it is while this one goes on: for another thread to map."""
        view = copy.copy(self)
        view.readings, view.knobs = list(self.readings), dict(self.knobs)
        return view

    # What is asked

    @property
    def round(self) -> Round:
        """The round as far as it has got."""
        return Round(number=self.number, session=self.name, readings=tuple(self.readings))

    @property
    def asked(self) -> str:
        """The position the next number goes to."""
        if self.doubts:
            return self.doubts[0].reading.position
        return self.near[0][0] if self.near else self.walk.next

    @property
    def how(self) -> str:
        """From where and at what the next shot is asked for, in words; empty when it is as usual."""
        if self.close_up_mm is None or not self.near:
            return ""
        return said.close_up_text(self.close_up_mm, self.near[0][1], self._display)

    @property
    def question(self) -> str:
        """What is asked, in words; empty when it is simply the next position."""
        return self.question_of(self.doubts[0]) if self.doubts else ""

    def question_of(self, one: Doubt) -> str:
        """Return what is asked about a number in doubt."""
        return said.doubt_question(one, self.grill)

    def number_text(self, celsius: float | None) -> str:
        """Return a temperature as the cook typed it."""
        return said.number_text(celsius, self._display)

    def marks_known(self) -> str:
        """Say where the knobs stand in a round that is gone on with; empty when no mark is known."""
        if not (self.readings and self.knobs):
            return ""
        return said.marks_known_sentence(said.marks_text(self.grill, self.knobs))

    @property
    def _lid_not_written(self) -> bool:
        return bool(self.readings) and self.lid != self.round.lid

    def turns_not_written(self) -> str:
        """Say which turns of a knob, or word on the lid, no reading has been written with; empty for none."""
        written = {**self.round.settings, **(self.turned.knobs if self.turned else {})}
        turned = {name: mark for name, mark in self.knobs.items() if written.get(name) != mark}
        told = [f"lid {self.lid}"] if self._lid_not_written else []
        if not (self.readings and (turned or told)):
            return ""
        told += [said.marks_text(self.grill, turned)] if turned else []
        return said.not_written_sentence(told)

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
                return self._keep(self.doubts[0].reading)
            if word in _SHOOT_AGAIN:
                return self._shoot_again()
        return self.hear(parse_typed(line, self.grill), at)

    def hear(self, event: Event, at: datetime) -> list[Effect]:
        """Take in one event; `at` is when it happened, UTC.

        Raises
        ------
        ReadingError
            When it cannot be: nothing to put right, a turn of which nobody said what was turned.
        """
        if not isinstance(event, Skip | Help | Again):
            self._keeps_both_no_more()
        if self.doubts and isinstance(event, Shot | RowOfShots | OverRange | Undo | Skip | Done | Shots):
            return self._hear_in_doubt(event, at)
        match event:
            case Shots():
                return self._shots(event, at)
            case Shot():
                return self._shot(self.reading(event, at), again=bool(event.position) and self.by_hand)
            case Fix():
                return self._fix(event)
            case Turned():
                return self._turned(event, at)
            case Noted():
                return [Write(readings=(replace(self._event(at), void=ITSELF, note=event.text),))]
            case RowOfShots():
                return self._row(event, at)
            case OverRange():
                return self._over_range(event)
            case SurfaceIs():
                self._remember(event.surface, surface=self.surface)
                self.surface = event.surface
                return [Tell(text=said.surface_sentence(event.surface))]
            case LidIs():
                return self._lid(event)
            case KnobAt():
                return self._knob(event)
            case Undo():
                return self._undo(event)
            case Skip() if self._typed and self._typed[-1].may_keep_both:
                return self._write(*(replace(one, note=f"{INSISTED}: both") for one in self._typed.pop().replaced))
            case Skip():
                return self._skip()
            case Done():
                return [End()]
            case Help():
                return [ShowHelp()]
            case Again():
                return []

    def hear_beside(
        self, event: Event, at: datetime, *, insist: bool = False, replaces: bool = False
    ) -> list[Effect] | Doubt:
        """Take in one event that came past the keyboard; what is asked at the keyboard stays asked.

        Parameters
        ----------
        event : Event
        at : datetime
        insist : bool
            Keep a number that is doubted.
        replaces : bool
            A shot withdraws those like it at its position; without it, it is one more.

        Returns
        -------
        list of Effect or Doubt
            The first doubt there is; then nothing has changed.

        Raises
        ------
        ReadingError
            As :meth:`hear`.
        """
        waiting, self.doubts = self.doubts, []
        self._keeps_both_no_more()
        try:
            if isinstance(event, Shot):
                return self._shots_beside((event,), at, insist, replaces)
            if isinstance(event, RowOfShots):
                found = self._shots_beside(event.shots, at, insist, replaces)
                if not isinstance(found, Doubt):
                    for label in event.skipped:
                        self.walk.skip(label)
                return found
            return self.hear(event, at)
        finally:
            self.doubts = waiting

    def _keeps_both_no_more(self) -> None:
        """+ is for what was said last at the keyboard: after anything else it is a skip."""
        if self._typed:
            self._typed[-1] = replace(self._typed[-1], may_keep_both=False)

    def _shots_beside(self, shots: Sequence[Shot], at: datetime, insist: bool, replaces: bool) -> list[Effect] | Doubt:
        effects: list[Effect] = []
        readings = [self.reading(one, at) for one in shots]
        doubts = [self._doubt(one) for one in readings]
        if not insist and any(doubts):
            return next(filter(None, doubts))
        for reading, found in zip(readings, doubts, strict=True):
            believed = reading if found is None else self._insisted(reading)
            old = tuple(one for one in self.readings if replaces and self.is_same_shot(one, reading))
            effects += self._write(believed) if not old else self._replace(believed, old)
        return effects

    def _replace(self, reading: Reading, old: tuple[Reading, ...]) -> list[Effect]:
        self._write(reading)
        return [Replace(reading=reading, old=old, why="replaced")]

    def _insisted(self, reading: Reading) -> Reading:
        about = self.note and f": {self.note}"
        return replace(reading, note=f"{INSISTED}{about}")

    def take_back(self, number: int, why: str = "undo") -> list[Effect]:
        """Ask for the row with this id to be withdrawn: a shot of any round, a note or a turn of knobs of this one.

        Raises
        ------
        ReadingError
            When there is none.
        """
        for typed in reversed(self._typed):
            reading = typed.reading
            if reading is not None and reading.id == number and (reading.shown_c is None or reading in self.readings):
                self._typed = [one for one in self._typed if one is not typed]
                again: list[Effect] = [Write(readings=typed.replaced)] if typed.replaced else []
                unsaid = self._unsay(typed) if reading.shown_c is None else []
                return [*again, Withdraw(reading=reading, why=why), *unsaid]
        for readings in (self.readings, *(one.readings for one in self.earlier)):
            for shot in readings:
                if shot.id == number:
                    return [Withdraw(reading=shot, why=why)]
        raise ReadingError(f"there is no reading {number} to take back in round {self.number}")

    def reading(self, shot: Shot, at: datetime) -> Reading:
        """Return what a shot is written as; where it names no position, that of what is asked for."""
        label, aim, distance_mm = shot.position or self.asked, shot.aim, shot.distance_mm
        if self.near and not shot.position and aim == "rail" and distance_mm is None:
            label, aim = self.near[0]
            distance_mm = self.close_up_mm
        x_mm, y_mm = self.grill.point_mm(label)
        return replace(
            self._event(at),
            shown_c=shot.shown_c,
            x_mm=x_mm,
            y_mm=y_mm,
            position=label,
            aim=aim,
            distance_mm=self.distance_mm if distance_mm is None else distance_mm,
            knobs=self.knobs,
            note=self.note,
        )

    def _doubt(self, reading: Reading) -> Doubt | None:
        calibration = self.known.calibrations.get(reading.surface)
        if calibration is None:
            return None
        before = [
            one
            for one in self.readings
            if one.aim == "rail" and one.surface == reading.surface and not one.note.startswith(DOUBTED)
        ]
        return doubt(reading, calibration, self.known.round_map, before, self.known.to_come)

    def _write(self, *readings: Reading) -> list[Effect]:
        """Ask for readings to be written; the walk goes on at once, so that the next number has its place."""
        for reading in readings:
            if self._is_of_the_walk(reading) and reading.position:
                self.walk.shot(reading.position)
                if self.close_up_mm is not None and not self.note:
                    self.near += [(reading.position, "rail"), (reading.position, "valley")]
            elif self._is_near(reading) and (reading.position, reading.aim) in self.near:
                self.near.remove((reading.position, reading.aim))
        return [Write(readings=readings)] if readings else []

    def _is_of_the_walk(self, reading: Reading) -> bool:
        """Tell whether this is the shot the walk asked for, not a probe or a shot from close up beside it."""
        return reading.aim == "rail" and reading.distance_mm == self.distance_mm

    def _is_near(self, reading: Reading) -> bool:
        return self.close_up_mm is not None and reading.distance_mm == self.close_up_mm

    def _drop_near(self, label: str) -> None:
        self.near = [one for one in self.near if one[0] != label]

    def _ask_again(self, reading: Reading) -> None:
        """Ask for a reading once more, next."""
        if self._is_of_the_walk(reading):
            self._drop_near(reading.position)
            self.walk.ask_next(reading.position)
        elif self._is_near(reading) and (reading.position, reading.aim) not in self.near:
            self.near.insert(0, (reading.position, reading.aim))

    def _shot(self, reading: Reading, *, again: bool = False) -> list[Effect]:
        found = self._doubt(reading)
        if found is None:
            return self._write_again(reading) if again else self._write(reading)
        self.doubts.append(found)
        if again:
            self._again.add(reading.position)
        return [Ring(times=2)]

    def _write_again(self, reading: Reading) -> list[Effect]:
        """Ask for a reading to be written whose position was typed: it replaces an earlier one that it contradicts."""
        self._again.discard(reading.position)
        old = tuple(one for one in self.readings if self.is_same_shot(one, reading) and self._contradicts(one, reading))
        positions = {one.position for one in self.readings}
        in_turn = len(positions) == IN_TURN and self.readings[-1].position != reading.position
        if not old or reading.aim != "rail" or self.note or in_turn:
            return self._write(reading)
        return self._replace(reading, old)

    def is_same_shot(self, one: Reading, other: Reading) -> bool:
        """Tell whether two readings are of one position, alike in all but the number."""
        same = (one.position, one.aim, one.distance_mm, one.surface)
        return same == (other.position, other.aim, other.distance_mm, other.surface)

    def _contradicts(self, one: Reading, other: Reading) -> bool:
        """Tell whether two numbers for one shot differ by more than repeats do."""
        assert one.shown_c is not None and other.shown_c is not None
        return abs(one.shown_c - other.shown_c) > max(SAME_AGAIN_C, REPEATS * self._repeat_std_c(other))

    def _repeat_std_c(self, reading: Reading) -> float:
        """Return the standard deviation of the difference of two shots at one place, as shown."""
        calibration = self.known.calibrations.get(reading.surface)
        if calibration is None or reading.aim != "rail":
            return 0.0
        spot = correct_readings([reading], calibration)[0]
        if spot.rail_c is None or spot.shot_std_c is None:
            return 0.0
        return float(np.sqrt(2.0)) * spot.shot_std_c * calibration.compared_slope(spot.rail_c)

    def _fix(self, event: Fix) -> list[Effect]:
        """Put right a number that was kept, in this round or an earlier one."""
        shot = event.shot
        rounds = [(self.number, self.readings), *((one.number, one.readings) for one in reversed(self.earlier))]
        for number, readings in rounds:
            if event.round in (None, number):
                there = [one for one in readings if (one.position, one.aim) == (shot.position, shot.aim)]
                if there:
                    old = there[-1]
                    was = f"fixed: was {self.number_text(old.shown_c)}"
                    return [Replace(reading=replace(old, shown_c=shot.shown_c, note=was), old=(old,), why="fixed")]
        where = "" if event.round is None else f" in round {event.round}"
        what = "" if shot.aim == "rail" else f"{shot.aim} "
        raise ReadingError(f"there is no {what}reading at {shot.position}{where} to fix")

    def _row(self, row: RowOfShots, at: datetime) -> list[Effect]:
        believed = []
        for shot in row.shots:
            reading = self.reading(shot, at)
            found = self._doubt(reading)
            if found is None:
                believed.append(reading)
            else:
                self.doubts.append(found)
        for label in row.skipped:
            self.walk.skip(label)
        effects = self._write(*believed)
        effects += [Tell(text=text) for text in said.row_sentences(row.skipped, row.row, row.left_open)]
        return [*effects, Ring(times=2)] if self.doubts else effects

    def _shots(self, shots: Shots, at: datetime) -> list[Effect]:
        readings: list[Reading] = []
        others: list[Effect] = []
        by_hand = len(shots.items) <= BY_HAND
        for item in shots.items:
            effects = self._from_port(item, at, by_hand) if isinstance(item, Shot) else self._over_range(item)
            for effect in effects:
                if isinstance(effect, Write):
                    readings.extend(effect.readings)
                else:
                    others.append(effect)
        written: list[Effect] = [Write(readings=tuple(readings))] if readings else []
        return written + others

    def _from_port(self, event: Shot, at: datetime, by_hand: bool = True) -> list[Effect]:
        reading = self.reading(event, at)
        found = self._doubt(reading) if by_hand else None
        if found is None:
            return self._write(reading)
        if self._is_second_witness(reading):
            return self._write(replace(reading, note=f"{INSISTED}: shown twice"))
        expected_c = self.grill.target.middle_c if found.expected_shown_c is None else found.expected_shown_c
        reading = replace(reading, note=f"{DOUBTED}: {said.expected_text(expected_c, self._display)}")
        if reading.position in self._retried:
            return self._write(reading)
        self._retried.add(reading.position)
        self._ask_again(reading)
        return [Write(readings=(reading,))]

    def _is_second_witness(self, reading: Reading) -> bool:
        """Tell whether a doubtful number was shown at its place before: then it is no slip."""
        assert reading.shown_c is not None
        return any(
            one.position == reading.position
            and one.note.startswith(DOUBTED)
            and one.shown_c is not None
            and abs(one.shown_c - reading.shown_c) <= SAME_AGAIN_C
            for one in self.readings
        )

    def _over_range(self, event: OverRange) -> list[Effect]:
        return [Tell(text=said.over_range_sentence(event, event.position or self.asked)), Ring(times=2)]

    def _event(self, at: datetime) -> Reading:
        """Return a row for something that is no reading; a turn of knobs unless more is said."""
        return Reading(
            id=0,
            shown_c=None,
            x_mm=0.0,
            y_mm=0.0,
            aim="turned",
            round=self.number,
            session=self.name,
            taken_at=at,
            surface=self.surface,
            lid=self.lid,
        )

    def _turned(self, event: Turned, at: datetime) -> list[Effect]:
        told = event.marks or self.advised
        settable = [burner for burner in self.grill.burners if burner.control != "none"]
        if settable and not told:
            like = f"turned {settable[0].name} {settable[0].mark_text(settable[0].high)}"
            raise ReadingError(f"no turn is advised now; type which, and to which mark, like {like}")
        marks = {**self.knobs, **told}
        return [Write(readings=(replace(self._event(at), knobs=marks),))]

    def _knob(self, event: KnobAt) -> list[Effect]:
        before = self.knobs.get(event.burner)
        self._remember(said.marks_text(self.grill, {event.burner: event.mark}), knobs=dict(self.knobs))
        self.knobs[event.burner] = event.mark
        mark = self.grill.burner(event.burner).mark_text(event.mark)
        turned = before is not None and before != event.mark
        return [Tell(text=said.knob_sentence(event.burner, mark, moves=turned and bool(self.readings)))]

    def _lid(self, event: LidIs) -> list[Effect]:
        if event.lid == "open" and self.round.lid == "closed":
            return [Tell(text=said.LID_STAYS)]
        self._remember(f"lid {event.lid}", lid=self.lid)
        self.lid = event.lid
        return [Tell(text=said.lid_sentence(event.lid, not_written=self._lid_not_written))]

    def _remember(self, what: str, **before: object) -> None:
        """Keep what stood before something was said, so that it can be taken back."""
        self._typed.append(_Typed(said=what, before=before))

    def _undo(self, event: Undo) -> list[Effect]:
        if event.position:
            there = [one for one in self.readings if one.position == event.position and event.aim in ("", one.aim)]
            if not there:
                return [Tell(text=said.nothing_there_sentence(event.position), nothing_done=True)]
            return [Withdraw(reading=there[-1])]
        here = {one.id for one in self.readings}
        while self._typed:
            last = self._typed.pop()
            if last.reading is None:
                return self._unsay(last)
            if last.reading.shown_c is None:
                return [Withdraw(reading=last.reading), *self._unsay(last)]
            if last.reading.round != self.number:
                return [Replace(reading=last.replaced[0], old=(last.reading,), why="taken back")]
            if last.reading.id in here:
                again: list[Effect] = [Write(readings=last.replaced)] if last.replaced else []
                return [*again, Withdraw(reading=last.reading)]
        if not self.readings:
            return [Tell(text=said.NOTHING_TO_TAKE_BACK, nothing_done=True)]
        return [Withdraw(reading=self.readings[-1])]

    def _unsay(self, typed: _Typed) -> list[Effect]:
        for name, value in typed.before.items():
            if name == "skipped":
                self.walk.ask_next(str(value))
            else:
                setattr(self, name, value)
        stands = said.stands_sentence(self.lid, self.surface, said.marks_text(self.grill, self.knobs))
        return [Tell(text=said.unsaid_sentence(typed.said, stands if typed.before.keys() - {"skipped"} else ""))]

    def _skip(self) -> list[Effect]:
        if self.near:
            text = said.left_out_sentence(f"{self.asked} {self.how}", for_now=False)
            self._drop_near(self.asked)  # half a pair tells nothing
            return [Tell(text=text)]
        label = self.walk.next
        self._remember(f"+ at {label}", skipped=label)
        self.walk.skip(label)
        return [Tell(text=said.left_out_sentence(label, for_now=True))]

    # A reading is in doubt

    def _hear_in_doubt(self, event: Event, at: datetime) -> list[Effect]:
        first = self.doubts[0]
        here = first.reading.position
        if isinstance(event, Shot) and event.aim == "rail" and event.position in ("", here) and not event.distance_mm:
            return self._second_number(event, at)
        dropped = self._drop_doubts()
        if isinstance(event, Undo):
            return dropped
        if isinstance(event, Skip):
            self.walk.skip(here)
            return [*dropped, Tell(text=said.left_out_sentence(here, for_now=True))]
        return [*dropped, *self.hear(event, at)]

    def _second_number(self, shot: Shot, at: datetime) -> list[Effect]:
        first = self.doubts[0]
        assert first.reading.shown_c is not None
        reading = replace(first.reading, shown_c=shot.shown_c, taken_at=at)
        if abs(shot.shown_c - first.reading.shown_c) <= SAME_AGAIN_C:
            return self._keep(reading)
        found = self._doubt(reading)
        if found is not None:
            self.doubts[0] = found
            return [Ring(times=2)]
        del self.doubts[0]
        return self._write_doubted(reading)

    def _write_doubted(self, reading: Reading) -> list[Effect]:
        return self._write_again(reading) if reading.position in self._again else self._write(reading)

    def _keep(self, reading: Reading) -> list[Effect]:
        del self.doubts[0]
        return self._write_doubted(self._insisted(reading))

    def _shoot_again(self) -> list[Effect]:
        one = self.doubts.pop(0)
        self._again.discard(one.reading.position)
        self._ask_again(one.reading)
        return [Tell(text=said.not_kept_sentence(one.reading, self._display))]

    def _drop_doubts(self) -> list[Effect]:
        effects: list[Effect] = []
        while self.doubts:
            effects += self._shoot_again()
        return effects

    # What has been done

    def written(self, readings: Sequence[Reading]) -> list[Effect]:
        """Take note that readings are on the disk; `readings` as the log returned them."""
        effects: list[Effect] = []
        for one in readings:
            typed = _Typed(reading=one)
            if one.shown_c is None and one.void is not None:
                typed = _Typed(reading=one, said="the note")
                effects.append(Tell(text=said.noted_sentence(one.note)))
            elif one.shown_c is None:
                before = {"knobs": dict(self.knobs), "turned": self.turned}
                typed = _Typed(reading=one, said="the turn of the knobs", before=before)
                self.knobs, self.turned = dict(one.knobs), one
            self._typed.append(typed)
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
            effects[:0] = [Tell(text=kept), Ring(times=1)]
        return effects

    def named(self, reading: Reading) -> str:
        """Return a reading as it is called: B3 582, contact B3 610."""
        return said.named(reading, self.distance_mm, self._display)

    def _kept_beside(self, reading: Reading) -> list[Effect]:
        away = said.away_text(reading, self.distance_mm, self._display)
        rails = [one for one in self.readings if one.aim == "rail" and one.position == reading.position]
        pair = any(not away or one.distance_mm == reading.distance_mm for one in rails)
        text = said.kept_beside_sentence(
            reading,
            self.named(reading),
            away,
            to_pair=not pair and reading.aim != "patch",
            tells_little=reading.aim == "valley" and not tells_valley(self.grill, reading.distance_mm),
        )
        return [Tell(text=text), Ring(times=1)]

    def _kept_in_doubt(self, reading: Reading) -> list[Effect]:
        again = reading.position if self.asked == reading.position else ""
        text = said.doubted_sentence(self.named(reading), reading.note.partition(": ")[2], again)
        return [Tell(text=text), Ring(times=2 if again else 1)]

    def replaced(self, reading: Reading, effect: Replace) -> list[Effect]:
        """Take note that a reading, as the log returned it, is on the disk and those it replaces are withdrawn."""
        if reading.round == self.number:
            gone = {one.id for one in effect.old}
            self.readings = [*(one for one in self.readings if one.id not in gone), reading]
        if effect.why != "taken back":
            both = effect.why == "replaced"
            self._typed.append(_Typed(reading=reading, replaced=effect.old, may_keep_both=both))
        elsewhere = reading.round != self.number
        text = said.replaced_sentence(
            reading, effect.old, self._display, elsewhere=elsewhere, both=effect.why == "replaced"
        )
        return [Tell(text=text), Ring(times=1)]

    def lost(self, readings: Sequence[Reading]) -> None:
        """Take note that readings could not be written: their positions are asked for again."""
        for reading in reversed(readings):
            if self._is_of_the_walk(reading) and reading.position:
                self._drop_near(reading.position)
                self.walk.take_back(reading.position)
            else:
                self._ask_again(reading)

    def withdrawn(self, reading: Reading) -> list[Effect]:
        """Take note that a reading has been withdrawn in the log."""
        if reading.shown_c is None:
            return []
        self.readings = [one for one in self.readings if one.id != reading.id]
        if reading.round == self.number and not self._is_of_the_walk(reading):
            self._ask_again(reading)
        elif reading.round == self.number and not any(
            self._is_of_the_walk(one) and one.position == reading.position for one in self.readings
        ):
            self._drop_near(reading.position)
            self.walk.take_back(reading.position)
        return [Tell(text=said.taken_back_sentence(self.named(reading)))]

    def suspect_found(self, reading: Reading, expected_shown_c: float) -> list[Effect]:
        """Take note that a reading kept before turns out not to fit the others: ask for its position again."""
        label = reading.position
        if not label or label in self._retried:
            return []
        self._retried.add(label)
        self._ask_again(reading)
        text = said.suspect_sentence(reading, self.named(reading), expected_shown_c, self._display)
        return [Tell(text=text), Ring(times=2)]
