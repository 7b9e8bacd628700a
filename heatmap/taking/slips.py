"""What a hand or an ear does to a number: the numbers a mistyped or misheard one may have been meant as."""


def meant_numbers(shown: float, decimals: int = 0) -> dict[float, float]:
    """Return the numbers that one slip of the hand turns into the one given, each with the chance of that.

    Parameters
    ----------
    shown : float
        The number as typed.
    decimals : int
        Digits after the point.

    Returns
    -------
    dict
        Slips: a dropped digit, a doubled digit, two neighbours swapped, one digit wrong. The chance is that of
        ending at ``shown`` when one slip of each kind is made at a random place of the number meant.

    Examples
    --------
    >>> 585.0 in meant_numbers(5885)
    True
    """
    digits = f"{abs(shown):.{decimals}f}".replace(".", "")
    sign = -1.0 if shown < 0 else 1.0
    found: dict[float, float] = {}

    def note(meant: str, chance: float) -> None:
        if meant != digits and not (len(meant) > decimals + 1 and meant.startswith("0")):
            number = sign * int(meant) / 10**decimals
            found[number] = found.get(number, 0.0) + chance

    for at in range(len(digits) + 1):
        for digit in "0123456789":
            longer = digits[:at] + digit + digits[at:]
            note(longer, 1.0 / len(longer))  # a digit was dropped
    for at in range(len(digits) - 1):
        a, b = digits[at], digits[at + 1]
        if a == b and len(digits) > decimals + 1:
            note(digits[:at] + digits[at + 1 :], 1.0 / (len(digits) - 1))  # one was doubled
        note(digits[:at] + b + a + digits[at + 2 :], 1.0 / (len(digits) - 1))  # two were swapped
    for at in range(len(digits)):
        for digit in "0123456789":
            note(digits[:at] + digit + digits[at + 1 :], 1.0 / (9 * len(digits)))  # one is wrong
    return found
