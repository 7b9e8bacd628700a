"""Line → reading: what guns send is understood, and nothing else becomes a number."""

import random
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatmap.errors import ReadingError
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, TargetBand
from heatmap.readings.typed import OverRange, Shot
from heatmap.readings.written import BELOW_RANGE
from heatmap.serial_port.intake import Intake
from heatmap.serial_port.lines import Rejected
from heatmap.serial_port.parse import line_parser
from heatmap.serial_port.port import Chunk


@pytest.mark.parametrize(
    ("line", "shown_f", "position"),
    [
        ("585.2", 585.2, ""),
        ("0585", 585.0, ""),
        ("+585.2", 585.2, ""),
        ("-12.5", -12.5, ""),
        ("585.2 F", 585.2, ""),
        ("585.2F", 585.2, ""),
        ("585,F", 585.0, ""),
        ("585,5 F", 585.5, ""),
        ("300 C", 572.0, ""),
        ("300.0degC", 572.0, ""),
        ("T=585.2", 585.2, ""),
        ("temp: 585.2 F", 585.2, ""),
        ("B3 585.2", 585.2, "B3"),
        ("b3,585.2,F", 585.2, "B3"),
        ("B3: T=300C", 572.0, "B3"),
    ],
)
def test_what_guns_send(grill: Grill, line: str, shown_f: float, position: str) -> None:
    item = line_parser(grill)(line)
    assert isinstance(item, Shot)
    assert item.shown_c * 1.8 + 32 == pytest.approx(shown_f, abs=1e-9)
    assert item.position == position


@pytest.mark.parametrize("word", ["OL", "0L", "HI", "ol", "O.L", "OVER", "----", "--", "B3 HI", "T=OL", "OL F"])
def test_words_for_over_range_are_no_numbers(grill: Grill, word: str) -> None:
    item = line_parser(grill)(word)
    assert isinstance(item, OverRange)
    assert item.word not in BELOW_RANGE
    assert item.position == ("B3" if "B3" in word else "")


def test_a_word_for_below_the_range(grill: Grill) -> None:
    item = line_parser(grill)("LO")
    assert isinstance(item, OverRange)
    assert item.word in BELOW_RANGE


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("E=0.95", "not one number"),
        ("BATT 20", "not one number"),
        ("TEMP", "not one number"),
        ("585.2 F 0.95", "more than one number"),
        ("585 590", "more than one number"),
        ("58.5.2", "more than one number"),
        ("1,000", "two ways"),
        ("B9 585", "A1 .* to C4"),
        ("5852", "5852 °F cannot be"),
        ("1e3", "number"),
        ("0x30", "number"),
        ("nan", "not one number"),
        ("585 K", "not one number"),
        ("B3", "not one number"),
        ("5", None),
    ],
)
def test_what_is_no_reading_is_rejected_with_the_reason(grill: Grill, line: str, words: str | None) -> None:
    item = line_parser(grill)(line)
    if words is None:
        assert isinstance(item, Shot), "a small number is a number; the session asks about it"
        return
    assert isinstance(item, Rejected)
    assert re.search(words, item.why)
    assert item.text == line


def test_the_unit_is_that_of_the_line_else_of_the_option_else_of_the_grill(grill: Grill) -> None:
    metric = Grill(grate=grill.grate, target=grill.target, units="si")
    for parse, line, shown_c in [
        (line_parser(grill), "572", 300.0),
        (line_parser(metric), "300", 300.0),
        (line_parser(grill, units="si"), "300", 300.0),
        (line_parser(metric, units="us"), "572", 300.0),
        (line_parser(metric, units="si"), "572 F", 300.0),
    ]:
        item = parse(line)
        assert isinstance(item, Shot)
        assert item.shown_c == pytest.approx(shown_c)


@pytest.mark.parametrize(
    ("pattern", "line", "shown_f", "position"),
    [
        (r"obj=(?P<value>[\d.]+)", "obj=585.2 amb=75.0", 585.2, ""),
        (r"^\d+,(?P<value>[\d.]+),(?P<unit>[FC])$", "7,300.0,C", 572.0, ""),
        (r"(?P<position>[A-C]\d) .*?(?P<value>-?\d+\.\d)(?P<unit>.*)$", "B3 e0 585.2 deg F", 585.2, "B3"),
        (r"(?P<position>[A-C]\d)?\D*(?P<value>\d+)$", "x 585", 585.0, ""),
        (r"(?P<value>\d+,\d)", "585,2", 585.2, ""),
    ],
)
def test_a_pattern_of_ones_own(grill: Grill, pattern: str, line: str, shown_f: float, position: str) -> None:
    item = line_parser(grill, pattern=pattern)(line)
    assert isinstance(item, Shot)
    assert item.shown_c * 1.8 + 32 == pytest.approx(shown_f, abs=1e-9)
    assert item.position == position


@pytest.mark.parametrize(
    ("pattern", "line", "words"),
    [
        (r"(?P<value>\d+)", "585.2", "cuts a longer number"),
        (r"(?P<value>\d\d)", "585", "cuts a longer number"),
        (r"(?P<value>\d)$", "585", "cuts a longer number"),
        (r"(?P<value>\d+)$", "585.2", "cuts a longer number"),
        (r"(?P<value>\d+)", "-585", "cuts a longer number"),
        (r"(?P<value>\w+)", "hello", '"hello" is not a number'),
        (r"(?P<value>\d+) (?P<unit>\w)", "585 K", 'unit "K"'),
        (r"T(?P<value>\d+)", "585", "does not fit --pattern"),
    ],
)
def test_a_pattern_that_would_make_a_wrong_reading_makes_none(
    grill: Grill, pattern: str, line: str, words: str
) -> None:
    item = line_parser(grill, pattern=pattern)(line)
    assert isinstance(item, Rejected)
    assert words in item.why


def test_a_pattern_may_catch_the_words_for_over_range(grill: Grill) -> None:
    assert isinstance(line_parser(grill, pattern=r"t (?P<value>\S+)")("t OL"), OverRange)


@pytest.mark.parametrize(
    ("pattern", "words"),
    [
        ("(", "no regular expression"),
        (r"\d+", "name the number"),
        (r"(?P<value>\d)(?P<x>.)", "no other names"),
    ],
)
def test_a_pattern_that_cannot_work_is_refused_at_once(grill: Grill, pattern: str, words: str) -> None:
    with pytest.raises(ReadingError, match=words):
        line_parser(grill, pattern=pattern)


@given(st.text(max_size=40))
def test_any_line_is_understood_or_rejected(line: str) -> None:
    item = PARSE(line)
    assert isinstance(item, (Shot, OverRange, Rejected))


def _grill() -> Grill:
    return Grill(grate=Grate(width_mm=609.6, depth_mm=457.2), target=TargetBand(low_c=288.0, high_c=315.0))


PARSE = line_parser(_grill())


def test_ten_thousand_lines_of_noise_make_no_reading_up(grill: Grill) -> None:
    """A reading comes only from a line that is one number with at most a name, position and unit."""
    chance = random.Random(585)
    signs = [bytes([n]) for n in range(256)] + [b"5", b"8", b".", b" ", b"F", b"B3 ", b"-", b"OL", b"T="] * 12
    sent = [
        b"".join(chance.choice(signs) for _ in range(chance.randint(0, 12))).replace(b"\n", b"").replace(b"\r", b"")
        for _ in range(10_000)
    ]
    intake = Intake(line_parser(grill))
    items = intake.feed(Chunk(data=b"\n".join(sent) + b"\n"))
    plain = re.compile(
        rb"[ \t]*([A-Ca-c]0?[1-4][ \t,;:=]+)?((T|TEMP|TEMPERATURE|OBJ|TOBJ|IR)[ \t]*[:=]?[ \t]*)?"
        rb"[+-]?[0-9]{1,6}([.,][0-9]{1,6})?[ \t,;]*((DEG[ \t]*)?[FC])?[ \t]*",
        re.IGNORECASE,
    )
    readings = [item for item in items if isinstance(item, Shot)]
    could_be = [line for line in sent if plain.fullmatch(line)]
    assert 50 < len(readings) <= len(could_be)
    blank = sum(not line.strip(b" \t") for line in sent)
    assert len(items) == 10_000 - blank, "nothing is swallowed"
    assert all(item.why for item in items if isinstance(item, Rejected)), "each with its reason"


@given(st.integers(-599, 9999), st.sampled_from(["", "B3 ", "t="]), st.sampled_from(["", "F", " f", ",F"]))
def test_every_number_comes_back_as_it_was_sent(tenths: int, before: str, after: str) -> None:
    item = PARSE(f"{before}{tenths / 10:.1f}{after}")
    assert isinstance(item, Shot)
    assert item.shown_c * 1.8 + 32 == pytest.approx(tenths / 10, abs=1e-9)


PIECES = [b"585.2\r\n", b"B3 590 F\n", b"OL\n", b"E=1\n", b"\xff\n", b"58"]


@given(st.lists(st.sampled_from(PIECES), max_size=8).map(b"".join), st.lists(st.integers(0, 80)))
def test_cut_anywhere_the_readings_are_the_same(data: bytes, cuts: list[int]) -> None:
    whole = Intake(PARSE)
    expected = whole.feed(Chunk(data=data))
    pieces = Intake(PARSE)
    edges = sorted({0, len(data), *(cut for cut in cuts if cut < len(data))})
    chunks = [Chunk(data=data[start:end]) for start, end in zip(edges, edges[1:], strict=False)]
    assert [item for chunk in chunks for item in pieces.feed(chunk)] == expected
