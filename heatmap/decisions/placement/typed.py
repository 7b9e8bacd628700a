"""What people type of the food that is laid on: its size, and its headings by the clock; and headings in words."""

import re

from heatmap.errors import InputError


def read_size(text: str) -> tuple[float, float]:
    """Read LENGTHxWIDTH in any one unit: "7.5x5" is (7.5, 5.0).

    Raises
    ------
    InputError
        When it cannot be read; which sizes there are the grill file's key says (:class:`heatmap.grill.grill.Food`).
    """
    number = r"([-+]?\d+(?:[.,]\d*)?|[-+]?[.,]\d+)"
    match = re.fullmatch(rf"\s*{number}\s*[xX×*]\s*{number}\s*", text)
    if match is None:
        raise InputError(f'size "{text}" cannot be read; write LENGTHxWIDTH, such as 7.5x5')
    length, width = (float(part.replace(",", ".")) for part in match.groups())
    return length, width


def read_headings(text: str) -> tuple[float, ...]:
    """Read headings by the clock: "12", "2,10", "1:30" or "1.5".

    Raises
    ------
    InputError
        When one cannot be read; which there are the grill file's key says.
    """
    found = [re.fullmatch(r"\s*(\d+\.?\d*)(?::([0-5]?\d))?\s*", part) for part in text.split(",")]
    hours = tuple(float(one[1]) + float(one[2] or 0) / 60.0 for one in found if one)
    if len(hours) < len(found):
        raise InputError(f'heading "{text}" cannot be read; write an hour of the clock, such as 2, 1:30 or 10.5')
    return hours


def heading_text(headings: tuple[float, ...]) -> str:
    """Return headings in words: "12", "1:30", "2 and 10"."""
    told = (divmod(round(60.0 * heading), 60) for heading in headings)
    return " and ".join(f"{hour}:{minute:02d}" if minute else f"{hour}" for hour, minute in told)
