"""The loop of a session inside the process, with a clock of our own: preheat, re-check, numbers and names of rounds."""

from __future__ import annotations

import threading
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from cli import take_round
from cli.take import Plan
from cli.take_begin import begin, marks_answered
from cli.take_inputs import Arrived, Inputs, NoMoreLines, signals_into
from heatmap import load_grill
from heatmap.errors import MapError, ReadingError
from heatmap.readings.csv_file import read_readings
from heatmap.readings.log import ReadingsLog
from heatmap.readings.typed import Shot

START = datetime(2031, 6, 14, 13, 0, tzinfo=UTC)


@pytest.fixture
def clock(monkeypatch):
    """Let a minute pass with every look at the clock times `step`."""

    class Clock:
        at = START
        step = timedelta(seconds=5)

        def __call__(self):
            self.at += self.step
            return self.at

    clock = Clock()
    monkeypatch.setattr(take_round, "now", clock)
    return clock


def run(folder, lines, **options):
    """Type these lines into a session and return every row written."""
    grill = load_grill(folder / "grill.toml")
    plan = Plan(grill_file=folder / "grill.toml", readings_file=folder / "readings.csv", **options)
    inputs = Inputs()
    for line in lines:
        inputs.put(line)
    inputs.put(NoMoreLines())
    with ReadingsLog(plan.readings_file, grill) as log:
        take_round.Taking(plan, log, inputs).run()
    return read_readings(plan.readings_file, grill).readings


def test_numbers_typed_ahead_of_a_question_keep_their_order(plain_grill, clock, monkeypatch):
    """The first is put back for the round to hear: before those that came after it, and before the keyboard's end."""
    monkeypatch.setattr(take_round, "is_terminal", lambda *_: True)
    rows = run(plain_grill, ["581", "572", "563"])
    assert [(row.position, round(1.8 * row.shown_c + 32.0)) for row in rows] == [("B2", 581), ("A1", 572), ("C4", 563)]


@pytest.mark.timeout(30)
def test_a_round_that_came_before_the_keyboard_was_found_missing_is_over_all_the_same(plain_grill, clock):
    grill = load_grill(plain_grill / "grill.toml")
    plan = Plan(
        grill_file=plain_grill / "grill.toml", readings_file=plain_grill / "readings.csv", lid="open", port="loop://"
    )
    inputs = Inputs()
    for index in range(12):
        shot = Shot(position="", shown_c=300.0 + index)
        inputs.put(Arrived(items=(shot,)))
    inputs.put(NoMoreLines())
    with ReadingsLog(plan.readings_file, grill) as log:
        take_round.Taking(plan, log, inputs, lambda: None).run()
    assert len(read_readings(plan.readings_file, grill).readings) == 12


def test_preheat_holds_on_while_it_rises_and_goes_to_the_map_by_itself(plain_grill, clock, capsys):
    clock.step = timedelta(seconds=20)
    # Two positions in turn, 20 s apart: rising 30 °F a minute at first, then level.
    preheat = ["400", "450", "420", "470", "440", "490", *(["500", "550"] * 6)]
    rows = run(plain_grill, [*preheat, "580", "575"], preheat=True)
    told = capsys.readouterr().err
    assert "Preheat: shoot B2 and A1 in turn" in told
    assert "°F a minute, hold on." in told
    assert "On to the map." in told
    first, second = ([row for row in rows if row.round == number] for number in (1, 2))
    assert {row.position for row in first} == {"B2", "A1"}
    assert {row.note for row in first} == {"preheat"}
    assert all(row.note == "" for row in second)
    assert [row.position for row in second][:2] == ["B2", "A1"]
    assert len(first) + len(second) == len(preheat) + 2
    assert 10 <= len(first) < len(preheat) + 2


def test_done_in_the_preheat_goes_to_the_map_at_once(plain_grill, clock):
    rows = run(plain_grill, ["400", "450", "done", "580"], preheat=True)
    assert [row.round for row in rows] == [1, 1, 2]


@pytest.mark.timeout(30)
def test_the_end_of_the_keyboard_in_the_preheat_begins_no_round_that_nobody_can_end(plain_grill, clock):
    rows = run(plain_grill, ["400"], preheat=True)
    assert [(row.round, row.note) for row in rows] == [(1, "preheat")]


def test_done_in_a_preheat_without_a_shot_asks_nothing_twice(plain_grill, clock, monkeypatch, capsys):
    monkeypatch.setattr(take_round, "is_terminal", lambda *_: True)
    rows = run(plain_grill, ["1", "done", "580", "581", "582"], preheat=True)
    assert [(row.round, row.position, row.note) for row in rows] == [(1, "B2", ""), (1, "A1", ""), (1, "C4", "")]
    assert capsys.readouterr().err.count("was the lid 1 open or 2 closed?") == 1


def test_a_wait_is_told_once_a_minute_where_the_screen_cannot_be_cleared(knob_grill, clock, monkeypatch):
    monkeypatch.setattr(take_round, "is_terminal", lambda *_: True)
    grill = load_grill(knob_grill / "grill.toml")
    plan = Plan(grill_file=knob_grill / "grill.toml", readings_file=knob_grill / "readings.csv")
    waited = []

    def next_line(*, until_shot, within_s):
        waited.append(within_s)
        clock.at += timedelta(seconds=within_s)

    with ReadingsLog(plan.readings_file, grill) as log:
        taking = take_round.Taking(plan, log, Inputs())
        taking.next_line = next_line
        taking.do("turned left 6, right 7")
        taking.count_down()
    assert waited[:-1] == [60.0] * (len(waited) - 1)
    assert 10 <= len(waited) <= 15


def test_a_recheck_leads_through_a_few_positions_and_moves_the_map_of_the_full_round(plain_grill, clock, capsys):
    full = "B2 A1 C4 A4 C1 A2 B3 B1 A3 C2 B4 C3".split()
    run(plain_grill, [f"{label} {575 + 3 * (index % 4)}" for index, label in enumerate(full)])
    capsys.readouterr()
    rows = run(plain_grill, ["540", "541", "543"], recheck=True)
    out, told = capsys.readouterr()
    assert "Re-check on the shape of round 1:" in told
    asked = told.split("of round 1: ")[1].split(";")[0].split(", ")
    assert 3 <= len(asked) <= 5
    last = [row for row in rows if row.round == 2]
    assert [row.position for row in last] == asked[:3]
    assert "So far:" in told  # two shots are enough to move a map that is there
    assert "Round 2" in out
    # All of the grate is now colder by some 35 °F, not only where it was shot.
    far = out.split("YOU")[0]
    assert "(54" in far or "(55" in far or "(53" in far


def test_a_probe_stands_for_no_shot_of_a_recheck_that_is_gone_on_with(plain_grill, clock, capsys):
    run(plain_grill, [f"{'ABC'[index // 4]}{index % 4 + 1} {575 + 3 * (index % 4)}" for index in range(12)])
    rows = run(plain_grill, ["540", "contact 545"], recheck=True)
    asked = capsys.readouterr().err.split("of round 1: ")[1].split(";")[0].split(", ")
    assert [(row.position, row.aim) for row in rows[-2:]] == [(asked[0], "rail"), (asked[1], "contact")]
    rows = run(plain_grill, ["541", "542"], recheck=True, go_on=True)
    assert [(row.round, row.position) for row in rows[-2:]] == [(2, asked[1]), (2, asked[2])]


def test_a_recheck_without_a_full_round_says_what_to_do(plain_grill, clock):
    with pytest.raises(MapError, match="take one first with: gratemap take"):
        run(plain_grill, ["580"], recheck=True)


def test_rounds_are_numbered_on_and_the_session_is_the_days(plain_grill, clock):
    first = run(plain_grill, ["580"])[-1]
    assert (first.round, first.session) == (1, START.astimezone().date().isoformat())
    assert run(plain_grill, ["581"])[-1].round == 2
    again = run(plain_grill, ["582"], go_on=True)[-1]
    assert (again.round, again.position) == (2, "A1")
    assert run(plain_grill, ["583"], number=7, session="practice")[-1].session == "practice"
    same_day = run(plain_grill, ["584"])[-1]
    assert (same_day.round, same_day.session) == (8, "practice")
    clock.at += timedelta(days=1)
    assert run(plain_grill, ["585"])[-1].session == (START + timedelta(days=1)).astimezone().date().isoformat()


def test_a_round_is_gone_on_with_from_as_far_as_its_walk_not_from_close_up(plain_grill, clock):
    """Also where the first shot that stands is one from close up: the one before it was typed again."""
    rows = run(plain_grill, ["580", "585", "590", "B2 540"], close_up=True)
    assert [row.distance_mm is None for row in rows if row.shown_c is not None] == [True, False, False, True]
    last = run(plain_grill, ["570"], go_on=True)[-1]
    assert (last.position, last.distance_mm) == ("A1", None)
    near_in = rows[1].distance_mm / 25.4
    assert run(plain_grill, ["580"], distance=near_in)[-1].distance_mm == rows[1].distance_mm
    assert run(plain_grill, ["570"], go_on=True)[-1].distance_mm == rows[1].distance_mm, "a whole round from there"


def test_distance_and_marks_are_written_with_every_reading(knob_grill, clock):
    row = run(knob_grill, ["580"], distance=10.0, knobs=("left=6.5", "RIGHT = 4"))[-1]
    assert row.distance_mm == pytest.approx(254.0)
    assert dict(row.knobs) == {"left": 6.5, "right": 4.0}


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"knobs": ("left",)}, "write it like --knob left=6.5"),
        ({"knobs": ("middle=5",)}, "burners are: left, right"),
        ({"knobs": ("left=50",)}, "goes from 1 to 10"),
        ({"distance": 0.01}, "--distance is 0.01"),
    ],
)
def test_what_the_command_line_says_is_checked(knob_grill, options, words):
    grill = load_grill(knob_grill / "grill.toml")
    plan = Plan(grill_file=knob_grill, readings_file=knob_grill, **options)
    with pytest.raises(ReadingError, match=words):
        begin(plan, grill, (), START)


def test_marks_are_answered_in_order_or_by_name(knob_grill):
    grill = load_grill(knob_grill / "grill.toml")

    def answered(text, **last):
        return marks_answered(text, grill, grill.burners, last)

    assert answered("6 7") == answered("6, 7") == answered("right 7, left 6") == {"left": 6.0, "right": 7.0}
    assert answered("Left 6", right=2.0) == {"left": 6.0, "right": 2.0}
    assert answered(" ", left=3.0) == {"left": 3.0}
    assert answered("all 6") == {"left": 6.0, "right": 6.0}
    for few in ("6", "left 6"):
        with pytest.raises(ReadingError, match="1 of 2 marks; type one each for left, right, like 10 10, or all 10"):
            answered(few)


def test_a_name_of_two_words_is_known_by_its_blank_or_its_line(knob_grill):
    described = load_grill(knob_grill / "grill.toml")
    one, other = described.burners
    named = replace(described, burners=(replace(one, name="Back left"), other))
    for text in ("back left 6, right 7", "BACK_LEFT=6 right=7", "right 7 Back left 6"):
        assert marks_answered(text, named, named.burners, {}) == {"Back left": 6.0, "right": 7.0}, text


def test_marks_of_burners_that_are_called_by_numbers_are_no_names(knob_grill):
    """What five burners are called when nobody gives them names."""
    described = load_grill(knob_grill / "grill.toml")
    five = replace(described, burners=tuple(replace(described.burners[0], name=str(at)) for at in range(1, 6)))
    marks = {"1": 5.0, "2": 4.0, "3": 3.0, "4": 2.0, "5": 1.0}
    for text in ("5 4 3 2 1", "1 5, 2 4, 3 3, 4 2, 5 1", "1=5 2=4 3=3 4=2 5=1"):
        assert marks_answered(text, five, five.burners, {}) == marks, text
    assert marks_answered("5 5 5 5 5", five, five.burners, {}) == dict.fromkeys(marks, 5.0)


def test_a_gun_that_shows_words_leaves_no_number(plain_grill, clock):
    rows = run(plain_grill, ["580", "OL", "LO", "----", "562"])
    assert [row.position for row in rows] == ["B2", "A1"]


def test_a_session_beside_the_main_thread_hears_no_signals_and_goes_on():
    """Python has signals in the main thread alone (its documentation, module signal)."""
    heard = []

    def session():
        with signals_into(Inputs()):
            heard.append("went on")

    beside = threading.Thread(target=session)
    beside.start()
    beside.join()
    assert heard == ["went on"]
