"""`gratemap history` on the sample readings: table, JSON, long logs."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest


def test_one_line_per_round_at_80_columns(samples, gratemap):
    result = gratemap("history")
    assert result.exit_code == 0
    lines = result.stdout.splitlines()
    assert max(map(len, lines)) <= 80
    assert len([line for line in lines if re.match(r" +\d+ ", line)]) == 3
    assert "5.5 5 4 4" in result.stdout


#: A re-check of the last round.
RECHECK = """\
38,4,2026-06-13,2026-06-13T14:34:00+00:00,A1,,,rail,560,dry,closed,,5.5,5,4,4,,
39,4,2026-06-13,2026-06-13T14:34:06+00:00,B3,,,rail,585,dry,closed,,5.5,5,4,4,,
40,4,2026-06-13,2026-06-13T14:34:12+00:00,C2,,,rail,570,dry,closed,,5.5,5,4,4,,
"""


@pytest.mark.parametrize("width", [60, 80, 120, None])
def test_columns_never_touch_and_lines_fit(samples, gratemap, monkeypatch, width):
    with open("readings.csv", "a", encoding="utf-8") as file:
        file.write(RECHECK)
    if width is not None:
        monkeypatch.setattr("cli.console.columns", lambda: width)
    result = gratemap("history")
    lines = result.stdout.splitlines()
    header, *rows = [line for line in lines if line.startswith("Round") or re.match(r" +\d+ ", line)]
    assert max(map(len, lines)) <= (width or 80)
    assert len(rows) == 4
    assert re.search(r"\d +re-check +\d+ +\d+ % \(\d+-\d+\) +\d+", rows[-1])
    for name in re.findall(r"\S+(?: band)?", header):
        end = header.index(name) + len(name)
        for row in rows:  # numbers end where their names end, and a blank follows
            assert name == "Marks" or row[end : end + 1] in ("", " ")
    assert ("Shots" in header) == (width != 60)
    assert ("Left out, for want of room: Shots, °F/min" in result.stderr) == (width == 60)


def test_at_a_terminal_no_line_is_broken(samples, at_terminal):
    terminal = at_terminal("history", cwd=samples)
    terminal.ends_with(0)
    lines = terminal.seen.splitlines()
    assert [line for line in lines if line.startswith(" ") and not re.match(r" +\d+ \d\d:\d\d ", line)] == []
    assert len([line for line in lines if re.match(r" +\d+ \d\d:\d\d .* [+-]\d+\.\d$", line)]) == 3


def test_json_is_one_object_with_the_same_numbers_as_map(samples, gratemap):
    rounds = json.loads(gratemap("history", "--json").stdout)["rounds"]
    assert [one["round"] for one in rounds] == [1, 2, 3]
    newest = json.loads(gratemap("map", "--json").stdout)["evenness"]
    assert rounds[-1]["spread_f"] == pytest.approx(newest["p95_minus_p5_f"])
    assert rounds[-1]["share_in_band"] == pytest.approx(newest["share_in_band"])
    assert rounds[-1]["marks"] == {"far left": 5.5, "inner left": 5.0, "inner right": 4.0, "far right": 4.0}
    assert rounds[0]["shots"] == 12
    assert rounds[0]["kind"] == "full"
    assert rounds[0]["taken_at"].startswith("2026-06-13T14:0")


def test_a_small_round_has_its_line(samples, gratemap):
    with open("readings.csv", "a", encoding="utf-8") as file:
        file.write("38,4,later,2026-06-13T15:00:00+00:00,A1,,,rail,560,dry,closed,,,,,,,\n")
    assert "too few shots for a map" in gratemap("history").stdout
    last = json.loads(gratemap("history", "--json").stdout)["rounds"][-1]
    assert (last["round"], last["kind"], last["spread_f"]) == (4, "no map", None)
    assert "at least 3" in last["why"]


def test_no_readings(samples, gratemap):
    Path("readings.csv").write_text("position,shown_f\n", encoding="utf-8")
    result = gratemap("history")
    assert result.exit_code == 3
    assert result.stdout == ""


def test_a_long_log_shows_the_newest_and_says_so(samples, gratemap, monkeypatch):
    monkeypatch.setattr("cli.history.NEWEST", 4)
    header, *rows = Path("readings.csv").read_text(encoding="utf-8").splitlines()
    row = [line.split(",") for line in rows[13:25]]
    with open("readings.csv", "w", encoding="utf-8") as file:
        file.write(header + "\n")
        for number in range(1, 7):
            for at, cells in enumerate(row):
                file.write(",".join([str(100 * number + at), str(number), *cells[2:]]) + "\n")
    result = gratemap("history")
    assert "The newest 4 of 6 rounds" in result.stderr
    assert len([line for line in result.stdout.splitlines() if re.match(r" +\d+ ", line)]) == 4
    rounds = json.loads(gratemap("history", "--json").stdout)["rounds"]
    assert [one["round"] for one in rounds] == [3, 4, 5, 6]
    assert len(json.loads(gratemap("history", "--json", "--all").stdout)["rounds"]) == 6


@pytest.mark.usefixtures("undrawn")
def test_notes_and_sears_are_shown_with_the_rounds(samples, gratemap):
    """A note is a row of the log that withdraws itself; what was seared stands in its own file."""
    log = Path("readings.csv")
    names = log.read_text(encoding="utf-8").splitlines()[0].split(",")
    note = {"id": "9001", "round": "1", "void": "9001", "note": "a little wind from the left"}
    cells = dict.fromkeys(names, "") | note
    log.write_text(log.read_text(encoding="utf-8") + ",".join(cells[name] for name in names) + "\n", encoding="utf-8")
    Path("sears.csv").write_text("turns_s,peak,outcome,place\n60 60 60 60,,under,B2\n", encoding="utf-8")
    said = gratemap("history").stdout
    assert "      a little wind from the left" in said.splitlines()
    assert "seared B2, 60 60 60 60 s: under." in said
    document = json.loads(gratemap("history", "--json").stdout)
    assert document["rounds"][0]["notes"] == ["a little wind from the left"]
    assert document["sears"][0]["outcome"] == "under"
    assert gratemap("report", "--output", "report.html").exit_code == 0
    page = Path("report.html").read_text(encoding="utf-8")
    assert "Round 1: a little wind from the left" in page
    assert "seared B2, 60 60 60 60 s: under." in page
