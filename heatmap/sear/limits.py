"""What a sear is computed for, and what is said of a number outside it."""

from heatmap.errors import InputError
from heatmap.sear.evaporation import FRONT_C
from heatmap.units import Kind, Units, quantity_text

#: From the first to the second; thawed food starts at 0 °C.
_LIMITS: dict[str, tuple[Kind, float, float]] = {
    "the thickness": ("length", 5.0, 120.0),
    "the start of thawed food": ("temperature", 0.0, 95.0),  # from hotter than this no sear is left to do
    "the cooker": ("temperature", 0.0, 300.0),
    "the target": ("temperature", 0.0, 95.0),  # above this the food is all but dry
    "the peak of the test piece": ("temperature", 0.0, FRONT_C),
    "the rail temperature": ("temperature", 110.0, 600.0),  # boils water, short of a red glow
    "the share of the face on rail": ("number", 0.001, 1.0),
    "what the food covers": ("length", 10.0, 1100.0),  # this and the plate: as a grill file may say, and a little more
    "the plate": ("length", 10.0, 6000.0),
    "the air": ("temperature", -60.0, 100.0),  # as a grill file may say
}


#: What the sear is to raise above the start, so that it cannot end there, nor as hot as it may be.
_RAISED = ("the target", "the peak of the test piece")


def check_limits(what: str, value: float, units: Units, *, start_c: float | None = None) -> None:
    """Refuse a number [°C or mm] that no sear is computed for; `start_c` is the least it can be, where there is one.

    A target and a peak must be above it, and below the most; all else may be as low, and as high.

    Raises
    ------
    InputError
        One line: what, and what is allowed.
    """
    kind, low, high = _LIMITS[what]
    low = low if start_c is None else start_c
    raised = what in _RAISED
    if not (low < value < high if raised else low <= value <= high):
        told, lowest, highest = (quantity_text(one, kind, units) for one in (value, low, high))
        start = "" if start_c is None else ", the start,"
        least, most = ("above", "and below") if raised else ("from", "to")
        raise InputError(f"{what} is {told}; it must be {least} {lowest}{start} {most} {highest}")
