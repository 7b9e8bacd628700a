"""The file of sears: what is written comes back, what people write is understood, nothing is overwritten."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from heatmap.errors import LogError, ReadingError
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, TargetBand
from heatmap.readings import durable
from heatmap.readings.sears import COLUMNS, append_sear, read_sears, sears_beside
from heatmap.sear import SearedPiece

GRILLS = {
    units: Grill(grate=Grate(width_mm=610.0, depth_mm=457.0), target=TargetBand(low_c=288.0, high_c=316.0), units=units)
    for units in ("us", "si")
}
PIECE = SearedPiece(
    taken_at=datetime(2031, 6, 14, 13, 5, tzinfo=UTC),
    place="B2 towards B3",
    turns_s=(60.0, 60.0, 70.0, 70.0),
    start_c=43.3,
    thickness_mm=31.75,
    outcome="under",
    rail_c=310.0,
    wanted_c=58.0,
    note="a little wind, from the left",
)


@pytest.mark.parametrize("units", ["us", "si"])
def test_what_is_written_comes_back(units, tmp_path):
    path = sears_beside(tmp_path / "readings.csv")
    others = [
        replace(PIECE, outcome=None, peak_c=57.2),
    ]
    assert read_sears(path, GRILLS[units]) == ()
    for piece in (PIECE, *others):
        before = path.read_bytes() if path.exists() else b""
        append_sear(path, GRILLS[units], piece)
        assert path.read_bytes().startswith(before), "only ever added to"
    assert path.read_text(encoding="utf-8").splitlines()[0] == ",".join(COLUMNS)
    for found, piece in zip(read_sears(path, GRILLS[units]), (PIECE, *others), strict=True):
        assert (found.taken_at, found.place, found.turns_s) == (piece.taken_at, piece.place, piece.turns_s)
        assert (found.outcome, found.teaches) == (piece.outcome, True)
        for name in ("start_c", "thickness_mm", "peak_c", "rail_c", "wanted_c"):
            value = getattr(piece, name)
            assert getattr(found, name) == (None if value is None else pytest.approx(value, abs=0.15)), name
        assert found.note.startswith(piece.note)


def test_what_people_and_spreadsheets_write_is_understood(tmp_path):
    path = tmp_path / "sears.csv"
    path.write_text(
        "\ufeffturns_s;peak;outcome;thickness;weather\n# so\n\n60 60;58,5;;31,8;fair\n75,75;;Over;;\n",
        encoding="utf-8",
    )
    first, second = read_sears(path, GRILLS["si"])
    assert (first.turns_s, first.peak_c, first.thickness_mm, first.outcome) == ((60.0, 60.0), 58.5, 31.8, None)
    assert (second.turns_s, second.outcome, second.taken_at) == ((75.0, 75.0), "over", None)
    append_sear(path, GRILLS["si"], replace(PIECE, peak_c=57.25, outcome=None))
    assert path.read_text(encoding="utf-8").splitlines()[-1] == "60 60 70 70;57,25;;31,75;", "in the file's own columns"


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("turns_s,peak\nsixty,137\n", 'line 2: turns_s is "sixty"; write the seconds of each turn'),
        ("turns_s,outcome\n60,rawish\n", 'line 2: outcome is "rawish"; it must be under, right or over'),
        ("turns_s,peak\n60,hot\n", "line 2: peak "),
        ("seconds,peak\n60,137\n", "the column turns_s is missing"),
        ("turns_s\n-5\n", "line 2: turns_s"),
    ],
)
def test_what_cannot_be_is_one_line(row, words, tmp_path):
    path = tmp_path / "sears.csv"
    path.write_text(row, encoding="utf-8")
    with pytest.raises(ReadingError, match=words):
        read_sears(path, GRILLS["us"])


def test_a_row_after_a_torn_line_begins_a_line_of_its_own(tmp_path):
    path = tmp_path / "sears.csv"
    path.write_bytes(b"turns_s,peak\n60 60,137")
    append_sear(path, GRILLS["us"], replace(PIECE, peak_c=58.0))
    assert [piece.turns_s for piece in read_sears(path, GRILLS["us"])] == [(60.0, 60.0), PIECE.turns_s]


def test_a_file_that_cannot_be_written_is_told(tmp_path):
    with pytest.raises(LogError, match="the sear was NOT written"):
        append_sear(Path(tmp_path / "nowhere" / "sears.csv"), GRILLS["us"], PIECE)


@pytest.mark.parametrize(("came", "piece"), [("peak", {"peak_c": 58.0}), ("outcome", {"outcome": "over"})])
def test_what_came_of_a_piece_is_not_lost_for_want_of_a_column(came, piece, tmp_path):
    path = tmp_path / "sears.csv"
    path.write_text("turns_s,note\n60 60,first\n", encoding="utf-8")
    with pytest.raises(LogError, match=f"no column {came} for what came of it; add one; the sear was NOT written"):
        append_sear(path, GRILLS["us"], replace(PIECE, **{"peak_c": None, "outcome": None} | piece))
    assert path.read_text(encoding="utf-8") == "turns_s,note\n60 60,first\n"


def test_a_piece_of_the_page_keeps_its_key_at_the_end_of_its_note(tmp_path):
    path, grill = tmp_path / "sears.csv", GRILLS["us"]
    append_sear(path, grill, replace(PIECE, key="a1-b:2", note="lost key today"))
    append_sear(path, grill, replace(PIECE, note="lost key today"))
    first, second = read_sears(path, grill)
    assert (first.key, second.key) == ("a1-b:2", "")
    assert first.note == second.note == "lost key today; rail 590; wanted 136.4"


@pytest.mark.parametrize(
    ("note", "rail_c"),
    [("rail ... fine", None), ("rail 1.2.3", None), ("far rail 2 was greasy", None), ("rail 310,5; wanted 58", 310.5)],
)
def test_what_a_cook_says_of_a_rail_is_no_temperature_of_it(note, rail_c, tmp_path):
    path = tmp_path / "sears.csv"
    path.write_text(f'turns_s;outcome;note\n60 60;;"{note}"\n', encoding="utf-8")
    (piece,) = read_sears(path, GRILLS["si"])
    assert (piece.rail_c, piece.note) == (rail_c, note)
    append_sear(path, GRILLS["si"], replace(PIECE, note="rail 2", rail_c=300.0))
    assert read_sears(path, GRILLS["si"])[-1].rail_c == pytest.approx(300.0)


def test_a_write_that_fails_takes_nothing_away_that_another_program_wrote_meanwhile(tmp_path, monkeypatch):
    path = tmp_path / "sears.csv"
    append_sear(path, GRILLS["us"], PIECE)
    before = path.read_bytes()

    def full(_file):
        with path.open("ab") as other:
            other.write(b"another row\n")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(durable, "flush_to_disk", full)
    with pytest.raises(LogError, match="the disk is full; make room; the sear was NOT written"):
        append_sear(path, GRILLS["us"], PIECE)
    assert path.read_bytes().startswith(before)
    assert path.read_bytes().endswith(b"another row\n")


def test_a_write_that_fails_fills_no_file_that_another_program_emptied_meanwhile(tmp_path, monkeypatch):
    path = tmp_path / "sears.csv"
    append_sear(path, GRILLS["us"], PIECE)

    def emptied(_file):
        path.write_bytes(b"")
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(durable, "flush_to_disk", emptied)
    with pytest.raises(LogError, match="the disk does not answer; the sear was NOT written"):
        append_sear(path, GRILLS["us"], PIECE)
    assert path.read_bytes() == b""


def test_a_comma_typed_within_a_note_is_part_of_it(tmp_path):
    """As a hand types it, without quotes; a cell too many elsewhere is refused."""
    path = tmp_path / "sears.csv"
    path.write_text("turns_s,start,peak,note\n60 60,110,137,crust good, a bit salty\n")
    (piece,) = read_sears(path, GRILLS["us"])
    assert piece.note == "crust good, a bit salty"
    path.write_text("turns_s,note,peak\n60 60,good,137,5\n")
    with pytest.raises(ReadingError, match="it has 4 cells, the header names 3 columns"):
        read_sears(path, GRILLS["us"])


def test_the_first_sear_takes_no_place_of_a_file_another_program_made_meanwhile(tmp_path, monkeypatch):
    path = tmp_path / "sears.csv"
    monkeypatch.setattr(durable, "flush_to_disk", lambda _file: path.write_bytes(b"turns_s\n75\n"))
    with pytest.raises(LogError, match="another program made it just now; try again; the sear was NOT written"):
        append_sear(path, GRILLS["us"], PIECE)
    assert path.read_bytes() == b"turns_s\n75\n"
