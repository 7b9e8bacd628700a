"""`gratemap place`: where to set the food down, at which heading."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cli import console, loading
from cli.exit_codes import ExitCode
from cli.options import (
    GRILL_FILE,
    READINGS_FILE,
    AsJson,
    Check,
    GrillFile,
    ReadingsFile,
    RoundNumber,
    SkipBad,
)

if TYPE_CHECKING:
    from heatmap.assessment import Assessment
    from heatmap.quantities import Units
    from heatmap.placement import Footprint, Placement

#: The usual rib eye (common practice, no source).
USUAL_SIZE = {"us": "7.5x5", "si": "190x125"}


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command(
        "place",
        help="Say where to set the food down, and at which heading. Length is along the heading; 12 points "
        "straight away from you. Example: gratemap place --size 7.5x5 --heading 2,10",
    )(command)


def command(
    grill: GrillFile = GRILL_FILE,
    readings: ReadingsFile = READINGS_FILE,
    round_number: RoundNumber = None,
    size: Annotated[
        str,
        typer.Option("--size", metavar="LENGTHxWIDTH", help="Size of the food; else 7.5x5 in or 190x125 mm."),
    ] = "",
    shape: Annotated[
        str, typer.Option("--shape", metavar="ellipse|rectangle", help="Outline of the food.")
    ] = "ellipse",
    heading: Annotated[
        str,
        typer.Option(
            "--heading",
            metavar="CLOCK[,CLOCK]",
            help="By the clock; two for crossed marks; if not given, the best.",
        ),
    ] = "",
    keep_off: Annotated[
        list[str] | None,
        typer.Option("--keep-off", metavar="X0,Y0,X1,Y1", help="Two corners of an area to keep off; may be repeated."),
    ] = None,
    off_seams: Annotated[bool, typer.Option("--off-seams", help="Keep off the seams between panels.")] = False,
    pieces: Annotated[int, typer.Option("--pieces", metavar="N", help="Places for N pieces, as alike as can be.")] = 1,
    turns: Annotated[int, typer.Option("--turns", metavar="N", help="Fresh rails for every one of N turns.")] = 1,
    same_place: Annotated[
        bool, typer.Option("--same-place", help="With --turns: all turns on the same rails.")
    ] = False,
    picture: Annotated[
        Path | None,
        typer.Option("--picture", metavar="FILE", help="Save the map with the places as .png or .svg."),
    ] = None,
    as_json: AsJson = False,
    skip_bad: SkipBad = False,
    check: Check = False,
) -> None:
    """Say where to set the food down."""
    from heatmap.placement import Wanted, find_places, read_headings

    headings = read_headings(heading) if heading else ()
    assessment = loading.assessment(grill, readings, round_number, skip_bad=skip_bad)
    units = assessment.grill.units
    wanted = Wanted(
        footprint=footprint(size, shape, units),
        headings=headings,
        keep_off_mm=tuple(_box_mm(text, units) for text in keep_off or ()),
        off_seams=off_seams,
        pieces=pieces,
        turns=turns,
        same_place=same_place,
    )
    placement = find_places(assessment, wanted)
    if picture is not None:
        _save_picture(assessment, placement, picture)
    if as_json:
        from heatmap.report.documents import place_document

        console.answer_json(place_document(assessment, placement))
    else:
        show(assessment, placement)
    low_c, high_c = assessment.band_c
    if check and not low_c <= placement.best.mean_c <= high_c:
        raise typer.Exit(ExitCode.ANSWER_IS_NO)


def footprint(size: str, shape: str, units: Units) -> Footprint:
    """Read the outline of the food, in the units of the grill file."""
    from heatmap.placement import Footprint, read_size
    from heatmap.quantities import inside_value

    length, width = (inside_value(side, "length", units) for side in read_size(size or USUAL_SIZE[units]))
    return Footprint(length_mm=length, width_mm=width, shape=shape)  # type: ignore[arg-type]


def _box_mm(text: str, units: Units) -> tuple[float, float, float, float]:
    from heatmap.placement import read_box
    from heatmap.quantities import inside_value

    x0, y0, x1, y1 = (inside_value(number, "length", units) for number in read_box(text))
    return (x0, y0, x1, y1)


def show(assessment: Assessment, placement: Placement) -> None:
    """Print the answer and the places."""
    from heatmap.report.words.place import place_lines

    for line in place_lines(assessment, placement):
        console.answer(line)


def _save_picture(assessment: Assessment, placement: Placement, path: Path) -> None:
    from heatmap.pictures import heat_map, outlines_of, save
    from heatmap.report.words.place import place_answer

    save(heat_map(assessment, title=place_answer(assessment, placement), places=outlines_of(placement)), path)
    console.talk(f"Picture saved: {path}")
