"""The sear clock: turns counted down, one key, what was really done kept."""

from __future__ import annotations

import contextlib
import csv
import re
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest

from cli import sear_clock
from heatmap import load_grill
from heatmap.sear import Rails, SearedPiece
from heatmap.words.sear import turns_text


class Kitchen:
    """A clock that runs while a key is waited for, and a hand that presses at known moments."""

    def __init__(self, presses: dict[float, str]) -> None:
        self.at, self.presses = 0.0, dict(presses)
        self.shown: list[tuple[float, str, str, str]] = []
        self.rung: list[float] = []

    def key(self, wait_s: float) -> str:
        due = min((when for when in self.presses if when <= self.at + wait_s + 1e-9), default=None)
        if due is None:
            self.at += wait_s
            return ""
        self.at = max(self.at, due)
        pressed = self.presses.pop(due)
        if pressed == "Ctrl-C":
            raise KeyboardInterrupt
        return pressed

    def run(self, turns: list[str], done: list[float] | None = None) -> list[float]:
        told = [] if done is None else done
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(sear_clock, "time", SimpleNamespace(monotonic=lambda: self.at))
            patch.setattr(sear_clock.console, "show_large", lambda *told: self.shown.append((self.at, *told)))
            patch.setattr(sear_clock.console, "put", lambda _: self.rung.append(self.at))
            sear_clock.run_clock(60.0, turns, self.key, told)
        return told


def test_each_turn_is_counted_down_and_rung_and_its_real_length_told():
    turns = ["set it down, heading 2", "turn it round, heading 10"]
    kitchen = Kitchen({5.0: " ", 68.0: " ", 118.0: "\n"})
    assert kitchen.run(turns) == [63.0, 50.0], "three seconds late, then ten too soon"
    assert kitchen.shown[0][1:] == ("Turn 1 of 2: set it down, heading 2", "60", "Space starts it, q ends.")
    assert any("Then turn it round, heading 10" in below for _, _, _, below in kitchen.shown)
    assert any(above == "Now turn it round, heading 10" for _, above, _, _ in kitchen.shown)
    assert kitchen.rung[0] == pytest.approx(65.0, abs=0.3)
    counts = [int(large) for at, above, large, _ in kitchen.shown if above.startswith("Turn 1") and at > 5.0]
    assert counts == sorted(counts, reverse=True), "never backwards"


def test_it_rings_again_while_nobody_moves_the_food_and_q_ends():
    kitchen = Kitchen({0.0: " ", 82.0: "q"})
    assert kitchen.run(["set it down"] * 4) == [82.0]
    assert len(kitchen.rung) == 5, "at 60, 65, 70, 75 and 80 s"
    assert Kitchen({3.0: "q"}).run(["set it down"]) == []


def test_a_key_pressed_twice_ends_no_turn():
    kitchen = Kitchen({5.0: " ", 5.4: " ", 60.0: " ", 60.3: "q"})
    assert kitchen.run(["set it down"] * 2) == [55.0]


@pytest.mark.parametrize(("stopped_at", "counted"), [(110.0, [62.0, 43.0]), (67.5, [62.0])])
def test_what_was_counted_before_ctrl_c_is_told(stopped_at, counted):
    """The turns that ended, and the one it ended unless that had hardly begun; then the interrupt goes on."""
    told: list[float] = []
    with pytest.raises(KeyboardInterrupt):
        Kitchen({5.0: " ", 67.0: " ", stopped_at: "Ctrl-C"}).run(["set it down"] * 4, told)
    assert told == counted


def test_crossed_marks_lie_on_both_faces_whatever_the_order_of_the_sides():
    aabb = turns_text(4, (2.0, 10.0), "AABB")
    assert aabb == [
        "set it down, heading 2", "turn it round, heading 10", "turn it over, heading 2", "turn it round, heading 10",
    ]  # fmt: skip
    abab = turns_text(4, (2.0, 10.0), "ABAB")
    assert abab == [
        "set it down, heading 2", "turn it over, heading 2", "turn it over, heading 10", "turn it over, heading 10",
    ]  # fmt: skip
    assert turns_text(2, (), "AABB") == ["set it down", "turn it over"]


@pytest.mark.parametrize("columns", [80, 60])
def test_what_was_done_is_kept_as_a_test_piece_and_no_slip_is(samples, at_terminal: Callable, columns):
    clock = at_terminal("sear", "--target", "137", "--turns", "2", "--clock", cwd=samples, columns=columns)
    clock.expect("Space starts it")
    clock.press(b" ")
    for told in ("Then turn it over", "Then take it off"):
        clock.expect(told)
        time.sleep(1.1)
        clock.press(b" ")
    clock.expect("n: nothing: ")
    clock.type("rather nice")
    clock.expect("a temperature, under, right, over, n, or only Enter")
    clock.expect("n: nothing: ")
    for slip, told in {"700": "as hot as the rails under it", "70 C": "cannot have peaked at 158 °F"}.items():
        clock.type(slip)
        clock.expect(told)
        clock.expect("n: nothing: ")
    clock.type("under")
    clock.ends_with(0)
    _, row = Path(samples / "sears.csv").read_text(encoding="utf-8").splitlines()
    assert ",under," in row
    plain = re.sub(r"\033\[[0-9;]*[A-Za-z]", "", clock.seen.replace("\r", ""))
    long = [line for line in plain.split("\n") if len(line) > columns]
    assert not long, long


@pytest.mark.parametrize("when", ["in a turn", "when asked"])
def test_ctrl_c_loses_no_turn_that_was_counted(samples, at_terminal: Callable, when):
    """The seconds are in the file of sears, how it came out not known; the exit code is that of Ctrl-C."""
    clock = at_terminal("sear", "--target", "137", "--turns", "2", "--clock", cwd=samples)
    clock.expect("Space starts it")
    clock.press(b" ")
    clock.expect("Then turn it over")
    time.sleep(1.1)
    clock.press(b" ")
    clock.expect("Then take it off")
    time.sleep(1.1)
    if when == "when asked":
        clock.press(b" ")
        clock.expect("n: nothing: ")
    clock.press(b"\x03")
    clock.expect("Kept in")
    clock.ends_with(130)
    (row,) = csv.DictReader((samples / "sears.csv").read_text(encoding="utf-8").splitlines())
    assert len(row["turns_s"].split()) == 2
    assert all(1.0 <= float(one) < 20.0 for one in row["turns_s"].split())
    assert (row["peak"], row["outcome"]) == ("", "")


def test_the_time_kept_is_when_it_came_off_and_not_when_it_was_told(samples, monkeypatch):
    at = datetime(2031, 6, 14, 13, 0, tzinfo=UTC)
    clock, kept = [at], []

    def later(minutes, answer=None):
        clock[0] += timedelta(minutes=minutes)
        return answer

    monkeypatch.setattr(sear_clock, "datetime", SimpleNamespace(now=lambda _: clock[0]))
    monkeypatch.setattr(sear_clock.console, "is_terminal", lambda _=None: True)
    monkeypatch.setattr(sear_clock, "_keys", lambda: contextlib.nullcontext(lambda _: ""))
    monkeypatch.setattr(sear_clock, "run_clock", lambda *words: words[-1].extend((60.0, later(4, 61.0))))
    monkeypatch.setattr(sear_clock.console, "ask", lambda _, __, read: read(later(10, "")))
    monkeypatch.setattr(sear_clock, "keep_piece", lambda *words: kept.append(words[-1]))
    piece = SearedPiece(taken_at=at, turns_s=(60.0, 60.0), start_c=43.0, thickness_mm=32.0)
    grill = load_grill(samples / "grill.toml")
    sear_clock.sear_clock(["set it down", "turn it over"], samples / "readings.csv", grill, Rails(rail_c=300.0), piece)
    (one,) = kept
    assert (one.turns_s, one.taken_at) == ((60.0, 61.0), at + timedelta(minutes=4))


def test_a_pipe_has_no_clock(samples, gratemap):
    refused = gratemap("sear", "--target", "137", "--clock")
    assert refused.exit_code == 3
    assert "--clock counts down at a terminal" in refused.stderr
