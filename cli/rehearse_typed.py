"""What can be typed at a rehearsal, and what each line means."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from heatmap.grill.grill import Burner, Grill

HELP = """What you can type:
  advice            turn the knobs as advised, wait, and shoot a round
  left 6.5 right 4  set these knobs to these marks, wait, and shoot a round
  Enter             shoot another round at the same marks
  wait 10           let 10 minutes pass, then shoot a round
  contact B2        hold the surface probe on a rail at B2
  close             pairs of shots from close up, everywhere (close A1 B3: there)
  patch B2          shoot the reference patch at B2
  show              show the map and the advice again
  end               end, and see the truth"""


class Word(Enum):
    """A line that is one word."""

    ADVICE = "turn the knobs as advised"
    SHOW = "show the map and the advice again"
    HELP = "show what can be typed"
    END = "end, and show the truth"


@dataclass(frozen=True, slots=True)
class Marks:
    """Set these burners."""

    marks: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Wait:
    """Let so many minutes pass, then shoot; 0: shoot at once."""

    minutes: float


@dataclass(frozen=True, slots=True)
class Touch:
    """A contact or patch reading at positions, or a pair of shots from close up at each."""

    how: str
    positions: tuple[str, ...]


Typed = Word | Marks | Wait | Touch
_WORDS: dict[str, Typed] = {
    "": Wait(0.0),
    "advice": Word.ADVICE,
    "show": Word.SHOW,
    "map": Word.SHOW,
    "?": Word.HELP,
    "help": Word.HELP,
    "end": Word.END,
    "done": Word.END,
    "quit": Word.END,
}
#: Nobody waits longer than this for a grate.
MOST_WAIT_MIN = 240.0


def parse(text: str, grill: Grill) -> Typed:
    """Understand one typed line.

    Raises
    ------
    ReadingError
        One sentence: what was typed and what to type instead.
    """
    from heatmap.errors import ReadingError

    words = text.replace("=", " ").replace(",", " ").split()
    plain = " ".join(words).casefold()
    if plain in _WORDS:
        return _WORDS[plain]
    first = words[0].casefold()
    if first == "close" or (first in ("contact", "patch") and len(words) > 1):
        for word in words[1:]:
            grill.point_mm(word)
        return Touch(first, tuple(word.upper() for word in words[1:]) or grill.labels)
    if first == "wait":
        try:
            minutes = float(words[1]) if len(words) == 2 else -1.0
        except ValueError:
            minutes = -1.0
        if not 0.0 <= minutes <= MOST_WAIT_MIN:
            raise ReadingError(f"wait how many minutes? 0 to {MOST_WAIT_MIN:g}, like: wait 10")
        return Wait(minutes)
    return Marks(_marks(words[1:] if first == "knob" else words, grill))


def _marks(words: list[str], grill: Grill) -> dict[str, float]:
    """Read burners and marks in turn; a name may be several words."""
    from heatmap.errors import ReadingError
    from heatmap.readings.written import quoted

    marks: dict[str, float] = {}
    at = 0
    while at < len(words):
        found = _burner_at(words, at, grill)
        if found is None or at + found[1] >= len(words):
            names = ", ".join(burner.name for burner in grill.burners)
            raise ReadingError(
                f"{quoted(' '.join(words[at:]))} is not understood; type advice, or a burner and its mark, "
                f"or ? for help; burners are: {names}"
            )
        burner, size = found
        mark = burner.mark_from_text(words[at + size])
        if mark not in burner.settable:
            nearest = float(min(burner.settable, key=lambda one: abs(one - mark)))
            raise ReadingError(f"a hand cannot set {burner.name} to {mark:g}; the nearest it can is {nearest:g}")
        marks[burner.name] = mark
        at += size + 1
    return marks


def _burner_at(words: list[str], at: int, grill: Grill) -> tuple[Burner, int] | None:
    """Return the burner whose name stands here, the longest that fits, and how many words it takes."""
    fitting = []
    for burner in grill.burners:
        name = burner.name.casefold().split()
        if [word.casefold() for word in words[at : at + len(name)]] == name:
            fitting.append((burner, len(name)))
    return max(fitting, key=lambda pair: pair[1], default=None)
