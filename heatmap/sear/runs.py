"""What nobody knows exactly of a sear; from food, rails and that to one batch of the transient, and the peak it gives.

Each unknown is written as its middle value and a normal deviate z of its spread, so that beliefs about all
of them are one normal distribution: before any test piece independent with mean 0 and variance 1.
"""

import itertools
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from heatmap.errors import InputError
from heatmap.physics import beef
from heatmap.physics.planck import STEFAN_BOLTZMANN
from heatmap.sear.evaporation import FRONT_C
from heatmap.sear.food import Food
from heatmap.sear.rails import Rails
from heatmap.sear.transient import Pieces, Seared, sear
from heatmap.sear.tuning import CONTACT_W_M2K
from heatmap.units import ArrayLike, BoolArray, FloatArray, k_from_c

# Valley to face: radiation between grey parallel faces of emissivity 0.95 (oxidised iron, moist meat), and
# hot gas in the gap at 12 W/(m² K), within the 2-25 of free convection in gases (Incropera et al. 2007,
# table 1.1).
VALLEY_EMISSIVITY = 1.0 / (1.0 / 0.95 + 1.0 / 0.95 - 1.0)
VALLEY_CONVECTION_W_M2K = 12.0
# A face in the air: free convection 6 and radiation 4 ε σ T³ of 6 W/(m² K); after the first turn it is
# mostly dry.
AIR_W_M2K = 12.0
AIR_WETNESS = 0.1  # assumed, see the unknown losses for its spread
REACH = 1.6449  # one-sided 95 % of a normal: low and high hold 90 %


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


def as_believed(beliefs: Beliefs) -> FloatArray:
    """Return the case of a piece exactly as described and believed, (10,).

    A case holds the deviates of what all pieces share, in the order of `UNKNOWNS`, and then how far a piece departs in
    what is its own: its rails [°C], its thickness [mm] and its start [°C].
    """
    return np.append(beliefs.mean, np.zeros(3))


def one_std(food: Food, rails: Rails, beliefs: Beliefs) -> FloatArray:
    """Return what one standard deviation adds to a case, of everything that is independent by itself, (10, 10).

    First what all pieces share, along the directions of what is believed, then a piece's own rails, thickness, start.
    """
    moved = np.diag([*np.zeros(len(beliefs.mean)), rails.own_std_c, food.thickness_sd_mm, food.start_sd_c])
    moved[:-3, :-3] = beliefs.directions.T
    return moved


def sides_of(turns: int, sides: str) -> str:
    """Return the face of each turn: ``"AABB"`` one side, then the other, ``"ABAB"`` flipped every turn."""
    if not 1 <= turns <= 12:
        raise InputError(f"turns is {turns}; it must be from 1 to 12")
    if sides not in ("AABB", "ABAB"):
        raise InputError(f"sides is {sides!r}; it must be AABB (one side, then the other) or ABAB (flip every turn)")
    first = turns - turns // 2
    return "A" * first + "B" * (turns // 2) if sides == "AABB" else ("AB" * turns)[:turns]


def run(food: Food, rails: Rails, cases: FloatArray, seconds: ArrayLike, faces: str) -> Seared:
    """Return what comes of cases (S, 10), with seconds for every turn, (turns,), (S, 1) or (S, turns).

    The rise of the centre is scaled by what the computation leaves out.
    """
    seared = sear(pieces_of(food, rails, cases, seconds, faces))
    start = food.start_centre_c + cases[:, -1]
    factor = values_at(cases)["left out"]
    return replace(
        seared,
        pull_centre_c=start + factor * (seared.pull_centre_c - start),
        peak_centre_c=start + factor * (seared.peak_centre_c - start),
    )


def effective_conductance(rails: Rails, beliefs: Beliefs) -> float:
    """Return the conductance between grate and outer face that is likeliest, mean over the face [W/(m² K)]."""
    factor = float(values_at(beliefs.mean)["conductance"])
    valley = float(_valley_conductance(np.array(rails.rail_c)))
    return factor * (rails.share * CONTACT_W_M2K + (1.0 - rails.share) * valley)


def pieces_of(food: Food, rails: Rails, cases: FloatArray, seconds: ArrayLike, faces: str) -> Pieces:
    """Return the batch of these cases; arguments as for :func:`run`."""
    value, (own_rail_c, own_thickness_mm, own_start_c) = values_at(cases[:, None]), cases.T[-3:, :, None]
    mix, warm_c = food.composition, 60.0  # density and specific heat change by 1 to 2 % between 40 and 80 °C
    density = float(beef.density(mix, warm_c))
    rail_c = rails.rail_c + own_rail_c + rails.shared_std_c * value["rails together"]
    rail_c = np.maximum(rail_c, FRONT_C + 1.0)
    at = np.array([0.0, 50.0, 100.0])  # a0, a1, a2 of the mixture's through these; within 0.1 % between
    of_mixture = np.polynomial.polynomial.polyfit(at, beef.conductivity(mix, at), 2)
    conductivity = of_mixture[:, None, None] * value["conductivity"]
    heat_capacity = density * float(beef.specific_heat(mix, warm_c))
    factor = value["conductance"]
    start_rise = food.start_face_rise_c * value["start profile"]
    share, on_rail = _patches(rails, faces)
    lean = 1.0 - mix.shares[2]  # fat lets go no juice
    diffusivity = conductivity[0] / heat_capacity
    return Pieces(
        thickness_m=np.maximum(food.thickness_mm + own_thickness_mm, 1.0) / 1000.0,
        heat_capacity=heat_capacity,
        drying_heat_j_m3=density * mix.shares[0] * beef.LATENT_HEAT_J_KG,
        crust_conductivity=beef.crust_conductivity(mix),
        crust_capacity=density * beef.dry_specific_heat(mix),
        conductivity=conductivity,
        centre_c=food.start_centre_c + own_start_c,
        face_rise_c=np.minimum(start_rise, FRONT_C - 1.0 - food.start_centre_c),
        rails=rails,
        rail_c=rail_c,
        plume_c=rails.air_c + np.clip(value["plume"], 0.0, 1.0) * (rail_c - rails.air_c),
        contact_w_m2k=CONTACT_W_M2K * factor,
        valley_w_m2k=_valley_conductance(rail_c) * factor,
        air_w_m2k=AIR_W_M2K * value["losses"],
        wetness=AIR_WETNESS,
        juice_j_m3=density * lean * beef.LATENT_HEAT_J_KG * rails.keeps_juice,
        sideways_1_s=diffusivity * (2000.0 * np.pi / rails.pitch_mm) ** 2,
        share=np.tile(share, (len(cases), 1)),
        seconds=np.broadcast_to(seconds, (len(cases), len(faces))),
        on_rail=on_rail,
        faces=faces,
    )


def _valley_conductance(rail_c: FloatArray) -> FloatArray:
    hot, face = k_from_c(rail_c), k_from_c(FRONT_C)
    radiation = VALLEY_EMISSIVITY * STEFAN_BOLTZMANN * (hot**2 + face**2) * (hot + face)
    return np.asarray(radiation + VALLEY_CONVECTION_W_M2K, float)


def _patches(rails: Rails, faces: str) -> tuple[FloatArray, BoolArray]:
    """Return the share of every patch and whether it lies on a rail in every turn."""
    headings = 2 if rails.crossed else 1
    lies_on_rail = np.array(list(itertools.product([True, False], repeat=headings)))
    shares = np.where(lies_on_rail, rails.share, 1.0 - rails.share).prod(axis=1)
    return shares, lies_on_rail[:, [faces[:turn].count(face) % headings for turn, face in enumerate(faces)]]
