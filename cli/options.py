"""Options that several commands share, declared once, so that they are named and explained alike everywhere."""

from __future__ import annotations

import dataclasses
import functools
import inspect
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any

import typer

# Both files are known before an option that writes is looked at: nothing is ever written over them (cli.output).
GrillFile = Annotated[
    Path, typer.Option("--grill", metavar="FILE", is_eager=True, readable=False, help="The grill file.")
]
ReadingsFile = Annotated[
    Path,
    typer.Option(
        "--readings", metavar="FILE", is_eager=True, readable=False, help="The readings file; - reads a pipe."
    ),
]
ReadingsLogFile = Annotated[
    Path,
    typer.Option("--readings", metavar="FILE", readable=False, help="The readings file; a new round is added to it."),
]
RoundNumber = Annotated[int | None, typer.Option("--round", metavar="N", help="Which round; the newest by default.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object instead of words.")]
SkipBad = Annotated[bool, typer.Option("--skip-bad", help="Go on without rows that cannot be read.")]
KeepSuspects = Annotated[bool, typer.Option("--keep-suspects", help="Let readings that cannot be into the map.")]
Check = Annotated[bool, typer.Option("--check", help="For scripts: exit with 5 when the answer is no.")]

Why = Annotated[bool, typer.Option("--why", help="Also tell what it rests on, and the numbers.")]

GRILL_FILE = Path("grill.toml")
READINGS_FILE = Path("readings.csv")

#: Where the page is found when nothing else is said; always the same, so that phones find it again.
PAGE_HOST, PAGE_PORT = "127.0.0.1", 8747
Host = Annotated[
    str, typer.Option("--host", metavar="ADDRESS", help="Which address of this machine the page is served at.")
]


def with_options(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command one option for each field of a parameter that is a dataclass of options; it gets them together."""
    groups: dict[str, tuple[Any, list[str]]] = {}
    options: list[inspect.Parameter] = []
    for one in inspect.signature(command, eval_str=True).parameters.values():
        found = [one]
        if dataclasses.is_dataclass(one.annotation):
            found = list(inspect.signature(one.annotation, eval_str=True).parameters.values())  # type: ignore[arg-type]
            groups[one.name] = one.annotation, [field.name for field in found]
        options += [option.replace(kind=inspect.Parameter.KEYWORD_ONLY) for option in found]

    @functools.wraps(command)
    def with_groups(**given: Any) -> None:
        for name, (group, fields) in groups.items():
            given[name] = group(**{field: given.pop(field) for field in fields})
        command(**given)

    with_groups.__signature__ = inspect.Signature(options)  # type: ignore[attr-defined]
    return with_groups
