"""Everything known about how a gun reads a surface: the cases, their weights, and the gun's own error in each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property, lru_cache
from typing import Literal

import numpy as np

from heatmap.correct.evidence import Disagreement, Evidence, ReferencePair
from heatmap.correct.gun_view import GunView, NuisanceGrid, gun_limit_c
from heatmap.correct.tuning import LEAST_APART, NEAR_SI_MM, NEAR_US_MM
from heatmap.grill.grill import Grill
from heatmap.units import FloatArray

#: Where the way from shown to rail is worked out; straight lines between are good to 0.01 °C.
_CURVE_SHOWN_C = np.linspace(-30.0, 720.0, 31)

#: Of the rails' surface.
State = Literal["dry", "oiled"]


class Calibration:
    """Everything known about how this gun reads this surface, from the grill file and every reference pair.

    Attributes
    ----------
    grill : Grill
    surface : {"dry", "oiled"}
    nuisance : NuisanceGrid
    gun_mean : ndarray, shape (cases,)
        Calibration error of the gun in units of its standard uncertainty, in each case.
    gun_variance : float
        What is left of it.
    reference_pairs : tuple of ReferencePair
    disagreement : Disagreement or None
        Where contact readings contradict one another; what they taught is widened for it.
    """

    def __init__(self, grill: Grill, surface: State, pairs: Sequence[ReferencePair] = ()) -> None:
        """Hear the pairs that there are."""
        self.grill, self.surface = grill, surface
        self.reference_pairs: tuple[ReferencePair, ...] = ()
        self.disagreement: Disagreement | None = None
        if not pairs:
            self.nuisance = NuisanceGrid.of(grill, surface)
            self.gun_mean, self.gun_variance = np.zeros_like(self.nuisance.weight), 1.0
            return
        before = _before_any_pair(grill, surface)
        known = Evidence(before.nuisance, before.view, pairs)
        self.nuisance = replace(before.nuisance, weight=known.weight)
        self.gun_mean, self.gun_variance = known.gun_mean, known.gun_variance
        self.reference_pairs, self.disagreement = known.pairs, known.disagreement

    @lru_cache(maxsize=16)  # noqa: B019 - few, and small
    def view(self, distance_mm: float | None = None, nuisance: NuisanceGrid | None = None) -> GunView:
        """Return the gun's view from a distance, by default the usual one, in these cases or in others."""
        usual_mm = self.grill.gun.distance_mm
        return GunView(nuisance or self.nuisance, self.grill, usual_mm if distance_mm is None else distance_mm)

    def gun_std_c(self, shown_c: FloatArray) -> FloatArray:
        """Return the standard uncertainty of the gun's calibration: the accuracy limit over √3 (JCGM 100,
        4.3.7)."""
        return np.asarray(gun_limit_c(self.grill.gun, shown_c) / np.sqrt(3.0))

    def gun_error_c(self, shown_c: FloatArray) -> FloatArray:
        """Return the best estimate of the gun's own error where it shows this."""
        return self.gun_std_c(shown_c) * self.nuisance.mean(self.gun_mean)

    def correct(self, shown_c: FloatArray, distance_mm: float | None = None) -> Corrected:
        """Return what the gun says of rails when it shows `shown_c` (n,) from a distance, by default the usual one."""
        return Corrected(self, shown_c, distance_mm)

    @cached_property
    def _curve(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """What is shown, the rail behind it, rising, and its shared standard deviation, (m,) each."""
        corrected = self.correct(_CURVE_SHOWN_C)
        return _CURVE_SHOWN_C, np.maximum.accumulate(corrected.rail_c), corrected.shared_std_c

    def shown_from_rail_c(self, rail_c: FloatArray) -> FloatArray:
        """Return what this gun would show of a rail from its usual distance."""
        shown_c, curve_c, _ = self._curve
        return np.asarray(np.interp(np.asarray(rail_c, dtype=float), curve_c, shown_c))

    def compared_c(self, rail_c: FloatArray) -> FloatArray:
        """Return rails in the numbers of the target band: as this gun shows them, or as they are."""
        return self.shown_from_rail_c(rail_c) if self.grill.target.numbers == "shown" else np.asarray(rail_c)

    def rail_from_compared_c(self, compared_c: FloatArray) -> FloatArray:
        """Return the rails behind numbers like those of the target band."""
        compared_c = np.asarray(compared_c, dtype=float)
        if self.grill.target.numbers == "rail":
            return compared_c
        shown_c, curve_c, _ = self._curve
        return np.asarray(np.interp(compared_c, shown_c, curve_c))

    def compared_slope(self, rail_c: float) -> float:
        """Return how much a number held against the band moves for one degree of rail."""
        if self.grill.target.numbers == "rail":
            return 1.0
        ends = self.shown_from_rail_c(np.array([rail_c - 15.0, rail_c + 15.0]))
        return max(float(ends[1] - ends[0]) / 30.0, 1e-3)

    def shared_std_c(self, rail_c: float) -> float:
        """Return the shared standard deviation of a rail near `rail_c`."""
        _, curve_c, shared_std_c = self._curve
        return float(np.interp(rail_c, curve_c, shared_std_c))

    def level_std_c(self, rail_c: float) -> float:
        """Return the standard deviation that all compared numbers have in common: day to day, or the shared
        part."""
        if self.grill.target.numbers == "shown":
            return self.grill.target.day_sd_c
        return self.shared_std_c(rail_c)


class Corrected:
    """What n readings from one distance say of their rails.

    Attributes
    ----------
    view : GunView
    raw_c, cases_c : ndarray (cases, n)
        The rail in every case, before and after the gun's own error is taken out.
    sensitivity : Sensitivity
    rail_c : ndarray (n,)
        The measurement equation at the best estimates of all that goes into it (JCGM 100:2008, 4.1.4).
    shared_std_c, gun_std_c : ndarray (n,)
        Spread of the cases about it, and the part of it that is the gun's own error.
    """

    def __init__(self, known: Calibration, shown_c: FloatArray, distance_mm: float | None) -> None:
        """Correct them by what is known of the gun."""
        self.view, mean = known.view(distance_mm), known.nuisance.mean
        self.raw_c = self.view.rail_c(shown_c)
        self.sensitivity = self.view.sensitivity(self.raw_c, shown_c)
        effect_c = self.sensitivity.rail_per_shown * known.gun_std_c(shown_c)
        self.cases_c = self.raw_c - effect_c * known.gun_mean[:, None]
        gun_variance_c2 = effect_c**2 * known.gun_variance
        best = known.view(distance_mm, known.nuisance.best)
        self.rail_c: FloatArray = best.rail_c(shown_c - known.gun_error_c(shown_c))[0]
        self.shared_std_c = np.sqrt(mean((self.cases_c - self.rail_c) ** 2 + gun_variance_c2))
        self.gun_std_c = np.sqrt(mean(gun_variance_c2))


def calibrate(grill: Grill, pairs: Sequence[ReferencePair] = (), surface: State = "dry") -> Calibration:
    """Return what is known of the gun from the grill file and after every reference pair has spoken."""
    return Calibration(grill, surface, pairs) if pairs else _before_any_pair(grill, surface)


#: The same until there is one, worked out once for each grill and surface.
_before_any_pair = lru_cache(maxsize=4)(Calibration)


def close_up_mm(grill: Grill) -> float | None:
    """Return from how far [mm] a rail shot and a valley shot at one place tell how hot the valley is.

    None where the spot of this gun cannot be made small enough for these rails, or there is no valley.
    """
    near_mm = NEAR_US_MM if grill.units == "us" else NEAR_SI_MM
    return near_mm if tells_valley(grill, near_mm) else None


def tells_valley(grill: Grill, distance_mm: float | None) -> bool:
    """Tell whether a spot from a distance [mm], None for the usual one, takes in rail and valley differently enough."""
    view = calibrate(grill).view(distance_mm)
    return view.share[0] - view.valley_shot_share[0] >= LEAST_APART
