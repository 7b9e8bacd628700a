"""`gratemap grill new` and `gratemap grill check`."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from cli import console
from cli.exit_codes import ExitCode
from cli.options import GRILL_FILE, AsJson, GrillFile
from cli.output import GRILL, Output
from heatmap.errors import GrillError
from heatmap.units import STDS_95

_HEAD = {
    "us": "A grill for gratemap. Numbers are in inches and °F.\n",
    "si": "A grill for gratemap. Numbers are in mm and °C.\n",
}
_AXES = "x runs to the right, y away from you, both from the front left corner of the grate."

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None, help="Describe your grill, or check the description.")


@app.command()
def new(
    path: Annotated[Path, typer.Argument(metavar="FILE", help="Where to write it.")] = GRILL_FILE,
    overwrite: Annotated[bool, typer.Option("--overwrite", help="Replace a file that is already there.")] = False,
) -> None:
    """Ask the few questions and write a commented grill file.

    \b
    Example: gratemap grill new
    """
    from cli.grill_questions import grill_answers
    from heatmap.grill.toml import grill_from_toml, toml_from_tables

    if path.exists() and not overwrite:
        raise GrillError(f"{path} is already there; name another file, or say --overwrite")
    file = Output(path, GRILL, force=True)
    file.check()
    console.talk("A few questions. Enter takes what stands in brackets; ? helps; < goes back.")
    tables = grill_answers()
    text = toml_from_tables(tables, comment=_HEAD[tables["units"]] + _AXES)
    grill_from_toml(text, source=str(path))
    file.save(text)
    rails = "" if tables["grate"].get("surface") == "plate" else " Measure the rails when you can and put them in."
    console.answer(f"Written: {path}.{rails} Now: gratemap take")


@app.command()
def check(grill: GrillFile = GRILL_FILE, as_json: AsJson = False) -> None:
    """Say what is wrong or assumed in a grill file.

    \b
    Example: gratemap grill check --grill grill.toml
    """
    from cli.grate_drawing import grate_drawing
    from heatmap.grill.toml import check_grill
    from heatmap.physics.finishes import find_finish
    from heatmap.words.grill import misplaced_sentences

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
    warnings = misplaced_sentences(found)
    if as_json:
        told = {"file": str(grill), "name": found.name, "fine": True, "warnings": warnings}
        console.answer_json(told | {"assumed": list(found.assumed)})
        return
    console.answer(f"{grill}: fine. {found.name}".rstrip())
    console.answer(*grate_drawing(found, sys.stdout), *warnings)
    console.answer(f"{found.positions_text[0].upper()}{found.positions_text[1:]}.")
    if found.grate.emissivity is None:
        finish = find_finish(found.grate.finish)
        known = "assumed, no published value" if finish.assumed else finish.source
        console.answer(
            f"Emissivity of {finish.name}: {finish.emissivity:.2f} ± {STDS_95 * finish.emissivity_sd:.2f} ({known})."
        )
        if finish.remark:
            console.answer(f"  {finish.remark}")
    if found.assumed:
        console.answer("Taken as usual, because the file does not say:", *(f"  {line}" for line in found.assumed))
