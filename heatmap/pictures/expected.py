"""The map now and the map expected after a burner change, side by side on one sheet."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from heatmap.assessment import Assessment
from heatmap.decisions.burner_advice import advise
from heatmap.decisions.decision import Decision
from heatmap.pictures.grate import place_grate, write_front
from heatmap.pictures.heat_map import draw_compared, steps_of
from heatmap.pictures.legend import BAND_NAMES, HATCHED, write_keys, write_steps
from heatmap.pictures.sheet import TEXT, WIDTH_IN, blank_sheet, line_height
from heatmap.words.burners import burner_lines
from heatmap.words.pictures import NOTHING_TO_TURN

_GAP_IN = 0.06


def expected_map(assessment: Assessment, decision: Decision, *, title: str | None = None) -> Figure:
    """Draw the map expected after the change of marks that is asked for beside the present one.

    The expected map is hatched as if it were known as well as the present one, which is the least doubt it can have.
    The title says what to turn; empty: no heading.
    """
    advice = decision.advice or advise(assessment)
    wide = assessment.wide_cells
    _, std_c = assessment.at(wide.points_mm)
    expected_c, expected_std_c = (each.reshape(wide.inside.shape) for each in (advice.expected_mean_c, std_c))
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
        for index, (name, numbers) in enumerate(maps.items()):
            sheet.y = top
            panel = place_grate(sheet, assessment.grill, x=index * (room + _GAP_IN), room=room, ruler=False)
            how = {"fontsize": TEXT, "fontweight": "bold", "ha": "center", "gid": "panel name"}
            sheet.text(panel.middle, top - line_height(TEXT) + 0.04, name, **how)
            draw_compared(panel, assessment, *numbers, np.empty((0, 2)))
            write_front(panel, None, ruler=False)
        write_steps(sheet, steps_of(assessment), BAND_NAMES, assessment.grill.display.degrees)
        write_keys(sheet, [("hatched", HATCHED)])
    return sheet.figure
