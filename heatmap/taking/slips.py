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
    digits, ten = f"{abs(shown):.{decimals}f}".replace(".", ""), "0123456789"
    count, pairs = len(digits), [(at, digits[at], digits[at + 1]) for at in range(len(digits) - 1)]
    dropped = [digits[:at] + digit + digits[at:] for at in range(count + 1) for digit in ten]
    doubled = [digits[:at] + digits[at + 1 :] for at, one, other in pairs if one == other and count > decimals + 1]
    swapped = [digits[:at] + other + one + digits[at + 2 :] for at, one, other in pairs]
    wrong = [digits[:at] + digit + digits[at + 1 :] for at in range(count) for digit in ten]
    found: dict[float, float] = {}
    for slips, ways in ((dropped, count + 1), (doubled, count - 1), (swapped, count - 1), (wrong, 9 * count)):
        for meant in slips:
            if meant != digits and not (len(meant) > decimals + 1 and meant.startswith("0")):
                number = (-1.0 if shown < 0 else 1.0) * int(meant) / 10**decimals
                found[number] = found.get(number, 0.0) + 1.0 / ways
    return found
