"""Published emissivities of the surfaces a grate may have, and the finishes a grill file can name.

The figures that matter are those for 8-14 µm. Where only a *total* emissivity (all wavelengths) is published
it stands in with a wider spread, because the two can be far apart: anodised aluminium has 0.55 in total and
0.96 in the band. Where nothing is published at all, as for seasoned cast iron, the figure is marked
``assumed`` and comes with the published surfaces it is bounded by. A standard deviation here is what is not
known of one cook's grate before any contact reading; it is a judgement from the bounds, not a printed figure.

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

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches

from heatmap.errors import GrillError

READ = "read in a secondary table that cites it, not checked at the origin"
READ_IN_PART = "figure read in a secondary table, the work it cites from memory"
MEMORY = "from memory"
COMPUTED = "computed from the library's spectrum, 1 − reflectance"

_BRAMSON = "Bramson 1968"
_WOLFE = "Wolfe & Zissis 1978"
_HOTTEL = "Hottel in McAdams, Heat Transmission; Holman, table A-10"
_ECOSTRESS = "ECOSTRESS spectral library, Meerdink et al. 2019; Baldridge et al. 2009"
_LABORATORY = "laboratory emittance report 1999, long-wave band"


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedEmissivity:
    """One published figure for one surface.

    Parameters
    ----------
    surface : str
        Material and state.
    low, high : float
        The printed range [1]; the same twice for a single figure.
    band : str
        ``"8-14 µm"``, ``"8-12.5 µm"`` or ``"total"`` (all wavelengths).
    source : str
        Author and work.
    how_known : str
        Read, computed or from memory.
    """

    surface: str
    low: float
    high: float
    band: str
    source: str
    how_known: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish:
    """The finish of a grate and what is known of its emissivity.

    Parameters
    ----------
    name : str
        As it stands in a grill file.
    emissivity : float
        Best figure for the gun's band [1], above 0 and at most 1.
    emissivity_sd : float
        Standard deviation [1] of what is not known of one grate.
    figures : tuple of PublishedEmissivity
        The published figures: of the finish itself, or of the proxies that bound an assumed one.
    assumed : bool
        True when no figure is published for this finish and its proxies only bound it.
    remark : str
        What a cook should know.
    """

    name: str
    emissivity: float
    emissivity_sd: float
    figures: tuple[PublishedEmissivity, ...]
    assumed: bool = False
    remark: str = ""

    @property
    def source(self) -> str:
        """The works behind the figure, or behind its bounds, in one line."""
        return "; ".join(dict.fromkeys(figure.source for figure in self.figures))


def _figure(
    surface: str, low: float, high: float, band: str, source: str, how_known: str = READ
) -> PublishedEmissivity:
    return PublishedEmissivity(surface=surface, low=low, high=high, band=band, source=source, how_known=how_known)


# --- Published figures -------------------------------------------------------------------------------------
CAST_IRON_POLISHED = _figure("cast iron, polished", 0.21, 0.21, "total", f"{_BRAMSON}; {_WOLFE}")
CAST_IRON_CASTING = _figure("cast iron, casting (as-cast skin)", 0.81, 0.81, "total", _BRAMSON)
CAST_IRON_OXIDISED = _figure("cast iron, oxidised, 38-100 °C", 0.63, 0.64, "total", _WOLFE)
CAST_IRON_OXIDISED_HOT = _figure("cast iron, oxidised at 600 °C, 200-600 °C", 0.64, 0.78, "total", _BRAMSON)
IRON_OXIDE = _figure("solid iron oxide (haematite)", 0.931, 0.931, "8-14 µm", _ECOSTRESS, COMPUTED)
TAR = _figure("matt black tar", 0.958, 0.958, "8-14 µm", _ECOSTRESS, COMPUTED)
SOOT = _figure("candle soot", 0.95, 0.95, "total", _WOLFE)
STAINLESS_BUFFED = _figure(
    "stainless 18-8, buffed, 20 °C",
    0.16,
    0.16,
    "total",
    _WOLFE,
    READ_IN_PART,
)
STAINLESS_BROWN = _figure("stainless 304, brown after heating, 215-490 °C", 0.36, 0.44, "total", _HOTTEL, MEMORY)
STAINLESS_OXIDISED = _figure("stainless 18-8, oxidised at 800 °C", 0.85, 0.85, "total", _WOLFE, READ_IN_PART)
STEEL_COLD_ROLLED = _figure("carbon steel, cold rolled, 70 °C", 0.09, 0.09, "8-14 µm", _LABORATORY)
STEEL_OXIDISED = _figure("carbon steel, oxidised, 125-525 °C", 0.78, 0.82, "total", _BRAMSON)
STEEL_OXIDISED_HOT = _figure(
    "carbon steel, oxidised at 600 °C, 200-600 °C", 0.79, 0.80, "total", f"{_WOLFE}; {_BRAMSON}"
)
ENAMEL_WHITE = _figure("white enamel, fused on iron, 19 °C", 0.90, 0.90, "total", _HOTTEL, MEMORY)
PLATE_GLASS = _figure("plate glass", 0.853, 0.853, "8-14 µm", _ECOSTRESS, COMPUTED)
ALUMINIUM_POLISHED = _figure("aluminium, polished, 50-100 °C", 0.04, 0.06, "total", _BRAMSON)
ALUMINIUM_WEATHERED = _figure(
    "aluminium, bare, weathered and scratched", 0.051, 0.051, "8-12.5 µm", _ECOSTRESS, COMPUTED
)
ALUMINIUM_OXIDISED = _figure(
    "aluminium, oxidised at 600 °C, 200-600 °C",
    0.11,
    0.19,
    "total",
    "CRC Handbook of Chemistry and Physics; Battelle DMIC Report 177",
)
ALUMINIUM_ANODISED_BLACK = _figure("aluminium, anodised, black, dull", 0.95, 0.95, "8-14 µm", _LABORATORY)
ALUMINIUM_ANODISED_GREY = _figure("aluminium, anodised, light grey, dull", 0.97, 0.97, "8-14 µm", _LABORATORY)
CHROMIUM = _figure("chromium, 38-538 °C", 0.08, 0.26, "total", _HOTTEL, MEMORY)
NICKEL_PLATED = _figure("nickel, electroplated, not polished", 0.11, 0.11, "total", _HOTTEL, MEMORY)
NICKEL_PLATED_POLISHED = _figure("nickel, electroplated on iron, polished", 0.045, 0.045, "total", _HOTTEL, MEMORY)
NICKEL_OXIDISED = _figure("nickel plate, oxidised at 600 °C", 0.37, 0.48, "total", _HOTTEL, MEMORY)
OIL_FILM_50_UM = _figure("lubricating oil, 0.05 mm on polished nickel", 0.46, 0.46, "total", _WOLFE, MEMORY)

_LOW_REMARK = "A gun is next to useless on it: shoot a patch of known emissivity or take a contact reading."

# --- The table ---------------------------------------------------------------------------------------------
# emissivity: the published figure, or the middle of a printed range. emissivity_sd, by judgement: 0.02 to
# 0.04 where there is a figure for the band, 0.05 to 0.10 where a total one stands in or the surface varies.
_TABLE = (
    Finish(
        name="cast iron, seasoned",
        emissivity=0.90,
        emissivity_sd=0.05,
        assumed=True,
        figures=(CAST_IRON_OXIDISED_HOT, CAST_IRON_CASTING, IRON_OXIDE, SOOT, TAR),
        remark="No published figure. Baked-on oil lies near iron oxide, tar and soot; worn spots are lower.",
    ),
    Finish(
        name="cast iron, as-cast",
        emissivity=0.81,
        emissivity_sd=0.06,
        figures=(CAST_IRON_CASTING,),
    ),
    Finish(
        name="cast iron, oxidised",
        emissivity=0.71,
        emissivity_sd=0.08,
        figures=(CAST_IRON_OXIDISED_HOT, CAST_IRON_OXIDISED),
        remark="Machined or scrubbed to bare iron, then heated until it went grey or blue-black.",
    ),
    Finish(
        name="cast iron, rusted",
        emissivity=0.85,
        emissivity_sd=0.08,
        assumed=True,
        figures=(CAST_IRON_OXIDISED_HOT, IRON_OXIDE),
        remark="No published figure: between a thin oxide skin and solid iron oxide.",
    ),
    Finish(
        name="cast iron, machined bright",
        emissivity=0.21,
        emissivity_sd=0.06,
        figures=(CAST_IRON_POLISHED,),
        remark="Lasts until the first heat; then see 'cast iron, oxidised'.",
    ),
    Finish(
        name="carbon steel, seasoned",
        emissivity=0.90,
        emissivity_sd=0.05,
        assumed=True,
        figures=(STEEL_OXIDISED, IRON_OXIDE, SOOT, TAR),
        remark="No published figure. Baked-on oil as on cast iron.",
    ),
    Finish(
        name="carbon steel, oxidised",
        emissivity=0.80,
        emissivity_sd=0.06,
        figures=(STEEL_OXIDISED, STEEL_OXIDISED_HOT),
    ),
    Finish(
        name="carbon steel, bright",
        emissivity=0.09,
        emissivity_sd=0.04,
        figures=(STEEL_COLD_ROLLED,),
        remark=_LOW_REMARK,
    ),
    Finish(
        name="stainless steel, bright",
        emissivity=0.16,
        emissivity_sd=0.05,
        figures=(STAINLESS_BUFFED,),
        remark=_LOW_REMARK,
    ),
    Finish(
        name="stainless steel, heat-tinted",
        emissivity=0.40,
        emissivity_sd=0.08,
        figures=(STAINLESS_BROWN,),
        remark="Straw to brown after heating. Take a contact reading: the tint differs from place to place.",
    ),
    Finish(
        name="stainless steel, oxidised",
        emissivity=0.85,
        emissivity_sd=0.08,
        figures=(STAINLESS_OXIDISED,),
        remark="Dark grey scale after long use near red heat; a grate that is only brown is 'heat-tinted'.",
    ),
    Finish(
        name="porcelain enamel",
        emissivity=0.87,
        emissivity_sd=0.04,
        assumed=True,
        figures=(PLATE_GLASS, ENAMEL_WHITE),
        remark="No published figure for the band: between enamel in total and the glass it is made of.",
    ),
    Finish(
        name="aluminium, bare",
        emissivity=0.051,
        emissivity_sd=0.02,
        figures=(ALUMINIUM_WEATHERED, ALUMINIUM_POLISHED),
        remark=_LOW_REMARK,
    ),
    Finish(
        name="aluminium, oxidised",
        emissivity=0.15,
        emissivity_sd=0.10,
        figures=(ALUMINIUM_OXIDISED,),
        remark="The figure for the band is not known. " + _LOW_REMARK,
    ),
    Finish(
        name="aluminium, hard-anodised",
        emissivity=0.96,
        emissivity_sd=0.03,
        figures=(ALUMINIUM_ANODISED_BLACK, ALUMINIUM_ANODISED_GREY),
        remark="Published for dull black and light grey anodising; 0.55 in total, which does not count here.",
    ),
    Finish(
        name="chrome-plated steel",
        emissivity=0.17,
        emissivity_sd=0.08,
        figures=(CHROMIUM,),
        remark=_LOW_REMARK,
    ),
    Finish(
        name="nickel-plated steel",
        emissivity=0.11,
        emissivity_sd=0.05,
        figures=(NICKEL_PLATED, NICKEL_PLATED_POLISHED),
        remark=_LOW_REMARK,
    ),
    Finish(
        name="nickel-plated steel, oxidised",
        emissivity=0.42,
        emissivity_sd=0.08,
        figures=(NICKEL_OXIDISED,),
        remark="Dull after long heating. Take a contact reading.",
    ),
)

FINISHES: dict[str, Finish] = {finish.name: finish for finish in _TABLE}


def find_finish(name: str) -> Finish:
    """Return the finish of this name from the built-in table; a GrillError that lists the names where there is none.

    Capitals, spaces around the comma and the American "aluminum" do not matter.

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
    """Return a name in small letters with single spaces and the British aluminium."""
    words = name.casefold().replace(",", " ").replace("-", " ").replace("aluminum", "aluminium").split()
    return " ".join(words)
