"""How long to wait, and how much of a change has come."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from heatmap.grate_model.round_spots import RoundSpots
from heatmap.grate_model.settling import USUAL_MIN, come_openings, warm_up_minutes

START = datetime(2024, 6, 1, 12, 0, tzinfo=UTC)


def spots_at(rail_c: float, minutes: float, marks: float = 5.0, number: int = 1, session: str = "may") -> RoundSpots:
    when = START + timedelta(minutes=minutes)
    return RoundSpots(
        number=number,
        group=(session, "open", "dry"),
        settings={"left": marks},
        marks_known=True,
        points_mm=np.array([[100.0, 100.0], [200.0, 150.0], [300.0, 100.0]]),
        rail_c=np.full(3, rail_c),
        shot_std_c=np.full(3, 2.0),
        place_std_c=np.full(3, 2.0),
        minutes=np.array([-0.2, 0.0, 0.2]),
        trusted=np.zeros(3, dtype=bool),
        taken_at=when,
        last_at=when,
    )


def drifting_pair(time_constant_min: float) -> tuple[list[RoundSpots], list[float | None]]:
    """A round still 40 °C short, and one an hour later when it has come: 1 − exp(−t/τ) warming."""
    return [spots_at(260.0, 0.0), spots_at(300.0, 60.0, number=2)], [40.0 / time_constant_min, 0.0]


def test_usual_time_is_the_trade_s() -> None:
    """Common practice, no source: 90 % of a change takes 8 to 20 min."""
    assert 8.0 <= USUAL_MIN <= 20.0
    assert warm_up_minutes([spots_at(300.0, 0.0)], [None]) == USUAL_MIN


@pytest.mark.parametrize("time_constant_min", [3.5, 9.0])
def test_learns_from_a_drifting_round_and_a_settled_one(time_constant_min: float) -> None:
    """First-order lag: 90 % takes τ ln 10 (Incropera et al., section 5.1). Each pair draws the guess nearer."""
    wanted = math.log(10.0) * time_constant_min
    rounds, rates = drifting_pair(time_constant_min)
    one, many = (warm_up_minutes(rounds * times, rates * times) for times in (1, 6))
    assert abs(one - wanted) < abs(USUAL_MIN - wanted)
    assert many == pytest.approx(wanted, rel=0.1)


def test_other_marks_or_another_day_teach_no_time() -> None:
    (before, after), rates = drifting_pair(3.5)
    assert warm_up_minutes([before, replace(after, settings={"left": 6.0})], rates) == USUAL_MIN
    assert warm_up_minutes([before, replace(after, group=("june", "open", "dry"))], rates) == USUAL_MIN
    assert warm_up_minutes([before, after], [-2.0, 0.0]) == USUAL_MIN


def test_a_change_comes_by_nine_tenths_in_its_time() -> None:
    """First-order lag, as above."""
    openings = np.array([[0.2], [0.8], [0.8]])
    rounds = [spots_at(300.0, 0.0), spots_at(300.0, 10.0, number=2), spots_at(300.0, 20.0, number=3)]
    come = come_openings(openings, rounds, 10.0)
    np.testing.assert_allclose(come[:, 0], [0.2, 0.8 - 0.06, 0.8 - 0.006], rtol=1e-12)
    untimed = [replace(one, taken_at=None, last_at=None) for one in rounds]
    np.testing.assert_array_equal(come_openings(openings, untimed, 10.0), openings)
    other_day = [rounds[0], replace(rounds[1], group=("june", "open", "dry")), rounds[2]]
    assert come_openings(openings, other_day, 10.0)[1, 0] == 0.8


def test_a_turn_that_was_timed_has_come_as_far_as_its_time_allows():
    """Turned ten minutes after the last shot, at 90 % in ten: as much is left as 10^(-t/10) says of its own time."""
    before, after = spots_at(300.0, 0.0), spots_at(310.0, 20.0, number=2)
    untimed = come_openings(np.array([[0.0], [1.0]]), [before, after], 10.0)
    turned = replace(after, turned_at=START + timedelta(minutes=10))
    timed = come_openings(np.array([[0.0], [1.0]]), [before, turned], 10.0)
    assert untimed[1, 0] == pytest.approx(1.0 - 10.0**-2.0)
    assert timed[1, 0] == pytest.approx(1.0 - 10.0**-1.0)
