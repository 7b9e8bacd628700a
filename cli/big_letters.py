"""A position written so large that it is read at arm's length in the sun."""

import sys
from pathlib import Path

from cli import console


def _shapes() -> dict[str, list[str]]:
    """Return the five rows of each sign; a dot of ink is #. In the file signs stand side by side, below their names."""
    shapes = {}
    for sheet in Path(__file__).with_suffix(".txt").read_text(encoding="utf-8").split("\n\n"):
        letters, *rows = sheet.split()
        for at, letter in enumerate(letters):
            shapes[letter] = rows[at :: len(letters)]
    return shapes


_SHAPES = _shapes()


def show_large(above: str, large: str, below: str) -> None:
    """Show a word in big letters between two texts, on a screen of its own; where none can be cleared, in one line."""
    if not console.follows_escapes(sys.stderr):
        console.put(f"\r{above}  {large}  {below} ")
        return
    lines = [console.wrapped(above, 59), "", *(f"    {line}" for line in big(large)), "", console.wrapped(below, 59)]
    console.put("\033[H\033[2J" + "\n".join(lines) + "\n")


def big(text: str) -> list[str]:
    """Return the five lines of a label in big letters."""
    shapes = [_SHAPES[char] for char in text.upper() if char in _SHAPES]
    # Every dot is two signs wide, because a sign of a terminal is twice as high as wide.
    rows = ["   ".join(shape[row] for shape in shapes) for row in range(5)]
    return [row.replace("#", "██").replace(".", "  ").rstrip() for row in rows]
