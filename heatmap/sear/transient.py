"""Many pieces of food at once, heated through their thickness on hot rails turn by turn, and rested.

The moist inside conducts with properties that follow its temperature. A face that reaches the boiling point
stays there: what more heat arrives dries a growing crust from the face inwards, and the wet front recedes.
The crust passes heat in proportion to the temperature across it, and gives what it stored to the food when
that leaves the grate. That is the scheme of Vijayan and Singh (1997) for frying, with the sharp front seen
by Ni and Datta (1999). That a wet face in contact stays at or under 100 °C, whatever the plate between 160
and 260 °C, was measured by Cernela et al. (2015).

Juice runs out as the meat warms: what meat of that temperature lets go in the end, at once. From rails it
drips. A plate that keeps it boils it off beside the food: that takes heat as the food does, through the same
conductance, from as much of the plate, and reaches the food only through the iron.

Rails touch only part of a face, so every piece is cut into patches: those that lie on a rail and those over a
valley, in the first heading and in the second. Each patch is a column of its own. Neighbouring patches
exchange heat sideways at the rate at which a striped pattern of that pitch fades, α (2π/pitch)², which
leaves the mean over the face as it is.

References
----------
J. Vijayan and R. P. Singh, "Heat transfer during immersion frying of frozen foods", *Journal of Food
Engineering* 34 (1997), 293-314.

H. Ni and A. K. Datta, "Moisture, oil and energy transport during deep-fat frying of food materials",
*Transactions of the Institution of Chemical Engineers* 77 C (1999), 194-204.

J. Cernela et al., "Experimental study of heat and mass transfer phenomena during the contact heating of
solid food models", *Journal of Food Engineering* 146 (2015), 99-106.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from heatmap.physics.beef import juice_let_go
from heatmap.sear.evaporation import FRONT_C, evaporation_flux
from heatmap.sear.rails import Rails
from heatmap.units import BoolArray, FloatArray

# A dry face begins to brown at the first and browns within a minute at the second, as food writers have it (285 and
# 330 °F; common practice, no source). A sharp edge between them would double the seconds within 15 °F of rail, where
# marks that lie over a valley in the second turn are just about that hot.
BROWNING_BEGINS_C, BROWNING_WHOLE_C = 140.0, 165.0

# Resolution. The tests hold the peak within 0.2 °C of a run twelve times as fine.
CELLS = 25
STEPS_PER_TURN = 12
DRIEST = 0.3  # share of the thickness that stays moist whatever happens; beyond it the food is charcoal
LIFT_S = 3.0  # both faces in the air while the food is lifted and set down again; assumed
REST_STEPS = 22
REST_FOURIER = 0.09  # the rest is followed for this much α t/d²: 11 min for 1.25 in, four times that for twice it
EVENNESS = 0.6  # 1: equal cells, 0: crowded towards the faces like Chebyshev points

# Two-stage, second-order, L-stable: Alexander, SIAM Journal on Numerical Analysis 14 (1977), 1006-1021,
# theorem 5
_GAMMA = 1.0 - 1.0 / np.sqrt(2.0)
_AHEAD = (1.0 - _GAMMA) / _GAMMA  # from the start to where the second stage starts, in slopes of the first

_FACES = {"A": (0,), "B": (1,), "C": (0, 1)}
_OUTERMOST = [0, -1]  # cells, at face A and at face B

#: What each piece has, (S, 1), or a number where all are alike.
Each: TypeAlias = "FloatArray | float"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pieces:
    """One batch: S pieces of food, each cut into Z patches, through M turns. SI units and °C.

    Attributes
    ----------
    thickness_m, heat_capacity, drying_heat_j_m3, crust_conductivity, crust_capacity : Each
        Thickness, ρ c of the moist food [J/(m³ K)], heat that dries it [J/m³], conductivity and ρ c of
        its crust.
    conductivity : ndarray, shape (3, S, 1)
        Of the moist food: a0 + a1 T + a2 T² [W/(m K)], T in °C.
    centre_c, face_rise_c : Each
        Start: the centre, and how much warmer both faces are, with a parabola between.
    rails : Rails
        How the iron stores heat and recovers, whether every turn finds it recovered, and the air.
    rail_c, plume_c : Each
        Rails before the food lands, and what the face away from them sees over the grate.
    contact_w_m2k, valley_w_m2k, air_w_m2k : Each
        Conductance from a rail to the face on it, from the grate to the face over a valley, and of a face
        in air.
    wetness : Each
        How much a face in air evaporates, 0 for a dry one to 1 for open water.
    juice_j_m3 : Each
        Heat that would boil off the raw food's own mass as juice, on the grate [J/m³]; 0 where it drips.
    sideways_1_s : Each
        Rate at which differences between patches fade.
    share : ndarray, shape (S, Z)
        Share of the face that each patch has; adds up to 1.
    seconds : ndarray, shape (S, M)
        Length of each turn.
    on_rail : ndarray of bool, shape (Z, M)
        Whether a patch lies on a rail in a turn.
    faces : str of length M
        ``"A"`` or ``"B"``, the face that lies on the rails in a turn; ``"C"`` for both, between two plates alike.
    """

    thickness_m: Each
    heat_capacity: Each
    drying_heat_j_m3: Each
    crust_conductivity: Each
    crust_capacity: Each
    conductivity: FloatArray
    centre_c: Each
    face_rise_c: Each
    rails: Rails
    rail_c: Each
    plume_c: Each
    contact_w_m2k: Each
    valley_w_m2k: Each
    air_w_m2k: Each
    wetness: Each
    juice_j_m3: Each
    sideways_1_s: Each
    share: FloatArray
    seconds: FloatArray
    on_rail: BoolArray
    faces: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seared:
    """What came of a batch.

    Attributes
    ----------
    pull_centre_c, peak_centre_c, peak_after_s : ndarray, shape (S,)
        Centre at the end of the last turn, its highest value in the rest, and how long that takes.
    crust_m, browning_s : ndarray, shape (S, 2, Z)
        Depth dried and seconds of browning heat, by face (A, B) and patch.
    rail_drop_c : ndarray, shape (S,)
        How far the last turn cooled the rails.
    """

    pull_centre_c: FloatArray
    peak_centre_c: FloatArray
    peak_after_s: FloatArray
    crust_m: FloatArray
    browning_s: FloatArray
    rail_drop_c: FloatArray


def sear(pieces: Pieces) -> Seared:
    """Take a batch of pieces through their turns and their rest.

    Parameters
    ----------
    pieces : Pieces
        S pieces; nothing in it is changed.

    Returns
    -------
    Seared
        Arrays over the S pieces.
    """
    columns = _Columns(pieces)
    growth = np.arange(STEPS_PER_TURN + 1.0) ** 2.0 / STEPS_PER_TURN**2  # short steps while the face heats
    for turn, face in enumerate(pieces.faces):
        columns.land(turn, *_FACES[face])
        for part in np.diff(growth):
            columns.step(pieces.seconds[:, turn, None] * part, *_FACES[face])
        columns.lift(*_FACES[face])
        if turn + 1 < len(pieces.faces):
            columns.step(LIFT_S / 2.0)
            columns.step(LIFT_S / 2.0)
    pull = columns.centre()
    drop = columns.mean(columns.touching * (pieces.rail_c - columns.under))
    rail_drop = drop / np.maximum(columns.mean(columns.touching), 1e-12)
    columns.surroundings = pieces.rails.air_c
    centres = [pull]
    lasts = REST_FOURIER * pieces.thickness_m**2 * pieces.heat_capacity / pieces.conductivity[0]
    for part in np.diff((np.arange(REST_STEPS + 1.0) / REST_STEPS) ** 1.5):
        columns.step(lasts * part)
        centres.append(columns.centre())
    peak, row = _highest(np.array(centres))
    return Seared(
        pull_centre_c=pull,
        peak_centre_c=peak,
        peak_after_s=lasts[:, 0] * (row / REST_STEPS) ** 1.5,
        crust_m=np.moveaxis(columns.crust, 0, 1),
        browning_s=np.moveaxis(columns.browning, 0, 1),
        rail_drop_c=rail_drop,
    )


def browning_share(outside_c: FloatArray) -> FloatArray:
    """Return how much of a second at this temperature counts as browning heat: from 0 to 1, without a jump."""
    return np.clip((outside_c - BROWNING_BEGINS_C) / (BROWNING_WHOLE_C - BROWNING_BEGINS_C), 0.0, 1.0)


def _highest(values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the top of the parabola through the highest row and its neighbours, and at which row, per column."""
    middle = np.clip(values.argmax(axis=0), 1, len(values) - 2)
    before, at, after = values[middle + np.array([[-1], [0], [1]]), np.arange(values.shape[1])]
    slope, bend = 0.5 * (after - before), np.minimum(before - 2.0 * at + after, -1e-12)
    ahead = np.clip(-slope / bend, -1.0, 1.0)
    return at + ahead * (slope + 0.5 * bend * ahead), middle + ahead


class _Columns:
    """All columns, pieces times patches, while a batch runs. Arrays are (cells, S, Z) or (S, Z)."""

    def __init__(self, pieces: Pieces) -> None:
        self.pieces, shape = pieces, pieces.share.shape
        even = np.arange(CELLS + 1) / CELLS
        self.edges = EVENNESS * even + (1.0 - EVENNESS) * 0.5 * (1.0 - np.cos(np.pi * even))
        self.places = 0.5 * (self.edges[1:] + self.edges[:-1])
        self.spans = np.diff(self.edges)[:, None, None]
        # conductances between cells weigh the two halves; temperatures at an edge weigh by nearness
        self.inner_weight = self.spans[:-1] / (self.spans[:-1] + self.spans[1:])
        self.surroundings = self.pieces.plume_c
        parabola = np.diff((2.0 * self.edges - 1.0) ** 3 / 6.0)[:, None, None] / self.spans  # mean over each cell
        self.celsius = pieces.centre_c + pieces.face_rise_c * parabola + np.zeros((CELLS, *shape))
        self.crust, self.browning = np.zeros((2, *shape)), np.zeros((2, *shape))
        self.under = np.broadcast_to(pieces.rail_c, shape)  # the rail, or the valley, now under each column
        self.beside = self.under  # the iron beside the food
        self.let_go = np.zeros_like(self.celsius)  # share of every cell's mass that ran out as juice
        self.juice = np.zeros(shape)  # J/m² that would boil off what of it lies on the grate
        self.touching = np.zeros(shape[1], bool)
        self.attached = np.zeros((2, *shape))  # J/(m² K) of crust that goes with the outermost moist cell, in the air
        self.outside = self.celsius[_OUTERMOST]  # each outer face, last on the grate

    def mean(self, per_column: FloatArray | BoolArray) -> FloatArray:
        """Return the mean over the face, shape (S,)."""
        return np.asarray((per_column * self.pieces.share).sum(axis=1), float)

    def centre(self) -> FloatArray:
        """Return the temperature half way through the food as it came, mean over the patches, shape (S,)."""
        moist = self.pieces.thickness_m - self.crust.sum(axis=0)
        place = np.clip((0.5 * self.pieces.thickness_m - self.crust[0]) / moist, 0.0, 1.0)
        # parabola through the three cells about the place
        middle = np.clip(np.searchsorted(self.edges, place) - 1, 1, CELLS - 2)
        near = middle + np.array([-1, 0, 1])[:, None, None]
        x0, x1, x2 = self.places[near]
        t0, t1, t2 = np.take_along_axis(self.celsius, near, axis=0)
        first, second = (t1 - t0) / (x1 - x0), (t2 - t1) / (x2 - x1)
        bend = (second - first) / (x2 - x0)
        return self.mean(t1 + (place - x1) * (first + bend * (place - x0)))

    def land(self, turn: int, *faces: int) -> None:
        """Set the food down on one face or both for its next turn; that crust is then between grate and moist food."""
        for face in faces:
            self.attached[face] = 0.0
        self.touching = self.pieces.on_rail[:, turn]
        if self.pieces.rails.fresh:
            self.under = self.beside = np.broadcast_to(self.pieces.rail_c, self.juice.shape)
            self.juice = np.zeros_like(self.juice)

    def lift(self, *faces: int) -> None:
        """Take the food off the grate: the crust, as hot as the mean of its sides, joins the next cell.

        What would bring that above the boiling point dries more instead; the crust that makes is left out.
        """
        moist = self._widths()[0] * self.pieces.heat_capacity
        for face in faces:
            crust = self.pieces.crust_capacity * self.crust[face]
            hot = 0.5 * (np.maximum(self.outside[face], FRONT_C) + FRONT_C)
            celsius = (moist * self.celsius[-face] + crust * hot) / (moist + crust)
            self.celsius[-face] = np.minimum(celsius, FRONT_C)
            self.attached[face] = crust

    def step(self, seconds: Each, *faces: int) -> None:
        """Go on by some seconds with a face (0 or 1) on the grate, both or none."""
        widths = self._widths()
        first, slope, curve = self.pieces.conductivity
        conductivity = first + self.celsius * (slope + self.celsius * curve)
        half = 0.5 * widths / conductivity  # resistance of half a cell
        links = 1.0 / (half[1:] + half[:-1])
        conductance = np.where(self.touching, self.pieces.contact_w_m2k, self.pieces.valley_w_m2k)
        gain, loss = np.empty((2, *self.crust.shape))
        for side, end in enumerate(1.0 / half[_OUTERMOST]):
            gain[side], loss[side] = self._grate(side, end, conductance) if side in faces else self._open(side, end)
        store = self.pieces.heat_capacity * widths
        store[_OUTERMOST] += self.attached
        celsius, fluxes = self._conduct(seconds, store, links, gain, loss)
        drawn = np.zeros_like(self.juice)
        for face in faces:
            # What leaves the grate is at least what the moist food takes, more where it boils.
            through = 1.0 / (1.0 / conductance + self.crust[face] / self.pieces.crust_conductivity)
            outer = np.maximum(through * (self.under - FRONT_C), fluxes[face])
            celsius = self._dry(seconds, face, outer - fluxes[face], celsius)
            self.outside[face] = self.under - outer / conductance
            self.browning[face] += seconds * browning_share(self.outside[face])
            drawn = outer  # two plates are alike
        self._recover(seconds, drawn, conductance)
        mean = (celsius * self.pieces.share).sum(axis=-1, keepdims=True)
        self.celsius = mean + (celsius - mean) * np.exp(-self.pieces.sideways_1_s * seconds)  # evened sideways

    def _widths(self) -> FloatArray:
        """Return the width of every cell of the moist layer [m], (cells, S, Z)."""
        return np.asarray((self.pieces.thickness_m - self.crust.sum(axis=0)) * self.spans, float)

    def _grate(self, side: int, end: FloatArray, conductance: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return (a, b) of the flux a − b T into the outermost moist cell from the grate, boiling or not."""
        outside = 1.0 / (1.0 / conductance + self.crust[side] / self.pieces.crust_conductivity)
        through = outside * end / (outside + end)
        boiling = (outside * self.under + end * self.celsius[-side]) / (outside + end) >= FRONT_C
        return np.where(boiling, end * FRONT_C, through * self.under), np.where(boiling, end, through)

    def _open(self, side: int, end: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return (a, b) of the flux into the outermost moist cell from air, evaporation made linear."""
        outside = 1.0 / (1.0 / self.pieces.air_w_m2k + self.crust[side] / self.pieces.crust_conductivity)
        face_c = (outside * self.surroundings + end * self.celsius[-side]) / (outside + end)
        # a face above the film's own boundary layer breathes through its crust as well, in the same ratio
        wet_film = self.pieces.wetness * outside
        vapour, warmer = evaporation_flux(np.array([face_c, face_c + 1.0]), self.pieces.rails.air_c, wet_film)
        slope = np.maximum(warmer - vapour, 0.0)
        gain = outside * self.surroundings - vapour + slope * face_c
        loss = outside + slope
        return end * gain / (end + loss), end * loss / (end + loss)

    def _conduct(
        self, seconds: Each, store: FloatArray, links: FloatArray, gain: FloatArray, loss: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return the cells after a step and the fluxes that entered them through both faces, gain − loss T."""
        held = store / (_GAMMA * seconds)
        diagonal = held.copy()
        diagonal[:-1] += links
        diagonal[1:] += links
        diagonal[_OUTERMOST] += loss
        solve = _tridiagonal_solver(diagonal, -links)
        between = links * (self.celsius[1:] - self.celsius[:-1])
        flow = np.zeros_like(store)  # the net heat into every cell
        flow[:-1] += between
        flow[1:] -= between
        flow[_OUTERMOST] += gain - loss * self.celsius[_OUTERMOST]
        # Slopes are γ Δt times the rate. The first stage starts where the step does, the second (1 − γ) of it along the
        # first slope; what flows there follows from the first stage, since all of it is linear in temperature.
        first = solve(flow)
        second = solve(flow + _AHEAD * (held * first - flow))
        mean = (self.celsius + (1.0 - _GAMMA) * 2.0 * first + _GAMMA * second)[_OUTERMOST]
        return self.celsius + _AHEAD * first + second, gain - loss * mean

    def _dry(self, seconds: Each, face: int, excess: FloatArray, celsius: FloatArray) -> FloatArray:
        """Let the front recede by what boiled away, and return the cells of the thinner moist layer."""
        receded = np.maximum(excess, 0.0) * seconds / self.pieces.drying_heat_j_m3
        widths = self._widths()
        # never through the outermost moist cell in one step, nor through the food
        left = self.pieces.thickness_m * (1.0 - DRIEST) - self.crust.sum(axis=0)
        receded = np.minimum(receded, np.minimum(0.8 * widths[0], left.clip(0.0)))
        edges = self.edges[:, None, None]
        swept = receded * ((1.0 - edges) if face == 0 else -edges)
        at_edges = np.full_like(swept, FRONT_C)
        at_edges[1:-1] = celsius[:-1] + self.inner_weight * (celsius[1:] - celsius[:-1])
        swept *= at_edges
        carried = swept[1:] - swept[:-1]
        self.crust[face] += receded
        return np.asarray((widths * celsius + carried) / (widths - receded * self.spans), float)

    def _recover(self, seconds: Each, drawn: FloatArray, conductance: FloatArray) -> None:
        """Let juice run out, the food and the juice that lies on the grate cool the rails, and the fire warm them."""
        let_go = np.maximum(juice_let_go(self.celsius), self.let_go)
        self.juice += self.pieces.juice_j_m3 * ((let_go - self.let_go) * self._widths()).sum(axis=0)
        self.let_go = let_go
        rail, iron = self.pieces.rail_c, self.pieces.rails
        capacity, beside = iron.heat_capacity_j_m2k, iron.iron_beside
        fire, conducted = seconds / iron.fire_time_constant_s, seconds / iron.conduction_time_constant_s
        # Implicit Euler: the iron under the food ends at `own` and a share `along` of what the iron beside it ends at.
        held = 1.0 + fire + conducted
        drop = seconds * np.where(self.touching, drawn, 0.0) / capacity
        own = (self.under + fire * rail - drop) / held
        along = conducted / held
        warmed = self.beside + fire * rail + conducted / beside * own
        kept = 1.0 + fire + conducted / beside * (1.0 - along)
        boils = seconds * conductance / (beside * capacity)  # K per K above the boiling point
        wet = (warmed + boils * FRONT_C) / (kept + boils)
        boiled = np.minimum(self.juice, seconds * conductance * (wet - FRONT_C).clip(0.0))
        self.juice -= boiled
        self.beside = (warmed - boiled / (beside * capacity)) / kept
        self.under = own + along * self.beside


def _tridiagonal_solver(diagonal: FloatArray, beside: FloatArray) -> Callable[[FloatArray], FloatArray]:
    """Return what solves for right-hand sides (n, batch) many symmetric tridiagonal matrices, factored as L D Lᵀ.

    Their diagonals are (n, batch), the neighbours (n - 1, batch). G. H. Golub and C. F. Van Loan, *Matrix Computations*
    (2013), section 4.3.6. In numpy, since the columns are few and importing LAPACK's solver takes longer than a whole
    plan.
    """
    pivots, ratios = diagonal.copy(), np.empty_like(beside)
    for row, off in enumerate(beside):
        ratios[row] = off / pivots[row]
        pivots[row + 1] -= ratios[row] * off

    def solve(right: FloatArray) -> FloatArray:
        result = right.copy()
        for row, ratio in enumerate(ratios):
            result[row + 1] -= ratio * result[row]
        result /= pivots
        for row in range(len(ratios) - 1, -1, -1):
            result[row] -= ratios[row] * result[row + 1]
        return result

    return solve
