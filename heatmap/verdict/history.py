"""One line per round: when, at which marks, how even, how hot, and whether it was still warming."""

import contextlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from heatmap.assessment import WIDE_CELL_MM, Assessment, Cells
from heatmap.errors import MapError
from heatmap.gaussian import lower_triangle
from heatmap.grate_model.model import RoundSurface
from heatmap.grate_model.reference_pairs import corrected_rounds
from heatmap.grate_model.round_map import CorrectedRounds, is_recheck, leans_on, model_of, rounds_looked_at
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
    points_mm = _points_mm(grill)
    blocks = _blocks(log, newest or len(rounds))
    log.of([one for block in blocks for one in block])  # all at one go
    if rounds and (assessed is None or assessed.round.number != rounds[-1].number):
        with contextlib.suppress(MapError):  # which its line will tell
            assessed = Assessment.of(log, rounds[-1])
    learnt = None if assessed is None else assessed.model
    off_by: dict[tuple[object, ...], FloatArray] = {}
    for block in blocks:
        last = block[-1]
        own = assessed if assessed is not None and assessed.round.number == last.number else None
        try:
            model = own.model if own else model_of(log, last, like=learnt)
        except MapError as error:
            yield RoundLine(round=last, kind="no map", why=str(error))
            continue
        learnt = learnt or model
        means_c = model.surface(*(one.number for one in block)).mean(points_mm).reshape(len(block), -1)
        for one, mean_c in zip(block, means_c, strict=True):
            surface = model.surface(one.number)
            if own and one is last:
                even: Outlook = own.evenness
                level_c = float(own.compared_c[own.cells.inside].mean())
            else:
                even, level_c = _looked_at(log, surface, one, points_mm, mean_c, off_by)
            try:
                yield _line(log, one, surface, even, level_c)
            except MapError as error:
                yield RoundLine(round=one, kind="no map", why=str(error))


def _points_mm(grill: Grill) -> FloatArray:
    """Return where older rounds are looked at: one in so many cells along every row and every column, (m, 2)."""
    cells = Cells(grill, WIDE_CELL_MM)
    diagonal = np.add(*np.nonzero(cells.inside))
    return np.asarray(cells.inside_points_mm[(diagonal - diagonal[0]) % EVERY == 0])


def _blocks(log: CorrectedRounds, count: int) -> list[tuple[Round, ...]]:
    """Return so many of the newest rounds, in order, in blocks: the map of the last of each is made of all of it."""
    rounds = log.rounds
    end, first, blocks = len(rounds), max(len(rounds) - count, 0), []
    while end > first:
        last, start = rounds[end - 1], end - 1
        numbers = {one.number for one in rounds_looked_at(rounds, last)}
        try:
            leans_on(log.grill, rounds, last)
            while start > first and rounds[start - 1].number in numbers:
                start -= 1
        except MapError:
            pass  # it has no map that could tell of others
        blocks.append(rounds[start:end])
        end = start
    return blocks[::-1]


def _line(log: CorrectedRounds, one: Round, surface: RoundSurface, even: Outlook, level_c: float) -> RoundLine:
    """Return the line of a round; raises MapError where it has no map."""
    full = leans_on(log.grill, log.rounds, one)
    drift_c_per_min, drift_std_c = surface.drift_c_per_min() or (None, None)
    return RoundLine(
        round=one,
        kind="re-check" if full else "few" if is_recheck(log.grill, one) else "full",
        even=even,
        level_c=level_c,
        drift_c_per_min=drift_c_per_min,
        drift_std_c_per_min=drift_std_c,
    )


def _looked_at(
    log: CorrectedRounds,
    surface: RoundSurface,
    one: Round,
    points_mm: FloatArray,
    mean_c: FloatArray,
    off_by: dict[tuple[object, ...], FloatArray],
) -> tuple[Outlook, float]:
    """Tell how even a round of a model was and at what level, by the mean of its surface at a few points (m,).

    How far surfaces are off their means is much alike in rounds shot at the same places: so that is sampled once for
    all of them, as long as one kind of grate is the likeliest; `off_by` holds it, (FEWER, m) each.
    """
    model, luck = surface.model, _luck(len(points_mm) + 1)
    gun, target = log.calibrations(one)[one.surface], log.grill.target
    believed, places = bool(model.states.marks_known[surface.at]), surface.spots.points_mm.tobytes()
    alike = model.posterior.likeliest.prior, len(model.rounds), believed, places
    if alike not in off_by:
        off_by[alike] = luck[:, 1:] @ lower_triangle(surface.joint(points_mm)[1]).T
    level_c, compared_c = float(mean_c.mean()), gun.compared_c(mean_c)
    samples_c = compared_c + gun.compared_slope(level_c) * off_by[alike]
    levels_c = gun.level_std_c(level_c) * luck[:, 0]
    return outlook(samples_c, target.low_c, target.high_c, levels_c), float(compared_c.mean())


def _luck(count: int) -> FloatArray:
    """Return white noise (FEWER, count), the same for every round."""
    half = np.random.default_rng(0).standard_normal((FEWER // 2, count))
    return np.concatenate([half, -half])
