"""What keeps the food, or the zone, out of the band, and what would help, in order."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from heatmap.assessment import Assessment
from heatmap.correct import close_up_mm, tells_valley
from heatmap.correct.tuning import MOST_PAIRS
from heatmap.decisions.burner_advice import advise, best_band, held_knobs, missing_marks
from heatmap.decisions.fitting import zone_chance
from heatmap.decisions.tuning import AT_LEAST, BETTER_BAND, LEVEL_LIMITS
from heatmap.decisions.without_knobs import ByHand, by_hand
from heatmap.units import BoolArray

#: The level is not known; marks of knobs are not; one round is too little to turn a knob back; the knobs do not reach
#: the band; they are as good as they get; there are none.
Limit = Literal["level", "marks", "one round", "reach", "knobs", "no knobs"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ContactReading:
    """A surface probe held on a rail, for the level."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CloseUps:
    """Pairs of shots from close up at so many more positions, for the level; `begun` where some are there."""

    near_mm: float
    positions: int
    begun: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class GiveMarks:
    """The marks of these burners, with the readings."""

    burners: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AnotherRound:
    """A whole round more at the same marks: then these burners may go back from their last turn."""

    burners: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SmallerZone:
    """A half of the grate that is good by itself, and how likely."""

    part: str
    chance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherBand:
    """A band as wide that holds more of the area once settled, in the numbers of the band [°C]: its share, and that of
    the one asked for.
    """

    low_c: float
    high_c: float
    share: float
    asked_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class NameFood:
    """Say how large the food is: then the best place for it counts, not the whole zone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeIt:
    """Take the best place as it is."""


Remedy = ContactReading | CloseUps | GiveMarks | AnotherRound | SmallerZone | OtherBand | ByHand | NameFood | TakeIt


def limit_of(assessment: Assessment, gain_at_known_level: float) -> Limit:
    """Say what limits, given by how much the chance would rise if the level were known."""
    by_rail = assessment.grill.target.numbers == "rail"
    if assessment.level_hides_all or (by_rail and gain_at_known_level >= LEVEL_LIMITS):
        return "level"
    if missing_marks(assessment):
        return "marks"
    if not assessment.grill.settable:
        return "no knobs"
    if held_knobs(assessment):
        return "one round"
    return "knobs" if advise(assessment).reachable else "reach"


def remedies_for(assessment: Assessment, limit: Limit, *, for_food: bool) -> tuple[Remedy, ...]:
    """Return what would help, most useful first; never nothing."""
    found: list[Remedy | None] = []
    if limit == "level":
        found += [ContactReading(), close_ups(assessment)]
    if missing := missing_marks(assessment):
        found.append(GiveMarks(burners=missing))
    if limit == "one round":
        found.append(AnotherRound(burners=held_knobs(assessment)))
    if not for_food:
        found.append(_smaller_zone(assessment))
        if limit != "level":
            found.append(_other_band(assessment))
    change, move, panel = by_hand(assessment)
    if limit == "no knobs":
        found += [change, move]
    found += [panel, TakeIt() if for_food else NameFood()]
    return tuple(one for one in found if one is not None)


def close_ups(assessment: Assessment) -> CloseUps | None:
    """Return what the gun alone can do for the level; None where it cannot, or pairs enough have been shot."""
    grill = assessment.grill
    near_mm = close_up_mm(grill)
    paired = [pair.reading for pair in assessment.calibration.reference_pairs if pair.partners]
    pairs = sum(tells_valley(grill, reading.distance_mm) for reading in paired)
    left = min(MOST_PAIRS, len(grill.labels)) - pairs
    return None if near_mm is None or left <= 0 else CloseUps(near_mm=near_mm, positions=left, begun=pairs > 0)


def _smaller_zone(assessment: Assessment) -> SmallerZone | None:
    """Return the half of the zone that is likeliest good by itself, where one likely is."""
    found = [(zone_chance(assessment, half), part) for part, half in _halves(assessment).items()]
    chance, part = max(found, default=(0.0, ""))
    return SmallerZone(part=part, chance=chance) if chance >= AT_LEAST else None


def _halves(assessment: Assessment) -> dict[str, BoolArray]:
    cells_mm, zone = assessment.wide_cells.points_mm, assessment.zone
    x_mm, y_mm = cells_mm.T
    width_mm, depth_mm = assessment.grill.grate.extent_mm
    halves = {
        "left": x_mm < 0.5 * width_mm,
        "right": x_mm > 0.5 * width_mm,
        "back": y_mm > 0.5 * depth_mm,
        "front": y_mm < 0.5 * depth_mm,
    }
    return {part: half & zone for part, half in halves.items() if (half & zone).any()}


def _other_band(assessment: Assessment) -> OtherBand | None:
    """Return the band as wide that the grate holds best once it has settled, where it is clearly better."""
    low_c, high_c = assessment.band_c
    mean_c = assessment.at(assessment.zone_points_mm)[0] + assessment.to_come_c
    other_low_c, other_high_c, share = best_band(high_c - low_c, mean_c)
    asked_share = float(np.mean((mean_c >= low_c) & (mean_c <= high_c)))
    if share < asked_share + BETTER_BAND:
        return None
    return OtherBand(low_c=other_low_c, high_c=other_high_c, share=share, asked_share=asked_share)
