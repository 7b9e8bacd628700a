"""What keeps the food, or the zone, out of the band, and what would help, in order: for the level, with the knobs, and
with the hands where the heat has none.

Which place to use meanwhile says :mod:`heatmap.decisions.placement`, so that no two answers name different ones.
"""

from typing import Literal, NamedTuple

import numpy as np

from heatmap.assessment import Assessment
from heatmap.correct import close_up_mm, tells_valley
from heatmap.correct.tuning import MOST_PAIRS
from heatmap.decisions.burner_advice import advise, best_band, missing_marks
from heatmap.decisions.fitting import zone_chance
from heatmap.decisions.tuning import AT_LEAST, BETTER_BAND, LEVEL_LIMITS, WORTH_MOVING_C
from heatmap.verdict.tuning import SURE

#: The level is not known; marks of knobs are not; the knobs do not reach the band; they are as good as they get; there
#: are none.
Limit = Literal["level", "marks", "reach", "knobs", "no knobs"]


class CloseUps(NamedTuple):
    """Pairs of shots from close up at so many more positions, for the level; `begun` where some are there."""

    near_mm: float
    positions: int
    begun: bool


class GiveMarks(NamedTuple):
    """The marks of these burners, with the readings."""

    burners: tuple[str, ...]


class SmallerZone(NamedTuple):
    """A half of the grate that is good by itself, and how likely."""

    chance: float
    part: str


class OtherBand(NamedTuple):
    """A band as wide that holds more of the area once settled, in the numbers of the band [°C]: its share, and that of
    the one asked for.
    """

    low_c: float
    high_c: float
    share: float
    asked_share: float


class ChangeHeat(NamedTuple):
    """More or less heat by hand: how far the whole is off the middle of the band [°C]."""

    off_c: float


class MoveHeat(NamedTuple):
    """From which part of the grate to which, and how much hotter the one is than the other [°C]."""

    from_part: str
    to_part: str
    hotter_c: float


class TurnPanel(NamedTuple):
    """How much hotter one end of a panel is [°C], and which, counted from the left or the front from 1."""

    hotter_c: float
    number: int


#: Besides: a surface probe held on a rail, for the level; the size of the food, so that the best place for it counts,
#: not the whole zone; that place as it is.
Remedy = Literal["contact reading", "name food", "take it"] | (
    CloseUps | GiveMarks | SmallerZone | OtherBand | ChangeHeat | MoveHeat | TurnPanel
)


def limit_of(assessment: Assessment, gain_at_known_level: float) -> Limit:
    """Say what limits, given by how much the chance would rise if the level were known."""
    by_rail = assessment.grill.target.numbers == "rail"
    if assessment.level_hides_all or (by_rail and gain_at_known_level >= LEVEL_LIMITS):
        return "level"
    if missing_marks(assessment):
        return "marks"
    if not assessment.grill.settable:
        return "no knobs"
    return "knobs" if advise(assessment).reachable else "reach"


def remedies_for(assessment: Assessment, limit: Limit, *, for_food: bool) -> tuple[Remedy, ...]:
    """Return what would help, most useful first; never nothing."""
    found: list[Remedy | None] = []
    if limit == "level":
        found += ["contact reading", close_ups(assessment)]
    if missing := missing_marks(assessment):
        found.append(GiveMarks(missing))
    if not for_food:
        found.append(_smaller_zone(assessment))
        if limit != "level":
            found.append(_other_band(assessment))
    if limit == "no knobs":
        found += [_change(assessment), _move(assessment)]
    found += [_panel(assessment), "take it" if for_food else "name food"]
    return tuple(one for one in found if one is not None)


def close_ups(assessment: Assessment) -> CloseUps | None:
    """Return what the gun alone can do for the level; None where it cannot, or pairs enough have been shot."""
    grill = assessment.grill
    near_mm = close_up_mm(grill)
    known = assessment.calibration.reference_pairs
    pairs = sum(tells_valley(grill, pair.reading.distance_mm) for pair in known if pair.partners)
    left = min(MOST_PAIRS, len(grill.labels)) - pairs
    return None if near_mm is None or left <= 0 else CloseUps(near_mm, left, pairs > 0)


def _smaller_zone(assessment: Assessment) -> SmallerZone | None:
    """Return the half of the zone that is likeliest good by itself, where one likely is."""
    off_mm = assessment.wide_cells.points_mm - 0.5 * np.array(assessment.grill.grate.extent_mm)
    sides = zip(("right", "back", "left", "front"), np.hstack([off_mm, -off_mm]).T > 0.0, strict=True)
    halves = {part: side & assessment.zone for part, side in sides}
    found = [SmallerZone(zone_chance(assessment, half), part) for part, half in halves.items() if half.any()]
    return max((one for one in found if one.chance >= AT_LEAST), default=None)


def _other_band(assessment: Assessment) -> OtherBand | None:
    """Return the band as wide that the grate holds best once it has settled, where it is clearly better."""
    low_c, high_c = assessment.band_c
    mean_c = assessment.at(assessment.wide_cells.inside_points_mm)[0] + assessment.to_come_c
    asked_share = float(np.mean((mean_c >= low_c) & (mean_c <= high_c)))
    found = OtherBand(*best_band(high_c - low_c, mean_c), asked_share)
    return found if found.share >= asked_share + BETTER_BAND else None


def _change(assessment: Assessment) -> ChangeHeat | None:
    """Tell how far the whole is off, where its mean is outside the band."""
    low_c, high_c = assessment.band_c
    level_c = float(assessment.at(assessment.wide_cells.inside_points_mm)[0].mean())
    return None if low_c <= level_c <= high_c else ChangeHeat(level_c - assessment.grill.target.middle_c)


def _move(assessment: Assessment) -> MoveHeat | None:
    """Find the hottest and the coldest part by joint samples of their means."""
    parts, samples_c = assessment.zone_parts, assessment.samples_c[:, assessment.zone]
    means_c = {name: samples_c[:, cells].mean(axis=1) for name, cells in parts.items()}
    hot, cold = (pick(means_c, key=lambda name: float(means_c[name].mean())) for pick in (max, min))
    hotter_c = means_c[hot] - means_c[cold]
    found = MoveHeat(hot, cold, float(hotter_c.mean()))
    return None if found.hotter_c < WORTH_MOVING_C or float(np.mean(hotter_c > 0.0)) < SURE else found


def _panel(assessment: Assessment) -> TurnPanel | None:
    """Find the panel with the steepest lean along its rails."""
    grate, cells_mm = assessment.grill.grate, assessment.wide_cells.points_mm
    if not grate.seams_mm:
        return None
    mean_c = assessment.at(cells_mm)[0]
    across, along = cells_mm.T if grate.rails == "front-to-back" else cells_mm.T[::-1]
    panel = 1 + np.searchsorted(sorted(grate.seams_mm), across, side="right")
    found = []
    for number in np.unique(panel[assessment.zone]).tolist():
        cells = assessment.zone & (panel == number)
        far = along > np.median(along[cells])
        lean_c = float(mean_c[cells & far].mean() - mean_c[cells & ~far].mean())
        found.append(TurnPanel(abs(lean_c), number))
    return max((one for one in found if one.hotter_c >= WORTH_MOVING_C), default=None)
