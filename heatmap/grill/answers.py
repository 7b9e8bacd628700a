"""What people answer when they are asked for their grill → tables of a grill file. Pure.

Every reader takes one line; what cannot be is a :class:`heatmap.errors.GrillError` of one sentence.
"""

import re
from collections.abc import Iterable
from typing import Any

from heatmap.errors import GrillError
from heatmap.grill.burner import Burner, burner_key
from heatmap.grill.grate import Grate
from heatmap.grill.grill import ZONES, Gun, TargetBand
from heatmap.grill.layout import Lie, in_order, middle_of, moved_to, usual_names
from heatmap.grill.schema import LONGEST_TEXT, Section, keys_of
from heatmap.units import Units, inside_value, shown_value

Tables = dict[str, Any]

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
_RAILS = re.compile(r"\b(?:left[\s-]to[\s-]right|front[\s-]to[\s-]back|rails)\b", re.I)
#: Whoever types a number of inches above this without a unit may mean centimetres.
_LARGEST_BARE_IN = 48.0
#: Pitch, top and height of rails as they commonly are (common practice, no source).
_USUAL_RAILS = {"us": (0.75, 0.25, 0.5), "si": (19.0, 6.0, 13.0)}
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


def size(text: str) -> tuple[Units, Tables]:
    """Read how large a grate is, and whether it is round: 24 x 18, 60 x 45 cm, round 22 1/2."""
    is_round = bool(_ROUND.search(text))
    parts = re.split(r"\s*(?:[x×*]|\bby\b)\s*", _ROUND.sub(" ", text).strip(), flags=re.I)
    if len(parts) != (1 if is_round else 2) or not all(parts):
        raise GrillError(f"{text!r} is not understood; write it like 24 x 18, 60 x 45 cm, or round 22")
    lengths = [_length(part) for part in parts]
    unit = next((own for _, own in reversed(lengths) if own), "")
    units: Units = "si" if unit in ("mm", "cm") else "us"
    sizes = [_in_units(value, own or unit, units) for value, own in lengths]
    if not unit and max(sizes) > _LARGEST_BARE_IN:
        raise GrillError(f"{max(sizes):g} in is more than any grate; write the unit, like 60 x 45 cm")
    grate: Tables = dict(zip(("width", "depth"), sizes, strict=False))
    _check(Grate, grate, units)
    return units, {"shape": "round", **grate} if is_round else grate


def _length(text: str) -> tuple[float, str]:
    """Read a length and the unit behind it: 24, 24 in, 23 1/2, 3/4, 61 cm."""
    match = _LENGTH.fullmatch(text.strip())
    if not match or not (match[1] or match[2]):
        raise GrillError(f"{text!r} is not a number above 0; write it like 24, 23 1/2 or 61 cm")
    value = _number(match[1] or "0") + (int(match[2]) / int(match[3]) if match[2] else 0.0)
    if not value:
        raise GrillError(f"{text!r} is not a number above 0")
    return value, (match[4] or "").casefold()


def _in_units(value: float, unit: str, units: Units) -> float:
    return round(shown_value(value * _IN_MM[unit], "length", units), 4) if unit else value


def metal(text: str, units: Units) -> Tables:
    """Read what the food touches: a plate, or rails of the usual sizes, and its metal."""
    from heatmap.physics.finishes import FINISHES, find_finish

    rest = re.sub(r"^[\s,]+|[\s,]+$", "", _PLATE.sub(" ", _RAILS.sub(" ", text))) or "cast iron, seasoned"
    plain = " ".join(rest.casefold().split())
    alike = [name for name in FINISHES if name.startswith(plain)]
    try:
        finish = find_finish(alike[0] if len(alike) == 1 else rest).name
    except GrillError:
        which = f"which one: {'; '.join(alike)}?" if alike else f"{rest!r} is not known; ? lists the metals"
        raise GrillError(which) from None
    if _PLATE.search(text):
        return {"surface": "plate", "finish": finish}
    across = "left-to-right" in re.sub(r"\s", "-", text.casefold())
    pitch, top, height = _USUAL_RAILS[units]
    rails = "left-to-right" if across else "front-to-back"
    return {"rails": rails, "rail_pitch": pitch, "rail_top": top, "rail_height": height, "finish": finish}


def positions(count: int, grate: Tables) -> Tables:
    """Return rows and columns of so many positions."""
    if count not in _LAYOUTS:
        raise GrillError(f"{count} positions? There can be 12, 20 or 24; more by rows and columns in the file")
    rows, columns = _LAYOUTS[count]["depth" not in grate]
    if grate.get("depth", 0.0) > grate["width"]:
        rows, columns = columns, rows
    return {"rows": rows, "columns": columns}


def lie(text: str) -> str:
    """Read how burners lie."""
    plain = " ".join(text.casefold().split())
    found = [name for name, others in _LIES.items() if plain == name or plain in others]
    found = found or [name for name in _LIES if len(plain) > 2 and name.startswith(plain)]
    if len(found) != 1:
        raise GrillError(f"{text!r} is not one of: {', '.join(_LIES)}")
    return found[0]


def names(text: str, lies: Lie) -> tuple[str, ...]:
    """Read what burners are called, or how many they are; in the order their names say."""
    if text.isdigit():
        if not 1 <= int(text) <= 12:
            raise GrillError(f"{text} burners? from 1 to 12, or their names, separated by commas")
        return usual_names(lies, int(text))
    found = tuple(name.strip() for name in text.split(",") if name.strip())
    if any(len(name) > LONGEST_TEXT or not name.isprintable() for name in found):
        raise GrillError(f"a name is one line of at most {LONGEST_TEXT} plain characters")
    if not found or len(set(map(burner_key, found))) < len(found):
        raise GrillError("names of their own, separated by commas, for example: left, middle, right")
    return in_order(lies, found)


def marks(text: str) -> Tables:
    """Read the marks of a knob: the lowest and full, in numbers, words or by the clock."""
    plain = text.strip()
    if "clock" in plain.casefold() or "o'" in plain.casefold():
        return _clock_marks(plain)
    if _PAIR.fullmatch(plain):
        low, high, _ = pair(plain)
        found: Tables = {"low": low, "high": high}
    else:
        words = [word for word in re.split(r"\s*,\s*|\s*/\s*" if re.search("[,/]", plain) else r"\s+|-", plain) if word]
        if len(words) < 2:
            raise GrillError("the lowest mark and full, like 1-10; or named marks in order: LO MED HI; or clock 6-9")
        if all(re.fullmatch(_NUMBER, word) for word in words):
            found = {"low": float(words[0]), "high": float(words[-1])}
        else:
            found = {"low": 1.0, "high": float(len(words)), "step": 1.0, "marks": words}
    Burner(name="knob", points_mm=((0.0, 0.0),), **{**found, "marks": tuple(found.get("marks", ()))})
    return found


def vents(text: str) -> Tables:
    """Read the marks of air vents; nothing where they have none."""
    return {} if text.strip().casefold() in ("none", "no", "-") else marks(text)


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
    named = [f"{int(hour) or 12}{':30' if hour % 1.0 else ':00'}" for hour in hours]
    return {"low": 0.0, "high": 0.5 * (count - 1), "step": 0.5, "marks": named}


def moved(text: str, burners: list[Tables]) -> list[Tables]:
    """Return the burners with one moved: its name, then x y of its middle, or of both ends."""
    for at, one in enumerate(burners):
        match = re.fullmatch(rf"{re.escape(one['name'].casefold())}((?:[\s,]+{_NUMBER}){{2,4}})", text)
        values = [float(number) for number in re.findall(r"[\d.]+", match[1])] if match else []
        if len(values) in (2, 4):
            lies = {key: one[key] for key in one.keys() & {"from", "to", "centre", "radius"}}
            laid = moved_to(lies, *values) if len(values) == 2 else {"from": values[:2], "to": values[2:]}
            kept = {key: value for key, value in one.items() if key not in lies}
            return [*burners[:at], kept | rounded(laid), *burners[at + 1 :]]
    like = ""
    if burners and burners[0]["control"] == "knob":
        x, y = middle_of(burners[0])
        like = f"; or move one: {burners[0]['name']} {x:.4g} {y:.4g} is where its middle lies now"
    raise GrillError(f"{text!r} is not understood; yes, no, 20 or 24 for more positions{like}")


def rounded(laid: Tables) -> Tables:
    """Return where a burner lies as finely as a file says it."""
    return {
        key: [round(end, 2) for end in value] if isinstance(value, list) else round(value, 2)
        for key, value in laid.items()
    }


def band(text: str, units: Units) -> Tables:
    """Read the band, in whose numbers it is, and the zone that should be in it."""
    plain, zone = _without_last(" ".join(text.casefold().split()), sorted(ZONES, key=len, reverse=True))
    plain, numbers = _without_last(plain, ("rail", "shown"))
    low, high, letter = pair(plain)
    written_in: Units = "us" if letter == "f" else "si" if letter == "c" else units
    target: Tables = {}  # in the order of the file
    for key, end in (("low", low), ("high", high)):
        target[key] = round(shown_value(inside_value(end, "temperature", written_in), "temperature", units), 1)
    _check(TargetBand, target, units)
    return target | {"numbers": numbers or "shown"} | ({} if zone in ("", "all") else {"zone": zone})


def _without_last(plain: str, words: Iterable[str]) -> tuple[str, str]:
    """Take the first of these words that a text ends with off it; return what is left, and the word or ""."""
    last = next((word for word in words if plain.endswith(f" {word}")), "")
    return (plain.removesuffix(last).strip(" ,") if last else plain), last


def gun(text: str) -> Tables:
    """Read the gun's distance to spot and the emissivity it is set to."""
    match = re.fullmatch(rf"({_NUMBER})(?:\s*(?::|/|\bto\b)\s*1)?(?:[\s,]+({_NUMBER}))?", text.strip())
    if not match:
        raise GrillError(f"{text!r} is not understood; write it like 12:1 0.95, as the gun shows it")
    found = {"emissivity_setting": _number(match[2] or "0.95"), "distance_to_spot": _number(match[1])}
    _check(Gun, found, "us")
    return found


def pair(text: str) -> tuple[float, float, str]:
    """Read two numbers, low then high, and the letter of their unit where they have one."""
    match = _PAIR.fullmatch(text.strip())
    if not match:
        raise GrillError("two numbers, low then high, for example: 550 600")
    low, high = _number(match[1]), _number(match[3])
    letters = {letter.casefold() for letter in (match[2], match[4]) if letter}
    if len(letters) > 1:
        raise GrillError("two numbers in one unit, for example: 550 600")
    if not low < high:
        raise GrillError("low first, then high")
    return low, high, "".join(letters)


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _check(section: type[Section], table: Tables, units: Units) -> None:
    """Refuse a number that its key of the grill file does not allow, with the limits in the file's units."""
    for key, value in table.items():
        keys_of(section)[key].read(f"{section.table}.{key}", value, units)
