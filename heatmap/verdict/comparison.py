"""Two rounds side by side: did the change make the grate more even, and is that more than noise?"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from heatmap.assessment import Assessment, choose_round
from heatmap.decisions.burner_search import Draws, a_few
from heatmap.errors import InputError, MapError
from heatmap.grate_model.reference_pairs import corrected_rounds
from heatmap.grate_model.round_map import is_recheck, leans_on, model_of, spans_area
from heatmap.grill.grill import Grill
from heatmap.readings.reading import Round
from heatmap.verdict.chances import quantiles, spreads_c
from heatmap.verdict.tuning import SURE

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


class Comparison:
    """Evenness of two rounds that one model has mapped, and the chance that the second is truly more even.

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
    change_c : ndarray, shape (SAMPLES, rows * columns)
        Joint samples of the difference.
    """

    def __init__(self, before: Assessment, after: Assessment) -> None:
        """Compare two rounds by joint samples of both."""
        self.before, self.after, self.cells = before, after, after.wide_cells
        inside, shape = self.cells.inside.ravel(), self.cells.inside.shape
        both = after.model.surface(before.round.number, after.round.number)
        first_c, second_c = np.split(both.sample(self.cells.points_mm, SAMPLES, np.random.default_rng(0)), 2, axis=1)
        before_c, after_c = before.calibration.compared_c(first_c), after.calibration.compared_c(second_c)
        grew_c = spreads_c(after_c[:, inside]) - spreads_c(before_c[:, inside])
        self.chance_better = float(np.mean(grew_c < 0.0))
        more_c = after.evenness.p95_minus_p5_c - before.evenness.p95_minus_p5_c
        self.answer: Answer = answer_of(self.chance_better, more_c)
        by_c = quantiles(grew_c, 0.05, 0.5, 0.95).tolist()
        self.spread_change_low_c, self.spread_change_c, self.spread_change_high_c = by_c
        self.change_c = after_c - before_c
        means_c = self.change_c[:, inside].mean(axis=1)
        self.difference_c = self.change_c.mean(axis=0).reshape(shape)
        self.difference_std_c = np.hypot(self.change_c.std(axis=0), self.day_std_c).reshape(shape)
        self.mean_change_c = float(means_c.mean())
        self.mean_change_std_c = math.hypot(means_c.std(), self.day_std_c)

    @cached_property
    def burners(self) -> tuple[BurnerOutcome, ...]:
        """One for each knob of which it can be told what was to be expected near it, by the rounds up to the first
        alone, and what came; empty when not every mark is known.
        """
        before, after, grill = self.before, self.after, self.after.grill
        marks, turned_to = before.round.settings, after.round.settings
        if before.shape_from is not None or not (grill.complete_settings(marks) and grill.complete_settings(turned_to)):
            return ()
        turned = [one.name for one in grill.settable if marks[one.name] != turned_to[one.name] and one.points_mm]
        if not turned:
            return ()
        known = Assessment.of(before.log, before.round)
        few = a_few(np.flatnonzero(self.cells.inside.ravel()))
        draws = Draws(known, self.cells.points_mm[few], np.random.default_rng(1))
        stood_c, then_c = (
            known.model.scale.celsius(draws.heat([one[each.name] for each in draws.burners]) - draws.level)
            for one in (marks, turned_to)
        )
        outcomes = []
        for burner, near in zip(draws.burners, draws.near, strict=True):
            if burner.name in turned:
                expected_c, came_c = (each[:, near].mean(axis=1) for each in (then_c - stood_c, self.change_c[:, few]))
                outcome = BurnerOutcome(
                    burner=burner.name,
                    from_mark=float(marks[burner.name]),
                    to_mark=float(turned_to[burner.name]),
                    expected_c=float(expected_c.mean()),
                    expected_std_c=float(expected_c.std()),
                    came_c=float(came_c.mean()),
                    came_std_c=math.hypot(came_c.std(), self.day_std_c),
                )
                outcomes.append(outcome)
        return tuple(outcomes)

    @cached_property
    def day_std_c(self) -> float:
        """What the level may differ by because the gun, or its view, was another day's or another surface's."""
        one, other = self.before.round, self.after.round
        if one.session == other.session and one.surface == other.surface:
            return 0.0
        return float(np.hypot(self.before.level_std_c, self.after.level_std_c))

    @property
    def differs(self) -> tuple[str, ...]:
        """Which of session, lid and surface were not the same in both rounds."""
        names = ("session", "lid", "surface")
        return tuple(name for name in names if getattr(self.before.round, name) != getattr(self.after.round, name))


def compare(
    grill: Grill,
    rounds: Sequence[Round],
    before: int | None = None,
    after: int | None = None,
    assessed: Assessment | None = None,
) -> Comparison:
    """Compare the evenness of two rounds.

    Parameters
    ----------
    grill : Grill
    rounds : sequence of Round
        All rounds there are.
    before, after : int, optional
        Numbers of the two rounds; the two newest full rounds when left out.
    assessed : Assessment, optional
        Of one of these rounds, where there is one; it is not done again.

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
    log = corrected_rounds(grill, rounds) if assessed is None else assessed.log
    if before is None and after is None:
        full = [one.number for one in log.rounds if not is_recheck(grill, one) and spans_area(one)]
        if len(full) < 2:
            count = "is only one full round" if full else "is no full round yet"
            raise MapError(f"there {count}; a comparison needs two, take another with: gratemap take")
        before, after = full[-2:]
    if before is None or after is None:
        raise InputError("name two rounds, the earlier one first, or none for the two newest: gratemap compare 1 2")
    if before == after:
        raise InputError(f"round {before} against itself says nothing; name two different rounds")
    first, second = choose_round(log.rounds, before), choose_round(log.rounds, after)
    later = assessed if assessed is not None and assessed.round.number == second.number else None
    if later is None or first.number not in {each.number for each in later.model.rounds}:
        later = Assessment(log=log, round=second, model=model_of(log, first, second))
    leans_on(grill, log.rounds, first)  # raises where there is no map of it
    return Comparison(Assessment(log=log, round=first, model=later.model), later)


def answer_of(chance_better: float, grew_c: float) -> Answer:
    """Return the word: one that is at least 80 % likely and agrees with the two maps by themselves."""
    if chance_better >= SURE and grew_c < 0.0:
        return "more even"
    if 1.0 - chance_better >= SURE and grew_c > 0.0:
        return "less even"
    return "cannot tell"
