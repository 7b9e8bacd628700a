"""How many seconds a turn, for the centre that is asked."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from heatmap.errors import InputError
from heatmap.grill.grill import Grill
from heatmap.sear.food import Food
from heatmap.sear.limits import check_limits
from heatmap.sear.rails import Rails
from heatmap.sear.runs import REACH, Beliefs, as_believed, effective_conductance, one_std, run, sides_of
from heatmap.sear.tuning import LONGEST_TURN_S
from heatmap.units import FloatArray, quantity_text

_COARSE = np.geomspace(1.0 / 180.0, 1.0, 10)  # of the longest turn
_AROUND = (0.85, 1.0, 1.15)  # of about the seconds: a parabola through their peaks gives them


#: The steps whose worth in seconds is told: 10 °F, 1/8 in, 5 °F [°C or mm]; in the order of
#: :func:`heatmap.sear.runs.one_std`.
TOLD_STEPS = {"rails": 10.0 / 1.8, "thickness": 25.4 / 8.0, "start": 5.0 / 1.8}


@dataclass(frozen=True, slots=True, kw_only=True)
class SearPlan:
    """Seconds for every turn, and what to expect of them.

    Attributes
    ----------
    seconds_per_turn, seconds_low, seconds_high : float
        Seconds of each turn for the target, and the 90 % interval of what it may really take.
    turns : int
        How many turns.
    pull_centre_c : float
        Centre at the end of the last turn [°C].
    peak_centre_c, peak_low_c, peak_high_c : float
        Highest centre in the rest [°C], and its 90 % interval at `seconds_per_turn`.
    rest_s : float
        Seconds from the last turn to the peak.
    effective_conductance_w_m2k : float
        Between grate and outer face, mean over the face.
    crust_on_rail_mm, crust_between_mm : float
        Depth dried past 100 °C on the first face, where rails lay in one turn, and where none ever did.
    browning_s : float
        Seconds of browning heat where a rail lay in one turn: one counts nothing at 140 °C of the outside and whole
        from 165 °C on.
    rail_drop_c : float
        How far one turn cools the rails under the food.
    worth : mapping of (float, float)
        For each of :data:`TOLD_STEPS`: seconds to add to every turn when it is that much more, or that much less.
    """

    seconds_per_turn: float
    seconds_low: float
    seconds_high: float
    turns: int
    pull_centre_c: float
    peak_centre_c: float
    peak_low_c: float
    peak_high_c: float
    rest_s: float
    effective_conductance_w_m2k: float
    crust_on_rail_mm: float
    crust_between_mm: float
    browning_s: float
    rail_drop_c: float
    worth: Mapping[str, tuple[float, float]]

    @property
    def roasts(self) -> bool:
        """Whether few turns on the rails do not suit the piece: they would have to last too long."""
        return self.seconds_per_turn > LONGEST_TURN_S


def plan_sear(
    food: Food,
    rails: Rails,
    *,
    target_centre_c: float,
    turns: int = 4,
    sides: str = "AABB",
    beliefs: Beliefs | None = None,
) -> SearPlan:
    """Say how many seconds each of 1 to 12 turns lasts, so that the centre peaks at the target [°C] in the rest.

    `sides` is ``"AABB"``, one side, then the other, or ``"ABAB"``, flipped every turn; `beliefs` what earlier test
    pieces taught (:func:`heatmap.sear.learn_from_test`), published values when not given. Low and high come from moving
    every input on its own to its 5th and 95th percentile and adding the changes in quadrature, each side for itself
    (JCGM 100:2008, section 5.1.2, with a finite step).

    Raises
    ------
    InputError
        For a target at or below the start or at 95 °C and more, and for one that no seconds reach.
    """
    check_limits("the target", target_centre_c, food.units, start_c=food.start_centre_c)
    known = beliefs or Beliefs()
    faces = sides_of(turns, sides)
    about = _about_seconds(food, rails, target_centre_c, faces, known)
    lengths = about * np.array(_AROUND)
    # All runs of the plan: three lengths of turn, every unknown up and down, the steps told to the cook.
    spread, usual = REACH * one_std(food, rails, known), as_believed(known)
    steps = np.eye(3, len(usual), len(usual) - 3) * np.array([*TOLD_STEPS.values()])[:, None]
    moved = np.concatenate([np.zeros((3, len(usual))), spread, -spread, steps, -steps])
    seconds_of = np.append(lengths, np.full(len(moved) - 3, about))[:, None]
    seared = run(food, rails, usual + moved, seconds_of, faces)
    told = [seared.peak_centre_c, seared.pull_centre_c, seared.peak_after_s, seared.rail_drop_c]
    curves = np.polyfit(lengths, np.stack(told, axis=1)[:3], 2)  # parabolas through the three lengths
    fine = np.linspace(0.7 * lengths[0], 1.3 * lengths[2], 601)
    rising = np.maximum.accumulate(np.polyval(curves[:, 0], fine))
    seconds = float(np.interp(target_centre_c, rising, fine))
    peak, pull, rest_s, rail_drop_c = np.polyval(curves, seconds).tolist()
    changes = seared.peak_centre_c - seared.peak_centre_c[1]
    low, high = one_sided(changes[3:-6])
    rate = float(np.polyval(np.polyder(curves[:, 0]), seconds))
    rise = target_centre_c - food.start_centre_c
    power = rise / (rate * seconds)  # the rise grows as a power of the seconds, about the square root
    crust_mm, once = 1000.0 * seared.crust_m[1, 0], int(rails.crossed)  # where marks cross, patch 0 is on rails twice
    more, less = np.split(-changes[-6:] / rate, 2)
    return SearPlan(
        seconds_per_turn=seconds,
        seconds_low=seconds * max(1.0 - high / rise, 0.0) ** power,
        seconds_high=seconds * (1.0 + low / rise) ** power,
        turns=turns,
        pull_centre_c=pull,
        peak_centre_c=peak,
        peak_low_c=peak - low,
        peak_high_c=peak + high,
        rest_s=rest_s,
        effective_conductance_w_m2k=effective_conductance(rails, known),
        crust_on_rail_mm=float(crust_mm[once]),
        crust_between_mm=float(crust_mm[-1]),
        browning_s=float(seared.browning_s[1, 0, once]),
        rail_drop_c=rail_drop_c,
        worth=dict(zip(TOLD_STEPS, zip(more.tolist(), less.tolist(), strict=True), strict=True)),
    )


@lru_cache(maxsize=4)
def plan_on(grill: Grill, rails: Rails, beliefs: Beliefs | None = None) -> SearPlan:
    """Return the seconds for the food of a grill on these rails.

    Raises
    ------
    InputError
        As :func:`plan_sear`, and where nobody said to what centre: it is never assumed.
    """
    piece = grill.piece
    if piece.target_c is None:
        raise InputError("say which peak of the centre you want, for example: --target 137; it is never assumed")
    assert piece.turns is not None and piece.sides is not None
    how = {"target_centre_c": piece.target_c, "turns": piece.turns, "sides": piece.sides}
    return plan_sear(Food.of(grill), rails, beliefs=beliefs, **how)  # type: ignore[arg-type]


def one_sided(changes: FloatArray) -> tuple[float, float]:
    """Return how far down and up changes lead together: those of each thing moved up, then of each moved down."""
    up, down = np.split(changes, 2)
    lowest = np.minimum(np.minimum(up, down), 0.0)
    highest = np.maximum(np.maximum(up, down), 0.0)
    return float(np.sqrt((lowest**2).sum())), float(np.sqrt((highest**2).sum()))


def _about_seconds(food: Food, rails: Rails, target_c: float, faces: str, beliefs: Beliefs) -> float:
    """Return the seconds that reach the target, to a few percent, from a coarse curve."""
    longest = np.clip(720.0 * (food.thickness_mm / 31.75) ** 1.5 * 4.0 / len(faces), 60.0, 3000.0)
    seconds = longest * _COARSE
    cases = np.tile(as_believed(beliefs), (len(seconds), 1))
    peaks = np.maximum.accumulate(run(food, rails, cases, seconds[:, None], faces).peak_centre_c)
    target, least, most = (
        quantity_text(float(celsius), "temperature", food.units) for celsius in (target_c, peaks[0], peaks[-1])
    )
    if target_c <= peaks[0]:
        raise InputError(
            f"the target is {target}; out of the cooker the centre rises to about {least} "
            "with hardly any sear: start the sear colder or ask for more"
        )
    if target_c >= peaks[-1]:
        raise InputError(
            f"the target is {target}; {len(faces)} turns of {seconds[-1]:.0f} s bring the centre to about {most} only: "
            "start the sear warmer, use more turns, or ask for less"
        )
    return float(np.exp(np.interp(target_c, peaks, np.log(seconds))))
