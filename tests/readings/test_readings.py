"""Readings and rounds: what a withdrawal does, what a round says about itself."""

from datetime import UTC, datetime, timedelta

import pytest

from heatmap.errors import ReadingError
from heatmap.readings.reading import Reading, group_rounds

NOON = datetime(2031, 6, 14, 12, 0, tzinfo=UTC)


def shot(number: int, shown_c: float | None = 300.0, **more: object) -> Reading:
    return Reading(id=number, shown_c=shown_c, x_mm=1.0, y_mm=2.0, **more)  # type: ignore[arg-type]


def test_rounds_are_gathered_by_number_in_file_order() -> None:
    rounds = group_rounds([shot(1, round=2), shot(2, round=1), shot(3, round=2)])
    assert [(found.number, [reading.id for reading in found.readings]) for found in rounds] == [
        (1, [2]),
        (2, [1, 3]),
    ]


def test_a_withdrawn_reading_is_left_out_and_so_is_the_withdrawal() -> None:
    (found,) = group_rounds([shot(1), shot(2), shot(3, None, void=1)])
    assert [reading.id for reading in found.readings] == [2]


def test_a_row_may_withdraw_another_and_still_count_itself() -> None:
    (found,) = group_rounds([shot(1), shot(2, 310.0, void=1)])
    assert [reading.id for reading in found.readings] == [2]


def test_a_row_may_withdraw_itself() -> None:
    (found,) = group_rounds([shot(1, void=1), shot(2)])
    assert [reading.id for reading in found.readings] == [2]


def test_a_turn_of_knobs_may_withdraw_another_and_still_counts() -> None:
    turns = [shot(1, None, aim="turned", knobs={"left": 5.0}), shot(2, None, aim="turned", knobs={"left": 6.0}, void=1)]
    (found,) = group_rounds([*turns, shot(3, None, aim="turned", knobs={"left": 7.0}, void=3), shot(4)])
    assert [(one.id, dict(one.knobs)) for one in found.turned] == [(2, {"left": 6.0})]


def test_withdrawing_a_withdrawal_does_not_bring_the_reading_back() -> None:
    (found,) = group_rounds([shot(1), shot(2), shot(3, None, void=1), shot(4, None, void=3)])
    assert [reading.id for reading in found.readings] == [2]


@pytest.mark.parametrize("shown_c", [float("nan"), float("inf"), -float("inf"), -61.0, 1101.0])
def test_a_number_no_gun_can_show_is_refused(shown_c: float) -> None:
    with pytest.raises(ReadingError, match="cannot be"):
        shot(1, shown_c)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"aim": "rails"}, "rail, valley, patch, contact"),
        ({"surface": "wet"}, "dry, oiled"),
        ({"lid": "ajar"}, "open, closed"),
        ({"shown_c": None}, "without a number"),
    ],
)
def test_words_that_are_not_known_are_refused(more: dict[str, object], words: str) -> None:
    with pytest.raises(ReadingError, match=words):
        shot(1, **more)  # type: ignore[arg-type]


def test_what_a_round_says_about_itself() -> None:
    readings = [
        shot(1, taken_at=NOON, knobs={"left": 5.0, "right": 4.0}, lid="closed"),
        shot(2, taken_at=NOON + timedelta(seconds=90), knobs={"left": 6.0}, surface="oiled", session="day two"),
        shot(3, aim="valley"),
    ]
    (found,) = group_rounds(readings)
    assert dict(found.settings) == {"left": 6.0, "right": 4.0}
    assert found.lid == "closed"
    assert found.surface == "oiled"
    assert found.session == "day two"
    assert [reading.id for reading in found.with_aim("valley")] == [3]


def test_a_round_without_times_has_no_moment() -> None:
    (found,) = group_rounds([shot(1)])
    assert found.taken_at is None


def test_the_moment_of_a_round_is_the_median_time_of_its_rail_readings() -> None:
    times = [0, 10, 20, 500]
    readings = [shot(n, taken_at=NOON + timedelta(seconds=s)) for n, s in enumerate(times[:3])]
    readings.append(shot(9, taken_at=NOON + timedelta(seconds=times[3]), aim="contact"))
    (found,) = group_rounds(readings)
    assert found.taken_at == NOON + timedelta(seconds=10)
