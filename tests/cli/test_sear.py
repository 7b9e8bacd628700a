"""`gratemap sear`: seconds a turn, and what test pieces teach."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime
from pathlib import Path

import pytest


def test_it_says_which_place_the_rails_are_of_and_how_well_they_are_known(samples, gratemap):
    place = json.loads(gratemap("place", "--json").stdout)["places"][0]
    document = json.loads(gratemap("sear", "--target", "137", "--json").stdout)
    said = gratemap("sear", "--target", "137", "--why").stdout
    where = f"{place['where'].removeprefix('centre ')} (round 3)"
    assert document["rail_from"] == where
    (line,) = (one for one in said.splitlines() if one.startswith("Rails "))
    found = re.fullmatch(r"Rails (\d+) ±(\d+) °F (.+); food 1.25 in thick, 110 °F at its centre.", line)
    assert found and found[3] == where
    assert int(found[1]) == round(place["rail_f"])
    assert int(found[2]) > 1.96 * place["rail_own_std_f"]  # what all readings share comes on top
    stated = gratemap("sear", "--target", "137", "--rail", "575", "--why")
    assert "Rails 575 °F; food" in stated.stdout
    assert json.loads(gratemap("sear", "--target", "137", "--rail", "575", "--json").stdout)["rail_from"] is None


@pytest.mark.usefixtures("undrawn")
def test_ready_and_report_know_the_test_piece_that_was_told_to_sear(samples, gratemap):
    """A piece of another thickness and start, on other rails, teaches the same in all three."""
    text = (samples / "grill.toml").read_text(encoding="utf-8")
    text = text.replace("low = 550.0", "low = 480.0").replace("high = 600.0", "high = 700.0")  # the knobs can stay
    (samples / "grill.toml").write_text(text, encoding="utf-8")
    target = ("--target", "137")
    said = {"--rail": "640", "--thickness": "1.4", "--start": "106"}

    def seconds(command, *more):
        return json.loads(gratemap(command, *target, *more, "--json").stdout)["seconds_per_turn"]

    def taught(left_out):
        (samples / "sears.csv").unlink(missing_ok=True)
        words = [word for name, value in said.items() if name != left_out for word in (name, value)]
        gratemap("sear", *target, *words, "--tested", "60,50,60,50", "--peak", "127")
        return seconds("sear")

    for left_out in said:
        assert abs(taught(left_out) - taught("")) > 0.5, left_out
    told = taught("")
    assert seconds("ready", "--any-age", "--anyway") == pytest.approx(told)
    assert gratemap("report", *target, "--output", "page.html").exit_code == 0
    assert f">{told:.0f} s a turn, 4 turns<" in (samples / "page.html").read_text(encoding="utf-8")


def test_a_piece_told_beside_others_of_the_day_counts_as_the_last_of_them_now_and_later(samples, gratemap):
    """Told, told once more, and not told any more: the same seconds, and what is said is of the piece that was told."""
    today = datetime.now(UTC).isoformat(timespec="seconds")
    columns, row = "taken_at,turns_s,start,thickness,peak,outcome", f"{today},70 70 70 70,110,1.25,,over"
    (samples / "sears.csv").write_text(f"{columns}\n{row}\n", encoding="utf-8")
    words, told = ("sear", "--target", "137"), ("--tested", "50", "--peak", "128")
    assert "The test piece came out over" in gratemap(*words).stdout
    seconds = [json.loads(gratemap(*words, *more, "--json").stdout)["seconds_per_turn"] for more in (told, told, ())]
    assert seconds == pytest.approx([seconds[0]] * 3)
    assert "came out over" not in gratemap(*words, *told).stdout


def test_a_piece_told_again_is_learned_from_also_where_another_day_stands_last_in_the_file(samples, gratemap):
    """Rows written down by hand, in no order: what the cook says now is not passed over for one of another day."""
    words, told = ("sear", "--target", "137", "--json"), ("--tested", "50", "--peak", "128")
    first = json.loads(gratemap(*words, *told).stdout)
    with (samples / "sears.csv").open("a", encoding="utf-8") as file:
        file.write("2031-06-01T12:00:00+00:00,,90 90 90 90,110,1.25,,over,\n")
    assert json.loads(gratemap(*words).stdout)["seconds_per_turn"] != pytest.approx(first["seconds_per_turn"], rel=0.01)
    again = json.loads(gratemap(*words, *told).stdout)
    assert again["seconds_per_turn"] == pytest.approx(first["seconds_per_turn"])


def test_an_impossible_test_piece_is_one_clear_line(samples, gratemap):
    result = gratemap("sear", "--target", "137", "--tested", "60,60", "--peak", "180")
    assert result.exit_code == 3
    assert result.stdout == ""
    assert "a test piece cannot have peaked at 180 °F after turns of 60,60 s: about 12" in result.stderr
    assert "check the probe, the seconds, the start and the thickness" in result.stderr
    assert result.stderr.count("\n") == 1


def test_the_crust_is_told_as_finely_as_it_can_be_known(samples, gratemap):
    words = ("sear", "--target", "137", "--rail", "575", "--why", "--thickness")
    assert re.search(r"Crust: 0\.0\d in dried on the rail marks, 0\.0\d in between; ", gratemap(*words, "1.25").stdout)
    assert re.search(r"Crust: 0\.0\d in dried on the rail marks, nothing between; ", gratemap(*words, "0.5").stdout)


def test_a_piece_too_thick_for_few_turns_is_warned_of(samples, gratemap):
    words = ("sear", "--target", "137", "--rail", "575", "--thickness")
    assert "Few turns on the rails do not suit this piece" in gratemap(*words, "4").stdout
    assert "do not suit" in json.loads(gratemap(*words, "4", "--json").stdout)["warning"]
    assert "do not suit" not in gratemap(*words, "1.25").stdout
    assert json.loads(gratemap(*words, "1.25", "--json").stdout)["warning"] is None


def test_a_test_piece_is_kept_beside_the_readings_and_not_asked_for_again(samples, gratemap):
    """One number of seconds stands for all turns; the row is written once; sear and ready know it from then on."""
    before = json.loads(gratemap("sear", "--target", "137", "--json").stdout)["seconds_per_turn"]
    told = gratemap("sear", "--target", "137", "--tested", "60", "--peak", "118", "--json")
    assert "Kept in sears.csv" in told.stderr
    taught = json.loads(told.stdout)["seconds_per_turn"]
    again = json.loads(gratemap("sear", "--target", "137", "--json").stdout)["seconds_per_turn"]
    assert again == pytest.approx(taught, abs=0.5)
    assert abs(taught - before) > 1.0
    rows = Path("sears.csv").read_text(encoding="utf-8").splitlines()
    assert rows[0] == "taken_at,place,turns_s,start,thickness,peak,outcome,note"
    assert "60 60 60 60,110,1.25,118,," in rows[1]
    assert len(rows) == 2
    gratemap("sear", "--target", "137", "--tested", "60", "--peak", "118")
    assert len(Path("sears.csv").read_text(encoding="utf-8").splitlines()) == 2


def test_a_test_piece_told_twice_counts_once(samples, gratemap):
    """On the command line and in the file too, other rails having been mapped since, or rounded by hand."""

    def seconds(*words):
        return json.loads(gratemap("sear", "--target", "137", "--json", *words).stdout)["seconds_per_turn"]

    told = ("--tested", "60", "--peak", "118")
    once = seconds("--rail", "590", *told)
    file = Path("sears.csv")
    assert seconds("--rail", "590", *told) == once
    assert seconds("--rail", "590") == pytest.approx(once, abs=0.5)
    gratemap("sear", "--target", "137", "--rail", "575", *told)  # the rails have cooled since
    header, row = file.read_text(encoding="utf-8").splitlines()
    file.write_text("\n".join([header, row, row.replace("rail 590", "rail 585").replace(",118,", ",118.04,"), ""]))
    assert seconds("--rail", "590") == pytest.approx(once, abs=0.5), "two rows of one piece, from a phone and a key"
    assert seconds("--rail", "590", "--tested", "60", "--peak", "121") != pytest.approx(once, abs=1.0)
    assert len(file.read_text(encoding="utf-8").splitlines()) == 4, "another piece is kept, and counts beside the first"


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--tested", "0", "--peak", "125"), "turn 1 lasts 0 s; it must be from 1 to 3600 s"),
        (("--tested", "1e9", "--peak", "125"), "turn 1 lasts 1e+09 s; it must be from 1 to 3600 s"),
        (("--tested", "60,60,-5,60", "--outcome", "under"), "turn 3 lasts -5 s; it must be from 1 to 3600 s"),
        (("--tested", "nan", "--outcome", "over"), "turn 1 lasts nan s; it must be from 1 to 3600 s"),
        (("--tested", "60", "--peak", "650"), "650 °F, as hot as the rails under it, 590 °F: was that a rail?"),
        (("--tested", "60", "--peak", "300"), "300 °F; it must be above 110 °F, the start, and below 212 °F"),
        (("--tested", "60", "--peak", "110"), "110 °F; it must be above 110 °F, the start, and below 212 °F"),
    ],
)
def test_silly_seconds_and_peaks_are_refused_in_one_line_and_not_kept(samples, gratemap, words, told):
    refused = gratemap("sear", "--target", "137", "--rail", "590", *words)
    assert (refused.exit_code, refused.stderr.count("\n"), refused.stdout) == (3, 1, "")
    assert told in refused.stderr
    assert not Path("sears.csv").exists()


def test_under_never_takes_seconds_away_and_over_never_adds_any(samples, gratemap):
    def seconds(*words):
        return json.loads(gratemap("sear", "--target", "137", "--json", *words).stdout)["seconds_per_turn"]

    before = seconds()
    under = seconds("--tested", "60", "--outcome", "under")
    Path("sears.csv").unlink()
    over = seconds("--tested", "60", "--outcome", "over")
    assert under >= max(before, 60.0) - 0.5
    assert over <= min(before, 60.0) + 0.5
    for words, told in (
        (("--outcome", "under"), "--tested 60"),
        (("--tested", "60", "--outcome", "under", "--peak", "120"), "say what came of the test piece"),
    ):
        refused = gratemap("sear", "--target", "137", *words)
        assert refused.exit_code == 3
        assert told in refused.stderr
    raw = gratemap("sear", "--target", "137", "--tested", "60", "--outcome", "raw")
    assert raw.exit_code == 2
    assert "'under', 'right', 'over'" in raw.stderr


def test_a_kept_piece_that_cannot_be_is_said_and_holds_nothing_up(samples, gratemap):
    """A peak written by hand that no such piece reaches: the answers are those without its row."""
    words = (("sear", "--target", "137", "--json"), ("ready", "--target", "137", "--any-age", "--anyway", "--json"))
    before = [gratemap(*one).stdout for one in words]
    Path("sears.csv").write_text("turns_s,peak\n60 60 60 60,700\n", encoding="utf-8")
    after = [gratemap(*one) for one in words]
    assert [one.stdout for one in after] == before
    for one in after:
        assert "A row of the file of sears is left out: the peak of the test piece is 700 °F" in one.stderr


def test_a_file_of_sears_that_cannot_be_read_is_one_line(samples, gratemap):
    Path("sears.csv").write_text("turns_s,outcome\nlong,under\n", encoding="utf-8")
    refused = gratemap("sear", "--target", "137")
    assert (refused.exit_code, refused.stderr.count("\n")) == (3, 1)
    assert 'sears.csv: line 2: turns_s is "long"' in refused.stderr


def test_no_turn_at_all_is_refused_and_not_taken_as_usual(samples, gratemap):
    for words in (["sear", "--target", "137"], ["place"]):
        result = gratemap(*words, "--turns", "0")
        assert result.exit_code == 3
        assert "turns is 0; it must be" in result.stderr
