"""One verdict, one voice: every command carries the same decision, in few lines, at 80 and at 60 columns."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path

import pytest

from cli import console
from heatmap.assessment import assess
from heatmap.decisions.decision import decide
from heatmap.decisions.placement import Footprint, Wanted, find_places
from heatmap.readings.reading import Round
from heatmap.report.documents import burners_document, map_document, place_document, ready_document
from heatmap.synthetic import draw_grill
from heatmap.words.burners import burner_lines, why
from heatmap.words.decision import decision_sentence
from heatmap.words.map import map_lines
from heatmap.words.place import place_lines

FOOD = "[food]\nsize = [7.5, 5.0]\nheadings = [2, 10]\nthickness = 1.25\nstart = 110.0\ntarget = 137.0\n"
MOST_LINES = {"map": 4, "burners": 6, "place": 5, "sear --target 137": 6, "compare": 4, "ready --target 137": 3}
COMMANDS = ("map", "burners", "place", "sear --target 137", "ready --target 137")


def now_is(monkeypatch: pytest.MonkeyPatch, minutes: float) -> None:
    """Make it so many minutes after the newest of the sample readings, for every command."""
    then = datetime(2026, 6, 13, 14, 24, tzinfo=UTC) + timedelta(minutes=minutes)

    class Stopped(datetime):
        @classmethod
        def now(cls, tz: tzinfo | None = None) -> datetime:
            return then.astimezone(tz)

    for module in ("loading", "ready"):
        monkeypatch.setattr(f"cli.{module}.datetime", Stopped)


def with_band(folder: Path, low: int, high: int, food: str) -> None:
    text = (folder / "grill.toml").read_text(encoding="utf-8")
    text = text.replace("low = 550.0", f"low = {low}.0").replace("high = 600.0", f"high = {high}.0")
    (folder / "grill.toml").write_text(f"{text}\n{food}", encoding="utf-8")


@pytest.mark.parametrize("food", ["", FOOD], ids=["zone", "food"])
@pytest.mark.parametrize("minutes", [2.0, 45.0, 3000.0])
@pytest.mark.parametrize("band", [(550, 600), (480, 700), (750, 800)])
def test_every_command_carries_the_same_decision(samples, gratemap, monkeypatch, food, minutes, band) -> None:
    now_is(monkeypatch, minutes)
    with_band(samples, *band, food)
    found = {}
    for words in COMMANDS:
        decision = json.loads(gratemap(*words.split(), "--json").stdout)["decision"]
        said = " ".join(gratemap(*words.split()).stdout.split())
        assert re.split(r", \d+ s a turn| \(\d+ min\)|until \d\d:\d\d", decision["sentence"])[0] in said, words
        found[words] = {name: decision[name] for name in ("do", "changes", "positions", "place", "chance")}
    assert all(decision == found["map"] for decision in found.values()), found


@pytest.mark.parametrize("minutes", [2.0, 45.0, 3000.0])
def test_next_says_the_decision_first_and_never_that_no_shot_helps_where_one_is_asked_for(
    samples, gratemap, monkeypatch, minutes
) -> None:
    now_is(monkeypatch, minutes)
    decision = json.loads(gratemap("map", "--json").stdout)["decision"]
    first, *rest = gratemap("next").stdout.splitlines()
    assert first.split(" (")[0] == decision["sentence"].split(" (")[0]
    named = [line.split()[0] for line in rest[:3]]
    assert named[: len(decision["positions"])] == decision["positions"][: len(named)]
    assert (decision["do"] == "shoot") is (minutes > 20.0), "the premise"
    assert decision["do"] != "shoot" or "hardly change" not in " ".join(rest)


def test_what_a_test_piece_taught_every_command_knows(samples, gratemap, monkeypatch) -> None:
    """Written beside the readings by `sear`, it changes the seconds, and on every screen to the same."""
    now_is(monkeypatch, 2.0)
    with_band(samples, 480, 700, FOOD)
    untaught = json.loads(gratemap("map", "--json").stdout)["decision"]
    assert untaught["do"] == "sear", "the premise"
    gratemap("sear", "--tested", "60", "--peak", "126")
    said = {words: json.loads(gratemap(*words.split(), "--json").stdout)["decision"]["sentence"] for words in COMMANDS}
    assert len(set(said.values())) == 1, said
    assert untaught["sentence"] not in said.values()
    now_is(monkeypatch, 45.0)
    told = " ".join(gratemap("burners").stdout.split())
    seconds = re.search(r"\d+ s a turn", next(iter(said.values())))
    assert "When it was shot: sear on" in told, "the premise"
    assert seconds is not None and seconds.group() in told


@pytest.mark.parametrize("width", [80, 60])
@pytest.mark.parametrize("food", ["", FOOD], ids=["zone", "food"])
def test_default_answers_fit_in_few_lines_and_words_are_never_split(
    samples, gratemap, food, width, monkeypatch
) -> None:
    monkeypatch.setattr(console, "columns", lambda: width)
    now_is(monkeypatch, 2.0)
    with_band(samples, 550, 600, food)
    for words, most in MOST_LINES.items():
        plain = gratemap(*words.split()).stdout.rstrip("\n")
        below = plain.partition("YOU\n")[2] or plain
        lines = console.wrapped(below, width).split("\n")
        assert len(lines) <= most, (words, lines)
        assert max(map(len, lines)) <= width, (words, lines)
        assert " ".join(" ".join(lines).split()) == " ".join(below.split()), "broken between words only"


@pytest.mark.parametrize("seeds", [8, pytest.param(50, marks=pytest.mark.slow)])
def test_drawn_states_say_one_thing(seeds) -> None:
    """Make-believe rounds, with food and without: no screen and no JSON contradicts the decision of another, and every
    sentence fits in three lines.

    Every fourth grill is shot at every second position first.
    """
    food = Wanted(footprint=Footprint(length_mm=190.5, width_mm=127.0), headings=(2.0, 10.0))
    seen = set()
    for seed in range(seeds):
        grill = draw_grill(seed, numbers="shown" if seed % 3 else "rail", cell_mm=50.8)
        rounds: list[Round] = []
        for number in (1, 2, 3):
            few = number == 1 and seed % 4 == 0
            rounds.append(grill.play_round(number, order=grill.grill.labels[::2] if few else None))
            assessment = assess(grill.grill, rounds)
            for wanted in (None, food):
                decision = decide(assessment, wanted, rounds[-1].taken_at)
                seen.add(decision.do)
                sentence = decision_sentence(assessment, decision)
                placement = find_places(assessment, wanted or food)
                screens = [
                    map_lines(assessment, decision),
                    burner_lines(assessment, decision, decision),
                    place_lines(assessment, placement, decision),
                ]
                assert all(lines[0] == sentence for lines in screens)
                for width in (60, 80):
                    lines = console.wrapped(sentence, width).split("\n")
                    assert len(lines) <= 3 and max(map(len, lines)) <= width, lines
                rest = " ".join(line for lines in screens for line in lines[1:]) + " " + why(assessment, decision)
                assert not re.search(r"\b[Ss]ear (on|between|anywhere)|\bTurn (?!panel)", rest), rest
                assert ("Expected to bring" in rest) is (decision.do == "turn")
                assert decision.do != "stuck" or decision.remedies
                assert (decision.do == "sear") <= (decision.chance >= 0.7)
                documents = [
                    map_document(assessment, decision),
                    burners_document(assessment, decision, decision),
                    place_document(assessment, placement, decision),
                    ready_document(assessment, decision, anyway=False),
                ]
                assert all(one["decision"] == documents[0]["decision"] for one in documents)
            grill.turn(decide(assessment).settings)
            grill.wait(20.0)
    assert {"turn", "stuck"} <= seen
    assert seeds < 50 or "shoot" in seen
