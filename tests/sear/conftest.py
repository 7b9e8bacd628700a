"""The sear run forward: what peak given seconds lead to, as the tests ask it of the model itself."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest

from heatmap.sear import Beliefs, Food, Rails
from heatmap.sear.plan import one_sided
from heatmap.sear.runs import REACH, Cases, own_spread, run, sides_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """The peak that given seconds lead to, with its 90 % interval [°C]."""

    pull_centre_c: float
    peak_centre_c: float
    peak_low_c: float
    peak_high_c: float


@pytest.fixture
def expected_peak() -> Callable[..., Expected]:
    def expected(food: Food, rails: Rails, *, seconds: tuple[float, ...], beliefs: Beliefs | None = None) -> Expected:
        known = beliefs or Beliefs.before_any_test()
        base = Cases.alike(known, np.array([seconds]))
        spread = base.moved(REACH * known.directions, REACH * own_spread(food, rails))
        seared = run(food, rails, base.beside(spread), sides_of(len(seconds), "AABB"))
        peak = float(seared.peak_centre_c[0])
        down, up = one_sided(seared.peak_centre_c[1:] - peak)
        return Expected(
            pull_centre_c=float(seared.pull_centre_c[0]),
            peak_centre_c=peak,
            peak_low_c=peak - down,
            peak_high_c=peak + up,
        )

    return expected
