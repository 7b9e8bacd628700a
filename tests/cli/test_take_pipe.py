"""`gratemap take -`: lines from a pipe."""

from __future__ import annotations

import csv
import json
import os
import sys
import threading
import time

import pytest

from cli.take_inputs import batches_of
from heatmap import load_grill, load_rounds
from heatmap.readings.csv_file import read_readings
from started import DEVNULL, PIPE, Started, run

WALK = "B2 A1 C4 A4 C1 A2 B3 B1 A3 C2 B4 C3".split()


@pytest.fixture
def piped(gratemap, monkeypatch):
    """Return a function that runs `take -` in a folder with this text on its pipe, in this process."""

    def run(folder, text, *words):
        monkeypatch.chdir(folder)
        return gratemap("take", "-", *words, typed=text)

    return run


def rows(folder):
    return read_readings(folder / "readings.csv", load_grill(folder / "grill.toml")).readings


def test_bare_numbers_follow_the_walk_and_rows_and_labels_go_where_they_say(plain_grill, piped):
    result = piped(plain_grill, "580\n562\nC 585 590 - 600\nA2 566\n")
    assert result.exit_code == 0, result.stderr
    assert [row.position for row in rows(plain_grill)] == ["B2", "A1", "C1", "C2", "C4", "A2"]


def test_undo_takes_back_the_last_line_and_its_position_comes_next(plain_grill, piped):
    result = piped(plain_grill, "580\n562\nundo\n563\n")
    assert result.exit_code == 0
    kept = load_rounds(plain_grill / "readings.csv", load_grill(plain_grill / "grill.toml"))[0].readings
    assert [(one.position, round(one.shown_c * 1.8 + 32)) for one in kept] == [("B2", 580), ("A1", 563)]


def test_the_answer_goes_to_stdout_and_as_json_it_is_one_object(plain_grill, piped):
    lines = "".join(f"{label} {560 + 3 * index}\n" for index, label in enumerate(WALK))
    words = piped(plain_grill, lines)
    assert "in band" in words.stdout
    assert "12 readings kept" in words.stderr
    document = json.loads(piped(plain_grill, lines, "--json").stdout)
    assert document["round"] == 2
    assert len(document["spots"]) == 12


def test_every_bad_line_is_told_or_counted_and_the_exit_code_says_so(plain_grill, piped):
    text = "B2 580\nfoo\nZ9 580\nB2 99999\n" + 20 * "bad\n" + "A1 562\nA2 5"
    result = piped(plain_grill, text)
    told = result.stderr
    assert result.exit_code == 3
    assert 'line 2: "foo" is not understood' in told
    assert 'line 3: position "Z9" is not on this grate' in told
    assert "line 4: 99999" in told
    assert "further lines that cannot be used are only counted" in told
    assert "2 readings kept" in told
    assert "lines refused: 24" in told  # the last one has no line end
    assert piped(plain_grill, text, "--skip-bad").exit_code == 0
    assert [row.position for row in rows(plain_grill)] == 2 * ["B2", "A1"]


def at_a_pipe(folder, data):
    """Run `take -` in a process of its own, with a real pipe before it."""
    return run("take", "-", given=data, cwd=folder)


def test_bytes_that_are_no_text_are_refused_line_by_line(plain_grill):
    result = at_a_pipe(plain_grill, b"\xff\xfe\x00\nB2 580\n\x1b[31m600\n")
    assert result.returncode == 3
    assert len(rows(plain_grill)) == 1


def test_every_line_of_a_long_pipe_lands_in_order(plain_grill):
    numbers = [400 + index % 389 for index in range(20_000)]  # 80 kB: more than one chunk
    result = at_a_pipe(plain_grill, "".join(f"{number}\n" for number in numbers).encode())
    assert result.returncode == 0, result.stderr
    assert b"20000 readings kept" in result.stderr
    with (plain_grill / "readings.csv").open(encoding="utf-8") as file:
        header = file.readline().strip().split(",")
        shown, position = header.index("shown_f"), header.index("position")
        cells = [line.split(",") for line in file]
    assert [int(cell[shown]) for cell in cells] == numbers
    assert [cell[position] for cell in cells[:24]] == 2 * WALK


def test_a_line_is_on_the_disk_before_the_pipe_ends(plain_grill):
    process = Started("take", "-", cwd=plain_grill, stdin=PIPE, stderr=DEVNULL)
    assert process.stdin is not None
    process.stdin.write(b"B2 580\n")
    process.stdin.flush()
    until = time.monotonic() + 30.0
    log = plain_grill / "readings.csv"
    while not (log.exists() and b"580" in log.read_bytes()) and time.monotonic() < until:
        time.sleep(0.01)
    assert b"580" in log.read_bytes()
    process.stdin.close()
    assert process.wait(30) == 0


@pytest.mark.skipif(sys.platform == "win32", reason="no such pipes on Windows")
def test_a_pipe_that_answers_at_once_is_waited_for():
    """Whoever made the pipe may have set it so that it never waits; nothing there yet is not its end."""
    near, far = os.pipe()
    os.set_blocking(near, False)
    writer = threading.Timer(0.1, lambda: (os.write(far, b"600\n"), os.close(far)))
    writer.start()
    with open(near, encoding="utf-8") as stream:
        assert list(batches_of(stream)) == [([b"600"], True)]
    writer.join()


def test_the_sheet_is_typed_in_row_by_row(plain_grill, tmp_path, piped):
    from cli.manual import sheet_lines

    grill = load_grill(plain_grill / "grill.toml")
    example = next(line.strip() for line in sheet_lines(grill) if line.strip().startswith("A 5"))
    assert piped(plain_grill, f"{example}\nB 580 585 590 595\nC - 570 575 580\ndone\n").exit_code == 0
    assert len(rows(plain_grill)) == 11


def test_preheat_needs_a_keyboard(plain_grill, piped):
    result = piped(plain_grill, "580\n", "--preheat")
    assert result.exit_code == 3
    assert "needs a keyboard" in result.stderr


def test_a_pipe_and_a_port_exclude_each_other(plain_grill, piped):
    assert piped(plain_grill, "", "--port", "loop://").exit_code == 2


@pytest.mark.parametrize("number", ["0", "-1", "1000000"])
def test_a_round_has_a_number_that_can_be(plain_grill, piped, number):
    result = piped(plain_grill, "580\n", "--round", number)
    assert result.exit_code == 2
    assert f"{number} is not in the range 1<=x<=999999" in result.stderr


def test_a_reader_that_goes_away_is_no_bug(plain_grill):
    lines = "".join(f"{label} 575\n" for label in WALK)
    read, write = os.pipe()
    os.close(read)
    result = run("take", "-", given=lines.encode(), cwd=plain_grill, stdout=write)
    os.close(write)
    assert b"bug" not in result.stderr
    assert len(rows(plain_grill)) == 12


def test_a_knob_turned_at_the_end_of_the_pipe_is_said_not_to_be_written(knob_grill, piped):
    run = piped(knob_grill, "knob left 6\n580\nknob left 7\n")
    assert "No shot came after left 7: not written" in run.stderr
    run = piped(knob_grill, "knob left 7\n562\n", "--continue")
    assert "Knobs as far as is known: left 6." in run.stderr
    assert "not written" not in run.stderr


def test_words_a_spreadsheet_would_compute_are_kept_and_not_computed(plain_grill, piped):
    """A formula begins with one of four signs; with a blank before it a cell is text."""
    assert piped(plain_grill, "580\nnote @SUM(A1:A9)\n", "--session", "=1+1").exit_code == 0
    lines = (plain_grill / "readings.csv").read_text().splitlines()
    cells = [cell for line in lines[1:] for cell in csv.reader([line]).__next__()]
    assert " =1+1" in cells and " @SUM(A1:A9)" in cells
    assert not [cell for cell in cells if cell.startswith(("=", "+", "@"))]
    assert {row.session for row in rows(plain_grill)} == {"=1+1"}
    assert piped(plain_grill, "581\n", "--continue").exit_code == 0, "the name goes on as it was"


@pytest.mark.parametrize("shots", ["585\n", "585\n590\n"])
def test_a_recheck_of_a_shot_or_two_with_marks_unknown_ends_well(knob_grill, piped, shots):
    piped(knob_grill, "".join(f"{560 + 3 * index}\n" for index in range(12)))
    again = piped(knob_grill, shots, "--recheck")
    assert again.exit_code == 0, again.stderr
    assert "Round 2, on the shape of round 1" in again.stdout


def test_megabytes_without_a_line_end_cost_no_more_than_others(plain_grill, piped):
    """Time in a line grows as the line, and nothing of it is kept."""
    began = time.process_time()
    result = piped(plain_grill, "5" * 4_000_000 + "\n580\n", "--skip-bad")
    assert time.process_time() - began < 8.0
    assert result.exit_code == 0
    assert [row.position for row in rows(plain_grill)] == ["B2"]
