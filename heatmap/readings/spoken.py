"""A line as a phone writes down what was said: "B two five eighty two" → B2 582.

Only what can be read in one way is taken; everything else is refused with what was heard, never guessed.
"""

import re
from collections.abc import Iterator

from heatmap.errors import ReadingError, quoted
from heatmap.grill.grill import Grill
from heatmap.readings.reading import SHOT_AIMS
from heatmap.readings.typed import Typed, parse_typed

_ONES = (
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen "
    "seventeen eighteen nineteen"
).split()
_TENS = "twenty thirty forty fifty sixty seventy eighty ninety".split()
_NUMBER_WORDS = {*_ONES, *_TENS, "oh", "hundred", "and"}
#: How every number from 0 to 99 is said, in order.
_BELOW_HUNDRED = [*_ONES, *(f"{ten} {one}".strip() for ten in _TENS for one in ("", *_ONES[1:10]))]
#: The numbers from 100 to 1999 by each of the ways they are said.
_NUMBERS = {
    **{f"{_ONES[n // 100]} {_BELOW_HUNDRED[n % 100]}": n for n in range(100, 2000) if n % 100 >= 10},  # five eighty two
    **{" ".join(_ONES[int(digit)] for digit in str(n)): n for n in range(100, 1000)},  # five eight two
    **{f"{_ONES[n // 100]} hundred {_BELOW_HUNDRED[n % 100]}": n for n in range(100, 1000) if n % 100},
    **{f"{_ONES[n]} hundred": 100 * n for n in range(1, 10)},
}


def parse_said(line: str, grill: Grill) -> Typed:
    """Understand a line that was typed or dictated.

    Raises
    ------
    ReadingError
        One sentence: what was heard and what to say instead.
    """
    try:
        return parse_typed(line, grill)
    except ReadingError:
        found = set(_readings(line, grill))
        if len(found) == 1:
            return parse_typed(found.pop(), grill)
        if found or any(word in _NUMBER_WORDS for word in line.casefold().split()):
            raise ReadingError(f"{quoted(line)} is not understood; say or type it like B3 585") from None
        raise


def _readings(line: str, grill: Grill) -> Iterator[str]:
    """Yield every shot a line can be, as it would be typed."""
    plain = re.sub(r"\b([a-z])(?=\d{1,2}\b)", r"\1 ", re.sub("[,-]", " ", line.casefold()))  # b2 is b, 2
    words = re.sub(r"\boh\b", "zero", plain).split()
    at = next((at for at, word in enumerate(words) if word in SHOT_AIMS), -1)
    aim = words.pop(at) if at >= 0 else ""
    for cut in (0, *range(2, len(words))):
        label = f"{words[0].upper()}{_column(words[1:cut])}" if cut else ""
        number = _shown(words[cut:]) if at <= cut or at == len(words) else ""  # no aim stands within a number
        if number and (not cut or label in grill.labels):
            yield " ".join(filter(None, (aim, label, number)))


def _column(words: list[str]) -> str:
    said = " ".join(words)
    if said in _BELOW_HUNDRED:
        return str(_BELOW_HUNDRED.index(said))
    return str(int(said)) if re.fullmatch(r"\d{1,2}", said) else ""


def _shown(words: list[str]) -> str:
    """Return the number of three digits or four that the words are, or ""."""
    said = " ".join(words)
    if re.fullmatch(r"\d{3,4}(\.\d)?", said):
        return said
    whole, _, tenth = re.sub(" (?:point|dot) ", ".", said).partition(".")
    number = _NUMBERS.get(whole.replace(" hundred and ", " hundred "))
    if number is None or tenth not in ("", *_ONES[:10]):
        return ""
    return f"{number}.{_ONES.index(tenth)}" if tenth else str(number)
