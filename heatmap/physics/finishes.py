"""Published emissivities of the surfaces a grate may have, the finishes a grill file can name, and oil on them.

The figures that matter are those for 8-14 µm. Where only a *total* emissivity (all wavelengths) is published
it stands in with a wider spread, because the two can be far apart: anodised aluminium has 0.55 in total and
0.96 in the band. Where nothing is published at all, as for seasoned cast iron, the figure is marked
``assumed`` and comes with the published surfaces it is bounded by. A standard deviation here is what is not
known of one cook's grate before any contact reading; it is a judgement from the bounds, not a printed figure:
0.02 to 0.04 where there is a figure for the band, 0.05 to 0.10 where a total one stands in or the surface varies.

The figures are in `emissivities.csv`, the finishes made of them in `finishes.csv`.

References
----------
.. [1] M. A. Bramson, Infrared Radiation: A Handbook for Applications (Plenum 1968).
.. [2] W. L. Wolfe, G. J. Zissis (eds.), The Infrared Handbook (Office of Naval Research 1978).
.. [3] H. C. Hottel, table of normal total emissivities in W. H. McAdams, Heat Transmission (1954); the same
   in J. P. Holman, Heat Transfer, table A-10.
.. [4] S. K. Meerdink et al., "The ECOSTRESS spectral library version 1.0", Remote Sensing of Environment 230
   (2019); A. M. Baldridge et al., "The ASTER spectral library version 2.0", same journal 113 (2009) 711.
   Averaged over the band with a blackbody at 575 K as weight: ∫ ε_λ L_λ dλ / ∫ L_λ dλ.
.. [5] A laboratory emittance report of 1999, long-wave band (8-14 µm), as cited in a secondary compilation.
"""

import csv
from collections.abc import Iterator
from difflib import get_close_matches
from math import hypot, sqrt
from pathlib import Path

from heatmap.errors import GrillError


def _rows(name: str) -> Iterator[dict[str, str]]:
    with Path(__file__).with_name(name).open(encoding="utf-8", newline="") as file:
        yield from csv.DictReader(file)


#: The published figures as they are printed, by the name under which a finish cites them: of the finish itself, or of
#: the proxies that bound an assumed one; `low` and `high` are the range, the same twice for a single figure.
FIGURES: dict[str, dict[str, str]] = {row["figure"]: row for row in _rows("emissivities.csv")}


class Finish:
    """The finish of a grate and what is known of its emissivity.

    Attributes
    ----------
    name : str
        As it stands in a grill file.
    emissivity : float
        Best figure for the gun's band [1], above 0 and at most 1.
    emissivity_sd : float
        Standard deviation [1] of what is not known of one grate.
    source : str
        The works behind the figure, or behind its bounds, in one line.
    assumed : bool
        True when no figure is published for this finish and its proxies only bound it.
    remark : str
        What a cook should know.
    """

    def __init__(self, row: dict[str, str]) -> None:
        """Read it off its row of the table."""
        self.name, self.remark, self.assumed = row["name"], row["remark"], bool(row["assumed"])
        self.emissivity, self.emissivity_sd = float(row["emissivity"]), float(row["emissivity_sd"])
        self.source = "; ".join(dict.fromkeys(FIGURES[figure]["source"] for figure in row["figures"].split()))


#: The finishes a grill file can name.
FINISHES: dict[str, Finish] = {row["name"]: Finish(row) for row in _rows("finishes.csv")}

_SPELLINGS = (("aluminum", "aluminium"), ("oxidized", "oxidised"), ("anodized", "anodised"))


def find_finish(name: str) -> Finish:
    """Return the finish of this name from the built-in table; a GrillError that lists the names where there is none.

    Capitals, spaces around the comma and the American spellings ("aluminum, anodized") do not matter.

    Examples
    --------
    >>> find_finish("Cast iron, seasoned").emissivity
    0.9
    """
    wanted = _plain(name)
    plain = {_plain(known): known for known in FINISHES}
    if wanted in plain:
        return FINISHES[plain[wanted]]
    close = get_close_matches(wanted, plain, n=1)
    hint = f" Did you mean '{plain[close[0]]}'?" if close else ""
    raise GrillError(
        f"finish '{name}' is not in the table.{hint} There are: {'; '.join(FINISHES)}. "
        "For any other give emissivity and emissivity_sd as numbers."
    )


def _plain(name: str) -> str:
    """Return a name in small letters with single spaces and in British spelling."""
    plain = name.casefold().replace(",", " ").replace("-", " ")
    for american, british in _SPELLINGS:
        plain = plain.replace(american, british)
    return " ".join(plain.split())


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
    from heatmap.physics.checks import emissivity_share, not_negative  # a grill file is read without numpy

    emissivity_share(emissivity, "emissivity")
    not_negative(emissivity_sd, "emissivity_sd")
    gap = OIL_EMISSIVITY - emissivity
    return emissivity + OIL_COVER * gap, hypot(emissivity_sd, OIL_COVER_SD * gap)
