"""Typed lines: what is understood, what is refused, and that nothing is guessed."""

import re
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatmap.errors import ReadingError
from heatmap.grill.burner import Burner
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, TargetBand
from heatmap.readings import typed
from heatmap.readings.typed import parse_typed
from heatmap.units import c_from_f

GRILL = Grill(
    grate=Grate(width_mm=609.6, depth_mm=457.2),
    target=TargetBand(low_c=288.0, high_c=315.0),
    burners=(
        Burner(name="left", points_mm=((100.0, 25.0), (100.0, 430.0))),
        Burner(name="back left", points_mm=((300.0, 25.0), (300.0, 430.0)), marks=("LO", "MED HI", "HI")),
    ),
)
SI = Grill(grate=GRILL.grate, target=GRILL.target, units="si")


@pytest.mark.parametrize(
    ("line", "shown_f", "position", "aim"),
    [
        ("585", 585.0, "", "rail"),
        ("585\n", 585.0, "", "rail"),
        ("  585.5  ", 585.5, "", "rail"),
        ("585,5", 585.5, "", "rail"),
        ("B3 585", 585.0, "B3", "rail"),
        ("b03 585f", 585.0, "B3", "rail"),
        ("585°F", 585.0, "", "rail"),
        ("valley 640", 640.0, "", "valley"),
        ("B3 valley 640", 640.0, "B3", "valley"),
        ("Valley B3 640", 640.0, "B3", "valley"),
        ("contact 610", 610.0, "", "contact"),
        ("patch 550", 550.0, "", "patch"),
        ("300 C", 572.0, "", "rail"),
        ("B3 300c", 572.0, "B3", "rail"),
    ],
)
def test_shots_are_understood(line: str, shown_f: float, position: str, aim: str) -> None:
    shot = parse_typed(line, GRILL)
    assert isinstance(shot, typed.Shot)
    assert shot.shown_c == pytest.approx(c_from_f(shown_f), abs=1e-9)
    assert (shot.position, shot.aim) == (position, aim)


@pytest.mark.parametrize(
    ("line", "grill", "distance_mm", "aim"),
    [
        ("B3 604 from 4", "us", 101.6, "rail"),
        ("valley 612 from 4", "us", 101.6, "valley"),
        ("valley B3 612 F From 4.5in", "us", 114.3, "valley"),
        ("patch 322 from 100", "si", 100.0, "patch"),
        ("B3 604", "us", None, "rail"),
    ],
)
def test_a_shot_can_be_from_another_distance(line: str, grill: str, distance_mm: float | None, aim: str) -> None:
    shot = parse_typed(line, GRILL if grill == "us" else SI)
    assert isinstance(shot, typed.Shot)
    assert shot.aim == aim
    assert shot.distance_mm == (None if distance_mm is None else pytest.approx(distance_mm))


def test_numbers_are_in_the_units_of_the_grill() -> None:
    shot = parse_typed("300", SI)
    assert isinstance(shot, typed.Shot)
    assert shot.shown_c == 300.0


@pytest.mark.parametrize(
    ("line", "meant"),
    [
        ("", typed.Again()),
        ("   ", typed.Again()),
        ("undo", typed.Undo()),
        ("-", typed.Undo()),
        ("SKIP", typed.Skip()),
        ("+", typed.Skip()),
        ("done", typed.Done()),
        ("*", typed.Done()),
        ("?", typed.Help()),
        ("/", typed.Help()),
        ("oiled", typed.Stands(surface="oiled")),
        ("dry", typed.Stands(surface="dry")),
        ("lid closed", typed.Stands(lid="closed")),
        ("Lid  Open", typed.Stands(lid="open")),
        ("knob left 6.5", typed.Stands(marks={"left": 6.5})),
        ("knob left 6,5", typed.Stands(marks={"left": 6.5})),
        ("knob back left MED HI", typed.Stands(marks={"back left": 5.5})),
        ("knob back_left hi", typed.Stands(marks={"back left": 10.0})),
        ("knob left 6.5, back left hi", typed.Stands(marks={"left": 6.5, "back left": 10.0})),
        ("turned back left med hi, LEFT 6.5", typed.Turned(marks={"back left": 5.5, "left": 6.5})),
        ("turned left=6.5 back left=HI", typed.Turned(marks={"left": 6.5, "back left": 10.0})),
        ("HI", typed.OverRange(word="HI")),
        ("ol", typed.OverRange(word="OL")),
        ("LO", typed.OverRange(word="LO")),
        ("----", typed.OverRange(word="----")),
        ("B3 ----", typed.OverRange(word="----", position="B3")),
        (".", typed.OverRange(word=".")),
    ],
)
def test_commands_are_understood(line: str, meant: typed.Typed) -> None:
    assert parse_typed(line, GRILL) == meant


def test_a_row_is_called_out_from_left_to_right() -> None:
    row = parse_typed("b 585 - 600 610", GRILL)
    assert isinstance(row, typed.RowOfShots)
    assert [(shot.position, round(shot.shown_c * 1.8 + 32, 6)) for shot in row.shots] == [
        ("B1", 585.0),
        ("B3", 600.0),
        ("B4", 610.0),
    ]
    assert row.skipped == ("B2",)
    assert row.left_open == ()


def test_a_short_row_says_what_is_left_open() -> None:
    row = parse_typed("B 585 590 600", GRILL)
    assert isinstance(row, typed.RowOfShots)
    assert [shot.position for shot in row.shots] == ["B1", "B2", "B3"]
    assert row.left_open == ("B4",)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("58 5", "more than one number"),
        ("5 85", "more than one number"),
        ("1e3", "not understood"),
        ("0x30", "not understood"),
        ("٥٨٥", "not plain letters and digits"),
        ("\uff15\uff18\uff15", "not plain letters and digits"),
        ("½", "not plain letters and digits"),
        ("inf", "not understood"),
        ("nan", "not understood"),
        ("1_000", "not understood"),
        ("-585", "below zero"),
        ("+585", "not understood"),
        ("--", "undo"),
        ("1,000", "two ways"),
        ("585,590,600", "two ways"),
        ("5850", "5850 °F cannot be"),
        ("585 B3", "write 585, B3 585, or"),
        ("B3,585", "write 585, B3 585, or"),
        ("B9 585", "A1 .* to C4"),
        ("D1 585", "A1 .* to C4"),
        ("B 3 585", "B3 in one word"),
        ("B 585", "which position of row B"),
        ("B 1 2 3 4 5", "4 positions"),
        ("B3", "lacks its number"),
        ("valley", "lacks its number"),
        ("B3 C3 585", "names two"),
        ("valley patch 585", "names two"),
        ("valley 612 from", "not understood"),
        ("valley 612 from near", "from 4"),
        ("valley 612 from 900", "196.9 in"),
        ("contact 610 from 4", "no distance"),
        ("lid", "lid open or lid closed"),
        ("knob", "^type knob, a burner and its mark, like knob left 6.5; burners are: left, back left"),
        ("knob middle 3", "type knob, .* like knob left 6.5"),
        ("turned middle 3", "type turned, .* like turned left 6.5"),
        ("knob left", "left, back left"),
        ("knob middle 3", "left, back left"),
        ("knob left 11", "from 1 to 10"),
        ("knob left 1e0", "from 1 to 10"),
        ("knob back left MED", "LO, MED HI, HI"),
        ("\x1b[A", "not plain"),
        ("58\x005", "not plain"),
        ("hello", "not understood"),
    ],
)
def test_what_could_mean_something_else_is_refused_with_one_line(line: str, words: str) -> None:
    with pytest.raises(ReadingError, match=words) as caught:
        parse_typed(line, GRILL)
    message = str(caught.value)
    assert "\n" not in message
    assert message.isprintable()
    assert len(message) < 200


def test_a_row_letter_of_a_grate_with_one_column_needs_no_column() -> None:
    narrow = Grill(grate=GRILL.grate, target=GRILL.target, positions=type(GRILL.positions)(rows=3, columns=1))
    row = parse_typed("B 585", narrow)
    assert isinstance(row, typed.RowOfShots)
    assert [shot.position for shot in row.shots] == ["B1"]


@given(st.text(max_size=30))
def test_any_text_is_understood_or_refused_with_one_line(line: str) -> None:
    try:
        meant = parse_typed(line, GRILL)
    except ReadingError as error:
        refused = str(error)
    else:
        refused = ""
        assert not isinstance(meant, typed.Shot) or re.search("[0-9]", line)
    assert "\n" not in refused


def test_a_line_of_nothing_but_commas_is_refused_at_once():
    """The time grows with the length of the line, not with its square: a line of a pipe may have 10,000 signs."""
    took = []
    for length in (2_000, 10_000):
        start = time.process_time()
        with pytest.raises(ReadingError, match="from 1 to 10"):
            parse_typed("knob left 5" + "," * length, GRILL)
        took.append(time.process_time() - start)
    assert took[1] < 12 * took[0] + 0.1


WORDS = ["B", "B3", "585", "58", "5", "-", "+", "valley", "F", "C", "knob", "left", "HI", ",", "."]


@given(st.lists(st.sampled_from(WORDS)))
def test_no_mix_of_known_words_makes_an_unwritten_number(words: list[str]) -> None:
    """Every number that comes out stands in the line as a word of its own, in its order."""
    try:
        meant = parse_typed(" ".join(words), GRILL)
    except ReadingError:
        return
    shots = [meant] if isinstance(meant, typed.Shot) else list(getattr(meant, "shots", ()))
    written = [float(word) for word in words if word.isdigit()]
    for shot in shots:
        as_c = min(abs(shot.shown_c - number) for number in written)
        as_f = min(abs(shot.shown_c - c_from_f(number)) for number in written)
        assert min(as_c, as_f) < 1e-9
    assert len(shots) <= len(written)


@given(st.integers(min_value=0, max_value=20120), st.sampled_from(GRILL.labels))
def test_every_number_a_gun_can_show_comes_back(tenths: int, label: str) -> None:
    shot = parse_typed(f"{label} {tenths / 10:.1f}", GRILL)
    assert isinstance(shot, typed.Shot)
    assert shot.position == label
    assert shot.shown_c * 1.8 + 32 == pytest.approx(tenths / 10, abs=1e-9)
