"""Guns that stream: one reading per place, none while the gun moves, none twice."""

import random

import pytest

from heatmap.errors import ReadingError
from heatmap.grill.grill import Grill
from heatmap.readings.typed import Shot
from heatmap.serial_port.intake import Intake, Settler
from heatmap.serial_port.parse import line_parser
from heatmap.serial_port.port import Chunk


def taken(settler: Settler, stream: list[tuple[float, float]]) -> list[tuple[float, float]]:
    found = []
    for at_s, shown_c in stream:
        reading = settler.feed(at_s, shown_c)
        if reading is not None:
            found.append((at_s, reading))
    return found


def hold(
    start_s: float, seconds: float, shown_c: float, sd_c: float = 0.0, rate: float = 8.0
) -> list[tuple[float, float]]:
    chance = random.Random(int(shown_c))
    return [(start_s + n / rate, shown_c + chance.gauss(0.0, sd_c)) for n in range(round(seconds * rate))]


def test_a_steady_stream_gives_one_reading_after_the_time_asked_for(grill: Grill) -> None:
    ((at_s, shown_c),) = taken(Settler(1.0, grill.gun), hold(0.0, 30.0, 300.0))
    assert at_s == pytest.approx(1.0)
    assert shown_c == 300.0


def test_the_spread_of_the_gun_itself_is_steady(grill: Grill) -> None:
    """With readings that scatter as the gun's data sheet says, a place is read in good time, and once."""
    sd_c = grill.gun.repeatability_percent / 100 * 300
    got = taken(Settler(1.0, grill.gun), hold(0.0, 20.0, 300.0, sd_c))
    assert len(got) == 1
    assert got[0][0] < 4.0
    assert got[0][1] == pytest.approx(300.0, abs=1.5 * sd_c)


def test_moving_from_rail_to_rail_gives_one_reading_each(grill: Grill) -> None:
    stream: list[tuple[float, float]] = []
    for place, shown_c in enumerate([300.0, 301.0, 315.0, 280.0]):
        begin_s = 5.0 * place
        stream += hold(begin_s, 4.0, shown_c)
        stream += [(begin_s + 4.0 + n / 8, 340.0 + 10 * n) for n in range(8)]  # over the valleys to the next rail
    got = taken(Settler(1.0, grill.gun), stream)
    assert [shown_c for _, shown_c in got] == [300.0, 301.0, 315.0, 280.0]


def test_nothing_is_taken_while_the_stream_moves(grill: Grill) -> None:
    assert taken(Settler(1.0, grill.gun), [(n / 8, 300.0 + 3 * n) for n in range(100)]) == []


def test_a_slow_drift_at_one_place_is_no_new_place(grill: Grill) -> None:
    """A grate that cools by 10 °F in 30 s (about 0.19 °C a second) while the gun is held still."""
    stream = [(n / 8, 310.0 - 0.19 * n / 8) for n in range(8 * 120)]
    assert len(taken(Settler(1.0, grill.gun), stream)) == 1


@pytest.mark.parametrize("odd", [[340.0], [340.0, 380.0], [100.0]])
def test_a_wobble_of_the_hand_is_no_new_place(grill: Grill, odd: list[float]) -> None:
    stream = [(n / 8, 300.0) for n in range(160)]
    for at, shown_c in enumerate(odd):
        stream[80 + at] = (stream[80 + at][0], shown_c)
    assert len(taken(Settler(1.0, grill.gun), stream)) == 1


def test_a_wobble_after_a_long_drift_is_no_new_place(grill: Grill) -> None:
    stream = [(n / 8, 310.0 - 0.19 * n / 8) for n in range(8 * 120)]
    stream[800] = (stream[800][0], 250.0)
    assert len(taken(Settler(1.0, grill.gun), stream)) == 1


def test_a_quick_move_to_a_rail_that_shows_something_else_is_a_new_place(grill: Grill) -> None:
    stream = hold(0.0, 4.0, 300.0) + [(4.0, 340.0)] + hold(4.125, 4.0, 320.0)
    assert [shown_c for _, shown_c in taken(Settler(1.0, grill.gun), stream)] == [300.0, 320.0]


def test_letting_the_trigger_go_is_a_new_place(grill: Grill) -> None:
    stream = hold(0.0, 3.0, 300.0) + hold(6.0, 3.0, 300.0)
    assert len(taken(Settler(1.0, grill.gun), stream)) == 2


def test_too_few_values_are_never_steady(grill: Grill) -> None:
    settler = Settler(0.5, grill.gun)
    assert settler.feed(0.0, 300.0) is None
    assert settler.feed(0.9, 300.0) is None
    assert settler.feed(1.2, 300.0) == 300.0


def test_the_cook_or_the_line_may_say_that_it_is_a_new_place(grill: Grill) -> None:
    settler = Settler(1.0, grill.gun)
    assert len(taken(settler, hold(0.0, 3.0, 300.0))) == 1
    settler.next_place()
    assert len(taken(settler, hold(3.0, 3.0, 300.0))) == 1
    assert settler.feed(6.0, 300.0, "B3") is None
    assert [settler.feed(6.0 + n / 8, 300.0, "B3") for n in range(1, 9)][-1] == 300.0


@pytest.mark.parametrize("seconds", [0.0, -1.0, 61.0, float("nan"), float("inf")])
def test_a_time_that_cannot_work_is_refused(grill: Grill, seconds: float) -> None:
    with pytest.raises(ReadingError, match="from 0.1 to 60 seconds"):
        Settler(seconds, grill.gun)


def test_in_the_intake_a_stream_is_counted_and_over_range_is_a_new_place(grill: Grill) -> None:
    intake = Intake(line_parser(grill), Settler(0.5, grill.gun))
    items = []
    for n in range(40):
        line = b"OL\n" if n == 20 else b"572.0\n"
        items += intake.feed(Chunk(data=line), n / 8)
    assert [type(item).__name__ for item in items] == ["Shot", "OverRange", "Shot"]
    first = items[0]
    assert isinstance(first, Shot)
    assert first.shown_c == pytest.approx(300.0)
