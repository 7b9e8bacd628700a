"""The emissivity of a grate with a film of oil on its finish.

The finishes a cook can name, each with its source, are in :mod:`heatmap.physics.finishes`.
"""

from __future__ import annotations

from math import hypot, sqrt

from heatmap.physics.checks import emissivity_share, not_negative
from heatmap.physics.finishes import FIGURES

# A film of oil hides part of what is under it: ε' = ε + a (ε_oil − ε). ε_oil is a deep pool of oil: 1 −
# Fresnel reflection straight in for a refractive index of 1.47; Codex Alimentarius CXS 210 gives 1.458 to
# 1.477 for common vegetable oils, in visible light (from memory).
_OIL_INDEX = 1.47
OIL_EMISSIVITY = 1.0 - ((_OIL_INDEX - 1.0) / (_OIL_INDEX + 1.0)) ** 2
# a is taken as anything, evenly, from no film left to the 0.05 mm film of lubricating oil on polished nickel.
_NICKEL = float(FIGURES["nickel_plated_polished"]["low"])
_THICKEST_FILM = (float(FIGURES["oil_film_50_um"]["low"]) - _NICKEL) / (OIL_EMISSIVITY - _NICKEL)
OIL_COVER = 0.5 * _THICKEST_FILM
OIL_COVER_SD = _THICKEST_FILM / sqrt(12.0)


def oiled(emissivity: float, emissivity_sd: float) -> tuple[float, float]:
    """Return the emissivity of a finish with a thin film of cooking oil on it, and its standard deviation. Assumed.

    Notes
    -----
    No figure for vegetable oil in 8-14 µm is published; this is an assumption made from films of lubricating
    oil, total emissivity, 0.27 and 0.46 at 0.025 and 0.05 mm on polished nickel of 0.045 (Wolfe and Zissis
    1978; Hottel; from memory): ε' = ε + a (0.964 − ε) with a anywhere between 0 and 0.45. So it hardly moves a
    seasoned surface (0.90 to 0.91) and makes bright metal both blacker and far less certain (0.16 ± 0.05 to
    0.34 ± 0.12). The film is never taken to make the finish under it better known. Wet oil smokes off or bakes
    on at searing temperature, and can flare up: shoot a dry grate when you can.

    Examples
    --------
    >>> tuple(round(value, 3) for value in oiled(0.90, 0.05))
    (0.914, 0.051)
    """
    emissivity_share(emissivity, "emissivity")
    not_negative(emissivity_sd, "emissivity_sd")
    gap = OIL_EMISSIVITY - emissivity
    return emissivity + OIL_COVER * gap, hypot(emissivity_sd, OIL_COVER_SD * gap)
