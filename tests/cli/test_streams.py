"""The command started where a stream is closed or full, where a notebook set the scene, and stopped while it starts."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.skipif(os.name != "posix", reason="streams are closed by a shell here")

ROOT = Path(__file__).parents[2]
START = f"{sys.executable} -c 'from cli.start import main; main()'"
LINES = "".join(f"{560 + 3 * index}\n" for index in range(12))


def shell(folder: Path, script: str, typed: str = "", **environment: str) -> subprocess.CompletedProcess[str]:
    surroundings = {**os.environ, "PYTHONPATH": str(ROOT), **environment}
    return subprocess.run(
        ["/bin/sh", "-c", script.replace("gratemap", START)],
        cwd=folder,
        env=surroundings,
        input=typed,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )


def test_readings_are_kept_where_nothing_can_be_said(plain_grill):
    done = shell(plain_grill, "gratemap take - 2>&- >&-", LINES)
    assert done.returncode == 0
    assert len((plain_grill / "readings.csv").read_text().splitlines()) == 13


def test_nothing_that_is_said_goes_into_a_file_that_was_opened_meanwhile(plain_grill):
    """A file opened first gets the number of the closed stream."""
    shell(plain_grill, "gratemap take - 2>&- >&- <&-")
    shell(plain_grill, "gratemap take - 2>&-", LINES)
    assert "kept" not in (plain_grill / "readings.csv").read_text()


@pytest.mark.parametrize("words", ["take", "take -", "rehearse --folder here", "map --readings -"])
def test_closed_answers_are_no_answers(plain_grill, words):
    done = shell(plain_grill, f"gratemap {words} <&-")
    assert done.returncode in (0, 3)
    assert "bug" not in done.stderr and "Traceback" not in done.stderr


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="there is no full device here")
@pytest.mark.parametrize("words", ["manual map", "--help", "gun 585"])
def test_an_answer_into_a_full_disk_is_one_line(tmp_path, words):
    done = shell(tmp_path, f"gratemap {words} > /dev/full")
    assert done.returncode == 3
    assert done.stderr == "gratemap: the answer could not be written: the disk is full; make room\n"


def test_talk_into_a_full_disk_stops_nothing(samples):
    done = shell(samples, "gratemap map --picture map.png 2> /dev/full")
    assert (done.returncode, done.stderr) == (0, "")
    assert (samples / "map.png").exists()


def test_pictures_are_drawn_whatever_a_notebook_asks_for(samples):
    done = shell(samples, "gratemap map --picture map.png", MPLBACKEND="module://matplotlib_inline.backend_inline")
    assert done.returncode == 0, done.stderr
    assert (samples / "map.png").exists()


def test_ctrl_c_while_it_starts_says_nothing(tmp_path):
    """While the command line itself is imported: the moment is made sure of by what is imported first.

    A shell that runs the tests in the background has them ignore Ctrl-C; the command must not.
    """
    heard = "signal.signal(signal.SIGINT, signal.default_int_handler)"
    (tmp_path / "typer.py").write_text(f"import os, signal\n{heard}\nos.kill(os.getpid(), signal.SIGINT)\n")
    done = shell(tmp_path, "gratemap map", PYTHONPATH=f"{tmp_path}:{ROOT}")
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "")
