"""What may stand behind each key of the grill file: declared once, at the field that holds it.

A field's :class:`Key` serves the check of the value, the reader, the writer, the questions of `grill new` and the words
of every error. A new key of the grill file is a new field with :func:`key`.
"""

import functools
import math
from collections.abc import Iterator
from dataclasses import MISSING, dataclass, field, fields, replace
from typing import Any, ClassVar, Literal, get_args, get_origin, get_type_hints

from heatmap.errors import GrillError, quoted, shortened
from heatmap.units import SUFFIX, Kind, Units, inside_value, shown_value, unit_name

LONGEST_TEXT = 80
#: Nothing about a grill needs a larger number.
LARGEST_NUMBER = 1e9


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """What may stand behind a key: numbers with their limits in mm and °C, words, or lists of either.

    Attributes
    ----------
    kind : str
        Of each number; "count" is a whole number.
    low, high : float
    low_open : bool
        Whether `low` itself is not allowed.
    words : tuple of str
        The only texts allowed; beside a number where the kind is one. Any line where there are none. Those of the
        field's type where that is a Literal.
    parts : tuple of str
        Names of the numbers in a list of just so many: ("x", "y").
    many : bool
        Whether it is a list, of no more than `most`.
    reason : str
        Why the limits are where they are, for who runs into one.
    comment : str
        What the file says beside it.
    required : bool
        Whether it must be given.
    attribute : str
        Of its section, as :func:`keys_of` tells it.
    """

    kind: Kind = "text"
    low: float = -math.inf
    high: float = math.inf
    low_open: bool = False
    words: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    many: bool = False
    most: int = 20
    reason: str = ""
    comment: str = ""
    required: bool = False
    attribute: str = ""

    def read(self, name: str, value: Any, units: Units) -> Any:
        """Return what a file says under this name as it is kept inside: in mm and °C, lists as tuples.

        Raises
        ------
        GrillError
            Naming the key, the value and what is allowed.
        """
        if self.many:
            found: Any = tuple(self._read_one(name, part, units) for part in _list(name, value))
        else:
            found = self._read_one(name, value, units)
        self.check(name, found, units)
        return found

    def _read_one(self, name: str, value: Any, units: Units) -> Any:
        types = str if self.kind == "text" else (str, list) if self.parts else (str, int, float)
        if self.words and (isinstance(value, bool) or not isinstance(value, types)):
            raise self._none_of_its_words(name, value)
        if self.kind == "text" or (self.words and isinstance(value, str)):
            return _line(name, value)
        if not self.parts:
            return self._read_number(name, value, units)
        listed = _list(name, value)
        if len(listed) != len(self.parts):
            raise GrillError(f"{name} is {written(value)}; it must be [{', '.join(self.parts)}]")
        return tuple(self._read_number(name, part, units) for part in listed)

    def _read_number(self, name: str, value: Any, units: Units) -> float:
        allowed, which = (int, "whole") if self.kind == "count" else ((int, float), "plain")
        if isinstance(value, bool) or not isinstance(value, allowed):
            raise GrillError(f"{name} is {written(value)}; it must be a {which} number")
        if not -LARGEST_NUMBER <= value <= LARGEST_NUMBER:
            raise GrillError(f"{name} is {written(value)}; it must be a plain number of a sensible size")
        return value if self.kind == "count" else inside_value(float(value), self.kind, units)

    def check(self, name: str, value: Any, units: Units = "si") -> None:
        """Refuse an inside value that is not allowed, in words of these units; None, not said, is passed over.

        Raises
        ------
        GrillError
            As :meth:`read`.
        """
        why = f": {self.reason}" if self.reason else ""
        if isinstance(value, tuple):
            if self.many and len(value) > self.most:
                raise GrillError(f"{name} is a list of {len(value)}; it must be of at most {self.most}{why}")
            for part in value:
                self.check(name, part, units)
        elif isinstance(value, str):
            if self.words and value not in self.words:
                raise self._none_of_its_words(name, value)
        elif value is not None and (not self.low <= value <= self.high or (self.low_open and value == self.low)):
            raise OutOfRangeError(name, value, self, units=units)

    def _none_of_its_words(self, name: str, value: Any) -> GrillError:
        number = [f"[{', '.join(self.parts)}]"] if self.parts else [f"a {self.kind}"]
        *others, last = [*(number if self.kind != "text" else []), *map(quoted, self.words)]
        why = f": {self.reason}" if self.reason else ""
        return GrillError(f"{name} is {written(value)}; it must be {', '.join(others)} or {last}{why}")

    def shown(self, value: Any, units: Units) -> Any:
        """Return an inside value as a file says it: the way back from :meth:`read`."""
        if isinstance(value, tuple):
            return [self.shown(part, units) for part in value]
        return value if isinstance(value, str) else round(shown_value(value, self.kind, units), 6)


class OutOfRangeError(GrillError):
    """A number of the grill is outside what its key allows; can say so in the units the cook wrote.

    Where the upper limit is another number of the grill, `limit` names it, and the value must lie below it.
    """

    def __init__(self, name: str, value: float, key: Key, limit: str = "", units: Units = "si") -> None:
        self.name, self.value, self.key, self.limit = name, value, key, limit
        super().__init__(self.in_units(units))

    def in_units(self, units: Units) -> str:
        """Return the message with its numbers in °F and inches (us) or °C and mm (si)."""
        key = self.key
        value, low, high = (shown_value(number, key.kind, units) for number in (self.value, key.low, key.high))
        floor = f"above {low:.4g}" if key.low_open else f"at least {low:.4g}"
        ceiling = "" if math.isinf(high) else f" and {'below' if self.limit else 'at most'} {high:.4g}"
        unit = unit_name(key.kind, units)
        limit = f", {self.limit}" if self.limit else ""
        reason = f": {key.reason}" if key.reason else ""
        return f"{self.name} is {value:.6g}{unit}; it must be {floor}{ceiling}{unit}{limit}{reason}"


def key(
    kind: Kind = "text", low: float = -math.inf, high: float = math.inf, *, default: Any = MISSING, **more: Any
) -> Any:
    """Declare a field of the grill with its :class:`Key`; a field without a default must be given."""
    held = Key(kind=kind, low=low, high=high, required=default is MISSING, **more)
    return field(default=default, metadata={"key": held})


def keys_of(section: Any) -> dict[str, Key]:
    """Return the keys of a table by their names in a grill file, which say no unit."""
    return _keys_of(section)


@functools.cache
def _keys_of(section: Any) -> dict[str, Key]:
    declared = {item.name: item.metadata["key"] for item in fields(section) if "key" in item.metadata}
    types = get_type_hints(section)
    keys = [replace(key, attribute=name, words=key.words or _words_of(types[name])) for name, key in declared.items()]
    return {key.attribute.removesuffix(SUFFIX.get(key.kind, "")): key for key in keys}


def _words_of(hint: Any) -> tuple[str, ...]:
    """Return the texts that a type allows: "air" and "none" of ``float | Literal["air", "none"]``."""
    if get_origin(hint) is Literal:
        return get_args(hint)
    return tuple(word for part in get_args(hint) for word in _words_of(part))


class Section:
    """A table of the grill file; refuses, when it is made, values that are not allowed."""

    __slots__ = ()
    table: ClassVar[str] = ""

    def __init_subclass__(cls, table: str = "") -> None:
        cls.table = table or cls.table  # a dataclass with slots is made twice

    def __post_init__(self) -> None:
        for name, key in keys_of(type(self)).items():
            key.check(f"{self.prefix()}{name}", getattr(self, key.attribute))
        if faults := list(self.faults()):
            faults[0].also = tuple(faults[1:])
            raise faults[0]

    def prefix(self) -> str:
        """Return what stands before a key in a message."""
        return f"{self.table}." if self.table else ""

    def too_large(self, name: str, most: float, limit: str, value: Any = None) -> OutOfRangeError:
        """Return the fault of a value, or one of several, that is not below another value of the grill."""
        key = keys_of(type(self))[name]
        allowed = replace(key, high=most, reason="")
        value = getattr(self, key.attribute) if value is None else value
        return OutOfRangeError(f"{self.prefix()}{name}", value, allowed, limit)

    def faults(self) -> Iterator[GrillError]:
        """Yield what is wrong between values that are each allowed."""
        return iter(())


def toml_text(text: str) -> str:
    """Return a text as TOML has it."""
    marked = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(letter if letter.isprintable() else " " for letter in marked) + '"'


def written(value: Any) -> str:
    """Return a value as a grill file has it, in one line and not too long."""
    if isinstance(value, bool):
        return "true" if value else "false"
    try:
        return quoted(value, LONGEST_TEXT) if isinstance(value, str) else shortened(str(value))
    except ValueError:  # Python writes no whole number of more than 4,300 digits (sys.set_int_max_str_digits)
        return "a number without end"


def _line(name: str, value: Any) -> str:
    if not isinstance(value, str):
        raise GrillError(f"{name} is {written(value)}; it must be text in quotes")
    if len(value) > LONGEST_TEXT or not value.isprintable():
        raise GrillError(f"{name} is {written(value)}; it must be one line of at most {LONGEST_TEXT} characters")
    return value


def _list(name: str, value: Any) -> list[Any]:
    if not isinstance(value, list):
        raise GrillError(f"{name} is {written(value)}; it must be a list in brackets")
    return value
