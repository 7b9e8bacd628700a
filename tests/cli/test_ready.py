"""`gratemap ready`: the clock, the exit code, and the same answer for people and programs."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime, timedelta

import pytest
import typer

from cli.ready import _next
from heatmap import load_grill, load_rounds


def test_readings_of_another_day_want_a_new_round(samples, gratemap):
    result = gratemap("ready", "--check")
    assert result.exit_code == 5
    assert result.stdout.startswith("Shoot a new round: the last is ")


def test_as_json_it_is_the_same_answer(samples, gratemap):
    sentence = gratemap("ready", "--any-age", "--target", "137").stdout.strip()
    found = json.loads(gratemap("ready", "--any-age", "--target", "137", "--json").stdout)
    assert found["sentence"] == sentence
    assert set(found) >= {"ready", "sentence", "wait_min", "place", "seconds_per_turn", "changes"}


def test_when_there_is_no_time_left_it_says_the_best_place_and_anyway_its_seconds(samples, gratemap):
    grill = load_grill("grill.toml")
    shot_at = load_rounds("readings.csv", grill)[-1].taken_at.astimezone()
    soon, later = (f"{shot_at + timedelta(minutes=minutes):%H:%M}" for minutes in (3, 180))
    words = ("ready", "--any-age", "--target", "137", "--size", "7.5x5", "--sear-at")
    now = gratemap(*words, soon)
    assert now.stdout.startswith("Too late for a change: best ") and "sear" not in now.stdout.lower()
    anyway = gratemap(*words, soon, "--anyway")
    assert re.fullmatch(r"Best place: (on|between) .+, \d+ s a turn; \d+ % likely to fit\.\n", anyway.stdout)
    assert "; wait until " in gratemap(*words, later).stdout


@pytest.mark.usefixtures("fine_cells")
def test_the_seconds_are_those_of_sear_after_the_same_test_piece(samples, gratemap):
    """The last line before the piece that counts must not forget what the test piece taught."""
    piece = ["--target", "137", "--tested", "60,60,60,60", "--peak", "130"]
    grill = load_grill("grill.toml")
    shot_at = load_rounds("readings.csv", grill)[-1].taken_at.astimezone()
    soon = f"{shot_at + timedelta(minutes=3):%H:%M}"
    untaught = json.loads(gratemap("sear", "--target", "137", "--json").stdout)
    sear = json.loads(gratemap("sear", *piece, "--json").stdout)
    now = ["--any-age", "--sear-at", soon, "--anyway", "--json"]
    ready = json.loads(gratemap("ready", "--target", "137", *now).stdout)
    assert ready["seconds_per_turn"] == pytest.approx(sear["seconds_per_turn"])
    assert abs(ready["seconds_per_turn"] - untaught["seconds_per_turn"]) > 2.0


@pytest.mark.parametrize("text", ["soon", "25:00", "13:61", "1340"])
def test_a_time_of_day_that_is_none_is_one_line(samples, gratemap, text):
    result = gratemap("ready", "--sear-at", text)
    assert result.exit_code == 2
    assert f'--sear-at is "{text}"; write a time of day such as 13:40' in " ".join(result.stderr.split())


def test_past_midnight_is_tomorrow_and_a_time_gone_by_is_refused():
    late = datetime(2031, 6, 14, 23, 50, 30, tzinfo=UTC)
    assert _next("00:10", late) == datetime(2031, 6, 15, 0, 10, tzinfo=UTC)
    assert _next(" 23:55 ", late) == datetime(2031, 6, 14, 23, 55, tzinfo=UTC)
    with pytest.raises(typer.BadParameter, match="--sear-at 23:40 is past; it is 23:50"):
        _next("23:40", late)


@pytest.mark.parametrize("at_least", ["1", "40", "99"])
def test_it_is_ready_from_the_chance_that_is_asked_for(samples, gratemap, at_least):
    words = ("ready", "--any-age", "--size", "7.5x5", "--at-least", at_least)
    found = json.loads(gratemap(*words, "--json").stdout)
    assert (found["decision"]["do"] == "sear") is (found["decision"]["chance"] >= float(at_least) / 100.0)
    assert gratemap(*words, "--check").exit_code == (0 if found["ready"] else 5)
