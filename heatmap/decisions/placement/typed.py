"""What people type of the food that is laid on: its size, and its headings by the clock; and headings in words."""

import math
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
    """Read one or two headings by the clock: "12", "2,10", "1:30" or "1.5".

    Raises
    ------
    InputError
        When there are more than two, or one is no hour of the clock.
    """
    parts = [part.strip() for part in text.split(",")]
    if len(parts) > 2:
        raise InputError(f'heading "{text}" has {len(parts)} parts; give one, or two for crossed marks: 2,10')
    return tuple(_read_heading(part) for part in parts)


def _read_heading(text: str) -> float:
    found = re.fullmatch(r"(\d+\.?\d*)(?::([0-5]?\d))?", text)
    return check_heading(float(found[1]) + float(found[2] or 0) / 60.0 if found else math.nan, text)


def check_heading(heading: float, said: str) -> float:
    """Return a heading that is on the clock: from 1 to 12, halves such as 12.5 for half past included."""
    if not 1.0 <= heading < 13.0:
        raise InputError(
            f"a heading of {said or 'nothing'} is not on the clock; it goes from 1 to 12, such as 2, 1:30 or 10.5, "
            "and 12 is straight away from you"
        )
    return heading


def heading_text(headings: tuple[float, ...]) -> str:
    """Return headings in words: "12", "1:30", "2 and 10"."""
    told = (divmod(round(60.0 * heading), 60) for heading in headings)
    return " and ".join(f"{hour}:{minute:02d}" if minute else f"{hour}" for hour, minute in told)
