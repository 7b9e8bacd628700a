"""The readings file, read: everything it may look like, and everything that is refused with its line."""

import csv
import io
import os
import time
from collections.abc import Callable
from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from heatmap.errors import HeatmapError, ReadingError
from heatmap.grill.burner import Burner
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, TargetBand
from heatmap.readings.csv_file import LIMIT_BYTES, ReadingsFile, load_rounds, read_readings
from heatmap.readings.csv_rows import Header, Rows, columns_for, utc_from_text
from heatmap.readings.reading import Reading

GRILL = Grill(
    grate=Grate(width_mm=24 * 25.4, depth_mm=18 * 25.4),
    target=TargetBand(low_c=288.0, high_c=315.0),
    burners=(
        Burner(name="left", points_mm=((100.0, 25.0), (100.0, 430.0))),
        Burner(name="back left", points_mm=((300.0, 25.0), (300.0, 430.0)), marks=("LO", "MED", "HI")),
    ),
)


def read(text: str, **options: bool) -> ReadingsFile:
    return read_readings(io.StringIO(text), GRILL, **options)  # type: ignore[arg-type]


def shown_f(found: ReadingsFile) -> list[float]:
    return [round(reading.shown_c * 1.8 + 32, 9) for reading in found.readings if reading.shown_c is not None]


FULL = """\
# a comment before the header
id,round,session,taken_at,position,x_in,y_in,aim,shown_f,surface,lid,distance_in,knob_left,knob_back_left,void,note
10,1,day one,2031-06-14T13:05:00+02:00,b3,,,,585.5,,closed,8,6.5,MED,,"so, so"

# another
11,2,day one,2031-06-14T13:06:00Z,,2.5,15.5,Valley,640,OILED,,,7,hi,,
12,2,,,C4,,,contact,610,dry,open,,,,,
13,1,,,,,,,,,,,,,10,slip
"""


def test_every_column_is_understood() -> None:
    found = read(FULL)
    first, second, third, withdrawal = found.readings
    assert (first.id, first.round, first.session, first.position, first.aim) == (
        10,
        1,
        "day one",
        "B3",
        "rail",
    )
    assert first.shown_c == pytest.approx((585.5 - 32) / 1.8)
    assert first.taken_at == datetime(2031, 6, 14, 11, 5, tzinfo=UTC)
    assert first.point_mm == GRILL.point_mm("B3")
    assert (first.surface, first.lid, first.distance_mm) == ("dry", "closed", pytest.approx(8 * 25.4))
    assert dict(first.knobs) == {"left": 6.5, "back left": 5.5}
    assert (first.note, first.void) == ("so, so", None)
    assert second.point_mm == pytest.approx((2.5 * 25.4, 15.5 * 25.4))
    assert (second.position, second.aim, second.surface) == ("A1", "valley", "oiled")
    assert dict(second.knobs) == {"left": 7.0, "back left": 10.0}
    assert (third.aim, third.distance_mm, third.taken_at) == ("contact", None, None)
    assert (withdrawal.void, withdrawal.shown_c) == (10, None)
    assert found.header.names[:2] == ("id", "round")
    assert found.highest_id == 13
    assert [(r.number, [x.id for x in r.readings]) for r in found.rounds] == [(2, [11, 12])]


def test_two_columns_are_enough_and_the_rest_has_its_default() -> None:
    (reading,) = read("position,shown_f\nA1,585\n").readings
    assert (reading.id, reading.round, reading.session, reading.aim) == (1, 1, "", "rail")
    assert (reading.surface, reading.lid, reading.taken_at, reading.distance_mm) == (
        "dry",
        "open",
        None,
        None,
    )
    assert dict(reading.knobs) == {}


@pytest.mark.parametrize(
    "text",
    [
        "position,shown_f\nB3,585.5\nA1,590\n",
        "shown_f,position\n585.5,B3\n590,A1\n",
        " Position , SHOWN_F \n b3 , 585.5 \na1,590\n",
        "\ufeffposition,shown_f\r\nB3,585.5\r\n\r\nA1,590\r\n",
        "position,shown_f\rB3,585.5\rA1,590\r",
        "position;shown_f\nB3;585,5\nA1;590\n",
        "position;shown_f\nB3;585.5\nA1;590\n",
        "position\tshown_f\nB3\t585.5\nA1\t590\n",
        "position\tshown_f\nB3\t585,5\nA1\t590\n",
        '"position","shown_f"\n"B3","585.5"\n"A1","590"\n',
        "position,shown_f\nB3,585.5 F\nA1,590°F\n",
        "position,shown_f\nB3,5.855e+02\nA1,590.\n",
        "position,shown_f,shown_c\nB3,585.5,\nA1,,310\n",
        "position,shown_f\n,\nB3,585.5\n#x\n   \nA1,590\n,,,\n",
        "mine,position,shown_f\nanything,B3,585.5\n,A1,590\n",
        "position,shown_f,note,lid\nB3,585.5\nA1,590,short row\n",
        "position,shown_f,\nB3,585.5,\nA1,590,\n",
    ],
)
def test_the_same_readings_in_any_dress(text: str) -> None:
    found = read(text)
    assert shown_f(found) == [585.5, 590.0]
    assert [reading.position for reading in found.readings] == ["B3", "A1"]
    assert not found.warnings


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig"])
def test_a_file_is_read_by_its_path(tmp_path: Path, encoding: str) -> None:
    path = tmp_path / "readings.csv"
    path.write_text("position,shown_f,note\nB3,585,größer\n", encoding=encoding)
    (found,) = load_rounds(path, GRILL)
    assert found.readings[0].note == "größer"
    assert load_rounds(str(path), GRILL) == (found,)
    with path.open("rb") as file:
        assert load_rounds(file, GRILL) == (found,)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is empty"),
        ("\n\n# nothing\n", "is empty"),
        ("position,shown_f\n", "a header but no readings"),
        ("hello\n", "is no header"),
        ("B3,585\n", "is no header"),
        (
            "position,temp\nB3,585\n",
            "line 1: the column shown_f or shown_c is missing; columns are: position, temp",
        ),
        ("spot,shown_f\nB3,585\n", "the column position .* is missing; columns are: spot, shown_f"),
        ("x_in,shown_f\n1,585\n", "not for both"),
        ("position,shown_f,Position\nB3,585,B3\n", 'column "position" stands there twice'),
        ("position,shown_f,knob_middle\nB3,585,5\n", 'column "knob_middle": burners are: left, back left'),
        ("position,shown_f\n\x00\n", "not a text file"),
    ],
)
def test_what_is_no_readings_file_is_refused_as_a_whole(text: str, words: str) -> None:
    with pytest.raises(ReadingError, match=words) as caught:
        read(text)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("B9,585", "A1 .* to C4"),
        ("B3,", "a reading without a number; write what the gun showed"),
        ("\x1b[31m,585", r'position "\\x1b\[31m" is not on this grate'),
        (f"{'B3' * 100},585", "…. is not on this grate"),
        (",585", "does not say where"),
        ("B3,hot", '"hot" is not a number'),
        ("B3,nan", '"nan" is not a number'),
        ("B3,inf", '"inf" is not a number'),
        ("B3,1_000", "is not a number"),
        ("B3,0x30", "is not a number"),
        ("B3,٥٨٥", "is not a number"),
        ("B3,9999", "9999 °F cannot be: a gun shows -76 to 2012 °F"),
        ("B3,-500", "cannot be"),
        ("B3,1e9", "cannot be"),
        ("B3,OL", "out of the gun's range"),
        ("B3,----", "out of the gun's range"),
        ("B3,300C", "write it under shown_c"),
        ('B3,"1,000"', "two ways"),
        ("B3,585,5", "decimal commas need ;"),
        ('B3,"585', "quotes do not match"),
        ('B3,"585"x', "quotes do not match"),
    ],
)
def test_a_bad_row_is_told_with_its_line(row: str, words: str) -> None:
    with pytest.raises(ReadingError, match=f"line 3: .*{words}") as caught:
        read(f"position,shown_f\nA1,590\n{row}\nA2,600\n")
    assert "\n" not in str(caught.value)
    found = read(f"position,shown_f\nA1,590\n{row}\nA2,600\n", skip_bad=True)
    assert shown_f(found) == [590.0, 600.0]
    assert [reading.id for reading in found.readings] == [1, 3]
    assert len(found.problems) == 1


@pytest.mark.parametrize(
    ("column", "cell", "words"),
    [
        ("round", "0", "from 1"),
        ("round", "1.5", "not a whole number"),
        ("round", "one", "not a whole number"),
        ("id", "-1", "not a whole number"),
        ("id", "a", "not a whole number"),
        ("aim", "rails", "must be rail, valley, patch, contact or turned"),
        ("surface", "wet", "must be dry or oiled"),
        ("lid", "ajar", "must be open or closed"),
        ("distance_in", "0", "distance_in is 0 in; it must be from 0.3937 to 196.9 in"),
        ("distance_mm", "9000", "10 to 5000"),
        ("knob_left", "11", "from 1 to 10"),
        ("knob_left", "1_0", "from 1 to 10"),
        ("knob_back_left", "WARM", "LO, MED, HI"),
        ("taken_at", "2031-06-14", "date and time"),
        ("taken_at", "yesterday", "date and time"),
        ("taken_at", "0001-01-01T00:00", "1970 to 2199"),
        ("taken_at", "2031-02-30T10:00", "date and time"),
        ("void", "7", "no row has that id"),
        ("void", "x", "not a whole number"),
        ("shown_c", "300", "both filled"),
        ("x_in", "3", "both be filled"),
    ],
)
def test_a_bad_cell_is_told_with_its_column_and_line(column: str, cell: str, words: str) -> None:
    header = "position,shown_f," + column + (",y_in" if column == "x_in" else "")
    with pytest.raises(ReadingError, match=f"line 2: .*{words}"):
        read(f"{header}\nB3,585,{cell}\n")


def test_all_bad_rows_are_told_once_and_a_long_list_is_cut() -> None:
    rows = "".join(f"B{n},585\n" for n in range(5, 30)) + "B3,585\n"
    with pytest.raises(ReadingError) as caught:
        read("position,shown_f\n" + rows)
    told = str(caught.value).splitlines()
    assert "25 rows cannot be used" in told[0]
    assert "--skip-bad" in told[0]
    assert [line.split(":")[0].strip() for line in told[1:11]] == [f"line {n}" for n in range(2, 12)]
    assert told[11].strip() == "15 more lines"


def test_nothing_left_after_skipping_is_told() -> None:
    with pytest.raises(ReadingError, match="no row that can be used"):
        read("position,shown_f\nB9,585\n", skip_bad=True)
    with pytest.raises(ReadingError, match="every reading is withdrawn"):
        load_rounds(io.StringIO("position,shown_f,void\nB3,585,1\n"), GRILL)


def test_places_off_the_grate_are_refused_in_the_unit_written() -> None:
    for row, words in [
        ("24.1,3,,", "x_in is 24.1, off the grate; it goes from 0 to 24"),
        ("3,-1,,", "y_in is -1, off the grate; it goes from 0 to 18"),
        (",,700,3", "x_mm is 700, off the grate; it goes from 0 to 609.6"),
        (",,nan,3", '"nan" is not a number'),
        ("1,1,1,1", "both filled"),
    ]:
        with pytest.raises(ReadingError, match=words):
            read(f"x_in,y_in,x_mm,y_mm,shown_f\n{row},585\n")
    found = read("x_in,y_in,x_mm,y_mm,shown_f\n0,0,,,585\n24,18,,,585\n,,609.6,457.2,585\n5,,,100,585\n")
    assert len(found.readings) == 4


def test_a_label_and_coordinates_must_be_the_same_place() -> None:
    (reading,) = read("position,x_in,y_in,shown_f\nB3,15.2,9,585\n").readings
    assert reading.point_mm == GRILL.point_mm("B3")
    with pytest.raises(ReadingError, match="different places"):
        read("position,x_in,y_in,shown_f\nB3,13,9,585\n")


def test_coordinates_of_a_position_get_its_label() -> None:
    labels = {}
    for label in GRILL.labels:
        x_mm, y_mm = GRILL.point_mm(label)
        row = f"{x_mm / 25.4:.1f},{y_mm / 25.4:.1f},585"
        labels[label] = read(f"x_in,y_in,shown_f\n{row}\n").readings[0].position
    assert labels == {label: label for label in GRILL.labels}
    assert read("x_in,y_in,shown_f\n5,5,585\n").readings[0].position == ""


def test_ids_must_differ_and_default_to_the_number_of_the_row() -> None:
    found = read("id,position,shown_f\n,A1,1\n,A2,2\n9,A3,3\n,A4,4\n")
    assert [reading.id for reading in found.readings] == [1, 2, 9, 4]
    with pytest.raises(ReadingError, match="line 3: id 2 stands on line 2 too"):
        read("id,position,shown_f\n2,A1,1\n,A2,2\n")


def test_withdrawals_follow_bad_rows_out() -> None:
    text = "id,position,shown_f,void\n1,B9,585,\n2,B3,585,\n3,,,1\n4,B4,590,1\n"
    found = read(text, skip_bad=True)
    assert [(reading.id, reading.void) for reading in found.readings] == [(2, None), (4, None)]
    assert [reading.id for reading in found.rounds[0].readings] == [2, 4]


def test_a_withdrawal_may_come_before_its_row() -> None:
    (found,) = read("id,position,shown_f,void\n1,,,2\n2,B3,585,\n3,B4,590,\n").rounds
    assert [reading.id for reading in found.readings] == [3]


def test_one_round_belongs_to_one_session() -> None:
    with pytest.raises(ReadingError, match='line 3: round 1 is of session "may" in reading 1 but of "june" here'):
        read("position,shown_f,session\nB3,585,may\nB3,585,june\n")
    assert read("position,shown_f,session\nB3,585,\nB4,585,june\n").rounds[0].session == "june"


def test_an_unended_last_line_is_not_read_and_that_is_said() -> None:
    found = read("position,shown_f\nA1,590\nB3,58")
    assert shown_f(found) == [590.0]
    assert "line 3 was not read" in found.warnings[0]
    with pytest.raises(ReadingError, match="no readings"):
        read("position,shown_f\nB3,58")
    with pytest.raises(ReadingError, match="line 1 was not read"):
        read("position,shown_f")


@pytest.mark.parametrize("tail", ["", "   ", "# half a comm"])
def test_an_unended_line_that_says_nothing_is_not_worth_a_word(tail: str) -> None:
    assert read("position,shown_f\nA1,590\n" + tail).warnings == ()


def test_a_quote_left_open_spoils_its_own_line_only() -> None:
    found = read('position,shown_f,note\nA1,590,"open\nB3,585,fine\n', skip_bad=True)
    assert shown_f(found) == [585.0]


def test_a_column_that_looks_like_a_slip_is_mentioned() -> None:
    found = read("position,shown_f,distanc_in,weather\nB3,585,8,rain\n")
    assert found.warnings == ('column "distanc_in" is not known and not used; should it be distance_in?',)


def test_binary_and_foreign_files_are_named_for_what_they_are(tmp_path: Path) -> None:
    for name, content, words in [
        ("a.csv", b"\x89PNG\r\n\x1a\n\x00\x00\n", "not a text file"),
        ("b.csv", b"PK\x03\x04 and so on\n", "spreadsheet file; save it as CSV"),
        ("c.csv", "position,shown_f\nB3,585\n".encode("utf-16"), "not a text file"),
        ("d.csv", b"position,shown_f,note\nB3,585,ok\nB3,585,gr\xf6sser\n", "line 3: not UTF-8 text"),
        ("e.csv", b"position,shown_f\n" + b"B3,585\n" * 3_000_000, "over 20 MB"),
    ]:
        path = tmp_path / name
        path.write_bytes(content)
        with pytest.raises(ReadingError, match=words) as caught:
            load_rounds(path, GRILL)
        assert name in str(caught.value)
    assert LIMIT_BYTES == 20_000_000


def test_a_path_without_a_file_says_what_is_there(tmp_path: Path) -> None:
    with pytest.raises(ReadingError, match="there is no such file"):
        load_rounds(tmp_path / "none.csv", GRILL)
    with pytest.raises(ReadingError, match="that is a folder"):
        load_rounds(tmp_path, GRILL)
    with pytest.raises(ReadingError, match="cannot be read"):
        load_rounds("\0", GRILL)


@pytest.mark.skipif(not os.path.exists("/dev/zero"), reason="there is no endless file here")
def test_an_endless_file_is_refused_at_the_limit() -> None:
    with pytest.raises(ReadingError, match="20 MB"):
        load_rounds("/dev/zero", GRILL)


def test_an_open_text_file_with_other_bytes_is_told_like_any(tmp_path: Path) -> None:
    path = tmp_path / "readings.csv"
    path.write_bytes(b"position,shown_f\r\nB3,585\r\nB3,\xff\r\n")
    with path.open(encoding="utf-8") as file, pytest.raises(ReadingError, match="line 3: not UTF-8 text"):
        load_rounds(file, GRILL)
    with pytest.raises(ReadingError, match="readings.csv: it cannot be read"):
        load_rounds(file, GRILL)  # closed by now


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        # RFC 3339 (2002), section 5.8: says that the second is the third; the fourth is its first example
        ("2031-06-14T13:05:00+02:00", datetime(2031, 6, 14, 11, 5, tzinfo=UTC)),
        ("1996-12-19T16:39:57-08:00", datetime(1996, 12, 20, 0, 39, 57, tzinfo=UTC)),
        ("1996-12-20T00:39:57Z", datetime(1996, 12, 20, 0, 39, 57, tzinfo=UTC)),
        ("1985-04-12T23:20:50.52Z", datetime(1985, 4, 12, 23, 20, 50, 520000, tzinfo=UTC)),
        ("20310614T110500Z", datetime(2031, 6, 14, 11, 5, tzinfo=UTC)),
        ("2031-06-14 11:05Z", datetime(2031, 6, 14, 11, 5, tzinfo=UTC)),
        ("2031-06-14T11:05", datetime(2031, 6, 14, 9, 5, tzinfo=UTC)),  # summer time in Berlin, +02:00
        ("2031-12-14T11:05", datetime(2031, 12, 14, 10, 5, tzinfo=UTC)),  # winter time, +01:00
    ],
)
def test_published_forms_of_a_moment(text: str, utc: datetime, zone: Callable[[str], None]) -> None:
    zone("CET-1CEST,M3.5.0,M10.5.0/3")  # POSIX: Berlin
    moment = utc_from_text(text)
    assert moment == utc
    assert moment.utcoffset() == timedelta(0)


def test_a_time_without_offset_is_local_time(zone: Callable[[str], None]) -> None:
    zone("XXX-03")  # POSIX: three hours east
    assert utc_from_text("2031-06-14T11:05") == datetime(2031, 6, 14, 8, 5, tzinfo=UTC)


def test_agrees_with_the_csv_module_of_python() -> None:
    """What csv.writer writes, in each dialect it calls excel, excel-tab and unix, is read back."""
    rows = [("B3", "585.5", 'so, "so"; \t#x'), ("A1", "590", "# no comment"), ("C4", "600", "")]
    for dialect in ("excel", "excel-tab", "unix"):
        text = io.StringIO(newline="")
        writer = csv.writer(text, dialect=dialect)
        writer.writerows([("position", "shown_f", "note"), *rows])
        found = read_readings(io.BytesIO(text.getvalue().encode()), GRILL)
        got = [(r.position, f"{r.shown_c * 1.8 + 32:g}", r.note) for r in found.readings if r.shown_c is not None]
        assert got == rows


def test_a_thousand_rounds_load_in_well_under_a_second() -> None:
    head = "id,round,taken_at,position,aim,shown_f,surface,lid,knob_left,note\n"
    row = "{},{},2031-06-14T13:05:{:02d}.250+02:00,{}{},rail,{:.1f},dry,open,6.5,\n"
    rows = [
        row.format(15 * r + k, r + 1, k, "ABC"[k % 3], k % 4 + 1, 500 + (7 * r + k) % 1000 / 10)
        for r in range(1000)
        for k in range(15)
    ]
    began = time.process_time()
    rounds = load_rounds(io.StringIO(head + "".join(rows)), GRILL)
    took_s = time.process_time() - began
    assert len(rounds) == 1000
    assert sum(len(found.readings) for found in rounds) == 15000
    assert took_s < 2.0, "a guard against quadratic reading; the benchmark measures"


NAMES = st.sampled_from([*columns_for(GRILL), "knob_x", "", "mine", "POSITION"])
CELLS = st.one_of(
    st.sampled_from(
        [
            "",
            "B3",
            "A1",
            "Z9",
            "585",
            "300",
            "5.5",
            "5,5",
            "1",
            "2",
            "rail",
            "valley",
            "dry",
            "open",
            "HI",
            "nan",
        ]
        + [
            "2031-06-14T10:00Z",
            "2031-06-14T10:00",
            '"',
            '"a',
            "# x",
            "1e400",
            "\u00b2",
            "-0",
            "OL",
            "99999999999999999",
        ]
    ),
    st.text(max_size=6),
    st.floats().map(repr),
    st.integers().map(str),
)


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(NAMES, min_size=1, max_size=6),
    st.lists(st.lists(CELLS, max_size=7), max_size=6),
    st.sampled_from([",", ";", "\t"]),
    st.sampled_from(["\n", "\r\n", "\r", ""]),
    st.booleans(),
)
def test_any_table_is_read_or_refused(
    names: list[str], rows: list[list[str]], delimiter: str, end: str, skip_bad: bool
) -> None:
    text = "".join(delimiter.join(cells) + (end or "\n") for cells in [["position", "shown_f", *names], *rows])
    try:
        found = read(text + ("" if end else "B3,5"), skip_bad=skip_bad)
    except HeatmapError as error:
        refused = str(error)
        assert refused
        assert all(line.isprintable() for line in refused.splitlines())
    else:
        for reading in found.readings:
            assert reading.shown_c is None or -60 <= reading.shown_c <= 1100
            assert 0 <= reading.x_mm <= 24 * 25.4 + 1e-5
        found.rounds  # noqa: B018 - must not raise


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=200), st.booleans())
@example(b"\xff\xfe", False)
@example(b"position,shown_f\nB3,585\n\xff", False)
@example(b"\xef\xbb\xbf", True)
def test_any_bytes_are_read_or_refused(data: bytes, with_header: bool) -> None:
    content = (b"position,shown_f\nB3,585\n" if with_header else b"") + data
    try:
        found = read_readings(io.BytesIO(content), GRILL)
    except HeatmapError as error:
        refused = str(error)
        assert refused
    else:
        assert shown_f(found)[0] == 585.0


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=60))
def test_any_text_stream_is_read_or_refused(text: str) -> None:
    try:
        read("position,shown_f\nB3,585\n" + text, skip_bad=True)
    except HeatmapError as error:
        assert str(error)  # noqa: PT017 - both outcomes are right, a traceback is not


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_cutting_the_file_anywhere_never_makes_up_a_reading(delimiter: str) -> None:
    lines = [delimiter.join(cells) for cells in (("position", "shown_f"), ("B3", "585"), ("A1", "1590"), ("C4", "600"))]
    whole = ("\r\n".join(lines) + "\r\n").encode()
    for cut in range(len(whole)):
        try:
            found = read_readings(io.BytesIO(whole[:cut]), GRILL)
        except ReadingError:
            continue
        assert shown_f(found) == [585.0, 1590.0, 600.0][: len(found.readings)]


def test_offsets_of_odd_minutes_are_kept(zone: Callable[[str], None]) -> None:
    zone("XXX-05:45")
    assert utc_from_text("2031-06-14T05:45") == datetime(2031, 6, 14, tzinfo=UTC)


def test_a_file_that_may_not_be_read_says_so(ordinary_account: Path) -> None:
    account, path = os.geteuid(), ordinary_account / "secret.csv"
    os.seteuid(os.getuid())
    path.write_text("position,shown_f\nB3,585\n")
    path.chmod(0)
    os.seteuid(account)
    with pytest.raises(ReadingError, match="secret.csv: it cannot be read"):
        load_rounds(path, GRILL)


CELL_OF = {
    "session": "day one",
    "taken_at": "2031-06-14T11:05:00.000+00:00",
    "position": "B3",
    "aim": "valley",
    "surface": "oiled",
    "lid": "closed",
    "knob_back_left": "MED",
    "note": "so so",
}


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("units", ["us", "si"])
def test_every_column_of_the_table_is_written_as_it_is_read(delimiter: str, units: str) -> None:
    grill = replace(GRILL, units=units)  # type: ignore[arg-type]
    table = columns_for(grill, decimal_comma=delimiter == ";")
    filled = {"knobs" if column.field.startswith("knob_") else column.field for column in table.values()}
    assert filled == {item.name for item in fields(Reading)}
    for header, column in table.items():
        number = "8" if header in ("id", "round", "void", "knob_left") else "8,125" if delimiter == ";" else "8.125"
        text = number.replace("8", "88") if header == "distance_mm" else number
        text = CELL_OF.get(header, text)
        assert column.write(column.read(text)) == text, header


@pytest.mark.parametrize(("units", "own"), [("us", ("in", "f")), ("si", ("mm", "c"))])
def test_a_file_gets_the_columns_it_lacks_in_the_units_of_the_grill(units: str, own: tuple[str, str]) -> None:
    grill = replace(GRILL, units=units)  # type: ignore[arg-type]
    length, degree = own
    whole = Rows(Header(), grill).header.names
    assert whole == (
        *("id", "round", "session", "taken_at", "position", f"x_{length}", f"y_{length}", "aim", f"shown_{degree}"),
        *("surface", "lid", f"distance_{length}", "knob_left", "knob_back_left", "void", "note"),
    )
    assert Rows(Header(), grill).missing == Rows(Header(names=whole), grill).missing == ()
    other = ["x_mm", "y_mm", "shown_c", "distance_mm"] if units == "us" else ["x_in", "y_in", "shown_f", "distance_in"]
    assert set(Rows(Header(names=(" Position", *other)), grill).missing) == {
        name for name in whole if "_" not in name
    } - {"position"} | {"taken_at", "knob_left", "knob_back_left"}
