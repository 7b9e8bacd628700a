"""The pictures: the heat map of a round and where food goes on it; what changed between two; the map expected."""

from collections.abc import Sequence

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Ellipse
from matplotlib.transforms import Affine2D

from heatmap.assessment import AssessedSpot, Assessment, Cells
from heatmap.decisions.burner_advice import settled_mean_c
from heatmap.decisions.decision import Decision
from heatmap.decisions.placement import Footprint, Place, Placement
from heatmap.grill.grate import Point
from heatmap.pictures.field import Mark, draw_limits, draw_marks, fill, hatch_unsure, over_grate
from heatmap.pictures.grate import Panel, draw_metal, place_grate, roomiest, write_front
from heatmap.pictures.legend import BAND_NAMES, HATCHED, write_keys, write_steps
from heatmap.pictures.ramp import INK, Edges, band_steps, difference_steps
from heatmap.pictures.sheet import NUMBER, TEXT, WIDTH_IN, blank_sheet, halo, line_height
from heatmap.units import STDS_95, Display, FloatArray
from heatmap.verdict.chances import chance_arrays
from heatmap.verdict.comparison import Comparison
from heatmap.verdict.tuning import LEANS
from heatmap.words.burners import burner_lines
from heatmap.words.compare import difference_title
from heatmap.words.map import band_sentence, map_answer, shape_sentence
from heatmap.words.phrases import NOTHING_TO_TURN, signed


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
        marks_mm = np.array([mark.at_mm for mark in marks]).reshape(-1, 2)
        taken_mm = np.vstack([marks_mm, marks_mm - np.array([0.0, 0.29 * panel.mm])])  # by marks and by their numbers
        present = assessment.cells, assessment.compared_c, assessment.compared_std_c
        hatched = draw_compared(panel, assessment, *present, taken_mm)
        draw_marks(panel, marks)
        if placement is not None:
            draw_outlines(panel, placement, taken_mm)
        write_front(panel, settings)
        write_steps(sheet, steps_of(assessment), BAND_NAMES, display.degrees)
        keys = {
            ("leaning", "hollow: leans that way, not sure"): any(not mark.sure for mark in marks),
            ("hatched", HATCHED): hatched,
            ("suspect", "not believed, left out"): any(mark.word == "suspect" for mark in marks),
            ("touched", "touched with the surface probe"): any(mark.touched for mark in marks),
        }
        write_keys(sheet, [key for key, used in keys.items() if used])
    return sheet.figure


def steps_of(assessment: Assessment) -> Edges:
    """Return the steps of colour for the band of an assessment, in the reader's unit."""
    return band_steps(*map(assessment.grill.display.temperature, assessment.band_c))


def draw_compared(
    panel: Panel, assessment: Assessment, cells: Cells, compared_c: FloatArray, std_c: FloatArray, avoid_mm: FloatArray
) -> bool:
    """Draw numbers held against the band, on cells, with their standard deviation: steps, limits and hatching.

    Returns whether anything is hatched.
    """
    display = assessment.grill.display
    low, high = map(display.temperature, assessment.band_c)
    field = over_grate(cells, np.asarray(display.temperature(compared_c)))  # type: ignore[arg-type]
    fill(panel, field, band_steps(low, high))
    chances = chance_arrays(compared_c, std_c, *assessment.band_c)
    in_zone = assessment.grill.in_zone(cells.points_mm).reshape(compared_c.shape)
    hatched = hatch_unsure(panel, over_grate(cells, np.where(in_zone, np.max(chances, axis=0), 1.0)), LEANS)
    draw_metal(panel)
    draw_limits(panel, field, low, high, avoid_mm)
    return hatched


def marked_places(spots: Sequence[AssessedSpot], display: Display) -> list[Mark]:
    """Return one mark for each place with the last number there; readings left out get one of their own."""
    places: dict[tuple[Point, bool], list[AssessedSpot]] = {}
    for one in spots:
        if one.compared_c is not None:
            places.setdefault((one.spot.reading.point_mm, bool(one.suspect)), []).append(one)
    return [
        Mark(
            at_mm=at_mm,
            word="suspect" if suspect else there[-1].leaning or "",
            sure=suspect or there[-1].word == there[-1].leaning,
            text=f"{display.temperature(there[-1].compared_c or 0.0):.0f}",
            touched=any(one.spot.reading.aim == "contact" for one in there),
            aside=suspect and (at_mm, False) in places,
        )
        for (at_mm, suspect), there in places.items()
    ]


_NAMES = ("cooler than before", "same", "hotter than before")


def difference_map(found: Comparison, *, title: str | None = None) -> Figure:
    """Draw what changed between two rounds, hatched where it is not clearly more than noise.

    What both rounds have in common (the gun, the mean emissivity, the patchiness of a place) cancels, as in the words
    of the comparison.
    """
    grill, display = found.after.grill, found.after.grill.display
    sigmas = np.abs(found.difference_c) / found.difference_std_c
    shown = np.asarray(display.difference(found.difference_c))
    steps = difference_steps(float(np.max(np.abs(shown))))
    marks = []
    for x_mm, y_mm in map(grill.point_mm, grill.labels):
        row, column = np.argmin(np.abs(found.cells.y_mm - y_mm)), np.argmin(np.abs(found.cells.x_mm - x_mm))
        marks.append(Mark(at_mm=(x_mm, y_mm), word="", text=signed(shown[row, column])))
    with blank_sheet(difference_title(found, sigmas > STDS_95) if title is None else title) as sheet:
        panel = place_grate(sheet, grill)
        fill(panel, over_grate(found.cells, shown), steps)
        hatched = hatch_unsure(panel, over_grate(found.cells, sigmas), STDS_95)
        draw_metal(panel)
        draw_marks(panel, marks)
        write_front(panel, found.after.round.settings)
        write_steps(sheet, steps, _NAMES, display.degrees, sign="+")
        write_keys(sheet, [("hatched", "not clearly more than noise")] if hatched else [])
    return sheet.figure


_GAP_IN = 0.06


def expected_map(assessment: Assessment, decision: Decision, *, title: str | None = None) -> Figure:
    """Draw the map expected after the change of marks that is asked for beside the present one.

    The expected map is hatched as if it were known as well as the present one, which is the least doubt it can have.
    The title says what to turn; empty: no heading.
    """
    wide = assessment.wide_cells
    numbers = settled_mean_c(assessment, decision.settings), assessment.at(wide.points_mm)[1]
    expected_c, expected_std_c = (each.reshape(wide.inside.shape) for each in numbers)
    said = burner_lines(assessment, decision, decision)
    if title is None:
        title = said[0] if decision.advice else NOTHING_TO_TURN
    maps = {
        "now": (assessment.cells, assessment.compared_c, assessment.compared_std_c),
        "expected after": (wide, expected_c, expected_std_c),
    }
    room = 0.5 * (WIDTH_IN - _GAP_IN)
    with blank_sheet(title, said[1:]) as sheet:
        sheet.y += line_height(TEXT)
        top = sheet.y
        for index, (name, shown) in enumerate(maps.items()):
            sheet.y = top
            panel = place_grate(sheet, assessment.grill, x=index * (room + _GAP_IN), room=room, ruler=False)
            how = {"fontsize": TEXT, "fontweight": "bold", "ha": "center", "gid": "panel name"}
            sheet.text(panel.middle, top - line_height(TEXT) + 0.04, name, **how)
            draw_compared(panel, assessment, *shown, np.empty((0, 2)))
            write_front(panel, None, ruler=False)
        write_steps(sheet, steps_of(assessment), BAND_NAMES, assessment.grill.display.degrees)
        write_keys(sheet, [("hatched", HATCHED)])
    return sheet.figure


#: The label of an outline keeps this far off marks, numbers and other labels.
_LABEL_ROOM_IN = 0.33


def draw_outlines(panel: Panel, placement: Placement, avoid_mm: FloatArray) -> None:
    """Draw the places worth drawing: of single places the best and those as good, else one for each fresh turn.

    The outlines lie under the marks and numbers; their labels, their numbers or turns, above and off `avoid_mm` (n, 2).
    """
    food, shown = placement.wanted.footprint, placement.places
    shown = shown if placement.wanted.turns > 1 else shown[: placement.equally_good]
    for number, place in enumerate(shown, 1):
        if not place.fresh:
            continue
        for index, clock in enumerate(place.headings):
            outline = Ellipse(place.centre_mm, food.width_mm, food.length_mm, angle=-30.0 * clock, fill=False)
            outline.set(edgecolor=INK, linewidth=3.2, zorder=6.2, path_effects=halo(6.2), gid="outline")
            outline.set_linestyle("solid" if index == 0 else (0, (2.2, 1.4)))
            panel.axes.add_patch(outline)
            size, tip = 0.143 * panel.mm, 0.5 * food.length_mm
            chevron = _at_heading(place, clock).transform([(-size, tip), (0.0, tip + 1.3 * size), (size, tip)])
            (heading,) = panel.axes.plot(*chevron.T, color=INK, linewidth=3.6, zorder=6.4, path_effects=halo(6.8))
            heading.set(solid_capstyle="round", solid_joinstyle="miter", gid="heading")
        x_mm, y_mm = _label_place(panel, food, place, avoid_mm)
        avoid_mm = np.vstack([avoid_mm, [x_mm, y_mm]])
        label = panel.axes.text(x_mm, y_mm, str(number), fontsize=NUMBER, fontweight="bold", zorder=12)
        label.set(ha="center", va="center", path_effects=halo(3.9), gid="outline label")


def _at_heading(place: Place, clock: float) -> Affine2D:
    """Return the way from the outline's own axes, y along its heading, to the grate."""
    return Affine2D().rotate_deg(-30.0 * clock).translate(*place.centre_mm)


def _label_place(panel: Panel, food: Footprint, place: Place, avoid_mm: FloatArray) -> tuple[float, float]:
    """Return a point on the outline at its first heading: the near end, or the next round it that is free."""
    steps = np.array(sorted(range(-5, 7), key=abs)) * np.pi / 6.0
    own = -0.5 * np.column_stack([food.width_mm * np.sin(steps), food.length_mm * np.cos(steps)])
    points = _at_heading(place, place.headings[0]).transform(own)
    return roomiest(points, avoid_mm, _LABEL_ROOM_IN * panel.mm)
