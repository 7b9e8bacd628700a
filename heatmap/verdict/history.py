"""One line per round: when, at which marks, how even, how hot, and whether it was still warming."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from types import MappingProxyType
from typing import Literal

from heatmap.assessment import Assessment, assess
from heatmap.errors import MapError
from heatmap.grate_model.reference_pairs import KnownGuns
from heatmap.grate_model.round_map import is_recheck
from heatmap.grill.grill import Grill
from heatmap.readings.reading import Round

Kind = Literal["full", "re-check", "few", "no map"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundLine:
    """What is known of one round, in short.

    Attributes
    ----------
    number : int
    session : str
    taken_at : datetime or None
    marks : mapping
        Those that are known.
    shots : int
        Rail readings that stand.
    kind : {"full", "re-check", "few", "no map"}
        "few": as few shots as a re-check has, but a map of its own, for want of a full round before it.
    spread_c : float or None
        95th minus 5th percentile over the area, in the numbers of the band; None without a map, as all below.
    share, share_low, share_high : float or None
    level_c : float or None
        Mean over the area, in the numbers of the band.
    drift_c_per_min, drift_std_c_per_min : float or None
        Warming during the round; None also without times.
    why : str
        Why there is no map; empty when there is one.
    notes : tuple of str
        What was noted while it was taken.
    """

    number: int
    session: str
    taken_at: datetime | None
    marks: Mapping[str, float]
    shots: int
    kind: Kind
    spread_c: float | None = None
    share: float | None = None
    share_low: float | None = None
    share_high: float | None = None
    level_c: float | None = None
    drift_c_per_min: float | None = None
    drift_std_c_per_min: float | None = None
    why: str = ""
    notes: tuple[str, ...] = ()


def history(
    grill: Grill,
    rounds: Sequence[Round],
    newest: int | None = None,
    assessed: Mapping[int, Assessment] = MappingProxyType({}),
) -> Iterator[RoundLine]:
    """Yield one line per round, oldest first, each as soon as it is worked out.

    Parameters
    ----------
    grill : Grill
    rounds : sequence of Round
        All rounds there are.
    newest : int, optional
        Only so many of the newest.
    assessed : mapping
        Assessments of these rounds that there are, by number.
    """
    rounds = tuple(rounds)
    known = KnownGuns()
    for one in rounds[-newest:] if newest else rounds:
        yield _line(grill, rounds, one, known, assessed.get(one.number))


def _line(grill: Grill, rounds: tuple[Round, ...], one: Round, known: KnownGuns, found: Assessment | None) -> RoundLine:
    """Assess one round, where that was not done; what teaches of the gun is worked out once per session and surface."""
    line = RoundLine(
        number=one.number,
        session=one.session,
        taken_at=one.taken_at,
        marks=one.settings,
        shots=len(one.with_aim("rail")),
        kind="no map",
        notes=tuple(noted.note for noted in one.notes),
    )
    try:
        found = found or assess(grill, rounds, one.number, known=known)
    except MapError as error:
        return replace(line, why=str(error))
    drift, even = found.round_map.drift, found.evenness
    return replace(
        line,
        kind="re-check" if found.shape_from else "few" if is_recheck(grill, one) else "full",
        spread_c=even.p95_minus_p5_c,
        share=even.share_in_band,
        share_low=even.share_in_band_low,
        share_high=even.share_in_band_high,
        level_c=float(found.compared_c[found.cells.inside].mean()),
        drift_c_per_min=None if drift is None else drift.per_minute_c,
        drift_std_c_per_min=None if drift is None else drift.per_minute_std_c,
    )
