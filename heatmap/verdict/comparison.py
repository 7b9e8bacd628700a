"""Two rounds side by side: did the change make the grate more even, and is that more than noise?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from heatmap.assessment import ADVICE_CELL_MM, Assessment, Cells, assess_in_a_row, choose_round
from heatmap.errors import InputError, MapError
from heatmap.grate_model.reference_pairs import KnownGuns
from heatmap.grate_model.round_map import drift_design, is_recheck, same_marks, spans_area
from heatmap.grill.grill import Grill
from heatmap.readings.reading import Round
from heatmap.surface.pair import PairSide, pair_samples
from heatmap.surface.trends import Trends
from heatmap.verdict.chances import SURE

FloatArray = NDArray[np.float64]
Answer = Literal["more even", "less even", "cannot tell"]

#: Joint samples of both surfaces: a chance of 80 % told from so many is off by 1.6 % (one standard deviation,
#: binomial).
SAMPLES = 600


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerOutcome:
    """What turning knobs was expected to do near one burner, and what came, in the numbers of the band [°C].

    Both are means over the third of the grate that the burner heats most, from all knobs together.
    """

    burner: str
    from_mark: float
    to_mark: float
    expected_c: float
    expected_std_c: float
    came_c: float
    came_std_c: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Comparison:
    """Evenness of two rounds, and the chance that the second is truly more even.

    Attributes
    ----------
    before, after : Assessment
    chance_better : float
        Chance that the spread truly shrank, given the own parts of both rounds' readings and drift; what all
        readings have in common (gun, emissivity, mean valley share) cancels.
    answer : {"more even", "less even", "cannot tell"}
    spread_change_c, spread_change_low_c, spread_change_high_c : float
        How much the spread grew: median, 5th and 95th percentile.
    cells : Cells
        Of the difference, an inch wide.
    difference_c, difference_std_c : ndarray, shape (rows, columns)
        After minus before in the numbers of the band, with its own uncertainty; what stays with a place cancels.
    mean_change_c, mean_change_std_c : float
        The same, mean over the area inside the rim.
    burners : tuple of BurnerOutcome
        One for each knob that was turned; empty when not every mark is known.
    """

    before: Assessment
    after: Assessment
    chance_better: float
    answer: Answer
    spread_change_c: float
    spread_change_low_c: float
    spread_change_high_c: float
    cells: Cells
    difference_c: FloatArray
    difference_std_c: FloatArray
    mean_change_c: float
    mean_change_std_c: float
    burners: tuple[BurnerOutcome, ...]

    @property
    def differs(self) -> tuple[str, ...]:
        """Which of session, lid and surface were not the same in both rounds."""
        names = ("session", "lid", "surface")
        return tuple(name for name in names if getattr(self.before.round, name) != getattr(self.after.round, name))

    @property
    def same_marks(self) -> bool:
        """Whether no knob is known to have been turned between them."""
        return same_marks(self.before.round, self.after.round)


def compare(grill: Grill, rounds: Sequence[Round], before: int | None = None, after: int | None = None) -> Comparison:
    """Compare the evenness of two rounds.

    Parameters
    ----------
    grill : Grill
    rounds : sequence of Round
        All rounds there are.
    before, after : int, optional
        Numbers of the two rounds; the two newest full rounds when left out.

    Returns
    -------
    Comparison

    Raises
    ------
    MapError
        When there are no two rounds to compare, or one of them is too small for a map.
    ReadingError
        When there is no such round.
    InputError
        When only one number is given, or both are the same.
    """
    rounds = tuple(rounds)
    first, second = _chosen(grill, rounds, before, after)
    known = KnownGuns()
    one = assess_in_a_row(grill, rounds, first, known)
    return compare_assessed(one, assess_in_a_row(grill, rounds, second, known))


def _chosen(grill: Grill, rounds: tuple[Round, ...], before: int | None, after: int | None) -> tuple[int, int]:
    if (before is None) != (after is None):
        raise InputError("name two rounds, the earlier one first, or none for the two newest: gratemap compare 1 2")
    if before is None or after is None:
        full = [one.number for one in rounds if one.with_aim("rail") and not is_recheck(grill, one) and spans_area(one)]
        if len(full) < 2:
            count = "is only one full round" if full else "is no full round yet"
            raise MapError(f"there {count}; a comparison needs two, take another with: gratemap take")
        return full[-2], full[-1]
    if before == after:
        raise InputError(f"round {before} against itself says nothing; name two different rounds")
    for number in (before, after):
        choose_round(rounds, number)
    return before, after


def compare_assessed(before: Assessment, after: Assessment, *, samples: int = SAMPLES, seed: int = 0) -> Comparison:
    """Compare two rounds that have been assessed already.

    Parameters
    ----------
    before, after : Assessment
        Of the same grill.
    samples : int
    seed : int
        For the random samples.

    Returns
    -------
    Comparison
    """
    grill = after.grill
    cells = Cells.of(grill, ADVICE_CELL_MM)
    before_c, after_c = _joint_samples(before, after, cells.points_mm, samples, np.random.default_rng(seed))
    inside = cells.inside.ravel()
    grew_c = spreads(after_c[:, inside]) - spreads(before_c[:, inside])
    chance = float(np.mean(grew_c < 0.0))
    change_c = after_c - before_c
    means_c = change_c[:, inside].mean(axis=1)
    low_c, middle_c, high_c = np.percentile(grew_c, [5.0, 50.0, 95.0])
    shape = cells.inside.shape
    return Comparison(
        before=before,
        after=after,
        chance_better=chance,
        answer=answer_of(chance, after.evenness.p95_minus_p5_c - before.evenness.p95_minus_p5_c),
        spread_change_c=float(middle_c),
        spread_change_low_c=float(low_c),
        spread_change_high_c=float(high_c),
        cells=cells,
        difference_c=change_c.mean(axis=0).reshape(shape),
        difference_std_c=np.hypot(change_c.std(axis=0), _day_std_c(before, after)).reshape(shape),
        mean_change_c=float(means_c.mean()),
        mean_change_std_c=float(np.hypot(means_c.std(), _day_std_c(before, after))),
        burners=_outcomes(before, after, cells, change_c),
    )


def answer_of(chance_better: float, grew_c: float) -> Answer:
    """Return the word: one that is at least 80 % likely and agrees with the two maps by themselves."""
    if chance_better >= SURE and grew_c < 0.0:
        return "more even"
    if 1.0 - chance_better >= SURE and grew_c > 0.0:
        return "less even"
    return "cannot tell"


def spreads(samples_c: FloatArray) -> FloatArray:
    """Return the 95th minus the 5th percentile of each sample, (count,)."""
    low, high = np.percentile(samples_c, [5.0, 95.0], axis=1)
    return np.asarray(high - low)


def _day_std_c(before: Assessment, after: Assessment) -> float:
    """Return what the level may differ by because the gun, or its view, was another day's or another surface's."""
    if before.round.session == after.round.session and before.round.surface == after.round.surface:
        return 0.0
    return float(np.hypot(before.level_std_c, after.level_std_c))


def _joint_samples(
    before: Assessment, after: Assessment, points_mm: FloatArray, count: int, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    grate = after.grill.grate
    trends = Trends(
        extent_mm=grate.extent_mm, seams_mm=tuple(sorted(grate.seams_mm)), seam_axis="xy".index(grate.seam_axis)
    )
    return pair_samples(
        _side(before),
        _side(after),
        points_mm,
        trends,
        same_places=before.round.surface == after.round.surface,
        count=count,
        rng=rng,
    )


def _side(assessment: Assessment) -> PairSide:
    """Return the readings a map was made of, in the numbers of the band."""
    round_map, calibration = assessment.round_map, assessment.calibration
    spots = round_map.kept_spots
    rail_c = np.array([spot.rail_c for spot in spots], dtype=np.float64)
    slope = calibration.compared_slope(float(rail_c.mean()))
    design, mean, std = drift_design(round_map.round, [spot.reading for spot in spots])
    nothing = np.zeros(0)
    return PairSide(
        points_mm=np.array([spot.reading.point_mm for spot in spots]),
        values_c=calibration.compared_c(rail_c),
        shot_std_c=slope * np.array([spot.shot_std_c for spot in spots]),
        place_std_c=slope * np.array([spot.place_std_c for spot in spots]),
        drift=np.zeros((len(spots), 0)) if design is None else slope * design,
        drift_mean_c=nothing if mean is None else mean,
        drift_std_c=nothing if std is None else std,
    )


def _outcomes(before: Assessment, after: Assessment, cells: Cells, change_c: FloatArray) -> tuple[BurnerOutcome, ...]:
    """Say for each knob that was turned what was to be expected near it by all that was known, and what came."""
    grill = after.grill
    marks, turned_to = before.round.settings, after.round.settings
    if not (grill.complete_settings(marks) and grill.complete_settings(turned_to)):
        return ()
    turned = [
        burner
        for burner in grill.burners
        if burner.control != "none" and marks[burner.name] != turned_to[burner.name] and burner.points_mm
    ]
    if not turned or before.shape_from is not None:
        return ()
    from heatmap.grate_model.from_maps import round_state
    from heatmap.grate_model.learn import learn

    states = [round_state(one, before.calibration) for one in before.maps_so_far()]
    learned = learn(grill, states)
    inside = cells.inside.ravel()
    points_mm = cells.points_mm[inside]
    openings = np.array([burner.fraction(turned_to[burner.name]) for burner in learned.burners])
    names = [burner.name for burner in learned.burners]
    outcomes = []
    for burner in turned:
        near = learned.near(names.index(burner.name), points_mm)
        region = np.flatnonzero(inside)[near]
        expected, expected_std = learned.mean_change(points_mm[near], openings)
        level = float(learned.scale.heat(before.at(points_mm[near])[0]).mean())
        ends = learned.scale.celsius(np.array([level, level + expected]))
        per_heat = float(np.diff(learned.scale.celsius(np.array([level - 0.5, level + 0.5])))[0])
        came = change_c[:, region].mean(axis=1)
        outcomes.append(
            BurnerOutcome(
                burner=burner.name,
                from_mark=float(marks[burner.name]),
                to_mark=float(turned_to[burner.name]),
                expected_c=float(ends[1] - ends[0]),
                expected_std_c=per_heat * expected_std,
                came_c=float(came.mean()),
                came_std_c=float(np.hypot(came.std(), _day_std_c(before, after))),
            )
        )
    return tuple(outcomes)
