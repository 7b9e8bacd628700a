"""A round being taken: what was typed or came from the port, and when, goes in; what comes of it goes out.

Nothing here touches a file, the screen or a clock. :meth:`Session.hear` answers with an :class:`Outcome`: the rows to
be written, and what is told once they are. It goes on as if they were; who runs the session
(:mod:`heatmap.taking.sitting`) writes them, or puts the session back to where it stood.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import KW_ONLY, dataclass, field, replace
from datetime import datetime
from itertools import chain, count
from typing import Literal

import numpy as np

import heatmap.readings.typed as typed
import heatmap.words.taking as said
from heatmap.correct import Calibration, correct_readings, tells_valley
from heatmap.errors import ReadingError
from heatmap.grate_model.model import RoundSurface
from heatmap.grill.grill import Grill
from heatmap.readings.reading import INSISTED, ITSELF, Aim, Reading, Round
from heatmap.taking.doubt import DOUBTED, Doubt, DoubtedError, doubt
from heatmap.taking.tuning import BY_HAND, REPEATS, SAME_AGAIN_C

#: A round over the whole grate, or of a few positions where the food goes.
Kind = Literal["full", "recheck"]
#: What is heard: something typed, or what came from the port at one go, in order.
Event = typed.Typed | tuple[typed.Shot | typed.OverRange, ...]
#: Which earlier shots a new one stands in the place of.
Replaces = Literal["nothing", "contradicted", "all alike"]
#: What a shot is of: its position, its aim, and how far the gun is held [mm], None as is usual.
Asked = tuple[str, Aim, float | None]
_KEEP = ("keep", "k", "yes", "y")
_SHOOT_AGAIN = ("again", "a", "no", "n")
#: What else settles a number in doubt, one way or the other.
_ENDS_DOUBT = (typed.Shot, typed.RowOfShots, tuple, typed.OverRange, typed.Undo, typed.Skip, typed.Done)


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What something that was typed changes, so that it can be taken back.

    Attributes
    ----------
    new, old : tuple of Reading
        Rows to be written, and those that are withdrawn after them.
    why : str
        Said in the notes of the withdrawals.
    said : str
        What it was, where it is no reading.
    before : mapping
        What stood before in its place, by the name of the attribute.
    """

    new: tuple[Reading, ...] = ()
    old: tuple[Reading, ...] = ()
    why: str = "undo"
    said: str = ""
    before: Mapping[str, object] = field(default_factory=dict)


@dataclass(slots=True, kw_only=True)
class Outcome:
    """What comes of something that was said.

    Attributes
    ----------
    changes : list of Change
        To be written at one go.
    written : tuple of Reading
        The rows that are on the disk.
    told : list of str
        Lines to be shown.
    rings : int
        Of the bell: once for kept, twice for "shoot again".
    help, over : bool
        What can be typed is to be shown; the round is over.
    """

    changes: list[Change] = field(default_factory=list)
    written: tuple[Reading, ...] = ()
    told: list[str] = field(default_factory=list)
    rings: int = 0
    help: bool = False
    over: bool = False


@dataclass(eq=False)
class Session:
    """A round being taken. Unlike most of the library it changes as it goes on.

    Attributes
    ----------
    grill : Grill
    order : tuple of str
        The walk: the positions to be led through.
    number : int
        Of the round.
    name : str
        Of the session.
    readings : list of Reading
        Those that stand.
    shots, skips : Counter
        How often each position of the walk was shot, and left out on purpose.
    knobs : dict
        Marks where they are known.
    distance_mm : float or None
    surface, lid
        As the next shot finds them.
    close_up_mm : float or None
        After every shot of the walk one on the rail and one between two rails are asked for from this distance
        (:func:`heatmap.correct.close_up_mm`).
    kind : {"full", "recheck"}
    ahead : list of Asked
        What is asked for before the walk goes on: once more, or from close up.
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
    advised : mapping
        What `turned` stands for where it names no mark.
    doubts : list of Doubt
        What is asked about before it is written, the first one first.
    entered : list of Change
        Each thing that was typed, as it can be taken back, the last one last.
    plus_keeps : tuple of Reading
        What the last entry replaced; + at once after it keeps both.
    retried : set of str
        Positions that were asked for again once.
    came : Outcome
        Of what was heard last.
    ids : iterator
        What rows are called that are not on the disk yet: numbers below 0.
    """

    grill: Grill
    order: tuple[str, ...]
    _: KW_ONLY
    number: int
    name: str
    readings: list[Reading] = field(default_factory=list)
    shots: Counter[str] = field(default_factory=Counter)
    skips: Counter[str] = field(default_factory=Counter)
    knobs: dict[str, float] = field(default_factory=dict)
    distance_mm: float | None = None
    surface: Literal["dry", "oiled"] = "dry"
    lid: Literal["open", "closed"] = "open"
    close_up_mm: float | None = None
    kind: Kind = "full"
    ahead: list[Asked] = field(default_factory=list)
    note: str = ""
    calibrations: Mapping[str, Calibration] = field(default_factory=dict)
    surface_known: RoundSurface | None = None
    earlier: tuple[Round, ...] = ()
    turned: Reading | None = None
    advised: Mapping[str, float] = field(default_factory=dict)
    doubts: list[Doubt] = field(default_factory=list)
    entered: list[Change] = field(default_factory=list)
    plus_keeps: tuple[Reading, ...] = ()
    retried: set[str] = field(default_factory=set)
    came: Outcome = field(default_factory=Outcome)
    ids: Iterator[int] = field(default_factory=lambda: count(-1, -1))

    def __post_init__(self) -> None:
        """What was shot before can be taken back as well."""
        self.entered += [Change(new=(one,)) for one in self.readings]

    @property
    def round(self) -> Round:
        """The round as far as it has got."""
        return Round(number=self.number, session=self.name, readings=tuple(self.readings))

    # What is asked

    @property
    def passes(self) -> int:
        """How often the walk has been completed."""
        return min(self.shots[label] + self.skips[label] for label in self.order)

    @property
    def left(self) -> list[str]:
        """The positions still to be shot, that of the next number first; of the walk first what was left out before."""
        first = [*(one.reading.position for one in self.doubts), *(label for label, *_ in self.ahead)]
        passes = self.passes
        left = [label for label in self.order if self.shots[label] + self.skips[label] == passes]
        return list(dict.fromkeys([*first, *sorted(left, key=lambda label: self.shots[label])]))

    @property
    def asked(self) -> str:
        """The position the next number goes to."""
        return self.left[0]

    @property
    def how(self) -> str:
        """From where and at what the next shot is asked for, in words; empty when it is as usual."""
        if self.close_up_mm is None or not self.ahead or self.ahead[0][2] != self.close_up_mm:
            return ""
        return said.close_up_text(self.close_up_mm, self.ahead[0][1], self.grill.display)

    @property
    def question(self) -> str:
        """What is asked, in words; empty when it is simply the next position."""
        return said.doubt_question(self.doubts[0], self.grill) if self.doubts else ""

    # What is heard

    def hear(self, what: str | Event, at: datetime) -> Outcome:
        """Take in a typed line, or an event; `at` is when, UTC.

        Raises
        ------
        ReadingError
            When a line is not understood, or what it says cannot be: nothing to put right or to take back, a turn of
            which nobody said what was turned.
        """
        came = self.came = Outcome()
        if isinstance(what, str):
            word = what.strip().casefold()
            if self.doubts and word in _KEEP:
                self._settle(replace(self.doubts[0].reading, note=INSISTED))
                return came
            if self.doubts and word in _SHOOT_AGAIN:
                self._shoot_again()
                return came
            what = typed.parse_typed(what, self.grill)
        self._hear(what, at)
        return came

    def _hear(self, event: Event, at: datetime, replaces: Replaces | None = None, *, insist: bool = False) -> None:
        here = self.asked
        if not isinstance(event, typed.Skip | typed.Help | typed.Again):
            self.plus_keeps = ()
        if self.doubts and isinstance(event, _ENDS_DOUBT):
            match event:
                case typed.Shot(position=position, aim="rail", distance_mm=None) if position in ("", here):
                    first = self.doubts[0].reading
                    again = abs(event.shown_c - (first.shown_c or 0.0)) <= SAME_AGAIN_C
                    note = INSISTED if again else first.note
                    self._settle(replace(first, shown_c=event.shown_c, taken_at=at, note=note))
                    return
            while self.doubts:
                self._shoot_again(-1)  # so that the first is asked for first
            if isinstance(event, typed.Undo):
                return
        match event:
            case tuple():
                self._from_port(event, at)
            case typed.Shot():
                usual: Replaces = "contradicted" if event.position else "nothing"
                self._shoot([self.reading(event, at)], replaces or usual, insist=insist)
            case typed.RowOfShots():
                self.skips.update(event.skipped)
                self._shoot([self.reading(one, at) for one in event.shots], replaces or "nothing", insist=insist)
                self.came.told += said.row_sentences(event.skipped, event.left_open)
            case typed.Fix():
                self._fix(event)
            case typed.Turned():
                self._turn(event, at)
            case typed.Noted():
                self._stands("the note", (replace(self._event(at), void=ITSELF, note=event.text),))
                self._tell(said.NOTED.format(note=event.text))
            case typed.OverRange():
                self._over_range(event)
            case typed.Stands(surface=surface) if surface is not None:
                self._stands(surface, surface=surface)
                self._tell(said.RAILS_FROM_HERE.format(surface=surface))
            case typed.Stands(lid=lid) if lid is not None:
                self._move_lid(lid)
            case typed.Stands(marks=marks):
                self._knobs_at(marks)
            case typed.Undo():
                self._undo(event)
            case typed.Skip() if self.plus_keeps:
                both, self.plus_keeps = self.plus_keeps, ()
                self.entered[-1] = replace(self.entered[-1], old=())
                self._keep([replace(one, id=next(self.ids), note=f"{INSISTED}: both") for one in both])
            case typed.Skip():
                self._skip(event.position or here)
            case typed.Done():
                self.came.over = True
            case typed.Help():
                self.came.help = True

    def hear_beside(self, event: Event, at: datetime, *, insist: bool = False, replaces: bool = False) -> Outcome:
        """Take in one event that came past the keyboard, from a phone or a pipe; what is asked there stays asked.

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
        came = self.came = Outcome()
        waiting, self.doubts, self.plus_keeps = self.doubts, [], ()
        self._hear(event, at, "all alike" if replaces else "nothing", insist=insist)
        if self.doubts:
            raise DoubtedError(self.doubts[0])
        self.doubts = waiting
        return came

    def suspects_found(self, suspects: Iterable[tuple[Reading, float]]) -> Outcome:
        """Take note of readings that turn out not to fit the others, each with what the gun should have shown, °C: ask
        for their positions again, once.
        """
        came = self.came = Outcome()
        for reading, expected_c in suspects:
            if reading.position and reading.position not in self.retried:
                self.retried.add(reading.position)
                self._ask_again(reading)
                name = self.named(reading)
                self._tell(said.suspect_sentence(reading, name, expected_c, self.grill.display), rings=2)
        return came

    def _tell(self, text: str, rings: int = 0) -> None:
        self.came.told.append(text)
        self.came.rings += rings

    # Shots

    def _event(self, at: datetime) -> Reading:
        """Return a row for something that is no reading; a turn of knobs unless more is said."""
        row = Reading(aim="turned", round=self.number, session=self.name, taken_at=at)
        return replace(row, id=next(self.ids), surface=self.surface, lid=self.lid)

    def reading(self, shot: typed.Shot, at: datetime) -> Reading:
        """Return what a shot is written as; where it names no position, that of what is asked for."""
        label, aim, distance_mm = shot.position or self.asked, shot.aim, shot.distance_mm
        if self.ahead and not shot.position and aim == "rail" and distance_mm is None:
            label, aim, distance_mm = self.ahead[0]
        x_mm, y_mm = self.grill.point_mm(label)
        distance_mm = self.distance_mm if distance_mm is None else distance_mm
        row = replace(self._event(at), shown_c=shot.shown_c, knobs=self.knobs, note=self.note)
        return replace(row, position=label, x_mm=x_mm, y_mm=y_mm, aim=aim, distance_mm=distance_mm)

    def _shoot(self, readings: Sequence[Reading], replaces: Replaces, *, insist: bool) -> None:
        """Have shots written; those that are doubted, and not insisted on, wait for an answer."""
        beside = []
        for reading in readings:
            found = self._doubted(reading)
            if found is not None and not insist:
                self.doubts.append(replace(found, again=replaces != "nothing"))
                continue
            believed = reading if found is None else replace(reading, note=INSISTED)
            if old := self._stood_for(believed, replaces):
                self._replace((believed,), old, "replaced")
                self.plus_keeps = old
            else:
                beside.append(believed)
        self._keep(beside)
        self.came.rings += 2 * bool(self.doubts)

    def _from_port(self, items: tuple[typed.Shot | typed.OverRange, ...], at: datetime) -> None:
        """Have all shots written, for nobody can be asked about one."""
        kept = []
        for item in items:
            if isinstance(item, typed.OverRange):
                self._over_range(item)
                continue
            reading = self.reading(item, at)
            found = self._doubted(reading) if len(items) <= BY_HAND else None
            if found is not None:
                expected_c = self.grill.target.middle_c if found.expected_shown_c is None else found.expected_shown_c
                note = f"{DOUBTED}: {said.expected_text(expected_c, self.grill.display)}"
                twice = self._is_second_witness(reading)
                reading = replace(reading, note=f"{INSISTED}: shown twice" if twice else note)
            self._enter(Change(new=(reading,)))
            if reading.note.startswith(DOUBTED) and reading.position not in self.retried:
                self.retried.add(reading.position)
                self._ask_again(reading)
            kept.append(reading)
        self._tell_kept(kept)

    def _is_second_witness(self, reading: Reading) -> bool:
        """Tell whether a doubtful number was shown at its place at another moment: then it is no slip."""
        there = [one for one in self.readings if one.position == reading.position and one.note.startswith(DOUBTED)]
        there = [one for one in there if one.taken_at != reading.taken_at]
        return any(abs((one.shown_c or 0.0) - (reading.shown_c or 0.0)) <= SAME_AGAIN_C for one in there)

    def _doubted(self, reading: Reading) -> Doubt | None:
        """Judge a reading by what is known; None when it is to be believed."""
        calibration = self.calibrations.get(reading.surface)
        if calibration is None:
            return None
        believed = [one for one in self.readings if not one.note.startswith(DOUBTED)]
        before = [one for one in believed if (one.aim, one.surface) == ("rail", reading.surface)]
        return doubt(reading, calibration, self.surface_known, before)

    def _settle(self, reading: Reading) -> None:
        """Have written what the first doubt was about, or doubt that in turn."""
        (first, *waiting), self.doubts = self.doubts, []
        self._shoot([reading], "contradicted" if first.again else "nothing", insist=reading.note == INSISTED)
        self.doubts += waiting

    def _shoot_again(self, which: int = 0) -> None:
        reading = self.doubts.pop(which).reading
        self._ask_again(reading)
        self._tell(said.not_kept_sentence(reading, self.grill.display))

    def _over_range(self, event: typed.OverRange) -> None:
        self._tell(said.over_range_sentence(event, event.position or self.asked), rings=2)

    # Rows

    def _enter(self, change: Change) -> None:
        """Change something, so that it can be taken back."""
        self.entered.append(change)
        self._change(change)

    def _change(self, change: Change) -> None:
        """Have rows written and withdrawn; the walk goes on at once, so that the next number has its place."""
        self.came.changes.append(change)
        for one in change.old:
            self.readings = [other for other in self.readings if other.id != one.id]
            if self._is_of_the_walk(one):
                self.shots[one.position] -= 1
        for one in change.new:
            if one.shown_c is None or one.round != self.number:
                continue
            self.readings.append(one)
            self.ahead = [asked for asked in self.ahead if asked != _what(one)]
            if self._is_of_the_walk(one):
                self.shots[one.position] += 1
                if self.close_up_mm is not None and not (self.note or change.old):
                    self.ahead += [(one.position, aim, self.close_up_mm) for aim in ("rail", "valley")]

    def _keep(self, readings: Sequence[Reading]) -> None:
        for reading in readings:
            self._enter(Change(new=(reading,)))
        self._tell_kept(readings)

    def _tell_kept(self, kept: Sequence[Reading]) -> None:
        plain = [one for one in kept if one.aim == "rail" and not one.note.startswith(DOUBTED)]
        if plain:
            self._tell(said.kept_sentence([self.named(one) for one in plain]), rings=1)
        for reading in kept:
            if reading.aim != "rail":
                self._tell(self._kept_beside(reading), rings=1)
            elif reading.note.startswith(DOUBTED):
                again = reading.position if self.asked == reading.position else ""
                text = said.doubted_sentence(self.named(reading), reading.note.partition(": ")[2], again)
                self._tell(text, rings=2 if again else 1)

    def _kept_beside(self, reading: Reading) -> str:
        away = said.away_text(reading, self.distance_mm, self.grill.display)
        rails = [one for one in self.readings if one.aim == "rail" and one.position == reading.position]
        pair = any(not away or one.distance_mm == reading.distance_mm for one in rails)
        little = reading.aim == "valley" and not tells_valley(self.grill, reading.distance_mm)
        return said.kept_beside_sentence(reading, self.named(reading), away, pair=pair, tells_little=little)

    def _stood_for(self, reading: Reading, replaces: Replaces) -> tuple[Reading, ...]:
        """Return those that a reading is written in the place of."""
        if replaces == "nothing" or (replaces == "contradicted" and (reading.aim != "rail" or self.note)):
            return ()
        alike = [one for one in self.readings if self.is_same_shot(one, reading)]
        return tuple(one for one in alike if replaces == "all alike" or self._contradicts(one, reading))

    def is_same_shot(self, one: Reading, other: Reading) -> bool:
        """Tell whether two readings are of one position, alike in all but the number."""
        return (_what(one), one.surface) == (_what(other), other.surface)

    def _contradicts(self, one: Reading, other: Reading) -> bool:
        """Tell whether two numbers for one shot of the gun on the rail differ by more than repeats do."""
        assert one.shown_c is not None and other.shown_c is not None
        calibration, std_c = self.calibrations.get(other.surface), 0.0
        if calibration is not None:
            spot = correct_readings([other], calibration)[0]
            if spot.rail_c is not None and spot.shot_std_c is not None:
                std_c = float(np.sqrt(2.0)) * spot.shot_std_c * calibration.compared_slope(spot.rail_c)
        return abs(one.shown_c - other.shown_c) > max(SAME_AGAIN_C, REPEATS * std_c)

    def _replace(self, new: tuple[Reading, ...], old: tuple[Reading, ...], why: str) -> None:
        """Have readings written in the place of others, of this round or an earlier one."""
        self._enter(Change(new=new, old=old, why=why))
        for reading in new:
            how = {"elsewhere": reading.round != self.number, "both": why == "replaced"}
            self._tell(said.replaced_sentence(reading, old, self.grill.display, **how), rings=1)

    def numbered(self, written: Mapping[int, Reading]) -> None:
        """Take note of the rows as they are on the disk, by what they were called before."""
        self.readings = [written.get(one.id, one) for one in self.readings]
        for at, one in enumerate(self.entered):
            if any(row.id in written for row in one.new):
                self.entered[at] = replace(one, new=tuple(written.get(row.id, row) for row in one.new))

    # What is asked for next

    def _ask_again(self, reading: Reading) -> None:
        """Ask for a shot of this round once more, next; and for no pair from close up before it stands."""
        if self._is_of_the_walk(reading):
            self._leave(reading.position)
        elif reading.round != self.number or self.close_up_mm is None or reading.distance_mm != self.close_up_mm:
            return
        self.ahead = [_what(reading), *(one for one in self.ahead if one != _what(reading))]

    def _leave(self, label: str) -> None:
        self.ahead = [one for one in self.ahead if one[0] != label]

    def _is_of_the_walk(self, reading: Reading) -> bool:
        """Tell whether this is the shot the walk asked for, not a probe or a shot from close up beside it."""
        label, *how = _what(reading)
        return bool(label) and reading.round == self.number and how == ["rail", self.distance_mm]

    def _skip(self, label: str) -> None:
        if self.how and label == self.asked:
            self._tell(said.left_out_sentence(f"{label} {self.how}", for_now=False))
        else:
            self._stands(f"+ at {label}", skips=self.skips + Counter([label]))
            self._tell(said.left_out_sentence(label, for_now=True))
        self._leave(label)

    # How things stand that are no readings

    def _stands(self, what: str, new: tuple[Reading, ...] = (), **now: object) -> None:
        """Have something stand from here on, by the names of its attributes, so that it can be taken back."""
        self._enter(Change(new=new, said=what, before={name: getattr(self, name) for name in now}))
        vars(self).update(now)

    def _turn(self, event: typed.Turned, at: datetime) -> None:
        marks = event.marks or self.advised
        if self.grill.settable and not marks:
            first = self.grill.settable[0]
            like = f"turned {first.name} {first.mark_text(first.high)}"
            raise ReadingError(f"no turn is advised now; type which, and to which mark, like {like}")
        turned = replace(self._event(at), knobs={**self.knobs, **marks})
        self._stands("the turn of the knobs", (turned,), knobs=dict(turned.knobs), turned=turned)

    def _knobs_at(self, marks: Mapping[str, float]) -> None:
        for burner, mark in marks.items():
            moves = bool(self.readings) and self.knobs.get(burner, mark) != mark
            self._tell(said.knob_sentence(burner, self.grill.burner(burner).mark_text(mark), moves=moves))
        self._stands(said.marks_text(self.grill, marks), knobs={**self.knobs, **marks})

    def _move_lid(self, lid: Literal["open", "closed"]) -> None:
        if lid == "open" and self.round.lid == "closed":
            self._tell(said.LID_STAYS)
            return
        self._stands(f"lid {lid}", lid=lid)
        self._tell(said.lid_sentence(lid, not_written=self._lid_not_written))

    # What is taken back, or put right

    def _undo(self, event: typed.Undo) -> None:
        """Take back the last thing typed, the last shot at a position, or the row with an id."""
        here, at = {one.id for one in self.readings}, (event.position, event.aim)
        for one in reversed(self.entered):
            row = one.new[0] if one.new else None
            stands = row is None or row.shown_c is None or row.round != self.number or row.id in here
            meant = event.id is None or (row is not None and row.id == event.id)
            if event.position:
                meant = row is not None and row.id in here and (row.position, event.aim and row.aim) == at
            if stands and meant:
                self.entered = [other for other in self.entered if other is not one]
                self._take_back(one, event.why)
                return
        found = [shot for one in self.earlier for shot in one.readings if shot.id == event.id]
        if not found:
            nothing = said.NOTHING_TO_TAKE_BACK.format(at=f" at {event.position}" if event.position else "")
            there_is_none = f"there is no reading {event.id} to take back in round {self.number}"
            raise ReadingError(there_is_none if event.id else nothing)
        self._take_back(Change(new=(found[0],)), event.why)

    def _take_back(self, change: Change, why: str) -> None:
        """Have what was typed withdrawn; what it replaced, and what stood before, stands again."""
        if change.old:
            self._replace(change.old, change.new, "taken back")
            self.entered.pop()  # that is not to be taken back in turn
            return
        self._change(Change(old=change.new, why=why))
        for one in change.new:
            if not (self._is_of_the_walk(one) and self.shots[one.position]):  # its position is needed again
                self._ask_again(one)
        vars(self).update(change.before)
        stands = said.stands_sentence(self.lid, self.surface, said.marks_text(self.grill, self.knobs))
        what = change.said or self.named(change.new[0])
        self._tell(said.taken_back_sentence(what, stands if change.before.keys() - {"skips"} else ""))

    def _fix(self, event: typed.Fix) -> None:
        """Put right a number that was kept, in this round or an earlier one."""
        shot, rounds = event.shot, (*(one.readings for one in self.earlier), self.readings)
        there = [one for one in chain(*rounds) if (one.position, one.aim) == (shot.position, shot.aim)]
        there = [one for one in there if event.round in (None, one.round)]
        if not there:
            where = "" if event.round is None else f" in round {event.round}"
            what = "" if shot.aim == "rail" else f"{shot.aim} "
            raise ReadingError(f"there is no {what}reading at {shot.position}{where} to fix")
        old = there[-1]
        was = f"fixed: was {said.number_text(old.shown_c, self.grill.display)}"
        self._replace((replace(old, id=next(self.ids), shown_c=shot.shown_c, note=was),), (old,), "fixed")

    # In words

    def named(self, reading: Reading) -> str:
        """Return a reading as it is called: B3 582, contact B3 610."""
        return said.named(reading, self.distance_mm, self.grill.display)

    def marks_known(self) -> str:
        """Say where the knobs stand in a round that is gone on with; empty when no mark is known."""
        marks = said.marks_text(self.grill, self.knobs)
        return said.MARKS_KNOWN.format(marks=marks) if self.readings and marks else ""

    @property
    def _lid_not_written(self) -> bool:
        """Whether the lid was told otherwise since the last reading."""
        return bool(self.readings) and self.lid != self.round.lid

    def turns_not_written(self) -> str:
        """Say which turns of a knob, or word on the lid, no reading has been written with; empty for none."""
        written = {**self.round.settings, **(self.turned.knobs if self.turned else {})}
        turned = {name: mark for name, mark in self.knobs.items() if written.get(name) != mark}
        lid = f"lid {self.lid}" if self._lid_not_written else ""
        told = ", ".join(filter(None, (lid, said.marks_text(self.grill, turned))))
        return said.NOT_WRITTEN.format(told=told) if told and self.readings else ""


def _what(reading: Reading) -> Asked:
    return (reading.position, reading.aim, reading.distance_mm)
