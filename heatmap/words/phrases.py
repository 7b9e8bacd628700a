"""Small pieces of a sentence, and what is said with nothing but words."""

from collections.abc import Sequence

NO_PORT = "There is no serial port: plug the gun or its cable in, wait a few seconds, ask again."
#: Marks by shape, so that no meaning hangs on colour: sure, and only leaning.
MARKS = {"too hot": ("▲", "△"), "too cold": ("▼", "▽"), "in band": ("●", "○"), "suspect": ("×", "×")}
MADE = "Made by gratemap {version}, {when}."
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
