"""`gratemap map`: the heat map of a round with flags and evenness."""

from __future__ import annotations

import typer

import heatmap
from cli import console, options
from cli.loading import Files
from cli.options import flag
from cli.output import GRID, Asked, Output, output_of
from cli.table import grate_table


def command(
    *,
    files: Files,
    round_number: int | None = options.round_number(),
    grid: Output | None = output_of(GRID, "Save x, y, mean and own standard deviation as CSV."),
    surface: bool = flag("With --json: add the whole surface."),
    asked: Asked,
) -> None:
    """Show the heat map of a round: too hot, too cold or in band, how even, and what to do now.

    \b
    Example: gratemap map --picture map.png
    """
    if surface and not asked.as_json:
        raise typer.BadParameter("--surface adds to --json; say both, or save the surface with --grid")
    from heatmap.words.map import in_band

    assessment = files.assessment(round_number)
    decision = files.decision(assessment)
    asked.save_picture(lambda drawing: drawing.heat_map(assessment))
    if grid is not None:
        from heatmap.report.documents import grid_csv

        grid.save(grid_csv(assessment))
    show(assessment, decision, asked, surface=surface)
    asked.exit_unless(in_band(assessment))


def show(
    assessment: heatmap.Assessment, decision: heatmap.Decision, asked: Asked | None = None, *, surface: bool = False
) -> None:
    """Print the table, what to do, and what the map means; or, where it is asked for, all of it as JSON."""
    asked = asked or Asked()
    if asked.as_json:
        from heatmap.report.documents import map_document

        console.reply(map_document(assessment, decision, with_surface=surface))
        return
    from heatmap.words.map import map_lines, map_why_lines

    of = "" if assessment.shape_from is None else f", on the shape of round {assessment.shape_from.number}"
    console.answer(f"Round {assessment.round.number}{of}", console.legend(), *grate_table(assessment.grill, assessment))
    console.reply(map_lines(assessment, decision), 4, map_why_lines(assessment) if asked.why else None)
