"""One line per round: when, at which marks, how even, how hot, and whether it was still warming."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from heatmap.assessment import WIDE_CELL_MM, Assessment, Cells
from heatmap.errors import MapError
from heatmap.gaussian import lower_triangle
from heatmap.grate_model.model import GrateModel, RoundSurface
from heatmap.grate_model.reference_pairs import corrected_rounds
from heatmap.grate_model.round_map import is_recheck, leans_on, model_of
from heatmap.grill.grill import Grill
from heatmap.readings.reading import Round
from heatmap.units import FloatArray
from heatmap.verdict.chances import Outlook, outlook

#: One in so many of the cells of an inch is looked at for an older round. On make-believe grills of four rounds that
#: moved spreads by 1.3 °C and shares by 0.8 % (root mean square); other samples move them by 0.8 °C and 1 %.
EVERY = 3
#: So many joint samples for an older round: in opposite pairs, so that they are as good as twice as many without.
FEWER = 100

Kind = Literal["full", "re-check", "few", "no map"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundLine:
    """What is known of one round, in short.

    Attributes
    ----------
    round : Round
    kind : {"full", "re-check", "few", "no map"}
        "few": as few shots as a re-check has, but a map of its own, for want of a full round before it.
    even : Outlook or None
        How much of the area is in band, and how far apart it is; None without a map, as all below.
    level_c : float or None
        Mean over the area, in the numbers of the band.
    drift_c_per_min, drift_std_c_per_min : float or None
        Warming during the round; None also without times.
    why : str
        Why there is no map; empty when there is one.
    """

    round: Round
    kind: Kind
    even: Outlook | None = None
    level_c: float | None = None
    drift_c_per_min: float | None = None
    drift_std_c_per_min: float | None = None
    why: str = ""


def history(
    grill: Grill,
    rounds: Sequence[Round],
    newest: int | None = None,
    assessed: Assessment | None = None,
) -> Iterator[RoundLine]:
    """Yield one line per round, oldest first.

    The newest line says what the map of its round says. A map is made of several rounds and knows of each what all of
    them tell; so the lines of those rounds are read off it too, and the next map is that of the round before them: an
    older line knows of some rounds after its own, and of fewer before. What kind of grate it is the newest map tells
    the others.

    Parameters
    ----------
    grill : Grill
    rounds : sequence of Round
        All rounds there are, in order of their numbers.
    newest : int, optional
        Only so many of the newest.
    assessed : Assessment, optional
        Of one of these rounds, where there is one; it is not done again.
    """
    log = corrected_rounds(grill, rounds) if assessed is None else assessed.log
    shown = log.rounds[-(newest or len(rounds)) :]
    log.of(shown)  # all at one go
    cells = Cells(grill, WIDE_CELL_MM)
    diagonal = np.add(*np.nonzero(cells.inside))
    points_mm = cells.inside_points_mm[(diagonal - diagonal[0]) % EVERY == 0]  # along every row and every column
    half = np.random.default_rng(0).standard_normal((FEWER // 2, len(points_mm) + 1))
    luck = np.concatenate([half, -half])  # the same for every round
    off_by: dict[tuple[object, ...], FloatArray] = {}

    def looked_at(one: Round, surface: RoundSurface, mean_c: FloatArray) -> tuple[Outlook, float]:
        """Tell how even a round of a model was and at what level, by the mean of its surface at a few points.

        How far surfaces are off their means is much alike in rounds shot at the same places: so that is sampled once
        for all of them, as long as one kind of grate is the likeliest; `off_by` holds it, (FEWER, m) each.
        """
        model, gun, target = surface.model, log.calibrations(one)[one.surface], grill.target
        believed, places = bool(model.states.marks_known[surface.at[0]]), surface.spots.points_mm.tobytes()
        alike = model.posterior.likeliest.prior, len(model.rounds), believed, places
        if alike not in off_by:
            off_by[alike] = luck[:, 1:] @ lower_triangle(surface.joint(points_mm)[1]).T
        level_c, compared_c = float(mean_c.mean()), gun.compared_c(mean_c)
        samples_c = compared_c + gun.compared_slope(level_c) * off_by[alike]
        levels_c = gun.level_std_c(level_c) * luck[:, 0]
        return outlook(samples_c, target.low_c, target.high_c, levels_c), float(compared_c.mean())

    lines: list[RoundLine] = []
    first: GrateModel | None = None
    for one in reversed(shown):
        try:
            full = leans_on(grill, log.rounds, one)
        except MapError as error:
            lines.append(RoundLine(round=one, kind="no map", why=str(error)))
            continue
        if first is None:
            if assessed is None or assessed.round.number != one.number:
                assessed = Assessment.of(log, one)
            first = model = assessed.model
            means_c = _means_c(model, points_mm)
            even: Outlook = assessed.evenness
            level_c = float(assessed.compared_c[assessed.cells.inside].mean())
        else:
            if one.number not in means_c:
                model = model_of(log, one, like=first)
                means_c = _means_c(model, points_mm)
            even, level_c = looked_at(one, model.surface(one.number), means_c[one.number])
        drift_c_per_min, drift_std_c = model.surface(one.number).drift_c_per_min() or (None, None)
        line = RoundLine(
            round=one,
            kind="re-check" if full else "few" if is_recheck(grill, one) else "full",
            even=even,
            level_c=level_c,
            drift_c_per_min=drift_c_per_min,
            drift_std_c_per_min=drift_std_c,
        )
        lines.append(line)
    yield from reversed(lines)


def _means_c(model: GrateModel, points_mm: FloatArray) -> dict[int, FloatArray]:
    """Return the mean at points (m, 2) of every round of a model, by its number, (m,) each [°C]."""
    numbers = [each.number for each in model.rounds]
    return dict(zip(numbers, model.surface(*numbers).mean(points_mm).reshape(len(numbers), -1), strict=True))
