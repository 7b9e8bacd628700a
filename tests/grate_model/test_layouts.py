"""Where burners lie that lie otherwise than the grill file says."""

from __future__ import annotations

from dataclasses import replace

import pytest

from heatmap.grate_model.response import Layout, other_lines
from heatmap.grill.burner import Burner
from heatmap.grill.grate import Grate

GRATE = Grate(width_mm=600.0, depth_mm=400.0)


def burner(name: str, *points_mm: tuple[float, float]) -> Burner:
    return Burner(name=name, points_mm=points_mm)


@pytest.mark.parametrize(
    ("layout", "where"),
    [
        (Layout.LEFT_TO_RIGHT, (500.0, 50.0)),
        (Layout.FRONT_TO_BACK, (100.0, 350.0)),
        (Layout.HALF_TURN, (500.0, 350.0)),
        # A quarter to the left: front left, as a share of the sides, goes to front right; the sides differ.
        (Layout.QUARTER_TURN, (600.0 * (1.0 - 50.0 / 400.0), 400.0 * 100.0 / 600.0)),
        (Layout.QUARTER_TURN_BACK, (600.0 * 50.0 / 400.0, 400.0 * (1.0 - 100.0 / 600.0))),
    ],
)
def test_a_burner_lies_where_its_layout_says(layout: Layout, where: tuple[float, float]) -> None:
    """In one corner, so that no layout is like another."""
    moved = dict(other_lines(GRATE, [burner("corner", (100.0, 50.0))]))
    assert moved[layout][0][0] == pytest.approx(where)
    assert set(moved) == set(Layout) - {Layout.AS_TOLD}


def test_layouts_that_cannot_be_told_apart_are_named_once() -> None:
    left, right = burner("left", (100.0, 40.0), (100.0, 360.0)), burner("right", (500.0, 40.0), (500.0, 360.0))
    assert set(dict(other_lines(GRATE, [left, right]))) == {
        Layout.LEFT_TO_RIGHT,
        Layout.QUARTER_TURN,
        Layout.QUARTER_TURN_BACK,
    }
    inner, outer = (Burner(name=str(radius), points_mm=Burner.ring((300.0, 200.0), radius)) for radius in (60.0, 150.0))
    round_grate = Grate(shape="round", width_mm=400.0, depth_mm=400.0)
    middle = [replace(one, points_mm=tuple((x - 100.0, y) for x, y in one.points_mm)) for one in (inner, outer)]
    assert list(other_lines(round_grate, middle)) == []
    assert list(other_lines(GRATE, [Burner(name="coals", control="none")])) == []
