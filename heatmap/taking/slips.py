"""What a hand or an ear does to a number: the numbers a mistyped or misheard one may have been meant as."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Meant:
    """A number that may have been meant, the slip that made another of it, and how likely that very slip
    is."""

    number: float
    slip: str
    chance: float


def meant_numbers(shown: float, decimals: int = 0) -> list[Meant]:
    """Return the numbers that one slip of the hand turns into the one given.

    Parameters
    ----------
    shown : float
        The number as typed.
    decimals : int
        Digits after the point.

    Returns
    -------
    list of Meant
        Slips: a dropped digit, a doubled digit, two neighbours swapped, one digit wrong. ``chance`` is the
        chance of ending at ``shown`` when one slip of that kind is made at a random place of the number
        meant.

    Examples
    --------
    >>> sorted(m.number for m in meant_numbers(5885) if m.slip == "a doubled digit")
    [585.0]
    """
    digits = f"{abs(shown):.{decimals}f}".replace(".", "")
    found: dict[tuple[str, str], float] = {}

    def note(meant: str, slip: str, chance: float) -> None:
        if meant != digits and not (len(meant) > decimals + 1 and meant.startswith("0")):
            found[meant, slip] = found.get((meant, slip), 0.0) + chance

    for at in range(len(digits) + 1):
        for digit in "0123456789":
            longer = digits[:at] + digit + digits[at:]
            note(longer, "a dropped digit", 1.0 / len(longer))
    for at in range(len(digits) - 1):
        a, b = digits[at], digits[at + 1]
        if a == b and len(digits) > decimals + 1:
            note(digits[:at] + digits[at + 1 :], "a doubled digit", 1.0 / (len(digits) - 1))
        note(digits[:at] + b + a + digits[at + 2 :], "two digits swapped", 1.0 / (len(digits) - 1))
    for at in range(len(digits)):
        for digit in "0123456789":
            note(digits[:at] + digit + digits[at + 1 :], "a wrong digit", 1.0 / (9 * len(digits)))
    sign = -1.0 if shown < 0 else 1.0
    return [
        Meant(number=sign * int(meant) / 10**decimals, slip=slip, chance=chance)
        for (meant, slip), chance in found.items()
    ]
