"""Two maps on one sheet: now and after a burner change, or the map and the truth of a make-believe grill."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from matplotlib.figure import Figure

from heatmap.assessment import Assessment
from heatmap.decisions.burner_advice import advise
from heatmap.decisions.decision import Decision
from heatmap.pictures.grate import place_grate, write_front
from heatmap.pictures.heat_map import Layer, draw_compared, present, steps_of
from heatmap.pictures.legend import BAND_NAMES, HATCHED, write_keys, write_steps
from heatmap.pictures.sheet import TEXT, WIDTH_IN, blank_sheet, line_height
from heatmap.units import FloatArray
from heatmap.words.burners import burner_lines
from heatmap.words.pictures import NOTHING_TO_TURN, truth_title

_GAP_IN = 0.06


def expected_map(assessment: Assessment, decision: Decision, *, title: str | None = None) -> Figure:
    """Draw the map expected after the change of marks that is asked for beside the present one.

    The expected map is hatched as if it were known as well as the present one, which is the least doubt it can have.
    The title says what to turn; empty: no heading.
    """
    advice = decision.advice or advise(assessment)
    cells = assessment.wide_cells
    _, std_c = assessment.at(cells.points_mm)
    said = burner_lines(assessment, decision, decision)
    if title is None:
        title = said[0] if decision.advice else NOTHING_TO_TURN
    then = Layer(cells, *(values.reshape(cells.inside.shape) for values in (advice.expected_mean_c, std_c)))
    return _two_maps(assessment, {"now": present(assessment), "expected after": then}, title, said[1:])


def truth_beside_map(assessment: Assessment, truth_c: FloatArray, *, title: str | None = None) -> Figure:
    """Draw what the readings said beside the truth of a make-believe grill.

    `truth_c`, shape (rows, columns), is the truth at each cell of the assessment, in the numbers of the band [°C].
    """
    maps = {"your map": present(assessment), "the truth while you shot": Layer(assessment.cells, truth_c, None)}
    return _two_maps(assessment, maps, truth_title(assessment, truth_c) if title is None else title)


def _two_maps(assessment: Assessment, maps: Mapping[str, Layer], title: str, below: Sequence[str] = ()) -> Figure:
    room = 0.5 * (WIDTH_IN - _GAP_IN)
    with blank_sheet(title, below) as sheet:
        sheet.y += line_height(TEXT)
        top = sheet.y
        for index, (name, layer) in enumerate(maps.items()):
            sheet.y = top
            panel = place_grate(sheet, assessment.grill, x=index * (room + _GAP_IN), room=room, ruler=False)
            how = {"fontsize": TEXT, "fontweight": "bold", "ha": "center", "gid": "panel name"}
            sheet.text(panel.middle, top - line_height(TEXT) + 0.04, name, **how)
            draw_compared(panel, assessment, layer, np.empty((0, 2)))
            write_front(panel, None, ruler=False)
        write_steps(sheet, steps_of(assessment), BAND_NAMES, assessment.grill.display.degrees)
        write_keys(sheet, [("hatched", HATCHED)])
    return sheet.figure
