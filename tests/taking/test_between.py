"""Places beside the positions: where they lie, that sides take turns, and that a session keeps them apart."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from heatmap.grill.grill import Grate, Grill, Positions, TargetBand
from heatmap.readings.reading import Reading, Round
from heatmap.taking.between import beside_mm, has_room, label_beside, offset_mm, offset_text
from heatmap.taking.effects import Write
from heatmap.taking.session import Session
from heatmap.taking.walk import Walk
from heatmap.units import mm_from_in

IN = mm_from_in(1.0)
GRILL = Grill(
    grate=Grate(width_mm=24.0 * IN, depth_mm=18.0 * IN),
    positions=Positions(rows=3, columns=4, margin_mm=2.5 * IN),
    target=TargetBand(low_c=288.0, high_c=316.0),
)


def shot(labels, number: int, grill: Grill = GRILL) -> Round:
    points = {label: grill.point_mm(label) for label in labels}
    return Round(
        number=number,
        session="",
        readings=tuple(
            Reading(id=at, shown_c=300.0, x_mm=x, y_mm=y, round=number) for at, (x, y) in enumerate(points.values(), 1)
        ),
    )


def test_the_first_round_stands_at_the_positions_and_then_sides_take_turns() -> None:
    rounds, offsets = [], []
    for number in range(1, 7):
        offsets.append(offset_mm(GRILL, rounds))
        rounds.append(shot(GRILL.labels, number))
    assert offsets[0] == offsets[5] == (0.0, 0.0)
    assert len(set(offsets[1:5])) == 4
    assert {(abs(x), abs(y)) for x, y in offsets[1:5]} == {(1.5 * IN, 1.5 * IN)}


def test_a_few_shots_before_the_sear_are_no_round_over_the_grate() -> None:
    assert offset_mm(GRILL, [shot(("A1", "B2", "C3"), 1)]) == (0.0, 0.0)


@pytest.mark.parametrize("columns", [1, 2, 4, 9])
@pytest.mark.parametrize("margin_in", [0.0, 1.0, 1.2, 2.5, 6.0])
def test_no_place_is_off_the_rim_or_nearer_to_another_position(columns: int, margin_in: float) -> None:
    grill = replace(GRILL, positions=Positions(rows=3, columns=columns, margin_mm=margin_in * IN))
    rounds = [shot(grill.labels, 1, grill)]
    offset = offset_mm(grill, rounds)
    assert any(offset) == has_room(grill)
    labels = np.array([grill.point_mm(label) for label in grill.labels])
    if not any(offset):
        return
    for label in grill.labels:
        x_mm, y_mm = beside_mm(grill, label, offset)
        rim = grill.grate.rim_mm - 1e-6
        assert rim <= x_mm <= grill.grate.width_mm - rim
        assert rim <= y_mm <= grill.grate.depth_mm - rim
        assert grill.labels[int(np.argmin(np.hypot(*(labels - (x_mm, y_mm)).T)))] == label
        assert label_beside(grill, (x_mm, y_mm), offset) == label


def test_a_place_elsewhere_stands_beside_nothing() -> None:
    assert label_beside(GRILL, (12.0 * IN, 9.0 * IN), (1.5 * IN, 1.5 * IN)) == ""


def test_where_to_aim_in_words() -> None:
    assert offset_text(GRILL, (1.5 * IN, -2.0 * IN)) == "1.5 in to the right and 2 in to the front"
    assert offset_text(replace(GRILL, units="si"), (-40.0, 0.0)) == "40 mm to the left"
    assert offset_text(GRILL, (0.0, 0.0)) == ""


def test_a_session_writes_the_place_and_remembers_the_position() -> None:
    """As the file gives readings back: with their place, and no label that says something else."""
    offset = (1.5 * IN, 1.5 * IN)
    session = Session(GRILL, Walk.over(("B2", "A1")), number=2, name="", offset_mm=offset)
    (write,) = session.hear_line("585", datetime(2031, 6, 14, tzinfo=UTC))
    assert isinstance(write, Write)
    x_mm, y_mm = GRILL.point_mm("B2")
    assert write.readings[0].point_mm == pytest.approx((x_mm + 1.5 * IN, y_mm + 1.5 * IN))
    session.written([replace(write.readings[0], id=13, position="")])
    assert [one.position for one in session.readings] == ["B2"]
    assert session.asked == "A1"
    (undo,) = session.hear_line("undo", datetime(2031, 6, 14, tzinfo=UTC))
    session.withdrawn(undo.reading)
    assert session.asked == "B2"
