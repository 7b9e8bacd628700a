"""`gratemap rehearse`: what can be typed, from a pipe, and played from start to end on a real pseudo-terminal."""

from __future__ import annotations

import json
import os
import select
import signal
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from cli.rehearse import show_truth
from heatmap.assessment import assess
from heatmap.grill.toml import load_grill
from heatmap.readings.csv_file import load_rounds
from heatmap.synthetic import draw_grill
from started import Started


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_a_pipe_plays_the_whole_loop(folder, gratemap):
    result = gratemap("rehearse", "--seed", "10", typed="advice\ncontact B2\nadvice\nend\n")
    assert result.exit_code == 0, result.output
    for words in ("Make-believe grill 10", "Round 2", "Round 3", "Turned ", "The probe on a rail at B2 shows "):
        assert words in result.stdout
    assert "then the truth while you shot and its mark" in result.stdout
    assert "the best these knobs can do is" in result.stdout
    grill = load_grill("rehearsal-10/grill.toml")
    rounds = load_rounds("rehearsal-10/readings.csv", grill)
    assert [one.number for one in rounds] == [1, 2, 3]
    assert all(one.session == "rehearsal 10" for one in rounds)
    assert all(reading.note == "make-believe" for one in rounds for reading in one.readings)
    assert [len(one.with_aim("contact")) for one in rounds] == [0, 1, 0]
    assert dict(rounds[0].settings) != dict(rounds[1].settings)
    waited = rounds[1].taken_at - rounds[0].taken_at
    assert waited.total_seconds() > 300
    files = ("--grill", "rehearsal-10/grill.toml", "--readings", "rehearsal-10/readings.csv")
    for command in ("map", "burners", "compare", "history", "place"):
        assert gratemap(command, *files).exit_code == 0
    assert len(json.loads(gratemap("history", *files, "--json").stdout)["rounds"]) == 3


def test_the_truth_told_is_that_of_the_make_believe_grill(folder, gratemap):
    """Share in band at the marks it began with, and the best there is, against the make-believe grill itself."""
    text = gratemap("rehearse", "--seed", "10", "--numbers", "rail", typed="end\n").stdout
    grill = draw_grill(10)
    compared = grill.compared_c(grill.start)[grill.inside]
    described = load_grill("rehearsal-10/grill.toml")
    share = np.mean((compared >= described.target.low_c) & (compared <= described.target.high_c))
    assert f"{100 * share:.0f} % at the marks it began with, {100 * share:.0f} % at yours" in text
    low = 1.8 * described.target.low_c + 32.0
    assert low == pytest.approx(5.0 * round(low / 5.0))
    assert "on the rail" in text


def test_the_table_of_the_truth_holds_true_rail_temperatures(folder, gratemap):
    """The second number of each cell is near the steady truth: within what wind and the open lid do to a grate."""
    lines = gratemap("rehearse", "--seed", "10", "--numbers", "rail", typed="end\n").stdout.splitlines()
    at = next(index for index, line in enumerate(lines) if "then the truth" in line)
    told = [float(number) for line in lines[at + 3 : at + 6] for number in line.split()[2::3]]
    grill = draw_grill(10)
    points = np.array([grill.grill.point_mm(label) for label in grill.grill.labels])
    steady = 1.8 * grill.truth_c(points) + 32.0
    assert np.abs(np.array(told) - steady).max() < 80.0
    assert np.corrcoef(told, steady)[0, 1] > 0.9


@pytest.mark.parametrize(("in_band", "percent"), [(True, "100 %"), (False, "0 %")])
def test_two_moments_of_truth_are_told_apart(folder, gratemap, capsys, in_band, percent):
    """The truth while the map was shot stands beside the map; that of the settled grate is called another moment."""
    gratemap("rehearse", "--seed", "10", typed="end\n")
    grill = load_grill("rehearsal-10/grill.toml")
    assessment = assess(grill, load_rounds("rehearsal-10/readings.csv", grill))
    middle = grill.target.middle_c if in_band else grill.target.high_c + 1.0
    truth = np.full(len(grill.labels), middle), np.full(assessment.cells.inside.size, middle)
    show_truth(draw_grill(10), assessment, truth)
    told = " ".join(capsys.readouterr().out.split())
    mapped = f"{100 * assessment.evenness.share_in_band:.0f} %"
    assert f"While you shot: your map said {mapped} in band, and truly it was {percent}." in told
    assert "Once settled, in the day's usual wind, truly in band: " in told


def test_the_same_seed_is_the_same_grill_and_the_same_readings(folder, gratemap):
    for name in ("one", "two"):
        assert gratemap("rehearse", "--seed", "10", "--folder", name, typed="\n").exit_code == 0
    assert Path("one/readings.csv").read_bytes() == Path("two/readings.csv").read_bytes()
    assert Path("one/grill.toml").read_bytes() == Path("two/grill.toml").read_bytes()


def test_earlier_files_are_kept_unless_told(folder, gratemap):
    assert gratemap("rehearse", "--seed", "10", typed="end\n").exit_code == 0
    before = Path("rehearsal-10/readings.csv").read_bytes()
    refused = gratemap("rehearse", "--seed", "10", typed="advice\nend\n")
    assert refused.exit_code == 3
    assert "--overwrite" in refused.stderr
    assert refused.stdout == ""
    assert Path("rehearsal-10/readings.csv").read_bytes() == before
    assert gratemap("rehearse", "--seed", "10", "--overwrite", typed="\nend\n").exit_code == 0
    grill = load_grill("rehearsal-10/grill.toml")
    assert len(load_rounds("rehearsal-10/readings.csv", grill)) == 2


def test_true_readings_are_never_overwritten(samples, gratemap):
    before = [Path(name).read_bytes() for name in ("grill.toml", "readings.csv")]
    result = gratemap("rehearse", "--folder", ".", "--overwrite", typed="end\n")
    assert result.exit_code == 3
    assert "not of a rehearsal" in result.stderr
    assert [Path(name).read_bytes() for name in ("grill.toml", "readings.csv")] == before
    Path("grill.toml").unlink()
    assert gratemap("rehearse", "--folder", ".", "--overwrite", typed="end\n").exit_code == 3
    assert Path("readings.csv").read_bytes() == before[1]


def test_a_folder_that_cannot_be_made(folder, gratemap):
    Path("file").write_text("", encoding="utf-8")
    result = gratemap("rehearse", "--folder", "file/inside", typed="end\n")
    assert result.exit_code == 3
    assert "cannot be written" in result.stderr


def test_wrong_numbers_option(folder, gratemap):
    assert gratemap("rehearse", "--numbers", "both", typed="end\n").exit_code == 2
    assert gratemap("rehearse", "--seed", "-1", typed="end\n").exit_code == 2


def test_slips_are_told_and_the_practice_goes_on(folder, gratemap):
    slips = "fly\ncontact\ncontact Z9, B2\nwait nan\nwait 9999\nwait\n"
    result = gratemap("rehearse", "--seed", "10", typed=f"{slips}wait 5\nshow\n?\nend\n")
    assert result.exit_code == 0
    assert result.stderr.count("is not understood; type advice, or a burner and its mark, or ? for help") == 2
    assert result.stderr.count("wait how many minutes? 0 to 240, like: wait 10") == 3
    assert 'position "Z9" is not on this grate' in result.stderr
    assert "Round 2" in result.stdout
    assert "What you can type" in result.stdout


# On a real pseudo-terminal

needs_terminal = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals on Windows")


class Terminal:
    """A pseudo-terminal with the command in it, as a cook sits before it."""

    def __init__(self, folder: Path, *words: str) -> None:
        self.near, far = os.openpty()
        environment = {**os.environ, "TERM": "xterm", "PYTHONUTF8": "1"}
        self.process = Started(*words, stdin=far, stdout=far, stderr=far, cwd=folder, env=environment, leads=True)
        os.close(far)
        self.text = ""
        self.seen = 0

    def wait_for(self, words: str, limit_s: float = 60.0) -> str:
        """Read until these words come; return what came up to them."""
        end = time.monotonic() + limit_s
        while words not in self.text[self.seen :]:
            if time.monotonic() > end or not self._read(end):
                pytest.fail(f"{words!r} did not come; the screen says:\n{self.text[-2000:]}")
        at = self.text.index(words, self.seen) + len(words)
        came, self.seen = self.text[self.seen : at], at
        return came

    def _read(self, end: float) -> bool:
        ready, _, _ = select.select([self.near], [], [], max(0.0, end - time.monotonic()))
        try:
            chunk = os.read(self.near, 65536) if ready else b""
        except OSError:  # Linux says so when the other side has gone
            chunk = b""
        self.text += chunk.decode("utf-8", errors="replace")
        return bool(chunk)

    def type(self, line: str) -> None:
        os.write(self.near, line.encode() + b"\n")

    def end(self) -> int:
        """Read to the end and return the exit code."""
        while self._read(time.monotonic() + 60.0):
            pass
        os.close(self.near)
        return self.process.wait(30.0)


@needs_terminal
def test_played_on_a_terminal_from_start_to_end(tmp_path):
    terminal = Terminal(tmp_path, "rehearse", "--seed", "10")
    assert "What you can type" in terminal.wait_for("make-believe> ")
    for typed, comes in (
        ("advice", "Round 2"),
        ("contact B2", "The probe on a rail at B2 shows"),
        ("back 99", "it goes from 1 to 10"),
        ("front 6.5 back 7", "Turned "),
        ("", "Round 4"),
        ("show", "Round 4"),
    ):
        terminal.type(typed)
        assert comes in terminal.wait_for("make-believe> ")
    terminal.type("end")
    assert "then the truth while you shot and its mark" in terminal.wait_for("the best these knobs can do is")
    assert terminal.end() == 0
    grill = load_grill(tmp_path / "rehearsal-10/grill.toml")
    assert len(load_rounds(tmp_path / "rehearsal-10/readings.csv", grill)) == 4


@needs_terminal
def test_ctrl_c_ends_it_and_keeps_the_rounds(tmp_path):
    terminal = Terminal(tmp_path, "rehearse", "--seed", "10")
    terminal.wait_for("make-believe> ")
    time.sleep(0.5)  # the prompt is on the screen just before the wait for a key begins
    os.killpg(terminal.process.pid, signal.SIGINT)
    terminal.wait_for("The rounds so far are in rehearsal-10")
    assert terminal.end() == 130
    assert "Traceback" not in terminal.text
    assert (tmp_path / "rehearsal-10/readings.csv").read_text(encoding="utf-8").count("make-believe") >= 12


@needs_terminal
def test_ctrl_d_ends_it_with_the_truth(tmp_path):
    terminal = Terminal(tmp_path, "rehearse", "--seed", "10")
    terminal.wait_for("make-believe> ")
    os.write(terminal.near, b"\x04")
    terminal.wait_for("then the truth while you shot and its mark")
    assert terminal.end() == 0
