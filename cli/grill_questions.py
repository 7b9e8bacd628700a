"""The questions of `gratemap grill new`: few, each with a default; `?` helps, `<` goes back, no answer is lost."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import partial
from typing import Any, TypeVar

from cli import console
from cli.grate_drawing import grate_drawing
from heatmap.errors import GrillError
from heatmap.grill.grill import ZONES, Burner, Grate, Gun, Positions, TargetBand, burner_key
from heatmap.grill.layout import Lie, in_order, lay_out, middle_of, moved_to, on_disc, usual_names
from heatmap.grill.quantities import Units, inside_value, shown_value
from heatmap.grill.schema import LONGEST_TEXT, Section, keys_of, told
from heatmap.grill.toml import grill_from_tables

Tables = dict[str, Any]
Answer = TypeVar("Answer")

_NUMBER = r"\d+(?:[.,]\d+)?"
#: 24, 24.5, 24 1/2, 3/4, each with or without a unit.
_LENGTH = re.compile(rf"(?:({_NUMBER})(?:\s+|$|(?=[a-z\"]))|)(?:(\d+)/([1-9]\d*))?\s*(in|inch|inches|\"|mm|cm)?", re.I)
_IN_MM = {"in": 25.4, "inch": 25.4, "inches": 25.4, '"': 25.4, "mm": 1.0, "cm": 10.0}
_PAIR = re.compile(rf"({_NUMBER})\s*°?([fc])?\s*(?:-|–|,|\bto\b|\s)\s*({_NUMBER})\s*°?([fc])?", re.I)
_CLOCK = re.compile(
    r"(?:clock)?\s*(\d\d?)(?::([03]0))?\s*(?:-|–|,|\bto\b|\s)\s*(\d\d?)(?::([03]0))?\s*(?:o'?clock)?", re.I
)
_ROUND = re.compile(r"\b(?:round|kettle|diameter|across)\b", re.I)
_PLATE = re.compile(r"\b(?:solid|flat|plate|griddle)\b(?!d)", re.I)
#: Whoever types a number of inches above this without a unit may mean centimetres.
_LARGEST_BARE_IN = 48.0
#: How many positions there can be, in rows and columns, for a grate wider than deep and for a round one.
_LAYOUTS = {12: ((3, 4), (4, 4)), 20: ((4, 5), (6, 4)), 24: ((4, 6), (6, 6))}
_LIES: dict[str, tuple[str, ...]] = {
    "front-to-back": ("fb", "front to back", "lengthwise"),
    "left-to-right": ("lr", "left to right", "across", "side to side"),
    "rings": ("ring",),
    "one": ("1", "one burner"),
    "coals": ("coal", "charcoal", "wood"),
    "none": ("-", "no"),
}
_ORDER = {
    "front-to-back": "from the left",
    "left-to-right": "from the front",
    "rings": "from the middle outwards",
}
_USUAL_BAND = {"us": "550-600", "si": "290-315"}


_IS_IT_SO = "Is it so? yes, no; 12, 20 or 24 positions; or move a burner"
_YES = ("yes", "y", "ok", "right")


class _BackError(Exception):
    """So many of the answers given are to be asked for again, the last first."""

    def __init__(self, steps: int = 1) -> None:
        self.steps = steps


#: More than there are questions.
_ALL = 1000


class _Dialogue:
    """Puts questions in their order; to go back is to put them all again and to answer all but the last as before."""

    def __init__(self) -> None:
        self._given: list[tuple[str, str]] = []
        self._at = 0
        self._before: dict[str, str] = {}

    @property
    def is_replayed(self) -> bool:
        """Whether the next question was answered before."""
        return self._at < len(self._given)

    def ask(self, text: str, usual: str, help_: str, read: Callable[[str], Answer]) -> Answer:
        """Put a question until its answer can be read; a GrillError of `read` says what is wrong with one."""
        if self.is_replayed:
            self._at += 1
            return read(self._given[self._at - 1][1])
        usual = self._before.get(text, usual)
        while True:
            line = console.ask(text, usual)
            if line == "?":
                console.talk(f"  {help_}")
                continue
            if line == "<":
                raise _BackError
            try:
                answer = read(line or usual)
            except GrillError as error:
                console.talk(f"  {error}")
                continue
            self._given.append((text, line or usual))
            self._at += 1
            return answer

    def go_back(self, steps: int) -> None:
        """Begin again with all but so many of the answers; what is asked again has its answer in its brackets."""
        kept = max(len(self._given) - steps, 0)
        self._before |= {text: line for text, line in self._given[kept:] if text != _IS_IT_SO}
        self._at, self._given = 0, self._given[:kept]


def grill_answers() -> Tables:
    """Ask what a grill file needs; return its tables."""
    dialogue = _Dialogue()
    while True:
        try:
            return _tables(dialogue)
        except _BackError as back:
            dialogue.go_back(back.steps)


def _tables(dialogue: _Dialogue) -> Tables:
    tables = _drawn(_described(dialogue), dialogue)
    units: Units = tables["units"]
    tables["target"] = dialogue.ask(
        f"The band you want, as your gun shows it, {'°F' if units == 'us' else '°C'}",
        _USUAL_BAND[units],
        "Low and high. 550 600 rail: true rail temperatures, not what the gun shows. 550 600 left half: only that "
        "part should be in band, for a fire of two zones (left, right, front, back; half, third, two thirds).",
        partial(_band, units=units),
    )
    tables["gun"] = dialogue.ask(
        "Gun: distance to spot, and the emissivity it is set to",
        "12:1 0.95",
        "Both stand on its label or in its menu; 12:1 sees a spot of 1 in from 12 in. Most are fixed at 0.95.",
        _gun,
    )
    return tables


def _described(dialogue: _Dialogue) -> Tables:
    """Ask for the grate and its burners; return tables with all else as is usual.

    On a small grate the positions and the rim are drawn in, so that they fit.
    """
    units, is_round, width, depth = dialogue.ask(
        "Grate, width x depth in inches, or round and its width",
        "24 x 18",
        "Width from left to right, depth from front to back, of the part you cook on. 60 x 45 cm makes every "
        "number metric, and °C. A kettle: round 22 1/2, or round 57 cm.",
        _size,
    )
    grate: Tables = {"shape": "round", "width": width} if is_round else {"width": width, "depth": depth}
    grate |= dialogue.ask(
        "Metal of the rails, or plate (? lists them)",
        "cast iron, seasoned",
        _metals_help(),
        partial(_metal, units=units),
    )
    rows, columns = _positions(12, grate)
    positions: Tables = {"rows": rows, "columns": columns}
    side = min(width, depth)
    if side <= 2.0 * shown_value(Positions().margin_mm, "length", units):
        grate["rim"], positions["margin"] = round(side / 20, 4), round(side / 6, 4)
    low, high, _ = _pair(_USUAL_BAND[units])
    return {
        "units": units,
        "name": "my grill",
        "grate": grate,
        "positions": positions,
        "burner": _burners(dialogue, width, depth, is_round),
        "gun": {},
        "target": {"low": low, "high": high},
    }


def _positions(count: int, grate: Tables) -> tuple[int, int]:
    """Return rows and columns of so many positions."""
    rows, columns = _LAYOUTS[count]["depth" not in grate]
    return (columns, rows) if grate.get("depth", 0.0) > grate["width"] else (rows, columns)


def _burners(dialogue: _Dialogue, width: float, depth: float, is_round: bool) -> list[Tables]:
    """Ask how the burners lie, what they are called and how their knobs are marked."""
    lie: Any = dialogue.ask(
        "Burners lie front-to-back, left-to-right, rings, one; or coals, none",
        "coals" if is_round else "front-to-back",
        "front-to-back: each tube runs away from you. left-to-right: each runs from side to side. rings: inside "
        "one another, or side by side. one: a single burner. coals: nothing with a knob. none: not known.",
        _lie,
    )
    names: tuple[str, ...] = {"one": ("burner",), "coals": ("vents",)}.get(lie, ())
    if lie in _ORDER:
        names = dialogue.ask(
            f"Their names {_ORDER[lie]}, or how many",
            ", ".join(usual_names(lie, 2 if lie == "rings" else 3)),
            "As you call the knobs, separated by commas; or a number. They are drawn next, and can be moved.",
            partial(_names, lie=lie),
        )
    if not names:
        return []
    if lie == "coals":
        marks = dialogue.ask(
            "Air vents, nearly shut to open: 1-4, or words; or none",
            "none",
            "Where the vents have marks, or you can tell how far they are open (quarter half open), you are told what "
            "to set them to. none: you are told how to move the coals.",
            lambda text: {} if text.strip().casefold() in ("none", "no", "-") else _marks(text),
        )
        if not marks:
            return [{"name": "coals", "control": "none"}]
    else:
        marks = dialogue.ask(
            "Knob marks, lowest flame to full: 1-10, LO MED HI, or clock 6-9",
            "1-10",
            "Two numbers as on the dial; or its words from low to high; or, where it has neither, where the pointer "
            "stands on a clock face at the lowest steady flame and at full: clock 6-9.",
            _marks,
        )
    laid = lay_out("one" if lie == "coals" else lie, names, width, depth)
    laid = [on_disc(one, width) for one in laid] if is_round else laid
    control = "vents" if lie == "coals" else "knob"
    return [{"name": name, "control": control, **_rounded(one), **marks} for name, one in zip(names, laid, strict=True)]


def _drawn(tables: Tables, dialogue: _Dialogue) -> Tables:
    """Draw the grate until it is agreed to, changed as is said."""
    from heatmap.words.grill import misplaced_sentences

    while True:
        if not dialogue.is_replayed:
            grill = grill_from_tables(tables, source="this grill")
            console.talk("", *grate_drawing(grill), *misplaced_sentences(grill))
        changed = dialogue.ask(
            _IS_IT_SO,
            "yes",
            "You look down on it. no: every question again, Enter keeps each answer. Move one burner: its name and "
            "x y of its middle, or x y of both ends. 20 or 24: more positions.",
            partial(_changed, tables=tables),
        )
        if changed is tables:
            return tables
        tables = changed


def _changed(text: str, tables: Tables) -> Tables:
    """Return the tables as they are after yes, or changed by what else is said."""
    plain = " ".join(text.casefold().split())
    if plain in _YES:
        return tables
    if plain in ("no", "n"):
        raise _BackError(_ALL)
    if plain.isdigit():
        if int(plain) not in _LAYOUTS:
            raise GrillError(f"{plain} positions? There can be 12, 20 or 24; more by rows and columns in the file")
        rows, columns = _positions(int(plain), tables["grate"])
        changed = tables | {"positions": tables["positions"] | {"rows": rows, "columns": columns}}
    else:
        changed = tables | {"burner": _moved(plain, tables["burner"])}
    grill_from_tables(changed, source="this grill")
    return changed


def _moved(text: str, burners: list[Tables]) -> list[Tables]:
    """Return the burners with one moved: its name, then x y of its middle, or of both ends."""
    for at, one in enumerate(burners):
        match = re.fullmatch(rf"{re.escape(one['name'].casefold())}((?:[\s,]+{_NUMBER}){{2,4}})", text)
        values = [float(number) for number in re.findall(r"[\d.]+", match[1])] if match else []
        if len(values) in (2, 4):
            lies = {key: one[key] for key in one.keys() & {"from", "to", "centre", "radius"}}
            moved = moved_to(lies, *values) if len(values) == 2 else {"from": values[:2], "to": values[2:]}
            kept = {key: value for key, value in one.items() if key not in lies}
            return [*burners[:at], kept | _rounded(moved), *burners[at + 1 :]]
    like = ""
    if burners and burners[0]["control"] == "knob":
        x, y = middle_of(burners[0])
        like = f"; or move one: {burners[0]['name']} {x:.4g} {y:.4g} is where its middle lies now"
    raise GrillError(f"{text!r} is not understood; yes, no, 20 or 24 for more positions{like}")


def _rounded(laid: Tables) -> Tables:
    return {
        key: [round(end, 2) for end in value] if isinstance(value, list) else round(value, 2)
        for key, value in laid.items()
    }


def _size(text: str) -> tuple[Units, bool, float, float]:
    """Read the size: units, whether it is round, width and depth."""
    is_round = bool(_ROUND.search(text))
    parts = re.split(r"\s*(?:[x×*]|\bby\b)\s*", _ROUND.sub(" ", text).strip(), flags=re.I)
    if len(parts) != (1 if is_round else 2) or not all(parts):
        raise GrillError(f"{text!r} is not understood; write it like 24 x 18, 60 x 45 cm, or round 22")
    letters = [
        match[1].casefold() for part in parts if (match := re.search(r"(mm|cm|in|inch|inches|\")\s*$", part, re.I))
    ]
    units: Units = "si" if letters and letters[-1] in ("mm", "cm") else "us"
    unit = letters[-1] if letters else ""
    sizes = [
        length_in(part if re.search(r"[a-z\"]", part, re.I) else f"{part} {unit}".strip(), units) for part in parts
    ]
    if not letters and max(sizes) > _LARGEST_BARE_IN:
        raise GrillError(f"{max(sizes):g} in is more than any grate; write the unit, like 60 x 45 cm")
    for key, size in zip(("width", "depth"), sizes, strict=False):
        _check(Grate, key, size, units)
    return units, is_round, sizes[0], sizes[-1]


def length_in(text: str, units: Units) -> float:
    """Read a length in the file's units: 24, 24 in, 23 1/2, 3/4, 61 cm.

    Raises
    ------
    GrillError
        When it is something else.
    """
    match = _LENGTH.fullmatch(text.strip())
    if not match or not (match[1] or match[2]):
        raise GrillError(f"{text!r} is not a number above 0; write it like 24, 23 1/2 or 61 cm")
    value = float((match[1] or "0").replace(",", ".")) + (int(match[2]) / int(match[3]) if match[2] else 0.0)
    if not value:
        raise GrillError(f"{text!r} is not a number above 0")
    if not match[4]:
        return value
    return round(shown_value(value * _IN_MM[match[4].casefold()], "length", units), 4)


def _metal(text: str, units: Units) -> Tables:
    """Read what the food touches: a plate, or rails of the usual sizes, and its metal."""
    rails = next((way for way in ("left-to-right", "front-to-back") if _says(text, way)), "front-to-back")
    rest = re.sub(
        r"\brails\b|" + "|".join(r"[\s-]".join(way.split("-")) for way in ("left-to-right", "front-to-back")), " ", text
    )
    rest = re.sub(r"^[\s,]+|[\s,]+$", "", _PLATE.sub(" ", rest))
    finish = _finish(rest or "cast iron, seasoned")
    if _PLATE.search(text):
        return {"surface": "plate", "finish": finish}
    pitch, top, height = (0.75, 0.25, 0.5) if units == "us" else (19.0, 6.0, 13.0)
    return {"rails": rails, "rail_pitch": pitch, "rail_top": top, "rail_height": height, "finish": finish}


def _finish(text: str) -> str:
    from heatmap.physics.finishes import FINISHES, find_finish

    try:
        return find_finish(text).name
    except GrillError:
        plain = " ".join(text.casefold().split())
        alike = [name for name in FINISHES if name.startswith(plain)]
    if len(alike) == 1:
        return alike[0]
    raise GrillError(
        f"which one: {'; '.join(alike)}?" if alike else f"{text!r} is not known; ? lists the metals"
    ) from None


def _says(text: str, way: str) -> bool:
    return way in text.casefold().replace(" ", "-")


def _metals_help() -> str:
    from heatmap.physics.finishes import FINISHES

    return (
        "What the food touches. plate: solid, no rails, as in: plate, carbon steel, seasoned. Rails run front to back; "
        "where they do not: left-to-right, stainless steel, oxidised. The metals: " + "; ".join(FINISHES) + "."
    )


def _lie(text: str) -> str:
    plain = " ".join(text.casefold().split())
    found = [name for name, others in _LIES.items() if plain == name or plain in others]
    found = found or [name for name in _LIES if len(plain) > 2 and name.startswith(plain)]
    if len(found) != 1:
        raise GrillError(f"{text!r} is not one of: {', '.join(_LIES)}")
    return found[0]


def _names(text: str, lie: Lie) -> tuple[str, ...]:
    if not text.isdigit():
        return in_order(lie, _named(text))
    if not 1 <= int(text) <= 12:
        raise GrillError(f"{text} burners? from 1 to 12, or their names, separated by commas")
    return usual_names(lie, int(text))


def _named(text: str) -> tuple[str, ...]:
    names = tuple(name.strip() for name in text.split(",") if name.strip())
    if any(len(name) > LONGEST_TEXT or not name.isprintable() for name in names):
        raise GrillError(f"a name is one line of at most {LONGEST_TEXT} plain characters")
    keys = [burner_key(name) for name in names]
    if not names or len(set(keys)) < len(keys):
        raise GrillError("names of their own, separated by commas, for example: left, middle, right")
    return names


def _marks(text: str) -> Tables:
    """Read the marks of a knob: the lowest and full, in numbers, words or by the clock."""
    plain = text.strip()
    if "clock" in plain.casefold() or "o'" in plain.casefold():
        return _clock_marks(plain)
    match = _PAIR.fullmatch(plain)
    if match:
        low, high, _ = _pair(plain)
        marks: Tables = {"low": low, "high": high}
    else:
        words = [word for word in re.split(r"\s*,\s*|\s*/\s*" if re.search("[,/]", plain) else r"\s+|-", plain) if word]
        if len(words) < 2:
            raise GrillError("the lowest mark and full, like 1-10; or named marks in order: LO MED HI; or clock 6-9")
        if all(re.fullmatch(_NUMBER, word) for word in words):
            marks = {"low": float(words[0]), "high": float(words[-1])}
        else:
            marks = {"low": 1.0, "high": float(len(words)), "step": 1.0, "marks": words}
    Burner(name="knob", points_mm=((0.0, 0.0),), **{**marks, "marks": tuple(marks.get("marks", ()))})
    return marks


def _clock_marks(text: str) -> Tables:
    """Return half hours from the lowest flame to full, the shorter way round; numbered as the hours where that goes."""
    match = _CLOCK.fullmatch(text.strip())
    if not match or not all(1 <= int(match[at]) <= 12 for at in (1, 3)):
        raise GrillError("where the pointer stands at the lowest flame and at full, like: clock 6-9, or clock 5:30-9")
    start, end = (int(match[at]) % 12 + (0.5 if match[at + 1] == "30" else 0.0) for at in (1, 3))
    up = (end - start) % 12.0
    step = 0.5 if up <= 6.0 else -0.5
    count = round(min(up, 12.0 - up) / 0.5) + 1
    if count < 2:
        raise GrillError("the lowest flame and full cannot be at the same hour")
    hours = [(start + step * at) % 12.0 for at in range(count)]
    names = [f"{int(hour) or 12}{':30' if hour % 1.0 else ':00'}" for hour in hours]
    return {"low": 0.0, "high": 0.5 * (count - 1), "step": 0.5, "marks": names}


def _band(text: str, units: Units) -> Tables:
    plain, zone, numbers = " ".join(text.casefold().split()), "all", "shown"
    for name in sorted(ZONES, key=len, reverse=True):
        if plain.endswith(f" {name}"):
            plain, zone = plain.removesuffix(name).strip(" ,"), name
            break
    for word in ("rail", "shown"):
        if plain.endswith(f" {word}"):
            plain, numbers = plain.removesuffix(word).strip(" ,"), word
    low, high, letter = _pair(plain)
    written_in: Units = "us" if letter == "f" else "si" if letter == "c" else units
    found = []
    for key, end in (("low", low), ("high", high)):
        shown = round(shown_value(inside_value(end, "temperature", written_in), "temperature", units), 1)
        found.append(_check(TargetBand, key, shown, units))
    target = {"low": found[0], "high": found[1], "numbers": numbers}
    return target if zone == "all" else target | {"zone": zone}


def _gun(text: str) -> Tables:
    match = re.fullmatch(rf"({_NUMBER})(?:\s*(?::|/|\bto\b)\s*1)?(?:[\s,]+({_NUMBER}))?", text.strip())
    if not match:
        raise GrillError(f"{text!r} is not understood; write it like 12:1 0.95, as the gun shows it")
    ratio = _check(Gun, "distance_to_spot", float(match[1].replace(",", ".")), "us")
    setting = _check(Gun, "emissivity_setting", float((match[2] or "0.95").replace(",", ".")), "us")
    return {"emissivity_setting": setting, "distance_to_spot": ratio}


def _pair(text: str) -> tuple[float, float, str]:
    """Read two numbers, low then high, and the letter of their unit where they have one."""
    match = _PAIR.fullmatch(text.strip())
    if not match:
        raise GrillError("two numbers, low then high, for example: 550 600")
    low, high = (float(match[at].replace(",", ".")) for at in (1, 3))
    letters = {letter.casefold() for letter in (match[2], match[4]) if letter}
    if len(letters) > 1:
        raise GrillError("two numbers in one unit, for example: 550 600")
    if not low < high:
        raise GrillError("low first, then high")
    return low, high, "".join(letters)


def _check(section: type[Section], key: str, value: float, units: Units) -> float:
    """Return a number that its key of the grill file allows.

    Raises
    ------
    GrillError
        One line with the limits, in the units of the file.
    """
    try:
        keys_of(section)[key].metadata["key"].read(f"{section.table}.{key}", value, units)
    except GrillError as fault:
        raise GrillError(told(fault, units)) from None
    return value
