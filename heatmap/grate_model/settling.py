"""How long to wait after a knob was turned."""

import math
from collections.abc import Sequence

import numpy as np

from heatmap.grate_model.round_spots import RoundSpots
from heatmap.grill.burner import Burner
from heatmap.units import FloatArray

#: 90 % of a change comes in 8 to 20 min on grates from thin steel to thick iron (common practice, no source): the
#: middle of that and its spread as a logarithm. Coals behind vents take longer.
USUAL_MIN, USUAL_SPREAD = 13.0, 0.35
VENTS_MIN = 25.0
#: A map's mean change between two rounds is no surer than this [°C], its rate no surer than this [°C/min].
_CHANGE_STD_C, _RATE_STD_C_MIN = 4.0, 0.7


def warm_up_minutes(
    rounds: Sequence[RoundSpots], rates_c_min: Sequence[float | None], usual_min: float = USUAL_MIN
) -> float:
    """Return the minutes after which 90 % of a change has come.

    Parameters
    ----------
    rounds : sequence of RoundSpots
        In order of time.
    rates_c_min : sequence of float or None
        How fast the grate rose during each; None where no times tell it.
    usual_min : float
        What is usual.

    Notes
    -----
    What is left decays exponentially: while a surface still drifts at r °C/min and later settles D °C away, its time
    constant is D/r, and 90 % takes ln 10 of them. Every pair of rounds at the same marks in the same session tells one
    such quotient; they are combined with the usual time as normal logarithms.
    """
    weight, total = USUAL_SPREAD**-2, math.log(usual_min) * USUAL_SPREAD**-2
    for before, after, rate in zip(rounds, rounds[1:], rates_c_min, strict=False):
        same = before.group == after.group and dict(before.settings) == dict(after.settings)
        if not same or rate is None or after.taken_at is None:
            continue
        change = float(after.rail_c.mean() - before.rail_c.mean())
        if abs(rate) < 2.0 * _RATE_STD_C_MIN or change * rate <= 0.0:
            continue
        spread = math.hypot(_CHANGE_STD_C / abs(change), _RATE_STD_C_MIN / abs(rate))
        if spread <= 1.0:
            information = max(spread, 0.2) ** -2
            weight += information
            total += math.log(math.log(10.0) * change / rate) * information
    return round(min(max(math.exp(total / weight), 5.0), 45.0))


def usual_minutes(burners: Sequence[Burner]) -> float:
    """Return the minutes after which 90 % of a change has usually come."""
    return VENTS_MIN if any(burner.control == "vents" for burner in burners) else USUAL_MIN


def come_openings(openings: FloatArray, rounds: Sequence[RoundSpots], minutes_to_90: float) -> FloatArray:
    """Return how far each burner's change had come in each round, as an opening (rounds, burners).

    Parameters
    ----------
    openings : ndarray (rounds, burners)
        At the marks of each round, in order of time.
    rounds : sequence of RoundSpots
    minutes_to_90 : float
        Until 90 % of a change has come.

    Notes
    -----
    A knob turned after the last shot of one round, or when it was said to be, had until the middle of the next one;
    without times, or in another session, all of it has come.
    """
    come = np.array(openings, dtype=np.float64)
    for at, (before, after) in enumerate(zip(rounds, rounds[1:], strict=False), start=1):
        if before.last_at is None or after.taken_at is None or before.group[0] != after.group[0]:
            continue
        minutes = max((after.taken_at - (after.turned_at or before.last_at)).total_seconds() / 60.0, 0.0)
        left = math.exp(-math.log(10.0) * minutes / minutes_to_90)
        come[at] = openings[at] + left * (come[at - 1] - openings[at])
    return come
