"""The questions of `gratemap grill new`: few, each with a default; `?` helps, `<` goes back, no answer is lost."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, NoReturn

from cli import console
from cli.grate_drawing import grate_drawing
from heatmap.errors import GrillError
from heatmap.grill.grill import ZONES, Burner, Grate, Grill, Gun, Positions, TargetBand, burner_key
from heatmap.grill.layout import Lie, in_order, lay_out, middle_of, moved, moved_to, on_disc, usual_names
from heatmap.grill.quantities import Units, inside_value, shown_value, told
from heatmap.grill.schema import LONGEST_TEXT, Section, keys_of
from heatmap.grill.toml import grill_from_tables

Answers = dict[str, Any]

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


class _Again(Exception):
    """The question is put once more, with what has changed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question.

    Attributes
    ----------
    text, default : callable
        From the answers so far.
    read : callable
        Takes what was typed into the answers; a GrillError says what is wrong with it.
    help : str
    when : callable
        Whether it is put at all.
    before : callable
        What is shown before it.
    """

    text: Callable[[Answers], str]
    default: Callable[[Answers], str]
    read: Callable[[str, Answers], None]
    help: str
    when: Callable[[Answers], bool] = field(default=lambda answers: True)
    before: Callable[[Answers], list[str]] = field(default=lambda answers: [])


def grill_answers() -> dict[str, Any]:
    """Ask what a grill file needs; return its tables."""
    answers: Answers = {}
    typed: dict[int, str] = {}
    asked: list[int] = []
    at, shown = 0, -1
    while at < len(QUESTIONS):
        question = QUESTIONS[at]
        if not question.when(answers):
            at += 1
            continue
        for line in question.before(answers) if shown != at else ():
            console.talk(line)
        shown = at
        default = typed.get(at) or question.default(answers)
        line = console.ask(question.text(answers), default)
        if line == "?":
            console.talk(f"  {question.help}")
        elif line == "<":
            at, shown = asked.pop() if asked else at, -1
        else:
            try:
                question.read(line or default, answers)
            except GrillError as error:
                console.talk(f"  {error}")
                continue
            except _Again:
                shown = -1
                continue
            if line:
                typed[at] = line
            asked.append(at)
            at += 1
    return tables_of(answers)


def tables_of(answers: Answers) -> dict[str, Any]:
    """Return the tables of a grill file from the answers; what was not answered yet is as usual.

    On a small grate the positions and the rim are drawn in, so that they fit.
    """
    units: Units = answers["units"]
    width, depth, is_round = answers["width"], answers["depth"], answers["round"]
    grate: dict[str, Any] = {"shape": "round", "width": width} if is_round else {"width": width, "depth": depth}
    if answers["plate"]:
        grate["surface"] = "plate"
    else:
        pitch, top, height = (0.75, 0.25, 0.5) if units == "us" else (19.0, 6.0, 13.0)
        grate |= {"rails": answers["rails"], "rail_pitch": pitch, "rail_top": top, "rail_height": height}
    grate["finish"] = answers["finish"]
    rows, columns = _LAYOUTS[answers.get("spots", 12)][is_round]
    if depth > width:
        rows, columns = columns, rows
    positions: dict[str, Any] = {"rows": rows, "columns": columns}
    side = min(width, depth)
    if side <= 2.0 * shown_value(Positions().margin_mm, "length", units):
        grate["rim"], positions["margin"] = round(side / 20, 4), round(side / 6, 4)
    low, high, numbers, zone = answers.get("band", (*_pair(_USUAL_BAND[units])[:2], "shown", "all"))
    ratio, setting = answers.get("gun", (12.0, 0.95))
    target = {"low": low, "high": high, "numbers": numbers}
    return {
        "units": units,
        "name": "my grill",
        "grate": grate,
        "positions": positions,
        "burner": _burner_tables(answers),
        "gun": {"emissivity_setting": setting, "distance_to_spot": ratio},
        "target": target if zone == "all" else target | {"zone": zone},
    }


def _burner_tables(answers: Answers) -> list[dict[str, Any]]:
    if answers["lie"] == "coals":
        if "vents" not in answers:
            return [{"name": "coals", "control": "none"}]
        (laid,) = lay_out("one", ("vents",), answers["width"], answers["depth"])
        laid = on_disc(laid, answers["width"]) if answers["round"] else laid
        return [{"name": "vents", "control": "vents", **_rounded(laid), **answers["vents"]}]
    marks = answers.get("marks", {"low": 1.0, "high": 10.0})
    return [
        {"name": name, "control": "knob", **_rounded(laid), **marks} for name, laid in answers.get("laid", {}).items()
    ]


def _rounded(laid: dict[str, Any]) -> dict[str, Any]:
    return {
        key: [round(end, 2) for end in value] if isinstance(value, list) else round(value, 2)
        for key, value in laid.items()
    }


# The size


def _size(text: str, answers: Answers) -> None:
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
    answers |= {"units": units, "round": is_round, "width": sizes[0], "depth": sizes[-1]}


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


# What the food touches


def _metal(text: str, answers: Answers) -> None:
    rails = next((way for way in ("left-to-right", "front-to-back") if _says(text, way)), "front-to-back")
    rest = re.sub(
        r"\brails\b|" + "|".join(r"[\s-]".join(way.split("-")) for way in ("left-to-right", "front-to-back")), " ", text
    )
    rest = re.sub(r"^[\s,]+|[\s,]+$", "", _PLATE.sub(" ", rest))
    finish = _finish(rest or "cast iron, seasoned")
    answers |= {"plate": bool(_PLATE.search(text)), "rails": rails, "finish": finish}


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


# How the burners lie


def _lie(text: str, answers: Answers) -> None:
    plain = " ".join(text.casefold().split())
    found = [name for name, others in _LIES.items() if plain == name or plain in others]
    found = found or [name for name in _LIES if len(plain) > 2 and name.startswith(plain)]
    if len(found) != 1:
        raise GrillError(f"{text!r} is not one of: {', '.join(_LIES)}")
    if answers.get("lie") != found[0]:
        answers.pop("laid", None)
    answers["lie"] = found[0]
    if found[0] == "one":
        _set_names(("burner",), answers)


def _has_names(answers: Answers) -> bool:
    return answers["lie"] in _ORDER


def _names(text: str, answers: Answers) -> None:
    lie: Lie = answers["lie"]
    if text.isdigit():
        if not 1 <= int(text) <= 12:
            raise GrillError(f"{text} burners? from 1 to 12, or their names, separated by commas")
        names = usual_names(lie, int(text))
    else:
        names = _named(text)
    _set_names(in_order(lie, names), answers)


def _named(text: str) -> tuple[str, ...]:
    names = tuple(name.strip() for name in text.split(",") if name.strip())
    if any(len(name) > LONGEST_TEXT or not name.isprintable() for name in names):
        raise GrillError(f"a name is one line of at most {LONGEST_TEXT} plain characters")
    keys = [burner_key(name) for name in names]
    if not names or len(set(keys)) < len(keys):
        raise GrillError("names of their own, separated by commas, for example: left, middle, right")
    return names


def _set_names(names: tuple[str, ...], answers: Answers) -> None:
    width, depth = answers["width"], answers["depth"]
    laid = lay_out(answers["lie"], names, width, depth)
    if answers["round"]:
        laid = [on_disc(one, width) for one in laid]
    answers["laid"] = dict(zip(names, laid, strict=True))


# The marks on the knobs


def _marks(text: str, answers: Answers) -> None:
    answers["marks"] = _marks_in(text)


def _marks_in(text: str) -> dict[str, Any]:
    plain = text.strip()
    if "clock" in plain.casefold() or "o'" in plain.casefold():
        return _clock_marks(plain)
    match = _PAIR.fullmatch(plain)
    if match:
        low, high, _ = _pair(plain)
        marks: dict[str, Any] = {"low": low, "high": high}
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


def _vents(text: str, answers: Answers) -> None:
    """Read the marks of the air vents over coals; none where they have none, or nobody turns them."""
    answers.pop("vents", None)
    if text.strip().casefold() not in ("none", "no", "-"):
        answers["vents"] = _marks_in(text)


def _clock_marks(text: str) -> dict[str, Any]:
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


# The drawing


def _drawing(answers: Answers) -> list[str]:
    from heatmap.words.grill import misplaced_sentences

    grill = _grill(answers)
    return ["", *grate_drawing(grill), *misplaced_sentences(grill)]


def _grill(answers: Answers) -> Grill:
    return grill_from_tables(tables_of(answers), source="this grill")


def _agreed(text: str, answers: Answers) -> None:
    plain = " ".join(text.casefold().split())
    if plain in ("yes", "y", "ok", "right"):
        return
    before = {key: answers.get(key) for key in ("laid", "lie", "spots")}
    try:
        _change(plain, text, answers)
        _grill(answers)
    except GrillError:
        answers |= {key: value for key, value in before.items() if value is not None}
        raise
    raise _Again


def _change(plain: str, text: str, answers: Answers) -> None:
    laid = answers.get("laid", {})
    if plain.isdigit():
        if int(plain) not in _LAYOUTS:
            raise GrillError(f"{plain} positions? There can be 12, 20 or 24; more by rows and columns in the file")
        answers["spots"] = int(plain)
        return
    if plain == "turn" and answers["lie"] in ("front-to-back", "left-to-right"):
        answers["lie"] = "left-to-right" if answers["lie"] == "front-to-back" else "front-to-back"
        _set_names(in_order(answers["lie"], tuple(laid)), answers)
        return
    keys = {burner_key(name): name for name in laid}
    order = [burner_key(part) for part in text.split(",")]
    if len(order) > 1 and sorted(order) == sorted(keys):
        answers["laid"] = {keys[key]: one for key, one in zip(order, laid.values(), strict=True)}
        return
    words = plain.split()
    for end in range(len(words) - 1, 0, -1):
        name = keys.get(burner_key(" ".join(words[:end])))
        if name is not None:
            answers["laid"] = {**laid, name: _moved(laid[name], words[end:], answers)}
            return
    _not_understood(text, laid)


def _not_understood(text: str, laid: dict[str, Any]) -> NoReturn:
    if not laid:
        raise GrillError(f"{text!r} is not understood; yes, or 20 or 24 for more positions")
    name = next(iter(laid))
    raise GrillError(
        f"{text!r} is not understood; yes, turn, 20 or 24, or move one: {name} back, {name} 4 9, {name} 4 1 4 17"
    )


def _moved(laid: dict[str, Any], words: list[str], answers: Answers) -> dict[str, Any]:
    width, depth = answers["width"], answers["depth"]
    in_words = moved(laid, width, depth, words)
    if in_words is not None:
        return in_words
    numbers = re.findall(_NUMBER, " ".join(words).replace(",", " "))
    values = [float(number) for number in numbers]
    if len(values) == 4:
        return {"from": values[:2], "to": values[2:]}
    if len(values) == 2:
        return moved_to(laid, *values)
    x, y = middle_of(laid)
    raise GrillError(f"where to? a side, like left or back; or two numbers, x y of its middle, now {x:.4g} {y:.4g}")


# The band and the gun


def _band(text: str, answers: Answers) -> None:
    units: Units = answers["units"]
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
    answers["band"] = (found[0], found[1], numbers, zone)


def _gun(text: str, answers: Answers) -> None:
    match = re.fullmatch(rf"({_NUMBER})(?:\s*(?::|/|\bto\b)\s*1)?(?:[\s,]+({_NUMBER}))?", text.strip())
    if not match:
        raise GrillError(f"{text!r} is not understood; write it like 12:1 0.95, as the gun shows it")
    ratio = _check(Gun, "distance_to_spot", float(match[1].replace(",", ".")), "us")
    setting = _check(Gun, "emissivity_setting", float((match[2] or "0.95").replace(",", ".")), "us")
    answers["gun"] = (ratio, setting)


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


def _degrees(answers: Answers) -> str:
    return "°F" if answers["units"] == "us" else "°C"


QUESTIONS = (
    Question(
        text=lambda answers: "Grate, width x depth in inches, or round and its width",
        default=lambda answers: "24 x 18",
        read=_size,
        help="Width from left to right, depth from front to back, of the part you cook on. 60 x 45 cm makes every "
        "number metric, and °C. A kettle: round 22 1/2, or round 57 cm.",
    ),
    Question(
        text=lambda answers: "Metal of the rails, or plate (? lists them)",
        default=lambda answers: "cast iron, seasoned",
        read=_metal,
        help=_metals_help(),
    ),
    Question(
        text=lambda answers: "Burners lie front-to-back, left-to-right, rings, one; or coals, none",
        default=lambda answers: "coals" if answers["round"] else "front-to-back",
        read=_lie,
        help="front-to-back: each tube runs away from you. left-to-right: each runs from side to side. rings: inside "
        "one another, or side by side. one: a single burner. coals: nothing with a knob. none: not known.",
    ),
    Question(
        text=lambda answers: f"Their names {_ORDER[answers['lie']]}, or how many",
        default=lambda answers: ", ".join(usual_names(answers["lie"], 2 if answers["lie"] == "rings" else 3)),
        read=_names,
        help="As you call the knobs, separated by commas; or a number. They are drawn next, and can be moved.",
        when=_has_names,
    ),
    Question(
        text=lambda answers: "Knob marks, lowest flame to full: 1-10, LO MED HI, or clock 6-9",
        default=lambda answers: "1-10",
        read=_marks,
        help="Two numbers as on the dial; or its words from low to high; or, where it has neither, where the pointer "
        "stands on a clock face at the lowest steady flame and at full: clock 6-9.",
        when=lambda answers: answers["lie"] not in ("coals", "none"),
    ),
    Question(
        text=lambda answers: "Air vents, nearly shut to open: 1-4, or words; or none",
        default=lambda answers: "none",
        read=_vents,
        help="Where the vents have marks, or you can tell how far they are open (quarter half open), you are told what "
        "to set them to. none: you are told how to move the coals.",
        when=lambda answers: answers["lie"] == "coals",
    ),
    Question(
        text=lambda answers: "Is it so? yes; 12, 20 or 24 positions" + ("; or move one" if answers.get("laid") else ""),
        default=lambda answers: "yes",
        read=_agreed,
        help="You look down on it. Move one: its name and a side (left back), or x y of its middle, or x y of both "
        "ends. All names in another order swap them. turn: they lie the other way. 20 or 24: more positions.",
        before=_drawing,
    ),
    Question(
        text=lambda answers: f"The band you want, as your gun shows it, {_degrees(answers)}",
        default=lambda answers: _USUAL_BAND[answers["units"]],
        read=_band,
        help="Low and high. 550 600 rail: true rail temperatures, not what the gun shows. 550 600 left half: only that "
        "part should be in band, for a fire of two zones (left, right, front, back; half, third, two thirds).",
    ),
    Question(
        text=lambda answers: "Gun: distance to spot, and the emissivity it is set to",
        default=lambda answers: "12:1 0.95",
        read=_gun,
        help="Both stand on its label or in its menu; 12:1 sees a spot of 1 in from 12 in. Most are fixed at 0.95.",
    ),
)
