"""The colours of the map: blue below the band, neutral in it, orange above; and the mark for each word.

The ramp is diverging and centred on the band. Its lightness falls from the centre to either end, faster on the blue
side, so that too cold is also darker than too hot where a printer or a glaring screen leaves only greys. Blue against
orange stays apart in the three common kinds of colour blindness; the tests simulate them.
"""

import numpy as np
from matplotlib.colors import to_rgba_array
from numpy.typing import ArrayLike

from heatmap.units import FloatArray

#: Chosen by eye in daylight, then checked by the tests for lightness and for colour blindness.
_BLUE_SIDE = ("#123a6b", "#1d5c9e", "#3f8ac6", "#85b6dd", "#c3daec")
_NEUTRAL = "#f4f2ee"
_ORANGE_SIDE = ("#fddfb6", "#fbbd70", "#f2952f", "#d86f0e", "#b04e00")

INK, PAPER, QUIET = "#111111", "#ffffff", "#4a4a4a"


#: The shape of each word, as matplotlib calls it, and its fill when sure; told apart without colour.
MARKS = {"too cold": ("v", "#1d5c9e"), "in band": ("o", INK), "too hot": ("^", "#d86f0e"), "suspect": ("x", INK)}


def ramp(position: ArrayLike) -> FloatArray:
    """Return the colours (n, 3), each 0 to 1, at positions (n,): −1 far below the band, 0 in its middle, +1 far above.

    Values beyond are held at the ends.
    """
    anchors = to_rgba_array((*_BLUE_SIDE, _NEUTRAL, *_ORANGE_SIDE))
    at = np.linspace(-1.0, 1.0, len(anchors))
    held = np.clip(np.atleast_1d(np.asarray(position, dtype=np.float64)), -1.0, 1.0)
    return np.column_stack([np.interp(held, at, anchors[:, channel]) for channel in range(3)])


#: Steps on each side of the neutral one.
_STEPS_A_SIDE = 4
#: Where their colours lie on the ramp; the first is far enough from neutral to be seen in sunlight.
_SIDE = np.linspace(0.3, 1.0, _STEPS_A_SIDE)
#: The ramp cut into steps, so that a colour can be named in glare: one colour for each, red, green and blue.
COLOURS = ramp([*(-_SIDE[::-1]), 0.0, *_SIDE])
#: The inner edges of the steps, in the reader's unit; the first and the last step are open, the middle one neutral.
Edges = tuple[float, ...]
_ROUND_STEPS = np.array([1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0, 200.0])


def round_step(size: float, least: float) -> float:
    """Return the round number nearest to a size, by ratio, and no less than `least`."""
    allowed = _ROUND_STEPS[_ROUND_STEPS >= least]
    return float(allowed[np.argmin(np.abs(np.log(allowed / max(size, 1e-9))))])


def band_steps(low: float, high: float) -> Edges:
    """Cut the ramp at the limits of the band and, outside, in round steps of about half the band, at least 5."""
    away = round_step(0.5 * (high - low), 5.0) * np.arange(_STEPS_A_SIDE)
    return tuple([*(low - away[::-1]).tolist(), *(high + away).tolist()])


def difference_steps(largest: float) -> Edges:
    """Cut the ramp evenly on both sides of no difference, wide enough for the largest difference."""
    away = round_step(largest / _STEPS_A_SIDE, 2.0) * (np.arange(_STEPS_A_SIDE) + 0.5)
    return tuple([*(-away[::-1]).tolist(), *away.tolist()])
