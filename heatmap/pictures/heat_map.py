"""The heat map of one round: what is too hot, too cold, in band and unsure, and the readings behind it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.figure import Figure

from heatmap.assessment import AssessedSpot, Assessment, Cells
from heatmap.decisions.placement import Placement
from heatmap.pictures.field import Field, Place, draw_limits, draw_places, fill, hatch_unsure
from heatmap.pictures.grate import Panel, draw_metal, place_grate, write_front, write_names_on_burners
from heatmap.pictures.legend import BAND_NAMES, HATCHED, write_keys, write_steps
from heatmap.pictures.outlines import draw_outlines
from heatmap.pictures.ramp import Steps, band_steps
from heatmap.pictures.sheet import blank_sheet
from heatmap.units import Display, FloatArray
from heatmap.verdict.chances import chance_arrays
from heatmap.verdict.tuning import LEANS
from heatmap.words.map import band_sentence, map_answer, shape_sentence


def heat_map(assessment: Assessment, *, title: str | None = None, placement: Placement | None = None) -> Figure:
    """Draw the map of a round, seen from above, in the units and the numbers of the cook's band.

    Parameters
    ----------
    assessment : Assessment
    title : str, optional
        The answer; what stands before its first semicolon is printed large. Said from the assessment when left out;
        empty: no heading, for a page that says it already.
    placement : Placement, optional
        Where to set food down.

    Returns
    -------
    matplotlib.figure.Figure
    """
    below = [line for line in (band_sentence(assessment), shape_sentence(assessment)) if line]
    display, settings = assessment.grill.display, assessment.round.settings
    with blank_sheet(map_answer(assessment) if title is None else title, below) as sheet:
        panel = place_grate(sheet, assessment.grill)
        marks = marked_places(assessment.spots, display)
        marks_mm = np.array([(mark.x_mm, mark.y_mm) for mark in marks]).reshape(-1, 2)
        taken_mm = np.vstack([marks_mm, marks_mm - np.array([0.0, 0.29 * panel.mm])])  # by marks and by their numbers
        write_names_on_burners(panel, settings, taken_mm)
        present = assessment.cells, assessment.compared_c, assessment.compared_std_c
        draw_compared(panel, assessment, *present, taken_mm)
        draw_places(panel, marks)
        if placement is not None:
            draw_outlines(panel, placement, taken_mm)
        write_front(panel, settings)
        write_steps(sheet, steps_of(assessment), BAND_NAMES, display.degrees)
        write_keys(sheet, _keys(assessment, marks))
    return sheet.figure


def steps_of(assessment: Assessment) -> Steps:
    """Return the steps of colour for the band of an assessment, in the reader's unit."""
    low, high = map(assessment.grill.display.temperature, assessment.band_c)
    return band_steps(low, high)


def draw_compared(
    panel: Panel,
    assessment: Assessment,
    cells: Cells,
    compared_c: FloatArray,
    std_c: FloatArray,
    avoid_mm: FloatArray,
) -> None:
    """Draw numbers held against the band, on cells, with their standard deviation: steps, limits and hatching."""
    steps, display = steps_of(assessment), assessment.grill.display
    field = Field.over(cells, np.asarray(display.temperature(compared_c)))  # type: ignore[arg-type]
    fill(panel, field, steps)
    chances = chance_arrays(compared_c, std_c, *assessment.band_c)
    in_zone = assessment.grill.in_zone(cells.points_mm).reshape(compared_c.shape)
    hatch_unsure(panel, Field.over(cells, np.where(in_zone, np.max(chances, axis=0), 1.0)), LEANS)
    draw_metal(panel)
    draw_limits(panel, field, steps.low, steps.high, avoid_mm)


def marked_places(spots: Sequence[AssessedSpot], display: Display) -> list[Place]:
    """Return one mark for each place with the last number there; readings left out get one of their own."""
    groups: dict[tuple[float, float, bool], list[AssessedSpot]] = {}
    for assessed in spots:
        if assessed.compared_c is not None:
            x_mm, y_mm = assessed.spot.reading.point_mm
            groups.setdefault((x_mm, y_mm, bool(assessed.suspect)), []).append(assessed)
    marks = []
    for (x_mm, y_mm, suspect), group in groups.items():
        last = group[-1]
        marks.append(
            Place(
                x_mm=x_mm,
                y_mm=y_mm,
                word="suspect" if suspect else last.leaning or "",
                sure=suspect or last.word == last.leaning,
                text=f"{display.temperature(last.compared_c or 0.0):.0f}",
                touched=any(assessed.spot.reading.aim == "contact" for assessed in group),
                aside=suspect and (x_mm, y_mm, False) in groups,
            )
        )
    return marks


def _keys(assessment: Assessment, marks: Sequence[Place]) -> list[tuple[str, str]]:
    used = {mark.word for mark in marks} | {"touched" for mark in marks if mark.touched}
    used |= {"leaning"} if any(not mark.sure for mark in marks) else set()
    chances = chance_arrays(assessment.compared_c, assessment.compared_std_c, *assessment.band_c)
    used |= {"hatched"} if bool((np.max(chances, axis=0) < LEANS).any()) else set()
    texts = {
        "leaning": "hollow: leans that way, not sure",
        "hatched": HATCHED,
        "suspect": "not believed, left out",
        "touched": "touched with the surface probe",
    }
    return [(what, text) for what, text in texts.items() if what in used]
