"""The map of a round: its readings corrected, the model of the grate fitted to the rounds so far, blunders named."""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from typing import Self

import numpy as np

from heatmap.correct import Calibration, Spot, correct_readings
from heatmap.errors import MapError
from heatmap.gaussian import in_one_line
from heatmap.grate_model.model import GrateModel, RoundSurface
from heatmap.grate_model.round_spots import MANY_SPOTS, MOST_REPEATS, Group, RoundSpots
from heatmap.grate_model.tuning import MOST_ROUNDS, MOST_SPOTS
from heatmap.grill.grill import Grill
from heatmap.readings.reading import Reading, Round

#: A re-check is three to five shots (common practice, no source).
MOST_RECHECK_PLACES = 5
#: Three places not in one line are the fewest that tell a level and a lean.
FEWEST_PLACES = 3

#: More places than this in a round are not weighed against one another: it would take minutes and gigabytes. At every
#: inch of a 24 by 18 in grate there are not many more.
MOST_PLACES = 400

#: What is known of the gun in a round, by state of the surface.
CalibrationsOf = Callable[[Round], Mapping[str, Calibration]]


class CorrectedRounds:
    """The rounds of a log that does not change, corrected as far as they are asked for.

    Attributes
    ----------
    grill : Grill
    rounds : tuple of Round
        All there are, in order.
    calibrations : callable
        Round to what is known of the gun in it.
    """

    def __init__(self, grill: Grill, rounds: Sequence[Round], calibrations: CalibrationsOf) -> None:
        """Begin with none corrected."""
        self.grill, self.rounds, self.calibrations = grill, tuple(rounds), calibrations
        self._corrected: dict[int, RoundSpots] = {}

    def of(self, rounds: Sequence[Round]) -> list[RoundSpots]:
        """Return the spots of some rounds, in order; many rounds at one go are cheaper."""
        missing = [one for one in rounds if one.number not in self._corrected]
        by_gun: dict[Calibration, list[Reading]] = {}
        for one in missing:
            known = self.calibrations(one)
            for reading in one.readings:
                by_gun.setdefault(known[reading.surface], []).append(reading)
        corrected = (spot for gun, readings in by_gun.items() for spot in correct_readings(readings, gun))
        spot_of = {id(spot.reading): spot for spot in corrected}
        for one in missing:
            spots = tuple(spot_of[id(reading)] for reading in one.readings)
            self._corrected[one.number] = RoundSpots.of(self.grill, one, spots)
        return [self._corrected[one.number] for one in rounds]


@dataclass(frozen=True, kw_only=True, eq=False)
class RoundMap:
    """One round of a log as the model of the grate sees it."""

    log: CorrectedRounds
    round: Round
    model: GrateModel

    @classmethod
    def of(cls, log: CorrectedRounds, chosen: Round) -> Self:
        """Map a round with all that it and the rounds before it say; see :func:`model_of`."""
        return cls(log=log, round=chosen, model=model_of(log, chosen))

    @property
    def surface(self) -> RoundSurface:
        """Rail temperature at the round's median time."""
        return self.model.surface(self.round.number)

    @property
    def corrected(self) -> tuple[Spot, ...]:
        """One spot for each reading, in order."""
        return self.log.of([self.round])[0].corrected

    @cached_property
    def suspects(self) -> dict[int, float]:
        """Which of them are held to be blunders, with what all others say of the surface there, °C of rail."""
        here = self.model.spots_of(self.round.number)
        blunders = np.flatnonzero(self.model.blunder_chance[here] > 0.5)
        if not blunders.size:
            return {}
        rail = [index for index, spot in enumerate(self.corrected) if spot.reading.aim == "rail"]
        mean_c = self.model.leave_one_out()[0][here]
        return {rail[at]: float(mean_c[at]) for at in blunders}

    @property
    def kept_spots(self) -> tuple[Spot, ...]:
        """The rail readings that are believed, in order."""
        spots = enumerate(self.corrected)
        return tuple(spot for index, spot in spots if spot.reading.aim == "rail" and index not in self.suspects)

    @cached_property
    def shape_from(self) -> Round | None:
        """The full round that a re-check leans on; None for a round that says enough by itself."""
        return leans_on(self.log.grill, self.log.rounds, self.round)


def model_of(log: CorrectedRounds, *chosen: Round, like: GrateModel | None = None) -> GrateModel:
    """Return the one model that maps some rounds, of all that they and what came before the last say.

    Parameters
    ----------
    log : CorrectedRounds
        All rounds there are; those after the last chosen one are not looked at.
    chosen : Round
    like : GrateModel, optional
        As in :class:`heatmap.grate_model.model.GrateModel`.

    Raises
    ------
    MapError
        When one has too few rail readings, or all of them in one line, and no full round before to lean on.
    """
    for one in chosen:
        leans_on(log.grill, log.rounds, one)
    return GrateModel(log.grill, log.of(rounds_looked_at(log.rounds, *chosen)), like=like)


def surface_to_come(
    log: CorrectedRounds, one: Round, settings: Mapping[str, float], group: Group
) -> RoundSurface | None:
    """Return what the rounds before say of a round that has no shot yet; None without a full one among them.

    Parameters
    ----------
    log : CorrectedRounds
    one : Round
        The round to come.
    settings : mapping
        The marks it is shot at, as far as they are known.
    group : (session, lid, surface)
    """
    earlier = rounds_looked_at(log.rounds, one)[:-1]
    if not any(spans_area(each) for each in earlier):
        return None
    coming = replace(
        RoundSpots.of(log.grill, replace(one, readings=()), ()),
        settings=settings,
        marks_known=log.grill.complete_settings(settings),
        group=group,
    )
    return GrateModel(log.grill, [*log.of(earlier), coming]).surface(one.number)


def rounds_looked_at(rounds: Sequence[Round], *chosen: Round) -> list[Round]:
    """Return the rounds that the map of those chosen is made of, in order of their numbers: beside them the newest up
    to the last of them, so many, of so many spots.
    """
    numbers, spots, found = {one.number for one in chosen}, sum(map(_spots, chosen)), list(chosen)
    for one in reversed(rounds):
        if one.number > max(numbers) or one.number in numbers or not (count := _spots(one)):
            continue
        spots += count
        if len(found) == MOST_ROUNDS or spots > MOST_SPOTS:
            break
        found.append(one)
    return sorted(found, key=lambda one: one.number)


def _spots(one: Round) -> int:
    """Return of how many values a round is in the model, repeats merged."""
    counts = Counter(reading.point_mm for reading in one.with_aim("rail"))
    count = sum(min(each, MOST_REPEATS) for each in counts.values())
    return count if count <= MANY_SPOTS else len(counts)


def _places(one: Round) -> set[tuple[float, float]]:
    return {reading.point_mm for reading in one.with_aim("rail")}


def leans_on(grill: Grill, rounds: Sequence[Round], one: Round) -> Round | None:
    """Return the full round that a round of few shots leans on; None for one that says enough by itself.

    Raises
    ------
    MapError
        When there is no map of the round: too few readings, or too many places.
    """
    if (count := len(_places(one))) > MOST_PLACES:
        raise MapError(
            f"round {one.number} has rail readings at {count} places; a map takes in at most {MOST_PLACES}: "
            "shoot at the positions of the grill file, or give x and y to the nearest inch"
        )
    if spans_area(one) and not is_recheck(grill, one):
        return None
    full = last_full_round(grill, rounds, one)
    if count and full is not None:
        return full
    if count < FEWEST_PLACES:
        raise MapError(
            f"round {one.number} has rail readings at {count} place{'' if count == 1 else 's'}; "
            "a map needs at least 3, not all in one line, and 8 or more to be worth reading"
        )
    if not spans_area(one):
        raise MapError(
            f"round {one.number} has all its rail readings in one line; "
            "a map needs an area: shoot at least one place to the side of it"
        )
    return None


def is_recheck(grill: Grill, one: Round) -> bool:
    """Tell whether a round is only a few shots: at most five places, and fewer than half of the positions."""
    places = _places(one)
    return 0 < len(places) <= MOST_RECHECK_PLACES and 2 * len(places) < len(grill.labels)


def same_marks(one: Round, other: Round) -> bool:
    """Tell whether no burner is known to have been turned between two rounds."""
    return all(other.settings.get(name, mark) == mark for name, mark in one.settings.items())


def last_full_round(grill: Grill, rounds: Sequence[Round], chosen: Round) -> Round | None:
    """Return the latest full round before this one that says what its grate is like, or None.

    In its session, and with the same marks, unless all marks are known and the burners' response tells the rest.
    """
    known = grill.complete_settings(chosen.settings) and bool(grill.burners)
    earlier = [
        one
        for one in rounds
        if one.number < chosen.number
        and one.session == chosen.session
        and spans_area(one)
        and not is_recheck(grill, one)
        and (same_marks(one, chosen) or (known and grill.complete_settings(one.settings)))
    ]
    return max(earlier, key=lambda one: one.number, default=None)


def spans_area(one: Round) -> bool:
    """Tell whether the rail readings of a round span an area, as a map of its own needs."""
    return not in_one_line(np.array([*_places(one)]).reshape(-1, 2))


def age_minutes(earlier: datetime | None, later: datetime | None) -> float | None:
    """Return the minutes between two times, or None where one is not known."""
    if earlier is None or later is None:
        return None
    return (later - earlier).total_seconds() / 60.0
