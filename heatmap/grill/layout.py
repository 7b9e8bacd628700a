"""How burners commonly lie, from what the cook says of them, and whether a burner lies where its name says.

Lengths are in any one unit. That tubes lie evenly spaced and reach nearly from edge to edge is common practice, no
source; `gratemap grill new` draws what is proposed here and lets it be moved.
"""

import re
from collections.abc import Mapping, Sequence
from typing import Any, Literal

from heatmap.grill.grate import Point
from heatmap.grill.grill import Grill

Lie = Literal["front-to-back", "left-to-right", "rings", "one"]
#: Where the heat of a burner comes from, as a grill file says it: from and to, or centre and radius.
Laid = dict[str, Any]

#: A tube goes over this share of the way from edge to edge; a ring has this radius in a grate of side 1.
_OF_THE_WAY, _RING = 0.9, 0.3
#: What the words of a name say: from left to right and from front to back, as a share of the side.
_ACROSS = {"left": 0.0, "right": 1.0}
_AWAY = {"front": 0.0, "back": 1.0, "rear": 1.0}
_MIDDLE = ("middle", "mid", "centre", "center")
#: How far out a ring is, by the words of its name.
_OUTWARDS = {"inner": 0.0, "inside": 0.0, "outer": 1.0, "outside": 1.0}
#: "left" holds below this share of the width, "right" above one less it; "middle" between these shares.
_LOW, _MIDDLE_FROM, _MIDDLE_TO = 0.47, 0.24, 0.76
#: What the outermost of several burners are called.
_ENDS = {"front-to-back": ("left", "right"), "left-to-right": ("front", "back"), "rings": ("inner", "outer")}


def usual_names(lie: Lie, count: int) -> tuple[str, ...]:
    """Return what so many burners are commonly called, in order from the left, from the front, or from the middle."""
    if count == 1:
        return ("burner",)
    if count > 4 or lie not in _ENDS:
        return tuple(str(number) for number in range(1, count + 1))
    first, last = _ENDS[lie]
    between = {2: (), 3: ("middle",), 4: (f"{first} middle", f"{last} middle")}
    return (first, *between[count], last)


def in_order(lie: Lie, names: Sequence[str]) -> tuple[str, ...]:
    """Return names in the order their words say, as they are where a name says nothing."""
    says = {"front-to-back": _ACROSS, "left-to-right": _AWAY, "rings": _OUTWARDS, "one": {}}[lie]
    if any(_rank(name, says) is None for name in names):
        return tuple(names)
    return tuple(sorted(names, key=lambda name: _rank(name, says) or 0.0))


def _rank(name: str, says: Mapping[str, float]) -> float | None:
    """Return how far along a name says its burner lies, 0 to 1; "left middle" lies between left and middle."""
    words = _words(name)
    sides = [says[word] for word in words if word in says]
    middle = [0.5] if any(word in _MIDDLE for word in words) else []
    if len(sides) > 1 or not (sides or middle):
        return None
    far = 0.1 if {"far", "outer"} & set(words) and sides else 0.0
    rank = sum([*sides, *middle]) / len([*sides, *middle])
    return rank + far * (2.0 * rank - 1.0)


def lay_out(lie: Lie, names: Sequence[str], width: float, depth: float, *, is_round: bool = False) -> list[Laid]:
    """Return where burners of these names are proposed to lie, in their order."""
    count, side, middle = len(names), min(width, depth), [0.5 * width, 0.5 * depth]
    if lie == "one" or (lie == "rings" and count == 1):
        return [{"centre": middle, "radius": _RING * side}] * count
    if lie == "rings":
        ranks = [(_rank(name, _ACROSS), _rank(name, _AWAY)) for name in names]
        if (None, None) in ranks or len(set(ranks)) < count:
            return [{"centre": middle, "radius": 0.5 * side * (at + 0.5) / count} for at in range(count)]
        places = [[0.5 if rank is None else 0.26 + 0.48 * rank for rank in both] for both in ranks]
        return [{"centre": [x * width, y * depth], "radius": 0.5 * _RING * side} for x, y in places]
    laid: list[Laid] = []
    for along in ((at + 0.5) / count for at in range(count)):
        half = 0.5 * _OF_THE_WAY * ((1.0 - (2.0 * along - 1.0) ** 2) ** 0.5 if is_round else 1.0)  # of its chord
        ends = [(along, end) if lie == "front-to-back" else (end, along) for end in (0.5 - half, 0.5 + half)]
        start, end = ([x * width, y * depth] for x, y in ends)
        laid.append({"from": start, "to": end})
    return laid


def moved_to(laid: Laid, x: float, y: float) -> Laid:
    """Return where a burner lies when its middle is moved to (x, y)."""
    if "centre" in laid:
        return {**laid, "centre": [x, y]}
    at_x, at_y = middle_of(laid)
    return {key: [end[0] + x - at_x, end[1] + y - at_y] for key, end in laid.items()}


def middle_of(laid: Laid) -> tuple[float, float]:
    """Return the middle of a burner."""
    if "centre" in laid:
        return laid["centre"][0], laid["centre"][1]
    (x0, y0), (x1, y1) = laid["from"], laid["to"]
    return 0.5 * (x0 + x1), 0.5 * (y0 + y1)


def misplaced(grill: Grill) -> list[tuple[str, str, Point]]:
    """Return the burners that lie elsewhere than their names say: name, the word that says so, the middle in mm."""
    found = []
    for burner in grill.burners:
        if not burner.points_mm:
            continue
        corners = list(dict.fromkeys(burner.points_mm))
        x_mm, y_mm = (sum(corner[axis] for corner in corners) / len(corners) for axis in (0, 1))
        x, y = x_mm / grill.grate.width_mm, y_mm / grill.grate.depth_mm
        words = _words(burner.name)
        sides = [(word, at, says[word]) for says, at in ((_ACROSS, x), (_AWAY, y)) for word in words if word in says]
        wrong = [word for word, at, side in sides if (at if side == 0.0 else 1.0 - at) > _LOW]
        if not wrong and not (_MIDDLE_FROM < x < _MIDDLE_TO and _MIDDLE_FROM < y < _MIDDLE_TO):
            wrong = [word for word in words if word in _MIDDLE and not sides]
        if wrong:
            found.append((burner.name, wrong[0], (x_mm, y_mm)))
    return found


def _words(name: str) -> list[str]:
    return re.findall(r"[a-z]+", name.casefold())
