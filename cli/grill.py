"""`gratemap grill new` and `gratemap grill check`."""

from pathlib import Path
from typing import Annotated

import typer

import heatmap.words.grill as said
from cli import console, options
from cli.exit_codes import ExitCode
from cli.output import GRILL, Output
from heatmap.errors import GrillError
from heatmap.grill.toml import check_grill, grill_from_toml, toml_from_tables

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None, help="Describe your grill, or check the description.")


@app.command()
def new(
    path: Annotated[Path, typer.Argument(metavar="FILE", help="Where to write it.")] = options.GRILL_FILE,
    overwrite: Annotated[bool, typer.Option("--overwrite", help="Replace a file that is already there.")] = False,
) -> None:
    """Ask the few questions and write a commented grill file.

    \b
    Example: gratemap grill new
    """
    from cli.grill_questions import grill_answers

    if path.exists() and not overwrite:
        raise GrillError(f"{path} is already there; name another file, or say --overwrite")
    file = Output(path, GRILL, force=True)
    file.check()
    console.talk(said.A_FEW_QUESTIONS)
    tables = grill_answers()
    text = toml_from_tables(tables, comment=said.file_comment(tables["units"]))
    grill_from_toml(text, source=str(path))
    file.save(text)
    console.answer(said.written_sentence(str(path), rails="surface" not in tables["grate"]))


@app.command()
@options.with_options
def check(grill: Path = options.grill_file(), as_json: bool = options.as_json()) -> None:
    """Say what is wrong or assumed in a grill file.

    \b
    Example: gratemap grill check --grill grill.toml
    """
    from cli.grate_drawing import grate_drawing

    found, problems = check_grill(grill)
    if found is None:
        if as_json:
            console.answer_json({"file": str(grill), "name": "", "fine": False, "problems": list(problems)})
        else:
            console.talk(*said.mend_lines(str(grill), problems))
        raise typer.Exit(ExitCode.INPUT)
    warnings = said.misplaced_sentences(found)
    if as_json:
        told = {"file": str(grill), "name": found.name, "fine": True, "warnings": warnings}
        console.answer_json(told | {"assumed": list(found.assumed)})
        return
    console.answer(f"{grill}: fine. {found.name}".rstrip())
    console.answer(*grate_drawing(found), *warnings, *said.checked_lines(found))
