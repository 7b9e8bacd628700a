"""One shot (`Reading`) and one pass over the grate (`Round`)."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from types import MappingProxyType
from typing import Literal

from heatmap.errors import ReadingError

Aim = Literal["rail", "valley", "patch", "contact", "turned"]
#: What a shot can be of; a turn of knobs is none.
SHOT_AIMS: tuple[Aim, ...] = ("rail", "valley", "patch", "contact")
AIMS: tuple[Aim, ...] = (*SHOT_AIMS, "turned")
SURFACES, LIDS = ("dry", "oiled"), ("open", "closed")

#: What a gun for this job can show, °C; anything else is a slip of the finger. Hand guns commonly span about
#: −50 to 1000 °C or less (common practice, no source).
LOWEST_SHOWN_C, HIGHEST_SHOWN_C = -60.0, 1100.0
#: What stands for the number of a row itself, which only the log knows when it writes the row.
ITSELF = 0
#: A note that starts so marks a reading the cook was asked about and insisted on; it is never a suspect.
INSISTED = "kept"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One shot of the gun, or one touch of the surface probe, as it was displayed.

    Attributes
    ----------
    id : int
        Number of the row in the log.
    shown_c : float or None
        What was displayed, °C; None in a pure withdrawal, and where knobs were turned.
    x_mm, y_mm : float
        Where, from the front left corner.
    position : str
        Label such as B3, or "" where only x and y are known.
    aim : {"rail", "valley", "patch", "contact", "turned"}
        "turned": no reading, but the marks knobs were turned to, and when.
    round : int
    session : str
    taken_at : datetime or None
        UTC, with its offset.
    surface : {"dry", "oiled"}
    lid : {"open", "closed"}
        The lid while the grate soaked before the round.
    distance_mm : float or None
        How far the gun was held; None for the gun's usual distance.
    knobs : mapping
        Burner name to mark.
    void : int or None
        The id of the row this one withdraws; a row without a number that withdraws itself is a note.
    note : str
    key : str
        What a phone named its entry by, so that one sent twice is kept once.
    """

    id: int = 0
    shown_c: float | None = None
    x_mm: float = 0.0
    y_mm: float = 0.0
    position: str = ""
    aim: Aim = "rail"
    round: int = 1
    session: str = ""
    taken_at: datetime | None = None
    surface: Literal["dry", "oiled"] = "dry"
    lid: Literal["open", "closed"] = "open"
    distance_mm: float | None = None
    knobs: Mapping[str, float] = field(default_factory=dict)
    void: int | None = None
    note: str = ""
    key: str = ""

    def __post_init__(self) -> None:
        """Check the number and the words."""
        object.__setattr__(self, "knobs", MappingProxyType(dict(self.knobs)))
        if self.shown_c is None:
            if self.void is None and self.aim != "turned":
                raise ReadingError("a reading without a number; write what the gun showed, or leave it out")
        elif not (math.isfinite(self.shown_c) and LOWEST_SHOWN_C <= self.shown_c <= HIGHEST_SHOWN_C):
            allowed_c = f"{LOWEST_SHOWN_C:g} to {HIGHEST_SHOWN_C:g} °C"
            raise ReadingError(f"a reading of {self.shown_c:g} °C cannot be; a gun shows {allowed_c}")
        for name, allowed in (("aim", AIMS), ("surface", SURFACES), ("lid", LIDS)):
            if (word := getattr(self, name)) not in allowed:
                raise ReadingError(f'{name} "{word}" is not known; it must be one of {", ".join(allowed)}')

    @property
    def point_mm(self) -> tuple[float, float]:
        """(x, y) in mm."""
        return (self.x_mm, self.y_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """One pass over the grate, or one re-check: the readings that stand, in file order.

    Attributes
    ----------
    number : int
    session : str
    readings : tuple of Reading
        Readings not withdrawn.
    turned, turned_after : tuple of Reading
        Knobs turned since the round before it, and, for the newest, after its last shot.
    notes : tuple of Reading
        What was noted while it was taken.
    """

    number: int
    session: str
    readings: tuple[Reading, ...]
    turned: tuple[Reading, ...] = ()
    turned_after: tuple[Reading, ...] = ()
    notes: tuple[Reading, ...] = ()

    @property
    def settings(self) -> Mapping[str, float]:
        """Mark of each burner during the round; where a burner was turned during it, the last mark."""
        marks: dict[str, float] = {}
        for one in (*self.turned, *self.readings):
            marks.update(one.knobs)
        return MappingProxyType(marks)

    @property
    def taken_at(self) -> datetime | None:
        """Median time of its rail readings (the later of the two middle ones), or None without times."""
        rail = self.with_aim("rail") or self.readings
        times = sorted(reading.taken_at for reading in rail if reading.taken_at is not None)
        return times[len(times) // 2] if times else None

    @property
    def turned_at(self) -> datetime | None:
        """When a knob was last turned before its first shot; None where nobody said."""
        shot, turned = ([one.taken_at for one in some if one.taken_at] for some in (self.readings, self.turned))
        return max((at for at in turned if shot and at <= min(shot)), default=None)

    @property
    def lid(self) -> Literal["open", "closed"]:
        """The lid while the grate soaked before the round: closed as soon as one reading says so, for open is what
        stands where nothing was said."""
        return "closed" if any(reading.lid == "closed" for reading in self.readings) else "open"

    @property
    def surface(self) -> Literal["dry", "oiled"]:
        """Oiled as soon as one reading was."""
        return "oiled" if any(reading.surface == "oiled" for reading in self.readings) else "dry"

    def with_aim(self, *aims: Aim) -> tuple[Reading, ...]:
        """Return the readings of these aims, in order."""
        return tuple(reading for reading in self.readings if reading.aim in aims)


def group_rounds(readings: Sequence[Reading]) -> tuple[Round, ...]:
    """Leave out withdrawn readings and gather the rest into rounds, by number.

    A withdrawal stands for good: withdrawing it does not bring the reading back. The session of a round is
    the first one named in it.
    """
    withdrawn = {one.void for one in readings if one.void != one.id or one.shown_c is not None}
    stand = [one for one in readings if one.id not in withdrawn]
    notes = [one for one in stand if one.void == one.id and one.note]
    grouped: dict[int, list[Reading]] = {}
    for one in stand:
        if one.shown_c is not None:
            grouped.setdefault(one.round, []).append(one)
    rounds = sorted(grouped.items())
    ends = {number: max((one.taken_at for one in kept if one.taken_at), default=None) for number, kept in rounds}
    turned: dict[int | None, list[Reading]] = {}
    for one in stand:
        if one.shown_c is None and one.aim == "turned" and one.void != one.id:
            turned.setdefault(_round_of(one, ends), []).append(one)
    return tuple(
        Round(
            number=number,
            session=next((reading.session for reading in kept if reading.session), ""),
            readings=tuple(kept),
            turned=tuple(turned.get(number, ())),
            turned_after=tuple(turned.get(None, ())) if number == max(grouped) else (),
            notes=tuple(one for one in notes if one.round == number),
        )
        for number, kept in rounds
    )


def _round_of(turn: Reading, ends: Mapping[int, datetime | None]) -> int | None:
    """Return the first round that was not over when a knob was turned; None where all were, or no times tell."""
    if turn.taken_at is None:
        return next((number for number in ends if number >= turn.round), None)
    return next((number for number, end in ends.items() if end is not None and end >= turn.taken_at), None)
