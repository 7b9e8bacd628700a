"""When two rows tell of one piece."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from heatmap.sear import SearedPiece

PIECE = SearedPiece(
    taken_at=datetime(2026, 6, 6, 12, 0, tzinfo=UTC),
    turns_s=(60.0, 61.0, 60.0, 62.0),
    start_c=43.33,
    thickness_mm=31.75,
    peak_c=54.44,
    rail_c=310.0,
    wanted_c=58.3,
)
FELT = replace(PIECE, peak_c=None, outcome="under")


@pytest.mark.parametrize(
    "told",
    [
        {},
        {"rail_c": 295.0, "place": "B2"},
        {"taken_at": PIECE.taken_at + timedelta(minutes=9)},
        {"taken_at": None, "start_c": None, "thickness_mm": None},
        {"peak_c": 54.4, "start_c": 43.3, "thickness_mm": 31.8},
        {"wanted_c": 60.0},
    ],
)
def test_a_piece_told_again_is_the_same(told):
    assert replace(PIECE, **told).same_as(PIECE)
    assert PIECE.same_as(replace(PIECE, **told))


@pytest.mark.parametrize(
    "told",
    [
        {"peak_c": 55.5},
        {"peak_c": None},
        {"peak_c": None, "outcome": "under"},
        {"turns_s": (60.0, 61.0, 60.0)},
        {"turns_s": (60.0, 61.0, 60.0, 75.0)},
        {"start_c": 40.0},
        {"taken_at": PIECE.taken_at - timedelta(days=2)},
    ],
)
def test_another_piece_is_not(told):
    assert not replace(PIECE, **told).same_as(PIECE)
    assert not PIECE.same_as(replace(PIECE, **told))


def test_an_outcome_is_held_against_what_was_wanted():
    assert FELT.same_as(FELT)
    assert not FELT.same_as(replace(FELT, outcome="over"))
    assert not FELT.same_as(replace(FELT, wanted_c=63.0)), "under 58 °C and under 63 °C tell two things"
