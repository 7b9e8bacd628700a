"""What a sear is computed for, and what is said of a number outside it."""

from heatmap.errors import InputError
from heatmap.units import Kind, Units, quantity_text

COLDEST_START_C, COLDEST_AIR_C = 0.0, -40.0
_LIMITS: dict[str, tuple[Kind, float, float]] = {
    "the thickness": ("length", 5.0, 120.0),
    "the start of thawed food": ("temperature", COLDEST_START_C, 95.0),  # from hotter than this no sear is left to do
    "the cooker": ("temperature", COLDEST_START_C, 300.0),
    "the target": ("temperature", COLDEST_START_C, 95.0),  # above this the food is all but dry
    "the rail temperature": ("temperature", 110.0, 600.0),  # boils water, short of a red glow
    "the air": ("temperature", COLDEST_AIR_C, 100.0),  # of any place people cook in
}


def check_limits(what: str, value: float, units: Units, *, start_c: float | None = None) -> None:
    """Refuse a number [°C or mm] that no sear is computed for; `start_c` is the least it can be, where there is one.

    Raises
    ------
    InputError
        One line: what, and what is allowed.
    """
    kind, low, high = _LIMITS[what]
    low = low if start_c is None else start_c
    if not low <= value <= high:
        told, lowest, highest = (quantity_text(one, kind, units) for one in (value, low, high))
        start = "" if start_c is None else ", the start,"
        raise InputError(f"{what} is {told}; a sear can be computed for {lowest}{start} to {highest}")
