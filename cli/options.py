"""Options that several commands share, declared once, so that they are named and explained alike everywhere."""

import dataclasses
import inspect
from collections.abc import Callable
from functools import partial, wraps
from pathlib import Path
from typing import Annotated, Any, get_type_hints

import typer

GRILL_FILE, READINGS_FILE = Path("grill.toml"), Path("readings.csv")
#: Where the page is found when nothing else is said; always the same, so that phones find it again.
PAGE_HOST, PAGE_PORT = "127.0.0.1", 8747


def option(metavar: str, words: str, default: Any = None, *, name: str = "", key: str = "", **how: Any) -> Any:
    """Declare an option of a command, beside its function or in a dataclass of options: its value and its help.

    Its name is that of the parameter where it has no other; `key` is one of the grill file that it stands for, `how` is
    as for `typer.Option`.
    """
    how |= {"metavar": metavar or None, "help": words}
    return dataclasses.field(default=default, metadata={"name": name, "key": key, "how": how})


def number_or_word(text: str) -> float | str:
    """Read what is given as a number, or as a word such as none."""
    try:
        return float(text)
    except ValueError:
        return text.strip().lower()


def flag(words: str, *, name: str = "", **how: Any) -> Any:
    """Declare an option that is said or not."""
    return option("", words, False, name=name, **how)


# What several commands take; each makes the option anew. The grill file and the readings are known before an option
# that writes is looked at: nothing is ever written over them (cli.output).
file_option = partial(option, "FILE", readable=False)
grill_file = partial(file_option, "The grill file.", GRILL_FILE, name="--grill", is_eager=True)
readings_file = partial(
    file_option, "The readings file; - reads a pipe.", READINGS_FILE, name="--readings", is_eager=True
)
log_file = partial(file_option, "The readings file; a new round is added to it.", READINGS_FILE, name="--readings")
round_number = partial(option, "N", "Which round; the newest by default.", name="--round")
host = partial(option, "ADDRESS", "Which address of this machine the page is served at.", PAGE_HOST)
as_json = partial(flag, "Print one JSON object instead of words.", name="--json")
skip_bad = partial(flag, "Go on without rows that cannot be read.")
check = partial(flag, "For scripts: exit with 5 when the answer is no.")
why = partial(flag, "Also tell what it rests on, and the numbers.")
force = partial(flag, "Write over a file that is no earlier output; never over readings or grills.", is_eager=True)


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

    @wraps(command)
    def with_groups(**given: Any) -> None:
        for name, (group, fields) in groups.items():
            given[name] = group(**{field: given.pop(field) for field in fields})
        command(**given)

    with_groups.__signature__ = inspect.Signature(options)  # type: ignore[attr-defined]
    return with_groups


def _parameter(name: str, kind: Any, declared: Any) -> inspect.Parameter:
    """Return a parameter as Typer takes it."""
    if isinstance(declared, dataclasses.Field):
        if said := declared.metadata:
            kind = Annotated[kind, typer.Option(said["name"] or f"--{name.replace('_', '-')}", **said["how"])]
        declared = declared.default
    return inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, default=declared, annotation=kind)
