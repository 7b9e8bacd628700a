"""Rounds straight from the truth of a make-believe grill, shared by the tests of this folder."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest

from heatmap.grate_model.states import RoundState
from heatmap.synthetic import RehearsalGrill


def _seen_round(
    grill: RehearsalGrill, marks: Mapping[str, float], number: int = 1, noise_c: float = 0.0, seed: int = 0, **changes
) -> RoundState:
    """Return the round a nearly perfect gun would bring home from the steady state of these marks."""
    points = np.array([grill.grill.point_mm(label) for label in grill.grill.labels])
    truth = grill._at(grill.steady_truth_c(marks).reshape(grill.hidden.plate.rows, -1), points)
    seen = truth + noise_c * np.random.default_rng([seed, number]).normal(size=len(points))
    values = dict(
        points_mm=points,
        compared_c=seen,
        shot_std_c=np.full(len(points), max(noise_c, 0.5)),
        place_std_c=np.full(len(points), 1.0),
        settings=dict(marks),
        shared_std_c=0.5,
        number=number,
    )
    return RoundState(**(values | changes))


@pytest.fixture(scope="session")
def seen_round():
    """Return the function that makes a round from the truth."""
    return _seen_round
