"""The walk over the positions."""

from __future__ import annotations

from collections import Counter
from datetime import UTC, datetime
from typing import get_args

import numpy as np
import pytest

from heatmap.grill.grate import Grate, Positions
from heatmap.grill.grill import Grill, TargetBand
from heatmap.taking.session import Session
from heatmap.taking.walk import Order, walk_order


def grill(rows, columns):
    return Grill(
        grate=Grate(width_mm=610.0, depth_mm=457.0),
        target=TargetBand(low_c=288.0, high_c=316.0),
        positions=Positions(rows=rows, columns=columns),
    )


@pytest.mark.parametrize("order", get_args(Order))
@pytest.mark.parametrize("size", [(1, 1), (1, 4), (2, 2), (3, 4), (6, 8)])
def test_every_order_visits_every_position_once(order, size):
    described = grill(*size)
    assert sorted(walk_order(described, order)) == sorted(described.labels)


def test_the_named_orders():
    described = grill(2, 3)
    assert walk_order(described, "rows") == ("A1", "A2", "A3", "B1", "B2", "B3")


def test_the_centre_and_the_corners_come_first():
    assert walk_order(grill(3, 5))[0] == "B3"
    assert set(walk_order(grill(3, 5))[1:5]) == {"A1", "A5", "C1", "C5"}


@pytest.mark.parametrize("size", [(3, 3), (3, 4), (4, 6), (5, 5), (6, 8)])
def test_a_steady_drift_looks_far_less_like_a_tilt_than_row_by_row(size):
    """The slope a plane fitted by least squares sees in readings that only drift, as a share of the drift itself."""

    def slopes(order):
        described = grill(*size)
        labels = walk_order(described, order)
        points = np.array([described.point_mm(label) for label in labels])
        places = (points - points.mean(axis=0)) / np.ptp(points, axis=0)
        drift = np.linspace(0.0, 1.0, len(labels))
        return np.abs(np.linalg.lstsq(np.column_stack([np.ones(len(labels)), places]), drift, rcond=None)[0][1:])

    assert slopes("spread").max() < 0.35
    assert slopes("rows").max() > 0.6


def session(*labels, **kept):
    return Session(grill(1, 3), labels, number=1, name="may", **kept)


def test_the_walk_goes_on_skips_takes_back_and_begins_again():
    walk = session("A1", "A2", "A3")
    at = datetime(2026, 5, 1, 12, tzinfo=UTC)
    walk.hear("550", at)
    walk.hear("+", at)
    assert walk.left == ["A3"]
    walk.hear("560", at)
    assert walk.passes == 1
    assert walk.left == ["A2", "A1", "A3"]  # what was skipped comes first
    walk.hear("-", at)
    assert (walk.passes, walk.left) == (0, ["A3"])
    walk.hear("A2 570", at)  # out of turn
    assert walk.left == ["A3"]


def test_a_continued_walk_asks_for_what_is_left():
    assert session("A1", "A2", "A3", shots=Counter(["A2"])).left == ["A1", "A3"]
    assert session("A1", "A2", shots=Counter(["A1", "A2"])).passes == 1
