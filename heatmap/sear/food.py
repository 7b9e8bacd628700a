"""The piece of food, and how warm it is through its thickness when it comes to the rails."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from heatmap.grill.grill import Grill
from heatmap.physics.beef import RIBEYE, Composition, conductivity
from heatmap.sear.evaporation import evaporation_flux
from heatmap.sear.limits import check_limits
from heatmap.units import Units

# A still low oven or smoker at 120-150 °C: natural convection 5-15 and radiation 4 ε σ T³ of 7-9 W/(m² K),
# Incropera et al. (2007), table 1.1 and eq. 1.9. The face is moist, not wet: half of open water is assumed,
# and the profile that follows carries a spread of a third (see heatmap.sear.runs).
COOKER_CONVECTION_W_M2K = 12.0
COOKER_RADIATION_W_M2K = 8.0
COOKER_WETNESS = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Food:
    """A piece of food just before the sear.

    Attributes
    ----------
    thickness_mm : float
        Through the part that matters, where the centre is read; 5 to 120.
    start_centre_c : float
        Centre reading before the sear [°C].
    cooker_c : float or None
        Temperature of the low oven it comes straight out of [°C]; None for food warmed evenly through.
    composition : Composition
        What it is made of; rib eye when not given.
    thickness_sd_mm, start_sd_c : float
        Standard deviation of the thickness (1/32 in when not given) and of the centre reading (2 °F; both common
        practice, no source).
    units : {"us", "si"}
        What the cook reads, for the words of errors.
    """

    thickness_mm: float
    start_centre_c: float
    cooker_c: float | None = None
    composition: Composition = RIBEYE
    thickness_sd_mm: float = 0.8
    start_sd_c: float = 1.1
    units: Units = "si"

    def __post_init__(self) -> None:
        """Refuse what no piece of food can be."""
        check_limits("the thickness", self.thickness_mm, self.units)
        check_limits("the start of thawed food", self.start_centre_c, self.units)
        if self.cooker_c is not None:
            check_limits("the cooker", self.cooker_c, self.units, start_c=self.start_centre_c)

    @classmethod
    def of(cls, grill: Grill) -> Food:
        """Return the piece that goes on a grill; what was not said of it is as is usual."""
        said = grill.piece
        assert said.thickness_mm is not None and said.start_c is not None
        cooker_c = None if isinstance(said.cooker_c, str) else said.cooker_c
        return cls(thickness_mm=said.thickness_mm, start_centre_c=said.start_c, cooker_c=cooker_c, units=grill.units)

    @property
    def start_face_rise_c(self) -> float:
        """How much warmer the faces are than the centre after slow heating [°C].

        Slow heating leaves a parabola, with the face q L/(2k) above the centre at half thickness L; the
        flux q is what the oven gives the face less what the moist face evaporates (Carslaw and Jaeger 1959,
        section 3.8, late times). Zero when no cooker is given.
        """
        cooker_c = self.start_centre_c if self.cooker_c is None else self.cooker_c
        half_m = self.thickness_mm / 2000.0
        per_flux = half_m / (2.0 * float(conductivity(self.composition, self.start_centre_c)))
        rise_c = np.linspace(0.0, cooker_c - self.start_centre_c, 2001)
        dry = (COOKER_CONVECTION_W_M2K + COOKER_RADIATION_W_M2K) * (cooker_c - self.start_centre_c - rise_c)
        wet = evaporation_flux(self.start_centre_c + rise_c, 25.0, COOKER_WETNESS * COOKER_CONVECTION_W_M2K)
        return float(np.interp(0.0, rise_c - (dry - wet) * per_flux, rise_c))
