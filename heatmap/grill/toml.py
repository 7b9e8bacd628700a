"""The grill file: TOML in, :class:`heatmap.grill.grill.Grill` out, and the way back."""

import re
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from heatmap.errors import GrillError, shortened
from heatmap.grill.burner import Burner
from heatmap.grill.grate import Point
from heatmap.grill.grill import SECTIONS, Grill
from heatmap.grill.schema import Key, OutOfRangeError, Section, keys_of, toml_text, written
from heatmap.units import Units, quantity_text

LARGEST_FILE_BYTES = 1_000_000
#: Tables within tables, deeper than any here: to read thousands of them takes gigabytes.
_NESTED = re.compile(r"""(?<![\w"'-])(?:[\w"'-]++\s*+\.\s*+){16}""")
#: No burner lies farther from the grate than this.
FARTHEST_MM = 10_000.0
#: An unknown key this like a known one is taken as a slip of the hand (`difflib.get_close_matches`).
_ALIKE = 0.7
#: Dials of ovens and cookers with a thermostat commonly span this (common practice, no source).
_SETPOINT_DIAL = {
    "us": {"low": 200.0, "high": 700.0, "step": 5.0},
    "si": {"low": 100.0, "high": 370.0, "step": 5.0},
}

_POINT = Key(kind="length", low=-FARTHEST_MM, high=FARTHEST_MM, parts=("x", "y"))
_TUBE = replace(_POINT, comment="an end of the tube, x then y: correct it")
_RADIUS = Key(kind="length", low=0.0, high=FARTHEST_MM, low_open=True)
#: How a file can say where the heat comes from: its keys in, corners of a line out.
_SHAPES: dict[tuple[str, ...], tuple[tuple[Key, ...], Callable[..., tuple[Point, ...]]]] = {
    ("from", "to"): ((_TUBE, _TUBE), lambda start, end: (start, end)),
    ("centre", "radius"): ((_POINT, _RADIUS), Burner.ring),
    ("path",): ((replace(_POINT, many=True, most=200, reason="no burner has more bends"),), lambda path: path),
}


_SHAPE_KEYS = {name: key for names, (keys, _) in _SHAPES.items() for name, key in zip(names, keys, strict=True)}
#: Every key of every table, in the order of the file.
KEYS: dict[str, dict[str, Key]] = {
    "": keys_of(Grill),
    **{name: keys_of(section) for name, section in SECTIONS.items()},
    "burner": {name: keys_of(Burner)[name] for name in ("name", "control")} | _SHAPE_KEYS | keys_of(Burner),
}


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

    What does not fit together, as a rim wider than the grate, is told of a table whose keys are all well, and of tables
    together when each of them is.

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
    reader = _Reader(_tables(_text_of(Path(path)), str(path)))
    return reader.grill, tuple(reader.problems)


def grill_from_toml(text: str, *, source: str = "grill.toml") -> Grill:
    """Read a grill from the text of a grill file; `source` is named in errors."""
    return grill_from_tables(_tables(text, source), source=source)


def grill_from_tables(tables: Mapping[str, Any], *, source: str) -> Grill:
    """Read a grill from tables as a TOML reader gives them; `source` is named in errors."""
    reader = _Reader(tables)
    if reader.grill is None:
        raise GrillError(f"{source}: {reader.problems[0]}")
    return reader.grill


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


def _tables(text: str, source: str) -> dict[str, Any]:
    if nested := _NESTED.search(text):
        raise GrillError(f"{source}: {shortened(nested[0])} is no key of a grill file; see: gratemap manual grill")
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # the last for brackets within brackets without end
        raise GrillError(f"{source}: not valid TOML: {shortened(str(error))}") from None


class _Reader:
    """Reads a grill from its tables; everything is looked at before the first thing wrong is told."""

    def __init__(self, tables: Mapping[str, Any]) -> None:
        self.units: Units = "us"
        self.problems: list[str] = []  # what is wrong, in the units of the file
        self.grill: Grill | None = None  # where nothing is
        whole: dict[str, Any] = self._values("", KEYS[""], tables)
        if "units" in tables and "units" not in whole:
            return  # no other number could be told
        self.units = whole.get("units", "us")
        self._unknown("", tables, [*KEYS[""], "burner", *SECTIONS])
        for name, section in SECTIONS.items():
            values = tables.get(name, {})
            if not isinstance(values, dict):
                self.problems.append(f"{name} is {written(values)}; it must be a table: [{name}]")
            else:
                whole[name] = self._part(section, f"{name}.", values)
        entries = tables.get("burner", [])
        if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
            self.problems.append("burner must be written [[burner]], once for each")
            entries = []
        whole["burners"] = tuple(self._burner(entry, number) for number, entry in enumerate(entries, 1))
        if not self.problems and (grill := self._made(Grill, whole)):
            self.grill = replace(grill, assumed=tuple(_assumed(grill, tables)))

    def _burner(self, entry: Mapping[str, Any], number: int) -> Any:
        name = entry.get("name")
        prefix = f'burner "{shortened(name)}": ' if isinstance(name, str) else f"burner {number}: "
        if "centre" not in entry:  # "center", as it is spelled on the other side of the ocean
            entry = {"centre" if key == "center" else key: entry[key] for key in entry}
        return self._part(Burner, prefix, entry)

    def _part(self, section: type[Any], prefix: str, values: Mapping[str, Any]) -> Any:
        """Return what a table describes, or None where anything in it is wrong."""
        count = len(self.problems)
        self._unknown(prefix, values, KEYS[section.table])
        found = self._values(prefix, KEYS[section.table], values)
        if found.get("shape") == "round" and "width_mm" in found:
            found = {"depth_mm": found["width_mm"]} | found
        if found.get("control") == "setpoint":
            found = _SETPOINT_DIAL[self.units] | found
        for name, key in keys_of(section).items():
            if key.required and name not in values and key.attribute not in found:
                self.problems.append(f"{prefix}{name} is missing; it has no default")
        if section is Burner:
            found["points_mm"] = self._points_mm(prefix, values, found)
        return self._made(section, found) if len(self.problems) == count else None

    def _values(self, prefix: str, keys: Mapping[str, Key], values: Mapping[str, Any]) -> dict[str, Any]:
        """Read the keys that are there, by the attribute that holds each; every value that cannot be is a problem."""
        found = {}
        for name, key in keys.items():
            if name in values:
                try:
                    found[key.attribute or name] = key.read(f"{prefix}{name}", values[name], self.units)
                except GrillError as problem:
                    self.problems.append(str(problem))
        return found

    def _points_mm(self, prefix: str, entry: Mapping[str, Any], found: dict[str, Any]) -> tuple[Point, ...]:
        """Return where the heat comes from, corners of a line, in the place of what was found of it."""
        present = [names for names in _SHAPES if any(name in entry for name in names)]
        if len(present) > 1 or not all(name in entry for names in present for name in names):
            self.problems.append(f"{prefix}give from and to, or centre and radius, or path, and only one of these")
        elif present and all(name in found for name in present[0]):
            return _SHAPES[present[0]][1](*(found.pop(name) for name in present[0]))
        return ()

    def _made(self, section: type[Any], given: Mapping[str, Any]) -> Any:
        try:
            return section(**given)
        except GrillError as problem:
            for fault in (problem, *problem.also):
                self.problems.append(fault.in_units(self.units) if isinstance(fault, OutOfRangeError) else str(fault))
            return None

    def _unknown(self, prefix: str, values: Mapping[str, Any], known: Iterable[str]) -> None:
        """Tell each key that is not known, with the one that may have been meant."""
        names = list(known)
        for key in values:
            if key in names:
                continue
            import difflib  # only where something is wrong

            alike = difflib.get_close_matches(key.casefold(), names, n=1, cutoff=_ALIKE)
            homes = [name for name in SECTIONS if key in KEYS[name]]
            if alike:
                hint = f"did you mean {alike[0]}? Known here: {', '.join(names)}"
            elif len(homes) == 1:
                hint = f"it belongs in [{homes[0]}]"
            else:
                hint = f"known here: {', '.join(names)}"
            self.problems.append(f"{prefix}{shortened(key)} is not a key of a grill file; {hint}")


def _assumed(grill: Grill, tables: Mapping[str, Any]) -> Iterator[str]:
    """Yield every default that was taken because the file is silent, in words."""
    grate, by_number = grill.grate, grill.grate.emissivity is not None
    unasked = {"depth"} if grate.is_round else set()
    unasked |= ({"finish"} if by_number else set()) | (_OF_RAILS if grate.surface == "plate" else set())
    taken = replace(grate, valley=grill.valley, emissivity_sd=grate.rail_emissivity_sd if by_number else None)
    if "units" not in tables:
        yield 'units = "us"'
    silent: list[tuple[Section, set[str]]] = [
        (taken if name == "grate" else getattr(grill, name), {*KEYS[name]} - {*tables.get(name, ())} - unasked)
        for name in SECTIONS
    ]
    for burner, entry in zip(grill.burners, tables.get("burner", ()), strict=True):
        dial = () if burner.control == "none" else ("low", "high") if burner.marks else ("low", "high", "step")
        silent.append((burner, {"control", *dial} - {*entry}))
    for part, names in silent:
        for name, key in keys_of(type(part)).items():
            if name in names and (value := getattr(part, key.attribute)) not in (None, ()):
                text = toml_text(value) if isinstance(value, str) else quantity_text(value, key.kind, grill.units)
                yield f"{part.prefix()}{name} = {text}"


#: What a plate has none of.
_OF_RAILS = {"valley", "rails", "rail_pitch", "rail_top", "rail_height", "seams"}


def toml_from_grill(grill: Grill, *, comment: str = "") -> str:
    """Write every key of a grill as a grill file; reading it back gives the same grill."""
    told = {name: _shown(getattr(grill, name), grill.units) for name in SECTIONS}
    tables: dict[str, Any] = _shown(grill, grill.units) | {name: table for name, table in told.items() if table}
    tables["burner"] = [
        _shown(burner, grill.units) | {"path": _SHAPE_KEYS["path"].shown(burner.points_mm, grill.units)}
        for burner in grill.burners
    ]
    return toml_from_tables(tables, comment=comment)


def _shown(section: Any, units: Units) -> dict[str, Any]:
    """Return the values of a table as a file says them; what was not said is left out."""
    values = {name: (key, getattr(section, key.attribute)) for name, key in keys_of(type(section)).items()}
    return {name: key.shown(value, units) for name, (key, value) in values.items() if value is not None}


def toml_from_tables(tables: Mapping[str, Any], *, comment: str = "") -> str:
    """Write a grill file from tables as a TOML reader gives them, with what is to be said beside each key."""
    lines = [f"# {line}" for line in comment.splitlines()]
    for name, content in tables.items():
        if isinstance(content, str):
            lines.append(f"{name} = {_toml(content)}")
            continue
        heading = f"[[{name}]]" if isinstance(content, list) else f"[{name}]"
        for table in content if isinstance(content, list) else [content]:
            lines += ["", heading, *(_line(name, key, value) for key, value in table.items() if value != [])]
    return "\n".join(lines) + "\n"


def _line(table: str, key: str, value: Any) -> str:
    beside, line = KEYS[table][key].comment, f"{key} = {_toml(value)}"
    return f"{line:<29}# {beside}" if beside else line


def _toml(value: Any) -> str:
    if isinstance(value, str):
        return toml_text(value)
    return f"[{', '.join(map(_toml, value))}]" if isinstance(value, list) else f"{value:.9g}"
