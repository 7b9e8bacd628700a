"""The sear run forward: what peak given seconds lead to, as the tests ask it of the model itself."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import pytest

from heatmap.sear import Beliefs, Food, Rails, transient
from heatmap.sear.evaporation import FRONT_C
from heatmap.sear.plan import one_sided
from heatmap.sear.runs import REACH, as_believed, one_std, run, sides_of
from remembered import remembering


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """The peak that given seconds lead to, with its 90 % interval [°C]."""

    pull_centre_c: float
    peak_centre_c: float
    peak_low_c: float
    peak_high_c: float


@pytest.fixture(scope="module")
def run_once() -> Iterator[None]:
    """Answer from memory what plans and lessons ask of the same piece again."""
    with remembering([run]):
        yield


@pytest.fixture
def expected_peak() -> Callable[..., Expected]:
    def expected(food: Food, rails: Rails, *, seconds: tuple[float, ...], beliefs: Beliefs | None = None) -> Expected:
        known = beliefs or Beliefs()
        spread = REACH * one_std(food, rails, known)
        cases = as_believed(known) + np.concatenate([np.zeros((1, len(spread))), spread, -spread])
        seared = run(food, rails, cases, seconds, sides_of(len(seconds), "AABB"))
        peak = float(seared.peak_centre_c[0])
        down, up = one_sided(seared.peak_centre_c[1:] - peak)
        return Expected(
            pull_centre_c=float(seared.pull_centre_c[0]),
            peak_centre_c=peak,
            peak_low_c=peak - down,
            peak_high_c=peak + up,
        )

    return expected


class Counted(transient._Columns):
    """Columns that count where their heat goes, in J per m² of face: through the faces on the grate, into drying (with
    the warmth that the dried layer took along), out of faces in air; and how hot each outside was at most."""

    def __init__(self, pieces):
        super().__init__(pieces)
        self.entered, self.drying, self.lost = (np.zeros_like(self.juice) for _ in range(3))
        self.hottest = np.zeros_like(self.crust)
        self.start = self.stored()
        self.fluxes = ()

    def stored(self):
        """Sensible heat above 0 °C; of the crust only in the air."""
        moist = self.pieces.thickness_m - self.crust.sum(axis=0)
        crust = self.attached[0] * self.celsius[0] + self.attached[1] * self.celsius[-1]
        return self.pieces.heat_capacity * moist * (self.celsius * self.spans).sum(axis=0) + crust

    def land(self, turn, *faces):
        for face in faces:
            self.entered -= self.attached[face] * self.celsius[-face]
        super().land(turn, *faces)

    def lift(self, *faces):
        before, crust = self.stored(), self.pieces.crust_capacity * self.crust
        brought = sum(crust[face] * 0.5 * (np.maximum(self.outside[face], FRONT_C) + FRONT_C) for face in faces)
        super().lift(*faces)
        self.entered += brought
        self.drying += before + brought - self.stored()

    def step(self, seconds, *faces):
        super().step(seconds, *faces)
        for face in {0, 1} - set(faces):
            self.lost -= self.fluxes[face] * seconds
        for face in faces:
            self.hottest[face] = np.maximum(self.hottest[face], self.outside[face])

    def _conduct(self, *given):
        celsius, self.fluxes = super()._conduct(*given)
        return celsius, self.fluxes

    def _dry(self, seconds, face, excess, celsius):
        crust = self.crust[face].copy()
        dried = super()._dry(seconds, face, excess, celsius)
        self.entered += (excess + self.fluxes[face]) * seconds
        full = self.pieces.drying_heat_j_m3 + self.pieces.heat_capacity * FRONT_C
        self.drying += (self.crust[face] - crust) * full
        return dried


@pytest.fixture
def counted(monkeypatch):
    """Every sear counts; the list of its columns."""
    found = []

    def columns(pieces):
        found.append(Counted(pieces))
        return found[-1]

    monkeypatch.setattr(transient, "_Columns", columns)
    return found
