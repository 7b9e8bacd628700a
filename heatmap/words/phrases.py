"""Small pieces of a sentence, and what is said with nothing but words."""

from __future__ import annotations

from collections.abc import Sequence

NO_PORT = "There is no serial port: plug the gun or its cable in, wait a few seconds, ask again."
#: Marks by shape, so that no meaning hangs on colour: sure, and only leaning.
MARKS = {"too hot": ("▲", "△"), "too cold": ("▼", "▽"), "in band": ("●", "○"), "suspect": ("×", "×")}
NOTHING_TO_TURN = "Nothing to turn"
#: What follows the last turn of a piece.
TAKE_OFF = "take it off"


def joined(names: Sequence[str]) -> str:
    """Join names as people do: "a, b and c"."""
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1] if names else "")))


def signed(number: float) -> str:
    """Return a change in whole numbers, with its sign: "+12", "−3", "0"."""
    whole = round(number)
    return f"{whole:+d}".replace("-", "−") if whole else "0"


def made_sentence(version: str, when: str) -> str:
    """Say at the end of a page what made it, and when."""
    return f"Made by gratemap {version}, {when}."


def seen_text(what: str, told: str) -> str:
    """Return what a picture shows, and what it says, for those who cannot see it."""
    return f"{what}. {told}"
