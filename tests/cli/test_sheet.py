"""The blank sheet for the clipboard."""

from __future__ import annotations

import pytest

from cli.manual import sheet_lines
from heatmap.grill.burner import Burner
from heatmap.grill.grate import Grate, Positions
from heatmap.grill.grill import Grill, TargetBand
from heatmap.readings.typed import RowOfShots, parse_typed


def grill(rows=3, columns=4, **more):
    return Grill(
        grate=Grate(width_mm=610.0, depth_mm=457.0),
        target=TargetBand(low_c=288.0, high_c=316.0),
        positions=Positions(rows=rows, columns=columns),
        **more,
    )


@pytest.mark.parametrize("size", [(1, 1), (3, 4), (4, 6), (8, 9)])
def test_there_is_a_blank_for_every_position_and_it_fits_80_columns(size):
    lines = sheet_lines(grill(*size))
    assert max(map(len, lines)) <= 80
    letters = {f"  {chr(65 + row)} " for row in range(size[0])}
    blanks = sum(line.count("______") for line in lines if line[:4] in letters and "_" in line)
    assert blanks == size[0] * size[1]


def test_back_is_above_and_you_are_below():
    text = "\n".join(sheet_lines(grill()))
    assert text.index("BACK") < text.index("  A ") < text.index("  C ") < text.index("YOU")


def test_the_example_is_a_line_that_take_understands():
    described = grill()
    example = next(line.strip() for line in sheet_lines(described) if line.strip().startswith("A 5"))
    assert isinstance(parse_typed(example, described), RowOfShots)


def test_marks_are_asked_for_where_there_are_knobs():
    burner = Burner(name="far <left>", points_mm=((100.0, 0.0), (100.0, 400.0)))
    assert "far <left>" in "\n".join(sheet_lines(grill(burners=(burner,))))
    assert "Marks" not in "\n".join(sheet_lines(grill()))


def test_it_says_what_burns():
    assert "burn" in "\n".join(sheet_lines(grill()))
