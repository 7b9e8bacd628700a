"""`gratemap map`: the heat map of a round with flags and evenness."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from cli import console, loading
from cli.commands import help_text
from cli.exit_codes import ExitCode
from cli.options import (
    GRILL_FILE,
    READINGS_FILE,
    AsJson,
    Check,
    GrillFile,
    KeepSuspects,
    ReadingsFile,
    RoundNumber,
    SkipBad,
)
from cli.output import GRID, Force, Output, output_of, picture_of, save_picture
from cli.table import grate_table
from heatmap.units import Display

if TYPE_CHECKING:
    from heatmap.assessment import Assessment
    from heatmap.readings.reading import Round


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command(
        "map",
        help=help_text(
            "Show the heat map of a round: too hot, too cold, in band or unsure, and how even.",
            example="gratemap map --picture map.png",
        ),
    )(command)


def command(
    method: Annotated[
        str,
        typer.Option(
            "--method",
            metavar="METHOD",
            help="How the places between the shots are found: gaussian process, linear, cubic or thin plate.",
        ),
    ] = "gaussian process",
    methods: Annotated[
        bool, typer.Option("--methods", help="Also say how far off each method is at shots it was not given.")
    ] = False,
    keep_suspects: KeepSuspects = False,
    grill: GrillFile = GRILL_FILE,
    readings: ReadingsFile = READINGS_FILE,
    round_number: RoundNumber = None,
    picture: Annotated[Output | None, picture_of("the map")] = None,
    grid: Annotated[
        Output | None, output_of("--grid", GRID, "Save x, y, mean and own standard deviation as CSV.")
    ] = None,
    force: Force = False,
    as_json: AsJson = False,
    surface: Annotated[bool, typer.Option("--surface", help="With --json: add the whole surface.")] = False,
    skip_bad: SkipBad = False,
    check: Check = False,
) -> None:
    """Show the heat map of a round."""
    if surface and not as_json:
        raise typer.BadParameter("--surface adds to --json; say both, or save the surface with --grid")
    from heatmap.words.map import in_band

    assessment = loading.assessment(
        grill, readings, round_number, skip_bad=skip_bad, keep_suspects=keep_suspects, method=method
    )
    display, errors_c = Display(assessment.grill.units), _errors_c(assessment, keep_suspects) if methods else {}
    if picture is not None:
        from heatmap.pictures import heat_map

        save_picture(heat_map(assessment), picture)
    if grid is not None:
        from heatmap.report.grid_csv import grid_csv

        grid.save(grid_csv(assessment))
    if as_json:
        from heatmap.report.documents import map_document

        document = map_document(assessment, with_surface=surface)
        if methods:
            key = f"error_{display.degree_key}"
            document["methods"] = [
                {"method": method, key: display.difference(error_c)} for method, error_c in errors_c.items()
            ]
        console.answer_json(document)
    else:
        show(assessment)
        if methods:
            _show_methods(errors_c, assessment.shape_from, display)
    if check and not in_band(assessment):
        raise typer.Exit(ExitCode.ANSWER_IS_NO)


def show(assessment: Assessment) -> None:
    """Print the table and the answer."""
    from heatmap.words.map import full_answer

    console.answer(f"Round {assessment.round.number}")
    for line in grate_table(assessment):
        console.answer(line)
    console.answer(console.legend())
    for line in full_answer(assessment):
        console.answer(line)


def _errors_c(assessment: Assessment, keep_suspects: bool) -> dict[str, float]:
    """Return how far off each method is, root mean square in °C, at shots it was not given.

    A re-check is told by the full round it took its shape from: no method makes a map of its few shots.
    """
    from heatmap.grate_model.reference_pairs import calibrations_for
    from heatmap.grate_model.round_map import map_round
    from heatmap.surface import METHODS

    grill, one, known = assessment.grill, assessment.round, assessment.calibrations
    if assessment.shape_from is not None:
        one = assessment.shape_from
        known = calibrations_for(grill, assessment.rounds, one)
    maps = {method: map_round(grill, one, known, method=method, keep_suspects=keep_suspects) for method in METHODS}
    return {method: mapped.surface.leave_one_out_rmse_c for method, mapped in maps.items()}


def _show_methods(errors_c: dict[str, float], shape_from: Round | None, display: Display) -> None:
    of = "" if shape_from is None else f" of round {shape_from.number}"
    console.answer(f"Error when each position{of} in turn is left out and predicted from the others:")
    for method, error_c in errors_c.items():
        console.answer(f"  {method:18s} {display.difference(error_c):6.1f} {display.degrees}")
