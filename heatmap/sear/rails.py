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
# A plate at 200 °C: only its top is in the air, radiation about 15 and convection about 10; a steady flame or coil
# gives what it gave. Assumed, with the skillets of tests/reference/contact_cooking_trials.csv in view.
PLATE_FILM_W_M2K = 25.0
RECOVERY_FACTOR = 2.0
LEAST_BESIDE = 0.05  # a plate no larger than the food has a rim
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
    covered_mm, plate_mm : float
        Sides of squares as large as the food, and as the plate under it where there are no bars.
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
    covered_mm: float = 150.0  # a steak of 7.5 by 5 in, whichever way it lies
    plate_mm: float = 450.0
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
        check_limits("what the food covers", self.covered_mm, self.units)
        check_limits("the plate", self.plate_mm, self.units)

    @classmethod
    def of(cls, grill: Grill, rail_c: float) -> Rails:
        """Return the rails of a grill at this temperature, known exactly, each heading on rails that have recovered."""
        grate, size_mm = grill.grate, grill.piece.size_mm
        assert size_mm is not None
        return cls(
            rail_c=rail_c,
            share=grate.rail_top_mm / grate.rail_pitch_mm,
            pitch_mm=grate.rail_pitch_mm,
            height_mm=max(grate.rail_height_mm, 1.0),
            covered_mm=math.sqrt(math.prod(size_mm)),
            plate_mm=math.sqrt(grate.width_mm * grate.depth_mm * (0.25 * math.pi if grate.is_round else 1.0)),
            air_c=grill.surroundings.air_c,
            keeps_juice=grate.surface == "plate",
            units=grill.units,
        )

    @property
    def is_plate(self) -> bool:
        """Whether the food lies on one plate instead of on bars."""
        return self.share >= 1.0

    @property
    def iron_beside(self) -> float:
        """How much iron is beside the food, per iron under it; without end for bars, which lie in the fire."""
        return max((self.plate_mm / self.covered_mm) ** 2 - 1.0, LEAST_BESIDE) if self.is_plate else math.inf

    @property
    def heat_capacity_j_m2k(self) -> float:
        """Heat stored in a bar of rectangular section, per area of its top and kelvin."""
        return CAST_IRON_J_M3K * self.height_mm / 1000.0

    @property
    def fire_time_constant_s(self) -> float:
        """Time in which its film alone makes good 63 % of what it lost, ρ c A/(h P): three sides in air, or one."""
        if self.is_plate:
            return self.heat_capacity_j_m2k / PLATE_FILM_W_M2K
        width_mm = self.share * self.pitch_mm
        return self.heat_capacity_j_m2k * width_mm / (BAR_FILM_W_M2K * (width_mm + 2.0 * self.height_mm))

    @property
    def conduction_time_constant_s(self) -> float:
        """Time in which the iron beside the food, if it stayed as hot, would make good 63 % alone.

        Of a fin without end cooled over a length L, the mean drop is 1 - (1 - e^(-mL))/(mL) of what the film alone
        would leave, m² = h P/(k A) (Incropera et al. 2007, section 3.6.2). A plate is a disc that heat leaves evenly,
        in a ring that gives it evenly: from the mean of the one to that of the other, ∇²T being constant in each.
        """
        length_m = self.covered_mm / 1000.0
        diffusivity = CAST_IRON_W_MK / CAST_IRON_J_M3K
        if not self.is_plate:
            reach = length_m / math.sqrt(diffusivity * self.fire_time_constant_s)
            kept = -math.expm1(-reach) / reach
            return self.fire_time_constant_s * (1.0 - kept) / kept
        ring, whole = self.iron_beside, 1.0 + self.iron_beside  # areas over that of the disc
        resistance = 0.25 + 0.5 * (whole / ring) ** 2 * math.log(whole) - (3.0 * whole - 1.0) / (4.0 * ring)
        return length_m**2 / (2.0 * math.pi * diffusivity) * resistance

    @property
    def recovery_time_constant_s(self) -> float:
        """Mean time in which a cooled rail comes back: by the fire, and by the iron beside it, which cools too."""
        fire_1_s, conduction_1_s = 1.0 / self.fire_time_constant_s, 1.0 / self.conduction_time_constant_s
        left = 1.0 / (1.0 + self.iron_beside)  # of the drop, once all iron is alike
        return left / fire_1_s + (1.0 - left) / (fire_1_s + conduction_1_s * (1.0 + 1.0 / self.iron_beside))

    def recovery_s(self, drop_c: float) -> tuple[float, float]:
        """Return the least and the most seconds until rails that were cooled by so much are back to within 10 °F.

        An exponential return with the time constant of the bar; the range is a factor of two either way, since the
        fire's strength is not known.
        """
        wait_s = self.recovery_time_constant_s * math.log(max(drop_c / BACK_WITHIN_C, 1.0))
        return wait_s / RECOVERY_FACTOR, wait_s * RECOVERY_FACTOR
