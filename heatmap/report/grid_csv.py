"""The whole surface as CSV: x, y, mean and own standard deviation, one row a cell."""

from __future__ import annotations

from heatmap.assessment import Assessment
from heatmap.report.documents import on_grate


def grid_csv(assessment: Assessment) -> str:
    """Return rail temperatures of every cell on the grate, front row first, in the grill's units."""
    grill, cells, display = assessment.grill, assessment.cells, assessment.grill.display
    length, degree = display.length_key, display.degree_key
    mean = on_grate(grill, cells, assessment.mean_c, display.temperature)
    own_std = on_grate(grill, cells, assessment.own_std_c, display.difference)
    rows = [f"x_{length},y_{length},mean_{degree},own_std_{degree}"]
    for y, row in zip(cells.y_mm, zip(mean, own_std, strict=True), strict=True):
        for x, here, std in zip(cells.x_mm, *row, strict=True):
            if here is not None:
                rows.append(f"{display.length(x):.4f},{display.length(y):.4f},{here:.3f},{std:.3f}")
    return "\r\n".join(rows) + "\r\n"  # line ends of RFC 4180
