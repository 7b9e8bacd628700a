"""What looks like a slip in how a round was typed, pasted or set up, though every number of it can be."""

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import datetime
from operator import attrgetter
from typing import Literal, NamedTuple

from heatmap.grill.grill import Grill
from heatmap.readings.reading import Reading, Round
from heatmap.readings.written import other_unit_c
from heatmap.verdict.tuning import FAR_AHEAD, LEAST_SETTING, MANY_ALIKE, MANY_TWICE, MOST_SHOTS, WIDER


class Oddity(NamedTuple):
    """What is odd about a round, and the readings it is odd about, in order.

    Attributes
    ----------
    kind : str
        "other unit": shots that would be in band were their numbers in the grill's other unit; "all alike": shots at
        many places that all show one number; "said again": rows that say what another says; "yet to come": readings
        taken in the future; "low setting": a gun set to an emissivity no grate has.
    readings : tuple of Reading
    """

    kind: Literal["other unit", "all alike", "said again", "yet to come", "low setting"]
    readings: tuple[Reading, ...] = ()


def oddities(grill: Grill, one: Round, now: datetime) -> Iterator[Oddity]:
    """Yield what is odd about a round, the gravest first; `now` says which times are yet to come."""
    readings = one.readings
    shots = tuple(one for one in readings if one.aim == "rail" and one.shown_c is not None)
    shown_c = [one.shown_c for one in shots if one.shown_c is not None]
    if shots and sum(in_band_in_other_unit(grill, each) for each in shown_c) >= MOST_SHOTS * len(shots):
        yield Oddity("other unit", shots)
    if grill.gun.emissivity_setting < LEAST_SETTING:
        yield Oddity("low setting")
    if len({one.point_mm for one in shots}) >= MANY_ALIKE and len(set(shown_c)) == 1:
        yield Oddity("all alike", shots)
    again = _said_again(readings)
    if len(again) >= MANY_TWICE:
        yield Oddity("said again", tuple(again))
    ahead = tuple(one for one in readings if one.taken_at is not None and one.taken_at > now + FAR_AHEAD)
    if ahead:
        yield Oddity("yet to come", ahead)


def in_band_in_other_unit(grill: Grill, shown_c: float) -> bool:
    """Tell whether a number as it stands is far from the band and would be in it in the grill's other unit."""
    wider_c = WIDER * (grill.target.high_c - grill.target.low_c)
    low_c, high_c = grill.target.low_c - wider_c, grill.target.high_c + wider_c
    return low_c <= other_unit_c(shown_c, grill.units) <= high_c and not low_c <= shown_c <= high_c


def _said_again(readings: Sequence[Reading]) -> list[Reading]:
    """Return the rows that repeat an earlier one: with its time to the millisecond; or, where there are no times, when
    every place that was shot more than once shows the same each time.
    """
    first: dict[object, int] = {}
    says = attrgetter("point_mm", "aim", "shown_c", "distance_mm", "taken_at")
    again = [one for at, one in enumerate(readings) if first.setdefault(says(one), at) != at]
    if any(one.taken_at is not None for one in readings):
        return [one for one in again if one.taken_at is not None]
    shots = Counter((one.point_mm, one.aim) for one in readings)
    repeated = sum(count - 1 for count in shots.values())
    return again if len(again) == repeated and len({one.point_mm for one in again}) > 1 else []
