"""What people type of the food that is laid on: its size, and its headings by the clock; and headings in words."""

import re

from heatmap.errors import InputError


def read_size(text: str) -> tuple[float, float]:
    """Read LENGTHxWIDTH in any one unit: "7.5x5" is (7.5, 5.0).

    Raises
    ------
    InputError
        When it cannot be read, or a side is not above 0.
    """
    number = r"([-+]?\d+(?:[.,]\d*)?|[-+]?[.,]\d+)"
    match = re.fullmatch(rf"\s*{number}\s*[xX×*]\s*{number}\s*", text)
    if match is None:
        raise InputError(f'size "{text}" cannot be read; write LENGTHxWIDTH, such as 7.5x5')
    length, width = (float(part.replace(",", ".")) for part in match.groups())
    if length <= 0 or width <= 0:
        raise InputError(f'size "{text}" is not a size; length and width must be above 0, such as 7.5x5')
    return length, width


def read_headings(text: str) -> tuple[float, ...]:
    """Read one or two headings by the clock: "12", "2,10", "1:30" or "1.5".

    Raises
    ------
    InputError
        When it cannot be read, there are more than two, or a heading is not on the clock.
    """
    parts = [part.strip() for part in text.split(",")]
    if len(parts) > 2:
        raise InputError(f'heading "{text}" has {len(parts)} parts; give one, or two for crossed marks: 2,10')
    return tuple(_read_heading(part) for part in parts)


def _read_heading(text: str) -> float:
    hours, colon, minutes = text.partition(":")
    try:
        past = float(minutes) / 60.0 if colon else 0.0
        heading = float(hours) + past
    except ValueError:
        raise InputError(
            f'heading "{text}" cannot be read; write an hour of the clock, 12 is straight away from you'
        ) from None
    if not 0.0 <= past < 1.0:
        raise InputError(f'heading "{text}" is not on the clock; minutes go from 0 to 59')
    return check_heading(heading, text)


def check_heading(heading: float, text: str = "") -> float:
    """Return a heading that is on the clock: from 1 to 12, halves such as 12.5 for half past included."""
    if not 1.0 <= heading < 13.0:
        raise InputError(
            f"a heading of {text or f'{heading:g}'} is not on the clock; it goes from 1 to 12, "
            "and 12 is straight away from you"
        )
    return heading


def heading_text(headings: tuple[float, ...]) -> str:
    """Return headings in words: "12", "1:30", "2 and 10"."""
    return " and ".join(_clock(heading) for heading in headings)


def _clock(heading: float) -> str:
    hour, minute = divmod(round(60.0 * heading), 60)
    return f"{hour}" if minute == 0 else f"{hour}:{minute:02d}"
