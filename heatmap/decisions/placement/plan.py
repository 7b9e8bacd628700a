"""Where to set the food down: the best place and its lead, or fresh rails for every turn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from statistics import NormalDist

import numpy as np

from heatmap.assessment import Assessment
from heatmap.decisions.fitting import share_chance
from heatmap.decisions.placement.footprint import Footprint, Headings, Room
from heatmap.decisions.placement.search import FREE_HEADINGS, MOST_CENTRES, Candidates, Laid, TargetField
from heatmap.decisions.tuning import EQUAL_CHANCE, EQUAL_SHARE, FITS_SHARE
from heatmap.errors import InputError
from heatmap.grill.grill import Food, Grill
from heatmap.grill.schema import keys_of
from heatmap.units import FloatArray

#: Places told, best first, none overlapping a better one.
MOST_PLACES = 5
#: No more turns than this.
MOST_TURNS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What is to be set down.

    Attributes
    ----------
    footprint : Footprint
    headings : tuple of float
        By the clock, 12 straight away from the cook; two for crossed marks; empty where any will do.
    turns : int
        Turns of one piece, each on fresh rails.
    """

    footprint: Footprint
    headings: Headings = ()
    turns: int = 1

    def __post_init__(self) -> None:
        """Refuse what cannot be planned."""
        headings = keys_of(Food)["headings"].read("headings", list(self.headings), "si")
        object.__setattr__(self, "headings", headings)
        if not 1 <= self.turns <= MOST_TURNS:
            raise InputError(f"turns is {self.turns}; it must be a whole number from 1 to {MOST_TURNS}")

    @classmethod
    def of(cls, grill: Grill) -> Wanted:
        """Return the food that goes on a grill; what was not said of it is as is usual."""
        piece = grill.piece
        assert piece.size_mm is not None and piece.headings is not None
        length_mm, width_mm = piece.size_mm
        return cls(footprint=Footprint(length_mm=length_mm, width_mm=width_mm), headings=piece.headings)

    @classmethod
    def said(cls, grill: Grill) -> Wanted | None:
        """Return the food where its size or its heading was said; else None, and the whole zone counts."""
        return None if grill.food.size_mm is None and grill.food.headings is None else cls.of(grill)

    def options(self, turn: int = 1) -> list[Headings]:
        """Return the headings the food may take in a turn, from 1: both faces get the first heading, then both the
        second; in a single turn all of them.
        """
        if not self.headings:
            return [(12.0,)] if self.footprint.is_round else [(heading,) for heading in FREE_HEADINGS]
        return [self.headings] if self.turns == 1 else [(self.headings[(turn - 1) // 2 % len(self.headings)],)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One place for the food, in the numbers held against the band once the grate has settled; the rail is as mapped.

    Attributes
    ----------
    x_mm, y_mm : float
        Centre of the food.
    headings : tuple of float
    mean_c : float
        Mean over the footprint.
    mean_std_c : float
        How uncertain that is, level and all.
    std_within_c : float
        Expected spread inside the footprint.
    rms_from_target_c : float
        Root of the expected mean squared difference from the middle of the band.
    chance_in_band : float
        That all of the contact is in band.
    chance_fits : float
        That at least 80 % of the footprint, over all its headings, is.
    rail_c, rail_own_std_c : float
        Mean true rail temperature under the food, and its standard deviation at this place alone.
    fresh : bool
        False where an earlier turn has lain on these rails.

    Notes
    -----
    rms_from_target² = (mean - target)² + std_within² + mean_std², exactly.
    """

    x_mm: float
    y_mm: float
    headings: Headings
    mean_c: float
    mean_std_c: float
    std_within_c: float
    rms_from_target_c: float
    chance_in_band: float
    chance_fits: float
    rail_c: float
    rail_own_std_c: float
    fresh: bool = True

    @property
    def centre_mm(self) -> tuple[float, float]:
        """Centre of the food."""
        return (self.x_mm, self.y_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """The places found.

    Attributes
    ----------
    wanted : Wanted
    places : tuple of Place
        Best first, none overlapping a better one; by turn where several were asked for.
    equally_good : int
        How many of them, the best included, are as good as the best within what matters.
    anywhere : bool
        Every place on the grate is.
    lead_c, lead_chance : float or None
        How much less the best is expected to miss the target than the next, and the chance that it does; None
        with nothing to compare.
    over_rim, over_zone : bool
        The food does not fit inside the rim, or inside the zone that should be in band.
    """

    wanted: Wanted
    places: tuple[Place, ...]
    equally_good: int = 1
    anywhere: bool = False
    lead_c: float | None = None
    lead_chance: float | None = None
    over_rim: bool = False
    over_zone: bool = False

    @property
    def best(self) -> Place:
        """The best place."""
        return min(self.places, key=lambda place: place.rms_from_target_c)


@lru_cache(maxsize=2)
def find_places(assessment: Assessment, wanted: Wanted) -> Placement:
    """Find where to set the food down.

    Parameters
    ----------
    assessment : Assessment
    wanted : Wanted

    Returns
    -------
    Placement

    Raises
    ------
    InputError
        When the food does not fit on the grate.

    Notes
    -----
    Places are ranked by the expected mean squared difference from the middle of the band over the footprint:
    squared difference of the mean surface plus the surface's own variance, averaged over the area. What moves
    the whole grate together adds the same everywhere.
    """
    groups = [wanted.options(turn) for turn in range(1, wanted.turns + 1)]
    room = Room(assessment.grill, wanted.footprint, groups)
    field = TargetField(assessment)
    options = tuple(dict.fromkeys(headings for group in groups for headings in group))
    fewer = 8 if wanted.turns > 1 else min(len(options), 4)
    found = Candidates(room, field, options, MOST_CENTRES // fewer)
    if wanted.turns == 1:
        placement = _single(field, found, wanted)
    else:
        placement = _turn_by_turn(field, found, wanted, groups)
    over_rim, over_zone = room.margin_mm < room.grate.rim_mm, room.zone_mm != assessment.grill.zone_mm
    return replace(placement, over_rim=over_rim, over_zone=over_zone)


def best_centre(wanted: Wanted, field: TargetField) -> Laid:
    """Return the best centre (2,) of those first tried, and its headings, on another surface than the map's."""
    options = wanted.options()
    room = Room(field.assessment.grill, wanted.footprint, [options])
    found = Candidates(room, field, options, MOST_CENTRES)
    return found.laid(found.by_cost[0])


def _single(field: TargetField, found: Candidates, wanted: Wanted) -> Placement:
    anyone = np.ones(len(found.option), dtype=bool)
    chosen = found.filled([anyone] * MOST_PLACES, found.by_cost)
    places = _places(field, wanted.footprint, [*map(found.laid, chosen)])
    first, *others = _misses_c(field, wanted.footprint, places)
    leads = [(float(np.mean(other - first)), float(np.mean(other > first))) for other in others]
    lead_c, lead_chance = min(leads, default=(None, None))
    equal_c = EQUAL_SHARE * 2.0 * field.half_band_c
    alike = [
        lead < equal_c and abs(place.chance_fits - places[0].chance_fits) <= EQUAL_CHANCE
        for (lead, _), place in zip(leads, places[1:], strict=True)
    ]
    misses_c = np.sqrt(found.best_of_each_inch().squares_c2)
    return Placement(
        wanted=wanted,
        places=tuple(places),
        equally_good=[*alike, False].index(False) + 1,
        anywhere=bool(np.ptp(misses_c) < equal_c),
        lead_c=None if lead_c is None else max(lead_c, 0.0),
        lead_chance=lead_chance,
    )


def _turn_by_turn(
    field: TargetField, found: Candidates, wanted: Wanted, groups: Sequence[Sequence[Headings]]
) -> Placement:
    """Find fresh rails for every turn, the best of each heading first; what does not fit goes back to the first."""
    if not wanted.headings:
        found = found.best_of_each_inch()
    chosen = found.best_set(groups)
    left = _places(field, wanted.footprint, [*map(found.laid, chosen)])
    told: list[Place] = []
    for turn, group in enumerate(groups):
        best = next((place for place in left if place.headings in group), None)
        if best is not None:
            left.remove(best)
            told.append(best)
            continue
        again = told[turn % len(chosen)]
        centre_mm = np.array(again.centre_mm)
        can_turn = found.room.allows(centre_mm[None], group[0])[0]
        if again.headings not in group and can_turn:
            (again,) = _places(field, wanted.footprint, [(centre_mm, group[0])])
        told.append(replace(again, fresh=False))
    return Placement(wanted=wanted, places=tuple(told))


def _places(field: TargetField, footprint: Footprint, chosen: Sequence[Laid]) -> list[Place]:
    """Return everything told about places with as many headings each, exactly, best first; asked for at one go."""
    areas_mm = np.stack([footprint.area_rule_mm(headings, centre_mm)[0] for centre_mm, headings in chosen])
    rails = np.stack(field.assessment.surface.predict(areas_mm.reshape(-1, 2)), axis=1).reshape(len(chosen), -1, 2)
    places = (_place(field, footprint, one, *rail.T) for one, rail in zip(chosen, rails, strict=True))
    return sorted(places, key=lambda place: place.rms_from_target_c)


def _place(field: TargetField, footprint: Footprint, laid: Laid, rail_c: FloatArray, rail_std_c: FloatArray) -> Place:
    (centre_mm, headings), assessment = laid, field.assessment
    points_mm, weights = footprint.area_rule_mm(headings, centre_mm)
    off_c = assessment.calibration.compared_c(rail_c) + assessment.to_come_c - assessment.grill.target.middle_c
    mean_off_c = float(weights @ off_c)
    slope, half_c = assessment.compared_slope, field.half_band_c
    own_c2 = float(weights @ (rail_std_c * slope) ** 2)
    sampled_c = field.sampled(points_mm)
    of_mean_c2 = min(float(np.var(sampled_c @ weights)), own_c2)
    within_c2 = max(float(weights @ off_c**2) - mean_off_c**2, 0.0) + own_c2 - of_mean_c2
    mean_std_c2 = of_mean_c2 + assessment.level_std_c**2
    contact = np.concatenate([sampled_c, field.sampled(centre_mm + footprint.edge_mm(headings))], axis=1)
    return Place(
        x_mm=float(centre_mm[0]),
        y_mm=float(centre_mm[1]),
        headings=headings,
        mean_c=mean_off_c + assessment.grill.target.middle_c,
        mean_std_c=float(np.sqrt(mean_std_c2)),
        std_within_c=float(np.sqrt(within_c2)),
        rms_from_target_c=float(np.sqrt(mean_off_c**2 + within_c2 + mean_std_c2)),
        chance_in_band=field.chance_in_band(contact),
        chance_fits=share_chance(sampled_c, weights, assessment.level_std_c, (-half_c, half_c), FITS_SHARE),
        rail_c=float(weights @ rail_c),
        rail_own_std_c=float(np.sqrt(of_mean_c2)) / slope,
    )


def _misses_c(field: TargetField, footprint: Footprint, places: Sequence[Place]) -> list[FloatArray]:
    """Return the root mean square miss of the target at each place in each joint sample with its level, (count,)."""
    # The level in even quantiles, in an order of its own, the same for every place that is compared.
    count = len(field.samples_c)
    quantiles = [[NormalDist().inv_cdf((index + 0.5) / count)] for index in range(count)]
    level_c = field.assessment.level_std_c * np.random.default_rng(0).permutation(quantiles)
    rules = [footprint.area_rule_mm(place.headings, place.centre_mm) for place in places]
    return [np.sqrt((field.sampled(points_mm) + level_c) ** 2 @ weights) for points_mm, weights in rules]
