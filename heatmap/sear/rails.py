"""The rails as the food meets them: how hot, how much of the face they touch, and how they recover."""

from __future__ import annotations

import math
from dataclasses import dataclass

from heatmap.grill.grill import Grill
from heatmap.sear.limits import check_limits
from heatmap.units import Units

# Grey cast iron, Holman, *Heat Transfer*, table A-2 (from memory): ρ 7272 kg/m³, c 420 J/(kg K). Stainless
# and carbon steel store 3.8 to 4.4 MJ/(m³ K), some 30 % more.
CAST_IRON_J_M3K = 7272.0 * 420.0
CAST_IRON_W_MK = 52.0  # the same table
# A bar at 300 °C over a fire: radiation 4 ε σ T³ of about 25 and convection about 15 W/(m² K); assumed,
# within a factor of two either way.
BAR_FILM_W_M2K = 40.0
RECOVERY_FACTOR = 2.0
COVERED_MM = 150.0  # of a rail under a steak of 7.5 by 5 in, whichever way it lies
BACK_WITHIN_C = 10.0 / 1.8  # rails as good as back


@dataclass(frozen=True, slots=True, kw_only=True)
class Rails:
    """The rails under one piece of food.

    Attributes
    ----------
    rail_c : float
        Mean true rail temperature under the footprint before the food lands [°C].
    own_std_c, shared_std_c : float
        Its standard deviation at this place alone, and the part that is the same for every place.
    share : float
        Share of the face that touches rail, the rail top over the pitch.
    pitch_mm, height_mm : float
        Distance from rail to rail and height of a rail [mm].
    air_c : float
        Air around the grill and where the food rests [°C].
    crossed : bool
        Whether the second turn on a face is at another heading, so that its rails cross the first marks.
    fresh : bool
        Whether every turn is set on rails that have recovered, or on the same ones again.
    keeps_juice : bool
        Whether the juice stays on it, as on a solid plate, or drips.
    units : {"us", "si"}
        What the cook reads, for the words of errors.
    """

    rail_c: float
    own_std_c: float = 0.0
    shared_std_c: float = 0.0
    share: float = 1.0 / 3.0
    pitch_mm: float = 19.05
    height_mm: float = 12.7
    air_c: float = 24.0
    crossed: bool = True
    fresh: bool = True
    keeps_juice: bool = False
    units: Units = "si"

    def __post_init__(self) -> None:
        """Refuse rails that cannot sear."""
        check_limits("the rail temperature", self.rail_c, self.units)
        check_limits("the share of the face on rail", self.share, self.units)
        check_limits("the air", self.air_c, self.units)

    @classmethod
    def of(cls, grill: Grill, rail_c: float) -> Rails:
        """Return the rails of a grill at this temperature, known exactly, each heading on rails that have recovered."""
        grate = grill.grate
        return cls(
            rail_c=rail_c,
            share=grate.rail_top_mm / grate.rail_pitch_mm,
            pitch_mm=grate.rail_pitch_mm,
            height_mm=max(grate.rail_height_mm, 1.0),
            air_c=grill.surroundings.air_c,
            keeps_juice=grate.surface == "plate",
            units=grill.units,
        )

    @property
    def std_c(self) -> float:
        """Standard deviation of `rail_c`, both parts together [°C]."""
        return math.hypot(self.own_std_c, self.shared_std_c)

    @property
    def heat_capacity_j_m2k(self) -> float:
        """Heat stored in a bar of rectangular section, per area of its top and kelvin."""
        return CAST_IRON_J_M3K * self.height_mm / 1000.0

    @property
    def recovery_time_constant_s(self) -> float:
        """Time in which a cooled rail makes good 63 % of what it lost.

        By its film alone, three sides in air, that is ρ c A/(h P); it is less, since the iron beyond the food feeds it
        too. Of a fin without end cooled over a length L, the mean drop is 1 - (1 - e^(-mL))/(mL) of what the film
        alone would leave, m² = h P/(k A) (Incropera et al. 2007, section 3.6.2). A plate has one side in air and is
        fed from all around: that share twice.
        """
        plate = self.share >= 1.0
        width_mm = self.share * self.pitch_mm
        film_w_mk = BAR_FILM_W_M2K * (width_mm if plate else width_mm + 2.0 * self.height_mm) / 1000.0
        area_m2 = width_mm * self.height_mm / 1e6
        reach = math.sqrt(film_w_mk / (CAST_IRON_W_MK * area_m2)) * COVERED_MM / 1000.0
        left = 1.0 - (1.0 - math.exp(-reach)) / reach
        return CAST_IRON_J_M3K * area_m2 / film_w_mk * (left**2 if plate else left)

    def recovery_s(self, drop_c: float) -> tuple[float, float]:
        """Return the least and the most seconds until rails that were cooled by so much are back to within 10 °F.

        An exponential return with the time constant of the bar; the range is a factor of two either way, since the
        fire's strength is not known.
        """
        wait_s = self.recovery_time_constant_s * math.log(max(drop_c / BACK_WITHIN_C, 1.0))
        return wait_s / RECOVERY_FACTOR, wait_s * RECOVERY_FACTOR
