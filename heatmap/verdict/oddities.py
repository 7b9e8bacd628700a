"""What looks like a slip in how a round was typed, pasted or set up, though every number of it can be."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from heatmap.grill.grill import Grill
from heatmap.readings.reading import Reading, Round
from heatmap.readings.written import other_unit_c

#: A round is asked about when this share of its shots would be in the band in the other unit, the band taken wider by
#: this share of its width on both sides. No shot can be in both. Assumed.
MOST_SHOTS, WIDER = 2.0 / 3.0, 0.5
#: So many shots that all show one number are no grate: at most places the number of the place beside it is another.
#: Assumed.
MANY_ALIKE = 8
#: So many rows that another repeats are no accident. Assumed.
MANY_TWICE = 3
#: A clock may be off, and a time zone mistaken, by no more than this.
FAR_AHEAD = timedelta(days=2)
#: Guns are set from 0.10 upwards (common practice, no source), and no rail for food looks so bright to them.
LEAST_SETTING = 0.15


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherUnit:
    """Shots that would be in band were their numbers in the grill's other unit; the lowest and highest, as shown."""

    low_c: float
    high_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AllAlike:
    """Shots at many places that all show one number."""

    count: int
    shown_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SameAgain:
    """Rows that say what another says; the first of them."""

    count: int
    first: Reading


@dataclass(frozen=True, slots=True, kw_only=True)
class FarAhead:
    """Readings taken in the future; the latest."""

    count: int
    latest: Reading


@dataclass(frozen=True, slots=True, kw_only=True)
class LowSetting:
    """A gun set to an emissivity no grate has."""

    setting: float


Oddity = OtherUnit | AllAlike | SameAgain | FarAhead | LowSetting


def oddities(grill: Grill, one: Round, now: datetime) -> tuple[Oddity, ...]:
    """Return what is odd about a round, the gravest first; `now` says which times are yet to come."""
    return tuple(_oddities(grill, one.readings, now))


def _oddities(grill: Grill, readings: Sequence[Reading], now: datetime) -> Iterator[Oddity]:
    shown_c = [one.shown_c for one in readings if one.aim == "rail" and one.shown_c is not None]
    if shown_c and sum(in_band_in_other_unit(grill, each) for each in shown_c) >= MOST_SHOTS * len(shown_c):
        yield OtherUnit(low_c=min(shown_c), high_c=max(shown_c))
    if grill.gun.emissivity_setting < LEAST_SETTING:
        yield LowSetting(setting=grill.gun.emissivity_setting)
    places = {one.point_mm for one in readings if one.aim == "rail"}
    if len(places) >= MANY_ALIKE and len(set(shown_c)) == 1:
        yield AllAlike(count=len(shown_c), shown_c=shown_c[0])
    again = _said_again(readings)
    if len(again) >= MANY_TWICE:
        yield SameAgain(count=len(again), first=again[0])
    ahead = [one for one in readings if one.taken_at is not None and one.taken_at > now + FAR_AHEAD]
    if ahead:
        yield FarAhead(count=len(ahead), latest=max(ahead, key=lambda one: one.taken_at or now))


def in_band_in_other_unit(grill: Grill, shown_c: float) -> bool:
    """Tell whether a number as it stands is far from the band and would be in it in the grill's other unit."""
    low_c, high_c = grill.target.low_c, grill.target.high_c
    wider_c = WIDER * (high_c - low_c)

    def near(number_c: float) -> bool:
        return low_c - wider_c <= number_c <= high_c + wider_c

    return near(other_unit_c(shown_c, grill.units)) and not near(shown_c)


def _said_again(readings: Sequence[Reading]) -> list[Reading]:
    """Return the rows that repeat an earlier one: with its time to the millisecond; or, where there are no times, when
    every place that was shot more than once shows the same each time.
    """
    seen: set[object] = set()
    again = []
    for one in readings:
        said = (one.point_mm, one.aim, one.shown_c, one.distance_mm, one.taken_at)
        if said in seen:
            again.append(one)
        seen.add(said)
    if any(one.taken_at is not None for one in readings):
        return [one for one in again if one.taken_at is not None]
    shots = Counter((one.point_mm, one.aim) for one in readings)
    repeated = sum(count - 1 for count in shots.values())
    return again if len(again) == repeated and len({one.point_mm for one in again}) > 1 else []
