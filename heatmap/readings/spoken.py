"""A line as a phone writes down what was said: "B two five eighty two" → B2 582.

Only what can be read in one way is taken; everything else is refused with what was heard, never guessed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import product

from heatmap.errors import ReadingError
from heatmap.grill.grill import Grill
from heatmap.readings.reading import SHOT_AIMS
from heatmap.readings.typed import Typed, parse_typed
from heatmap.readings.written import quoted

_UNITS = {word: n for n, word in enumerate("zero one two three four five six seven eight nine".split())} | {"oh": 0}
_TEENS = {
    word: n
    for n, word in enumerate(
        "ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split(), 10
    )
}
_TENS = {word: n * 10 for n, word in enumerate("twenty thirty forty fifty sixty seventy eighty ninety".split(), 2)}
_NUMBER_WORDS = {*_UNITS, *_TEENS, *_TENS, "hundred", "and"}
_POINT = ("point", "dot")


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
    words = [part for word in line.casefold().replace(",", " ").replace("-", " ").split() for part in _parts(word)]
    aim = words.pop(0) if words and words[0] in SHOT_AIMS else ""
    if not words or not re.fullmatch(r"[a-z]", words[0]):
        yield from (f"{aim} {number}".strip() for number in _shown(words))
        return
    letter, rest = words[0].upper(), words[1:]
    if not aim and (between := [word for word in rest if word in SHOT_AIMS]):
        aim = between[0]
        rest.remove(aim)
    for cut in range(1, len(rest)):
        columns, numbers = _column(rest[:cut]), _shown(rest[cut:])
        for column, number in product(columns, numbers):
            if f"{letter}{column}" in grill.labels:
                yield f"{aim} {letter}{column} {number}".strip()


def _parts(word: str) -> list[str]:
    """Take a letter off the digits behind it: b2 is b, 2."""
    found = re.fullmatch(r"([a-z])(\d{1,2})", word)
    return [found[1], found[2]] if found else [word]


def _column(words: Sequence[str]) -> set[str]:
    if len(words) == 1 and re.fullmatch(r"\d{1,2}", words[0]):
        return {str(int(words[0]))}
    value = _below_hundred(words)
    return set() if value is None else {str(value)}


def _shown(words: Sequence[str]) -> set[str]:
    """Return every number of three digits or four that the words can be."""
    if len(words) == 1 and re.fullmatch(r"\d{3,4}(\.\d)?", words[0]):
        return {words[0]}
    whole, tenth = list(words), ""
    if len(words) > 2 and words[-2] in _POINT and words[-1] in _UNITS:
        whole, tenth = list(words[:-2]), f".{_UNITS[words[-1]]}"
    if not all(word in _NUMBER_WORDS for word in whole):
        return set()
    return {f"{value}{tenth}" for value in (*_with_hundred(whole), *_digits(whole), *_hundreds_called(whole))}


def _with_hundred(words: Sequence[str]) -> Iterator[int]:
    """Five hundred (and) eighty two."""
    if len(words) >= 2 and words[1] == "hundred" and 1 <= _UNITS.get(words[0], 0) <= 9:
        rest = [word for word in words[2:] if word != "and"]
        below = _below_hundred(rest) if rest else 0
        if below is not None:
            yield 100 * _UNITS[words[0]] + below


def _digits(words: Sequence[str]) -> Iterator[int]:
    """Five eight two."""
    if len(words) == 3 and all(word in _UNITS for word in words) and _UNITS[words[0]]:
        yield int("".join(str(_UNITS[word]) for word in words))


def _hundreds_called(words: Sequence[str]) -> Iterator[int]:
    """Five eighty two, five twelve, ten fifty."""
    hundreds = _UNITS.get(words[0], _TEENS.get(words[0], 0)) if words else 0
    below = _below_hundred(words[1:])
    if hundreds and below is not None and below >= 10:
        yield 100 * hundreds + below


def _below_hundred(words: Sequence[str]) -> int | None:
    """Return the number from 0 to 99 that the words are, or None."""
    match [*words]:
        case [one] if one in _UNITS or one in _TEENS or one in _TENS:
            return _UNITS.get(one, _TEENS.get(one, _TENS.get(one)))
        case [ten, one] if ten in _TENS and _UNITS.get(one, 0):
            return _TENS[ten] + _UNITS[one]
    return None
