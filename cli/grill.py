"""`gratemap grill new` and `gratemap grill check`; few questions, each with a default, `?` helps, `<` goes back."""

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Annotated, Any, TypeVar

import typer

import heatmap.words.grill as said
from cli import console, options
from cli.commands import COMMANDS
from cli.exit_codes import ExitCode
from cli.grate_drawing import grate_drawing
from cli.output import GRILL, Output
from heatmap.errors import GrillError
from heatmap.grill import answers
from heatmap.grill.answers import Tables
from heatmap.grill.grate import Positions
from heatmap.grill.layout import lay_out
from heatmap.grill.toml import check_grill, grill_from_tables, grill_from_toml, toml_from_tables
from heatmap.units import shown_value

Answer = TypeVar("Answer")

app = typer.Typer(name="grill", help=COMMANDS["grill"], no_args_is_help=True, rich_markup_mode=None)


@app.command()
def new(
    path: Annotated[Path, typer.Argument(metavar="FILE", help="Where to write it.")] = options.GRILL_FILE,
    overwrite: Annotated[bool, typer.Option("--overwrite", help="Replace a file that is already there.")] = False,
) -> None:
    """Ask the few questions and write a commented grill file.

    \b
    Example: gratemap grill new
    """
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
    found, problems = check_grill(grill)
    if found is None:
        if as_json:
            console.reply({"file": str(grill), "name": "", "fine": False, "problems": list(problems)})
        else:
            console.talk(*said.mend_lines(str(grill), problems))
        raise typer.Exit(ExitCode.INPUT)
    warnings = said.misplaced_sentences(found)
    told = {"file": str(grill), "name": found.name, "fine": True, "warnings": warnings, "assumed": list(found.assumed)}
    lines = [f"{grill}: fine. {found.name}".rstrip(), *grate_drawing(found), *warnings, *said.checked_lines(found)]
    console.reply(told if as_json else lines)


class _BackError(Exception):
    """So many of the answers given are to be asked for again, the last first."""


#: More than there are questions.
_ALL = 1000


class _Dialogue:
    """Puts questions in their order; to go back is to put them all again and to answer all but the last as before."""

    def __init__(self) -> None:
        self._given: list[str] = []
        self._at = 0
        self._before: dict[str, str] = {}

    @property
    def is_replayed(self) -> bool:
        """Whether the next question was answered before."""
        return self._at < len(self._given)

    def ask(self, question: said.Question, read: Callable[[str], Answer]) -> Answer:
        """Put a question until its answer can be read; a GrillError of `read` says what is wrong with one."""
        self._at += 1
        if self._at <= len(self._given):
            return read(self._given[self._at - 1])

        def answered(line: str) -> Answer:
            if line == "?":
                raise GrillError(question.help)
            if line == "<":
                raise _BackError(1)
            answer = read(line)
            self._given.append(line)
            if question != said.IS_IT_SO:
                self._before[question.text] = line
            return answer

        return console.ask(question.text, self._before.get(question.text, question.usual), answered)

    def go_back(self, steps: int) -> None:
        """Begin again with all but so many of the answers; what is asked again has its answer in its brackets."""
        self._at = 0
        del self._given[-steps:]


def grill_answers() -> Tables:
    """Ask what a grill file needs; return its tables."""
    dialogue = _Dialogue()
    while True:
        try:
            tables = _drawn(_described(dialogue), dialogue)
            units = tables["units"]
            tables["target"] = dialogue.ask(said.band_in(units), partial(answers.band, units=units))
            tables["gun"] = dialogue.ask(said.GUN, answers.gun)
            return tables
        except _BackError as back:
            dialogue.go_back(*back.args)


def _described(dialogue: _Dialogue) -> Tables:
    """Ask for the grate and its burners; return tables with all else as is usual.

    On a small grate the positions and the rim are drawn in, so that they fit.
    """
    units, grate = dialogue.ask(said.SIZE, answers.size)
    width: float = grate["width"]
    depth: float = grate.get("depth", width)
    grate |= dialogue.ask(said.METAL, partial(answers.metal, units=units))
    positions = answers.positions(12, grate)
    side = min(width, depth)
    if side <= 2.0 * shown_value(Positions().margin_mm, "length", units):
        grate["rim"], positions["margin"] = round(side / 20, 4), round(side / 6, 4)
    return {
        "units": units,
        "name": "my grill",
        "grate": grate,
        "positions": positions,
        "burner": _burners(dialogue, width, depth, is_round="shape" in grate),
        "gun": {},
        "target": answers.band(said.USUAL_BAND[units], units),
    }


def _burners(dialogue: _Dialogue, width: float, depth: float, *, is_round: bool) -> list[Tables]:
    """Ask how the burners lie, what they are called and how their knobs are marked."""
    question = said.BURNERS._replace(usual="coals") if is_round else said.BURNERS
    lie: Any = dialogue.ask(question, answers.lie)
    control = "knob"
    names: tuple[str, ...] = ("burner",)
    if lie == "none":
        return []
    if lie == "coals":
        control, names = "vents", ("vents",)
    elif lie != "one":
        names = dialogue.ask(said.names_of(lie), partial(answers.names, lies=lie))
    marks = dialogue.ask(said.VENTS, answers.vents) if lie == "coals" else dialogue.ask(said.KNOBS, answers.marks)
    if not marks:
        return [{"name": "coals", "control": "none"}]
    laid = lay_out("one" if lie == "coals" else lie, names, width, depth, is_round=is_round)
    return [
        {"name": name, "control": control, **answers.rounded(one), **marks}
        for name, one in zip(names, laid, strict=True)
    ]


def _drawn(tables: Tables, dialogue: _Dialogue) -> Tables:
    """Draw the grate until it is agreed to, changed as is said."""
    while True:
        if not dialogue.is_replayed:
            grill = grill_from_tables(tables, source="this grill")
            console.talk("", *grate_drawing(grill), *said.misplaced_sentences(grill))
        changed = dialogue.ask(said.IS_IT_SO, partial(_changed, tables=tables))
        if changed is tables:
            return tables
        tables = changed


def _changed(text: str, tables: Tables) -> Tables:
    """Return the tables as they are after yes, or changed by what else is said."""
    plain = " ".join(text.casefold().split())
    if plain in ("yes", "y", "ok", "right"):
        return tables
    if plain in ("no", "n"):
        raise _BackError(_ALL)
    if plain.isdigit():
        changed = {"positions": tables["positions"] | answers.positions(int(plain), tables["grate"])}
    else:
        changed = {"burner": answers.moved(plain, tables["burner"])}
    grill_from_tables(tables | changed, source="this grill")
    return tables | changed
