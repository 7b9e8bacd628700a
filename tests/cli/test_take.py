"""`gratemap take` typed at a real pseudo-terminal."""

from __future__ import annotations

import itertools
import json
import os
import re
import signal
import sys
import time

import pytest

from heatmap import load_grill, load_rounds
from heatmap.readings.csv_file import read_readings
from started import run

WALK = "B2 A1 C4 A4 C1 A2 B3 B1 A3 C2 B4 C3".split()
NUMBERS = dict(zip(WALK, (580, 562, 601, 571, 590, 566, 588, 577, 570, 593, 584, 597), strict=True))


def written(folder):
    """Return every row of the log, strictly read."""
    return read_readings(folder / "readings.csv", load_grill(folder / "grill.toml")).readings


def standing(folder):
    """Return position and number of what stands, rounded to the display step."""
    rounds = load_rounds(folder / "readings.csv", load_grill(folder / "grill.toml"))
    return [(one.position, round(one.shown_c * 1.8 + 32)) for one in rounds[-1].readings]


def shot_once(at_terminal, *words):
    """Begin a round with 580 at B2; A1 is asked for."""
    terminal = at_terminal("take", "--lid", "open", *words)
    terminal.asks_for("B2")
    terminal.type("580")
    terminal.asks_for("A1")
    return terminal


def test_a_full_session_from_the_knobs_to_the_verdict(knob_grill, at_terminal):
    terminal = at_terminal("take", "--bell")
    terminal.expect("Where do the knobs stand")
    terminal.type("6.5 6")
    terminal.expect(r"was the lid 1 open or 2 closed\?  Enter for open:")
    terminal.type("2")
    for count, label in enumerate(WALK, 1):
        seen = terminal.asks_for(label)
        assert ("So far:" in seen) == (count > 5)
        terminal.type(str(NUMBERS[label]))
        terminal.expect(f"Kept: {label} {NUMBERS[label]}")
    seen = terminal.asks_for("B2")
    assert "12 of 12 shot" in seen
    assert "lid closed; left 6.5" in seen
    terminal.type("*")
    answer = terminal.expect("Another round")
    assert "in band" in answer
    assert "Numbers are what your gun shows" in answer
    terminal.type("")
    terminal.ends_with(0)
    rows = written(knob_grill)
    assert [row.position for row in rows] == WALK
    assert all(row.taken_at is not None and row.session and row.round == 1 for row in rows)
    assert all(dict(row.knobs) == {"left": 6.5, "right": 6.0} for row in rows)
    assert {row.lid for row in rows} == {"closed"}
    assert terminal.seen.count("\a") == len(WALK)


def test_json_goes_to_stdout_and_the_talk_does_not(plain_grill, at_terminal):
    reader, writer = os.pipe()
    terminal = at_terminal("take", "--lid", "open", "--json", stdout=writer)
    os.close(writer)
    for label in WALK[:8]:
        terminal.asks_for(label)
        terminal.type(str(NUMBERS[label]))
    terminal.asks_for(WALK[8])
    terminal.type("done")
    terminal.ends_with(0)
    with os.fdopen(reader, encoding="utf-8") as file:
        document = json.load(file)
    assert [spot["position"] for spot in document["spots"]] == WALK[:8]


def test_undo_skip_row_contact_over_range_and_lines_that_are_not_understood(plain_grill, at_terminal):
    terminal = shot_once(at_terminal)
    terminal.type("")
    terminal.asks_for("A1")
    terminal.type("-")
    terminal.expect("Taken back: B2 580")
    terminal.asks_for("B2")
    terminal.type("+")
    terminal.expect("B2 is left out")
    terminal.asks_for("A1")
    terminal.type("B 585 590 - 600")
    terminal.expect("Kept: B1 585, B2 590, B4 600")
    terminal.asks_for("A1")
    terminal.type("contact 610")
    terminal.expect("contact A1 610.*Now the gun on the rail at A1")
    terminal.type("HI")
    terminal.expect("A1: above what the gun can show; not kept")
    terminal.type("5l5")
    terminal.expect('"5l5" is not understood')
    terminal.type("valley B1 640")
    terminal.expect("Kept: valley B1 640. From so far it tells little")
    terminal.type("oiled")
    terminal.expect("From here on the rails are oiled")
    terminal.type("?")
    terminal.expect("a surface probe on the rail")
    terminal.type("577")
    terminal.expect("Kept: A1 577")
    terminal.type("done")
    terminal.expect("Another round")
    terminal.type("")
    terminal.ends_with(0)
    assert standing(plain_grill) == [("B1", 585), ("B2", 590), ("B4", 600), ("A1", 610), ("B1", 640), ("A1", 577)]
    rows = written(plain_grill)
    assert [row.aim for row in rows if row.shown_c is not None and row.aim != "rail"] == ["contact", "valley"]
    assert rows[-1].surface == "oiled"
    assert [row.void for row in rows if row.void is not None] == [1]


def test_contact_readings_that_contradict_one_another_are_told_at_once(plain_grill, at_terminal):
    terminal = at_terminal("take", "--lid", "open", fine=True)  # how many lines the answer has room for hangs on it
    for label in WALK[:6]:
        terminal.asks_for(label)
        terminal.type(str(NUMBERS[label]))
    terminal.asks_for("B3")
    terminal.type("contact B2 604")
    assert "apart" not in terminal.asks_for("B3")
    terminal.type("contact B2 545")
    terminal.expect(r"Contact readings disagree by (58|59) °F: 545 at B2, 604 at B2")
    terminal.asks_for("B3")
    terminal.type("*")
    terminal.expect(r"Contact readings disagree by \d+ °F: 545 at B2, 604 at B2")


def screen_now(terminal):
    """Return what stands on the screen: all since it was cleared last."""
    return terminal.seen.rpartition("\033[2J")[2]


def test_an_error_goes_with_the_next_good_reading_and_stays_until_then(plain_grill, at_terminal):
    terminal = at_terminal("take", "--lid", "open")
    terminal.asks_for("B2")
    terminal.type("58o")
    terminal.expect('"58o" is not understood')
    terminal.asks_for("B2")
    terminal.poll(0.6)
    assert "not understood" in screen_now(terminal)
    terminal.type("580")
    terminal.expect("Kept: B2 580")
    terminal.asks_for("A1")
    assert "Kept: B2 580" in screen_now(terminal)
    assert "not understood" not in screen_now(terminal)


def test_a_slip_in_the_very_first_reading_is_asked_about(plain_grill, at_terminal):
    terminal = at_terminal("take", "--lid", "open")
    terminal.asks_for("B2")
    terminal.type("58")
    terminal.expect(r"58 at B2\? Your band is 550-600, the air 75: the right number, again, or keep\?")
    terminal.type("580")
    terminal.expect("Kept: B2 580")
    terminal.asks_for("A1")
    assert standing(plain_grill) == [("B2", 580)]


def test_a_reading_that_cannot_be_is_asked_about(plain_grill, at_terminal):
    terminal = at_terminal("take", "--lid", "open", "--bell")
    for label in WALK[:6]:
        terminal.asks_for(label)
        terminal.type(str(NUMBERS[label]))
    terminal.asks_for("B3")
    before = terminal.seen.count("\a")
    terminal.type("58")
    question = terminal.expect("58 at B3, where about [0-9]+ is expected: again, keep, or 58[0-9]")
    assert abs(int(question.split("about ")[1].split()[0]) - 583) < 12
    assert terminal.seen.count("\a") == before + 2
    assert len(written(plain_grill)) == 6
    terminal.type("")  # an empty Enter repeats the question
    terminal.expect("58 at B3, where about")
    terminal.type("again")
    terminal.expect("58 at B3 was not kept")
    terminal.asks_for("B3")
    terminal.type("58")
    terminal.expect("again, keep, or 58")
    terminal.type("583")
    terminal.expect("Kept: B3 583")
    terminal.asks_for("B1")
    terminal.type("420")
    terminal.expect("420 at B1, where about")
    terminal.type("keep")
    terminal.expect("Kept: B1 420")
    terminal.asks_for("A3")
    terminal.type("900")
    terminal.expect("900 at A3, where about")
    terminal.type("901")  # a second witness: the number pad needs no words
    terminal.expect("Kept: A3 901")
    terminal.asks_for("C2")
    notes = {row.position: row.note for row in written(plain_grill)}
    assert notes["B3"] == ""
    assert notes["B1"].startswith("kept")
    assert notes["A3"].startswith("kept")


def test_a_slip_kept_early_is_found_when_the_others_speak_against_it(plain_grill, at_terminal):
    terminal = at_terminal("take", "--lid", "open", "--order", "rows")
    # Too little off to be asked about while there is no map, too much off to be believed later.
    walk = "A1 A2 A3 A4 B1 B2 B3 B4".split()
    terminal.asks_for(walk[0])
    for label, after in itertools.pairwise(walk):
        terminal.type("440" if label == "A2" else "57" + label[1])
        here = terminal.expect(rf"A2 440 does not fit the others|, keep|\n{after}:")
        if here.endswith("keep"):  # the map as it leans so far may doubt it
            terminal.type("keep")
            here = terminal.expect(rf"A2 440 does not fit the others|\n{after}:")
        if here.endswith("others"):
            break
    else:
        pytest.fail("all eight were believed")
    terminal.asks_for("A2")


def test_ctrl_c_ends_with_130_and_the_round_can_be_continued(plain_grill, at_terminal):
    terminal = at_terminal("take", "--lid", "open")
    for label in WALK[:3]:
        terminal.asks_for(label)
        terminal.type(str(NUMBERS[label]))
    terminal.asks_for("A4")
    terminal.press(b"\x03")
    terminal.expect("3 readings of round 1 safe")
    terminal.ends_with(130)
    assert len(written(plain_grill)) == 3
    terminal = at_terminal("take", "--continue")
    terminal.expect("Going on with round 1: 3 readings")
    terminal.asks_for("A4")
    terminal.type("571")
    terminal.asks_for("C1")
    terminal.press(b"\x04")  # Ctrl-D: no more
    terminal.ends_with(0)
    assert standing(plain_grill) == [(label, NUMBERS[label]) for label in WALK[:4]]
    terminal = at_terminal("take", "--lid", "open")
    terminal.expect("Round 2, session .*--continue goes on")
    terminal.asks_for("B2")


def test_a_terminal_that_hangs_up_leaves_the_log_whole(plain_grill, at_terminal):
    terminal = shot_once(at_terminal)
    terminal.hang_up()
    terminal.ends_with(128 + signal.SIGHUP)
    assert standing(plain_grill) == [("B2", 580)]


def test_sigterm_leaves_the_log_whole(plain_grill, at_terminal):
    terminal = shot_once(at_terminal)
    terminal.process.send_signal(signal.SIGTERM)
    terminal.expect("1 reading of round 1 safe")
    terminal.ends_with(128 + signal.SIGTERM)
    assert standing(plain_grill) == [("B2", 580)]


def test_a_reading_that_cannot_be_written_is_shown_and_asked_for_again(plain_grill, at_terminal):
    folder = plain_grill / "gone"
    folder.mkdir()
    terminal = shot_once(at_terminal, "--readings", str(folder / "readings.csv"))
    away = folder.rename(plain_grill / "away")  # the stick is pulled out
    terminal.type("562")
    terminal.expect("A1 562 .*NOT written")
    terminal.asks_for("A1")
    away.rename(folder)  # and put back
    terminal.type("563")
    terminal.expect("Kept: A1 563")
    terminal.press(b"\x03")
    terminal.ends_with(130)


def test_a_folder_that_cannot_be_written_to_is_told_at_once(plain_grill, gratemap, monkeypatch):
    monkeypatch.chdir(plain_grill)
    result = gratemap("take", "-", "--readings", "none/readings.csv", typed="B2 580\n")
    assert result.exit_code == 3
    assert "cannot be opened for writing" in result.stderr


def test_two_writers_are_kept_apart(plain_grill, at_terminal):
    first = at_terminal("take", "--lid", "open")
    first.asks_for("B2")
    second = at_terminal("take", "--lid", "open")
    second.expect("being written by another gratemap")
    second.ends_with(3)


def test_marks_are_asked_once_and_enter_keeps_the_last_known(knob_grill, at_terminal):
    terminal = at_terminal("take", "--lid", "open", "--knob", "left=7")
    terminal.expect(r"Where do the knobs stand\?  right\r\n")
    terminal.type("eleven")
    terminal.expect("is no mark of burner")
    terminal.type("5.5")
    terminal.asks_for("B2")
    terminal.type("580")
    terminal.expect("Kept")
    terminal.press(b"\x04")
    terminal.ends_with(0)
    terminal = at_terminal("take", "--lid", "open")
    terminal.expect(r"left \(7\), right \(5.5\)")
    terminal.type("")
    terminal.asks_for("B2")
    terminal.type("knob left 4")
    terminal.expect("left is at 4 from the next shot on")
    terminal.type("580")
    terminal.expect("Kept")
    assert dict(written(knob_grill)[-1].knobs) == {"left": 4.0, "right": 5.5}


def test_a_cook_who_shoots_instead_of_telling_the_marks_loses_no_number(knob_grill, at_terminal):
    terminal = at_terminal("take", "--lid", "open")
    terminal.expect("Where do the knobs stand")
    terminal.type("580")
    terminal.expect("the marks stay unknown")
    terminal.expect("Kept: B2 580")
    terminal.asks_for("A1")


def test_the_lid_is_asked_once_a_day_and_enter_keeps_what_it_was(plain_grill, at_terminal):
    (plain_grill / "readings.csv").write_text(
        "id,round,session,taken_at,position,shown_f,lid\n1,1,may,2025-05-03T12:00:00Z,B2,580,closed\n", encoding="utf-8"
    )
    terminal = at_terminal("take")
    terminal.expect(r"1 open or 2 closed\?  Enter for closed, as in round 1:")
    terminal.type("ajar")
    terminal.expect("Type 1 for open, 2 for closed")
    terminal.type("")
    assert "lid closed" in terminal.asks_for("B2")
    terminal.type("580")
    terminal.expect("Kept: B2 580")
    terminal.press(b"\x04")
    terminal.ends_with(0)
    terminal = at_terminal("take")
    assert "lid closed" in terminal.asks_for("B2")
    terminal.type("581")
    terminal.expect("Kept: B2 581")
    assert "1 open or 2 closed" not in terminal.seen
    assert [row.lid for row in written(plain_grill)] == ["closed"] * 3


def test_a_shot_typed_where_the_lid_is_asked_is_kept(plain_grill, at_terminal):
    terminal = at_terminal("take")
    terminal.expect("1 open or 2 closed")
    terminal.type("580")
    terminal.expect("Then the lid is taken as open")
    terminal.expect("Kept: B2 580")
    terminal.type("lid closed")
    terminal.expect("with the next shot")
    assert "lid closed" in terminal.asks_for("A1")


def test_a_mark_too_few_is_asked_for_again_and_never_kept_as_a_reading(knob_grill, at_terminal):
    terminal = at_terminal("take", "--lid", "open")
    terminal.expect("Where do the knobs stand")
    terminal.type("6")
    terminal.expect("1 of 2 marks")
    terminal.expect("Where do the knobs stand")
    terminal.type("6 5.5")
    terminal.asks_for("B2")
    terminal.type("580")
    terminal.expect("Kept: B2 580")
    assert standing(knob_grill) == [("B2", 580)]
    assert dict(written(knob_grill)[-1].knobs) == {"left": 6.0, "right": 5.5}


def test_a_knob_turned_without_a_shot_after_it_is_said_not_to_be_written(knob_grill, at_terminal):
    terminal = shot_once(at_terminal, "--knob", "left=6", "--knob", "right=5.5")
    terminal.type("knob left 7")
    terminal.expect("left is at 7 from the next shot on")
    terminal.press(b"\x03")
    terminal.expect("No shot came after left 7: not written")
    terminal.ends_with(130)
    terminal = at_terminal("take", "--continue")
    terminal.expect("Knobs as far as is known: left 6, right 5.5. Turned since")
    terminal.asks_for("A1")
    terminal.type("knob left 7")
    terminal.expect("left is at 7")
    terminal.type("562")
    terminal.expect("Kept: A1 562")
    terminal.press(b"\x03")
    terminal.ends_with(130)
    assert "not written" not in terminal.seen
    assert [dict(row.knobs)["left"] for row in written(knob_grill)] == [6.0, 7.0]


def test_another_round_takes_the_marks_over(knob_grill, at_terminal):
    terminal = at_terminal("take", "--lid", "open", "--knob", "left=7", "--knob", "right=5.5", "--order", "rows")
    for label in "A1 A2 A3 A4 B1 B2".split():
        terminal.asks_for(label)
        terminal.type("575")
    terminal.asks_for("B3")
    terminal.type("done")
    terminal.expect("Another round")
    for stray in ("85", "what", "?"):
        terminal.type(stray)
        terminal.expect("In doubt: again, keep" if stray == "?" else "That is no answer here.")
        terminal.expect("Another round")
    terminal.type("y")
    terminal.expect("Round 2, session")
    terminal.asks_for("A1")
    terminal.type("574")
    terminal.expect("Kept: A1 574")
    last = written(knob_grill)[-1]
    assert last.round == 2
    assert set(last.knobs) == {"left", "right"}


@pytest.mark.parametrize("columns", [80, 60])
def test_every_screen_fits_its_columns_and_24_lines(knob_grill, at_terminal, columns):
    def lines_now():
        plain = re.sub(r"\033\[[0-9;]*m", "", screen_now(terminal).replace("\r", ""))
        assert max(map(len, plain.split("\n"))) <= columns, plain
        return plain.split("\n")

    terminal = at_terminal("take", "--lid", "open", "--knob", "left=6.5", "--knob", "right=10", columns=columns)
    for label in WALK[:7]:
        terminal.asks_for(label)
        terminal.type(str(NUMBERS[label]))
    terminal.asks_for("B1")
    assert len(lines_now()) <= 24
    terminal.type("?")
    terminal.expect("In doubt: again, keep, or the right number")
    terminal.asks_for("B1")
    lines_now()
    terminal.type("*")
    terminal.expect("Another round")
    terminal.type("turned left 8")
    terminal.expect("Enter begins the round at once")
    assert len(lines_now()) <= 24
    for stray in ("what", "85", "n"):  # none of these ends the wait
        terminal.type(stray)
        terminal.expect("That is no answer here.")
        terminal.expect("Enter begins the round at once")
    terminal.type("")
    terminal.expect("Round 2, session")


def test_without_a_terminal_there_are_no_control_signs(plain_grill):
    result = run("take", given="580\n562\n", cwd=plain_grill, text=True)
    assert "\033[" not in result.stdout + result.stderr


def test_close_up_leads_through_the_pairs_once_a_sitting(plain_grill, at_terminal):
    terminal = at_terminal("take", "--lid", "open", "--order", "rows", "--close-up")
    for label, numbers in {"A1": (575, 602, 611), "A2": (578, 604, 609), "A3": (581, 606, 615)}.items():
        terminal.asks_for(label)
        terminal.type(str(numbers[0]))
        terminal.expect(f"{label}, from 4 in, on the rail:")
        terminal.type(str(numbers[1]))
        terminal.expect(f"{label}, from 4 in, between two rails:")
        terminal.type(str(numbers[2]))
        terminal.expect(f"Kept: valley {label} {numbers[2]} from 4 in")
    for label in ("A4", "B1", "B2"):
        terminal.asks_for(label)
        terminal.type("577")
        terminal.expect(f"{label}, from 4 in, on the rail:")
        terminal.type("+")
        terminal.expect("from 4 in, on the rail is left out")
    terminal.asks_for("B3")
    terminal.type("done")
    terminal.expect("Another round")
    terminal.type("y")
    terminal.expect("Round 2, session")
    terminal.asks_for("A1")
    terminal.type("580")
    terminal.asks_for("A2")
    terminal.type("done")
    terminal.expect("Another round")
    terminal.type("")
    terminal.ends_with(0)
    rows = [row for row in written(plain_grill) if row.distance_mm is not None]
    assert [(row.position, row.aim) for row in rows[:4]] == [
        ("A1", "rail"),
        ("A1", "valley"),
        ("A2", "rail"),
        ("A2", "valley"),
    ]
    assert {round(row.distance_mm, 1) for row in rows} == {101.6}
    assert len(rows) == 6


def test_close_up_is_refused_where_it_tells_nothing(plain_grill, monkeypatch, gratemap):
    monkeypatch.chdir(plain_grill)
    assert gratemap("take", "-", "--close-up", "--recheck", typed="580\n").exit_code == 2
    done = gratemap("take", "-", "--close-up", "--distance", "4", typed="580\n")
    assert done.exit_code == 3
    assert "leave one of them out" in " ".join(done.stderr.split())
    with (plain_grill / "grill.toml").open("a", encoding="utf-8") as file:
        file.write("\n[gun]\nsmallest_spot = 1.0\n")
    done = gratemap("take", "-", "--close-up", typed="580\n")
    assert done.exit_code == 3
    assert "cannot be made small enough" in " ".join(done.stderr.split())
    assert not (plain_grill / "readings.csv").exists()


def test_a_round_gone_on_with_is_shot_from_where_it_was_begun(plain_grill, monkeypatch, gratemap):
    monkeypatch.chdir(plain_grill)
    gratemap("take", "-", "--distance", "10", "--order", "rows", typed="580\nA2 604 from 4\ndone\n")
    gratemap("take", "-", "--continue", "--order", "rows", typed="570\ndone\n")
    rows = written(plain_grill)
    # A2 has a shot from close up only, so it is what the walk asks for next.
    assert [(row.position, round(row.distance_mm)) for row in rows] == [("A1", 254), ("A2", 102), ("A2", 254)]


def test_positions_and_kept_numbers_are_said_and_a_mute_program_holds_nothing_up(plain_grill, at_terminal, tmp_path):
    said = tmp_path / "said.txt"
    program = tmp_path / "speak.py"
    program.write_text(
        f"import sys\nwith open({str(said)!r}, 'a') as file:\n    file.write(sys.argv[-1] + chr(10))\n",
        encoding="utf-8",
    )
    take = at_terminal("take", "--lid", "open", "--speak", f"{sys.executable} {program}", cwd=plain_grill)
    take.asks_for("B2")
    take.type("575")
    take.asks_for("A1")
    until = time.monotonic() + 20.0
    while time.monotonic() < until and "575. A 1" not in (said.read_text() if said.exists() else ""):
        take.poll(0.1)
    assert said.read_text().splitlines()[-1] == "575. A 1"
    take.type("*")
    take.expect("Another round|No map yet")
    take.type("")
    take.ends_with(0)
    mute = at_terminal("take", "--lid", "open", "--speak", "no-such-speaker", cwd=plain_grill)
    mute.expect("no-such-speaker does not speak: .* Going on without.")
    mute.type("575")
    mute.expect("Kept: B2 575.")


def test_a_turn_told_before_take_ended_is_remembered_with_its_marks_and_its_wait(knob_grill, at_terminal):
    take = at_terminal("take", "--lid", "open")
    take.expect("Where do the knobs stand")
    take.type("6.5 6")
    take.asks_for("B2")
    take.type("575")
    take.asks_for("A1")
    take.type("t")
    take.expect("no turn is advised now; type which, and to which mark, like turned left 10")
    take.type("*")
    take.expect("Another round")
    take.type("t")
    take.expect("no turn is advised now")
    take.expect("ends:")
    take.type("turned left 8")
    take.expect("Turned at .*: left 8, right 6")
    take.type("*")
    take.expect("ends:")
    take.type("")
    take.ends_with(0)
    again = at_terminal("take", "--lid", "open")
    again.expect("min too soon: this round counts the turn only as far as its change has come")
    again.expect(r"left \(8\)")
