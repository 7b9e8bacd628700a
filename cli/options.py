"""Options that several commands share, declared once, so that they are named and explained alike everywhere."""

from __future__ import annotations

import dataclasses
import functools
import inspect
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any, get_type_hints

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
Check = Annotated[bool, typer.Option("--check", help="For scripts: exit with 5 when the answer is no.")]

Why = Annotated[bool, typer.Option("--why", help="Also tell what it rests on, and the numbers.")]

GRILL_FILE = Path("grill.toml")
READINGS_FILE = Path("readings.csv")

#: Where the page is found when nothing else is said; always the same, so that phones find it again.
PAGE_HOST, PAGE_PORT = "127.0.0.1", 8747
Host = Annotated[
    str, typer.Option("--host", metavar="ADDRESS", help="Which address of this machine the page is served at.")
]


def option(metavar: str, words: str, default: Any = None, *, name: str = "", **how: Any) -> Any:
    """Declare an option of a command, beside its function or in a dataclass of options: its value and its help.

    Its name is that of the parameter where it has no other; `how` is as for `typer.Option`.
    """
    return dataclasses.field(default=default, metadata={"name": name, "metavar": metavar or None, "help": words, **how})


def number_or_word(text: str) -> float | str:
    """Read what is given as a number, or as a word such as none."""
    try:
        return float(text)
    except ValueError:
        return text.strip().lower()


def flag(words: str, *, name: str = "", **how: Any) -> Any:
    """Declare an option that is said or not."""
    return option("", words, False, name=name, **how)


def with_options(command: Callable[..., None]) -> Callable[..., None]:
    """Make the options of a command that are declared, one for each field of a parameter that is a dataclass of them;
    the command gets those together.
    """
    groups: dict[str, tuple[Any, list[str]]] = {}
    options: list[inspect.Parameter] = []
    for one in inspect.signature(command, eval_str=True).parameters.values():
        if dataclasses.is_dataclass(one.annotation):
            hints, fields = get_type_hints(one.annotation, include_extras=True), dataclasses.fields(one.annotation)
            options += [_parameter(field.name, hints[field.name], field) for field in fields]
            groups[one.name] = one.annotation, [field.name for field in fields]
        else:
            options.append(_parameter(one.name, one.annotation, one.default))

    @functools.wraps(command)
    def with_groups(**given: Any) -> None:
        for name, (group, fields) in groups.items():
            given[name] = group(**{field: given.pop(field) for field in fields})
        command(**given)

    with_groups.__signature__ = inspect.Signature(options)  # type: ignore[attr-defined]
    return with_groups


def _parameter(name: str, kind: Any, declared: Any) -> inspect.Parameter:
    """Return a parameter as Typer takes it."""
    if isinstance(declared, dataclasses.Field):
        how = dict(declared.metadata)
        if how:
            kind = Annotated[kind, typer.Option(how.pop("name") or f"--{name.replace('_', '-')}", **how)]
        declared = declared.default
    return inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, default=declared, annotation=kind)
