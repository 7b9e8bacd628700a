"""The grill file: TOML in, :class:`heatmap.grill.grill.Grill` out; :mod:`heatmap.grill.writing` is the way back."""

from __future__ import annotations

import dataclasses
import tomllib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, TypeVar

from heatmap.errors import GrillError
from heatmap.grill.grill import USUAL_EMISSIVITY_SD, Burner, Grill, Point, usual_valley
from heatmap.grill.keys import SECTIONS, key_of, quoted
from heatmap.grill.quantities import OutOfRangeError, Units, inside_value, shown_value, unit_name

Section = TypeVar("Section")
LARGEST_FILE_BYTES = 1_000_000
LONGEST_TEXT = 80
#: Nothing about a grill needs a larger number.
LARGEST_NUMBER = 1e9
#: No burner lies farther from the grate than this.
FARTHEST_MM = 10_000.0
_BURNER_KEYS = ("name", "control", "from", "to", "centre", "radius", "path", "low", "high", "step", "marks")
#: What stands in for a value that must be there and is not, so that the rest can be looked at.
_STAND_INS: dict[str, Any] = {"width_mm": 600.0, "depth_mm": 450.0, "low_c": 288.0, "high_c": 316.0}
#: An unknown key this like a known one is taken as a slip of the hand (`difflib.get_close_matches`).
_ALIKE = 0.7
#: Dials of ovens and cookers with a thermostat commonly span this (common practice, no source): low, high,
#: step.
_SETPOINT_DIAL = {"us": (200.0, 700.0, 5.0), "si": (100.0, 370.0, 5.0)}


def load_grill(path: str | Path) -> Grill:
    """Read a grill file.

    Parameters
    ----------
    path : str or Path
        A TOML file as `gratemap grill new` writes it.

    Returns
    -------
    Grill

    Raises
    ------
    GrillError
        One line naming the file, the key, the value and what is allowed.
    """
    return grill_from_toml(_text_of(Path(path)), source=str(path))


def check_grill(path: str | Path) -> tuple[Grill | None, tuple[str, ...]]:
    """Read a grill file and gather everything that is wrong in it.

    Returns
    -------
    grill : Grill or None
        None when something is wrong.
    problems : tuple of str
        One line each, in the order of the file's parts.

    Raises
    ------
    GrillError
        When there is no such file, or it is not TOML.
    """
    tables = _tables(_text_of(Path(path)), str(path))
    units = tables.get("units", "us")
    grill, problems = _grill(tables, units if units in ("us", "si") else "us")
    return grill, tuple(_told(problem, units) for problem in problems)


def _text_of(path: Path) -> str:
    try:
        with path.open("rb") as file:
            raw = file.read(LARGEST_FILE_BYTES + 1)
    except FileNotFoundError:
        raise GrillError(
            f"{path}: no such grill file; make one with: gratemap grill new, or name yours with --grill FILE"
        ) from None
    except OSError as error:
        raise GrillError(f"{path}: cannot be read: {error.strerror or error}") from None
    if len(raw) > LARGEST_FILE_BYTES:
        raise GrillError(f"{path}: larger than {LARGEST_FILE_BYTES:,} bytes; that is no grill file")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise GrillError(f"{path}: not text in UTF-8; a grill file is TOML, see: gratemap manual grill") from None


def grill_from_toml(text: str, *, source: str = "grill.toml") -> Grill:
    """Read a grill from the text of a grill file; `source` is named in errors."""
    return grill_from_tables(_tables(text, source), source=source)


def _tables(text: str, source: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # the last for brackets within brackets without end
        raise GrillError(f"{source}: not valid TOML: {_short(str(error))}") from None


def grill_from_tables(tables: Mapping[str, Any], *, source: str) -> Grill:
    """Read a grill from tables as a TOML reader gives them; `source` is named in errors."""
    units = tables.get("units", "us")
    grill, problems = _grill(tables, units if units in ("us", "si") else "us")
    if grill is None:
        raise GrillError(f"{source}: {_told(problems[0], units)}")
    return grill


def _told(problem: GrillError, units: Units) -> str:
    """Return what is wrong in the units of the file."""
    if not isinstance(problem, OutOfRangeError):
        return str(problem)
    advice = "; for common finishes see: gratemap manual physics" if "emissivity" in problem.key else ""
    return f"{problem.in_units(units)}{advice}"


class _Problems(list[GrillError]):
    """What is wrong, in order; everything is looked at before the first of it is told."""

    def of(self, read: Callable[..., Any], *arguments: Any) -> Any:
        """Return what `read` returns; None, and one problem more, when it finds something wrong."""
        try:
            return read(*arguments)
        except GrillError as error:
            self.append(error)
            return None


def _grill(table: Mapping[str, Any], units: Units) -> tuple[Grill | None, list[GrillError]]:
    problems = _Problems()
    written = table.get("units", "us")
    if written not in ("us", "si"):
        why = 'it must be "us" (°F and inches) or "si" (°C and mm)'
        return None, [GrillError(f"units is {_written(written)}; {why}")]  # no other number could be told
    problems += _unknown("", table, ("units", "name", "burner", *SECTIONS))
    title = problems.of(_text, "name", table.get("name", ""))
    assumed: list[str] = [] if "units" in table else ['units = "us"']
    built: dict[str, Any] = {}
    for name, what in (
        ("grate", "width and depth"),
        ("target", "low and high, the band you want; it is never assumed"),
    ):
        if name not in table:
            problems.append(GrillError(f"[{name}] is missing; give it {what}"))
    for name, kind in SECTIONS.items():
        values = table.get(name, {})
        if not isinstance(values, dict):
            problems.append(GrillError(f"{name} is {_written(values)}; it must be a table: [{name}]"))
        elif name in table or name not in ("grate", "target"):
            built[name] = _section(name, kind, values, units, assumed, problems)
    burners = table.get("burner", [])
    if not isinstance(burners, list) or not all(isinstance(entry, dict) for entry in burners):
        problems.append(GrillError("burner must be written [[burner]], once for each"))
        burners = []
    for index, entry in enumerate(burners, 1):
        problems += _unknown(f"{_burner_key(entry, index)}: ", entry, _BURNER_KEYS)
    read = [problems.of(_burner, entry, index, units, assumed) for index, entry in enumerate(burners, 1)]
    if problems:
        return None, problems
    if built["grate"].valley is None:
        assumed.append(f'grate.valley = "{usual_valley(read)}"')
    whole = {"units": units, "name": title, "assumed": tuple(assumed), "burners": tuple(read), **built}
    return problems.of(lambda: Grill(**whole)), problems


def _section(
    name: str,
    kind: type[Section],
    values: Mapping[str, Any],
    units: Units,
    assumed: list[str],
    problems: _Problems,
) -> Section | None:
    """Read one table; every value of it that cannot be is a problem."""
    items = {key_of(item): item for item in dataclasses.fields(kind)}  # type: ignore[arg-type]
    count = len(problems)
    problems += _unknown(f"{name}.", values, tuple(items))
    given: dict[str, Any] = {}
    for key, item in items.items():
        if key in values:
            value = problems.of(_value, f"{name}.{key}", values[key], item, units)
            if value is not None:
                given[item.name] = value
        elif item.default is dataclasses.MISSING and item.default_factory is dataclasses.MISSING:
            problems.append(GrillError(f"{name}.{key} is missing; it has no default"))
        elif key == "emissivity_sd" and name == "grate" and "emissivity" in values:
            assumed.append(f"grate.emissivity_sd = {USUAL_EMISSIVITY_SD:g}")
        elif item.default not in (None, ()) and not (key == "finish" and "emissivity" in values):
            assumed.append(_assumed_line(name, key, item, units))
    return _checked(name, kind, given, problems, whole=len(problems) == count)


def _checked(
    name: str, kind: type[Section], given: dict[str, Any], problems: _Problems, *, whole: bool
) -> Section | None:
    """Make a section; a value out of range is a problem, and the others are looked at without it.

    What is held against another value is told only where that is the cook's own and not one that stands in.
    """
    items = {item.name: item for item in dataclasses.fields(kind)}  # type: ignore[arg-type]
    left = {field: value for field, value in _STAND_INS.items() if field in items} | given
    while True:
        try:
            section = kind(**left)
        except GrillError as error:
            if whole or not getattr(error, "limit", ""):
                problems.append(error)
            whole = False
            fault = error.key if isinstance(error, OutOfRangeError) else str(error).partition(" ")[0]
            at_fault = [field for field in given if fault in (f"{name}.{key_of(items[field])}", key_of(items[field]))]
            if not at_fault or left.get(at_fault[0]) != given[at_fault[0]]:
                return None
            del left[at_fault[0]]
            if at_fault[0] in _STAND_INS:
                left[at_fault[0]] = _STAND_INS[at_fault[0]]
        else:
            return section if whole else None


def _assumed_line(name: str, key: str, item: dataclasses.Field[Any], units: Units) -> str:
    value: Any = item.default
    if isinstance(value, str):
        return f'{name}.{key} = "{value}"'
    kind = item.metadata.get("kind", "number")
    return f"{name}.{key} = {round(shown_value(value, kind, units), 3):g}{unit_name(kind, units)}"


def _value(key: str, value: Any, item: dataclasses.Field[Any], units: Units) -> Any:
    if key == "gun.own_temperature" and isinstance(value, str):
        return value
    if "kind" in item.metadata:
        return inside_value(_number(key, value), item.metadata["kind"], units)
    if item.name == "seams_mm":
        return tuple(inside_value(_number(key, seam), "length", units) for seam in _list(key, value))
    if item.name in ("rows", "columns"):
        if isinstance(value, bool) or not isinstance(value, int):
            raise GrillError(f"{key} is {_written(value)}; it must be a whole number")
        return int(_number(key, value))
    return _text(key, value)


def _text(key: str, value: Any) -> str:
    if not isinstance(value, str):
        raise GrillError(f"{key} is {_written(value)}; it must be text in quotes")
    if len(value) > LONGEST_TEXT or not value.isprintable():
        raise GrillError(f"{key} is {_written(value)}; it must be one line of at most {LONGEST_TEXT} characters")
    return value


def _written(value: Any) -> str:
    """Return a value as a grill file has it, in one line and not too long."""
    if value is None:
        return "missing"
    if isinstance(value, bool):
        return "true" if value else "false"
    return quoted(_short(value)) if isinstance(value, str) else _short(str(value))


def _short(text: str) -> str:
    line = "".join(letter if letter.isprintable() else " " for letter in text)
    return line if len(line) <= LONGEST_TEXT else f"{line[: LONGEST_TEXT - 1]}…"


def _number(key: str, value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise GrillError(f"{key} is {_written(value)}; it must be a plain number")
    if not -LARGEST_NUMBER <= value <= LARGEST_NUMBER:
        raise GrillError(f"{key} is {_short(f'{value}')}; it must be a plain number of a sensible size")
    return float(value)


def _list(key: str, value: Any) -> list[Any]:
    if not isinstance(value, list):
        raise GrillError(f"{key} is {_written(value)}; it must be a list in brackets")
    return value


def _point(key: str, value: Any, units: Units) -> Point:
    pair = _list(key, value)
    if len(pair) != 2:
        raise GrillError(f"{key} is {_written(value)}; it must be [x, y]")
    x_mm, y_mm = (inside_value(_number(key, number), "length", units) for number in pair)
    for number in (x_mm, y_mm):
        if abs(number) > FARTHEST_MM:
            raise OutOfRangeError(key, number, -FARTHEST_MM, FARTHEST_MM, "length")
    return (x_mm, y_mm)


def _unknown(prefix: str, values: Mapping[str, Any], known: tuple[str, ...]) -> list[GrillError]:
    """Return one problem for each key that is not known, with the one that may have been meant."""
    found = []
    for key in values:
        if key in known:
            continue
        import difflib  # only where something is wrong

        alike = difflib.get_close_matches(key.casefold(), known, n=1, cutoff=_ALIKE)
        home = [name for name, kind in SECTIONS.items() if key in map(key_of, dataclasses.fields(kind))]
        if alike:
            hint = f"did you mean {alike[0]}? Known here: {', '.join(known)}"
        elif len(home) == 1:
            hint = f"it belongs in [{home[0]}]"
        else:
            hint = f"known here: {', '.join(known)}"
        found.append(GrillError(f"{prefix}{_short(key)} is not a key of a grill file; {hint}"))
    return found


def _burner_key(entry: Mapping[str, Any], index: int) -> str:
    name = entry.get("name")
    return f'burner "{_short(name)}"' if isinstance(name, str) else f"burner {index}"


def _burner(entry: Mapping[str, Any], index: int, units: Units, assumed: list[str]) -> Burner:
    name = entry.get("name")
    name = _text(f"burner {index}: name", name)
    key = _burner_key(entry, index)
    control = entry.get("control", "knob")
    control = _text(f"{key}: control", control)
    marks = tuple(_text(f"{key}: marks", mark) for mark in _list(f"{key}: marks", entry.get("marks", [])))
    low, high, step = _SETPOINT_DIAL[units] if control == "setpoint" else (1.0, 10.0, 0.5)
    numbers = {"low": low, "high": high, "step": step}
    if "control" not in entry:
        assumed.append(f'{key}: control = "knob"')
    for field_name, default in numbers.items():
        if field_name in entry:
            numbers[field_name] = _number(f"{key}: {field_name}", entry[field_name])
        elif control in ("knob", "setpoint", "vents") and not (field_name == "step" and marks):
            assumed.append(f"{key}: {field_name} = {default:g}")
    if marks and "step" not in entry and len(marks) > 1:
        numbers["step"] = (numbers["high"] - numbers["low"]) / (len(marks) - 1)
    return Burner(
        name=name,
        control=control,  # type: ignore[arg-type]
        points_mm=_burner_points(entry, key, units),
        marks=marks,
        **numbers,
    )


def _burner_points(entry: Mapping[str, Any], key: str, units: Units) -> tuple[Point, ...]:
    """Read where the heat comes from. A new burner shape is added here: its keys in, corners of a line
    out."""
    shapes: dict[tuple[str, ...], Callable[[], tuple[Point, ...]]] = {
        ("from", "to"): lambda: (
            _point(f"{key}: from", entry["from"], units),
            _point(f"{key}: to", entry["to"], units),
        ),
        ("centre", "radius"): lambda: _ring(entry, key, units),
        ("path",): lambda: tuple(_point(f"{key}: path", pair, units) for pair in _list(f"{key}: path", entry["path"])),
    }
    present = [keys for keys in shapes if any(one in entry for one in keys)]
    if not present:
        return ()
    if len(present) > 1 or not all(one in entry for one in present[0]):
        raise GrillError(f"{key}: give from and to, or centre and radius, or path, and only one of these")
    points_mm = shapes[present[0]]()
    if not points_mm:
        raise GrillError(f"{key}: path is empty; give at least one [x, y]")
    return points_mm


def _ring(entry: Mapping[str, Any], key: str, units: Units) -> tuple[Point, ...]:
    radius_mm = inside_value(_number(f"{key}: radius", entry["radius"]), "length", units)
    if not 0 < radius_mm <= FARTHEST_MM:
        raise OutOfRangeError(f"{key}: radius", radius_mm, 0.0, FARTHEST_MM, "length", low_open=True)
    return Burner.ring(_point(f"{key}: centre", entry["centre"], units), radius_mm)
