"""What every fitted surface can do, whatever the method."""

from __future__ import annotations

from abc import ABC, abstractmethod

import numpy as np
from numpy.typing import ArrayLike

from heatmap.surface.places import Readings
from heatmap.surface.types import FloatArray


class Surface(ABC):
    """A fitted surface: ask it for mean and spread anywhere, or for joint samples.

    Attributes
    ----------
    method : str
        One of :data:`heatmap.surface.METHODS`.
    readings : Readings
        What was fitted.
    drift_mean_c, drift_std_c : array, (p,)
        Posterior mean and standard deviation of the drift coefficients [°C per unit of the column].
    """

    __slots__ = ()

    method: str
    readings: Readings
    drift_mean_c: FloatArray
    drift_std_c: FloatArray

    @property
    def points_mm(self) -> FloatArray:
        """Where the readings were taken, as given, (n, 2) [mm]."""
        return self.readings.points_mm

    @property
    def rail_c(self) -> FloatArray:
        """The readings as given, (n,) [°C]."""
        return self.readings.rail_c

    @property
    def extent_mm(self) -> tuple[float, float]:
        """Width and depth of the grate [mm]."""
        return self.readings.extent_mm

    @abstractmethod
    def predict(self, points_mm: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return mean and standard deviation of the noise-free surface at points, each (m,) [°C]."""

    def mean(self, points_mm: ArrayLike) -> FloatArray:
        """Return the mean of the noise-free surface at points, (m,) [°C]: the first half of :meth:`predict`."""
        return self.predict(points_mm)[0]

    @abstractmethod
    def sample(self, points_mm: ArrayLike, count: int, rng: np.random.Generator) -> FloatArray:
        """Return joint samples of the noise-free surface at points, (count, m) [°C]."""

    @abstractmethod
    def covariance(self, points_a_mm: ArrayLike, points_b_mm: ArrayLike) -> FloatArray:
        """Return the posterior covariance of the noise-free surface, (a, b) [°C²]."""

    @abstractmethod
    def leave_one_out(self) -> tuple[FloatArray, FloatArray]:
        """Return what the other places say about each reading: mean and standard deviation, each (n,)
        [°C]."""

    @property
    def leave_one_out_rmse_c(self) -> float:
        """Root mean square of reading minus what the other places say [°C]."""
        mean_c, _ = self.leave_one_out()
        return float(np.sqrt(np.mean((self.rail_c - mean_c) ** 2)))
