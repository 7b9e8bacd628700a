"""Round grates, plates and zones: what lies on the grate, and the one mask of what should be in band."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import get_args

import numpy as np
import pytest

from heatmap.errors import GrillError, ReadingError
from heatmap.grill.grate import Grate, Positions
from heatmap.grill.grill import Grill, TargetBand
from heatmap.grill.layout import in_order, lay_out, misplaced, usual_names
from heatmap.grill.toml import grill_from_toml, toml_from_grill
from heatmap.readings.typed import RowOfShots, parse_typed
from heatmap.taking.walk import Order, walk_order

BAND = TargetBand(low_c=288.0, high_c=316.0)
KETTLE = Grill(
    grate=Grate(shape="round", width_mm=570.0, depth_mm=570.0), positions=Positions(rows=4, columns=4), target=BAND
)
SQUARE = Grill(grate=Grate(width_mm=600.0, depth_mm=450.0), target=BAND)


@pytest.mark.parametrize(("rows", "columns", "count"), [(4, 4, 12), (6, 4, 20), (5, 5, 21), (6, 6, 24), (26, 11, None)])
def test_positions_keep_to_the_disc(rows, columns, count):
    """No position is nearer to the edge than the margin, the outermost stand on it; every row and column has one."""
    grill = replace(KETTLE, positions=Positions(rows=rows, columns=columns))
    radius = 0.5 * grill.grate.width_mm
    edge_mm = [radius - math.dist(grill.point_mm(label), (radius, radius)) for label in grill.labels]
    assert min(edge_mm) == pytest.approx(grill.positions.margin_mm)
    assert count in (None, len(grill.labels))
    assert all(any(row) for row in grill.grid)
    assert all(any(column) for column in zip(*grill.grid, strict=True))


def test_the_grid_of_a_disc_is_symmetric_and_walks_visit_each_position_once():
    mirrored = {label: KETTLE.point_mm(f"{label[0]}{5 - int(label[1])}") for label in KETTLE.labels}
    for label, (x_mm, y_mm) in mirrored.items():
        assert KETTLE.point_mm(label) == (pytest.approx(570.0 - x_mm), pytest.approx(y_mm))
    for order in get_args(Order):
        assert sorted(walk_order(KETTLE, order)) == sorted(KETTLE.labels)


def test_a_position_off_the_disc_is_refused_with_those_there_are():
    with pytest.raises(ReadingError, match="positions are A2 to A3, B1 to B4, C1 to C4, D2 to D3"):
        KETTLE.point_mm("A1")
    row = parse_typed("A 585 590", KETTLE)
    assert isinstance(row, RowOfShots)
    assert [shot.position for shot in row.shots] == ["A2", "A3"]
    with pytest.raises(ReadingError, match="row A has 2 positions, but 3 were typed"):
        parse_typed("A 585 590 600", KETTLE)


def test_the_distance_to_the_edge_agrees_with_its_definition():
    """To a side of a rectangle: the least of four; to a circle: radius less distance from the middle."""
    random = np.random.default_rng(1)
    points = random.uniform(-50.0, 650.0, (200, 2))
    sides = np.stack([points[:, 0], 600.0 - points[:, 0], points[:, 1], 450.0 - points[:, 1]])
    np.testing.assert_allclose(SQUARE.grate.edge_distance_mm(points), sides.min(axis=0))
    circle = 285.0 - np.linalg.norm(points - 285.0, axis=1)
    np.testing.assert_allclose(KETTLE.grate.edge_distance_mm(points), circle)


@pytest.mark.parametrize(
    ("zone", "box"),
    [
        ("all", (0.0, 0.0, 600.0, 450.0)),
        ("left half", (0.0, 0.0, 300.0, 450.0)),
        ("back third", (0.0, 300.0, 600.0, 450.0)),
        ("front two thirds", (0.0, 0.0, 600.0, 300.0)),
        ((500.0, 400.0, 100.0, 50.0), (100.0, 50.0, 500.0, 400.0)),
    ],
)
def test_what_should_be_in_band_lies_in_the_zone_and_off_the_rim(zone, box):
    grill = replace(SQUARE, target=replace(BAND, zone=zone))
    assert grill.zone_mm == pytest.approx(box)
    points = np.random.default_rng(2).uniform(0.0, 1.0, (500, 2)) * [600.0, 450.0]
    x0, y0, x1, y1 = box
    inside = (points >= [max(x0, 25.4), max(y0, 25.4)]) & (points <= [min(x1, 574.6), min(y1, 424.6)])
    np.testing.assert_array_equal(grill.counts(points), inside.all(axis=1))


def test_a_zone_on_the_rim_alone_counts_as_it_is():
    grill = replace(SQUARE, target=replace(BAND, zone=(0.0, 0.0, 20.0, 450.0)))
    points = np.array([[10.0, 200.0], [10.0, 5.0], [100.0, 200.0]])
    assert grill.counts(points).tolist() == [True, True, False]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('shape = "round"\nwidth = 24\ndepth = 18', "grate.depth is not grate.width, the diameter of a round grate"),
        ('shape = "oval"\nwidth = 24\ndepth = 18', 'grate.shape is "oval"; it must be "rectangle" or "round"'),
    ],
)
def test_a_round_grate_has_one_size(text, words):
    with pytest.raises(GrillError, match=words):
        grill_from_toml(f"[grate]\n{text}\n[target]\nlow = 550\nhigh = 600\n")


@pytest.mark.parametrize(
    ("zone", "words"),
    [
        ('"nowhere"', r'target.zone is "nowhere"; it must be \[x0, y0, x1, y1\], "all", "left half"'),
        ("3", r'target.zone is 3; it must be \[x0, y0, x1, y1\], "all", "left half"'),
        ("[1, 2, 3]", r"target.zone is \[1, 2, 3\]; it must be \[x0, y0, x1, y1\]"),
        ("[30, 0, 40, 10]", "target.zone holds nothing of the grate"),
    ],
)
def test_a_zone_that_cannot_be_is_told(zone, words):
    with pytest.raises(GrillError, match=words):
        grill_from_toml(f"[grate]\nwidth = 24\ndepth = 18\n[target]\nlow = 550\nhigh = 600\nzone = {zone}\n")


@pytest.mark.parametrize("units", ["us", "si"])
def test_a_kettle_with_a_zone_and_food_comes_back_as_it_was_written(units):
    text = f"""units = "{units}"
[grate]
shape = "round"
width = 300
surface = "plate"
[target]
low = 250
high = 300
zone = "left half"
[food]
size = [40, 30]
headings = [2, 10]
target = 58
"""
    grill = grill_from_toml(text if units == "si" else text.replace("300\n", "24\n", 1).replace("58", "137"))
    again = grill_from_toml(toml_from_grill(grill))
    assert toml_from_grill(again) == toml_from_grill(grill)
    assert (again.target.zone, again.food.headings, again.labels) == ("left half", (2.0, 10.0), grill.labels)
    assert grill.grate.depth_mm == grill.grate.width_mm
    assert grill.food.turns is None


def test_the_middle_of_a_ring_may_be_spelled_either_way():
    ring = '[[burner]]\nname = "one"\n{} = [12, 9]\nradius = 4\n'
    text = "[grate]\nwidth = 24\ndepth = 18\n[target]\nlow = 550\nhigh = 600\n"
    here, there = (grill_from_toml(text + ring.format(word)) for word in ("centre", "center"))
    assert here == there
    with pytest.raises(GrillError, match='burner "one": center is not a key of a grill file; did you mean centre'):
        grill_from_toml(text + ring.format("center") + "centre = [3, 9]\n")


# How burners are proposed to lie


@pytest.mark.parametrize("lie", ["front-to-back", "left-to-right", "rings"])
@pytest.mark.parametrize("count", [1, 2, 3, 4, 6])
def test_what_is_proposed_lies_as_its_names_say_and_on_the_grate(lie, count):
    grill = laid(lie, usual_names(lie, count))
    assert misplaced(grill) == []
    points = [point for burner in grill.burners for point in burner.points_mm]
    assert grill.grate.edge_distance_mm(points).min() > 0.0


@pytest.mark.parametrize(
    ("lie", "names", "order"),
    [
        ("front-to-back", ("right", "middle", "left"), ("left", "middle", "right")),
        ("front-to-back", ("far right", "left", "far left", "right"), ("far left", "left", "right", "far right")),
        ("left-to-right", ("back", "centre", "front"), ("front", "centre", "back")),
        ("rings", ("outer", "inner"), ("inner", "outer")),
        ("front-to-back", ("3", "2", "1"), ("3", "2", "1")),
        ("front-to-back", ("one", "left"), ("one", "left")),
    ],
)
def test_names_are_put_in_the_order_they_say(lie, names, order):
    assert in_order(lie, names) == order


def test_tubes_laid_the_wrong_way_are_found_by_their_names():
    names = ("front", "middle", "back")
    assert [name for name, _, _ in misplaced(laid("front-to-back", names))] == ["front", "back"]
    assert [name for name, _, _ in misplaced(laid("front-to-back", ("right", "middle", "left")))] == ["right", "left"]
    assert misplaced(laid("left-to-right", ("left", "right")))
    assert misplaced(laid("front-to-back", ("middle", "2", "3")))[0][:2] == ("middle", "middle")
    assert misplaced(laid("front-to-back", ("1", "2", "3"))) == []


def test_rings_named_by_their_sides_lie_beside_one_another_and_others_within():
    assert misplaced(laid("rings", ("left", "middle", "right"))) == []
    assert misplaced(laid("rings", ("back left", "back right", "front left", "front right"))) == []
    within = lay_out("rings", ("inner", "middle", "outer"), 600.0, 450.0)
    assert [one["centre"] for one in within] == [[300.0, 225.0]] * 3


def test_tubes_under_a_disc_end_at_its_edge():
    for one in lay_out("front-to-back", ("1", "2", "3", "4"), 22.0, 22.0, is_round=True):
        assert all(math.dist(end, (11.0, 11.0)) < 11.0 for end in (one["from"], one["to"]))


def laid(lie, names):
    from heatmap.grill.burner import Burner

    burners = []
    for name, one in zip(names, lay_out(lie, names, 600.0, 450.0), strict=True):
        ends = Burner.ring(tuple(one["centre"]), one["radius"]) if "centre" in one else (one["from"], one["to"])
        burners.append(Burner(name=name, points_mm=tuple(map(tuple, ends))))
    return replace(SQUARE, burners=tuple(burners))
