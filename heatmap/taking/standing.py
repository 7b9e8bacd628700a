"""How a round stands while it is taken: its readings, its knobs, lid and rails, and what is asked for next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import KW_ONLY, dataclass, field, replace
from datetime import datetime
from typing import Literal

import numpy as np

import heatmap.words.taking as said
from heatmap.correct import Calibration, correct_readings
from heatmap.grate_model.model import RoundSurface
from heatmap.grill.grill import Grill
from heatmap.readings.reading import Aim, Reading, Round
from heatmap.readings.typed import Done, Help, OverRange, Shot, Typed
from heatmap.taking.doubt import DOUBTED, Doubt, doubt
from heatmap.taking.tuning import REPEATS, SAME_AGAIN_C
from heatmap.taking.walk import Walk


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What the readings so far say, for judging the next one.

    Attributes
    ----------
    calibrations : mapping
        For each state of the surface; a state that is not in it is not judged.
    surface : RoundSurface or None
        The map of the round; while there are too few readings, what the rounds before say of it, if they do.
    """

    calibrations: Mapping[str, Calibration]
    surface: RoundSurface | None = None


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
    near : list of (str, str)
        What is asked for from close up before the walk goes on.
    note : str
        Goes with every reading.
    earlier : tuple of Round
        Those before this one.
    turned : Reading or None
        The last turn of knobs, which no shot has come after.
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
    near: list[tuple[str, Aim]] = field(default_factory=list)
    note: str = ""
    known: Known = Known(calibrations={})
    earlier: tuple[Round, ...] = ()
    turned: Reading | None = None

    def __post_init__(self) -> None:
        """Keep what is going to change apart from what it was begun with."""
        self.readings, self.knobs = list(self.readings), dict(self.knobs)

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
        calibration, std_c = self.known.calibrations.get(other.surface), 0.0
        if calibration is not None:
            spot = correct_readings([other], calibration)[0]
            if spot.rail_c is not None and spot.shot_std_c is not None:
                std_c = float(np.sqrt(2.0)) * spot.shot_std_c * calibration.compared_slope(spot.rail_c)
        return abs(one.shown_c - other.shown_c) > max(SAME_AGAIN_C, REPEATS * std_c)

    def doubt(self, reading: Reading) -> Doubt | None:
        """Judge a reading by what is known; None when it is to be believed."""
        calibration = self.known.calibrations.get(reading.surface)
        if calibration is None:
            return None
        before = [
            one
            for one in self.readings
            if one.aim == "rail" and one.surface == reading.surface and not one.note.startswith(DOUBTED)
        ]
        return doubt(reading, calibration, self.known.surface, before)

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

    def is_shot(self, reading: Reading) -> bool:
        """Tell whether a shot the walk asked for stands at the position of a reading that is one."""
        return self._is_of_the_walk(reading) and any(
            self._is_of_the_walk(one) and one.position == reading.position for one in self.readings
        )

    def _is_of_the_walk(self, reading: Reading) -> bool:
        """Tell whether this is the shot the walk asked for, not a probe or a shot from close up beside it."""
        return bool(reading.position) and reading.aim == "rail" and reading.distance_mm == self.distance_mm

    def _is_near(self, reading: Reading) -> bool:
        return self.close_up_mm is not None and reading.distance_mm == self.close_up_mm

    # In words

    def named(self, reading: Reading) -> str:
        """Return a reading as it is called: B3 582, contact B3 610."""
        return said.named(reading, self.distance_mm, self.grill.display)

    def marks_known(self) -> str:
        """Say where the knobs stand in a round that is gone on with; empty when no mark is known."""
        if not (self.readings and self.knobs):
            return ""
        return said.marks_known_sentence(said.marks_text(self.grill, self.knobs))

    @property
    def lid_not_written(self) -> bool:
        """Whether the lid was told otherwise since the last reading."""
        return bool(self.readings) and self.lid != self.round.lid

    def turns_not_written(self) -> str:
        """Say which turns of a knob, or word on the lid, no reading has been written with; empty for none."""
        written = {**self.round.settings, **(self.turned.knobs if self.turned else {})}
        turned = {name: mark for name, mark in self.knobs.items() if written.get(name) != mark}
        told = [f"lid {self.lid}"] if self.lid_not_written else []
        if not (self.readings and (turned or told)):
            return ""
        told += [said.marks_text(self.grill, turned)] if turned else []
        return said.not_written_sentence(told)


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


#: That the round is over and that help is asked for goes on to whoever runs the session.
Effect = Change | Tell | Done | Help
#: What is heard: something typed, or what came from the port at one go, in order.
Event = Typed | tuple[Shot | OverRange, ...]
