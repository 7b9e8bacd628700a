"""Rounds straight from the truth of a make-believe grill, shared by the tests of this folder."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest

from heatmap.readings.reading import Reading, Round
from heatmap.synthetic import RehearsalGrill


def _seen_round(
    grill: RehearsalGrill,
    marks: Mapping[str, float],
    number: int = 1,
    noise_c: float = 0.0,
    seed: int = 0,
    knobs: Mapping[str, float] | None = None,
) -> Round:
    """Return the round a nearly perfect gun would bring home from the steady state of these marks.

    It shows the very numbers that are held against the band; those of a grill whose band is in shown numbers.
    """
    assert grill.grill.target.numbers == "shown"
    points = np.array([grill.grill.point_mm(label) for label in grill.grill.labels])
    truth_c = grill._at(grill.compared_c(marks).reshape(grill.hidden.plate.rows, -1), points)
    shown_c = truth_c + noise_c * np.random.default_rng([seed, number]).normal(size=len(points))
    return Round(
        number=number,
        session="",
        readings=tuple(
            Reading(
                id=100 * number + at,
                shown_c=float(here_c),
                x_mm=float(x_mm),
                y_mm=float(y_mm),
                position=label,
                round=number,
                knobs=dict(marks if knobs is None else knobs),
            )
            for at, (label, (x_mm, y_mm), here_c) in enumerate(zip(grill.grill.labels, points, shown_c, strict=True))
        ),
    )


@pytest.fixture(scope="session")
def seen_round():
    """Return the function that makes a round from the truth."""
    return _seen_round
