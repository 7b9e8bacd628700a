"""What nobody knows exactly about a sear, how much of it is known, and what a test piece teaches.

Each unknown is written as its middle value and a normal deviate z of its spread, so that beliefs about all
of them are one normal distribution: before any test piece independent with mean 0 and variance 1.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from heatmap.units import FloatArray

#: What is the same for every piece on a day: its value at a normal deviate z of how well it is known.
UNKNOWNS: dict[str, Callable[[FloatArray], FloatArray]] = {
    # Conductance between grate and food, as a factor. Reaches 650 W/(m² K), the most between two plates (Wichchukit,
    # Zorrilla and Singh 2001), at 97 %, and as far down; older work gives 200-1200 (Houšová and Topinka 1985); how much
    # of the face truly touches is not known to better than a third.
    "conductance": lambda z: np.exp(0.50 * z),
    # Conductivity of the meat against the component equations, as a factor. Measured over computed for beef: 0.96
    # (lean, Çengel table A-7), 0.90 and 0.83 (round and chuck, ASHRAE, Dickerson and Read 1975), 0.74-0.91 (ground, Pan
    # and Singh 2001).
    "conductivity": lambda z: 0.93 * np.exp(0.08 * z),
    # Rise from centre to face before the sear, as a factor. Assumed: how dry the face became and how long the food
    # stood are not known.
    "start profile": lambda z: np.exp(0.35 * z),
    # Heat that faces in the air lose, as a factor. Still air gives 2-25 W/(m² K) (Incropera et al. 2007, table 1.1),
    # radiation adds 6-8; how wet the face still is is assumed.
    "losses": lambda z: np.exp(0.40 * z),
    # How far the air over the grate is warmer, as a share of rails less air. Assumed: the face away from the rails sees
    # hot gas that rises past the food, and open sky or lid.
    "plume": lambda z: 0.15 + 0.07 * z,
    # Error of the rail temperature that all places share, in its standard deviations: the map tells them.
    "rails together": lambda z: z,
    # What the computation leaves out, as a factor on the rise of the centre. 0.08 is the root mean square over two
    # trials between plates whose thickness and time are told, rows TR-01 and TR-02 of
    # tests/reference/contact_cooking_trials.csv; none on rails was found; kept apart from the inputs as Kennedy and
    # O'Hagan advise (Journal of the Royal Statistical Society B 63 (2001), 425-464).
    "left out": lambda z: np.exp(0.09 * z),
}


def values_at(deviates: FloatArray) -> dict[str, FloatArray]:
    """Return each unknown, by its name, at normal deviates (..., 7), (...); what comes after those is passed over."""
    by_unknown = np.moveaxis(deviates, -1, 0)
    return {name: value(deviate) for (name, value), deviate in zip(UNKNOWNS.items(), by_unknown, strict=False)}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Beliefs:
    """What is held about the unknowns, as a normal distribution of their deviates.

    When nothing is given: what published work and plain assumptions say.

    Attributes
    ----------
    mean : ndarray, shape (7,)
        In the order of `UNKNOWNS`.
    covariance : ndarray, shape (7, 7)
        Symmetric.
    """

    mean: FloatArray = field(default_factory=lambda: np.zeros(len(UNKNOWNS)))
    covariance: FloatArray = field(default_factory=lambda: np.eye(len(UNKNOWNS)))

    @property
    def directions(self) -> FloatArray:
        """Directions of independent unit deviates, one per column; shape (7, 7).

        The symmetric root of the covariance: the only one that does not hang on how equal variances are told apart.
        """
        variances, axes = np.linalg.eigh(self.covariance)
        return np.asarray((axes * np.sqrt(np.maximum(variances, 0.0))) @ axes.T, float)
