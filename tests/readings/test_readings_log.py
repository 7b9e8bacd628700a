"""The readings file, written: what was acknowledged is in the file, whatever happens."""

import errno
import os
import random
import select
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from heatmap.errors import LogError, ReadingError
from heatmap.grill.burner import Burner
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, TargetBand
from heatmap.readings import csv_file, durable
from heatmap.readings import log as readings_log
from heatmap.readings.csv_file import ReadingsFile, read_readings
from heatmap.readings.log import ReadingsLog
from heatmap.readings.reading import ITSELF, Reading, group_rounds

NOON = datetime(2031, 6, 14, 12, 0, tzinfo=UTC)
COLUMNS_US = (
    "id,round,session,taken_at,position,x_in,y_in,aim,shown_f,surface,lid,distance_in,"
    "knob_left,knob_back_left,void,note"
)


def shot(grill: Grill, shown_f: float, position: str = "B3", **more: object) -> Reading:
    x_mm, y_mm = grill.point_mm(position)
    fields = {"taken_at": NOON, **more}
    return Reading(id=0, shown_c=(shown_f - 32) / 1.8, x_mm=x_mm, y_mm=y_mm, position=position, **fields)  # type: ignore[arg-type]


def shown_f(found: ReadingsFile) -> list[float]:
    return [round(reading.shown_c * 1.8 + 32, 5) for reading in found.readings if reading.shown_c is not None]


def read_back(path: Path, grill: Grill) -> ReadingsFile:
    found = ReadingsFile(path.read_bytes(), path.name, grill)
    assert not found.problems
    return found


def same(one: Reading, other: Reading) -> bool:
    """Equal but for the last digits of numbers that were written in °F and inches."""
    numbers = [
        (one.shown_c, other.shown_c),
        (one.x_mm, other.x_mm),
        (one.y_mm, other.y_mm),
        (one.distance_mm, other.distance_mm),
        *((one.knobs.get(name), other.knobs.get(name)) for name in {*one.knobs, *other.knobs}),
    ]
    close = all(a == b or (a is not None and b is not None and abs(a - b) < 2e-5) for a, b in numbers)
    plain = {"shown_c": 1.0, "x_mm": 0.0, "y_mm": 0.0, "distance_mm": None, "knobs": {}}
    return close and replace(one, **plain) == replace(other, **plain)  # type: ignore[arg-type]


# The ordinary day


def test_a_new_file_has_a_header_in_the_units_of_the_grill(
    tmp_path: Path, grill: Grill, zone: Callable[[str], None]
) -> None:
    zone("UTC0")
    path = tmp_path / "readings.csv"
    with ReadingsLog(path, grill) as log:
        assert not path.exists()
        first = log.append(shot(grill, 585.2, knobs={"left": 6.5, "back left": 5.5}, note='so, "so"'))
        second = log.append(shot(grill, 590, "A1", taken_at=None, aim="valley", distance_mm=8 * 25.4))
    lines = path.read_text().splitlines()
    assert lines[0] == COLUMNS_US
    assert lines[1] == '1,1,,2031-06-14T12:00:00.000+00:00,B3,,,rail,585.2,dry,open,,6.5,MED,,"so, ""so"""'
    assert lines[2] == "2,1,,,A1,,,valley,590,dry,open,8,,,,"
    assert (first.id, second.id) == (1, 2)
    found = read_back(path, grill)
    assert all(same(*pair) for pair in zip(found.readings, (first, second), strict=True))
    assert log.readings == (first, second) == found.readings


def test_a_new_file_of_a_metric_grill(tmp_path: Path, grill: Grill) -> None:
    metric = Grill(grate=grill.grate, target=grill.target, units="si")
    path = tmp_path / "readings.csv"
    with ReadingsLog(path, metric) as log:
        log.append(replace(shot(grill, 572), position="", x_mm=100.25))
    header, row = path.read_text().splitlines()
    assert header == "id,round,session,taken_at,position,x_mm,y_mm,aim,shown_c,surface,lid,distance_mm,void,note"
    assert ",100.25,228.6,rail,300,dry,open," in row


@pytest.mark.parametrize(
    ("before", "row"),
    [
        (b"note,void,position,shown_f\r\nhi,,B3,585\r\n", b",,A1,590,2,"),
        (b"\xef\xbb\xbfposition;shown_c;mine\nB3;300,5;x\n", b"A1;310;;2;"),
        (b"shown_c\tposition\n300.5\tB3\n", b"310\tA1\t2\t"),
        (b"# mine\n\nposition,x_mm,y_mm,shown_f\n# between\nB3,,,585\n", b"A1,,,590,2,"),
    ],
)
def test_the_dress_of_the_file_is_kept(tmp_path: Path, grill: Grill, before: bytes, row: bytes) -> None:
    path = tmp_path / "readings.csv"
    path.write_bytes(before)
    with ReadingsLog(path, grill) as log:
        log.append(shot(grill, 590, "A1"))
        size = path.stat().st_size
        log.append(shot(grill, 600, "A2"))
    after = path.read_bytes()
    end = b"\r\n" if b"\r\n" in before else b"\n"
    for old, new in zip(before.split(end), after.split(end), strict=False):
        assert new.startswith(old)
    assert after.split(end)[before.count(end)].startswith(row)
    assert after.count(b"\r") == (after.count(b"\n") if end == b"\r\n" else 0)
    assert (tmp_path / "readings.csv.bak").read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == [
        ".readings.csv.lock",
        "readings.csv",
        "readings.csv.bak",
    ]
    assert path.stat().st_size > size
    found = read_back(path, grill)
    assert [reading.id for reading in found.readings] == [1, 2, 3]
    assert shown_f(found)[1:] == [590.0, 600.0]


def test_an_older_copy_is_never_overwritten(tmp_path: Path, grill: Grill) -> None:
    path = tmp_path / "readings.csv"
    (tmp_path / "readings.csv.bak").write_text("precious")
    path.write_text("position,shown_f\nB3,585\n")
    with ReadingsLog(path, grill) as log:
        log.append(shot(grill, 590))
    assert (tmp_path / "readings.csv.bak").read_text() == "precious"
    assert (tmp_path / "readings.csv.bak2").read_text() == "position,shown_f\nB3,585\n"


def test_ids_that_were_row_numbers_are_written_down_and_withdrawals_still_hit(tmp_path: Path, grill: Grill) -> None:
    path = tmp_path / "readings.csv"
    path.write_text("position,shown_f,void\nA1,585,\nA2,590,\n,,1\nA3,595\n")
    with ReadingsLog(path, grill) as log:
        log.append(shot(grill, 600))
        log.append(log.withdrawal(2, "slip", taken_at=NOON))
    (found,) = read_back(path, grill).rounds
    assert [(reading.id, reading.position) for reading in found.readings] == [(4, "A3"), (5, "B3")]


def test_a_reading_is_withdrawn_by_a_new_row(tmp_path: Path, grill: Grill) -> None:
    path = tmp_path / "readings.csv"
    with ReadingsLog(path, grill) as log:
        log.append(shot(grill, 585))
        log.append(shot(grill, 590))
        gone = log.append(log.withdrawal(1, "wrong spot"))
        assert (gone.void, gone.id, gone.shown_c, gone.note) == (1, 3, None, "wrong spot")
        for number, words in [(1, "withdrawn already"), (3, "no reading 3"), (9, "no reading 9")]:
            with pytest.raises(ReadingError, match=words):
                log.append(log.withdrawal(number))
    (found,) = read_back(path, grill).rounds
    assert [reading.id for reading in found.readings] == [2]


def test_an_open_log_reads_what_is_there_and_goes_on_counting(tmp_path: Path, grill: Grill) -> None:
    path = tmp_path / "readings.csv"
    path.write_text(f"{COLUMNS_US}\n7,3,,,B3,,,,585,,,,,,,\n")
    with ReadingsLog(path, grill) as log:
        assert [reading.id for reading in log.readings] == [7]
        assert log.append(shot(grill, 590)).id == 8
    assert not (tmp_path / "readings.csv.bak").exists()


def test_bad_rows_are_told_on_opening(tmp_path: Path, grill: Grill) -> None:
    path = tmp_path / "readings.csv"
    content = "position,shown_f\nB9,585\nB3,585,5\nB3,590\n"
    path.write_text(content)
    with pytest.raises(ReadingError, match="2 rows cannot be used"), ReadingsLog(path, grill):
        pass
    with ReadingsLog(path, grill, skip_bad=True) as log:
        added = log.append(shot(grill, 600))
    assert added.id == 4
    found = ReadingsFile(path.read_bytes(), "x", grill)
    assert shown_f(found) == [590.0, 600.0]
    assert [line for line, _ in found.problems] == [2, 3], "neither becomes a reading by getting more columns"


@pytest.mark.parametrize(
    "text",
    [
        "position,shown_f\nA1,571,,\nA2,572\nA3,573,\n",
        "position,shown_f,,,\nA1,571,,\nA2,572,,,,,,\nA3,573\n",
        "position;shown_f\r\nA1;571,0;;\r\nA2;572\r\nA3;573;\r\n",
        "position\tshown_f\nA1\t571\t\t \nA2\t572\nA3\t573\t\n",
        'position,note,shown_f\nA1,"one, two",571,"",\nA2,"say ""so""",572, ,\nA3,,573\n',
        "# Saturday\nposition,shown_f\n\nA1,571,,,\n,,,,\n# a remark, with, commas,,\nA2,572,\n\nA3,573,,\n",
        "position,shown_f,void\nA1,571,,\nA1,999,,,\n,,2,,\nA2,572,,\nA3,573\n",
    ],
)
def test_cells_beyond_the_header_that_are_empty_lose_no_reading(tmp_path: Path, grill: Grill, text: str) -> None:
    path = tmp_path / "readings.csv"
    path.write_bytes(text.encode())
    before = read_back(path, grill)
    with ReadingsLog(path, grill) as log:
        log.append(shot(grill, 600))
        log.append(shot(grill, 601))
    after = read_back(path, grill)
    assert after.readings[:-2] == before.readings
    assert [shown for one in after.rounds for shown in map(_standing_f, one.readings)] == [
        571.0,
        572.0,
        573.0,
        600.0,
        601.0,
    ]
    assert (tmp_path / "readings.csv.bak").read_bytes() == text.encode()


def _standing_f(reading: Reading) -> float:
    assert reading.shown_c is not None
    return round(reading.shown_c * 1.8 + 32, 5)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_columns_are_added_without_a_word_of_any_row_changing(data: st.DataObject, grill: Grill) -> None:
    """Rows of any length with any cells, sound or not, quoted or not: what could be read still can, the rest cannot."""
    cells = st.sampled_from(
        ["", " ", '""', "A1", "B2", "571", "580.5", "2", "1", "x", '"a,b"', '"say ""so"""', '"', "#"]
    )
    rows = data.draw(st.lists(st.lists(cells, max_size=7), max_size=6))
    text = "position,shown_f,void,note\nA1,570\n" + "".join(",".join(row) + "\n" for row in rows)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "readings.csv"
        path.write_text(text)
        before = ReadingsFile(path.read_bytes(), "x", grill)
        with ReadingsLog(path, grill, skip_bad=True) as log:
            log.append(shot(grill, 600))
        after = ReadingsFile(path.read_bytes(), "x", grill)
    assert after.readings[:-1] == before.readings
    assert _standing_f(after.readings[-1]) == 600.0
    assert len(after.problems) == len(before.problems)


def test_columns_that_would_take_the_file_over_the_limit_are_refused_and_the_file_stays(
    tmp_path: Path, grill: Grill, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "readings.csv"
    path.write_text("position,shown_f\n" + "A1,571\n" * 50)
    before = path.read_bytes()
    monkeypatch.setattr(csv_file, "LIMIT_BYTES", len(before) + 100)
    with ReadingsLog(path, grill) as log, pytest.raises(LogError, match="over.*MB.*B3 600 °F was NOT written"):
        log.append(shot(grill, 600))
    assert path.read_bytes() == before
    assert sorted(path.name for path in tmp_path.iterdir() if path.name[0] != ".") == ["readings.csv"]


def test_a_row_that_would_be_lost_by_adding_columns_stops_it(
    tmp_path: Path, grill: Grill, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever adding columns did wrong, nothing is put in the place of the file before it was read back."""
    path = tmp_path / "readings.csv"
    path.write_text("position,shown_f\nA1,571\nA2,572\n")
    real = readings_log.with_columns
    for row in ("# A2,572", "A2,573"):
        monkeypatch.setattr(readings_log, "with_columns", lambda *given, row=row: [*real(*given)[:2], row])
        refused = pytest.raises(LogError, match="lost by adding.*B3 600 °F was NOT written")
        with ReadingsLog(path, grill) as log, refused:
            log.append(shot(grill, 600))
        assert path.read_text() == "position,shown_f\nA1,571\nA2,572\n"
    monkeypatch.undo()
    with ReadingsLog(path, grill) as log:
        log.append(shot(grill, 600))
    assert shown_f(read_back(path, grill)) == [571.0, 572.0, 600.0]


def test_nothing_is_written_before_or_after(tmp_path: Path, grill: Grill) -> None:
    log = ReadingsLog(tmp_path / "readings.csv", grill)
    with pytest.raises(LogError, match="not open.*B3 585 °F was NOT written"):
        log.append(shot(grill, 585))
    with log:
        assert log.append_all([]) == ()
    with pytest.raises(LogError, match="not open"):
        log.append(shot(grill, 585))


def test_every_append_is_one_write_and_one_flush(tmp_path: Path, grill: Grill, monkeypatch: pytest.MonkeyPatch) -> None:
    calls: list[str] = []
    real_write, real_flush = os.write, durable.flush_to_disk
    with ReadingsLog(tmp_path / "readings.csv", grill) as log:
        log.append(shot(grill, 580))
        monkeypatch.setattr(os, "write", lambda file, data: (calls.append("write"), real_write(file, data))[1])
        monkeypatch.setattr(durable, "flush_to_disk", lambda file: (calls.append("flush"), real_flush(file))[1])
        log.append(shot(grill, 585))
        log.append_all([shot(grill, 590 + n) for n in range(500)])
    assert calls == ["write", "flush"] * 2


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_what_is_written_is_read_back(tmp_path: Path, grill: Grill, data: st.DataObject) -> None:
    path = Path(tempfile.mkdtemp(dir=tmp_path)) / "readings.csv"
    header = data.draw(
        st.sampled_from([None, "position,shown_f\n", "shown_c;position\n", "note\tx_mm\ty_mm\tshown_c\r\n"])
    )
    if header:
        path.write_bytes(header.encode())
    text = st.text(max_size=8)
    label = st.sampled_from(grill.labels)
    reading = st.builds(
        lambda where, mm, shown_c, taken, **more: Reading(
            id=0,
            shown_c=shown_c,
            position=where or "",
            x_mm=grill.point_mm(where)[0] if where else mm[0],
            y_mm=grill.point_mm(where)[1] if where else mm[1],
            taken_at=taken and taken.replace(microsecond=taken.microsecond // 1000 * 1000),
            **more,
        ),
        where=st.none() | label,
        mm=st.tuples(st.floats(20, 40), st.floats(20, 40)),
        shown_c=st.floats(-50, 1000),
        taken=st.none() | st.datetimes(datetime(1971, 1, 1), datetime(2190, 1, 1), timezones=st.just(UTC)),
        aim=st.sampled_from(["rail", "valley", "patch", "contact"]),
        round=st.just(data.draw(st.integers(1, 999_999))),
        session=st.just(data.draw(text)),
        surface=st.sampled_from(["dry", "oiled"]),
        lid=st.sampled_from(["open", "closed"]),
        distance_mm=st.none() | st.floats(11, 4999),
        knobs=st.dictionaries(st.sampled_from(["left", "back left"]), st.floats(1, 10)),
        note=text,
    )
    wanted = data.draw(st.lists(reading, min_size=1, max_size=5))
    with ReadingsLog(path, grill) as log:
        added = [log.append(wanted[0]), *log.append_all(wanted[1:])]
    found = read_back(path, grill)
    assert len(found.readings) == len(wanted)
    assert list(found.readings) == added == list(log.readings)[-len(added) :]
    for one, two in zip(found.readings, wanted, strict=True):
        assert same(replace(one, id=0), replace(two, note=plain(two.note), session=plain(two.session)))


def plain(text: str) -> str:
    """Return text as one line of a table can hold it."""
    return "".join(char if char.isprintable() else " " for char in text).strip()


def test_a_reading_that_could_not_be_read_back_is_not_written(tmp_path: Path, grill: Grill) -> None:
    path = tmp_path / "readings.csv"
    with ReadingsLog(path, grill) as log:
        log.append(shot(grill, 585, session="may"))
        before = path.read_bytes()
        for bad, words in [
            (
                shot(grill, 590, session="june"),
                'round 1 is of session "may" .* give each round its own number',
            ),
            (shot(grill, 590, round=0), "round is 0"),
            (shot(grill, 590, knobs={"left": 99.0}), "from 1 to 10"),
            (shot(grill, 590, knobs={"middle": 5.0}), "burners are"),
            (shot(grill, 590, distance_mm=1.0), "distance_in is 0.03937 in; it must be from"),
            (replace(shot(grill, 590), position="Z9", x_mm=-5.0), "off the grate"),
            (shot(grill, 590, taken_at=datetime(1950, 1, 1, tzinfo=UTC)), "1970 to 2199"),
        ]:
            with pytest.raises(LogError, match=f"{words}.*590 °F was NOT written"):
                log.append(bad)
        with pytest.raises(LogError, match='round 2 is of session "may"'):
            log.append_all([shot(grill, 590, round=2, session="may"), shot(grill, 590, round=2, session="june")])
        assert path.read_bytes() == before
        log.append(shot(grill, 595))


def test_a_pipe_of_20000_lines_lands_in_order(tmp_path: Path, grill: Grill) -> None:
    path = tmp_path / "readings.csv"
    count, batch = 20_000, 5_000
    one = shot(grill, 500)
    with ReadingsLog(path, grill) as log:
        for start in range(0, count, batch):
            log.append_all(replace(one, note=str(start + n)) for n in range(batch))
    rows = path.read_text().splitlines()[1:]
    assert [row.split(",")[0] for row in rows] == [str(n + 1) for n in range(count)]
    assert [row.rsplit(",", 1)[1] for row in rows] == [str(n) for n in range(count)]


# Damage, and other hands


def test_a_file_cut_at_any_byte_is_repaired_and_nothing_is_lost_silently(tmp_path: Path, grill: Grill) -> None:
    whole = (
        f"{COLUMNS_US}\r\n1,1,,,B3,,,rail,585,dry,open,,6.5,,,\r\n2,1,,,A1,,,rail,1590,dry,open,,,,,größer\r\n"
    ).encode()
    for cut in range(len(whole)):
        path = tmp_path / f"{cut}.csv"
        path.write_bytes(whole[:cut])
        ended = max(whole.rfind(b"\n", 0, cut), whole.rfind(b"\r", 0, cut)) + 1
        with ReadingsLog(path, grill) as log:
            kept = len(log.readings)
            added = log.append(shot(grill, 601))
        found = read_back(path, grill)
        assert shown_f(found) == [585.0, 1590.0][:kept] + [601.0]
        assert path.read_bytes().startswith(whole[:ended])
        assert path.read_bytes().splitlines()[-1].startswith(str(added.id).encode())
        torn = whole[ended:cut].decode("utf-8", "backslashreplace")
        if torn and "cut off" in path.read_text():
            assert f"# cut off, does not count: {torn}\n" in path.read_text().replace("\r", "")


def test_bytes_a_power_cut_leaves_do_not_spoil_the_file(tmp_path: Path, grill: Grill) -> None:
    path = tmp_path / "readings.csv"
    path.write_bytes(f"{COLUMNS_US}\n1,1,,,B3,,,rail,585,dry,open,,6.5,,,\n".encode() + b"2,1\0\0\0\xff\x1b")
    with ReadingsLog(path, grill) as log:
        assert "line 3 was not read" in log.file.warnings[0]
        log.append(shot(grill, 590))
    assert shown_f(read_back(path, grill)) == [585.0, 590.0]
    assert r"# cut off, does not count: 2,1\x00\x00\x00\xff\x1b" in path.read_text()


def test_a_hand_that_edits_the_file_meanwhile_is_respected(tmp_path: Path, grill: Grill) -> None:
    path = tmp_path / "readings.csv"
    with ReadingsLog(path, grill) as log:
        log.append(shot(grill, 585))
        path.write_text("position;shown_f;mine\nB3;600;x\nB4;610;y\n")  # an editor saves something else
        added = log.append(shot(grill, 590))
        assert added.id == 3
        assert len(log.readings) == 3
        with path.open("a") as file:
            file.write("torn")
        assert log.append(shot(grill, 595)).id == 4
        path.write_text("hello\n")
        with pytest.raises(LogError, match="is no header.*B3 599 °F was NOT written"):
            log.append(shot(grill, 599))
        assert path.read_text() == "hello\n"
    assert (tmp_path / "readings.csv.bak").read_text() == "position;shown_f;mine\nB3;600;x\nB4;610;y\n"


def test_a_file_or_folder_that_vanishes_is_reported_with_the_reading(tmp_path: Path, grill: Grill) -> None:
    folder = tmp_path / "stick"
    folder.mkdir()
    path = folder / "readings.csv"
    with ReadingsLog(path, grill) as log:
        log.append(shot(grill, 585))
        path.unlink()
        with pytest.raises(LogError, match="gone; B3 590 °F was NOT written"):
            log.append(shot(grill, 590))
        assert not path.exists(), "a file without its header must not be made"
        shutil.rmtree(folder)
        with pytest.raises(LogError, match="gone; A1 595 °F and 2 more were NOT written"):
            log.append_all([shot(grill, 595, "A1"), shot(grill, 596), shot(grill, 597)])
        with pytest.raises(LogError, match="gone; the withdrawal of reading 1 was NOT written"):
            log.append(Reading(id=0, shown_c=None, x_mm=0.0, y_mm=0.0, void=1))


def test_a_folder_that_vanishes_before_the_first_reading(tmp_path: Path, grill: Grill) -> None:
    folder = tmp_path / "stick"
    folder.mkdir()
    with ReadingsLog(folder / "readings.csv", grill) as log:
        shutil.rmtree(folder)
        with pytest.raises(LogError, match="gone; B3 585 °F was NOT written"):
            log.append(shot(grill, 585))
    with pytest.raises(LogError, match="there is no folder"), ReadingsLog(folder / "readings.csv", grill):
        pass


def test_a_file_taken_away_while_it_is_written_is_noticed(
    tmp_path: Path, grill: Grill, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "readings.csv"
    with ReadingsLog(path, grill) as log:
        log.append(shot(grill, 585))
        monkeypatch.setattr(durable, "flush_to_disk", lambda file: path.unlink())
        with pytest.raises(LogError, match="gone; B3 590 °F was NOT written"):
            log.append(shot(grill, 590))


def test_a_file_emptied_between_flush_and_acknowledgement_is_noticed(
    tmp_path: Path, grill: Grill, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another program empties it: the reading is not there, and what comes next is written to a file with a header."""
    path = tmp_path / "readings.csv"
    with ReadingsLog(path, grill) as log:
        log.append(shot(grill, 585))
        with monkeypatch.context() as patch:
            patch.setattr(durable, "flush_to_disk", lambda file: os.truncate(path, 0))
            with pytest.raises(LogError, match="NOT written"):
                log.append(shot(grill, 590))
        log.append(shot(grill, 595))
    assert shown_f(read_back(path, grill)) == [595.0]


def test_rows_of_another_program_that_come_between_are_kept(
    tmp_path: Path, grill: Grill, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "readings.csv"
    with ReadingsLog(path, grill) as log:
        log.append(shot(grill, 585))
        row = path.read_text().splitlines()[1].partition(",")[2]
        plain = durable.flush_to_disk

        def late(file: int) -> None:
            with path.open("a") as there:
                there.write(f"77,{row}\n")
            plain(file)

        with monkeypatch.context() as patch:
            patch.setattr(durable, "flush_to_disk", late)
            log.append(shot(grill, 590))
        log.append(shot(grill, 595))
    assert shown_f(read_back(path, grill)) == [585.0, 590.0, 585.0, 595.0]


@pytest.mark.parametrize("has_links", [True, False])
def test_a_file_another_program_makes_just_before_the_first_reading_is_kept(
    tmp_path: Path, grill: Grill, monkeypatch: pytest.MonkeyPatch, has_links: bool
) -> None:
    """Its reading is acknowledged, so ours is refused, and goes below it the next time."""
    path, other = tmp_path / "readings.csv", tmp_path / "other.csv"
    with ReadingsLog(other, grill) as log:
        log.append(shot(grill, 600))
    plain = durable.flush_to_disk

    def late(file: int) -> None:
        plain(file)
        path.write_bytes(other.read_bytes())

    def no_links(*_: str) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")  # as on a memory stick

    if not has_links:
        monkeypatch.setattr(os, "link", no_links)
    with ReadingsLog(path, grill) as log:
        with monkeypatch.context() as patch:
            patch.setattr(durable, "flush_to_disk", late)
            with pytest.raises(LogError, match="another program made it just now; try again; B3 585 °F was NOT"):
                log.append(shot(grill, 585))
        assert shown_f(read_back(path, grill)) == [600.0]
        assert log.append(shot(grill, 585)).id == 2
    assert shown_f(read_back(path, grill)) == [600.0, 585.0]
    with ReadingsLog(tmp_path / "third.csv", grill) as log:
        log.append(shot(grill, 590))
    assert shown_f(read_back(tmp_path / "third.csv", grill)) == [590.0]
    assert not list(tmp_path.glob(".*.unfinished"))


def test_a_folder_in_the_place_of_the_file(tmp_path: Path, grill: Grill) -> None:
    with pytest.raises(LogError, match="that is no file"), ReadingsLog(tmp_path, grill):
        pass


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no named pipes here")
def test_a_named_pipe_in_the_place_of_the_file_does_not_hang(tmp_path: Path, grill: Grill) -> None:
    path = tmp_path / "readings.csv"
    os.mkfifo(path)
    with pytest.raises(LogError, match="that is no file"), ReadingsLog(path, grill):
        pass


def test_a_link_is_followed_and_stays_a_link(tmp_path: Path, grill: Grill) -> None:
    real, link = tmp_path / "real.csv", tmp_path / "link.csv"
    real.write_text("position,shown_f\nB3,585\n")
    try:
        link.symlink_to(real)
    except OSError:
        pytest.skip("links cannot be made here")
    with ReadingsLog(link, grill) as log:
        log.append(shot(grill, 590))
        with pytest.raises(LogError, match="another gratemap"), ReadingsLog(real, grill):
            pass
    assert link.is_symlink()
    assert shown_f(read_back(real, grill)) == [585.0, 590.0]


# A full disk


@pytest.fixture
def full_after(monkeypatch: pytest.MonkeyPatch) -> Callable[[int], None]:
    """Return a function after which the disk takes so many bytes more and then is full."""

    def arm(room: int) -> None:
        left = [room]

        def write(file: int, data: bytes) -> int:
            if left[0] <= 0:
                raise OSError(errno.ENOSPC, "No space left on device")
            taken = real_write(file, data[: left[0]])
            left[0] -= taken
            return taken

        monkeypatch.setattr(os, "write", write)

    real_write = os.write
    return arm


@pytest.mark.parametrize("room", [0, 1, 10, 60])
@pytest.mark.parametrize("tail", ["", "2,1,,,A1,"])
def test_a_full_disk_leaves_the_file_as_it_was(
    tmp_path: Path,
    grill: Grill,
    full_after: Callable[[int], None],
    monkeypatch: pytest.MonkeyPatch,
    room: int,
    tail: str,
) -> None:
    path = tmp_path / "readings.csv"
    before = f"{COLUMNS_US}\n1,1,,,B3,,,rail,585,dry,open,,6.5,,,\n{tail}"
    path.write_text(before)
    with ReadingsLog(path, grill) as log:
        full_after(room)
        with pytest.raises(LogError, match="disk is full; make room; B3 590 °F was NOT written"):
            log.append(shot(grill, 590))
        if not tail:
            assert path.read_text() == before
        monkeypatch.undo()
        assert log.append(shot(grill, 595)).id == 2
    assert shown_f(read_back(path, grill)) == [585.0, 595.0]


@pytest.mark.parametrize("room", [0, 1, 50, 400])
def test_a_full_disk_while_columns_are_added(
    tmp_path: Path,
    grill: Grill,
    full_after: Callable[[int], None],
    monkeypatch: pytest.MonkeyPatch,
    room: int,
) -> None:
    path = tmp_path / "readings.csv"
    before = "position,shown_f\n" + "B3,585\n" * 100
    path.write_text(before)
    with ReadingsLog(path, grill) as log:
        full_after(room)
        with pytest.raises(LogError, match="disk is full"):
            log.append(shot(grill, 590))
        assert path.read_text() == before
        assert sorted(p.name for p in tmp_path.iterdir()) == [".readings.csv.lock", "readings.csv"]
        monkeypatch.undo()
        log.append(shot(grill, 590))
    assert len(read_back(path, grill).readings) == 101


def test_a_full_disk_at_the_very_first_reading(
    tmp_path: Path, grill: Grill, full_after: Callable[[int], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "readings.csv"
    with ReadingsLog(path, grill) as log:
        full_after(30)
        with pytest.raises(LogError, match="disk is full"):
            log.append(shot(grill, 590))
        assert not path.exists()
        monkeypatch.undo()
        log.append(shot(grill, 590))
    assert shown_f(read_back(path, grill)) == [590.0]


def test_a_flush_that_fails_is_no_acknowledgement(
    tmp_path: Path, grill: Grill, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "readings.csv"

    def fail(file: int) -> None:
        raise OSError(errno.EIO, "Input/output error")

    with ReadingsLog(path, grill) as log:
        log.append(shot(grill, 585))
        before = path.read_bytes()
        monkeypatch.setattr(durable, "flush_to_disk", fail)
        with pytest.raises(LogError, match="disk does not answer; B3 590 °F was NOT written"):
            log.append(shot(grill, 590))
        monkeypatch.undo()
        assert path.read_bytes() == before


def test_an_interrupt_in_the_middle_leaves_a_whole_file(
    tmp_path: Path, grill: Grill, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "readings.csv"

    def interrupt(file: int) -> None:
        raise KeyboardInterrupt

    with ReadingsLog(path, grill) as log:
        log.append(shot(grill, 585))
        monkeypatch.setattr(durable, "flush_to_disk", interrupt)
        with pytest.raises(KeyboardInterrupt):
            log.append(shot(grill, 590))
        monkeypatch.undo()
        assert log.append(shot(grill, 595)).id == 3
    assert shown_f(read_back(path, grill)) == [585.0, 590.0, 595.0]


@pytest.fixture
def tiny_disk(tmp_path: Path) -> Iterator[Path]:
    folder = tmp_path / "tiny"
    folder.mkdir()
    made = shutil.which("mount") and subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(folder)], capture_output=True, check=False
    )
    if not made or made.returncode:
        pytest.skip("a small disk cannot be mounted here; the stand-in for a full disk is tried above")
    yield folder
    subprocess.run(["umount", str(folder)], capture_output=True, check=False)


def test_a_real_disk_that_fills_up_and_one_that_is_read_only(tiny_disk: Path, grill: Grill) -> None:
    path = tiny_disk / "readings.csv"
    acknowledged = []
    with ReadingsLog(path, grill) as log:
        with pytest.raises(LogError, match="disk is full; make room; B3 .* °F was NOT written"):
            acknowledged.extend(log.append(shot(grill, 500 + n / 10, note="n" * 100)) for n in range(10_000))
        assert len(acknowledged) > 100
        assert [r.id for r in read_back(path, grill).readings] == [r.id for r in acknowledged]
        subprocess.run(["mount", "-o", "remount,size=256k", str(tiny_disk)], check=True)
        assert log.append(shot(grill, 595)).id == acknowledged[-1].id + 1
    subprocess.run(["mount", "-o", "remount,ro", str(tiny_disk)], check=True)
    with (
        pytest.raises(LogError, match="cannot be opened for writing: .*only be read"),
        ReadingsLog(path, grill),
    ):
        pass


def test_a_disk_that_turns_read_only_meanwhile(tmp_path: Path, grill: Grill, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*more: object) -> int:
        raise OSError(errno.EROFS, "Read-only file system")

    with ReadingsLog(tmp_path / "readings.csv", grill) as log:
        log.append(shot(grill, 585))
        monkeypatch.setattr(os, "open", refuse)
        with pytest.raises(LogError, match="can only be read; use another folder; B3 590 °F was NOT written"):
            log.append(shot(grill, 590))
        monkeypatch.undo()
        log.append(shot(grill, 590))


def test_a_folder_that_may_not_be_written(ordinary_account: Path, grill: Grill) -> None:
    account = os.geteuid()
    os.seteuid(os.getuid())
    ordinary_account.chmod(0o555)
    os.seteuid(account)
    with (
        pytest.raises(LogError, match="cannot be opened for writing: it may not be written; check the perm"),
        ReadingsLog(ordinary_account / "readings.csv", grill),
    ):
        pass


def test_a_file_that_turns_read_only_is_reported_with_the_reading(ordinary_account: Path, grill: Grill) -> None:
    account, path = os.geteuid(), ordinary_account / "readings.csv"
    os.seteuid(os.getuid())
    ordinary_account.chmod(0o777)
    os.seteuid(account)
    with ReadingsLog(path, grill) as log:
        log.append(shot(grill, 585))
        path.chmod(0o444)
        with pytest.raises(LogError, match="may not be written; .*; B3 590 °F was NOT written"):
            log.append(shot(grill, 590))
        path.chmod(0o644)
        log.append(shot(grill, 595))
    assert shown_f(read_back(path, grill)) == [585.0, 595.0]


def test_a_full_file_is_not_written_over_the_limit(
    tmp_path: Path, grill: Grill, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "readings.csv"
    with ReadingsLog(path, grill) as log:
        log.append(shot(grill, 585))
        monkeypatch.setattr(readings_log, "LIMIT_BYTES", path.stat().st_size + 20)
        with pytest.raises(LogError, match="is full .*begin a new file; .*NOT written"):
            log.append(shot(grill, 590))
    assert shown_f(read_readings(path, grill)) == [585.0]


# Two writers, and sudden death


def test_a_second_writer_is_kept_out_until_the_first_is_done(tmp_path: Path, grill: Grill) -> None:
    path = tmp_path / "readings.csv"
    with ReadingsLog(path, grill) as log:
        with pytest.raises(LogError, match="being written by another gratemap; end that one first"):
            ReadingsLog(path, grill).__enter__()
        log.append(shot(grill, 585))
    with ReadingsLog(path, grill) as log:
        log.append(shot(grill, 590))
    assert shown_f(read_back(path, grill)) == [585.0, 590.0]


def test_a_lock_that_was_deleted_is_taken_again_and_keeps_a_second_writer_out(tmp_path: Path, grill: Grill) -> None:
    path = tmp_path / "readings.csv"
    with ReadingsLog(path, grill) as log:
        log.append(shot(grill, 585))
        (tmp_path / ".readings.csv.lock").unlink()
        log.append(shot(grill, 590))
        with pytest.raises(LogError, match="being written by another gratemap"):
            ReadingsLog(path, grill).__enter__()


def test_two_writers_after_the_lock_was_deleted_take_turns(tmp_path: Path, grill: Grill) -> None:
    """The first notices that the second holds the lock, writes nothing, and goes on when that one is done."""
    path, grill = tmp_path / "readings.csv", replace(grill, burners=())  # as the other has it
    with ReadingsLog(path, grill) as log:
        log.append(shot(grill, 585))
        (tmp_path / ".readings.csv.lock").unlink()
        command = [sys.executable, "-c", SECOND_WRITER, str(path)]
        with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as other:
            assert other.stdin is not None and other.stdout is not None
            assert other.stdout.readline() == "open\n"
            with pytest.raises(LogError, match="another gratemap; end that one first; B3 590 °F was NOT written"):
                log.append(shot(grill, 590))
            other.stdin.close()
            other.wait(60)
        log.append(shot(grill, 595))
    assert shown_f(read_back(path, grill)) == [585.0, 595.0]


SECOND_WRITER = """
import sys
from heatmap.errors import LogError
from heatmap.readings.log import ReadingsLog
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, TargetBand
grill = Grill(grate=Grate(width_mm=600.0, depth_mm=400.0), target=TargetBand(low_c=288.0, high_c=315.0))
try:
    with ReadingsLog(sys.argv[1], grill):
        print("open", flush=True)
        sys.stdin.read()
except LogError as error:
    print(error, flush=True)
"""


def test_the_lock_is_released_when_its_holder_is_killed(tmp_path: Path) -> None:
    path = tmp_path / "readings.csv"
    grill = Grill(grate=Grate(width_mm=600.0, depth_mm=400.0), target=TargetBand(low_c=288.0, high_c=315.0))
    with subprocess.Popen(
        [sys.executable, "-c", SECOND_WRITER, str(path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "open\n"
        with pytest.raises(LogError, match="another gratemap"):
            ReadingsLog(path, grill).__enter__()
        other.kill()
        other.wait()
        with ReadingsLog(path, grill) as log:
            assert log.append(shot(grill, 585, "B2")).id == 1


def _write_until_killed(path: Path, grill: Grill, acknowledge: int, batches: bool, number: int) -> None:
    """Run in the child: append for ever and tell each id and number that was acknowledged."""
    with ReadingsLog(path, grill) as log:
        while True:
            size = random.randint(1, 40) if batches else 1
            wanted = [shot(grill, 300 + (number + n) % 1000) for n in range(size)]
            number += size
            added = log.append_all(wanted)
            told = "".join(f"{r.id} {(r.shown_c or 0) * 1.8 + 32:.0f}\n" for r in added)
            os.write(acknowledge, told.encode())


def _kill_once(path: Path, grill: Grill, chance: random.Random, number: int) -> list[tuple[int, int]]:
    reader, writer = os.pipe()
    batches = chance.random() < 0.5
    child = os.fork()
    if child == 0:
        code = 1
        try:
            os.close(reader)
            _write_until_killed(path, grill, writer, batches, number)
        finally:
            os._exit(code)
    os.close(writer)
    if chance.random() < 0.7:  # else it may still be opening, or rebuilding, the file
        select.select([reader], [], [], 20.0)
    time.sleep(chance.random() * 0.06)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    with open(reader, "rb") as pipe:
        told = pipe.read().decode()
    ended = told[: told.rfind("\n") + 1].splitlines()
    return [(int(line.split()[0]), int(line.split()[1])) for line in ended]


def _survives(tmp_path: Path, grill: Grill, kills: int) -> tuple[int, int]:
    """Kill a writer again and again; return how many readings were acknowledged and how many are lost."""
    path = tmp_path / "readings.csv"
    chance = random.Random(20310614)
    with ReadingsLog(path, grill):  # what is imported here need not be imported by each child
        pass
    acknowledged: dict[int, int] = {}
    lost = 0
    for kill in range(kills):
        if kill % 5 == 4:  # make the next writer rebuild the file, so that some kills fall into that
            _drop_last_column(path)
        if kill % 3 == 2 and path.exists():  # and let some start from a torn row
            with path.open("ab") as file:
                file.write(b"9999,1,,2031-06")
        acknowledged |= dict(_kill_once(path, grill, chance, 1000 * kill))
        if not path.exists():
            continue
        data = path.read_bytes()
        if not data:
            continue
        found = ReadingsFile(data, path.name, grill)
        assert not found.problems
        there = {r.id: round((r.shown_c or 0.0) * 1.8 + 32) for r in found.readings}
        lost = sum(there.get(number) != shown for number, shown in acknowledged.items())
        assert len(set(there)) == len(found.readings)
    return len(acknowledged), lost


def _drop_last_column(path: Path) -> None:
    if not path.exists():
        return
    *lines, torn = path.read_text().split("\n")
    kept = [line if line.startswith("#") else line.rsplit(",", 1)[0] for line in lines]
    path.write_text("".join(f"{line}\n" for line in kept) + torn)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="there is no fork here; sudden death was not tried")
@pytest.mark.parametrize("kills", [30, pytest.param(200, marks=pytest.mark.slow)])
def test_no_acknowledged_reading_is_lost_by_sudden_death(
    tmp_path: Path, grill: Grill, kills: int, capsys: pytest.CaptureFixture[str]
) -> None:
    acknowledged, lost = _survives(tmp_path, grill, kills)
    with capsys.disabled():
        print(f"\n{kills} kills, {acknowledged} readings acknowledged, {lost} lost")
    assert acknowledged > kills
    assert lost == 0


def test_times_are_written_with_the_offset_of_the_place(
    tmp_path: Path, grill: Grill, zone: Callable[[str], None]
) -> None:
    zone("XXX+05")  # POSIX: five hours west
    path = tmp_path / "readings.csv"
    with ReadingsLog(path, grill) as log:
        log.append(shot(grill, 585))
    assert "2031-06-14T07:00:00.000-05:00" in path.read_text()
    assert read_back(path, grill).readings[0].taken_at == NOON


def test_a_turn_of_knobs_and_a_note_are_rows_that_are_no_readings(tmp_path):
    """Written, read back, withdrawn; the round after the turn knows when it was, and its marks."""
    grill = Grill(
        grate=Grate(width_mm=610.0, depth_mm=457.0),
        target=TargetBand(low_c=288.0, high_c=316.0),
        burners=(Burner(name="left", points_mm=((100.0, 20.0), (100.0, 430.0))),),
    )
    start = datetime(2031, 6, 14, 13, 0, tzinfo=UTC)
    shot = Reading(id=0, shown_c=300.0, x_mm=0.0, y_mm=0.0, position="A1", session="may", taken_at=start)
    x_mm, y_mm = grill.point_mm("A1")
    shot = replace(shot, x_mm=x_mm, y_mm=y_mm)
    event = Reading(id=0, shown_c=None, x_mm=0.0, y_mm=0.0, aim="turned", session="may")
    turn = replace(event, knobs={"left": 6.0}, taken_at=start + timedelta(minutes=5))
    with ReadingsLog(tmp_path / "readings.csv", grill) as log:
        log.append(shot)
        written = log.append(turn)
        assert (written.aim, dict(written.knobs), written.shown_c) == ("turned", {"left": 6.0}, None)
        log.append(replace(event, void=ITSELF, note="a little wind", taken_at=start))
        slip = log.append(replace(event, void=ITSELF, note="a little wink", taken_at=start))
        log.append(log.withdrawal(slip.id, "undo"))
        with pytest.raises(ReadingError, match="withdrawn already"):
            log.append(log.withdrawal(slip.id, "undo"))
        log.append(replace(shot, round=2, taken_at=start + timedelta(minutes=20)))
        gone = log.append(replace(turn, taken_at=start + timedelta(minutes=30)))
        assert [len(one.turned_after) for one in group_rounds(log.readings)] == [0, 1]
        log.append(log.withdrawal(gone.id, "undo"))
    first, second = group_rounds(read_readings(tmp_path / "readings.csv", grill).readings)
    assert [one.note for one in first.notes] == ["a little wind"]
    assert (len(first.readings), len(second.readings), second.turned_after) == (1, 1, ())
    assert second.turned_at == turn.taken_at
    assert (dict(first.settings), dict(second.settings)) == ({}, {"left": 6.0})


def test_a_turn_of_knobs_with_a_number_is_refused(tmp_path):
    grill = Grill(grate=Grate(width_mm=610.0, depth_mm=457.0), target=TargetBand(low_c=288.0, high_c=316.0))
    (tmp_path / "odd.csv").write_text("position,aim,shown_f\nA1,turned,575\n", encoding="utf-8")
    with pytest.raises(ReadingError, match="aim is turned, and a number was shown"):
        read_readings(tmp_path / "odd.csv", grill)


# Entries that are named


def test_a_file_of_the_page_has_a_column_for_keys_and_each_row_its_own(tmp_path: Path, grill: Grill) -> None:
    path = tmp_path / "readings.csv"
    with ReadingsLog(path, grill) as log:
        log.append(shot(grill, 585))
    assert path.read_text(encoding="utf-8").splitlines()[0] == COLUMNS_US  # nobody else gets one
    with ReadingsLog(path, grill, keyed=True) as log:
        first = log.append(shot(grill, 590, "A1", key="k-1"))
        log.append(replace(first, shown_c=None, aim="turned", knobs={"left": 4.0}, key="k-2"))
        log.append(replace(log.withdrawal(first.id, "undo"), key="k-3"))
    assert path.read_text(encoding="utf-8").splitlines()[0] == f"{COLUMNS_US},key"
    assert [one.key for one in read_back(path, grill).readings] == ["", "k-1", "k-2", "k-3"]
    with ReadingsLog(path, grill) as log:
        log.append(shot(grill, 570, "A2"))
        assert [one.key for one in log.readings] == ["", "k-1", "k-2", "k-3", ""]


def test_a_withdrawal_can_be_looked_at_before_it_is_written(tmp_path: Path, grill: Grill) -> None:
    with ReadingsLog(tmp_path / "readings.csv", grill, keyed=True) as log:
        assert log.next_id == 1
        first = log.append(shot(grill, 585, key="k-1"))
        assert log.next_id == 2
        row = log.withdrawal(first.id, "undo")
        assert (row.void, row.shown_c, row.key, len(log.readings)) == (1, None, "", 1)
        log.append_all((row, shot(grill, 590)))
        with pytest.raises(ReadingError, match="reading 1 is withdrawn already"):
            log.withdrawal(first.id)
