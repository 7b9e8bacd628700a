"""`gratemap manual`: the manual by topic, since there is no internet at a grill."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from pathlib import Path
from typing import Annotated

import typer

import heatmap
from cli import console, options
from cli.output import SHEET, Output, output_of
from cli.table import framed
from heatmap.errors import InputError

#: Topics in reading order, each a file of that name beside this one.
TOPICS = (
    "course grill readings take map burners compare place sear gun report page rehearse uncertainty emissivity physics "
    "conventions cautions changes"
).split()
#: Not a text but a form: a blank sheet to write on.
_SHEET = "sheet"


def _topics(incomplete: str) -> list[str]:
    """Return the topics that begin so, for the shell to complete."""
    return [name for name in (*TOPICS, _SHEET) if name.startswith(incomplete)]


def command(
    topic: Annotated[
        str, typer.Argument(metavar="TOPIC", autocompletion=_topics, help="A topic, or sheet; leave out for the list.")
    ] = "",
    grill: Path = options.grill_file(),
    page: Output | None = output_of(SHEET, "With sheet: save it as a page to print (.html)."),
    force: bool = options.force(),
) -> None:
    """Read the manual by topic; the topic sheet prints a blank sheet for the clipboard.

    \b
    Example: gratemap manual course
    """
    topic = topic.lower()
    if page is not None and topic != _SHEET:
        raise InputError("--page saves the blank sheet and nothing else: gratemap manual sheet --page FILE")
    if topic:
        lines = sheet_lines(heatmap.load_grill(grill)) if topic == _SHEET else [text(topic)]
    else:
        titles = [f"  {name:12s} {text(name).splitlines()[0].lstrip('# ')}" for name in TOPICS]
        titles.append(f"  {_SHEET:12s} A blank sheet for the clipboard")
        lines = ["Topics, in reading order; read one with: gratemap manual TOPIC", *titles]
    if page is None:
        console.answer(*lines)
    else:
        page.save(sheet_html(lines))
        console.talk(f"Sheet saved: {page.path}")


def text(topic: str) -> str:
    """Return a topic's text."""
    if topic not in TOPICS:
        raise InputError(f'the manual has no topic "{topic}"; topics: {", ".join((*TOPICS, _SHEET))}')
    return Path(__file__).with_name(f"{topic}.md").read_text(encoding="utf-8").rstrip()


def sheet_lines(grill: heatmap.Grill) -> list[str]:
    """Return a blank sheet, to be written on at the grill; of at most 80 characters a line up to nine columns."""
    from heatmap.words.sheet import BLANK, lines_above, lines_below

    room = max(6, min(12, 70 // grill.positions.columns - 2))
    blanks = [f"{BLANK:^{room}}" for _ in grill.labels]
    back, columns, *rows, you = framed(grill, blanks, [""] * len(blanks))
    table = [back, columns, *(line for row in rows for line in ("", row)), "", you]
    return [*lines_above(grill), "", *table, "", *lines_below(grill)]


def sheet_html(lines: Sequence[str]) -> str:
    """Return the lines of a blank sheet as a page to print, on one sheet across."""
    head = '<meta charset="utf-8"><meta name="generator" content="gratemap sheet"><title>Blank sheet</title>'
    style = "<style>@page { size: landscape; margin: 12mm } pre { font: 15px/1.4 monospace }</style>"
    body = escape("\n".join(lines))
    return f'<!DOCTYPE html>\n<html lang="en"><head>{head}{style}</head>\n<body><pre>{body}</pre></body></html>\n'
