"""The colours of the map: blue below the band, neutral in it, orange above; and the mark for each word.

The ramp is diverging and centred on the band. Its lightness falls from the centre to either end, faster on the blue
side, so that too cold is also darker than too hot where a printer or a glaring screen leaves only greys. Blue against
orange stays apart in the three common kinds of colour blindness; the tests simulate them.
"""

import numpy as np

INK, PAPER, QUIET = "#111111", "#ffffff", "#4a4a4a"
#: The shape of each word, as matplotlib calls it, and its fill when sure; told apart without colour.
MARKS = {"too cold": ("v", "#1d5c9e"), "in band": ("o", INK), "too hot": ("^", "#d86f0e"), "suspect": ("x", INK)}
#: The ramp in steps, so that a colour can be named in glare; chosen by eye in daylight, the first on either side far
#: enough from neutral to be seen in sunlight, then checked by the tests for lightness and for colour blindness.
COLOURS = ("#123a6b", "#2364a5", "#5699ce", "#a4c8e5", "#f4f2ee", "#fcce93", "#f5a245", "#dc7514", "#b04e00")
#: Steps on each side of the neutral one.
_STEPS_A_SIDE = 4
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
