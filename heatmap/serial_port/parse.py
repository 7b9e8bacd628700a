"""One line from a gun → a reading, a word for "out of range", or a reason why it is neither.

Without a pattern a line must be one number and nothing else but a name, a position and a unit: a line with
anything more ("E=0.95", "BATT 20") could make a reading out of something that is none.
"""

import re
from collections.abc import Callable

import heatmap.readings.written as written
from heatmap.errors import ReadingError, quoted
from heatmap.grill.grill import Grill
from heatmap.readings.typed import OverRange, Shot
from heatmap.serial_port.lines import Rejected
from heatmap.units import Units

#: What a gun sent: a shot, with the position where the line names one; that it shows no number; or none of both.
PortItem = Shot | OverRange | Rejected

_GROUPS = ("value", "unit", "position")

_NO_NUMBER = "|".join(map(re.escape, (*written.ABOVE_RANGE, *written.BELOW_RANGE)))
#: Position, name, value, unit; the names are what guns put before the temperature (common practice).
_DEFAULT = re.compile(
    r"(?:(?P<position>[A-Z]\d{1,2})[ \t,;:=]+)?"
    r"(?:(?:T|TEMP|TEMPERATURE|OBJ|TOBJ|IR)[ \t]*[:=]?[ \t]*)?"
    rf"(?P<value>[+-]?\d{{1,6}}(?:[.,]\d{{1,6}})?|{_NO_NUMBER}|-{{2,8}})"
    r"[ \t,;]*(?P<unit>(?:DEG[ \t]*)?[FC])?",
    re.ASCII | re.IGNORECASE,
)


def line_parser(grill: Grill, *, pattern: str | None = None, units: Units | None = None) -> Callable[[str], PortItem]:
    """Return the function that understands a line.

    `pattern` is a regular expression with a group named value, and maybe unit and position, searched for in the line;
    `units` those of lines which do not say them, the grill's when left out.

    Raises
    ------
    ReadingError
        When the pattern is no regular expression or has no group named value.
    """
    match_line = _DEFAULT.fullmatch if pattern is None else _compiled(pattern).search
    usual = units or grill.units

    def parse(text: str) -> PortItem:
        match = match_line(text)
        try:
            if match is None:
                raise ReadingError(_why_not(text, pattern))
            return _understood(match, text, usual, grill)
        except ReadingError as error:
            return Rejected(text=text, why=str(error))

    return parse


def _compiled(pattern: str) -> re.Pattern[str]:
    try:
        compiled = re.compile(pattern, re.ASCII)
    except re.error as error:
        raise ReadingError(f"--pattern {quoted(pattern)} is no regular expression: {error}") from None
    names = set(compiled.groupindex)
    if "value" not in names or names - set(_GROUPS):
        raise ReadingError(
            f"--pattern {quoted(pattern)}: name the number (?P<value>…), and if it is there "
            "(?P<unit>…) and (?P<position>…); no other names"
        )
    return compiled


def _why_not(text: str, pattern: str | None) -> str:
    if pattern is not None:
        return "it does not fit --pattern"
    if len(re.findall(r"\d+(?:[.,]\d+)?", text)) > 1:
        return "it has more than one number; say which one with --pattern"
    return "it is not one number; if it holds a reading, say where with --pattern"


def _understood(match: re.Match[str], text: str, usual: Units, grill: Grill) -> Shot | OverRange:
    groups = {name: (found or "").strip() for name, found in match.groupdict().items()}
    position = grill.label(groups["position"]) if groups.get("position") else ""
    value = groups["value"]
    if over := written.over_range_word(value):
        return OverRange(word=over, position=position)
    _check_whole(match, text)
    shown_c = written.checked_temperature_c(written.number_from_text(value), _units(groups.get("unit", ""), usual))
    return Shot(shown_c=shown_c, position=position)


def _units(text: str, usual: Units) -> Units:
    word = text.casefold().removeprefix("deg").strip(" \t°")
    if word not in ("", "f", "fahrenheit", "c", "celsius"):
        raise ReadingError(f"unit {quoted(text)} is not known; it must be F or C")
    return written.units_of_degree(word[0]) if word else usual


def _check_whole(match: re.Match[str], text: str) -> None:
    """Refuse a value that is a piece of a longer number: a pattern may stop too early or start too late."""
    before, after = text[: match.start("value")], text[match.end("value") :]
    if re.search(r"\d\.?$|(?:^|[\s=:,;])[+-]$", before) or re.match(r"\.?\d", after):
        raise ReadingError("--pattern cuts a longer number in two; let its value take all of it")
