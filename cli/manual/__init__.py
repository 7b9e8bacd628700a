"""`gratemap manual`: the manual by topic, since there is no internet at a grill."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cli import console
from cli.options import GRILL_FILE, GrillFile
from cli.table import framed
from heatmap.errors import InputError

if TYPE_CHECKING:
    from heatmap.grill.grill import Grill

#: Topics in reading order, each a file of that name beside this one.
TOPICS = (
    "course",
    "grill",
    "readings",
    "take",
    "map",
    "burners",
    "compare",
    "place",
    "sear",
    "gun",
    "report",
    "page",
    "rehearse",
    "uncertainty",
    "emissivity",
    "physics",
    "conventions",
    "cautions",
    "changes",
)
#: Not a text but a form: a blank sheet to write on.
SHEET = "sheet"


def _topics(incomplete: str) -> list[str]:
    """Return the topics that begin so, for the shell to complete."""
    return [name for name in (*TOPICS, SHEET) if name.startswith(incomplete)]


def command(
    topic: Annotated[
        str, typer.Argument(metavar="TOPIC", autocompletion=_topics, help="A topic, or sheet; leave out for the list.")
    ] = "",
    grill: GrillFile = GRILL_FILE,
) -> None:
    """Read the manual by topic; the topic sheet prints a blank sheet for the clipboard.

    \b
    Example: gratemap manual course
    """
    topic = topic.lower()
    if topic == SHEET:
        from heatmap.grill.toml import load_grill

        console.answer(sheet_text(load_grill(grill)))
        return
    if not topic:
        console.answer("Topics, in reading order; read one with: gratemap manual TOPIC")
        for name in TOPICS:
            console.answer(f"  {name:12s} {title(name)}")
        console.answer(f"  {SHEET:12s} A blank sheet for the clipboard")
        return
    console.answer(text(topic))


def text(topic: str) -> str:
    """Return a topic's text."""
    if topic not in TOPICS:
        raise InputError(f'the manual has no topic "{topic}"; topics: {", ".join((*TOPICS, SHEET))}')
    return Path(__file__).with_name(f"{topic}.md").read_text(encoding="utf-8").rstrip()


def title(topic: str) -> str:
    """Return the heading of a topic."""
    return text(topic).splitlines()[0].lstrip("# ")


_BLANK = "______"


def sheet_text(grill: Grill) -> str:
    """Return a blank sheet, to be written on at the grill; of at most 80 characters a line up to nine columns."""
    room = max(6, min(12, 70 // grill.positions.columns - 2))
    blanks = [f"{_BLANK:^{room}}" for _ in grill.labels]
    back, columns, *rows, you = framed(grill, blanks, [""] * len(blanks))
    middle = round(grill.display.temperature(grill.target.middle_c))
    first = [label for label in grill.labels if label[0] == "A"]
    numbers = " ".join(str(middle + 5 * (index % 3)) for index in range(len(first)))
    return "\n".join(
        [
            *(f"{name}: {_BLANK * 3}" for name in ("Date and time", "Grill")),
            *(f"Marks, {burner.name}: {_BLANK * 2}" for burner in grill.burners if burner.control != "none"),
            f"Lid before the round: open / closed    Rails: dry / oiled    Shown in {grill.display.degrees}",
            "",
            back,
            columns,
            *(line for row in rows for line in ("", row)),
            "",
            you,
            "",
            f"Surface probe:  at {_BLANK}  reads {_BLANK}      Notes: {_BLANK * 4}",
            "",
            "Typed in later:  gratemap take   then a row at a time, left to right, like",
            f"    A {numbers}" if len(first) > 1 else f"    {first[0]} {middle}",
            "and - for a position left out; contact B2 610 for the probe; done at the end.",
            "The grate, the rails and the lid burn: keep your sleeves and the sheet off them.",
        ]
    )
