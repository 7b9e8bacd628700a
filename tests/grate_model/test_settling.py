"""How long to wait."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from heatmap.grate_model.settling import USUAL_MIN, VENTS_MIN, warm_up_minutes
from heatmap.synthetic import draw_grill


@pytest.fixture
def state(seen_round):
    grill = draw_grill(4, noise=False)
    start = datetime(2024, 6, 1, 12, 0, tzinfo=UTC)
    return seen_round(grill, grill.start, taken_at=start)


def drifting_pair(state, time_constant_min: float):
    """A round still 40 °C short, and one an hour later when it has come: 1 − exp(−t/τ) warming."""
    rate = 40.0 / time_constant_min
    before = replace(state, compared_c=state.compared_c - 40.0, rate_c_min=rate)
    return [before, replace(state, number=2, taken_at=state.taken_at + timedelta(hours=1))]


def test_usual_time_is_the_trade_s(state) -> None:
    """Common practice, no source: 90 % of a change takes 8 to 20 min."""
    assert 8.0 <= USUAL_MIN <= 20.0
    assert warm_up_minutes([state]) == USUAL_MIN
    assert warm_up_minutes([state], slow=True) == VENTS_MIN


@pytest.mark.parametrize("time_constant_min", [3.5, 9.0])
def test_learns_from_a_drifting_round_and_a_settled_one(state, time_constant_min: float) -> None:
    """First-order lag: 90 % takes τ ln 10 (Incropera et al., section 5.1). Each pair draws the guess nearer."""
    wanted = math.log(10.0) * time_constant_min
    one, many = (warm_up_minutes(drifting_pair(state, time_constant_min) * times) for times in (1, 6))
    assert abs(one - wanted) < abs(USUAL_MIN - wanted)
    assert many == pytest.approx(wanted, rel=0.1)


def test_other_marks_or_another_day_teach_no_time(state) -> None:
    before, after = drifting_pair(state, 3.5)
    turned = replace(after, settings={name: mark + 1.0 for name, mark in after.settings.items()})
    assert warm_up_minutes([before, turned]) == USUAL_MIN
    assert warm_up_minutes([before, replace(after, session="june")]) == USUAL_MIN
    assert warm_up_minutes([replace(before, rate_c_min=-2.0), after]) == USUAL_MIN
