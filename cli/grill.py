"""`gratemap grill new` and `gratemap grill check`."""

from __future__ import annotations

import math
import sys
from pathlib import Path
from typing import Annotated

import typer

from cli import console
from cli.commands import help_text
from cli.exit_codes import ExitCode
from cli.options import GRILL_FILE, AsJson, GrillFile
from heatmap.errors import GrillError, InputError
from heatmap.units import STDS_95


def register(app: typer.Typer) -> None:
    """Add the two commands."""
    group = typer.Typer(
        no_args_is_help=True, rich_markup_mode=None, help="Describe your grill, or check the description."
    )
    group.command(
        "new",
        help=help_text(
            "Ask the few questions and write a commented grill file.",
            example="gratemap grill new",
        ),
    )(new)
    group.command(
        "check",
        help=help_text(
            "Say what is wrong or assumed in a grill file.",
            example="gratemap grill check --grill grill.toml",
        ),
    )(check)
    app.add_typer(group, name="grill")


def new(
    path: Annotated[Path, typer.Argument(metavar="FILE", help="Where to write it.")] = GRILL_FILE,
    overwrite: Annotated[bool, typer.Option("--overwrite", help="Replace a file that is already there.")] = False,
) -> None:
    """Ask the few questions and write a commented grill file."""
    from heatmap.files.grill_toml import grill_from_toml, grill_toml

    if path.exists() and not overwrite:
        raise GrillError(f"{path} is already there; name another file, or say --overwrite")
    if not path.parent.is_dir():
        raise GrillError(f"{path}: there is no folder {path.parent} for it; make it, or choose another")
    console.talk("A few questions; Enter takes the answer in brackets.")
    units = _choice("Units: us (°F, inches) or si (°C, mm)", "us", ("us", "si"))
    us = units == "us"
    length, degrees = ("inches", "°F") if us else ("mm", "°C")
    answers = {
        "units": units,
        "name": _ask("A name for the grill", "my grill"),
        "width": _number(f"Grate width, left to right, {length}", 24.0 if us else 600.0),
        "depth": _number(f"Grate depth, front to back, {length}", 18.0 if us else 450.0),
        "rails": _choice(
            "Rails run front-to-back or left-to-right", "front-to-back", ("front-to-back", "left-to-right")
        ),
        "finish": _finish(),
        "burner_names": _names(),
    }
    low, high = (
        (1.0, 10.0) if not answers["burner_names"] else _pair("Knob marks, lowest steady flame and full", "1 10")
    )
    band_low, band_high = _pair(f"The band you want on the rails, {degrees} (no default)", "")
    text = grill_toml(
        **answers,  # type: ignore[arg-type]
        knob_low=low,
        knob_high=high,
        band_low=band_low,
        band_high=band_high,
        numbers=_choice(
            "Is that band as your gun shows it (shown) or the true rail (rail)", "shown", ("shown", "rail")
        ),
        distance_to_spot=_number("Distance to spot of the gun, 12 for 12:1", 12.0),
        emissivity_setting=_number("Emissivity the gun is set to", 0.95),
    )
    grill_from_toml(text, source=str(path))
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise GrillError(f"{path}: cannot be written: {error.strerror or error}") from None
    console.answer(f"Written: {path}. Look it over, above all where the burners lie; then: gratemap take")


def _ask(question: str, default: str) -> str:
    shown = f" [{default}]" if default else ""
    sys.stderr.write(f"{question}{shown}: ")
    sys.stderr.flush()
    line = sys.stdin.readline()
    if not line:
        raise InputError("the answers ended early; nothing was written")
    return line.strip() or default


def _choice(question: str, default: str, allowed: tuple[str, ...]) -> str:
    while (answer := _ask(question, default).lower()) not in allowed:
        console.talk(f"  {answer!r} is not one of: {', '.join(allowed)}")
    return answer


def _number(question: str, default: float) -> float:
    while True:
        answer = _ask(question, f"{default:g}")
        try:
            number = float(answer.replace(",", "."))
        except ValueError:
            number = math.nan
        if 0.0 < number < math.inf:
            return number
        console.talk(f"  {answer!r} is not a number above 0")


def _pair(question: str, default: str) -> tuple[float, float]:
    while True:
        parts = _ask(question, default).replace(",", " ").replace("-", " ").split()
        try:
            low, high = (float(part) for part in parts)
        except ValueError:
            console.talk("  two numbers, low then high, for example: 550 600")
            continue
        if -math.inf < low < high < math.inf:
            return low, high
        console.talk("  low first, then high")


def _finish() -> str:
    from heatmap.physics.emissivity import find_finish
    from heatmap.physics.finishes import FINISHES

    while True:
        answer = _ask("Finish of the rails (? lists them)", "cast iron, seasoned")
        if answer != "?":
            try:
                return find_finish(answer).name
            except GrillError as error:
                console.talk(f"  {error}")
                continue
        for name in FINISHES:
            console.talk(f"  {name}")


def _names() -> tuple[str, ...]:
    answer = _ask("Burners with knobs, left to right, names separated by commas (none: -)", "left, middle, right")
    return () if answer == "-" else tuple(name.strip() for name in answer.split(",") if name.strip())


def check(grill: GrillFile = GRILL_FILE, as_json: AsJson = False) -> None:
    """Say what is wrong or assumed in a grill file."""
    from heatmap.files.grill_toml import check_grill
    from heatmap.physics.emissivity import find_finish

    found, problems = check_grill(grill)
    if found is None:
        if as_json:
            console.answer_json({"file": str(grill), "name": "", "fine": False, "problems": list(problems)})
        elif len(problems) == 1:
            console.talk(f"gratemap: {grill}: {problems[0]}")
        else:
            console.talk(f"gratemap: {grill}: {len(problems)} things to mend:")
            for line in problems:
                console.talk(f"  {line}")
        raise typer.Exit(ExitCode.INPUT)
    if as_json:
        console.answer_json({"file": str(grill), "name": found.name, "fine": True, "assumed": list(found.assumed)})
        return
    console.answer(f"{grill}: fine. {found.name}".rstrip())
    console.answer(f"Positions {found.labels[0]} (back left) to {found.labels[-1]} (front right).")
    if found.grate.emissivity is None:
        finish = find_finish(found.grate.finish)
        known = "assumed, no published value" if finish.assumed else finish.source
        console.answer(
            f"Emissivity of {finish.name}: {finish.emissivity:.2f} ± {STDS_95 * finish.emissivity_sd:.2f} ({known})."
        )
    if found.assumed:
        console.answer("Taken as usual, because the file does not say:")
        for line in found.assumed:
            console.answer(f"  {line}")
