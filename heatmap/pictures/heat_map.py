"""The heat map of one round: what is too hot, too cold, in band and unsure, and the readings behind it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from heatmap.assessment import AssessedSpot, Assessment, Cells
from heatmap.pictures.field import Field, Place, draw_limits, draw_places, fill, hatch_unsure, surest_chance
from heatmap.pictures.grate import (
    Outline,
    Panel,
    draw_burners,
    draw_outlines,
    draw_rails,
    draw_rim_and_seams,
    grate_size,
    named_in_front,
    place_panel,
    room_above,
    room_below,
    write_burner_names,
    write_labels,
    write_names_on_burners,
)
from heatmap.pictures.legend import Key, keys_in_lines, steps_height, write_keys, write_steps
from heatmap.pictures.ramp import Steps, band_steps
from heatmap.pictures.sheet import SMALL, TEXT, Sheet, heading, heading_height, house_style, line_height
from heatmap.units import Display
from heatmap.words.map import band_sentence, map_answer, shape_sentence

FloatArray = NDArray[np.float64]

#: Width of a picture when nothing else is asked [in]: the text width of a printed sheet.
WIDTH_IN = 6.5


def heat_map(
    assessment: Assessment,
    *,
    title: str | None = None,
    places: Sequence[Outline] = (),
    width_in: float = WIDTH_IN,
) -> Figure:
    """Draw the map of a round, seen from above, in the units and the numbers of the cook's band.

    Parameters
    ----------
    assessment : Assessment
    title : str, optional
        The answer; what stands before its first semicolon is printed large. Said from the assessment when left out;
        empty: no heading, for a page that says it already.
    places : sequence of Outline
        Where to set food down.
    width_in : float
        Width of the picture [in], 2 to 40; type grows with it.

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    InputError
        When the width is out of range.
    """
    with house_style():
        below = [band_sentence(assessment), shape_sentence(assessment)]
        lines = heading(map_answer(assessment) if title is None else title, [line for line in below if line])
        marks = marked_places(assessment.spots, Display(assessment.grill.units))
        keys = keys_in_lines(_keys(assessment, marks))
        names = bool(named_in_front(assessment.grill))
        _, height = grate_size(assessment.grill, 1.0)
        around = room_above() + height + room_below(ruler=True, names=names)
        legend = steps_height() + line_height(TEXT) * len(keys)
        sheet = Sheet(width_in=width_in, height=heading_height(lines) + around + legend + 0.03)
        y = sheet.lines(lines)
        panel = place_panel(sheet, assessment.grill, x=0.0, y=y, room=1.0)
        draw_present_map(panel, assessment, marks)
        draw_outlines(panel, places, _taken_mm(panel, marks))
        y = write_below(panel, assessment, ruler=True)
        y = write_steps(sheet, steps_of(assessment), y, names=STEP_NAMES, unit=Display(assessment.grill.units).degrees)
        write_keys(sheet, keys, y)
        return sheet.figure


STEP_NAMES = (("too cold", "too cold"), ("in band", "in band"), ("too hot", "too hot"))


def steps_of(assessment: Assessment) -> Steps:
    """Return the steps of colour for the band of an assessment, in the reader's unit."""
    display = Display(assessment.grill.units)
    low, high = (display.temperature(limit) for limit in assessment.band_c)
    return band_steps(low, high)


class Layer(NamedTuple):
    """Numbers held against the band, on cells, with their standard deviation where it is known [°C]."""

    cells: Cells
    compared_c: FloatArray
    std_c: FloatArray | None


def draw_compared(
    panel: Panel, assessment: Assessment, layer: Layer, avoid_mm: FloatArray, *, names: bool = True
) -> None:
    """Draw numbers held against the band: steps of colour, limits, and hatching where a spread is given."""
    grill, steps, cells = assessment.grill, steps_of(assessment), layer.cells
    extent_mm = grill.grate.extent_mm
    shown = np.asarray(Display(grill.units).temperature(layer.compared_c))  # type: ignore[arg-type]
    field = Field.from_cells(cells, shown, extent_mm)
    fill(panel, field, steps)
    if layer.std_c is not None:
        chance = surest_chance(layer.compared_c, layer.std_c, assessment.band_c)
        hatch_unsure(panel, Field.from_cells(cells, chance, extent_mm))
    draw_rails(panel, grill)
    draw_burners(panel, grill)
    draw_rim_and_seams(panel, grill)
    if names:
        write_names_on_burners(panel, grill, assessment.round.settings, avoid_mm)
    draw_limits(panel, field, steps.low, steps.high, avoid_mm)


def draw_present_map(panel: Panel, assessment: Assessment, marks: Sequence[Place]) -> None:
    """Draw the map of the round with its marks."""
    layer = Layer(assessment.cells, assessment.compared_c, assessment.compared_std_c)
    draw_compared(panel, assessment, layer, _taken_mm(panel, marks))
    draw_places(panel, marks)


def _taken_mm(panel: Panel, marks: Sequence[Place]) -> FloatArray:
    """Return where marks and their numbers stand, shape (2 n, 2)."""
    marks_mm = np.array([(mark.x_mm, mark.y_mm) for mark in marks]).reshape(-1, 2)
    return np.vstack([marks_mm, marks_mm - np.array([0.0, 0.045 * panel.mm])])


def write_below(panel: Panel, assessment: Assessment, *, ruler: bool) -> float:
    """Write labels, burner names and YOU around and below a grate; return where the next thing can stand."""
    grill, sheet = assessment.grill, panel.sheet
    y = write_labels(panel, grill, ruler=ruler)
    if named_in_front(grill):
        write_burner_names(panel, grill, assessment.round.settings, y)
        y += line_height(TEXT)
    middle = panel.left + 0.5 * grill.grate.width_mm / panel.mm
    sheet.text(middle, y, "YOU", size=SMALL, bold=True, ha="center")
    return y + line_height(SMALL) + 0.006


def marked_places(spots: Sequence[AssessedSpot], display: Display) -> list[Place]:
    """Return one mark for each place: repeats share one with their mean, readings left out get one of their own."""
    groups: dict[tuple[float, float, bool], list[AssessedSpot]] = {}
    for assessed in spots:
        if assessed.compared_c is not None:
            x_mm, y_mm = assessed.spot.reading.point_mm
            groups.setdefault((x_mm, y_mm, bool(assessed.suspect)), []).append(assessed)
    marks = []
    for (x_mm, y_mm, suspect), group in groups.items():
        compared_c = float(np.mean([assessed.compared_c for assessed in group if assessed.compared_c is not None]))
        marks.append(
            Place(
                x_mm=x_mm,
                y_mm=y_mm,
                word="suspect" if suspect else str(group[0].word),
                number=display.temperature(compared_c),
                touched=any(assessed.spot.reading.aim == "contact" for assessed in group),
                aside=suspect and (x_mm, y_mm, False) in groups,
            )
        )
    return marks


def _keys(assessment: Assessment, marks: Sequence[Place]) -> list[Key]:
    keys = []
    used = {mark.word for mark in marks}
    if "unsure" in used:
        keys.append(Key(what="unsure", text="unsure"))
    if bool((assessment.words == "unsure").any()):
        keys.append(Key(what="hatched", text="unsure: no word is 80 % likely"))
    if "suspect" in used:
        keys.append(Key(what="suspect", text="not believed, left out"))
    if any(mark.touched for mark in marks):
        keys.append(Key(what="touched", text="touched with the surface probe"))
    return keys
